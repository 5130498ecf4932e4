//! The numeric limits of the checks of an ascent.

use serde::Deserialize;

use super::limit::read_limits;
use super::{LimitRow, Once, PROFILE_LIMITS};

/// Every numeric limit of the checks of an ascent, by name.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProfileLimits {
    /// Rows closer in time than this, s, are judged as if this far apart (jumps).
    pub jump_least_s: f64,
    /// Rows further apart than this, s, are judged as if this far apart (jumps).
    pub jump_most_s: f64,
    /// Temperature changes by at most this from row to row, K/s (jumps).
    pub temperature_jump_k_per_s: f64,
    /// Relative humidity changes by at most this from row to row, %/s (jumps).
    pub humidity_jump_pct_per_s: f64,
    /// Wind changes by a vector of at most this from row to row, m/s in a second (jumps).
    pub wind_jump_ms_per_s: f64,
    /// Height changes by at most this from row to row of an ascent, m/s (jumps).
    pub height_jump_ms: f64,
    /// The same of a falling sonde, m/s (jumps).
    pub height_jump_falling_ms: f64,
    /// A sensor is not constant to the last digit for longer than this, s (constant sensor).
    pub frozen_s: f64,
    /// A constant run of fewer rows than this is not judged (constant sensor).
    pub frozen_rows: f64,
    /// Humidity below this may stay constant, % (constant sensor).
    pub frozen_dry_pct: f64,
    /// Humidity of exactly this may stay constant, % (constant sensor).
    pub frozen_wet_pct: f64,
    /// The dry-adiabatic lapse rate, K/km (superadiabatic layers).
    pub dry_lapse_k_per_km: f64,
    /// The mean lapse rate of a layer exceeds the dry adiabat by at most this, K/km (superadiabatic layers).
    pub superadiabatic_k_per_km: f64,
    /// Below a dry adiabat from its foot, the top of a layer is colder by at most this, K (superadiabatic layers).
    pub superadiabatic_k: f64,
    /// Differences up to this do not move the ends of a layer, K (superadiabatic layers).
    pub superadiabatic_noise_k: f64,
    /// Thinner layers are not judged, gpm (superadiabatic layers).
    pub superadiabatic_depth_gpm: f64,
    /// Up to this above the first row layers may be superadiabatic, gpm (superadiabatic layers).
    pub superadiabatic_surface_gpm: f64,
    /// Heights depart from hydrostatic integration by at most this, gpm (height against pressure).
    pub hydrostatic_gpm: f64,
    /// More by as much height as this difference of pressure makes, hPa (height against pressure).
    pub hydrostatic_hpa: f64,
    /// Heights depart by at most this from hydrostatic integration when they agree with it as the other kind, gpm (kind of height).
    pub height_kind_gpm: f64,
    /// A wind is compared with the median of the rows within this, s (wind spikes).
    pub spike_window_s: f64,
    /// It differs from that median by a vector of at most this, m/s (wind spikes).
    pub spike_ms: f64,
    /// Rows are at most this far apart, s (gaps).
    pub gap_s: f64,
    /// A longer step is no gap when it is at most this many usual steps (gaps).
    pub gap_ratio: f64,
    /// A step that departs by more than this part from the usual one is irregular (gaps).
    pub irregular_ratio: f64,
    /// An element missing over this depth or more is reported, gpm (gaps).
    pub missing_layer_gpm: f64,
    /// Rates of ascent are taken over this, s (ascent rate).
    pub ascent_window_s: f64,
    /// The usual rate of ascent, m/s (ascent rate).
    pub ascent_usual_ms: f64,
    /// Least mean rate of a whole ascent, m/s (ascent rate).
    pub ascent_mean_least_ms: f64,
    /// Greatest mean rate of a whole ascent, m/s (ascent rate).
    pub ascent_mean_most_ms: f64,
    /// Least rate over the window, m/s (ascent rate).
    pub ascent_slow_ms: f64,
    /// Greatest rate over the window, m/s (ascent rate).
    pub ascent_fast_ms: f64,
    /// A slower balloon floats, and one that sinks faster falls, m/s (ascent rate).
    pub floating_ms: f64,
    /// The wind of the track is taken over this, s (drift against wind).
    pub drift_window_s: f64,
    /// Root of the mean squared vector difference of the two winds, m/s (drift against wind).
    pub drift_rms_ms: f64,
    /// Greatest vector difference of the two winds, m/s (drift against wind).
    pub drift_ms: f64,
    /// The sonde's pressure differs from the barometer's by at most this, hPa (before release).
    pub release_pressure_hpa: f64,
    /// The sonde's temperature differs from the surface observation by at most this, K (before release).
    pub release_temperature_k: f64,
    /// The sonde's humidity differs from the surface observation by at most this, % (before release).
    pub release_humidity_pct: f64,
    /// The first heights differ from the release point by at most this, m (before release).
    pub release_height_m: f64,
    /// A second row later than this is not compared with the surface observation, s (before release).
    pub release_s: f64,
    /// A second row later than this is not compared with the height of the release point, s (before release).
    pub release_height_s: f64,
    /// Pressure is not carried down over more than this, gpm (before release).
    pub release_depth_gpm: f64,
    /// No report is made when the first pressure of the file and the surface observation differ by more than this, hPa (wrong surface).
    pub surface_pressure_hpa: f64,
    /// Further than this from the release point the first row is not compared, gpm (wrong surface).
    pub surface_depth_gpm: f64,
    /// No report is made when the first row is further than this from the release point, m (wrong surface).
    pub surface_height_m: f64,
    /// The first position of the flight is at most this far from the station, m (wrong position).
    pub station_distance_m: f64,
    /// The sonde may have drifted further by this since release, m/s (wrong position).
    pub station_drift_ms: f64,
    /// At this pressure and below it in height, air is not free of all humidity, hPa (humidity of zero).
    pub zero_humidity_hpa: f64,
    /// No report is made when rows there have exactly 0 % for longer than this in all, s (humidity of zero).
    pub zero_humidity_s: f64,
    /// Fewer such rows are not judged (humidity of zero).
    pub zero_humidity_rows: f64,
}

static PROFILE: Once<(Vec<LimitRow>, ProfileLimits)> = Once::new(|| read_limits(PROFILE_LIMITS));

/// Every numeric limit of the checks of an ascent.
#[must_use]
pub fn profile_limits() -> &'static ProfileLimits {
    &PROFILE.1
}

/// The rows of these limits, each with its check and source.
#[must_use]
pub fn profile_limit_rows() -> &'static [LimitRow] {
    &PROFILE.0
}

/// The row of such a limit by name.
#[must_use]
pub fn profile_limit(name: &str) -> Option<&'static LimitRow> {
    profile_limit_rows().iter().find(|row| row.name == name)
}
