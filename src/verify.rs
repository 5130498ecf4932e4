//! Checks: of a report against the profile it came from, of a message against
//! itself, and of the profile.

pub mod fidelity;
pub mod message;
pub mod profile;
pub mod station;
