//! The limits of a month and what networks ask of it.

use serde::{Deserialize, Serialize};

use super::file::load;
use super::{MONTH_LIMITS, NETWORK_REQUIREMENTS, Once};

/// What is averaged over a month at a standard surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Averaged {
    /// Geopotential height, gpm.
    Height,
    /// Temperature, °C.
    Temperature,
}

/// By how much the mean of a month may differ from that of the month before.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MonthLimit {
    /// Of what.
    pub quantity: Averaged,
    /// The standard surface, hPa.
    pub pressure_hpa: u16,
    /// The greatest difference, in `unit`.
    pub most: f64,
    /// The unit.
    pub unit: &'static str,
    /// The least number of ascents in each of the two months.
    pub least_ascents: u32,
    /// Where the values come from.
    pub source: &'static str,
}

/// Whether a network asks for something or recommends it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum NetworkStanding {
    /// It is required.
    Requirement,
    /// It is recommended, or a target.
    Recommendation,
}

impl NetworkStanding {
    /// In a word.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Requirement => "required",
            Self::Recommendation => "recommended",
        }
    }
}

/// What is counted for a network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Counted {
    /// The ascents of the month.
    Ascents,
    /// Days with a number of ascents.
    Days,
}

/// What a network asks of a month.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NetworkRequirement {
    /// Its name.
    pub name: &'static str,
    /// The network.
    pub network: &'static str,
    /// Required or recommended.
    pub standing: NetworkStanding,
    /// What is counted.
    pub counted: Counted,
    /// The pressure that an ascent reaches, hPa.
    pub pressure_hpa: f64,
    /// The least number of ascents: in the month, or on every day.
    pub at_least: usize,
    /// The document.
    pub clause: &'static str,
    /// What is known of it, and where from.
    pub source: &'static str,
}

static LIMITS: Once<Vec<MonthLimit>> = Once::new(|| load(MONTH_LIMITS));
static REQUIREMENTS: Once<Vec<NetworkRequirement>> = Once::new(|| load(NETWORK_REQUIREMENTS));

/// The limit of a quantity at a standard surface; `None` where the table has none.
#[must_use]
pub fn month_limit(quantity: Averaged, pressure_hpa: u16) -> Option<&'static MonthLimit> {
    let mut rows = LIMITS.iter();
    rows.find(|row| row.quantity == quantity && row.pressure_hpa == pressure_hpa)
}

/// What networks ask of a month.
#[must_use]
pub fn network_requirements() -> &'static [NetworkRequirement] {
    &REQUIREMENTS
}
