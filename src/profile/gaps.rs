//! Where an element was lost on the way, and where rows merely stand far apart.
//!
//! A stretch between two successive rows that have an element is a gap when it
//! is longer than the limit of a missing layer and longer than three times the
//! usual distance between such rows there; for temperature and humidity a
//! kilometre is a gap in any case. Rows that stand in the file without the
//! element count as not observed. Common practice, no source; the limits are
//! those of missing layers (WMO-No. 306, 35.3.1.6, 35.3.2.2, 32.3.1.5).

use crate::tables::limits;

/// Which limits hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lost {
    /// Temperature and humidity: 20 hPa, or 1 km in any case.
    Thermal,
    /// Wind: 50 hPa or 1500 gpm.
    Wind,
}

impl Lost {
    /// hPa and gpm.
    #[inline]
    fn limits(self) -> (f64, f64) {
        let lim = limits();
        match self {
            Self::Thermal => (lim.missing_thermal_layer_hpa, lim.bridge_thermal_gpm),
            Self::Wind => (lim.missing_wind_layer_hpa, lim.missing_wind_layer_gpm),
        }
    }

    /// Tells, by the spans of pressure and height between two rows, whether they are so near
    /// to each other, as nearly all are, that nothing is missing between them.
    #[inline]
    pub fn near(self) -> impl Fn(f64, f64) -> bool {
        let (hpa, gpm) = self.limits();
        // A span that is missing is none below the limit.
        move |span_hpa, span_gpm| span_hpa.abs() / hpa < 1.0 && span_gpm.abs() / gpm < 1.0
    }
}

/// The rows in which an element was observed; NaN is a missing coordinate.
pub(crate) struct Observed<'a> {
    /// Number of rows.
    pub rows: usize,
    /// Whether a row has the element.
    pub has: &'a dyn Fn(usize) -> bool,
    /// Pressure of a row, hPa.
    pub pressure_hpa: &'a dyn Fn(usize) -> f64,
    /// Height of a row, gpm.
    pub height_gpm: &'a dyn Fn(usize) -> f64,
}

