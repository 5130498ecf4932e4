//! Checks and comparisons: of a report with the profile it came from, of a
//! message with itself, of a profile with nature and sheet, of the sheet with a
//! table of stations, of two reports; and what a month of a station adds up to.

pub mod compare;
pub mod continuity;
pub mod fidelity;
pub mod message;
pub mod month;
pub mod profile;
pub mod rows;
pub mod station;
pub mod traffic;
#[cfg(feature = "wmd")]
pub mod wmd;
