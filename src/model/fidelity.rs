//! How well levels reproduce a profile, as data.

use serde::{Deserialize, Serialize};

/// What is compared with a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Temperature up to the first level above 300 hPa or the first
    /// tropopause, whichever is lower.
    Temperature,
    /// Temperature above that.
    TemperatureAloft,
    /// Relative humidity over water.
    Humidity,
    /// Wind direction, unless both winds are light.
    WindDirection,
    /// Wind speed.
    WindSpeed,
}

/// The departures of one quantity, rebuilt from one set of levels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Departures {
    /// Rows of the ascent that could be compared with the curve.
    pub rows: usize,
    /// Root of the mean squared departure.
    pub rms: f64,
    /// Greatest departure, without sign.
    pub greatest: f64,
    /// Where that is, hPa; `None` when there was no row, or no pressure in it.
    pub pressure_hpa: Option<f64>,
    /// The row of the ascent, from 1.
    pub row: Option<usize>,
    /// Rows outside the limit.
    pub outside: usize,
}

/// One quantity before and after rounding.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct QuantityFidelity {
    /// Which quantity.
    pub quantity: Quantity,
    /// Its limit: K, %, degrees or m/s.
    pub limit: f64,
    /// From the levels as chosen.
    pub before_rounding: Departures,
    /// From the levels as the message gives them.
    pub after_rounding: Departures,
}

/// How many levels of one kind were chosen, and how few would do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Count {
    /// Levels that the rules ask for whatever the curve between them does.
    pub fixed: usize,
    /// Additional levels, there to keep the limits before and after rounding.
    pub additional: usize,
    /// The fewest additional levels that keep the limits before rounding,
    /// when any row may be one and the fixed levels stay.
    pub fewest: usize,
    /// Whether `fewest` is only a lower bound, the search having been cut short.
    pub bound_only: bool,
}

/// The counts of both kinds of significant levels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Counts {
    /// Significant levels for temperature and humidity.
    pub thermal: Count,
    /// Significant wind levels.
    pub wind: Count,
}

/// How well the levels of a report give its profile back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Fidelity {
    /// A line a quantity.
    pub departures: Vec<QuantityFidelity>,
    /// Levels chosen and fewest possible, when they were counted.
    pub counts: Option<Counts>,
}
