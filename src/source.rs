//! Files with a profile in them become raw rows.

mod columns;
pub mod text;

use thiserror::Error;

use crate::sounding::Roles;

/// A row as the file has it, in canonical units.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawRow {
    /// Line of the file, from 1.
    pub line: usize,
    /// Seconds after release.
    pub time_s: Option<f64>,
    /// Pressure, hPa.
    pub pressure_hpa: Option<f64>,
    /// Geopotential, gpm.
    pub height_gpm: Option<f64>,
    /// Geometric height above mean sea level, m.
    pub altitude_m: Option<f64>,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Relative humidity over water, %.
    pub humidity_pct: Option<f64>,
    /// Dew point over water, °C.
    pub dewpoint_c: Option<f64>,
    /// Direction the wind blows from, degrees.
    pub wind_dir_deg: Option<f64>,
    /// Wind speed, m/s.
    pub wind_speed_ms: Option<f64>,
    /// Wind toward east, m/s.
    pub wind_u_ms: Option<f64>,
    /// Wind toward north, m/s.
    pub wind_v_ms: Option<f64>,
    /// Degrees north.
    pub latitude_deg: Option<f64>,
    /// Degrees east.
    pub longitude_deg: Option<f64>,
    /// Roles the source gave.
    pub flags: Roles,
}

/// The rows of a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawProfile {
    /// File name, for messages.
    pub name: String,
    /// The rows in file order.
    pub rows: Vec<RawRow>,
}

/// Why a file is not a profile.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SourceError {
    /// Nothing in it.
    #[error("{0}: the file is empty; a header row and rows of numbers are expected")]
    Empty(String),
    /// A header and nothing else.
    #[error("{0}: there is a header row but no row of numbers below it")]
    NoRows(String),
    /// Too large in some way.
    #[error("{name}:{line}: {what}")]
    TooLarge {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// What is too large, and the bound.
        what: &'static str,
    },
    /// Not text.
    #[error("{name}:{line}: not UTF-8 text; delimited text is expected")]
    NotText {
        /// File.
        name: String,
        /// Line.
        line: usize,
    },
    /// No known column in the header.
    #[error(
        "{name}:{line}: no column of the header is known ({header}); name them under [columns] in the sheet"
    )]
    NoColumns {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// The header as read.
        header: String,
    },
    /// A column named in the sheet is not in the file, or its unit is unknown.
    #[error("{name}: [columns] {ours}: {what}")]
    Column {
        /// File.
        name: String,
        /// Our column name.
        ours: String,
        /// What is wrong and what is allowed.
        what: String,
    },
    /// Cells that are no values; at most twenty are listed.
    #[error("{}", .0.join("\n"))]
    Cells(Vec<String>),
}
