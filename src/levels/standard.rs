//! Standard surfaces (WMO-No. 306, 35.2.2), also those below the station.

use super::column::Column;
use super::interpolate::row_at;
use crate::model::{
    At, BelowStation, Coding, Form, Level, Part, Profile, Roles, Row, Rule, SurfaceFrom,
};
use crate::physics::hydrostatic::height_below;
use crate::tables;

/// The standard surfaces that the ascent reached, and those below the station.
pub(crate) fn standard(profile: &Profile, column: &Column, coding: &Coding) -> Vec<Level> {
    let (Some(surface), Some(&top)) = (profile.rows.first(), column.p.last()) else {
        return Vec::new();
    };
    let Some(ground) = surface.pressure_hpa else {
        return Vec::new();
    };
    let mut levels = Vec::new();
    let parts = [Part::A, Part::C].into_iter();
    for standard in parts.flat_map(|part| tables::station_levels(Form::Temp, coding, part)) {
        let p = f64::from(standard.pressure_hpa);
        if p > ground {
            // A drop that ended above the surface did not reach them, and a
            // descent has no surface observation to start from.
            let from_surface = !profile.ends_aloft && !profile.descent;
            if coding.below_station == BelowStation::Extrapolate && from_surface {
                levels.push(below_station(surface, ground, p));
            }
        } else if p >= top {
            levels.push(reached(profile, column, p));
        }
    }
    levels
}

/// A surface that the ascent passed: the row of that pressure if there is one,
/// else interpolated.
pub(super) fn reached(profile: &Profile, column: &Column, p: f64) -> Level {
    let x = -p.ln();
    let from = column.p.partition_point(|&q| q > p);
    let run = column.p.iter().skip(from).take_while(|&&q| q == p).count();
    let distance = |k: usize| column.x.get(k).map_or(f64::INFINITY, |c| (c - x).abs());
    let row = (from..from + run).min_by(|&a, &b| distance(a).total_cmp(&distance(b)));
    match row.and_then(|k| profile.rows.get(k).map(|r| (k, r))) {
        Some((k, row)) => {
            let mut row = row.clone();
            mask(&mut row, column, k);
            // An element the row lacks may still be had from its neighbours.
            let between = row_at(profile, column, x, p);
            row.height_gpm = row.height_gpm.or(between.height_gpm);
            row.temperature_c = row.temperature_c.or(between.temperature_c);
            row.dewpoint_c = row.dewpoint_c.or(between.dewpoint_c);
            row.humidity_pct = row.humidity_pct.or(between.humidity_pct);
            row.wind = row.wind.or(between.wind);
            Level {
                row,
                at: At::Row(k),
                roles: Roles::STANDARD,
                why: surface_from(p, SurfaceFrom::Row),
            }
        }
        None => Level {
            row: row_at(profile, column, x, p),
            at: At::Interpolated,
            roles: Roles::STANDARD,
            why: surface_from(p, SurfaceFrom::Between),
        },
    }
}

/// Makes the humidity of a copied row that of the columns: what they leave out is taken from
/// it, and it has its dew point.
pub(crate) fn mask(row: &mut Row, column: &Column, k: usize) {
    if column.u.get(k).is_none_or(|u| u.is_nan()) {
        row.humidity_pct = None;
    }
    row.dewpoint_c = column.dewpoint_c(k);
}

/// A surface below the ground: only its geopotential.
fn below_station(surface: &Row, ground_hpa: f64, p: f64) -> Level {
    let height = match (surface.height_gpm, surface.temperature_c) {
        (Some(z), Some(t)) => Some(height_below(z, ground_hpa, t, surface.any_dewpoint_c(), p)),
        _ => None,
    };
    let how = match height {
        Some(_) => SurfaceFrom::Below,
        None => SurfaceFrom::BelowUnknown,
    };
    Level {
        row: Row {
            pressure_hpa: Some(p),
            height_gpm: height,
            ..Row::default()
        },
        at: At::Extrapolated,
        roles: Roles::STANDARD,
        why: surface_from(p, how),
    }
}

fn surface_from(pressure_hpa: f64, how: SurfaceFrom) -> Vec<Rule> {
    vec![Rule::Standard { pressure_hpa, how }]
}
