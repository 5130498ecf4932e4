//! The rows of a file as they were read, in the units of the field names.

use jiff::civil::DateTime;

use super::Roles;

/// Angles at which one theodolite or two saw the balloon, as read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Angles {
    /// Above the horizon, degrees, 0…90.
    pub elevation_deg: Option<f64>,
    /// Clockwise from the zero of the instrument, degrees, 0…360.
    pub azimuth_deg: Option<f64>,
    /// Of the second theodolite: above the horizon, degrees, 0…90.
    pub elevation_2_deg: Option<f64>,
    /// Of the second theodolite: clockwise from its zero, degrees, 0…360.
    pub azimuth_2_deg: Option<f64>,
}

/// A row as the file has it, in the units of the field names.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawRow {
    /// Line of the file, from 1.
    pub line: usize,
    /// Seconds after release.
    pub time_s: Option<f64>,
    /// Pressure, hPa.
    pub pressure_hpa: Option<f64>,
    /// Geopotential height above mean sea level, gpm.
    pub height_gpm: Option<f64>,
    /// Geometric height above mean sea level, m.
    pub altitude_m: Option<f64>,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Relative humidity over water, %.
    pub humidity_pct: Option<f64>,
    /// Dew point over water, °C.
    pub dewpoint_c: Option<f64>,
    /// Direction the wind blows from, degrees true.
    pub wind_dir_deg: Option<f64>,
    /// Wind speed, m/s.
    pub wind_speed_ms: Option<f64>,
    /// Wind toward east, m/s.
    pub wind_u_ms: Option<f64>,
    /// Wind toward north, m/s.
    pub wind_v_ms: Option<f64>,
    /// Degrees north.
    pub latitude_deg: Option<f64>,
    /// Degrees east, −180…360.
    pub longitude_deg: Option<f64>,
    /// Angles at which the balloon was seen; boxed, since few profiles have any.
    pub angles: Option<Box<Angles>>,
    /// Roles the source gave (BUFR 0 08 042).
    pub flags: Roles,
}

/// The rows of a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawProfile {
    /// File name, for messages.
    pub name: String,
    /// The rows in file order.
    pub rows: Vec<RawRow>,
    /// Date and time, UTC, at which `time_s` is 0, when the file says it.
    pub start: Option<DateTime>,
}
