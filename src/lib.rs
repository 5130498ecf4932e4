//! Turns a processed radiosonde ascent into the coded messages of the WMO
//! upper-air code forms, and reads them back.
//!
//! One hub, thin spokes: a [`sounding::Profile`] becomes levels with reasons,
//! those become one [`sounding::Report`] in unrounded values, and every form
//! is written from the report, rounding once in its own units.

pub mod finding;
pub mod quantity;
pub mod sheet;
pub mod sounding;
pub mod tables;
