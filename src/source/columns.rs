//! Names, units and bounds of the columns of a profile.

use crate::quantity::{METRES_PER_FOOT, METRES_PER_SECOND_PER_KNOT, ZERO_CELSIUS_K};

use super::RawRow;

/// A column we know: bounds in its own unit, and the units it may come in as
/// (name, factor, offset).
pub(super) struct Known {
    pub name: &'static str,
    pub low: f64,
    pub high: f64,
    pub units: &'static [(&'static str, f64, f64)],
    pub set: fn(&mut RawRow, f64),
}

const HEIGHT: &[(&str, f64, f64)] = &[
    ("gpm", 1.0, 0.0),
    ("m", 1.0, 0.0),
    ("ft", METRES_PER_FOOT, 0.0),
];
const METRES: &[(&str, f64, f64)] = &[("m", 1.0, 0.0), ("ft", METRES_PER_FOOT, 0.0)];
const TEMPERATURE: &[(&str, f64, f64)] = &[
    ("°C", 1.0, 0.0),
    ("C", 1.0, 0.0),
    ("K", 1.0, -ZERO_CELSIUS_K),
];
const SPEED: &[(&str, f64, f64)] = &[
    ("m/s", 1.0, 0.0),
    ("kt", METRES_PER_SECOND_PER_KNOT, 0.0),
    ("km/h", 1.0 / 3.6, 0.0),
];
const DEGREES: &[(&str, f64, f64)] = &[("deg", 1.0, 0.0)];

macro_rules! known {
    ($($name:ident $low:literal $high:literal $units:expr),+ $(,)?) => {
        &[$(Known {
            name: stringify!($name),
            low: $low,
            high: $high,
            units: $units,
            set: |row, value| row.$name = Some(value),
        }),+]
    };
}

pub(super) const KNOWN: &[Known] = known![
    time_s -86400.0 86400.0 &[("s", 1.0, 0.0), ("min", 60.0, 0.0)],
    pressure_hpa 0.01 1100.0 &[("hPa", 1.0, 0.0), ("Pa", 0.01, 0.0)],
    height_gpm -500.0 60000.0 HEIGHT,
    altitude_m -500.0 60000.0 METRES,
    temperature_c -120.0 60.0 TEMPERATURE,
    humidity_pct 0.0 105.0 &[("%", 1.0, 0.0), ("fraction", 100.0, 0.0)],
    dewpoint_c -150.0 60.0 TEMPERATURE,
    wind_dir_deg 0.0 360.0 DEGREES,
    wind_speed_ms 0.0 250.0 SPEED,
    wind_u_ms -250.0 250.0 SPEED,
    wind_v_ms -250.0 250.0 SPEED,
    latitude_deg -90.0 90.0 DEGREES,
    longitude_deg -180.0 360.0 DEGREES,
];
