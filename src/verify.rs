//! Checks of a report: against the profile it came from, against itself.

pub mod fidelity;
pub mod message;
