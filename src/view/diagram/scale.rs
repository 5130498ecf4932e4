//! From values to places on the page.

/// How the values of an axis lie on the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Value at the first end, in the unit of the quantity.
    pub from: f64,
    /// Value at the other end.
    pub to: f64,
    /// Place of the first end, in units of the view box (x to the right, y down).
    pub from_px: f64,
    /// Place of the other end.
    pub to_px: f64,
    /// Whether equal ratios of values, not equal differences, are equally far apart.
    pub logarithmic: bool,
}

impl Scale {
    /// Equal differences are equally far apart.
    #[must_use]
    pub fn linear(values: (f64, f64), places: (f64, f64)) -> Self {
        Self {
            from: values.0,
            to: values.1,
            from_px: places.0,
            to_px: places.1,
            logarithmic: false,
        }
    }

    /// Equal ratios are equally far apart; both values above 0.
    #[must_use]
    pub fn logarithmic(values: (f64, f64), places: (f64, f64)) -> Self {
        Self {
            logarithmic: true,
            ..Self::linear(values, places)
        }
    }

    /// The place of a value; beyond both ends the scale goes on.
    #[must_use]
    pub fn px(&self, value: f64) -> f64 {
        let share = if self.logarithmic {
            (value / self.from).ln() / (self.to / self.from).ln()
        } else {
            (value - self.from) / (self.to - self.from)
        };
        self.from_px + share * (self.to_px - self.from_px)
    }

    /// The value at a place: the inverse of [`Scale::px`].
    #[must_use]
    pub fn value(&self, px: f64) -> f64 {
        let share = (px - self.from_px) / (self.to_px - self.from_px);
        if self.logarithmic {
            self.from * (self.to / self.from).powf(share)
        } else {
            self.from + share * (self.to - self.from)
        }
    }

    /// Whether a value lies between both ends.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        value >= self.from.min(self.to) && value <= self.from.max(self.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_and_middles() {
        let hpa = Scale::logarithmic((1000.0, 10.0), (600.0, 100.0));
        // 100 hPa is half-way between 1000 and 10 hPa in ratio.
        for (p, y) in [
            (1000.0, 600.0),
            (100.0, 350.0),
            (10.0, 100.0),
            (1.0, -150.0),
        ] {
            assert!((hpa.px(p) - y).abs() < 1e-9, "{p}");
            assert!((hpa.value(y) / p - 1.0).abs() < 1e-9, "{p}");
        }
        let deg = Scale::linear((0.0, 360.0), (10.0, 82.0));
        assert_eq!((deg.px(180.0), deg.value(46.0)), (46.0, 180.0));
        assert!(deg.holds(0.0) && deg.holds(360.0) && !deg.holds(360.1));
        assert!(hpa.holds(10.0) && !hpa.holds(1001.0) && !hpa.holds(f64::NAN));
    }
}
