//! The numeric limits of the checks of messages.

use super::file::{Fault, File};
use super::limit::{limit_struct, read_limits};
use super::{LimitRow, MESSAGE_LIMITS, Once, loaded};

limit_struct! {
    /// Every numeric limit of the checks of messages, by name.
    MessageLimits:
    /// Mean temperature of a layer between significant levels.
    fine_layer_k,
    /// Mean temperature of a layer between standard surfaces alone.
    coarse_layer_k,
    /// Height of a standard surface against the layers, besides the grain.
    height_gross_gpm,
    /// Fall of potential temperature with height.
    superadiabatic_k,
    /// Depth above ground in which it may fall.
    superadiabatic_surface_hpa,
    /// Vector change of wind in 1000 gpm.
    shear_ms,
    /// Temperatures nearer to 0 °C may change their sign.
    sign_least_k,
    /// How well the turned sign fits the neighbours.
    sign_fit_k,
    /// A standard surface and a significant level of one coded pressure.
    shared_temperature_k,
}

static LIMITS: Once<(Vec<LimitRow>, MessageLimits)> =
    Once::new(|| loaded(read_all(MESSAGE_LIMITS)));

pub(super) fn read_all(file: File) -> Result<(Vec<LimitRow>, MessageLimits), Fault> {
    let rows = read_limits(file)?;
    let limits = fill(file, &rows)?;
    Ok((rows, limits))
}

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
