//! The surface observation of the sheet becomes the first level.

use super::derive::complete_humidity;
use super::tally::{Kind, Tally};
use super::{BELOW_GROUND_GPM, Numbered};
use crate::model::{Axis, Position, PressureAt, Row, Station, StationKind, Surface, Wind};
use crate::physics::hydrostatic::pressure_below;

/// Temperature of the air between barometer and release point when nothing
/// gives one, °C: 10 K more or less are 0.05 hPa over 10 m.
const MIDDLE_TEMPERATURE_C: f64 = 15.0;

/// Values the sheet gives replace those of the first row, values it does not
/// give stay; rows after it that lie below the new surface pressure go.
///
/// When the file's first row is clearly no release row (later than release and
/// above the ground), the surface becomes a row of its own before it.
pub(super) fn join(
    rows: &mut Vec<Numbered>,
    surface: &Surface,
    station: &Station,
    axis: Axis,
    tally: &mut Tally,
) {
    let ground = station.release_m.or(station.elevation_m);
    let Some(first) = rows.first() else {
        return;
    };
    let pressure = at_release(surface, station, &first.row);
    if starts_aloft(&first.row, ground, pressure) {
        // A drop is released elsewhere, and ends at an unknown time.
        let released_here = station.kind != StationKind::Drop;
        let at = station.latitude_deg.zip(station.longitude_deg);
        let at = at.filter(|_| released_here);
        let row = Row {
            time_s: released_here.then_some(0.0),
            height_gpm: ground,
            place: at.map(|(latitude_deg, longitude_deg)| Position {
                latitude_deg,
                longitude_deg,
            }),
            ..Row::default()
        };
        rows.insert(0, Numbered { line: 0, row });
    }
    if let Some(first) = rows.first_mut() {
        first.row.pressure_hpa = pressure.or(first.row.pressure_hpa);
        replace(&mut first.row, surface);
        if axis == Axis::Height {
            return;
        }
    }
    let Some(pressure) = pressure else { return };
    // Leading rows only: later ones are judged along the ascent.
    let is_below = |r: &Numbered| r.row.pressure_hpa.is_some_and(|p| p > pressure);
    let below = rows.iter().skip(1).take_while(|r| is_below(r)).count();
    for gone in rows.drain(1..=below) {
        tally.add(Kind::BelowSurface, gone.line);
    }
}

/// Whether the first row was measured after release and above the ground.
fn starts_aloft(first: &Row, ground: Option<f64>, surface_hpa: Option<f64>) -> bool {
    let aloft = |z: f64| later_and_above(first.time_s, z, ground);
    let thinner = (first.pressure_hpa.zip(surface_hpa)).is_some_and(|(p, s)| p < s);
    first.height_gpm.is_some_and(aloft) && thinner
}

/// Whether a row of that time and height is later than release and above the
/// ground, m.
pub(super) fn later_and_above(time_s: Option<f64>, height_gpm: f64, ground: Option<f64>) -> bool {
    time_s.is_some_and(|t| t > 0.0) && ground.is_some_and(|g| height_gpm > g + BELOW_GROUND_GPM)
}

/// The surface pressure at the height of release.
pub(super) fn at_release(surface: &Surface, station: &Station, first: &Row) -> Option<f64> {
    let pressure = surface.pressure_hpa?;
    let release = station.release_m.or(station.elevation_m);
    match (surface.pressure_at, station.barometer_m, release) {
        (PressureAt::Barometer, Some(barometer), Some(release)) => {
            let temperature = surface.temperature_c.or(first.temperature_c);
            Some(pressure_below(
                pressure,
                temperature.unwrap_or(MIDDLE_TEMPERATURE_C),
                surface.dewpoint_c.or_else(|| first.any_dewpoint_c()),
                barometer - release,
            ))
        }
        _ => Some(pressure),
    }
}

/// Temperature, humidity and wind of the sheet.
fn replace(row: &mut Row, surface: &Surface) {
    if let Some(t) = surface.temperature_c {
        row.temperature_c = Some(t);
        if row.humidity_pct.is_some() {
            // The humidity stays, the dew point follows the new temperature.
            row.dewpoint_c = None;
        }
    }
    if surface.humidity_pct.is_some() || surface.dewpoint_c.is_some() {
        row.humidity_pct = surface.humidity_pct;
        row.dewpoint_c = surface.dewpoint_c;
    }
    complete_humidity(row);
    row.wind = Wind::from_polar(surface.wind_dir_deg, surface.wind_speed_ms).or(row.wind);
}
