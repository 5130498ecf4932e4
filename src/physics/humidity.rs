//! Humidity over liquid water.

use crate::model::Row;
use crate::model::quantity::{celsius_from_kelvin, kelvin_from_celsius, trim};

/// Coefficients of ln(e / Pa) over liquid water in T⁻¹, 1, T, T², T³ and ln T:
/// Hyland and Wexler, 1983, ASHRAE Transactions 89(2A), 500–519 (from memory;
/// held to published values in the tests).
const WATER: [f64; 6] = [
    -5_800.220_6,
    1.391_499_3,
    -0.048_640_239,
    4.176_476_8e-5,
    -1.445_209_3e-8,
    6.545_967_3,
];

/// Coefficients of ln(e / Pa) over ice in T⁻¹, 1, T, T², T³, T⁴ and ln T, 173 to
/// 273 K: the same authors (from memory; held to published values in the tests).
const ICE: [f64; 7] = [
    -5_674.535_9,
    6.392_524_7,
    -9.677_843e-3,
    6.221_570_1e-7,
    2.074_782_5e-9,
    -9.484_024e-13,
    4.163_501_9,
];

/// Molar mass of water over that of dry air (WMO-No. 8: 0.62198).
pub(super) const MASS_RATIO: f64 = 0.621_98;

/// The humidity, %, whose dew point is stated where a form asks for a dew point
/// and the sensor gave 0 %, at which none exists (our decision, no source).
pub const FLOOR_PCT: f64 = 0.1;

/// The most Newton steps; four reach 1e-9 K within the range of the formula.
const MAX_STEPS: usize = 30;

/// Logarithm of the saturation vapour pressure in Pa, and its derivative, 1/K.
fn ln_saturation(kelvin: f64) -> (f64, f64) {
    let [inverse, constant, first, second, third, logarithm] = WATER;
    let t = kelvin;
    let value =
        inverse / t + constant + t * (first + t * (second + t * third)) + logarithm * t.ln();
    let slope = -inverse / (t * t) + first + t * (2.0 * second + t * 3.0 * third) + logarithm / t;
    (value, slope)
}

/// Saturation vapour pressure over liquid water, hPa, at −100…100 °C.
#[must_use]
pub fn saturation_vapour_pressure_hpa(temperature_c: f64) -> f64 {
    ln_saturation(kelvin_from_celsius(temperature_c)).0.exp() / 100.0
}

/// Saturation vapour pressure over ice, hPa, at −100…0 °C.
#[must_use]
pub fn saturation_vapour_pressure_over_ice_hpa(temperature_c: f64) -> f64 {
    let [inverse, constant, first, second, third, fourth, logarithm] = ICE;
    let t = kelvin_from_celsius(temperature_c);
    let polynomial = constant + t * (first + t * (second + t * (third + t * fourth)));
    (inverse / t + polynomial + logarithm * t.ln()).exp() / 100.0
}

/// Relative humidity over water, %, of one over ice; above 0 °C, where there is
/// no ice, the same.
#[must_use]
pub fn humidity_from_ice_pct(temperature_c: f64, over_ice_pct: f64) -> f64 {
    if temperature_c >= 0.0 {
        return over_ice_pct;
    }
    over_ice_pct * saturation_vapour_pressure_over_ice_hpa(temperature_c)
        / saturation_vapour_pressure_hpa(temperature_c)
}

/// Dew point over water, °C, of a frost point; above 0 °C the same.
#[must_use]
pub fn dewpoint_from_frostpoint_c(frostpoint_c: f64) -> Option<f64> {
    // Saturated over ice: the humidity over water at that temperature.
    dewpoint_c(frostpoint_c, humidity_from_ice_pct(frostpoint_c, 100.0))
}

/// Relative humidity over water, %.
#[must_use]
pub fn relative_humidity_pct(temperature_c: f64, dewpoint_c: f64) -> f64 {
    let at = |c| ln_saturation(kelvin_from_celsius(c)).0;
    100.0 * (at(dewpoint_c) - at(temperature_c)).exp()
}

