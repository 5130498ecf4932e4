//! Checks of a report against the profile it came from, and of the profile
//! itself.

pub mod fidelity;
pub mod profile;
