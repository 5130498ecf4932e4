//! The numeric limits of making an ascent of rows.

use serde::Deserialize;

use super::limit::read_limits;
use super::{JOINING_LIMITS, LimitRow, Once};

/// Every numeric limit of making an ascent of the rows of a file.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JoiningLimits {
    /// A balloon that rises (or a drop that falls) this far is a flight.
    pub flight_rise_gpm: f64,
    /// A balloon this near the height of its release has come down.
    pub landing_gpm: f64,
    /// A fall this deep, after which the balloon rises on, is reported.
    pub bounce_gpm: f64,
    /// A sonde that stood for less before its release stood for nothing.
    pub standing_s: f64,
    /// Least rate of ascent that is a release.
    pub release_rate_ms: f64,
    /// Time over which that rate must show.
    pub release_window_s: f64,
    /// Time over which the balloon must have gone on rising.
    pub release_rise_s: f64,
    /// Heights of a standing sonde that differ by less are the same.
    pub release_noise_gpm: f64,
    /// A sonde that left its height by more did not stand.
    pub standing_gpm: f64,
    /// A release that the file and the sheet put further apart is reported.
    pub release_apart_s: f64,
    /// A first row later than this is not compared with the release point.
    pub offset_s: f64,
    /// A first row further from the release point is reported.
    pub offset_m: f64,
    /// The geoid lies less than this below the ellipsoid.
    pub undulation_below_m: f64,
    /// The geoid lies less than this above the ellipsoid.
    pub undulation_above_m: f64,
    /// Heights that agree this much better as the other kind are reported.
    pub other_height_ratio: f64,
    /// Width of the window in which a wind is taken from positions.
    pub track_window_s: f64,
    /// Fewest positions in the window.
    pub track_fixes_rows: f64,
    /// Part of the window that they must span.
    pub track_cover_ratio: f64,
    /// A position that is further off than this is none.
    pub track_most_ms: f64,
    /// Winds that the step of the positions hides must be lighter than this.
    pub track_coarse_ms: f64,
    /// Winds from angles are means over at least this long.
    pub angle_window_s: f64,
    /// Lower elevation angles of one instrument give no position.
    pub angle_least_deg: f64,
    /// Lower elevation angles are reported.
    pub angle_low_deg: f64,
    /// Error of an angle that error estimates suppose.
    pub angle_error_deg: f64,
    /// An angle that puts the balloon further off its neighbours, per second between
    /// them, is misread.
    pub angle_jump_ms: f64,
    /// Angles of two theodolites that fit each other worse are not used.
    pub angle_residual_deg: f64,
    /// Motion turned this far from the surface wind is opposite to it.
    pub angle_opposite_deg: f64,
    /// Motion and surface wind are compared from this speed on.
    pub angle_opposite_ms: f64,
    /// The release joins angles that begin at most this long after it.
    pub angle_first_s: f64,
    /// Curvature of light in parts of the Earth's curvature.
    pub refraction_optical_ratio: f64,
    /// The same of radio waves.
    pub refraction_radio_ratio: f64,
    /// A gap of time longer than this is no float.
    pub float_gap_s: f64,
    /// A stretch this long or longer can be a float.
    pub float_s: f64,
    /// A balloon that rises more slowly floats.
    pub float_ms: f64,
}

static LIMITS: Once<(Vec<LimitRow>, JoiningLimits)> = Once::new(|| read_limits(JOINING_LIMITS));

/// Every numeric limit of making an ascent.
#[must_use]
pub fn joining_limits() -> &'static JoiningLimits {
    &LIMITS.1
}

/// The rows of these limits, each with its step and source.
#[must_use]
pub fn joining_limit_rows() -> &'static [LimitRow] {
    &LIMITS.0
}
