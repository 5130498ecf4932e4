//! NetCDF profiles with CF attributes: classic files (CDF-1, CDF-2, CDF-5) and
//! NetCDF-4, read by the crate `netcdf-reader`.
//!
//! - What a variable is, is known by its `standard_name` (`tables/cf_names.csv`);
//!   without one by what CF says of units alone (a coordinate in `seconds since`,
//!   `degrees_north`, `degrees_east`, pressure with `axis = "Z"`), then by our own
//!   column names. `[columns]` of the sheet wins over all. Nothing is guessed.
//! - Missing are NaN, `_FillValue`, `missing_value` and, where there is no
//!   `_FillValue`, the default of NetCDF for the type. Values outside of
//!   `valid_min`, `valid_max` or `valid_range` are kept and counted: open files have
//!   bounds that the stratosphere leaves.
//! - Packed values are unpacked (`scale_factor`, `add_offset`, `_Unsigned`). A single
//!   (32 bits) is taken as the shortest decimal that is this single: 12.3 is 12.3,
//!   not 12.300000190734863.
//! - Variables of one length along one dimension are rows; a scalar latitude,
//!   longitude or altitude is the place of the station. Several profiles (two
//!   dimensions, or the ragged arrays of CF chapter 9) are distinguished by number.
//! - Times `since` a date count from the whole second of the first row, and that
//!   second is the start of the profile.
//!
//! Only the root group is read.

#[cfg(feature = "netcdf")]
mod attributes;
#[cfg(feature = "netcdf")]
mod file;
#[cfg(feature = "netcdf")]
mod find;
#[cfg(feature = "netcdf")]
mod layout;
#[cfg(feature = "netcdf")]
mod reader;
#[cfg(feature = "netcdf")]
mod reported;
#[cfg(feature = "netcdf")]
mod rows;
#[cfg(feature = "netcdf")]
mod station;
#[cfg(feature = "netcdf")]
#[cfg(test)]
mod tests;
#[cfg(feature = "netcdf")]
mod time;
#[cfg(feature = "netcdf")]
mod units;
#[cfg(feature = "netcdf")]
mod values;

use crate::input::{Columns, Contents, SourceError};
use crate::model::Reading;

/// Whether the start of a file is that of NetCDF: `CDF` with version 1, 2 or 5, or
/// the signature of HDF5.
///
/// Source: Unidata, NetCDF classic format specification; HDF5 file format
/// specification, III.A.
#[must_use]
pub fn is_netcdf(start: &[u8]) -> bool {
    start.starts_with(b"\x89HDF\r\n\x1a\n")
        || [1, 2, 5]
            .iter()
            .any(|version| start.starts_with(&[b'C', b'D', b'F', *version]))
}

/// Reads the one profile of a file, or the one of that number (from 1).
///
/// # Errors
/// [`SourceError::NetCdf`]: a file that cannot be read (cut off, damaged, no NetCDF),
/// no variable that is known as a coordinate or as an observation, two that could be
/// the same, units or shapes that do not fit, values out of bounds, several profiles
/// where none is named. [`SourceError::FileTooLarge`] above 256 MiB.
#[cfg(feature = "netcdf")]
pub fn read(
    bytes: &[u8],
    name: &str,
    number: Option<usize>,
    reading: &Reading,
) -> Result<Contents, SourceError> {
    let file = file::File::open(bytes, name)?;
    rows::contents(&file, number, reading)
}

/// What each variable is interpreted as, also where that is not enough for a profile, with
/// guesses for those of which nothing is known.
///
/// # Errors
/// As [`read`], but for missing variables and values out of bounds.
#[cfg(feature = "netcdf")]
pub fn columns(
    bytes: &[u8],
    name: &str,
    number: Option<usize>,
    reading: &Reading,
) -> Result<Columns, SourceError> {
    let file = file::File::open(bytes, name)?;
    rows::columns(&file, number, reading)
}

/// Refuses: this build has no reader of NetCDF.
///
/// # Errors
/// Always.
#[cfg(not(feature = "netcdf"))]
pub fn read(_: &[u8], name: &str, _: Option<usize>, _: &Reading) -> Result<Contents, SourceError> {
    Err(not_built(name))
}

/// Refuses: this build has no reader of NetCDF.
///
/// # Errors
/// Always.
#[cfg(not(feature = "netcdf"))]
pub fn columns(
    _: &[u8],
    name: &str,
    _: Option<usize>,
    _: &Reading,
) -> Result<Columns, SourceError> {
    Err(not_built(name))
}

#[cfg(not(feature = "netcdf"))]
fn not_built(name: &str) -> SourceError {
    SourceError::NetCdf {
        name: name.to_owned(),
        what:
            "the file is NetCDF, which this build does not read; build it with the feature `netcdf`"
                .to_owned(),
    }
}

/// A computed value without the noise of its last bits, beyond a billionth.
#[cfg(feature = "netcdf")]
fn few(value: f64) -> f64 {
    // A double of this size has more than nine decimals.
    if value.abs() < 1e6 {
        crate::model::quantity::trim(value)
    } else {
        value
    }
}
