//! What the practice of a Region adds to a report.

use serde::{Deserialize, Serialize};

use super::{Doubted, Wind};

/// What the practice of a Region adds, in unrounded values.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Regional {
    /// Stability index, K: temperature at the upper surface less that of a parcel
    /// lifted there from the lower one.
    pub stability_k: Option<f64>,
    /// Mean winds of the layers of the Region, lowest first, when they are reported.
    pub mean_winds: Option<Vec<Option<Wind>>>,
    /// Geopotential of standard surfaces just above the top.
    pub extrapolated: Vec<Extrapolated>,
    /// Doubtful layers.
    pub doubtful: Vec<DoubtfulLayer>,
    /// Winds at the low levels of the Region.
    pub low_winds: Vec<LowWind>,
}

/// A standard surface just above the top.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Extrapolated {
    /// The surface, hPa.
    pub pressure_hpa: f64,
    /// Its geopotential, gpm.
    pub height_gpm: f64,
}

/// A doubtful layer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct DoubtfulLayer {
    /// What is doubtful.
    pub doubtful: Doubted,
    /// Lower end, hPa.
    pub from_hpa: f64,
    /// Upper end, hPa.
    pub to_hpa: f64,
}

/// A wind at a low level of the Region.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct LowWind {
    /// Which of the levels of the Region, from 1.
    pub indicator: u8,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// The wind.
    pub wind: Wind,
}
