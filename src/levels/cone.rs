//! Cones of straight lines: what is known of the chords that start at a point.

use std::ops::Range;

use super::corners::Corners;

/// The lines of two elements that start at one point and pass all the points
/// seen so far within a limit: bounds of slope.
///
/// A missing value is NaN and narrows nothing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fan {
    x: f64,
    y: [f64; 2],
    low: [f64; 2],
    high: [f64; 2],
}

/// After this many points a cone is asked whether it is still open.
const ASKED: usize = 16;

impl Fan {
    /// All the lines from a point.
    pub fn open(x: f64, y: [f64; 2]) -> Self {
        Self {
            x,
            y,
            low: [f64::NEG_INFINITY; 2],
            high: [f64::INFINITY; 2],
        }
    }

    /// The elements at the point where all lines start.
    pub fn start(&self) -> [f64; 2] {
        self.y
    }

    /// Whether a coordinate is far enough above the start for a line to say something there.
    #[inline]
    pub fn begins_below(&self, x: f64) -> bool {
        x - self.x > 1e-12
    }

    /// Keeps the lines that pass within `limit` of a point.
    #[inline]
    pub fn pass(&mut self, x: f64, y: [f64; 2], limit: [f64; 2]) {
        if !self.begins_below(x) {
            return;
        }
        let run = 1.0 / (x - self.x);
        // Both elements side by side, which the compiler makes one instruction each.
        // Comparisons with NaN are false.
        let rise = [y[0] - self.y[0], y[1] - self.y[1]];
        let bottom = [(rise[0] - limit[0]) * run, (rise[1] - limit[1]) * run];
        let top = [(rise[0] + limit[0]) * run, (rise[1] + limit[1]) * run];
        self.low = [
            greater(bottom[0], self.low[0]),
            greater(bottom[1], self.low[1]),
        ];
        self.high = [less(top[0], self.high[0]), less(top[1], self.high[1])];
    }

    /// Whether a line is left.
    #[inline]
    pub fn is_open(&self) -> bool {
        (self.low[0] <= self.high[0]) & (self.low[1] <= self.high[1])
    }

    /// Whether the lines to a point are among those left; a missing end allows
    /// everything.
    #[inline]
    pub fn admits(&self, x: f64, y: [f64; 2]) -> bool {
        let run = 1.0 / (x - self.x);
        let slope = [(y[0] - self.y[0]) * run, (y[1] - self.y[1]) * run];
        let margin = slope.map(|slope| 1e-9 * slope.abs() + 1e-12);
        let under = [self.low[0] - margin[0], self.low[1] - margin[1]];
        let over = [self.high[0] + margin[0], self.high[1] + margin[1]];
        // Comparisons with NaN are false.
        let low = (slope[0] < under[0]) | (slope[1] < under[1]);
        let high = (slope[0] > over[0]) | (slope[1] > over[1]);
        !(low | high)
    }
}

/// What is known of the chords that start at one point.
pub(crate) struct Cone {
    /// Limits of both elements.
    pub limit: [f64; 2],
    pub exact: Fan,
    /// The same from the coded start, when that must hold too.
    pub coded: Option<Fan>,
}

impl Cone {
    /// Narrows the cone so that its chords pass those of the points, coordinate and two
    /// elements each, lowest first; false as soon as none is left.
    // A function of its own: its loop needs every register.
    #[expect(
        clippy::indexing_slicing,
        reason = "the corners are those of these points"
    )]
    #[inline(never)]
    pub fn pass(&mut self, points: &[[f64; 3]], corners: &Corners, range: Range<usize>) -> bool {
        let (limit, mut exact) = (self.limit, self.exact);
        let x = |low: usize| points[low][0];
        let from = exact;
        let all = match self.coded {
            Some(mut coded) => {
                let start = coded;
                let straight = |low, _| from.begins_below(x(low)) && start.begins_below(x(low));
                let all = corners.visit(range, straight, |k| {
                    let [x, one, other] = points[k];
                    exact.pass(x, [one, other], limit);
                    coded.pass(x, [one, other], limit);
                    !k.is_multiple_of(ASKED) || exact.is_open() && coded.is_open()
                });
                self.coded = Some(coded);
                all && coded.is_open()
            }
            None => {
                let straight = |low, _| from.begins_below(x(low));
                corners.visit(range, straight, |k| {
                    let [x, one, other] = points[k];
                    exact.pass(x, [one, other], limit);
                    !k.is_multiple_of(ASKED) || exact.is_open()
                })
            }
        };
        self.exact = exact;
        all && exact.is_open()
    }
}

/// The greater of two; the second when the first is NaN.
#[inline]
fn greater(one: f64, other: f64) -> f64 {
    if one > other { one } else { other }
}

/// The less of two; the second when the first is NaN.
#[inline]
fn less(one: f64, other: f64) -> f64 {
    if one < other { one } else { other }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fan_narrows_to_the_lines_that_pass() {
        // Hand-worked: from (0, 0) past (1, 2 ± 1) the slopes 1 to 3 are left;
        // past (2, 8 ± 1) those from 3.5, so none.
        let mut fan = Fan::open(0.0, [0.0, 0.0]);
        fan.pass(1.0, [2.0, f64::NAN], [1.0, 1.0]);
        assert!(fan.is_open());
        assert!(fan.admits(2.0, [2.0, 9.0]) && fan.admits(2.0, [6.0, -9.0]));
        assert!(!fan.admits(2.0, [1.9, 0.0]) && !fan.admits(2.0, [6.1, 0.0]));
        assert!(fan.admits(2.0, [f64::NAN, 0.0]));
        fan.pass(2.0, [8.0, 0.0], [1.0, 1.0]);
        assert!(!fan.is_open());
    }
}
