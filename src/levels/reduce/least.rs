//! The fewest levels that could do, to count ours against.

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
    let mut seen = vec![false; to - from];
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
            for k in a + 1..to {
                if let Some(seen) = seen.get_mut(k - from)
                    && !*seen
                    && curve.node(k)
                    && curve.joins(a, k)
                    && curve.key(k) != curve.key(to)
                    && curve.admits(&cone, k)
                {
                    *seen = true;
                    next.push(k);
                }
                budget = budget.saturating_sub(1);
                if !curve.pass(&mut cone, k..k + 1) {
                    break;
                }
            }
        }
        if budget == 0 {
            return (inner + 1, false);
        }
        front = next;
    }
    (ours, true)
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
