//! Angles that were misread: rows that lie far off the track of the rows beside them.

use super::Prepared;
use super::sighting::{Fix, Site};
use crate::model::finding::{Finding, finding};
use crate::model::quantity::trim;
use crate::physics::theodolite::{Point, Sight};
use crate::tables::joining_limits;

/// Rows without a row on both sides are predicted from two on one side, this many times
/// less well.
const ONE_SIDED: f64 = 3.0;
/// Errors of angles that add to what a jump may be.
const ERRORS: f64 = 3.0;
/// At most one of this many rows is misread; with more, the track itself is in doubt.
const ONE_OF: usize = 4;

/// A reading of the same figures that fits the track.
#[derive(Clone, Copy)]
enum Reading {
    Reversed,
    Azimuth,
    Zenith,
}

/// How far a fix lies off the track, and how far it may, m.
struct Off {
    at: usize,
    off_m: f64,
    most_m: f64,
}

/// Leaves out the fixes that do not fit those beside them, the worst first, and reports each;
/// one of a single theodolite with the reading that fits.
pub(super) fn leave_out(prepared: &mut Prepared, site: &Site, mut fixes: Vec<Fix>) -> Vec<Fix> {
    let most = fixes.len() / ONE_OF;
    let mut findings: Vec<(usize, Finding)> = Vec::new();
    while findings.len() < most
        && let Some(off) = worst(site, &fixes)
    {
        let fits = fitting(site, &fixes, &off);
        let fix = fixes.remove(off.at);
        findings.push((fix.row, report(prepared, site, &fix, &off, fits)));
    }
    findings.sort_by_key(|(row, _)| *row);
    let findings = findings.into_iter().map(|(_, finding)| finding);
    prepared.findings.extend(findings);
    fixes
}

/// The fix furthest off in parts of what is allowed.
fn worst(site: &Site, fixes: &[Fix]) -> Option<Off> {
    let offs = (0..fixes.len()).filter_map(|at| off(site, fixes, at, fixes.get(at)?.point));
    let offs = offs.filter(|off| off.off_m > off.most_m);
    offs.max_by(|a, b| (a.off_m / a.most_m).total_cmp(&(b.off_m / b.most_m)))
}

/// How far a point in the place of a fix lies off the line through the fixes on both
/// sides, or through two on one side. The release is a fix as well.
fn off(site: &Site, fixes: &[Fix], at: usize, point: Point) -> Option<Off> {
    let (release, seen) = ((0.0, site.first, 0.0), |fix: &Fix| {
        (fix.time_s, fix.point, fix.error_m)
    });
    let before = |back: usize| match at.checked_sub(back) {
        Some(before) => fixes.get(before).map(seen),
        None if at + 1 == back => Some(release),
        None => None,
    };
    let time_s = fixes.get(at)?.time_s;
    let (a, b, many) = match (before(1), fixes.get(at + 1).map(seen)) {
        (Some(a), Some(b)) => (a, b, 1.0),
        (Some(b), None) => (before(2)?, b, ONE_SIDED),
        (None, _) => return None,
    };
    let span_s = b.0 - a.0;
    let share = (time_s - a.0) / span_s;
    let apart = |of: fn(&Point) -> f64| of(&point) - (of(&a.1) + share * (of(&b.1) - of(&a.1)));
    let jump_m = joining_limits().angle_jump_ms * span_s / 2.0;
    let along_m = apart(|p| p.east_m).hypot(apart(|p| p.north_m));
    // A height that was measured or assumed does not jump with the angles.
    let seen = fixes.get(at).is_some_and(|fix| fix.height_seen);
    let up_m = if seen { apart(|p| p.height_m) } else { 0.0 };
    let off_m = along_m.hypot(up_m);
    off_m.is_finite().then_some(Off {
        at,
        off_m,
        most_m: many * (jump_m + ERRORS * a.2.max(b.2)),
    })
}

/// The likeliest reading of the same figures that fits the track.
fn fitting(site: &Site, fixes: &[Fix], worst: &Off) -> Option<(Reading, Sight)> {
    // The other theodolite agrees with the angles of one of two.
    let fix = fixes.get(worst.at).filter(|fix| !fix.height_seen)?;
    let read = fix.sight;
    let turned = |azimuth_deg: f64| Sight {
        azimuth_deg: azimuth_deg.rem_euclid(360.0),
        ..read
    };
    let as_read = site.read_deg(read.azimuth_deg);
    let true_of = |reading: f64| turned(read.azimuth_deg + reading - as_read);
    let zenith = Sight {
        elevation_deg: trim(90.0 - read.elevation_deg),
        ..read
    };
    let readings = [
        (Reading::Reversed, turned(read.azimuth_deg + 180.0)),
        (Reading::Azimuth, turned(read.azimuth_deg + 90.0)),
        (Reading::Azimuth, turned(read.azimuth_deg - 90.0)),
        (Reading::Azimuth, true_of(180.0 - as_read)),
        (Reading::Azimuth, true_of(360.0 - as_read)),
        (Reading::Zenith, zenith),
    ];
    let fits = readings.into_iter().filter_map(|(reading, sight)| {
        let point = site.at(sight, fix.point.height_m)?;
        let off = off(site, fixes, worst.at, point)?;
        (off.off_m <= off.most_m).then_some((off.off_m, (reading, sight)))
    });
    fits.min_by(|a, b| a.0.total_cmp(&b.0)).map(|best| best.1)
}

fn report(
    prepared: &Prepared,
    site: &Site,
    fix: &Fix,
    off: &Off,
    fits: Option<(Reading, Sight)>,
) -> Finding {
    let place = prepared.place(fix.row);
    let off_m = off.off_m;
    let read = site.read_deg(fix.sight.azimuth_deg);
    match fits {
        Some((Reading::Reversed, sight)) => finding!(
            AzimuthReversed,
            place,
            read = read,
            off_m = off_m,
            [fits = site.read_deg(sight.azimuth_deg)]
        ),
        Some((Reading::Azimuth, sight)) => finding!(
            AzimuthQuadrant,
            place,
            read = read,
            off_m = off_m,
            fits = site.read_deg(sight.azimuth_deg)
        ),
        Some((Reading::Zenith, sight)) => finding!(
            ElevationQuadrant,
            place,
            read = fix.sight.elevation_deg,
            off_m = off_m,
            fits = sight.elevation_deg
        ),
        None => finding!(
            AngleJump,
            place,
            elevation_deg = fix.sight.elevation_deg,
            azimuth_deg = read,
            off_m = off_m,
            [most_m = off.most_m]
        ),
    }
}
