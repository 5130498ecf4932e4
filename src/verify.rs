//! Checks of a report against the profile it came from.

pub mod fidelity;
