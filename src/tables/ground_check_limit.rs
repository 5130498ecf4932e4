//! The limits of the ground check.

use serde::Deserialize;

use super::limit::read_limits;
use super::{GROUND_CHECK_LIMITS, LimitRow, Once};

/// Every limit of the ground check, by name.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroundCheckLimits {
    /// The sonde's pressure differs from the reference by at most this, hPa.
    pub pressure_hpa: f64,
    /// The sonde's temperature differs from the reference by at most this, K.
    pub temperature_k: f64,
    /// The sonde's humidity differs from the reference by at most this, %.
    pub humidity_pct: f64,
    /// In dry air the sonde reads at most this above or below 0, %.
    pub dry_humidity_pct: f64,
    /// The check is at most this long before the release, min.
    pub age_min: f64,
    /// Over a month the differences of a batch change by at most this share of their limit.
    pub drift_share: f64,
    /// The least number of checks of a batch by which that is judged.
    pub drift_checks: f64,
    /// A change counts only if it is greater than this number of its standard errors.
    pub drift_errors: f64,
}

static LIMITS: Once<(Vec<LimitRow>, GroundCheckLimits)> =
    Once::new(|| read_limits(GROUND_CHECK_LIMITS));

/// Every limit of the ground check.
#[must_use]
pub fn ground_check_limits() -> &'static GroundCheckLimits {
    &LIMITS.1
}

/// The rows of those limits, with source.
#[must_use]
pub fn ground_check_limit_rows() -> &'static [LimitRow] {
    &LIMITS.0
}