impl Observed<'_> {
    /// The stretch between two successive rows with the element in units of the
    /// limit that makes it a gap; 0 where rows usually stand so far apart. A
    /// span that is missing decides nothing.
    pub fn gap_share(&self, lost: Lost, low: usize, high: usize) -> f64 {
        let (hpa, gpm) = lost.limits();
        let by_pressure = self.share(self.pressure_hpa, hpa, (low, high), false);
        let by_height = self.share(self.height_gpm, gpm, (low, high), lost == Lost::Thermal);
        by_pressure.max(by_height)
    }

    /// The same for a stretch that is to be marked as missing: where no row of
    /// the file stands in it, rows must stand densely or evenly on either side;
    /// else the file gives levels, not a sampled profile (our method).
    pub fn missing_share(&self, lost: Lost, low: usize, high: usize) -> f64 {
        let share = self.gap_share(lost, low, high);
        if share < 1.0 || high > low + 1 || self.is_sampled(lost, low, high) {
            share
        } else {
            0.0
        }
    }

    fn is_sampled(&self, lost: Lost, low: usize, high: usize) -> bool {
        let (hpa, gpm) = lost.limits();
        [(self.pressure_hpa, hpa), (self.height_gpm, gpm)]
            .into_iter()
            .map(|(of, limit)| (self.spans(of, low, high), limit))
            .filter(|(spans, _)| !spans.is_empty())
            .all(|(spans, limit)| {
                let quarter = |n: usize| spans.get(spans.len() * n / 4).copied();
                quarter(1)
                    .zip(quarter(3))
                    .is_some_and(|(short, long)| long <= DENSE * limit || long <= EVEN * short)
            })
    }

    /// Whether nothing may be interpolated between two successive rows with the
    /// element.
    pub fn is_gap(&self, lost: Lost, low: usize, high: usize) -> bool {
        self.gap_share(lost, low, high) > 1.0
    }

    fn share(
        &self,
        of: &dyn Fn(usize) -> f64,
        limit: f64,
        (low, high): (usize, usize),
        always: bool,
    ) -> f64 {
        let span = (of(high) - of(low)).abs();
        let share = span / limit;
        if share.is_nan() {
            return 0.0;
        }
        // A billionth: even rows stand no further apart than usual.
        let usual = |spacing: f64| spacing * limits().gap_spacing_ratio * (1.0 + 1e-9);
        if share < 1.0 || always || span > usual(self.spacing(of, low, high)) {
            share
        } else {
            0.0
        }
    }

    /// The usual distance between successive rows with the element: the median
    /// over the ten rows on either side of a stretch, its ends among them; 0
    /// where there are no others.
    fn spacing(&self, of: &dyn Fn(usize) -> f64, low: usize, high: usize) -> f64 {
        let spans = self.spans(of, low, high);
        let half = spans.len() / 2;
        let upper = spans.get(half);
        let lower = half.checked_sub(1).and_then(|k| spans.get(k));
        match (lower, upper) {
            (Some(&a), Some(&b)) if spans.len().is_multiple_of(2) => f64::midpoint(a, b),
            (_, Some(&b)) => b,
            _ => 0.0,
        }
    }

    /// The distances between successive rows with the element among the ten on
    /// either side of a stretch, shortest first.
    fn spans(&self, of: &dyn Fn(usize) -> f64, low: usize, high: usize) -> Vec<f64> {
        let mut spans = Vec::new();
        let mut side = |rows: &mut dyn Iterator<Item = usize>| {
            let mut last: Option<f64> = None;
            for row in rows.filter(|&k| (self.has)(k)).take(ROWS) {
                let here = of(row);
                if let Some(last) = last.replace(here) {
                    spans.push((here - last).abs());
                }
            }
        };
        side(&mut (0..=low).rev());
        side(&mut (high..self.rows));
        spans.retain(|span| span.is_finite());
        spans.sort_by(f64::total_cmp);
        spans
    }
}

/// Rows on either side of a stretch that say what distance is usual.
const ROWS: usize = 10;

