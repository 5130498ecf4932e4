//! Mass of water vapour over that of dry air (WMO-No. 8: r = ε e / (p − e)).

use super::humidity::{MASS_RATIO, dewpoint_c, saturation_vapour_pressure_hpa};

/// Grams in a kilogram.
const GRAMS: f64 = 1000.0;

/// Mixing ratio, g of vapour in a kg of dry air, of a dew point over water; of
/// the temperature it is the mixing ratio of saturated air.
///
/// `dewpoint_c` in °C between −100 and 60, `pressure_hpa` above 0. `None` where
/// the vapour would be all of the air: there is no such dew point.
#[must_use]
pub fn mixing_ratio_g_kg(dewpoint_c: f64, pressure_hpa: f64) -> Option<f64> {
    let vapour = saturation_vapour_pressure_hpa(dewpoint_c);
    let ratio = GRAMS * MASS_RATIO * vapour / (pressure_hpa - vapour);
    (ratio.is_finite() && ratio >= 0.0).then_some(ratio)
}

/// Dew point over water, °C, at which air has a mixing ratio: the inverse of
/// [`mixing_ratio_g_kg`], to 1e-9 K.
///
/// `ratio_g_kg` and `pressure_hpa` above 0; `None` when they are not.
#[must_use]
pub fn dewpoint_of_ratio_c(ratio_g_kg: f64, pressure_hpa: f64) -> Option<f64> {
    let ratio = ratio_g_kg / GRAMS;
    let vapour = pressure_hpa * ratio / (MASS_RATIO + ratio);
    // The humidity, %, that so much vapour is at 0 °C has the same dew point.
    dewpoint_c(0.0, 100.0 * vapour / saturation_vapour_pressure_hpa(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mixing_ratios_by_hand() {
        // Vapour pressures of the Smithsonian tables (table 94, from memory):
        // 20 °C 23.373 hPa: 621.98 × 23.373 / 976.627 = 14.885 g/kg at 1000 hPa;
        // 0 °C 6.1078 hPa: 621.98 × 6.1078 / 493.892 = 7.692 g/kg at 500 hPa.
        for (td, p, ratio) in [(20.0, 1000.0, 14.885), (0.0, 500.0, 7.692)] {
            let own = mixing_ratio_g_kg(td, p).unwrap();
            assert!((own / ratio - 1.0).abs() < 0.005, "{td} {p}: {own}");
        }
    }

    #[test]
    fn dew_point_and_mixing_ratio_are_inverse() {
        for td in [-95.0, -60.0, -20.0, 0.0, 15.0, 35.0] {
            for p in [1050.0, 700.0, 200.0, 70.0] {
                let ratio = mixing_ratio_g_kg(td, p).unwrap();
                let back = dewpoint_of_ratio_c(ratio, p).unwrap();
                assert!((back - td).abs() < 1e-8, "{td} {p}: {back}");
            }
        }
    }

    #[test]
    fn there_is_no_more_vapour_than_air() {
        // 60 °C: about 199 hPa of vapour.
        assert_eq!(mixing_ratio_g_kg(60.0, 150.0), None);
        for (ratio, p) in [
            (0.0, 1000.0),
            (-1.0, 1000.0),
            (f64::NAN, 1000.0),
            (5.0, 0.0),
        ] {
            assert_eq!(dewpoint_of_ratio_c(ratio, p), None, "{ratio} {p}");
        }
    }
}
