//! Positions of a profile that has none, from its winds.

use crate::finding::{Finding, Place};
use crate::levels::components;
use crate::physics::drift::{displaced, drifted_m};
use crate::sounding::{Motion, Position, Row, Station};
use crate::tables::limits;

/// A row with a wind, on the way.
struct At {
    row: usize,
    time_s: f64,
    wind: (f64, f64),
}

/// Gives every row the place to which the wind has carried the sonde since the
/// start, when no row has one: from the station on, the wind changing evenly from
/// row to row with one, up to a gap that wind is not bridged over (the limits of
/// standard surfaces).
///
/// WMO-No. 306 Vol. I.2, B/C25.8: displacements are sent if available.
pub(super) fn complete(
    rows: &mut [Row],
    station: &Station,
    motion: Motion,
    name: &str,
    derived: &mut Vec<String>,
    findings: &mut Vec<Finding>,
) {
    let start = station.latitude_deg.zip(station.longitude_deg);
    let Some((latitude_deg, longitude_deg)) = start else {
        return;
    };
    if rows.iter().any(|r| r.place.is_some()) {
        return;
    }
    // In the order of time; a drop begins at the highest row.
    let order: Vec<usize> = match motion {
        Motion::Rising => (0..rows.len()).collect(),
        Motion::Falling => (0..rows.len()).rev().collect(),
    };
    let start = Position {
        latitude_deg,
        longitude_deg,
    };
    let count = along(rows, &order, start);
    if count < 2 {
        return;
    }
    derived.push("position from the wind".to_owned());
    let what = format!("{count} rows have their position from the wind, summed up in time");
    let finding = Finding::info("position-from-wind", Place::default().in_file(name), what);
    findings.push(finding.clause("WMO-No. 306 Vol. I.2, B/C25.8"));
}

/// Places rows in the order of time; how many.
fn along(rows: &mut [Row], order: &[usize], start: Position) -> usize {
    let mut winds = order.iter().enumerate().filter_map(|(n, &k)| {
        let row = rows.get(k)?;
        // The start may lack its time.
        let time_s = row.time_s.or((n == 0).then_some(0.0))?;
        Some(At {
            row: n,
            time_s,
            wind: components(row.wind?),
        })
    });
    let Some(first) = winds.next() else {
        return 0;
    };
    let winds: Vec<At> = std::iter::once(first).chain(winds).collect();
    let mut places: Vec<(usize, Position)> = Vec::new();
    // Before the first wind its own is taken.
    let Some(begin) = winds.first() else { return 0 };
    let zero = order.first().and_then(|&k| rows.get(k));
    let zero_s = zero.and_then(|r| r.time_s).unwrap_or(0.0);
    let calm = At {
        row: 0,
        time_s: zero_s.min(begin.time_s),
        wind: begin.wind,
    };
    let mut here = start;
    places.push((0, here));
    let mut before = &calm;
    for next in &winds {
        if next.row == before.row {
            before = next;
            continue;
        }
        let ends = (order.get(before.row), order.get(next.row));
        let (Some(&low), Some(&high)) = ends else {
            break;
        };
        if !bridged(rows, low, high) {
            break;
        }
        let seconds = next.time_s - before.time_s;
        let mut reached = None;
        for n in before.row + 1..=next.row {
            let time = order
                .get(n)
                .and_then(|&k| rows.get(k))
                .and_then(|r| r.time_s);
            let Some(time) = time.filter(|_| seconds > 0.0 || n == next.row) else {
                continue;
            };
            let part = if seconds > 0.0 {
                ((time - before.time_s) / seconds).clamp(0.0, 1.0)
            } else {
                1.0
            };
            let east = drifted_m(before.wind.0, next.wind.0, seconds, part);
            let north = drifted_m(before.wind.1, next.wind.1, seconds, part);
            let Some(place) = displaced(here, east, north) else {
                break;
            };
            places.push((n, place));
            reached = (n == next.row).then_some(place);
        }
        let Some(place) = reached else { break };
        here = place;
        before = next;
    }
    let count = places.len();
    for (n, place) in places {
        if let Some(row) = order.get(n).and_then(|&k| rows.get_mut(k)) {
            row.place = Some(place);
        }
    }
    count
}

