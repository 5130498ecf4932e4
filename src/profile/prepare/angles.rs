//! Positions of a profile that gives angles: one theodolite and a height, or two.
//!
//! The balloon's way over the ground follows from them; the winds are those of its track.

use itertools::Itertools;

use super::sighting::{Fix, Site, no_tracking, site};
use super::{Prepared, misread};
use crate::model::finding::{counted, finding};
use crate::model::quantity::trim;
use crate::model::raw::{Angles, RawRow};
use crate::model::{Derivation, Row, Tracking, TrackingMethod, Wind};
use crate::physics::angles::shorter_arc;
use crate::physics::drift::reached;
use crate::physics::gravity::altitude_m;
use crate::physics::theodolite::{Crossing, double, position_error_m};
use crate::profile::tally::Tally;
use crate::profile::{ProfileError, derive, heights};
use crate::tables::{assumed_rates, joining_limits};

/// Rows that give no position, the first of each kind.
#[derive(Default)]
struct Unused {
    incomplete: Vec<usize>,
    without_height: Vec<usize>,
    too_low: Vec<usize>,
    apart: Vec<usize>,
}

/// Gives rows positions by their angles, and heights where the angles or an assumed rate
/// of ascent give them, when no row has a position.
pub(super) fn positions(prepared: &mut Prepared) -> Result<(), ProfileError> {
    let rows = &prepared.raw.rows;
    if rows.iter().all(|row| row.angles.is_none()) {
        return Ok(());
    }
    if rows.iter().any(|row| row.place().is_some()) {
        let place = prepared.file();
        prepared.findings.push(finding!(AnglesUnused, place));
        return Ok(());
    }
    let site = site(prepared)?;
    let method = method(prepared)?;
    let mut unused = Unused::default();
    let heights = match method {
        TrackingMethod::BaseLine => Vec::new(),
        TrackingMethod::Height => measured(prepared, &site),
        TrackingMethod::AscentRate => assumed(prepared, &site)?,
    };
    let fixes = match method {
        TrackingMethod::BaseLine => crossings(prepared, &site, &mut unused),
        _ => one_theodolite(prepared, &site, &heights, &mut unused),
    };
    tell(prepared, &unused);
    let fixes = misread::leave_out(prepared, &site, fixes);
    if fixes.is_empty() {
        return Ok(());
    }
    let spacings = fixes
        .iter()
        .tuple_windows()
        .map(|(a, b)| b.time_s - a.time_s);
    let spacings: Vec<f64> = spacings.sorted_by(f64::total_cmp).collect();
    let usual_s = spacings.get(spacings.len() / 2).copied().unwrap_or(0.0);
    let window_s = (2.0 * usual_s).max(joining_limits().angle_window_s);
    prepared.window_s = Some(window_s);
    let window_s = (prepared.context.meaning.track_window_s).unwrap_or(window_s);
    low(prepared, &site, &fixes, method, window_s);
    opposite(prepared, &fixes);
    prepared.findings.push(finding!(
        PositionFromAngles,
        prepared.place(fixes.first().map_or(0, |fix| fix.row)),
        count = fixes.len(),
        rows = counted(prepared.raw.rows.len(), "row"),
        refraction = site.refraction,
        [window_s = window_s]
    ));
    prepared.derived.push(Derivation::PositionsFromAngles);
    if method == TrackingMethod::AscentRate {
        for (row, height) in prepared.raw.to_mut().rows.iter_mut().zip(heights) {
            if bare(row) {
                row.altitude_m = height.map(trim);
            }
        }
    }
    write(prepared, &site, &fixes, method);
    Ok(())
}

