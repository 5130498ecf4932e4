//! The numeric limits of the rules.

use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde::de::value::{self, MapDeserializer};

use super::file::File;
use super::{GROSS_LIMITS, Once, SELECTION_LIMITS, load};

/// A numeric limit, as its table has it.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitRow {
    /// Its name, the unit at its end.
    pub name: &'static str,
    /// Its value in that unit.
    pub value: f64,
    /// The unit.
    pub unit: &'static str,
    /// The clause of WMO-No. 306 Vol. I.1, or the check, it belongs to.
    pub clause: &'static str,
    /// Where the value comes from.
    pub source: &'static str,
}

/// Every numeric limit of the choice of levels, by name.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// A layer without temperature or humidity this thick or thicker is bounded by levels (35.3.1.6, B/C25).
    pub missing_thermal_layer_hpa: f64,
    /// A layer without wind this thick or thicker is bounded by levels on a
    /// pressure axis (35.3.2.2, B/C25).
    pub missing_wind_layer_hpa: f64,
    /// The same on a height axis (32.3.1.5.2, B/C20).
    pub missing_wind_layer_gpm: f64,
    /// An inversion or isothermal layer this thick or thicker counts (35.3.1.2, B/C25).
    pub inversion_thickness_hpa: f64,
    /// A thinner inversion counts when temperature rises this much or more (35.3.1.2, B/C25).
    pub inversion_temperature_k: f64,
    /// A thinner inversion counts when relative humidity changes this much or more (35.3.1.2, B/C25).
    pub inversion_humidity_pct: f64,
    /// No further inversion lies this close above the top of joined inversions (35.3.1.2 note, B/C25).
    pub inversion_clear_hpa: f64,
    /// The bound that is compared with the first tropopause (35.3.1.2 and 35.3.1.3, B/C25).
    pub thermal_bound_hpa: f64,
    /// Lower bound, included, of the layer near 100 hPa that must hold a level (35.3.1.2, B/C25).
    pub near_100_low_hpa: f64,
    /// Upper bound, included, of that layer (35.3.1.2, B/C25).
    pub near_100_high_hpa: f64,
    /// Tolerance of temperature up to the bound (35.3.1.3, B/C25).
    pub temperature_low_k: f64,
    /// Tolerance of temperature above it (35.3.1.3, B/C25).
    pub temperature_high_k: f64,
    /// Tolerance of relative humidity (35.3.1.3, B/C25).
    pub humidity_pct: f64,
    /// The ratio of a level to the one before exceeds this, up to the first
    /// tropopause (35.3.1.3, B/C25).
    pub pressure_ratio: f64,
    /// Tolerance of wind direction (35.3.2.1, B/C25).
    pub wind_direction_deg: f64,
    /// Tolerance of wind speed (35.3.2.1, B/C25).
    pub wind_speed_ms: f64,
    /// When both speeds are less, an error of direction does not count (35.3.2.1, our method).
    pub light_wind_ms: f64,
    /// A maximum wind is faster than this (35.2.4.1, B/C25).
    pub max_wind_speed_ms: f64,
    /// A maximum wind lies above this surface (35.2.4.1, B/C25).
    pub max_wind_floor_hpa: f64,
    /// A further maximum exceeds both adjacent minima by this much or more (32.2.3.2, B/C25).
    pub max_wind_rise_ms: f64,
    /// Depth of the layers whose shear is reported (35.2.4.4, B/C25).
    pub shear_depth_gpm: f64,
    /// The lapse rate at and above a tropopause is at most this (35.2.3.1, WMO-No. 182).
    pub tropopause_lapse_k_per_km: f64,
    /// Depth above a tropopause in which that holds (35.2.3.1, WMO-No. 182).
    pub tropopause_depth_gpm: f64,
    /// A further tropopause is looked for above a layer whose lapse rate
    /// exceeds this (35.2.3.1, WMO-No. 182).
    pub next_tropopause_lapse_k_per_km: f64,
    /// Depth of that layer (35.2.3.1, from memory).
    pub next_tropopause_depth_gpm: f64,
    /// A tropopause below this surface counts only if it is the only one (35.2.3.1, from memory).
    pub tropopause_floor_hpa: f64,
    /// It counts only if the sounding reached this pressure (35.2.3.1, from memory).
    pub tropopause_floor_reach_hpa: f64,
    /// Depth of smoothing in the second look at the tropopause (35.2.3.1, our method).
    pub tropopause_smoothing_gpm: f64,
    /// The second look is noted when it differs by more than this (35.2.3.1, our method).
    pub tropopause_doubt_hpa: f64,
    /// A layer is isothermal when temperature changes by this or less (35.3.1.2, from memory).
    pub isothermal_k: f64,
    /// Turns of temperature smaller than this are noise (35.3.1.2, our method).
    pub hysteresis_k: f64,
    /// The same where humidity decides whether an inversion counts, K.
    pub humidity_hysteresis_k: f64,
    /// Temperature and humidity are not interpolated across more than this height (35.2.2.3, common practice, no source).
    pub bridge_thermal_gpm: f64,
    /// A stretch without data is a gap only when it is longer than this many times
    /// the usual distance between rows there (35.2.2.3, common practice, no source).
    pub gap_spacing_ratio: f64,
    /// A height above the top is extrapolated over at most this part
    /// of the surface's pressure (35.2.2.4, B/C25).
    pub extrapolation_ratio: f64,
    /// A height above the top is extrapolated over at most this pressure (35.2.2.4, B/C25).
    pub extrapolation_hpa: f64,
    /// The lowest row of a drop higher than this above the surface did not
    /// reach it (common practice).
    pub drop_surface_gpm: f64,
    /// A surface observation that differs from the time of release by more than
    /// this is old (common practice).
    pub surface_age_s: f64,
}