/// Whether a stretch without wind between two rows may be bridged.
fn bridged(rows: &[Row], low: usize, high: usize) -> bool {
    let lim = limits();
    let span = |of: fn(&Row) -> Option<f64>| {
        let ends = rows.get(low).and_then(of).zip(rows.get(high).and_then(of));
        ends.map(|(a, b)| (a - b).abs())
    };
    span(|r| r.height_gpm).is_none_or(|z| z <= lim.bridge_wind_gpm)
        && span(|r| r.pressure_hpa).is_none_or(|p| p <= lim.bridge_wind_hpa)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sounding::Wind;

    fn row(time_s: f64, height_gpm: f64, wind: Option<(f64, f64)>) -> Row {
        Row {
            time_s: Some(time_s),
            height_gpm: Some(height_gpm),
            pressure_hpa: Some(1000.0 - height_gpm / 100.0),
            wind: wind.map(|(dir_deg, speed_ms)| Wind { dir_deg, speed_ms }),
            ..Row::default()
        }
    }

    fn placed(mut rows: Vec<Row>, motion: Motion) -> Vec<Option<(f64, f64)>> {
        let station = Station {
            latitude_deg: Some(0.0),
            longitude_deg: Some(10.0),
            ..Station::default()
        };
        let (mut derived, mut findings) = (Vec::new(), Vec::new());
        complete(
            &mut rows,
            &station,
            motion,
            "x",
            &mut derived,
            &mut findings,
        );
        let degrees = |p: Position| (p.latitude_deg, p.longitude_deg);
        rows.iter().map(|r| r.place.map(degrees)).collect()
    }

    /// Degrees of a great circle for metres, by the circumference 40 030 228.9 m.
    fn degrees(metres: f64) -> f64 {
        360.0 * metres / 40_030_228.9
    }

    #[test]
    fn wind_is_summed_up_in_time() {
        // West wind 10 m/s, then 20 m/s: 100 s x 15 m/s = 1500 m to the east.
        let rows = vec![
            row(0.0, 0.0, Some((270.0, 10.0))),
            row(100.0, 500.0, Some((270.0, 20.0))),
            row(200.0, 1000.0, Some((180.0, 20.0))),
        ];
        let places = placed(rows, Motion::Rising);
        assert_eq!(places[0], Some((0.0, 10.0)));
        let second = places[1].unwrap();
        assert!(second.0.abs() < 1e-9);
        assert!((second.1 - 10.0 - degrees(1500.0)).abs() < 1e-8);
        // Components run from (20, 0) to (0, 20): 100 s x 10 m/s each.
        let third = places[2].unwrap();
        assert!((third.0 - degrees(1000.0)).abs() < 1e-8);
        assert!((third.1 - 10.0 - degrees(2500.0)).abs() < 1e-6);
    }

    #[test]
    fn a_row_without_wind_lies_on_the_way_and_a_wide_gap_ends_it() {
        let rows = vec![
            row(0.0, 0.0, Some((270.0, 10.0))),
            row(50.0, 250.0, None),
            row(100.0, 500.0, Some((270.0, 10.0))),
            // 2500 gpm without wind: more than the 1500 gpm that are bridged.
            row(400.0, 3000.0, Some((270.0, 10.0))),
        ];
        let places = placed(rows, Motion::Rising);
        assert!((places[1].unwrap().1 - 10.0 - degrees(500.0)).abs() < 1e-8);
        assert!((places[2].unwrap().1 - 10.0 - degrees(1000.0)).abs() < 1e-8);
        assert_eq!(places[3], None);
    }

    #[test]
    fn a_drop_begins_at_its_highest_row() {
        let rows = vec![
            row(100.0, 0.0, Some((270.0, 10.0))),
            row(0.0, 1000.0, Some((270.0, 10.0))),
        ];
        let places = placed(rows, Motion::Falling);
        assert_eq!(places[1], Some((0.0, 10.0)));
        assert!((places[0].unwrap().1 - 10.0 - degrees(1000.0)).abs() < 1e-8);
    }

    #[test]
    fn positions_that_are_there_stay() {
        let mut rows = vec![row(0.0, 0.0, Some((270.0, 10.0))), row(9.0, 40.0, None)];
        let own = Position {
            latitude_deg: 1.0,
            longitude_deg: 2.0,
        };
        rows[1].place = Some(own);
        assert_eq!(placed(rows, Motion::Rising), [None, Some((1.0, 2.0))]);
    }
}
