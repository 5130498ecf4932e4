//! The levels of PILOT (WMO-No. 306, 32.2 and 32.3): winds alone.

use super::column::{Column, Grid, lower_rows};
use super::interpolate::wind_at;
use super::layers::Hole;
use super::{Build, Levels, early, max_wind, overrides, wind};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{
    At, Axis, Coding, Element, Form, Level, Order, Part, Profile, Reach, Roles, Row, Rule,
    SurfaceFrom,
};
use crate::tables;
use crate::tables::{Practice, practice};

/// A profile with rows at the fixed levels, and what each row is.
struct Extended {
    profile: Profile,
    at: Vec<At>,
    /// Rows at fixed regional levels.
    fixed: Vec<usize>,
}

/// Puts a row at every fixed regional level above ground that the winds reach.
fn extend(profile: &Profile, coding: &Coding) -> Extended {
    let column = Column::new(profile, coding);
    let first = column.x.first().copied().unwrap_or(f64::NAN);
    let top = column.x.last().copied().unwrap_or(f64::NAN);
    let mut wanted: Vec<(f64, f64)> = tables::pilot_fixed(coding, profile.axis, 1)
        .map(|level| match profile.axis {
            Axis::Height => (level, level),
            Axis::Pressure => (-level.ln(), level),
        })
        .filter(|&(x, _)| x > first && x <= top)
        .collect();
    wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out = Extended {
        profile: Profile {
            rows: Vec::with_capacity(profile.rows.len() + wanted.len()),
            ..profile.clone()
        },
        at: Vec::new(),
        fixed: Vec::new(),
    };
    let mut next = wanted.into_iter().peekable();
    for (k, row) in profile.rows.iter().enumerate() {
        let x = column.x.get(k).copied().unwrap_or(f64::NAN);
        while let Some(&(at, level)) = next.peek().filter(|(at, _)| *at <= x) {
            next.next();
            if at == x && row.wind.is_some() {
                out.fixed.push(out.profile.rows.len());
                continue;
            }
            let Some(wind) = wind_at(&column, at) else {
                continue;
            };
            let between = super::interpolate::row_at(profile, &column, at, level);
            let row = match profile.axis {
                Axis::Height => Row {
                    height_gpm: Some(level),
                    pressure_hpa: pressure_at(&column.z, &column.p, at),
                    wind: Some(wind),
                    ..between
                },
                Axis::Pressure => Row {
                    wind: Some(wind),
                    ..between
                },
            };
            if at < x {
                out.fixed.push(out.profile.rows.len());
                out.profile.rows.push(row);
                out.at.push(At::Interpolated);
            }
        }
        out.profile.rows.push(row.clone());
        out.at.push(At::Row(k));
    }
    out
}

/// Measured pressure at a height, between the rows around it.
fn pressure_at(heights: &[f64], measured: &[f64], z: f64) -> Option<f64> {
    let high = heights.partition_point(|&h| h < z);
    let low = high.checked_sub(1)?;
    let (p0, p1) = (*measured.get(low)?, *measured.get(high)?);
    let (z0, z1) = (*heights.get(low)?, *heights.get(high)?);
    let p = (p0.ln() + (p1.ln() - p0.ln()) * (z - z0) / (z1 - z0)).exp();
    p.is_finite().then_some(p)
}

/// Height at a measured pressure, between the rows around it.
fn height_of(column: &Column, p: f64) -> Option<f64> {
    let mut last: Option<(f64, f64)> = None;
    for (&q, &z) in column.p.iter().zip(&column.z) {
        if q.is_nan() {
            continue;
        }
        if let Some((q0, z0)) = last
            && q <= p
            && p <= q0
        {
            return Some(if q == q0 {
                z
            } else {
                z0 + (z - z0) * (p / q0).ln() / (q / q0).ln()
            });
        }
        last = Some((q, z));
    }
    None
}

