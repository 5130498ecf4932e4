//! Running sums, from which the squared departures of a stretch of rows from
//! any straight line follow in constant time.

use super::pair::Pair;

/// Running sums of two elements over the points of a curve.
#[derive(Clone, Debug)]
pub(crate) struct Sums {
    x0: Pair,
    y0: Pair,
    /// Σw, Σx, Σy, Σxx, Σxy, Σyy up to but not including each point.
    running: Vec<[Pair; 6]>,
}

impl Sums {
    /// Sums over points, coordinate and two elements each; where an element is NaN the point
    /// has no weight.
    pub fn new(points: &[[f64; 3]]) -> Self {
        let first = |of: fn(&[f64; 3]) -> f64| {
            let first = points.iter().find(|point| of(point).is_finite());
            first.map_or((0.0, 0.0), |point| (point[0], of(point)))
        };
        let ((x0, y0), (x1, y1)) = (first(|point| point[1]), first(|point| point[2]));
        let (x0, y0) = (Pair(x0, x1), Pair(y0, y1));
        let mut total = [Pair::default(); 6];
        let running = points.iter().map(|&[x, one, other]| {
            let before = total;
            let weight = Pair(one, other).each(|y| if y.is_finite() { 1.0 } else { 0.0 });
            let y = Pair(one, other) - y0;
            // What has no weight is no number, which would stay in the sums.
            let y = y.each(|y| if y.is_finite() { y } else { 0.0 });
            let x = (Pair::of(x) - x0) * weight;
            let [w, sx, sy, sxx, sxy, syy] = total;
            total = [
                w + weight,
                sx + x,
                sy + y,
                sxx + x * x,
                sxy + x * y,
                syy + y * y,
            ];
            before
        });
        let running = running.collect();
        Self { x0, y0, running }
    }

    /// Σ(y − line(x))² of both elements over the points strictly between `a` and `b`, the
    /// line going through `(x, y)` at its start and end.
    #[inline]
    pub fn squares(&self, a: usize, b: usize, start: (f64, Pair), end: (f64, Pair)) -> Pair {
        let (Some(low), Some(high)) = (self.running.get(a + 1), self.running.get(b)) else {
            return Pair::default();
        };
        let of = |i: usize| match (low.get(i), high.get(i)) {
            (Some(&low), Some(&high)) => high - low,
            _ => Pair::default(),
        };
        let [w, x, y, xx, xy, yy] = [of(0), of(1), of(2), of(3), of(4), of(5)];
        let slope = (end.1 - start.1) / Pair::of(end.0 - start.0);
        let level = (start.1 - self.y0) - slope * (Pair::of(start.0) - self.x0);
        let two = Pair::of(2.0);
        let sum = yy - two * level * y - two * slope * xy
            + level * level * w
            + two * level * slope * x
            + slope * slope * xx;
        // A slope that is no number leaves none.
        let sum = sum.each(|sum| sum.max(0.0));
        Pair(
            if slope.0.is_finite() { sum.0 } else { 0.0 },
            if slope.1.is_finite() { sum.1 } else { 0.0 },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_match_the_long_way() {
        let x = [0.0, 1.0, 2.0, 3.0, 4.5];
        let y = [3.0, 5.5, f64::NAN, 2.0, 7.0];
        let z = [1.0, 0.0, 4.0, 2.5, -2.0];
        let points: Vec<[f64; 3]> = (0..5).map(|k| [x[k], y[k], z[k]]).collect();
        let sums = Sums::new(&points);
        let line = |y: &[f64; 5], k: usize| y[0] + (y[4] - y[0]) / 4.5 * x[k];
        let off = |y: &[f64; 5], k: usize| (y[k] - line(y, k)).powi(2);
        let long = Pair(
            off(&y, 1) + off(&y, 3),
            off(&z, 1) + off(&z, 2) + off(&z, 3),
        );
        let short = sums.squares(0, 4, (x[0], Pair(y[0], z[0])), (x[4], Pair(y[4], z[4])));
        assert!((long.0 - short.0).abs() < 1e-12, "{long:?} {short:?}");
        assert!((long.1 - short.1).abs() < 1e-12, "{long:?} {short:?}");
    }
}
