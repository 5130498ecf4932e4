//! Assumed rates of ascent of pilot balloons.

use serde::Deserialize;

use super::{ASCENT_RATES, Once, load};

/// The heaviest balloon for which the formula is used, g.
const FORMULA_TO_G: f64 = 100.0;

/// A row: a rate, or the formula for one, from a minute on.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AscentRate {
    /// Mass of the balloon, g; `None` for the formula.
    pub balloon_g: Option<u16>,
    /// Minute after release from which it holds.
    pub from_min: f64,
    /// The rate, m/s.
    pub rate_ms: Option<f64>,
    /// Coefficient of the formula, m/s.
    pub coefficient_ms: Option<f64>,
    /// Exponent of the formula.
    pub exponent: Option<f64>,
    /// Factor on the rate of the formula.
    pub factor: Option<f64>,
    /// Where it comes from.
    pub source: &'static str,
}

static RATES: Once<Vec<AscentRate>> = Once::new(|| load(ASCENT_RATES));

/// Every row.
#[must_use]
pub fn ascent_rates() -> &'static [AscentRate] {
    &RATES
}

/// The rates of a balloon of a mass, g: seconds after release from which each holds, and
/// m/s. Without a free lift (g) the balloon is filled as usual for its mass. Empty when the
/// table has none.
///
/// ```
/// use fivefig::tables::assumed_rates;
///
/// assert_eq!(assumed_rates(30.0, None).first(), Some(&(0.0, 3.6)));
/// assert!(assumed_rates(350.0, None).is_empty());
/// ```
#[must_use]
pub fn assumed_rates(balloon_g: f64, free_lift_g: Option<f64>) -> Vec<(f64, f64)> {
    let rate = |row: &AscentRate| match (row.balloon_g, free_lift_g) {
        (Some(own), None) if (f64::from(own) - balloon_g).abs() < 0.5 => row.rate_ms,
        (None, Some(free_g)) if balloon_g <= FORMULA_TO_G => {
            let ratio = free_g.powi(3) / (free_g + balloon_g).powi(2);
            Some(row.coefficient_ms? * ratio.powf(row.exponent?) * row.factor?)
        }
        _ => None,
    };
    let rates = ascent_rates().iter();
    rates
        .filter_map(|row| Some((row.from_min * 60.0, rate(row)?)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 125 g of free lift on 30 g: 125³ / 155² = 1 953 125 / 24 025 = 81.295; its
    /// logarithm 4.398 08 x 0.208 = 0.914 80, and e to that is 2.496 3: 1.2 x that is
    /// 2.995 6 m/s, the 180 m per minute of the usual fill.
    #[test]
    fn the_formula_gives_the_usual_rate() {
        let rates = assumed_rates(30.0, Some(125.0));
        let (from_s, rate_ms) = *rates.last().unwrap();
        assert!((rate_ms - 2.9956).abs() < 2e-4, "{rate_ms}");
        assert!((from_s - 300.0).abs() < 1e-9);
        // The first minute is a fifth faster.
        assert!((rates[0].1 - 1.2 * 2.9956).abs() < 3e-4);
        assert!(assumed_rates(200.0, Some(1000.0)).is_empty());
        // 216, 414, 612, 801, 990 and 1170 m after 1 to 6 minutes.
        let usual = assumed_rates(30.0, None);
        let after = |minute: u32| -> f64 {
            let rate = |m: u32| usual.iter().rev().find(|r| r.0 <= f64::from(m) * 60.0);
            (0..minute).filter_map(rate).map(|r| r.1 * 60.0).sum()
        };
        for (minute, height_m) in (1..).zip([216.0, 414.0, 612.0, 801.0, 990.0, 1170.0]) {
            assert!((after(minute) - height_m).abs() < 1e-6, "{minute}");
        }
    }
}
