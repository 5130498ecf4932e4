//! The numeric limits of the checks of messages.

use serde::Deserialize;

use super::limit::read_limits;
use super::{LimitRow, MESSAGE_LIMITS, Once};

/// Every numeric limit of the checks of messages, by name.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MessageLimits {
    /// Mean temperature of a layer between significant levels.
    pub fine_layer_k: f64,
    /// Mean temperature of a layer between standard surfaces alone.
    pub coarse_layer_k: f64,
    /// Height of a standard surface against the layers, besides the resolution.
    pub height_gross_gpm: f64,
    /// Fall of potential temperature with height.
    pub superadiabatic_k: f64,
    /// Depth above ground in which it may fall.
    pub superadiabatic_surface_hpa: f64,
    /// Vector change of wind in 1000 gpm.
    pub shear_ms: f64,
    /// Temperatures nearer to 0 °C may change their sign.
    pub sign_least_k: f64,
    /// How well the turned sign fits the neighbours.
    pub sign_fit_k: f64,
    /// A standard surface and a significant level of one coded pressure.
    pub shared_temperature_k: f64,
    /// Temperature of a standard surface against the line through the significant levels.
    pub standard_temperature_k: f64,
    /// Depression of a standard surface against that line, in saturated air.
    pub standard_depression_k: f64,
    /// What is added to it, in per cent of the depression.
    pub standard_depression_pct: f64,
    /// Relative humidity that the depressions of both give.
    pub standard_humidity_pct: f64,
    /// The same of all standard surfaces and elements together, as a multiple of what is
    /// allowed (root mean square), for parts to be of one report.
    pub parts_fit_ratio: f64,
    /// Wind vector of a standard surface against that line.
    pub standard_wind_ms: f64,
    /// How far a standard surface may lie from the height that stands for it.
    pub surface_height_pct: f64,
    /// Wind vector of a standard surface of TEMP against the line of PILOT.
    pub pilot_wind_ms: f64,
    /// Wind vector of a significant level against the line between its neighbours.
    pub outlier_wind_ms: f64,
    /// What is added to it for each kilometre between them.
    pub outlier_wind_ms_per_km: f64,
    /// Relative humidity of a significant level against both of its neighbours.
    pub outlier_humidity_pct: f64,
    /// What is added to it for each kilometre between them.
    pub outlier_humidity_pct_per_km: f64,
    /// Fall of the wind on both sides of a maximum that no group gives.
    pub maximum_fall_ms: f64,
    /// Release before the hour GG.
    pub release_before_min: f64,
    /// Release after the hour GG.
    pub release_after_min: f64,
    /// Mean temperature of a layer below the ground against that of the surface.
    pub below_ground_k: f64,
    /// Time of the heading against day and hour of the message.
    pub heading_apart_h: f64,
}

static LIMITS: Once<(Vec<LimitRow>, MessageLimits)> = Once::new(|| read_limits(MESSAGE_LIMITS));

/// Every numeric limit of the checks of messages.
#[must_use]
pub fn message_limits() -> &'static MessageLimits {
    &LIMITS.1
}

/// The rows of those limits, with source.
#[must_use]
pub fn message_limit_rows() -> &'static [LimitRow] {
    &LIMITS.0
}
