//! The shortest path of chords.

use super::{Curve, Ends};

/// How a point was reached.
#[derive(Clone, Copy)]
struct Reached {
    /// Chords from the lower end.
    hops: u32,
    /// Squared departures along them.
    sum: f64,
    /// The point before.
    parent: usize,
}

/// How many points of a layer are followed besides the candidates in it.
const FOLLOWED: usize = 8;
/// A cone is narrowed where a point may be in it, and after this many points at the latest.
pub(super) const LAG: usize = 256;

/// The shortest path over the rows, ends left out; `to` is always reached, by
/// a chord that does not hold if there is no other way.
///
/// Breadth first: a layer is every point that some number of chords reaches.
/// Not every point of a layer is followed further: the candidates are, and some
/// of the others, more of them the further up they lie.
pub(super) fn shortest<C: Curve>(
    curve: &C,
    from: usize,
    candidates: &[usize],
    stride: usize,
    to: usize,
) -> Vec<usize> {
    let mut reached: Vec<Option<Reached>> = vec![None; to - from + 1];
    let mut layer = vec![from];
    let mut hops = 0;
    let start = Reached {
        hops,
        sum: 0.0,
        parent: from,
    };
    let at = |reached: &[Option<Reached>], k: usize| reached.get(k - from).copied().flatten();
    if let Some(slot) = reached.first_mut() {
        *slot = Some(start);
    }
    while at(&reached, to).is_none() {
        hops += 1;
        let mut next = Vec::new();
        for &a in &followed(&mut layer, candidates) {
            let below = at(&reached, a).unwrap_or(start);
            let mut cone = curve.open(a, Ends::Coded);
            let mut ahead = candidates.partition_point(|&c| c <= a);
            // The next point at a whole number of strides.
            let mut due = from + ((a - from) / stride + 1) * stride;
            let mut passed = a + 1;
            loop {
                let proposed = candidates.get(ahead).copied().unwrap_or(to);
                let k = proposed.min(due).min(to);
                // What costs least is asked first: where the point is reached already by
                // fewer chords, or by as many that fit better, no chord is looked at.
                let better = |r: Reached| r.hops == hops && below.sum < r.sum;
                let slot = reached.get_mut(k - from);
                let worth = slot.filter(|slot| {
                    slot.is_none_or(better)
                        && (k == to || curve.node(k) && curve.key(k) != curve.key(to))
                        && curve.may_admit(&cone, k)
                        && curve.joins(a, k)
                });
                let worth = worth.map(|slot| (below.sum + curve.sum_of_squares(a, k), slot));
                let worth = worth.filter(|(sum, slot)| slot.is_none_or(|r| *sum < r.sum));
                if worth.is_some() || k - passed >= LAG {
                    if !curve.pass(&mut cone, passed..k) {
                        break;
                    }
                    passed = k;
                }
                if let Some((sum, slot)) = worth.filter(|_| curve.admits(&cone, k)) {
                    if slot.is_none() {
                        next.push(k);
                    }
                    *slot = Some(Reached {
                        hops,
                        sum,
                        parent: a,
                    });
                }
                if k == to {
                    break;
                }
                ahead += usize::from(proposed == k);
                due += if due == k { stride } else { 0 };
            }
        }
        if next.is_empty() {
            // No chord leads on: step to the next point that the code can tell.
            let a = layer.iter().copied().max().unwrap_or(from);
            let reported = |k: usize| curve.key(k) != curve.key(a) && curve.key(k) != curve.key(to);
            let step = (a + 1..to)
                .find(|&k| curve.node(k) && reported(k))
                .unwrap_or(to);
            if let Some(slot) = reached.get_mut(step - from) {
                *slot = Some(Reached {
                    hops,
                    sum: 0.0,
                    parent: a,
                });
            }
            next.push(step);
        }
        layer = next;
    }
    let mut path = Vec::new();
    let mut k = at(&reached, to).map_or(from, |r| r.parent);
    while k > from {
        path.push(k);
        k = at(&reached, k).map_or(from, |r| r.parent);
    }
    path.reverse();
    path
}

/// The points of a layer that are followed: see [`shortest`].
fn followed(layer: &mut [usize], candidates: &[usize]) -> Vec<usize> {
    layer.sort_unstable_by(|l, r| r.cmp(l));
    let n = layer.len();
    let mut chosen: Vec<usize> = (0..FOLLOWED)
        .filter_map(|i| layer.get(n * i * i / (FOLLOWED * FOLLOWED)).copied())
        .collect();
    chosen.extend(layer.iter().filter(|k| candidates.binary_search(k).is_ok()));
    chosen.sort_unstable();
    chosen.dedup();
    chosen
}
