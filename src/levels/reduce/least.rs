//! The fewest levels that could do, to count ours against.

use super::path::LAG;
use super::{Curve, EPSILON, Ends};

/// Passes of a cone that [`least`] may spend, for each point of the stretch.
const PASSES: usize = 512;

/// The fewest additional levels between two fixed ones before rounding, when
/// every point may become one, given that `ours` do: the number, and whether it
/// is proven (else it is a lower bound: the search is limited so that its cost
/// stays in proportion to the stretch).
///
/// Breadth first: the points that one chord reaches, then two, and so on.
pub(crate) fn least<C: Curve>(curve: &C, from: usize, to: usize, ours: usize) -> (usize, bool) {
    let mut budget = PASSES * (to - from) + 65_536;
    let mut unseen = Unseen {
        first: from,
        next: (from..=to).collect(),
    };
    let mut front = vec![from];
    for inner in 0..ours {
        // Paths with `inner` levels between end with a chord to the upper end.
        for &a in &front {
            if reaches(curve, a, to, &mut budget) {
                return (inner, true);
            }
        }
        if budget == 0 {
            return (inner, false);
        }
        if inner + 1 == ours {
            break;
        }
        let mut next = Vec::new();
        for &a in &front {
            let mut cone = curve.open(a, Ends::Exact);
            let mut passed = a + 1;
            // Short at first: most cones of a rough curve end soon.
            let mut lag = 8;
            let mut k = unseen.from(a + 1);
            while k < to {
                let may_be = curve.node(k)
                    && curve.key(k) != curve.key(to)
                    && curve.may_admit(&cone, k)
                    && curve.joins(a, k);
                if may_be || k - passed >= lag {
                    budget = budget.saturating_sub(1);
                    if !curve.pass(&mut cone, passed..k) {
                        break;
                    }
                    budget = budget.saturating_sub(k - passed);
                    passed = k;
                    lag = LAG.min(2 * lag);
                }
                if may_be && curve.admits(&cone, k) {
                    unseen.set(k, k + 1);
                    next.push(k);
                }
                k = unseen.from(k + 1);
            }
        }
        if budget == 0 {
            return (inner + 1, false);
        }
        front = next;
    }
    (ours, true)
}

/// The points that no path has reached.
struct Unseen {
    /// The first of all points.
    first: usize,
    /// Of each point the next that was not reached, or one on the way to it.
    next: Vec<usize>,
}

impl Unseen {
    fn after(&self, point: usize) -> usize {
        let next = self.next.get(point - self.first);
        next.copied().unwrap_or(point)
    }

    fn set(&mut self, point: usize, next: usize) {
        if let Some(slot) = self.next.get_mut(point - self.first) {
            *slot = next;
        }
    }

    /// The first at or above a point.
    fn from(&mut self, mut point: usize) -> usize {
        let mut found = self.after(point);
        while found != self.after(found) {
            found = self.after(found);
        }
        // Those on the way lead there at once from now on.
        while point != found {
            let after = self.after(point);
            self.set(point, found);
            point = after;
        }
        found
    }
}

/// Whether the chord from `a` to `b` holds before rounding.
fn reaches<C: Curve>(curve: &C, a: usize, b: usize, budget: &mut usize) -> bool {
    b <= a + 1
        || (curve.joins(a, b) && {
            let mut all = true;
            curve.scan(a, b, Ends::Exact, |_, [d, e]| {
                *budget = budget.saturating_sub(1);
                all = d <= 1.0 + EPSILON && e <= 1.0 + EPSILON;
                all
            });
            all
        })
}