/// The columns of a profile of winds, and the pressures that were measured:
/// rules that ask for a pressure take that of the standard atmosphere where none
/// was.
pub(super) fn column(profile: &Profile, coding: &Coding) -> (Column, Vec<f64>) {
    let mut column = Column::new(profile, coding);
    let measured = column.p.clone();
    if profile.axis == Axis::Height {
        column.lower = lower_rows(&column, coding);
        for (p, &z) in column.p.iter_mut().zip(&column.z) {
            if p.is_nan() {
                *p = crate::physics::hydrostatic::standard_pressure_hpa(z);
            }
        }
    }
    (column, measured)
}

/// The profile up to its last wind: PILOT ends there.
fn up_to_last_wind(profile: &Profile) -> Profile {
    let last = profile.rows.iter().rposition(|row| row.wind.is_some());
    let rows = last.and_then(|last| profile.rows.get(..=last));
    Profile {
        rows: rows.unwrap_or(&profile.rows).to_vec(),
        ..profile.clone()
    }
}

/// Chooses the levels of PILOT; a profile on a height axis may have pressure
/// throughout, up to where the element failed, or not at all.
#[must_use]
pub fn choose_winds(profile: &Profile, coding: &Coding, orders: &[Order], reach: Reach) -> Levels {
    let mut out = Levels::default();
    if profile.rows.is_empty() {
        return out;
    }
    if reach == Reach::To100 {
        let so_far = column(profile, coding).0;
        out.findings.extend(early::pending(&so_far, None));
    }
    let extended = match reach {
        Reach::Whole => extend(&up_to_last_wind(profile), coding),
        // The wind may come back.
        Reach::To100 => extend(profile, coding),
    };
    let profile = &extended.profile;
    let (column, measured) = column(profile, coding);
    if profile.axis == Axis::Height {
        // The last row of A and B; all is below when nothing is above.
        let last = column
            .lower
            .checked_sub(1)
            .filter(|_| column.lower < column.len());
        out.divide_gpm = last.and_then(|k| column.z.get(k)).copied();
    }
    let early = reach == Reach::To100;
    let forced = overrides::forced(orders, &column);
    let peaks = max_wind::peaks(&column, profile.motion, early);
    let sent: Vec<usize> = column.rows_given(Roles::SENT_WIND).collect();
    let winds = wind::choose(&wind::WindInput {
        column: &column,
        unit: coding.wind_unit,
        motion: profile.motion,
        goes_on: column.lower < column.len() || early,
        early,
        forced: &forced,
        sent: &sent,
        form: Form::Pilot,
        fixed: &extended.fixed,
        peaks: &peaks,
        count: false,
    });
    let mut build = Build::new(profile, &column);
    build.add(0, Roles::SURFACE | Roles::SIG_WIND, Vec::new());
    let maxima = max_wind::maxima(&winds.picks, &column, coding);
    out.maxima = build.maxima(&maxima, &winds.picks, &measured, Form::Pilot);
    build.winds(winds.picks);
    out.findings.extend(winds.findings);
    out.levels = build.rows.into_values().collect();
    for level in &mut out.levels {
        if let At::Row(k) = level.at {
            level.at = extended.at.get(k).copied().unwrap_or(At::Interpolated);
        }
    }
    if let Grid::Metres(step) = column.grid {
        let inside = inside_gaps(profile, &column, &measured, &winds.gaps, step);
        out.levels.extend(inside);
    }
    out.missing = winds.missing;
    standard(profile, &column, &measured, coding, &mut out.levels);
    out.findings.extend(by_height(&out.levels, coding));
    out.levels.sort_by(|l, r| l.order().total_cmp(&r.order()));
    overrides::drop_levels(orders, &mut out);
    if early {
        early::keep_lower(&mut out);
        let shear = early::pending_shear(&out, &column);
        out.findings.extend(shear);
    }
    out
}

