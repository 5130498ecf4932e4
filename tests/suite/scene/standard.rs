//! The U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), as an ascent.

use super::Row;

/// Base height, gpm; base temperature, K; gradient, K/gpm (table 4; sea-level
/// values table 2).
const LAYERS: [(f64, f64, f64); 3] = [
    (0.0, 288.15, -0.0065),
    (11_000.0, 216.65, 0.0),
    (20_000.0, 216.65, 0.001),
];
/// Pressure at sea level, hPa.
const SEA_LEVEL_HPA: f64 = 1013.25;
/// g0 M0 / R*, K/gpm.
const HYDROSTATIC: f64 = 9.80665 * 28.9644 / 8314.32;

/// Pressure, hPa, and temperature, K, at 0–32 000 gpm (equations 33a and 33b).
pub fn pressure_and_temperature(height_gpm: f64) -> (f64, f64) {
    let mut pressure = SEA_LEVEL_HPA;
    let mut layers = LAYERS.iter().peekable();
    while let Some(&(base, base_k, gradient)) = layers.next() {
        let top = layers
            .peek()
            .map_or(height_gpm, |next| height_gpm.min(next.0));
        let depth = top - base;
        let top_k = base_k + gradient * depth;
        pressure *= if gradient == 0.0 {
            (-HYDROSTATIC * depth / base_k).exp()
        } else {
            (base_k / top_k).powf(HYDROSTATIC / gradient)
        };
        if top >= height_gpm {
            return (pressure, top_k);
        }
    }
    (pressure, f64::NAN)
}

/// A dry ascent without wind: a row every 5 gpm from 0 to 31 500 gpm, one
/// row per second, in full precision.
pub fn rows() -> Vec<Row> {
    (0_u32..=6300)
        .map(|step| {
            let height_gpm = 5.0 * f64::from(step);
            let (pressure_hpa, kelvins) = pressure_and_temperature(height_gpm);
            Row {
                time_s: step,
                pressure_hpa,
                height_gpm,
                temperature_c: Some(kelvins - 273.15),
                humidity_pct: None,
                wind: None,
                place: None,
            }
        })
        .collect()
}
