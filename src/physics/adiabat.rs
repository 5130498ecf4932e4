//! Dry and saturated adiabats.

use super::humidity::saturation_vapour_pressure_hpa;
use crate::model::quantity::{celsius_from_kelvin, kelvin_from_celsius};

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

/// Gas constants, J/(kg K), specific heat at constant pressure J/(kg K) and
/// latent heat of vaporisation J/kg (general textbooks; the latent heat at 0 °C).
const DRY: f64 = 287.05;
const VAPOUR: f64 = 461.5;
const HEAT: f64 = 1004.7;
const LATENT: f64 = 2.501e6;

/// Temperature, K, at which lifted air becomes saturated: D. Bolton, 1980, Mon.
/// Weather Rev. 108, 1046–1053, equation 15.
fn condensation_k(temperature_k: f64, dewpoint_k: f64) -> f64 {
    1.0 / (1.0 / (dewpoint_k - 56.0) + (temperature_k / dewpoint_k).ln() / 800.0) + 56.0
}

/// Temperature, °C, of air lifted from a level to a lower pressure: along the
/// dry adiabat until it is saturated, from there along the saturated one (all
/// water falls out).
///
/// `temperature_c` and `dewpoint_c` in °C between −100 and 60, pressures in hPa
/// above 0, `to_hpa` not above `from_hpa`.
#[must_use]
pub fn lifted_c(temperature_c: f64, dewpoint_c: f64, from_hpa: f64, to_hpa: f64) -> f64 {
    let kelvin = kelvin_from_celsius(temperature_c);
    let dewpoint_k = kelvin_from_celsius(dewpoint_c.min(temperature_c));
    let saturated_k = condensation_k(kelvin, dewpoint_k).min(kelvin);
    let saturated_hpa = from_hpa * (saturated_k / kelvin).powf(1.0 / KAPPA);
    if saturated_hpa <= to_hpa {
        return celsius_from_kelvin(kelvin * (to_hpa / from_hpa).powf(KAPPA));
    }
    celsius_from_kelvin(along_saturated_k(saturated_k, saturated_hpa, to_hpa))
}

/// Temperature, °C, on the dry adiabat of a temperature, °C, at 1000 hPa: the
/// inverse of [`potential_temperature_k`].
///
/// `pressure_hpa` above 0.
#[must_use]
pub fn dry_c(at_1000_hpa_c: f64, pressure_hpa: f64) -> f64 {
    let kelvin = kelvin_from_celsius(at_1000_hpa_c);
    celsius_from_kelvin(kelvin * (pressure_hpa / REFERENCE_HPA).powf(KAPPA))
}

/// Temperature, °C, on the saturated adiabat (all water falls out) from one
/// pressure, where it is `temperature_c`, to another, higher up or lower down.
///
/// `temperature_c` in °C between −100 and 60, pressures in hPa above 0. The
/// adiabat through a temperature at 1000 hPa has `from_hpa` 1000.
#[must_use]
pub fn saturated_c(temperature_c: f64, from_hpa: f64, to_hpa: f64) -> f64 {
    let kelvin = kelvin_from_celsius(temperature_c);
    celsius_from_kelvin(along_saturated_k(kelvin, from_hpa, to_hpa))
}

