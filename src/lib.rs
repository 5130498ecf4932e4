//! Turns a processed radiosonde ascent into the coded messages of the WMO
//! upper-air code forms, and reads them back.
//!
//! One hub, thin spokes: a [`sounding::Profile`] becomes levels with reasons,
//! those become one [`sounding::Report`] in unrounded values, and every form
//! is written from the report, rounding once in its own units.

pub mod bufr;
#[cfg(feature = "cli")]
pub mod cli;
pub mod code;
#[cfg(feature = "desk")]
pub mod desk;
pub mod draw;
pub mod figure;
pub mod finding;
pub mod json;
pub mod levels;
pub mod physics;
pub mod product;
pub mod profile;
pub mod quantity;
pub mod report;
pub mod review;
pub mod sheet;
pub mod sounding;
pub mod source;
#[cfg(feature = "spool")]
pub mod spool;
pub mod tables;
pub mod verify;
pub mod wis2;