/// How heights are known: as the sheet says, or by what rows and sheet have.
fn method(prepared: &Prepared) -> Result<TrackingMethod, ProfileError> {
    let rows = &prepared.raw.rows;
    let tracking = &prepared.context.tracking;
    let two = rows.iter().any(|row| {
        let angles = row.angles.as_ref();
        angles.is_some_and(|a| a.elevation_2_deg.is_some() && a.azimuth_2_deg.is_some())
    });
    let twice = |has: fn(&RawRow) -> bool| rows.iter().filter(|row| has(row)).nth(1).is_some();
    let heights = twice(|row| row.height_gpm.is_some() || row.altitude_m.is_some())
        || twice(|row| row.pressure_hpa.is_some() && row.temperature_c.is_some());
    let rate = !rates(prepared).is_empty();
    let line = tracking.base_length_m.is_some();
    match tracking.method {
        Some(TrackingMethod::BaseLine) if !two => Err(no_tracking(
            prepared,
            "those of the second theodolite are missing",
            "name its columns elevation_2_deg and azimuth_2_deg, or change method under [tracking]",
        )),
        Some(TrackingMethod::Height) if !heights => Err(no_tracking(
            prepared,
            "neither height nor pressure and temperature",
            "name the column of heights, or change method under [tracking]",
        )),
        Some(TrackingMethod::AscentRate) if !rate => Err(no_tracking(
            prepared,
            "no ascent rate is known for this balloon",
            "give ascent_rate_ms under [tracking]",
        )),
        Some(method) => Ok(method),
        None if two && line => Ok(TrackingMethod::BaseLine),
        None if heights => Ok(TrackingMethod::Height),
        None if rate => Ok(TrackingMethod::AscentRate),
        None if two => Err(no_tracking(
            prepared,
            "no sheet gives the base line of the two theodolites",
            "give base_length_m and base_azimuth_deg under [tracking]",
        )),
        None => Err(no_tracking(
            prepared,
            "nothing gives the heights",
            "give ascent_rate_ms under [tracking], or mass_kg under [balloon] and free_lift_g under [tracking]",
        )),
    }
}

/// The assumed rates of ascent: from which second on, m/s.
fn rates(prepared: &Prepared) -> Vec<(f64, f64)> {
    let Tracking {
        ascent_rate_ms,
        free_lift_g,
        ..
    } = prepared.context.tracking;
    match (ascent_rate_ms, prepared.context.balloon.mass_kg) {
        (Some(rate_ms), _) => vec![(0.0, rate_ms)],
        (None, Some(mass_kg)) => assumed_rates(mass_kg * 1000.0, free_lift_g),
        (None, None) => Vec::new(),
    }
}

/// Geometric heights by the rate of ascent, m above mean sea level.
fn assumed(prepared: &mut Prepared, site: &Site) -> Result<Vec<Option<f64>>, ProfileError> {
    let rates = rates(prepared);
    let ends = rates.iter().skip(1).map(|rate| rate.0);
    let ends: Vec<f64> = ends.chain([f64::INFINITY]).collect();
    let risen = |time_s: f64| -> f64 {
        let layers = rates.iter().zip(&ends);
        layers
            .map(|((from_s, rate_ms), end_s)| rate_ms * (time_s.min(*end_s) - from_s).max(0.0))
            .sum()
    };
    let rows = &prepared.raw.rows;
    if rows.iter().all(|row| row.time_s.is_none()) {
        return Err(no_tracking(
            prepared,
            "a rate of ascent needs times, which are missing in every row",
            "name the column of times as time_s",
        ));
    }
    let height = |row: &RawRow| {
        let time_s = row.time_s.filter(|time_s| *time_s >= 0.0)?;
        Some(site.ground_m + risen(time_s))
    };
    let heights = rows.iter().map(height).collect();
    let listed = rates.iter().map(|rate| format!("{:.2}", rate.1));
    let finding = finding!(
        HeightFromAscentRate,
        prepared.file(),
        rates = listed.dedup().join(", ")
    );
    prepared.findings.push(finding);
    prepared.derived.push(Derivation::HeightFromAscentRate);
    Ok(heights)
}

/// Geometric heights of the rows, as they have them or by pressure and temperature.
fn measured(prepared: &Prepared, site: &Site) -> Vec<Option<f64>> {
    let latitude_deg = site.place_deg.0;
    let mut tally = Tally::default();
    let row = |raw: &RawRow| {
        let height = derive::height_gpm(raw, Some(latitude_deg));
        derive::row(raw, height, &mut tally)
    };
    let mut rows: Vec<Row> = prepared.raw.rows.iter().map(row).collect();
    if let Some(first) = rows.first_mut() {
        first.height_gpm = first.height_gpm.or(Some(site.ground_m));
    }
    // What is computed here is computed again, and reported, once the rows are an ascent.
    heights::complete(&mut rows, "", &mut Vec::new(), &mut Vec::new());
    let geometric = |row: Row| row.height_gpm.map(|gpm| altitude_m(gpm, latitude_deg));
    rows.into_iter().map(geometric).collect()
}

