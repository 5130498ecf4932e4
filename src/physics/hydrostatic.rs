//! Hydrostatic relations in geopotential metres.

use super::humidity::virtual_temperature_k;
use crate::tables::limits;

/// Gas constant of dry air, J/(kg K), and standard gravity, m/s²
/// (U.S. Standard Atmosphere, 1976).
pub const GAS_CONSTANT: f64 = 287.053;
/// See [`GAS_CONSTANT`].
pub const GRAVITY: f64 = 9.806_65;

/// Thickness between two levels of (pressure hPa, virtual temperature K), gpm.
#[must_use]
pub fn thickness_gpm(lower: (f64, f64), upper: (f64, f64)) -> f64 {
    GAS_CONSTANT / GRAVITY * f64::midpoint(lower.1, upper.1) * (lower.0 / upper.0).ln()
}

/// Geopotential of a surface of greater pressure below the ground, gpm: the
/// standard lapse rate on the surface virtual temperature, solved exactly.
#[must_use]
pub fn height_below(
    height_gpm: f64,
    pressure_hpa: f64,
    temperature_c: f64,
    dewpoint_c: Option<f64>,
    target_hpa: f64,
) -> f64 {
    let lapse = limits().standard_lapse_k_per_km / 1000.0;
    let virtual_k = virtual_temperature_k(temperature_c, dewpoint_c, pressure_hpa);
    let power = GAS_CONSTANT * lapse / GRAVITY;
    height_gpm - virtual_k / lapse * ((target_hpa / pressure_hpa).powf(power) - 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn below_ground_the_standard_atmosphere_comes_back() {
        // U.S. Standard Atmosphere 1976: 850 hPa at 1457.3 gpm, 1000 hPa at
        // 110.9 gpm; 288.15 K less 6.5 K/km gives 5.5276 degrees C at 850 hPa.
        let t = 288.15 - 0.0065 * 1457.3 - 273.15;
        let z = height_below(1457.3, 850.0, t, None, 1000.0);
        assert!((z - 110.9).abs() < 0.2, "{z}");
        assert!((height_below(500.0, 900.0, 5.0, None, 900.0) - 500.0).abs() < 1e-9);
    }
}
