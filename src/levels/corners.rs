//! The corners of a curve: the points that decide how far a stretch of it departs from a
//! line.
//!
//! Of all points of a stretch those of its convex hull depart most from any straight line,
//! and bound the slopes of the lines that come from a point below.

use std::ops::Range;

/// Points of a block.
const BLOCK: usize = 64;

/// The corners of every block of points.
pub(crate) struct Corners {
    points: Vec<usize>,
    /// Where the corners of each block begin.
    begins: Vec<usize>,
}

impl Corners {
    /// The corners of points, coordinate and two elements each. Of a block that is `bent`, or
    /// in which an element, NaN, is missing at times, all points are.
    pub fn new(points: &[[f64; 3]], bent: impl Fn(&[[f64; 3]]) -> bool) -> Self {
        let mut corners = Self {
            points: Vec::with_capacity(points.len() / 2),
            begins: Vec::with_capacity(points.len() / BLOCK + 1),
        };
        let mut hull = Hull::default();
        for (number, block) in points.as_chunks::<BLOCK>().0.iter().enumerate() {
            corners.begins.push(corners.points.len());
            let first = hull.corners::<1>(block);
            let second = hull.corners::<2>(block);
            let mut left = match first.zip(second) {
                Some((first, second)) if !bent(block) => first | second,
                _ => u64::MAX,
            };
            while left != 0 {
                corners
                    .points
                    .push(number * BLOCK + left.trailing_zeros() as usize);
                left &= left - 1;
            }
        }
        corners.begins.push(corners.points.len());
        corners
    }

    /// Calls `visit` for the points of a range, lowest first, until it returns false; the
    /// result is false then. In a block inside the range only the corners are visited where
    /// `straight` holds for its first and last point: departures are linear between these.
    #[inline]
    pub fn visit(
        &self,
        range: Range<usize>,
        straight: impl Fn(usize, usize) -> bool,
        mut visit: impl FnMut(usize) -> bool,
    ) -> bool {
        let mut k = range.start;
        while k < range.end {
            let number = k / BLOCK;
            let next = (number + 1) * BLOCK;
            let corners = match self.begins.get(number..number + 2) {
                Some(&[from, to])
                    if k.is_multiple_of(BLOCK) && next <= range.end && straight(k, next - 1) =>
                {
                    self.points.get(from..to)
                }
                _ => None,
            };
            // One loop for both, so that `visit` becomes a part of it.
            let count = corners.map_or(next.min(range.end) - k, <[usize]>::len);
            for i in 0..count {
                if !visit(corners.map_or(k + i, |corners| corners.get(i).copied().unwrap_or(k))) {
                    return false;
                }
            }
            k = next;
        }
        true
    }
}

/// One side of the convex hull of a block so far: the number of each corner, and the slope
/// of the line to it.
type Side = Vec<(usize, f64)>;

/// The upper and the lower side.
#[derive(Default)]
struct Hull([Side; 2]);

impl Hull {
    /// The corners of a block in the element at this place of its points, each a bit; `None`
    /// where that element is missing at times.
    #[expect(
        clippy::indexing_slicing,
        reason = "every index comes from a loop over the block"
    )]
    #[inline]
    fn corners<const ELEMENT: usize>(&mut self, block: &[[f64; 3]; BLOCK]) -> Option<u64> {
        let missing = block.iter().filter(|point| point[ELEMENT].is_nan()).count();
        if missing > 0 {
            return (missing == BLOCK).then_some(0);
        }
        let rise = |low: usize, high: usize| {
            let (low, high) = (&block[low], &block[high]);
            (high[ELEMENT] - low[ELEMENT]) / (high[0] - low[0])
        };
        let Self([upper, lower]) = self;
        upper.push((0, f64::INFINITY));
        lower.push((0, f64::NEG_INFINITY));
        let top = BLOCK - 1;
        let mut before = rise(0, 1);
        // A point is above its neighbours' line, or below it, or no corner.
        for k in 1..top {
            let after = rise(k, k + 1);
            if after < before {
                put(upper, k, rise, |rise, before| rise < before);
            }
            if after > before {
                put(lower, k, rise, |rise, before| rise > before);
            }
            before = after;
        }
        put(upper, top, rise, |rise, before| rise < before);
        put(lower, top, rise, |rise, before| rise > before);
        let corners = upper.drain(..).chain(lower.drain(..));
        Some(corners.fold(0, |bits, (k, _)| bits | 1 << k))
    }
}

/// Adds the next point to a side of a hull, and removes what is no corner any more: what
/// lies on the line between its neighbours, or inside it.
#[inline]
fn put(
    side: &mut Side,
    k: usize,
    rise: impl Fn(usize, usize) -> f64,
    stands_out: impl Fn(f64, f64) -> bool,
) {
    let mut slope = f64::NAN;
    while let Some(&(low, before)) = side.last() {
        slope = rise(low, k);
        if stands_out(slope, before) {
            break;
        }
        side.pop();
    }
    side.push((k, slope));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_depart_most_from_any_line() {
        // A wave with a smaller one on it, and another element that begins later.
        let points: Vec<[f64; 3]> = (0..300)
            .map(|k| {
                let x = f64::from(k);
                let y = (x * 0.05).sin() + 0.2 * (x * 1.7).sin();
                let z = if k < 150 { f64::NAN } else { (x * 0.3).cos() };
                [x, y, z]
            })
            .collect();
        let corners = Corners::new(&points, |_| false);
        for (level, slope) in [(0.0, 0.0), (0.3, -0.004), (-2.0, 0.02)] {
            for element in [1, 2] {
                let off = |k: usize| points[k][element] - (level + slope * points[k][0]);
                let (mut seen, mut most) = (0, [f64::NEG_INFINITY; 2]);
                corners.visit(
                    10..290,
                    |_, _| true,
                    |k| {
                        seen += 1;
                        most = [most[0].max(off(k)), most[1].max(-off(k))];
                        true
                    },
                );
                let all = (10..290).map(off).filter(|off| off.is_finite());
                let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), off| {
                    (l.min(off), h.max(off))
                });
                assert_eq!(most, [high, -low]);
                assert!(seen < 200, "{seen}");
            }
        }
    }

    #[test]
    fn a_block_that_is_bent_is_visited_point_by_point() {
        let points: Vec<[f64; 3]> = (0..200).map(|k| [f64::from(k), 0.0, 0.0]).collect();
        let visited = |bent: bool, straight: bool| {
            let mut seen = Vec::new();
            let corners = Corners::new(&points, |_| bent);
            corners.visit(
                60..140,
                |_, _| straight,
                |k| {
                    seen.push(k);
                    true
                },
            );
            seen
        };
        let all: Vec<usize> = (60..140).collect();
        assert_eq!(visited(true, true), all);
        assert_eq!(visited(false, false), all);
        // The points of the one whole block, 64 to 127, are on a line: its ends are left.
        let corners: Vec<usize> = (60..=64).chain(127..140).collect();
        assert_eq!(visited(false, true), corners);
    }
}
