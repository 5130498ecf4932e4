//! The forms of a report, each written from the report and read back into one: the
//! text of the code forms, BUFR, JSON, files of bulletins, the notification of WIS2, and NetCDF
//! and IGRA for archives, which are read as profiles.
//!
//! Siblings: what is rounded is rounded once, in the units of the form.

pub mod bufr;
#[cfg(feature = "arrow")]
pub mod columnar;
pub mod gts;
pub mod igra;
pub mod json;
pub mod netcdf;
pub mod text;
pub mod wis2;
