//! The numeric limits of making an ascent of rows.

use super::file::{Fault, File};
use super::limit::{LimitRow, limit_struct, read_limits};
use super::{JOINING_LIMITS, Once, loaded};

limit_struct! {
    /// Every numeric limit of making an ascent of the rows of a file.
    JoiningLimits:
    /// A balloon that rises (or a drop that falls) this far is a flight.
    flight_rise_gpm,
    /// A balloon this near the height of its release has come down.
    landing_gpm,
    /// A fall this deep, after which the balloon rises on, is reported.
    bounce_gpm,
    /// A sonde that stood for less before its release stood for nothing.
    standing_s,
    /// Least rate of ascent that is a release.
    release_rate_ms,
    /// Time over which that rate must show.
    release_window_s,
    /// Time over which the balloon must have gone on rising.
    release_rise_s,
    /// Heights of a standing sonde that differ by less are the same.
    release_noise_gpm,
    /// A sonde that left its height by more did not stand.
    standing_gpm,
    /// A release that the file and the sheet put further apart is reported.
    release_apart_s,
    /// A first row later than this is not compared with the release point.
    offset_s,
    /// A first row further from the release point is reported.
    offset_m,
    /// The geoid lies less than this below the ellipsoid.
    undulation_below_m,
    /// The geoid lies less than this above the ellipsoid.
    undulation_above_m,
    /// Heights that agree this much better as the other kind are reported.
    other_height_ratio,
    /// Width of the window in which a wind is taken from positions.
    track_window_s,
    /// Fewest positions in the window.
    track_fixes_rows,
    /// Part of the window that they must span.
    track_cover_ratio,
    /// A position that is further off than this is none.
    track_most_ms,
    /// Winds that the step of the positions hides must be lighter than this.
    track_coarse_ms,
    /// A gap of time longer than this is no float.
    float_gap_s,
    /// A stretch this long or longer can be a float.
    float_s,
    /// A balloon that rises more slowly floats.
    float_ms,
}

static LIMITS: Once<(Vec<LimitRow>, JoiningLimits)> =
    Once::new(|| loaded(read_joining(JOINING_LIMITS)));

pub(super) fn read_joining(file: File) -> Result<(Vec<LimitRow>, JoiningLimits), Fault> {
    let rows = read_limits(file)?;
    let limits = fill(file, &rows)?;
    Ok((rows, limits))
}

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