/// A level without wind inside each layer without wind, half way between those
/// that bound it: levels by height have no group for such a layer (32.3.1.5,
/// from memory). In a layer that ends above 100 hPa it belongs to Part D. It has its
/// pressure where that was measured, as every other level has: BUFR needs it of all.
fn inside_gaps(
    profile: &Profile,
    column: &Column,
    measured: &[f64],
    gaps: &[Hole],
    step_gpm: f64,
) -> Vec<Level> {
    let steps = |row: usize| column.z.get(row).map(|z| (z / step_gpm + 0.5).floor());
    let inside = |hole: &Hole| {
        let (below, above) = (hole.below?, hole.above?);
        let low = if above >= column.lower {
            below.max(column.lower.checked_sub(1)?)
        } else {
            below
        };
        let (low, high) = (steps(low)?, steps(above)?);
        let middle = f64::midpoint(low, high).floor();
        (low < middle && middle < high).then(|| {
            let z = middle * step_gpm;
            let between = super::interpolate::row_at(profile, column, z, z);
            Level {
                row: Row {
                    height_gpm: Some(z),
                    pressure_hpa: pressure_at(&column.z, measured, z),
                    time_s: between.time_s,
                    place: between.place,
                    ..Row::default()
                },
                at: At::Interpolated,
                roles: Roles::SIG_WIND,
                why: vec![Rule::InsideMissing(Element::Wind)],
            }
        })
    };
    gaps.iter().filter_map(inside).collect()
}

/// Heights that stand for pressures are regional practice (decision of the
/// Region; 32.2.2.2).
fn by_height(levels: &[Level], coding: &Coding) -> Option<Finding> {
    let known = practice(coding, Practice::SurfacesByHeight).is_some();
    if known || coding.surfaces_by_height {
        return None;
    }
    let mut levels = levels.iter().filter(|l| l.roles.any(Roles::FROM_HEIGHT));
    let p = levels.next()?.row.pressure_hpa?;
    Some(finding!(
        SurfacesByHeight,
        Place::pressure(p),
        pressure_hpa = p
    ))
}

/// The standard surfaces: located by pressure as far as it was measured, by the
/// heights that stand for them from there on (32.2.2.2).
fn standard(
    profile: &Profile,
    column: &Column,
    measured: &[f64],
    coding: &Coding,
    levels: &mut Vec<Level>,
) {
    let failed = measured.last().is_some_and(|p| p.is_nan());
    let lowest = measured.iter().copied().find(|p| p.is_finite());
    let (Some(&ground), Some(&top)) = (column.x.first(), column.x.last()) else {
        return;
    };
    let mut by_pressure = Column {
        p: measured.to_vec(),
        ..column.clone()
    };
    if profile.axis == Axis::Pressure {
        by_pressure.p.clone_from(&column.p);
    }
    let mut reached = ground;
    let parts = [Part::A, Part::C].into_iter();
    for surface in parts.flat_map(|part| tables::station_levels(Form::Pilot, coding, part)) {
        let p = f64::from(surface.pressure_hpa);
        let found = match profile.axis {
            Axis::Pressure => Some((-p.ln(), Roles::empty())),
            Axis::Height => height_of(&by_pressure, p)
                .map(|z| (z, Roles::empty()))
                .or_else(|| {
                    let z = tables::height_for_surface(coding, surface.pressure_hpa);
                    let z = z.filter(|_| failed)?;
                    Some((z, Roles::FROM_HEIGHT))
                }),
        };
        let below = lowest.is_some_and(|q| p > q);
        let Some((x, how)) = found.filter(|&(x, _)| x >= reached && x <= top && !below) else {
            continue;
        };
        reached = x;
        let from = if how.any(Roles::FROM_HEIGHT) {
            SurfaceFrom::PilotByHeight
        } else {
            SurfaceFrom::Pilot
        };
        let place = super::interpolate::row_at(profile, column, x, p);
        levels.push(Level {
            row: Row {
                pressure_hpa: Some(p),
                height_gpm: match profile.axis {
                    Axis::Height => Some(x),
                    Axis::Pressure => place.height_gpm,
                },
                wind: wind_at(column, x),
                time_s: place.time_s,
                place: place.place,
                ..Row::default()
            },
            at: At::Interpolated,
            roles: Roles::STANDARD | how,
            why: vec![Rule::Standard {
                pressure_hpa: p,
                how: from,
            }],
        });
    }
}
