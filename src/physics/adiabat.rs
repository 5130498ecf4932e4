//! Dry-adiabatic temperature.

use crate::quantity::kelvin_from_celsius;

/// Gas constant of dry air over its specific heat at constant pressure, 2/7 (a
/// gas of two-atom molecules; WMO-No. 8 and the general textbooks agree).
const KAPPA: f64 = 2.0 / 7.0;

/// Reference pressure, hPa.
const REFERENCE_HPA: f64 = 1000.0;

/// Potential temperature, K: what dry air would have at 1000 hPa.
///
/// `temperature_c` in °C, `pressure_hpa` above 0.
#[must_use]
pub fn potential_temperature_k(temperature_c: f64, pressure_hpa: f64) -> f64 {
    kelvin_from_celsius(temperature_c) * (REFERENCE_HPA / pressure_hpa).powf(KAPPA)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_at_1000_hpa_keeps_its_temperature() {
        assert_eq!(potential_temperature_k(15.0, 1000.0), 288.15);
    }

    #[test]
    fn potential_temperature_by_hand() {
        // 0 °C at 500 hPa: 2^(2/7) = exp(0.693147 × 0.285714) = 1.219014, so
        // 273.15 × 1.219014 = 332.974 K.
        assert!((potential_temperature_k(0.0, 500.0) - 332.974).abs() < 0.002);
    }
}
