//! Views for people: the diagram and the review sheet of a flight, the page of a month.
//!
//! No file, no clock, no environment: the same input gives the same bytes.

pub mod diagram;
mod html;
pub mod month;
pub mod review;
