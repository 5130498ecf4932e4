//! Views of a flight and its report for people: the diagram and the review sheet.
//!
//! No file, no clock, no environment: the same input gives the same bytes.

pub mod diagram;
pub mod review;
