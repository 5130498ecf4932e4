//! Positions of a profile that gives none: the wind integrated over time.

use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Derivation, Motion, Position, Row, Station};
use crate::physics::drift::{carried_m, moved};
use crate::profile::gaps::{Lost, Observed};

#[cfg(test)]
mod tests;

/// Integrates the wind from the station's position when no row of the file has
/// a position: upwards from the first row, or, for a drop, whose position in the
/// sheet is that of release, downwards from the last.
pub(super) fn complete(
    rows: &mut [Row],
    motion: Motion,
    station: &Station,
    name: &str,
    derived: &mut Vec<Derivation>,
    findings: &mut Vec<Finding>,
) {
    let Some((latitude_deg, longitude_deg)) = station.latitude_deg.zip(station.longitude_deg)
    else {
        return;
    };
    let start = Position {
        latitude_deg,
        longitude_deg,
    };
    // A first row that the sheet put there has the station's position.
    let bare = |row: &Row| row.place.is_none_or(|place| place == start);
    if !rows.first().is_some_and(bare) || rows.iter().skip(1).any(|r| r.place.is_some()) {
        return;
    }
    if motion == Motion::Falling {
        rows.reverse();
    }
    let reached = integrate(rows, start);
    if motion == Motion::Falling {
        rows.reverse();
    }
    if reached.is_none() {
        return;
    }
    derived.push(Derivation::PositionsFromWind);
    let count = rows.iter().filter(|r| r.place.is_some()).count();
    findings.push(finding!(
        PositionFromWind,
        Place::default().in_file(name),
        count = count,
        rows = counted(rows.len(), "row")
    ));
}

/// Where the integration stands.
struct Fix {
    /// The last row with time and wind, or the first row.
    at: usize,
    time_s: f64,
    /// Towards east and north, m/s; `None` before the first wind.
    wind_ms: Option<(f64, f64)>,
    place: (f64, f64),
}

/// Positions in the order of travel, up to the last row with time and wind that
/// no gap beyond the bridging limits cuts off; gives that row. Across a gap that
/// is bridged the wind is linear in time by components. `None`, and nothing
/// done, when not even one step can be made.
fn integrate(rows: &mut [Row], start: Position) -> Option<usize> {
    let first = rows.first()?;
    let mut fix = Fix {
        at: 0,
        // The first row is that of release, to which times refer.
        time_s: first.time_s.unwrap_or(0.0),
        wind_ms: first.wind.map(|wind| wind.components_ms()),
        place: (start.latitude_deg, start.longitude_deg),
    };
    for at in 1..rows.len() {
        let node = |row: &Row| row.time_s.zip(row.wind);
        let Some((time_s, wind)) = rows.get(at).and_then(node) else {
            continue;
        };
        if !bridged(rows, fix.at, at) {
            break;
        }
        let wind_ms = wind.components_ms();
        let between = rows.get_mut(fix.at + 1..=at).unwrap_or_default();
        let Some(place) = carry(between, &fix, time_s, wind_ms) else {
            break;
        };
        fix = Fix {
            at,
            time_s,
            wind_ms: Some(wind_ms),
            place,
        };
    }
    if fix.at == 0 {
        return None;
    }
    if let Some(first) = rows.first_mut() {
        first.place = Some(start);
    }
    Some(fix.at)
}

/// Gives each row with a time its position on the way to the last of them; the
/// place of that one, or `None` (and no position) where a pole is too near.
fn carry(rows: &mut [Row], from: &Fix, time_s: f64, wind_ms: (f64, f64)) -> Option<(f64, f64)> {
    // Below the first wind it is as above.
    let wind_before = from.wind_ms.unwrap_or(wind_ms);
    let whole = time_s - from.time_s;
    let mut last = (from.time_s, wind_before, from.place);
    for row in rows.iter_mut() {
        let Some(time_s) = row.time_s else {
            continue;
        };
        let share = if whole > 0.0 {
            ((time_s - from.time_s) / whole).clamp(0.0, 1.0)
        } else {
            1.0
        };
        let wind = (
            wind_before.0 + share * (wind_ms.0 - wind_before.0),
            wind_before.1 + share * (wind_ms.1 - wind_before.1),
        );
        let (east_m, north_m) = carried_m(time_s - last.0, last.1, wind);
        let Some(place) = moved(last.2, east_m, north_m) else {
            for row in rows {
                row.place = None;
            }
            return None;
        };
        row.place = Some(Position {
            latitude_deg: place.0,
            longitude_deg: place.1,
        });
        last = (time_s, wind, place);
    }
    Some(last.2)
}

/// Whether the stretch between two rows with wind may be bridged.
fn bridged(rows: &[Row], from: usize, to: usize) -> bool {
    let of =
        |k: usize, value: fn(&Row) -> Option<f64>| rows.get(k).and_then(value).unwrap_or(f64::NAN);
    let span = |value: fn(&Row) -> Option<f64>| of(to, value) - of(from, value);
    let (hpa, gpm) = (span(|row| row.pressure_hpa), span(|row| row.height_gpm));
    if Lost::Wind.near()(hpa, gpm) {
        return true;
    }
    let winds = Observed {
        rows: rows.len(),
        has: &|k| rows.get(k).is_some_and(|row| row.wind.is_some()),
        pressure_hpa: &|k| of(k, |row| row.pressure_hpa),
        height_gpm: &|k| of(k, |row| row.height_gpm),
    };
    !winds.is_gap(Lost::Wind, from, to)
}
