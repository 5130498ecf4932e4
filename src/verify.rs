//! Checks of a report against the profile it came from, or against another report.

pub mod compare;
pub mod fidelity;
