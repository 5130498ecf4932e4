//! Humidity over liquid water.

use crate::quantity::{ZERO_CELSIUS_K, kelvin_from_celsius};

/// Saturation vapour pressure over liquid water, hPa, at −100…100 °C.
///
/// Source: Hyland and Wexler, 1983, ASHRAE Transactions 89(2A), 500–519
/// (coefficients from memory; held to table values in the tests).
#[must_use]
pub fn saturation_vapour_pressure_hpa(temperature_c: f64) -> f64 {
    let t = kelvin_from_celsius(temperature_c);
    let ln_pa = -5_800.220_6 / t
        + 1.391_499_3
        + t * (-0.048_640_239 + t * (4.176_476_8e-5 - t * 1.445_209_3e-8))
        + 6.545_967_3 * t.ln();
    ln_pa.exp() / 100.0
}

/// Relative humidity over water, %.
#[must_use]
pub fn relative_humidity_pct(temperature_c: f64, dewpoint_c: f64) -> f64 {
    100.0 * saturation_vapour_pressure_hpa(dewpoint_c)
        / saturation_vapour_pressure_hpa(temperature_c)
}

/// Dew point over water, °C; `None` when there is no humidity.
#[must_use]
pub fn dewpoint_c(temperature_c: f64, humidity_pct: f64) -> Option<f64> {
    if humidity_pct.is_nan() || humidity_pct <= 0.0 {
        return None;
    }
    let vapour = humidity_pct / 100.0 * saturation_vapour_pressure_hpa(temperature_c);
    // First guess from the Magnus form of WMO-No. 8, then Newton on ln e.
    let ratio = (vapour / 6.112).ln();
    let mut td = (243.12 * ratio / (17.62 - ratio)).max(-150.0);
    for _ in 0..8 {
        let t = td + ZERO_CELSIUS_K;
        let slope = 5_800.220_6 / (t * t) - 0.048_640_239
            + t * (2.0 * 4.176_476_8e-5 - t * 3.0 * 1.445_209_3e-8)
            + 6.545_967_3 / t;
        let step = (saturation_vapour_pressure_hpa(td) / vapour).ln() / slope;
        td -= step;
        if step.abs() < 1e-9 {
            break;
        }
    }
    Some(td)
}

/// Virtual temperature, K (WMO-No. 8; ratio of gas constants 0.62198).
#[must_use]
pub fn virtual_temperature_k(
    temperature_c: f64,
    dewpoint_c: Option<f64>,
    pressure_hpa: f64,
) -> f64 {
    let e = dewpoint_c.map_or(0.0, saturation_vapour_pressure_hpa);
    kelvin_from_celsius(temperature_c) / (1.0 - (1.0 - 0.621_98) * (e / pressure_hpa).min(0.9))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturation_agrees_with_the_smithsonian_tables() {
        // Smithsonian Meteorological Tables, table 94 (over water), from memory.
        for (t, hpa) in [
            (0.0, 6.1078),
            (20.0, 23.373),
            (30.0, 42.430),
            (-20.0, 1.2540),
            (-40.0, 0.1891),
        ] {
            let e = saturation_vapour_pressure_hpa(t);
            assert!((e / hpa - 1.0).abs() < 0.005, "{t}: {e} {hpa}");
        }
    }

    #[test]
    fn the_magnus_form_agrees_inside_its_range() {
        // WMO-No. 8: e = 6.112 exp(17.62 t / (243.12 + t)), -45 to 60 degrees C.
        for t in -45..=60 {
            let t = f64::from(t);
            let magnus = 6.112 * (17.62 * t / (243.12 + t)).exp();
            assert!(
                (saturation_vapour_pressure_hpa(t) / magnus - 1.0).abs() < 0.006,
                "{t}"
            );
        }
    }

    #[test]
    fn dew_point_and_humidity_are_inverse() {
        for t in [-90.0, -60.0, -20.0, 0.0, 15.0, 40.0] {
            for u in [0.1, 1.0, 20.0, 99.0, 100.0] {
                let td = dewpoint_c(t, u).unwrap();
                assert!(
                    (relative_humidity_pct(t, td) - u).abs() < 1e-6 * u,
                    "{t} {u} {td}"
                );
            }
        }
        assert_eq!(dewpoint_c(10.0, 0.0), None);
    }
}
