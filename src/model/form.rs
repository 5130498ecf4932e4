//! The families of code forms and their parts.

use serde::{Deserialize, Serialize};

/// The family of code form.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Form {
    /// TEMP, TEMP SHIP, TEMP MOBIL, TEMP DROP (FM 35 to 38).
    #[default]
    Temp,
    /// PILOT, PILOT SHIP, PILOT MOBIL (FM 32 to 34).
    Pilot,
    /// The descent of a radiosonde after burst; BUFR 3 09 056 only.
    Descent,
}

impl Form {
    /// Its name in sheets and reports.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Temp => "temp",
            Self::Pilot => "pilot",
            Self::Descent => "descent",
        }
    }
}

/// A part of a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Part {
    /// Standard levels up to and including 100 hPa.
    A,
    /// Significant levels up to and including 100 hPa.
    B,
    /// Standard levels above 100 hPa.
    C,
    /// Significant levels above 100 hPa.
    D,
}

impl Part {
    /// All four, in the order of sending.
    pub const ALL: [Self; 4] = [Self::A, Self::B, Self::C, Self::D];

    /// The letter.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Self::A => 'A',
            Self::B => 'B',
            Self::C => 'C',
            Self::D => 'D',
        }
    }

    /// The part with that letter.
    #[must_use]
    pub fn from_letter(letter: char) -> Option<Self> {
        Self::ALL.into_iter().find(|part| part.letter() == letter)
    }

    /// Whether the part speaks of what lies above 100 hPa.
    #[must_use]
    pub fn is_upper(self) -> bool {
        matches!(self, Self::C | Self::D)
    }
}
