//! The early message, from an ascent that is still going on: the profile cut
//! at 100 hPa, and what the cut leaves open.

use super::column::Column;
use super::tropopause::tropopauses;
use crate::figure::is_upper;
use crate::finding::{Finding, Place};
use crate::sounding::{Axis, Coding, Profile};
use crate::tables::{self, limits};

/// The rows at and below 100 hPa of an ascent that has reached it; `None` when
/// it has not.
///
/// Without pressure the height that stands for 100 hPa divides.
#[must_use]
pub fn up_to_100(profile: &Profile) -> Option<Profile> {
    let heights = tables::height_approximations();
    let height = heights.iter().find(|row| row.pressure_hpa == 100);
    let divide = height.map_or(f64::INFINITY, |row| f64::from(row.height_gpm));
    let above = profile.rows.iter().position(|row| match row.pressure_hpa {
        Some(p) => is_upper(p),
        None => profile.axis == Axis::Height && row.height_gpm.is_some_and(|z| z > divide),
    });
    let at = |p: f64| p <= 100.05;
    let reached = above.is_some() || profile.rows.last()?.pressure_hpa.is_some_and(at);
    if !reached {
        return None;
    }
    let mut cut = profile.clone();
    cut.rows.truncate(above.unwrap_or(cut.rows.len()));
    (cut.rows.len() > 1).then_some(cut)
}

/// What is not decided at the cut: a row that may yet be a tropopause, the
/// strongest wind at the very top.
pub(super) fn pending(column: &Column, undecided: Option<usize>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if let Some(&p) = undecided.and_then(|k| column.p.get(k)) {
        findings.push(
            Finding::info(
                "tropopause-pending",
                Place::pressure(p),
                format!(
                    "whether a tropopause lies at {p} hPa or a little above is not yet decided"
                ),
            )
            .allowed("2 km of data above it; a correction may follow from the whole ascent")
            .clause("WMO-No. 306, 35.2.3.1"),
        );
    }
    let lim = limits();
    let speed = |k: usize| column.speed.get(k).copied().unwrap_or(f64::NAN);
    let top = (0..column.len()).rev().find(|&k| speed(k).is_finite());
    let greatest = column.speed.iter().copied().fold(0.0, f64::max);
    if let Some(top) = top
        && let Some(&p) = column.p.get(top)
        && p < lim.max_wind_floor_hpa
        && speed(top) > lim.max_wind_speed_ms
        && speed(top) >= greatest
    {
        findings.push(
            Finding::info(
                "maximum-wind-pending",
                Place::pressure(p),
                format!("the wind is strongest at the cut, {p} hPa: whether it is the maximum is not yet decided"),
            )
            .allowed("a correction may follow from the whole ascent")
            .clause("WMO-No. 306, 35.2.4.3"),
        );
    }
    findings
}

/// Whether an early message of this ascent, cut as [`up_to_100`] does, leaves
/// anything open.
#[must_use]
pub fn is_pending(cut: &Profile, coding: &Coding) -> bool {
    let column = Column::new(cut, coding);
    let undecided = match cut.axis {
        Axis::Pressure => tropopauses(&column).undecided,
        Axis::Height => None,
    };
    !pending(&column, undecided).is_empty()
}