/// Dew point over water, °C, to 1e-9 K; `None` when there is no humidity.
#[must_use]
pub fn dewpoint_c(temperature_c: f64, humidity_pct: f64) -> Option<f64> {
    if humidity_pct.is_nan() || humidity_pct <= 0.0 {
        return None;
    }
    let kelvin = kelvin_from_celsius(temperature_c);
    let target = (humidity_pct / 100.0).ln() + ln_saturation(kelvin).0;
    // First guess from the Magnus form of WMO-No. 8 (6.112 hPa at 0 °C, 17.62,
    // 243.12 °C), whose pole is far below any dew point that matters.
    let ratio = target - 611.2_f64.ln();
    let guess = (243.12 * ratio / (17.62 - ratio)).clamp(-150.0, 100.0);
    // ln e is nearly straight in 1/T: Newton in that coordinate.
    let mut inverse = kelvin_from_celsius(guess).recip();
    for _ in 0..MAX_STEPS {
        let t = inverse.recip();
        let (value, slope) = ln_saturation(t);
        let step = (value - target) / (slope * t * t);
        inverse += step;
        if (step * t * t).abs() < 1e-10 {
            break;
        }
    }
    Some(celsius_from_kelvin(inverse.recip())).filter(|td| td.is_finite())
}

impl Row {
    /// Dew point over water, °C: the row's own, or else that of its temperature and humidity.
    /// `None` where these are missing or the air is dry.
    #[must_use]
    pub fn any_dewpoint_c(&self) -> Option<f64> {
        let derived = || dewpoint_c(self.temperature_c?, self.humidity_pct?);
        self.dewpoint_c.or_else(derived)
    }
}

/// The dew point that a form is given, °C: the one at hand, or where humidity is
/// 0 % and none exists that of [`FLOOR_PCT`].
#[must_use]
pub fn reported_dewpoint_c(
    temperature_c: Option<f64>,
    dewpoint: Option<f64>,
    humidity_pct: Option<f64>,
) -> Option<f64> {
    let floor = || match (temperature_c, humidity_pct) {
        (Some(t), Some(u)) if u <= 0.0 => dewpoint_c(t, FLOOR_PCT).map(trim),
        _ => None,
    };
    dewpoint.or_else(floor)
}

