//! The numeric limits of the checks of an ascent.

use super::file::{Fault, File};
use super::limit::{LimitRow, limit_struct, read_limits};
use super::{Once, PROFILE_LIMITS, loaded};

limit_struct! {
    /// Every numeric limit of the checks of an ascent, by name.
    ProfileLimits:
    /// Rows closer in time than this, s, are judged as if this far apart (jumps).
    jump_least_s,
    /// Rows further apart than this, s, are judged as if this far apart (jumps).
    jump_most_s,
    /// Temperature changes by at most this from row to row, K/s (jumps).
    temperature_jump_k_per_s,
    /// Relative humidity changes by at most this from row to row, %/s (jumps).
    humidity_jump_pct_per_s,
    /// Wind changes by a vector of at most this from row to row, m/s in a second (jumps).
    wind_jump_ms_per_s,
    /// Height changes by at most this from row to row of an ascent, m/s (jumps).
    height_jump_ms,
    /// The same of a falling sonde, m/s (jumps).
    height_jump_falling_ms,
    /// A sensor is not constant to the last digit for longer than this, s (constant sensor).
    frozen_s,
    /// A constant run of fewer rows than this is not judged (constant sensor).
    frozen_rows,
    /// Humidity below this may stay constant, % (constant sensor).
    frozen_dry_pct,
    /// Humidity of exactly this may stay constant, % (constant sensor).
    frozen_wet_pct,
    /// The dry-adiabatic lapse rate, K/km (superadiabatic layers).
    dry_lapse_k_per_km,
    /// The mean lapse rate of a layer exceeds the dry adiabat by at most this, K/km (superadiabatic layers).
    superadiabatic_k_per_km,
    /// Below a dry adiabat from its foot, the top of a layer is colder by at most this, K (superadiabatic layers).
    superadiabatic_k,
    /// Differences up to this do not move the ends of a layer, K (superadiabatic layers).
    superadiabatic_noise_k,
    /// Thinner layers are not judged, gpm (superadiabatic layers).
    superadiabatic_depth_gpm,
    /// Up to this above the first row layers may be superadiabatic, gpm (superadiabatic layers).
    superadiabatic_surface_gpm,
    /// Heights depart from hydrostatic integration by at most this, gpm (height against pressure).
    hydrostatic_gpm,
    /// More by as much height as this difference of pressure makes, hPa (height against pressure).
    hydrostatic_hpa,
    /// Heights depart by at most this from hydrostatic integration when they agree with it as the other kind, gpm (kind of height).
    height_kind_gpm,
    /// A wind is compared with the median of the rows within this, s (wind spikes).
    spike_window_s,
    /// It differs from that median by a vector of at most this, m/s (wind spikes).
    spike_ms,
    /// Rows are at most this far apart, s (gaps).
    gap_s,
    /// A longer step is no gap when it is at most this many usual steps (gaps).
    gap_ratio,
    /// A step that departs by more than this part from the usual one is irregular (gaps).
    irregular_ratio,
    /// An element missing over this depth or more is reported, gpm (gaps).
    missing_layer_gpm,
    /// Rates of ascent are taken over this, s (ascent rate).
    ascent_window_s,
    /// The usual rate of ascent, m/s (ascent rate).
    ascent_usual_ms,
    /// Least mean rate of a whole ascent, m/s (ascent rate).
    ascent_mean_least_ms,
    /// Greatest mean rate of a whole ascent, m/s (ascent rate).
    ascent_mean_most_ms,
    /// Least rate over the window, m/s (ascent rate).
    ascent_slow_ms,
    /// Greatest rate over the window, m/s (ascent rate).
    ascent_fast_ms,
    /// A slower balloon floats, and one that sinks faster falls, m/s (ascent rate).
    floating_ms,
    /// The wind of the track is taken over this, s (drift against wind).
    drift_window_s,
    /// Root of the mean squared vector difference of the two winds, m/s (drift against wind).
    drift_rms_ms,
    /// Greatest vector difference of the two winds, m/s (drift against wind).
    drift_ms,
    /// The sonde's pressure differs from the barometer's by at most this, hPa (before release).
    release_pressure_hpa,
    /// The sonde's temperature differs from the surface observation by at most this, K (before release).
    release_temperature_k,
    /// The sonde's humidity differs from the surface observation by at most this, % (before release).
    release_humidity_pct,
    /// The first heights differ from the release point by at most this, m (before release).
    release_height_m,
    /// A second row later than this is not compared with the surface observation, s (before release).
    release_s,
    /// A second row later than this is not compared with the height of the release point, s (before release).
    release_height_s,
    /// Pressure is not carried down over more than this, gpm (before release).
    release_depth_gpm,
    /// No report is made when the first pressure of the file and the surface observation differ by more than this, hPa (wrong surface).
    surface_pressure_hpa,
    /// Further than this from the release point the first row is not compared, gpm (wrong surface).
    surface_depth_gpm,
    /// No report is made when the first row is further than this from the release point, m (wrong surface).
    surface_height_m,
    /// The first position of the flight is at most this far from the station, m (wrong position).
    station_distance_m,
    /// The sonde may have drifted further by this since release, m/s (wrong position).
    station_drift_ms,
    /// At this pressure and below it in height, air is not free of all humidity, hPa (humidity of zero).
    zero_humidity_hpa,
    /// No report is made when rows there have exactly 0 % for longer than this in all, s (humidity of zero).
    zero_humidity_s,
    /// Fewer such rows are not judged (humidity of zero).
    zero_humidity_rows,
}

static PROFILE: Once<(Vec<LimitRow>, ProfileLimits)> =
    Once::new(|| loaded(read_profile(PROFILE_LIMITS)));

pub(super) fn read_profile(file: File) -> Result<(Vec<LimitRow>, ProfileLimits), Fault> {
    let rows = read_limits(file)?;
    let limits = fill(file, &rows)?;
    Ok((rows, limits))
}

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
