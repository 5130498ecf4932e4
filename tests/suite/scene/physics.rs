//! The little physics the invented ascents need, apart from the crate's own.

use super::{Components, Place};

/// Gas constant of dry air, J kg⁻¹ K⁻¹ (WMO-No. 8, Volume I, Part I, chapter 3).
const DRY_AIR: f64 = 287.05;
/// Standard gravity, m s⁻² (BIPM).
const GRAVITY: f64 = 9.80665;
/// Mean radius of the Earth, m.
const EARTH_M: f64 = 6_371_000.0;

/// Virtual temperature, K, of air at `temperature_c` °C, `humidity_pct` % over
/// water and `pressure_hpa` hPa. Saturation by the Magnus form of WMO-No. 8,
/// Volume I, annex 4.B.
pub fn virtual_k(temperature_c: f64, humidity_pct: f64, pressure_hpa: f64) -> f64 {
    let saturation = 6.112 * (17.62 * temperature_c / (243.12 + temperature_c)).exp();
    let vapour = humidity_pct / 100.0 * saturation;
    (temperature_c + 273.15) / (1.0 - 0.378 * vapour / pressure_hpa)
}

/// Rd Tv / g, gpm.
pub fn scale_height_gpm(virtual_k: f64) -> f64 {
    DRY_AIR * virtual_k / GRAVITY
}

/// Pressure above over pressure below, across a layer of `depth_gpm`.
pub fn pressure_ratio(depth_gpm: f64, virtual_k: f64) -> f64 {
    (-depth_gpm / scale_height_gpm(virtual_k)).exp()
}

/// Geopotential height, gpm, of a height in metres: gravity on the ellipsoid
/// (WGS 84) falling with the square of the distance from the centre.
pub fn geopotential_gpm(latitude_deg: f64, height_m: f64) -> f64 {
    let sin2 = latitude_deg.to_radians().sin().powi(2);
    let surface = 9.780_325_335_9 * (1.0 + 0.001_931_852_652_41 * sin2)
        / (1.0 - 0.006_694_379_990_14 * sin2).sqrt();
    surface / GRAVITY * EARTH_M * height_m / (EARTH_M + height_m)
}

/// Where a drifting balloon is after `seconds`.
pub fn drift(from: Place, wind: &Components, seconds: f64) -> Place {
    let north = (wind.north_ms * seconds / EARTH_M).to_degrees();
    let around = EARTH_M * from.latitude_deg.to_radians().cos();
    let east = (wind.east_ms * seconds / around).to_degrees();
    Place {
        latitude_deg: from.latitude_deg + north,
        longitude_deg: from.longitude_deg + east,
    }
}