/// The rows to look at: those with angles after release, with number and time.
fn sighted<'a>(prepared: &'a Prepared) -> impl Iterator<Item = (usize, f64, &'a Angles)> {
    let rows = prepared.raw.rows.iter().enumerate();
    rows.filter_map(|(at, row)| {
        let time_s = row.time_s.filter(|time_s| *time_s > 0.0)?;
        Some((at, time_s, row.angles.as_deref()?))
    })
}

/// Positions by one theodolite.
fn one_theodolite(
    prepared: &Prepared,
    site: &Site,
    heights: &[Option<f64>],
    unused: &mut Unused,
) -> Vec<Fix> {
    let mut fixes = Vec::new();
    for (row, time_s, angles) in sighted(prepared) {
        let Some(sight) = site.sight(angles) else {
            unused.incomplete.push(row);
            continue;
        };
        if sight.elevation_deg < joining_limits().angle_least_deg {
            unused.too_low.push(row);
            continue;
        }
        let height = heights.get(row).copied().flatten();
        match height.and_then(|height_m| site.at(sight, height_m)) {
            Some(point) => fixes.push(Fix {
                row,
                time_s,
                sight,
                point,
                error_m: position_error_m(
                    site.above_m(point),
                    sight.elevation_deg,
                    joining_limits().angle_error_deg,
                ),
                height_seen: false,
            }),
            None => unused.without_height.push(row),
        }
    }
    fixes
}

/// Positions by two theodolites.
fn crossings(prepared: &mut Prepared, site: &Site, unused: &mut Unused) -> Vec<Fix> {
    let mut fixes = Vec::new();
    let mut found: Vec<Crossing> = Vec::new();
    let most_deg = joining_limits().angle_residual_deg;
    for (row, time_s, angles) in sighted(prepared) {
        let both = site.sight(angles).zip(site.second_sight(angles));
        let Some((sight, second)) = both else {
            unused.incomplete.push(row);
            continue;
        };
        let crossing = double((site.first, sight), (site.second, second), site.radius_m);
        match crossing.filter(|crossing| crossing.residual_deg <= most_deg) {
            Some(crossing) => {
                fixes.push(Fix {
                    row,
                    time_s,
                    sight,
                    point: crossing.point,
                    error_m: crossing.error_m_per_deg * joining_limits().angle_error_deg,
                    height_seen: true,
                });
                found.push(crossing);
            }
            None => unused.apart.push(row),
        }
    }
    if found.is_empty() {
        return fixes;
    }
    let count = f64::from(u32::try_from(found.len()).unwrap_or(u32::MAX));
    let residuals = found.iter().map(|crossing| crossing.residual_deg);
    let error_deg = joining_limits().angle_error_deg;
    let errors = found.iter().map(|crossing| crossing.error_m_per_deg);
    let finding = finding!(
        TwoTheodolites,
        prepared.place(fixes.first().map_or(0, |fix| fix.row)),
        rms_deg = (residuals.clone().map(|r| r * r).sum::<f64>() / count).sqrt(),
        greatest_deg = residuals.fold(0.0, f64::max),
        count = found.len(),
        rows = counted(prepared.raw.rows.len(), "row"),
        error_deg = error_deg,
        error_m = errors.fold(0.0, f64::max) * error_deg
    );
    prepared.findings.push(finding);
    prepared.derived.push(Derivation::HeightFromBaseLine);
    fixes
}

/// Reports the rows that give no position.
fn tell(prepared: &mut Prepared, unused: &Unused) {
    let lim = joining_limits();
    let mut findings = Vec::new();
    let some = |rows: &[usize]| {
        let first = rows.first()?;
        Some((prepared.place(*first), counted(rows.len(), "row")))
    };
    if let Some((place, rows)) = some(&unused.incomplete) {
        findings.push(finding!(AnglesIncomplete, place, rows = rows));
    }
    if let Some((place, rows)) = some(&unused.without_height) {
        findings.push(finding!(AnglesWithoutHeight, place, rows = rows));
    }
    if let Some((place, rows)) = some(&unused.too_low) {
        let most_deg = lim.angle_least_deg;
        findings.push(finding!(
            ElevationTooLow,
            place,
            most_deg = most_deg,
            rows = rows
        ));
    }
    if let Some((place, rows)) = some(&unused.apart) {
        let most_deg = lim.angle_residual_deg;
        findings.push(finding!(
            TheodolitesApart,
            place,
            rows = rows,
            [most_deg = most_deg]
        ));
    }
    prepared.findings.extend(findings);
}

