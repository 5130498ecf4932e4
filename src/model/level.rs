//! Levels, layers without data, and maximum winds.

use serde::{Deserialize, Serialize};

use super::{Element, Part, Roles, Row, Rule};

/// Where a level's values come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum At {
    /// The profile row of this number, from 0.
    Row(usize),
    /// Interpolated between rows.
    Interpolated,
    /// Extrapolated, outside the rows.
    Extrapolated,
    /// Read from a message.
    Received,
    /// Read from a damaged message, with values that were lost.
    Salvaged,
}

/// One level of a report.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// The values, unrounded.
    pub row: Row,
    /// Where they come from.
    pub at: At,
    /// What the level is.
    pub roles: Roles,
    /// Why it was chosen, one rule each.
    pub why: Vec<Rule>,
}

/// A layer in which an element is missing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct MissingLayer {
    /// Which element.
    pub element: Element,
    /// Lower boundary, the last level with data, hPa; `None` when there is none
    /// (or when only a part that starts above it was read).
    pub from_hpa: Option<f64>,
    /// Upper boundary, the first level with data again, hPa; `None` when the
    /// element never returns.
    pub to_hpa: Option<f64>,
}

/// A maximum wind level, in the order in which the maxima are reported.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct MaxWind {
    /// The part that reports it: A or C.
    pub part: Part,
    /// Pressure of the level, hPa; `None` when it was found by height alone.
    pub pressure_hpa: Option<f64>,
    /// Geopotential height, gpm, of a level without pressure.
    pub height_gpm: Option<f64>,
    /// The shears, when they are reported.
    pub shear: Option<Shear>,
}

/// Shear in the kilometre below and above a maximum wind (35.2.4.4).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Shear {
    /// Magnitude of the vector difference to the wind 1 km below, m/s.
    pub below_ms: Option<f64>,
    /// The same to the wind 1 km above, m/s.
    pub above_ms: Option<f64>,
}

impl Element {
    /// The name of the element.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::Wind => "wind",
        }
    }
}
