//! The limits of what is handed to the telecommunication system.

use serde::{Deserialize, Deserializer};

use super::limit::read_limits;
use super::{LimitRow, Once, TRANSMISSION_LIMITS};

/// Every limit of bulletins and of files of bulletins, by name.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TransmissionLimits {
    /// Length of a bulletin in alphanumeric form, heading and envelope included.
    #[serde(deserialize_with = "whole")]
    pub text_octets: u32,
    /// The same on older circuits.
    #[serde(deserialize_with = "whole")]
    pub text_octets_older: u32,
    /// Length of a bulletin in BUFR.
    #[serde(deserialize_with = "whole")]
    pub binary_octets: u32,
    /// Messages of one file.
    #[serde(deserialize_with = "whole")]
    pub messages: u32,
}

/// A whole number of a table whose values are numbers.
fn whole<'de, D: Deserializer<'de>>(from: D) -> Result<u32, D::Error> {
    let value = f64::deserialize(from)?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a table that is part of the program, and a test reads it"
    )]
    Ok(value as u32)
}

static LIMITS: Once<(Vec<LimitRow>, TransmissionLimits)> =
    Once::new(|| read_limits(TRANSMISSION_LIMITS));

/// Every limit of bulletins and of files of bulletins.
#[must_use]
pub fn transmission_limits() -> &'static TransmissionLimits {
    &LIMITS.1
}

/// The rows of those limits, with source.
#[must_use]
pub fn transmission_limit_rows() -> &'static [LimitRow] {
    &LIMITS.0
}