/// Low elevations, at which one theodolite gives uncertain winds.
fn low(prepared: &mut Prepared, site: &Site, fixes: &[Fix], method: TrackingMethod, window_s: f64) {
    let lim = joining_limits();
    if method == TrackingMethod::BaseLine {
        return;
    }
    let low = fixes
        .iter()
        .filter(|fix| fix.sight.elevation_deg < lim.angle_low_deg);
    let elevation = |fix: &&Fix| fix.sight.elevation_deg;
    let lowest = low
        .clone()
        .min_by(|a, b| elevation(a).total_cmp(&elevation(b)));
    let Some(lowest) = lowest else {
        return;
    };
    let least_deg = lowest.sight.elevation_deg;
    let error_m = position_error_m(site.above_m(lowest.point), least_deg, lim.angle_error_deg);
    let finding = finding!(
        ElevationLow,
        prepared.place(lowest.row),
        least_deg = least_deg,
        low_deg = lim.angle_low_deg,
        rows = counted(low.count(), "row"),
        error_deg = lim.angle_error_deg,
        // Of two positions at the ends of the window.
        error_ms = std::f64::consts::SQRT_2 * error_m / window_s
    );
    prepared.findings.push(finding);
}

/// A balloon that starts against the surface wind.
fn opposite(prepared: &mut Prepared, fixes: &[Fix]) {
    let lim = joining_limits();
    let surface = prepared.context.surface.as_ref();
    let surface = surface.and_then(|s| Wind::from_polar(s.wind_dir_deg, s.wind_speed_ms));
    let Some((surface, first)) = surface.zip(fixes.first()) else {
        return;
    };
    if first.time_s > lim.angle_first_s {
        return;
    }
    let (east_m, north_m) = (first.point.east_m, first.point.north_m);
    let balloon = Wind::from_components_ms(east_m / first.time_s, north_m / first.time_s);
    let apart = shorter_arc(balloon.dir_deg - surface.dir_deg).abs();
    let both = surface.speed_ms.min(balloon.speed_ms);
    if apart <= lim.angle_opposite_deg || both < lim.angle_opposite_ms {
        return;
    }
    let finding = finding!(
        AzimuthOpposite,
        prepared.place(first.row),
        balloon_deg = balloon.dir_deg,
        surface_deg = surface.dir_deg,
        [most_deg = lim.angle_opposite_deg]
    );
    prepared.findings.push(finding);
}

/// Whether a row has no height.
fn bare(row: &RawRow) -> bool {
    row.height_gpm.is_none() && row.altitude_m.is_none()
}

/// Writes positions, and heights of two theodolites, into the rows; the balloon is released
/// at the instrument.
fn write(prepared: &mut Prepared, site: &Site, fixes: &[Fix], method: TrackingMethod) {
    let rows = &mut prepared.raw.to_mut().rows;
    for fix in fixes {
        let Some(row) = rows.get_mut(fix.row) else {
            continue;
        };
        let (way_m, azimuth_deg) = fix.point.way();
        if let Some((latitude_deg, longitude_deg)) = reached(site.place_deg, azimuth_deg, way_m) {
            row.latitude_deg = Some(latitude_deg);
            row.longitude_deg = Some(longitude_deg);
        }
        if method == TrackingMethod::BaseLine && bare(row) {
            row.altitude_m = Some(trim(fix.point.height_m));
        }
    }
    let at_release = rows.iter().position(|row| row.time_s == Some(0.0));
    let begins_s = fixes.first().map_or(f64::INFINITY, |fix| fix.time_s);
    let at_release = match at_release {
        Some(at) => at,
        // Between pressures a row of the ground by its height would be none.
        None if begins_s <= joining_limits().angle_first_s && !rows.iter().all(bare) => {
            let line = rows.first().map_or(0, |row| row.line);
            let release = RawRow {
                line,
                time_s: Some(0.0),
                ..RawRow::default()
            };
            rows.insert(0, release);
            0
        }
        None => return,
    };
    if let Some(release) = rows.get_mut(at_release) {
        release.latitude_deg = Some(site.place_deg.0);
        release.longitude_deg = Some(site.place_deg.1);
        if bare(release) {
            release.altitude_m = Some(site.ground_m);
        }
    }
}