/// Rows stand densely where three of four distances are at most this part of the
/// limit of a gap, and evenly where the longer quarter begins at no more than
/// this many times where the shorter ends.
const DENSE: f64 = 0.25;
const EVEN: f64 = 2.0;

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows `gpm` and `hpa` apart, without the element in some.
    fn share(lost: Lost, (hpa, gpm): (f64, f64), gone: &[usize]) -> f64 {
        let at = |k: usize| f64::from(u32::try_from(k).unwrap());
        let has = |k: usize| !gone.contains(&k);
        let first = gone.iter().min().unwrap() - 1;
        let last = gone.iter().max().unwrap() + 1;
        let observed = Observed {
            rows: 30,
            has: &has,
            pressure_hpa: &|k| 1000.0 - hpa * at(k),
            height_gpm: &|k| gpm * at(k),
        };
        observed.gap_share(lost, first, last)
    }

    #[test]
    fn seconds_are_gaps_by_the_limits_alone() {
        // Rows 0.5 hPa and 5 gpm apart; 3 × 0.5 hPa are less than 20 hPa. From
        // row 4 to row 44 would be 20 hPa: 1.0 of the limit; here 9 rows are
        // 5 hPa, a quarter of it, and no gap.
        assert_eq!(share(Lost::Thermal, (0.5, 5.0), &[5, 13]), 0.25);
        // Rows 2 hPa and 20 gpm apart: 11 rows are 22 hPa, 1.1 of the limit.
        assert_eq!(share(Lost::Thermal, (2.0, 20.0), &[5, 14]), 1.1);
        // Wind: 22 hPa of 50.
        assert_eq!(share(Lost::Wind, (2.0, 20.0), &[5, 14]), 0.44);
    }

    #[test]
    fn minutes_are_no_gap_up_to_three_times_their_distance() {
        // Rows 25 hPa and 240 gpm apart: 2 × and 3 × 25 hPa are 50 and 75 hPa,
        // over 20 hPa but not over 3 × 25; the height decides by its share of
        // 1 km: 0.48 and 0.72. 4 × 25 = 100 hPa are a gap, 5.0 of the limit.
        assert_eq!(share(Lost::Thermal, (25.0, 240.0), &[8]), 0.48);
        assert_eq!(share(Lost::Thermal, (25.0, 240.0), &[8, 9]), 0.72);
        assert_eq!(share(Lost::Thermal, (25.0, 240.0), &[8, 9, 10]), 5.0);
        // Wind: 75 hPa are 1.5 of 50 but not over 3 × 25: the height, 720 of
        // 1500 gpm, is 0.48.
        assert_eq!(share(Lost::Wind, (25.0, 240.0), &[8, 9]), 0.48);
        assert_eq!(share(Lost::Wind, (25.0, 240.0), &[8, 9, 10]), 2.0);
    }

    #[test]
    fn a_kilometre_is_a_gap_of_temperature_however_far_rows_stand_apart() {
        // 600 gpm and 1 hPa apart: one row gone is 1200 gpm, 1.2 of a kilometre,
        // though less than 3 × 600. Of 1500 gpm it is 0.8.
        assert_eq!(share(Lost::Thermal, (1.0, 600.0), &[8]), 1.2);
        assert_eq!(share(Lost::Wind, (1.0, 600.0), &[8]), 0.8);
        // Two gone are 1800 gpm: not over 3 × 600, no gap of wind; three are.
        assert_eq!(share(Lost::Wind, (1.0, 600.0), &[8, 9]), 3.0 / 50.0);
        assert_eq!(share(Lost::Wind, (1.0, 600.0), &[8, 9, 10]), 1.6);
    }

    #[test]
    fn a_file_of_levels_has_no_gaps_where_it_has_no_rows() {
        // Evenly spaced rows: four steps of 25 hPa without a row are missing, and
        // so are they with rows that lack the element.
        let shares = |p: &[f64], low: usize| {
            let observed = Observed {
                rows: p.len(),
                has: &|k| p[k].is_finite(),
                pressure_hpa: &|k| p[k],
                height_gpm: &|_| f64::NAN,
            };
            let high = (low + 1..p.len()).find(|&k| p[k].is_finite()).unwrap();
            (
                observed.gap_share(Lost::Thermal, low, high),
                observed.missing_share(Lost::Thermal, low, high),
            )
        };
        let even = [1000.0, 975.0, 950.0, 925.0, 825.0, 800.0, 775.0, 750.0];
        assert_eq!(shares(&even, 3), (5.0, 5.0));
        // Levels of a message: distances 4, 6, 16, 25, 30, 40 hPa and a stretch
        // of 100, which is more than 3 × the median of 20.5: nothing is
        // interpolated in it, but nothing says that it is missing.
        let levels = [1000.0, 996.0, 980.0, 950.0, 850.0, 825.0, 785.0, 779.0];
        assert_eq!(shares(&levels, 3), (5.0, 0.0));
        let stands = [
            1000.0,
            996.0,
            980.0,
            950.0,
            f64::NAN,
            850.0,
            825.0,
            785.0,
            779.0,
        ];
        assert_eq!(shares(&stands, 3), (5.0, 5.0));
    }

    #[test]
    fn without_other_rows_the_limits_decide() {
        let observed = Observed {
            rows: 2,
            has: &|_| true,
            pressure_hpa: &|k| [900.0, 879.0][k],
            height_gpm: &|_| f64::NAN,
        };
        assert_eq!(observed.gap_share(Lost::Thermal, 0, 1), 1.05);
        assert!(observed.is_gap(Lost::Thermal, 0, 1));
        assert!(!observed.is_gap(Lost::Wind, 0, 1));
    }
}