/// Temperature, K, of a saturated parcel that goes from one pressure, hPa, to
/// another: dT/d ln p, from the first law with the latent heat of what condenses
/// (general textbooks), fourth order in 64 steps.
fn along_saturated_k(from_k: f64, from_hpa: f64, to_hpa: f64) -> f64 {
    let slope = |ln_p: f64, k: f64| {
        let p = ln_p.exp();
        let e = saturation_vapour_pressure_hpa(celsius_from_kelvin(k)).min(0.5 * p);
        let ratio = DRY / VAPOUR * e / (p - e);
        (DRY * k + LATENT * ratio) / (HEAT + LATENT * LATENT * ratio / (VAPOUR * k * k))
    };
    const STEPS: u32 = 64;
    let mut ln_p = from_hpa.ln();
    let step = (to_hpa.ln() - ln_p) / f64::from(STEPS);
    let mut k = from_k;
    for _ in 0..STEPS {
        let a = slope(ln_p, k);
        let b = slope(ln_p + step / 2.0, k + a * step / 2.0);
        let c = slope(ln_p + step / 2.0, k + b * step / 2.0);
        let d = slope(ln_p + step, k + c * step);
        k += step * (a + 2.0 * b + 2.0 * c + d) / 6.0;
        ln_p += step;
    }
    k
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn air_at_1000_hpa_keeps_its_temperature() {
        assert_eq!(potential_temperature_k(15.0, 1000.0), 288.15);
    }

    #[test]
    fn potential_temperature_by_hand() {
        // 0 °C at 500 hPa: 2^(2/7) = exp(0.693147 × 0.285714) = 1.219014, so
        // 273.15 × 1.219014 = 332.974 K.
        assert_abs_diff_eq!(
            potential_temperature_k(0.0, 500.0),
            332.974,
            epsilon = 0.002
        );
    }

    #[test]
    fn dry_air_is_lifted_along_the_dry_adiabat() {
        // 20 °C at 1000 hPa, far from saturation, to 800 hPa: 293.15 × 0.8^(2/7)
        // = 275.05 K by hand.
        let t = lifted_c(20.0, -40.0, 1000.0, 800.0);
        assert!((t - 1.90).abs() < 0.02, "{t}");
    }

    #[test]
    fn saturated_air_cools_more_slowly() {
        // Condensation warms: a saturated parcel is warmer than a dry one, and
        // the warmer the air the more. (Values are compared with MetPy apart.)
        let gain = |t: f64| lifted_c(t, t, 1000.0, 500.0) - lifted_c(t, -90.0, 1000.0, 500.0);
        assert!(gain(25.0) > gain(5.0) && gain(5.0) > 2.0);
        assert!(gain(-60.0).abs() < 0.5);
        // Lifting to where it is changes nothing.
        assert_abs_diff_eq!(lifted_c(5.0, 5.0, 850.0, 850.0), 5.0, epsilon = 1e-9);
    }
    #[test]
    fn the_dry_adiabat_is_the_inverse_of_potential_temperature() {
        // 59.824 °C at 1000 hPa is 332.974 K, 0 °C at 500 hPa (by hand above).
        assert!(dry_c(59.824, 500.0).abs() < 0.002);
        for (t, p) in [(-30.0, 1050.0), (12.0, 700.0), (40.0, 10.0)] {
            let theta = potential_temperature_k(dry_c(t, p), p);
            assert!((theta - kelvin_from_celsius(t)).abs() < 1e-9, "{t} {p}");
        }
    }

    #[test]
    fn the_saturated_lapse_rate_by_hand() {
        // General textbooks: Γs = g (1 + L r/(R T)) / (cp + L² r ε/(R T²)).
        // At 1000 hPa and 20 °C es = 23.37 hPa (Smithsonian tables, from memory), so
        // r = 0.622 × 23.37 / 976.6 = 0.01488; L r/(R T) = 2.501e6 × 0.01488 /
        // (287.05 × 293.15) = 0.4423; L² r ε/(R T²) = 6.255e12 × 0.01488 × 0.622 /
        // (287.05 × 85 937) = 2347. dT/d ln p = R T (1 + 0.4423) / (1004.7 + 2347)
        // = 84 149 × 1.4423 / 3351.7 = 36.21 K. Over 1000 to 990 hPa, whose
        // logarithms are 0.010 050 apart: 0.364 K.
        let cooled = 20.0 - saturated_c(20.0, 1000.0, 990.0);
        assert!((cooled - 0.364).abs() < 0.002, "{cooled}");
    }

    #[test]
    fn a_saturated_adiabat_leads_there_and_back() {
        for t in [-30.0, 0.0, 20.0, 32.0] {
            for p in [1050.0, 850.0, 500.0, 200.0] {
                let there = saturated_c(t, 1000.0, p);
                assert!((saturated_c(there, p, 1000.0) - t).abs() < 1e-3, "{t} {p}");
                // Piece by piece it is the same line.
                let half = saturated_c(t, 1000.0, (1000.0 * p).sqrt());
                let pieces = saturated_c(half, (1000.0 * p).sqrt(), p);
                assert!((pieces - there).abs() < 1e-4, "{t} {p}");
            }
        }
        // Saturated air is lifted along it.
        let lifted = lifted_c(15.0, 15.0, 900.0, 500.0);
        assert_abs_diff_eq!(saturated_c(15.0, 900.0, 500.0), lifted, epsilon = 0.02);
    }
}
