//! The early message, from an ascent that is still going on: what the rows so
//! far leave open.

use super::column::Column;
use super::{Levels, max_wind};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Axis, Coding, Level, MaxWind, Part, Profile, Roles};
use crate::profile::gaps::Lost;
use crate::tables;
use crate::tables::figure::is_upper;
use crate::tables::limits;

/// The surface that an early message reaches, hPa.
const SURFACE_HPA: f64 = 100.0;

/// The ascent as it was when it had just passed 100 hPa: all rows up to the
/// first one above (or the one at) 100 hPa; `None` when it did not reach it.
///
/// Without pressure the height that stands for 100 hPa decides.
#[must_use]
pub fn up_to_100(profile: &Profile, coding: &Coding) -> Option<Profile> {
    let rows = profile.rows.get(..rows_up_to_100(profile, coding)?)?;
    Some(Profile {
        axis: profile.axis,
        motion: profile.motion,
        ends_aloft: profile.ends_aloft,
        descent: profile.descent,
        rows: rows.to_vec(),
        derived: profile.derived.clone(),
        unsettled: profile.unsettled.clone(),
    })
}

/// The number of rows of [`up_to_100`].
pub(crate) fn rows_up_to_100(profile: &Profile, coding: &Coding) -> Option<usize> {
    let divide = tables::height_for_surface(coding, 100).unwrap_or(f64::INFINITY);
    let first = profile.rows.iter().position(|row| match row.pressure_hpa {
        Some(p) => is_upper(p) || p <= 100.0,
        None => profile.axis == Axis::Height && row.height_gpm.is_some_and(|z| z > divide),
    })?;
    (first > 0).then_some(first + 1)
}

/// Takes out what belongs to Parts C and D.
pub(super) fn keep_lower(levels: &mut Levels) {
    let divide = levels.divide_gpm;
    let lower = |l: &Level| match (divide, l.row.pressure_hpa) {
        (Some(divide), _) if !l.roles.any(Roles::STANDARD) => {
            l.row.height_gpm.is_none_or(|z| z <= divide)
        }
        (_, Some(p)) => !is_upper(p),
        (_, None) => true,
    };
    levels.levels.retain(lower);
    levels.maxima.retain(|m| m.part == Part::A);
    levels
        .missing
        .retain(|m| m.from_hpa.is_none_or(|p| !is_upper(p)));
}

/// What the rows so far leave open: a row that may yet be a tropopause, a maximum
/// wind that has not yet fallen far enough, an element that the 100 hPa surface lacks
/// because it was not measured since.
pub(super) fn pending(column: &Column, undecided: Option<usize>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let lower = |k: &usize| *k < column.lower;
    if let Some(&p) = undecided.filter(lower).and_then(|k| column.p.get(k)) {
        findings.push(finding!(
            TropopausePending,
            Place::pressure(p),
            pressure_hpa = p
        ));
    }
    let peak = max_wind::undecided(column);
    let peak = peak.and_then(|k| Some((*column.p.get(k)?, *column.speed.get(k)?)));
    if let Some((p, speed)) = peak {
        findings.push(finding!(
            MaximumWindPending,
            Place::pressure(p),
            speed_ms = speed,
            pressure_hpa = p,
            fall_ms = limits().max_wind_rise_ms
        ));
    }
    findings.extend(pending_values(column));
    findings
}

/// What the 100 hPa surface and the top of the winds lack because it was not measured since.
pub(super) fn pending_values(column: &Column) -> Vec<Finding> {
    let mut findings = Vec::new();
    let lower = |k: &usize| *k < column.lower;
    let end = column.len().saturating_sub(1);
    let reached = |k: usize| column.p.get(k).is_some_and(|&p| p <= SURFACE_HPA);
    for (name, values, lost) in [
        ("temperature", &column.t, Lost::Thermal),
        ("humidity", &column.u, Lost::Thermal),
        ("wind", &column.speed, Lost::Wind),
        ("height", &column.z, Lost::Wind),
    ] {
        // A value measured above the end of the rows may yet be joined to it.
        let last = values.iter().rposition(|v| v.is_finite());
        if let Some(last) = last.filter(lower)
            && !reached(last)
            && !column.is_gap(lost, values, last, end)
        {
            let place = Place::pressure(SURFACE_HPA);
            findings.push(finding!(StandardSurfacePending, place, element = name));
        }
    }
    let last = column.speed.iter().rposition(|v| v.is_finite());
    if let Some(last) = last.filter(lower)
        && column.is_gap(Lost::Wind, &column.speed, last, end)
        && let Some(&p) = column.p.get(last)
    {
        findings.push(finding!(WindPending, Place::pressure(p), pressure_hpa = p));
    }
    findings
}

/// Maximum winds of Part A whose shear above needs rows that are not there yet.
pub(super) fn pending_shear(levels: &Levels, column: &Column) -> Vec<Finding> {
    let top = column.z.last().copied().unwrap_or(f64::NAN);
    let here = |m: &MaxWind| {
        let of = |l: &&Level| l.roles.any(Roles::MAX_WIND) && l.row.pressure_hpa == m.pressure_hpa;
        levels
            .levels
            .iter()
            .find(of)?
            .row
            .height_gpm
            .or(m.height_gpm)
    };
    let open = levels.maxima.iter().filter(|m| {
        m.part == Part::A
            && m.shear.is_some_and(|s| s.above_ms.is_none())
            && here(m).is_none_or(|z| z + limits().shear_depth_gpm > top)
    });
    open.map(|m| {
        let place = m.pressure_hpa.map_or(Place::default(), Place::pressure);
        finding!(ShearPending, place)
    })
    .collect()
}
