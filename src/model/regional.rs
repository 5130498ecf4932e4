//! What the practice of a Region adds to a report.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Doubted, Wind};

/// What the practice of a Region adds, in unrounded values.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Regional {
    /// Stability index, K: temperature at 500 hPa less that of a parcel lifted
    /// there from the base level.
    pub stability_k: Option<f64>,
    /// Mean winds from the ground to 1500 m and from there to 3000 m above mean
    /// sea level, when they are reported.
    pub mean_winds: Option<[Option<Wind>; 2]>,
    /// Geopotential of standard surfaces just above the top.
    pub extrapolated: Vec<Extrapolated>,
    /// Doubtful layers.
    pub doubtful: Vec<DoubtfulLayer>,
    /// Winds 900 m above ground, at 800 and at 600 hPa.
    pub low_winds: Vec<LowWind>,
}

/// A standard surface just above the top.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Extrapolated {
    /// The surface, hPa.
    pub pressure_hpa: f64,
    /// Its geopotential, gpm.
    pub height_gpm: f64,
}

/// A doubtful layer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DoubtfulLayer {
    /// What is doubtful.
    pub doubtful: Doubted,
    /// Lower end, hPa.
    pub from_hpa: f64,
    /// Upper end, hPa.
    pub to_hpa: f64,
}

/// A wind near the ground, or at one of two surfaces.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LowWind {
    /// Indicator: 1 near the ground, 2 at 800 hPa, 3 at 600 hPa.
    pub indicator: u8,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// The wind.
    pub wind: Wind,
}