static SELECTION: Once<(Vec<LimitRow>, Limits)> = Once::new(|| read_limits(SELECTION_LIMITS));
static GROSS: Once<Vec<GrossLimits>> = Once::new(|| load(GROSS_LIMITS));

/// The rows of a table of limits, and the struct that has each under its name: a row
/// without a field and a field without a row are faults.
#[expect(
    clippy::panic,
    reason = "an embedded table is part of the program, no input reaches it, and a test reads every one"
)]
pub(super) fn read_limits<T: DeserializeOwned>(file: File) -> (Vec<LimitRow>, T) {
    let rows: Vec<LimitRow> = load(file);
    let values = rows.iter().map(|row| (row.name, row.value));
    let limits: Result<T, value::Error> = T::deserialize(MapDeserializer::new(values));
    match limits {
        Ok(limits) => (rows, limits),
        Err(error) => panic!("broken table {}: {error}", file.name),
    }
}

/// Every numeric limit of the choice of levels.
#[must_use]
pub fn limits() -> &'static Limits {
    &SELECTION.1
}

/// The rows of the limits, with clause and source.
#[must_use]
pub fn limit_rows() -> &'static [LimitRow] {
    &SELECTION.0
}

/// The row of a limit by name.
#[must_use]
pub fn limit(name: &str) -> Option<&'static LimitRow> {
    limit_rows().iter().find(|row| row.name == name)
}

/// What heights, temperatures and winds can be at a standard surface (NOAA
/// MADIS, notes on the quality control of radiosondes).
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GrossLimits {
    /// Pressure, hPa; 0 for everything above 10 hPa.
    pub pressure_hpa: u16,
    /// Least height, gpm; `None` when there is no limit.
    pub height_low_gpm: Option<f64>,
    /// Greatest height, gpm.
    pub height_high_gpm: f64,
    /// Least temperature, °C.
    pub temperature_low_c: f64,
    /// Greatest temperature, °C.
    pub temperature_high_c: f64,
    /// Greatest wind speed, kt.
    pub wind_max_kt: f64,
}

/// The limits, from 1000 hPa up.
#[must_use]
pub fn gross_limits() -> &'static [GrossLimits] {
    &GROSS
}
