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
