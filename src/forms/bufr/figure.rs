//! Values as BUFR figures: one rounding, to the nearest unit of the element's
//! last place, halves away from zero.

use super::Field;
use crate::model::Wind;
use crate::model::quantity::{kelvin_from_celsius, power_of_ten, round, snap};

/// A value on its way into a field.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Figure {
    Missing,
    /// A figure of a code table, bits of a flag table, a count.
    Code(i64),
    /// A value in the element's unit.
    Value(f64),
    /// Degrees the wind blows from.
    Direction(Option<Wind>),
    Text(String),
}

impl Figure {
    pub(super) fn code<T: Into<i64>>(code: Option<T>) -> Self {
        code.map_or(Self::Missing, |code| Self::Code(code.into()))
    }

    pub(super) fn value(value: Option<f64>) -> Self {
        value.map_or(Self::Missing, Self::Value)
    }

    pub(super) fn celsius(temperature_c: Option<f64>) -> Self {
        Self::value(temperature_c.map(kelvin_from_celsius))
    }

    pub(super) fn hectopascals(pressure_hpa: Option<f64>) -> Self {
        Self::value(pressure_hpa.map(|p| p * 100.0))
    }

    pub(super) fn text(text: Option<&str>) -> Self {
        match text {
            Some(text) if !text.is_empty() => Self::Text(text.to_owned()),
            _ => Self::Missing,
        }
    }
}

/// The whole number of units of the last place; `None` for missing and text.
pub(super) fn figure(field: &Field, value: &Figure) -> Option<i64> {
    match value {
        Figure::Missing | Figure::Text(_) => None,
        Figure::Code(code) => Some(*code),
        Figure::Value(value) => scaled(*value, field.scale),
        Figure::Direction(wind) => wind.and_then(direction),
    }
}

/// Whole degrees, north 360; 0 where the speed rounds to 0.0 m/s (Table B, class
/// 11: calm has direction 0).
fn direction(wind: Wind) -> Option<i64> {
    if scaled(wind.speed_ms, 1) == Some(0) {
        return Some(0);
    }
    let degrees = scaled(wind.dir_deg.rem_euclid(360.0), 0)?;
    Some(if degrees == 0 { 360 } else { degrees })
}

/// `value` x 10^`scale`, to the nearest whole number, halves away from zero.
pub(super) fn scaled(value: f64, scale: i32) -> Option<i64> {
    let power = power_of_ten(scale.unsigned_abs());
    let units = if scale < 0 {
        value / power
    } else {
        value * power
    };
    let nearest = round(units);
    // Nearly every value is so far from a half that to snap it changes nothing.
    if (units - nearest).abs() < 0.499_99 && nearest.abs() < 1e9 {
        return whole(nearest);
    }
    whole(round(snap(units)))
}

/// A whole `f64` as an integer, where it is exact.
fn whole(value: f64) -> Option<i64> {
    const EXACT: f64 = 9_007_199_254_740_992.0;
    if value.abs() > EXACT || value.is_nan() {
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "whole and within what a double holds exactly"
    )]
    Some(value as i64)
}

/// A whole number of units of ten to minus `scale` as the nearest double.
pub(super) fn real(number: i64, scale: i32) -> f64 {
    #[expect(
        clippy::cast_precision_loss,
        reason = "numbers of at most 32 bits and a reference"
    )]
    let number = number as f64;
    let power = power_of_ten(scale.unsigned_abs());
    if scale < 0 {
        number * power
    } else {
        number / power
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// The reference is the rule as it stands: snapped, then rounded by the library.
        #[test]
        fn values_are_snapped_and_rounded_once(value in -1e7_f64..1e7, halves in -99_999_i32..99_999, scale in -2_i32..7) {
            for value in [value, value * 1e6, f64::from(halves) / 2.0 * 10_f64.powi(-scale)] {
                let units = if scale < 0 {
                    value / 10_f64.powi(-scale)
                } else {
                    value * 10_f64.powi(scale)
                };
                prop_assert_eq!(scaled(value, scale), whole(snap(units).round()));
            }
        }
    }
}
