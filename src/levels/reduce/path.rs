//! The shortest path of chords.

use itertools::Itertools as _;

use super::{Curve, Ends};

/// A point from which chords go on.
struct Start {
    point: usize,
    /// Squared departures along the chords to it.
    sum: f64,
    /// The start before, by its place in the list of all.
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
/// of the others, more of them the further up they lie. Whether a point is in a layer does
/// not depend on which chord is found first; so only those that are followed are asked for
/// the chord that leads to them with the least squared departures.
pub(super) fn shortest<C: Curve>(
    curve: &C,
    from: usize,
    candidates: &[usize],
    stride: usize,
    to: usize,
) -> Vec<usize> {
    // Where chords may end, lowest first.
    let multiples = (from..to).step_by(stride).skip(1);
    let inner = multiples.merge(candidates.iter().copied()).dedup();
    let inner = inner.filter(|&k| curve.node(k) && curve.key(k) != curve.key(to));
    let mut layers = Layers {
        curve,
        from,
        ends: inner.chain([to]).collect(),
        is_reached: vec![false; to - from + 1],
    };
    let mut starts = vec![Start {
        point: from,
        sum: 0.0,
        parent: 0,
    }];
    let mut first = 0;
    loop {
        let layer = starts.get(first..).unwrap_or_default();
        let mut next = layers.next(layer);
        let chosen = if next.last() == Some(&to) {
            vec![to]
        } else {
            followed(&mut next, candidates)
        };
        let mut ways = layers.ways(layer, &chosen);
        if ways.is_empty() {
            // No chord leads on: step to the next point that the code can tell.
            let a = layer.last().map_or(from, |start| start.point);
            let reported = |k: usize| curve.key(k) != curve.key(a) && curve.key(k) != curve.key(to);
            let step = (a + 1..to).find(|&k| curve.node(k) && reported(k));
            let point = step.unwrap_or(to);
            if let Some(is_reached) = layers.is_reached.get_mut(point - from) {
                *is_reached = true;
            }
            ways.push(Start {
                point,
                sum: 0.0,
                parent: layer.len() - 1,
            });
        }
        for way in &mut ways {
            way.parent += first;
        }
        first = starts.len();
        starts.append(&mut ways);
        if starts.last().is_none_or(|start| start.point == to) {
            break;
        }
    }
    let mut path = Vec::new();
    let mut last = starts.last();
    while let Some(start) = last.and_then(|last| starts.get(last.parent))
        && start.point > from
    {
        path.push(start.point);
        last = Some(start);
    }
    path.reverse();
    path
}

/// The layers of points that chords reach.
struct Layers<'a, C> {
    curve: &'a C,
    from: usize,
    /// Where chords may end, lowest first.
    ends: Vec<usize>,
    /// Of each point from `from` on whether chords reach it.
    is_reached: Vec<bool>,
}

impl<C: Curve> Layers<'_, C> {
    /// The points that chords from a layer reach, and no chords before; no others besides the
    /// upper end.
    fn next(&mut self, layer: &[Start]) -> Vec<usize> {
        let curve = self.curve;
        let mut next = Vec::new();
        // The highest first: they reach furthest.
        for &Start { point: a, .. } in layer.iter().rev() {
            let mut cone = curve.open(a, Ends::Coded);
            let mut passed = a + 1;
            let above = self.ends.partition_point(|&k| k <= a);
            for &k in self.ends.get(above..).unwrap_or_default() {
                let Some(is_reached) = self.is_reached.get_mut(k - self.from) else {
                    break;
                };
                // What costs least is asked first.
                let may_be = !*is_reached && curve.may_admit(&cone, k) && curve.joins(a, k);
                if may_be || k - passed >= LAG {
                    if !curve.pass(&mut cone, passed..k) {
                        break;
                    }
                    passed = k;
                }
                if may_be && curve.admits(&cone, k) {
                    *is_reached = true;
                    next.push(k);
                }
            }
            if self.is_reached.last() == Some(&true) {
                break;
            }
        }
        next
    }

    /// The best way from a layer to each of some points that it reaches, lowest first; the
    /// parents are places in the layer.
    fn ways(&self, layer: &[Start], points: &[usize]) -> Vec<Start> {
        let curve = self.curve;
        let open = |start: &Start| Some((curve.open(start.point, Ends::Coded), start.point + 1));
        let mut cones: Vec<_> = layer.iter().map(open).collect();
        let mut way = |&point: &usize| {
            let below = layer.iter().enumerate();
            let below = below.filter(|(_, start)| start.point < point);
            let sum = |start: &Start| start.sum + curve.sum_of_squares(start.point, point);
            let ways = below.map(|(parent, start)| (sum(start), parent));
            // Of equal ones the lowest first.
            let mut ways = ways.sorted_by(|l, r| l.0.total_cmp(&r.0));
            let (sum, parent) = ways.find(|&(_, parent)| {
                let (Some(start), Some(slot)) = (layer.get(parent), cones.get_mut(parent)) else {
                    return false;
                };
                let Some((cone, passed)) = slot else {
                    return false;
                };
                if !curve.may_admit(cone, point) || !curve.joins(start.point, point) {
                    return false;
                }
                if !curve.pass(cone, *passed..point) {
                    *slot = None;
                    return false;
                }
                *passed = point;
                curve.admits(cone, point)
            })?;
            Some(Start { point, sum, parent })
        };
        points.iter().filter_map(&mut way).collect()
    }
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
