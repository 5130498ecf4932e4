//! The limits of the continuity of soundings.

use serde::Deserialize;

use super::file::load;
use super::{CONTINUITY_LIMITS, Once};

/// What of two soundings is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Compared {
    /// Geopotential of a standard surface, gpm.
    Height,
    /// Difference in geopotential of two standard surfaces, gpm.
    Thickness,
    /// Temperature at a standard surface, K.
    Temperature,
    /// Pressure of the surface level, hPa.
    SurfacePressure,
    /// Temperature of the surface level, K.
    SurfaceTemperature,
    /// Pressure of the first tropopause, hPa.
    TropopausePressure,
    /// Temperature of the first tropopause, K.
    TropopauseTemperature,
    /// Wind vector at a standard surface, m/s.
    Wind,
}

/// How far two soundings may differ, as the table has it.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ContinuityLimit {
    /// Its name.
    pub name: &'static str,
    /// What is compared.
    pub compared: Compared,
    /// The standard surface, or the upper one of a thickness, hPa.
    pub pressure_hpa: Option<f64>,
    /// The lower surface of a thickness, hPa.
    pub from_hpa: Option<f64>,
    /// The limit of two soundings at the same time, in `unit`.
    pub base: f64,
    /// What is added for each hour between them.
    pub per_hour: f64,
    /// The limit whatever the time between them.
    pub most: f64,
    /// The unit.
    pub unit: &'static str,
    /// Where the values come from.
    pub source: &'static str,
}

impl ContinuityLimit {
    /// The limit of two soundings, by the hours between them.
    #[must_use]
    pub fn after(&self, hours: f64) -> f64 {
        (self.base + self.per_hour * hours).min(self.most)
    }
}

static LIMITS: Once<Vec<ContinuityLimit>> = Once::new(|| load(CONTINUITY_LIMITS));

/// Every limit of continuity.
#[must_use]
pub fn continuity_limits() -> &'static [ContinuityLimit] {
    &LIMITS
}
