//! Running sums, from which the squared departures of a stretch of rows from
//! any straight line follow in constant time.

/// Running sums of one element over the points of a curve.
#[derive(Clone, Debug)]
pub(crate) struct Sums {
    x0: f64,
    y0: f64,
    /// Σw, Σx, Σy, Σxx, Σxy, Σyy up to but not including each point.
    running: Vec<[f64; 6]>,
}

impl Sums {
    /// Sums over points `(x, y)`; a point whose `y` is NaN has no weight.
    pub fn new(points: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        let first = points.clone().find(|(_, y)| y.is_finite());
        let (x0, y0) = first.unwrap_or((0.0, 0.0));
        let mut total = [0.0; 6];
        let mut running = vec![total];
        for (x, y) in points {
            if y.is_finite() {
                let (x, y) = (x - x0, y - y0);
                let add = [1.0, x, y, x * x, x * y, y * y];
                for (sum, add) in total.iter_mut().zip(add) {
                    *sum += add;
                }
            }
            running.push(total);
        }
        Self { x0, y0, running }
    }

    /// Σ(y − line(x))² over the points strictly between `a` and `b`, the line
    /// going through `(xa, ya)` and `(xb, yb)`.
    #[inline]
    pub fn squares(&self, a: usize, b: usize, start: (f64, f64), end: (f64, f64)) -> f64 {
        let (Some(low), Some(high)) = (self.running.get(a + 1), self.running.get(b)) else {
            return 0.0;
        };
        let mut s = [0.0; 6];
        for ((s, high), low) in s.iter_mut().zip(high).zip(low) {
            *s = high - low;
        }
        let [w, x, y, xx, xy, yy] = s;
        let slope = (end.1 - start.1) / (end.0 - start.0);
        let level = (start.1 - self.y0) - slope * (start.0 - self.x0);
        if !slope.is_finite() {
            return 0.0;
        }
        let sum = yy - 2.0 * level * y - 2.0 * slope * xy
            + level * level * w
            + 2.0 * level * slope * x
            + slope * slope * xx;
        sum.max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_match_the_long_way() {
        let points = [
            (0.0, 3.0),
            (1.0, 5.5),
            (2.0, f64::NAN),
            (3.0, 2.0),
            (4.5, 7.0),
        ];
        let sums = Sums::new(points.iter().copied());
        let line = |x: f64| 3.0 + (7.0 - 3.0) / 4.5 * x;
        let long = (5.5 - line(1.0)).powi(2) + (2.0 - line(3.0)).powi(2);
        let short = sums.squares(0, 4, points[0], points[4]);
        assert!((long - short).abs() < 1e-12, "{long} {short}");
    }
}
