//! Units, exact conversions and the one snap that precedes every rounding.
//!
//! Values are carried in the units their names say (`_hpa`, `_gpm`, `_c`,
//! `_ms`, `_deg`, `_pct`); this module holds the only conversions between
//! units. Nothing here rounds to a code: that is [`crate::tables::figure`].

use serde::{Deserialize, Serialize};

/// One knot in metres a second, exactly (a nautical mile is 1852 m; BIPM, The
/// International System of Units, 8th edition, table 8).
pub const METRES_PER_SECOND_PER_KNOT: f64 = 1852.0 / 3600.0;

/// 0 °C in kelvins, exactly (BIPM, SI Brochure).
pub const ZERO_CELSIUS_K: f64 = 273.15;

/// One international foot in metres, exactly (BIPM, SI Brochure).
pub const METRES_PER_FOOT: f64 = 0.3048;

/// Removes what a chain of exact conversions leaves in the last bits of a
/// double, before a value is rounded to a code.
///
/// Input data carry at most a few decimals, so a value that is within half a
/// millionth of a shorter decimal is that decimal: 2.35 °C that went through
/// kelvins comes back as 2.35, not 2.3499999999999659, and then rounds as the
/// rule says.
///
/// ```
/// assert_eq!(fivefig::model::quantity::snap(275.5 - 273.15), 2.35);
/// ```
#[must_use]
pub fn snap(value: f64) -> f64 {
    let snapped = round(value * 1e6) / 1e6;
    if snapped.is_finite() { snapped } else { value }
}

/// Leaves off what lies beyond a billionth, so that a computed value has few
/// figures in every form it is written to; half-way cases of every code survive.
///
/// ```
/// assert_eq!(fivefig::model::quantity::trim(2.0 / 3.0), 0.666666667);
/// ```
#[must_use]
pub fn trim(value: f64) -> f64 {
    let trimmed = round(value * 1e9) / 1e9;
    if trimmed.is_finite() { trimmed } else { value }
}

/// The nearest whole number, halves away from zero: `f64::round` without the call that it
/// is on most processors.
#[inline]
pub(crate) fn round(value: f64) -> f64 {
    // From here on every double is whole.
    const WHOLE: f64 = 4_503_599_627_370_496.0;
    let size = value.abs();
    if size < WHOLE {
        // Halves go to the even number.
        let even = (size + WHOLE) - WHOLE;
        let away = if size - even == 0.5 { even + 1.0 } else { even };
        away.copysign(value)
    } else {
        value
    }
}

/// Powers of ten, each of which a double holds exactly.
pub(crate) const POWERS_OF_TEN: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// A power of ten, exact up to 10²².
#[inline]
pub(crate) fn power_of_ten(exponent: u32) -> f64 {
    let power = usize::try_from(exponent)
        .ok()
        .and_then(|at| POWERS_OF_TEN.get(at).copied());
    power.unwrap_or_else(|| 10_f64.powi(exponent.try_into().unwrap_or(i32::MAX)))
}

/// The unit in which a message gives wind speeds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum SpeedUnit {
    /// Metres a second: YY is the day.
    #[default]
    #[serde(rename = "m/s")]
    MetresPerSecond,
    /// Knots: YY is the day plus 50.
    #[serde(rename = "kt")]
    Knots,
}

impl SpeedUnit {
    /// A speed in metres a second, in this unit.
    #[must_use]
    pub fn from_ms(self, speed_ms: f64) -> f64 {
        match self {
            Self::MetresPerSecond => speed_ms,
            Self::Knots => speed_ms / METRES_PER_SECOND_PER_KNOT,
        }
    }

    /// A speed in this unit, in metres a second.
    #[must_use]
    pub fn to_ms(self, speed: f64) -> f64 {
        match self {
            Self::MetresPerSecond => speed,
            Self::Knots => speed * METRES_PER_SECOND_PER_KNOT,
        }
    }

    /// The symbol of the unit, as the sheet writes it.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::MetresPerSecond => "m/s",
            Self::Knots => "kt",
        }
    }
}

/// Kelvins to degrees Celsius.
#[must_use]
pub fn celsius_from_kelvin(temperature_k: f64) -> f64 {
    temperature_k - ZERO_CELSIUS_K
}

/// Degrees Celsius to kelvins.
#[must_use]
pub fn kelvin_from_celsius(temperature_c: f64) -> f64 {
    temperature_c + ZERO_CELSIUS_K
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// The reference is the standard library's.
        #[test]
        fn values_are_rounded_as_the_library_does(value in any::<f64>(), halves in -9_999_i32..9_999) {
            for value in [value, f64::from(halves) / 2.0, value % 1e17] {
                prop_assert_eq!(round(value).to_bits(), value.round().to_bits());
            }
        }

        #[test]
        fn powers_of_ten_are_exact(exponent in 0_u32..23) {
            prop_assert_eq!(power_of_ten(exponent), format!("1e{exponent}").parse::<f64>().unwrap());
        }
    }

    #[test]
    fn a_knot_is_exact() {
        assert_eq!(snap(METRES_PER_SECOND_PER_KNOT * 3600.0), 1852.0);
        // 30 m/s is 58.3 kt (WMO-No. 306, 32.2.3.1 speaks of 30 m/s or 60 kt).
        assert_abs_diff_eq!(
            SpeedUnit::Knots.from_ms(30.0),
            58.315_334_773,
            epsilon = 1e-9
        );
    }

    #[test]
    fn every_tenth_survives_kelvins() {
        // Ties at five hundredths from -99.95 to +60.05, through kelvins and back.
        for hundredths in (-9995..=6005).step_by(10) {
            let c = f64::from(hundredths) / 100.0;
            assert_eq!(snap(celsius_from_kelvin(kelvin_from_celsius(c))), c, "{c}");
        }
    }

    #[test]
    fn every_half_knot_survives_metres_a_second() {
        for halves in 0..1000 {
            let kt = f64::from(halves) / 2.0;
            let unit = SpeedUnit::Knots;
            assert_eq!(snap(unit.from_ms(unit.to_ms(kt))), kt, "{kt}");
            assert_eq!(snap(unit.from_ms(trim(unit.to_ms(kt)))), kt, "{kt}");
        }
    }
}
