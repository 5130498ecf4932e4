//! Heights of receivers: above the sea, or above the ellipsoid.

use super::Prepared;
use crate::model::finding::finding;
use crate::model::quantity::trim;
use crate::model::raw::RawRow;
use crate::model::{Derivation, HeightReference, StationKind};
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, altitude_m};
use crate::profile::{ProfileError, derive};
use crate::tables::joining_limits;

/// Brings heights above the ellipsoid down (or up) so that the sonde is released
/// at the height of the release point; heights above the sea are compared with it.
///
/// The undulation of the geoid changes by some metres along a flight; that is
/// left as it is.
pub(super) fn above_the_sea(prepared: &mut Prepared) -> Result<(), ProfileError> {
    let ellipsoid = prepared.context.meaning.height_reference == HeightReference::Ellipsoid;
    let heights = |r: &RawRow| r.altitude_m.or(r.height_gpm).is_some();
    if !prepared.raw.rows.iter().any(heights) {
        return Ok(());
    }
    if !ellipsoid {
        compare_with_station(prepared);
        return Ok(());
    }
    let ground = prepared.ground_m().ok_or_else(|| ProfileError::NoAnchor {
        name: prepared.raw.name.clone(),
    })?;
    // A drop is released elsewhere, and where it ends is not known.
    if prepared.context.station.kind == StationKind::Drop {
        return Err(ProfileError::NoAnchorRow {
            name: prepared.raw.name.clone(),
        });
    }
    // A receiver knows no geopotential: what it gives is a length. Where both stand,
    // geopotential is that of the station's own computation.
    let lengths = prepared.raw.rows.iter().any(|r| r.altitude_m.is_some());
    let length = |r: &RawRow| if lengths { r.altitude_m } else { r.height_gpm };
    let (row, released) =
        at_release(prepared, length).ok_or_else(|| ProfileError::NoAnchorRow {
            name: prepared.raw.name.clone(),
        })?;
    let off = trim(released - ground);
    let lim = joining_limits();
    if off < -lim.undulation_below_m || off > lim.undulation_above_m {
        let line = prepared.raw.rows.get(row).map_or(0, |r| r.line);
        return Err(ProfileError::NoUndulation {
            name: prepared.raw.name.clone(),
            line,
            off_m: off,
        });
    }
    for row in &mut prepared.raw.to_mut().rows {
        row.altitude_m = length(row).map(|z| z - off);
        if !lengths {
            row.height_gpm = None;
        }
    }
    prepared.derived.push(Derivation::AltitudeFromEllipsoid);
    let place = prepared.place(row);
    prepared.findings.push(finding!(
        EllipsoidHeight,
        place,
        off_m = off,
        ground_m = ground
    ));
    Ok(())
}

/// Tells when the first height is not that of the release point.
fn compare_with_station(prepared: &mut Prepared) {
    if !prepared.rises() {
        return;
    }
    let Some(ground) = prepared.ground_m() else {
        return;
    };
    let station = prepared.context.station.latitude_deg;
    let latitude = station.unwrap_or(MIDDLE_LATITUDE_DEG);
    let length = |r: &RawRow| {
        r.altitude_m
            .or_else(|| r.height_gpm.map(|z| altitude_m(z, latitude)))
    };
    let Some((row, released)) = at_release(prepared, length) else {
        return;
    };
    let off = released - ground;
    let allowed = joining_limits().offset_m;
    if off.abs() > allowed {
        prepared.findings.push(finding!(
            HeightOffset,
            prepared.place(row),
            released_m = released,
            ground_m = ground,
            off_m = off,
            [most_m = allowed]
        ));
    }
}

/// The first row with a height that something was observed at, and the height at release: that row's, less what
/// the balloon rose before it at the rate of the seconds after. `None` when no row
/// is near enough to release.
fn at_release(
    prepared: &Prepared,
    height: impl Fn(&RawRow) -> Option<f64>,
) -> Option<(usize, f64)> {
    let lim = joining_limits();
    let rows = prepared.raw.rows.iter().enumerate();
    let mut moments = rows.filter_map(|(i, r)| {
        let time = r.time_s.unwrap_or(0.0);
        let real = derive::observes(r) || r.place().is_some();
        height(r)
            .filter(|_| time >= 0.0 && real)
            .map(|z| (i, time, z))
    });
    let (row, time, z) = moments.next()?;
    if time == 0.0 {
        return Some((row, z));
    }
    if time > lim.offset_s {
        return None;
    }
    let later = moments.find(|m| m.1 >= time + lim.offset_s)?;
    Some((row, z - time * (later.2 - z) / (later.1 - time)))
}