/// Virtual temperature, K (WMO-No. 8).
#[must_use]
pub fn virtual_temperature_k(
    temperature_c: f64,
    dewpoint_c: Option<f64>,
    pressure_hpa: f64,
) -> f64 {
    let vapour = dewpoint_c.map_or(0.0, saturation_vapour_pressure_hpa);
    // Vapour cannot be more than all of the air.
    let share = (vapour / pressure_hpa).min(1.0);
    kelvin_from_celsius(temperature_c) / (1.0 - (1.0 - MASS_RATIO) * share)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn saturation_agrees_with_the_smithsonian_tables() {
        // Smithsonian Meteorological Tables, table 94 (over water), from memory.
        // They stand on Goff and Gratch, 1946, which in deeply undercooled water
        // lies under the later formulas: at -40 degrees C, 0.189 hPa against
        // 0.190 by the Magnus form of WMO-No. 8. Hence the wider last bound.
        for (t, hpa, within) in [
            (30.0, 42.430, 0.005),
            (20.0, 23.373, 0.005),
            (0.0, 6.1078, 0.005),
            (-20.0, 1.2540, 0.005),
            (-40.0, 0.1891, 0.01),
            (-50.0, 0.06356, 0.02),
        ] {
            let e = saturation_vapour_pressure_hpa(t);
            assert!((e / hpa - 1.0).abs() < within, "{t}: {e} {hpa}");
        }
    }

    #[test]
    fn ice_agrees_with_the_smithsonian_tables() {
        // Smithsonian Meteorological Tables, table 96 (over ice), from memory.
        for (t, hpa) in [
            (0.0, 6.1071),
            (-10.0, 2.597),
            (-20.0, 1.032),
            (-40.0, 0.1283),
            (-60.0, 0.010_80),
            (-80.0, 0.000_547_2),
        ] {
            let e = saturation_vapour_pressure_over_ice_hpa(t);
            assert!((e / hpa - 1.0).abs() < 0.003, "{t}: {e} {hpa}");
        }
    }

    #[test]
    fn humidity_over_ice_is_less_over_water() {
        // At -40 degrees C the two saturation pressures are 0.1283 and 0.1891 hPa
        // (the same tables): saturated over ice is 67.8 % over water there, and
        // at -20 degrees C 1.032 / 1.254 = 82.3 %.
        for (t, pct, within) in [(-40.0, 67.8, 1.0), (-20.0, 82.3, 0.3)] {
            let over_water = humidity_from_ice_pct(t, 100.0);
            assert!((over_water - pct).abs() < within, "{t}: {over_water}");
            assert_abs_diff_eq!(
                humidity_from_ice_pct(t, 50.0),
                over_water / 2.0,
                epsilon = 1e-9
            );
        }
        assert_eq!(humidity_from_ice_pct(3.0, 50.0), 50.0);
        // Frost point -20 degrees C: vapour of 1.032 hPa, which is saturated over
        // water at about -22.2 degrees C (WMO-No. 8, Magnus form: 1.0341 hPa).
        let td = dewpoint_from_frostpoint_c(-20.0).unwrap();
        assert!((td + 22.25).abs() < 0.1, "{td}");
        assert!(
            (saturation_vapour_pressure_hpa(td) - saturation_vapour_pressure_over_ice_hpa(-20.0))
                .abs()
                < 1e-9
        );
        assert_abs_diff_eq!(
            dewpoint_from_frostpoint_c(4.0).unwrap(),
            4.0,
            epsilon = 1e-9
        );
    }

    #[test]
    fn undercooled_water_agrees_with_sonntag() {
        // Sonntag, 1990, Z. Meteorol. 70, 340-344, over water, from memory.
        for t in -100..=-40 {
            let t = f64::from(t);
            let k = t + 273.15;
            let ln_hpa = -6096.9385 / k + 16.635794 - 2.711193e-2 * k
                + 1.673952e-5 * k * k
                + 2.433502 * k.ln();
            let e = saturation_vapour_pressure_hpa(t);
            assert!((e / ln_hpa.exp() - 1.0).abs() < 0.01, "{t}: {e}");
        }
    }

    #[test]
    fn the_magnus_form_agrees_inside_its_range() {
        // WMO-No. 8: e = 6.112 exp(17.62 t / (243.12 + t)), -45 to 60 degrees C;
        // the Guide gives 0.6 % as its uncertainty there.
        for t in -45..=60 {
            let t = f64::from(t);
            let magnus = 6.112 * (17.62 * t / (243.12 + t)).exp();
            let e = saturation_vapour_pressure_hpa(t);
            assert!((e / magnus - 1.0).abs() < 0.006, "{t}: {e} {magnus}");
        }
    }

    #[test]
    fn dew_point_and_humidity_are_inverse() {
        for t in [-95.0, -60.0, -20.0, 0.0, 15.0, 40.0, 60.0] {
            for u in [1e-3, 0.1, 1.0, 20.0, 99.0, 100.0] {
                let td = dewpoint_c(t, u).unwrap();
                let back = relative_humidity_pct(t, td);
                assert!((back / u - 1.0).abs() < 1e-9, "{t} {u} {td} {back}");
            }
            // Saturated air has its own temperature as dew point.
            assert_abs_diff_eq!(dewpoint_c(t, 100.0).unwrap(), t, epsilon = 1e-9);
        }
    }

    #[test]
    fn a_row_has_its_own_dew_point_or_that_of_its_humidity() {
        let row = Row {
            temperature_c: Some(10.0),
            humidity_pct: Some(100.0),
            ..Row::default()
        };
        assert_abs_diff_eq!(row.any_dewpoint_c().unwrap(), 10.0, epsilon = 1e-9);
        let own = Row {
            dewpoint_c: Some(9.5),
            ..row.clone()
        };
        assert_eq!(own.any_dewpoint_c(), Some(9.5));
        for (temperature_c, humidity_pct) in [(None, Some(50.0)), (Some(10.0), None)] {
            let less = Row {
                temperature_c,
                humidity_pct,
                ..row.clone()
            };
            assert_eq!(less.any_dewpoint_c(), None);
        }
    }

    #[test]
    fn dry_air_has_no_dew_point() {
        for u in [0.0, -1.0, f64::NAN] {
            assert_eq!(dewpoint_c(10.0, u), None);
        }
        // However dry, a dew point is a temperature.
        for u in [1e-6, 1e-12, 1e-100, 1e-300] {
            let td = dewpoint_c(-90.0, u).unwrap();
            assert!(td > -273.15 && td < -90.0, "{u}: {td}");
        }
    }

    #[test]
    fn moist_air_is_virtually_warmer() {
        // Saturated at 20 degrees C and 1000 hPa: e = 23.37 hPa, so
        // Tv = 293.15 / (1 - 0.37802 x 0.02337) = 295.76 K (worked by hand).
        let tv = virtual_temperature_k(20.0, Some(20.0), 1000.0);
        assert!((tv - 295.76).abs() < 0.02, "{tv}");
        assert_eq!(virtual_temperature_k(20.0, None, 1000.0), 293.15);
    }
}
