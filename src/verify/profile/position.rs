//! Whether the flight begins at the station of the sheet.

use super::series::Series;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Context, Motion, Position, Profile};
use crate::physics::drift::way_m;
use crate::tables::profile_limits;

/// A usual slip in writing a position, and the position that was meant.
struct Slip {
    /// The key of the sheet to correct.
    key: &'static str,
    /// What happened, in words.
    words: &'static str,
    /// Degrees north and east.
    meant: (f64, f64),
}

/// Degrees of what was written as degrees, a point and two figures of minutes.
fn from_minutes(written: f64) -> Option<f64> {
    let degrees = written.trunc();
    let minutes = (written - degrees) * 100.0;
    (minutes.abs() < 60.0).then_some(degrees + minutes / 60.0)
}

/// The positions that may have been meant by one that was written.
fn slips((latitude, longitude): (f64, f64)) -> Vec<Slip> {
    const LATITUDE: &str = "station.latitude_deg";
    const LONGITUDE: &str = "station.longitude_deg";
    let mut out = vec![
        Slip {
            key: LONGITUDE,
            words: "the sign of the longitude",
            meant: (latitude, -longitude),
        },
        Slip {
            key: LATITUDE,
            words: "the sign of the latitude",
            meant: (-latitude, longitude),
        },
        Slip {
            key: LATITUDE,
            words: "the signs of latitude and longitude",
            meant: (-latitude, -longitude),
        },
    ];
    if longitude.abs() <= 90.0 {
        out.push(Slip {
            key: LATITUDE,
            words: "latitude and longitude, which are swapped",
            meant: (longitude, latitude),
        });
    }
    let minutes = (from_minutes(latitude), from_minutes(longitude));
    if let Some(north) = minutes.0 {
        out.push(Slip {
            key: LATITUDE,
            words: "the minutes of the latitude, written as decimals",
            meant: (north, longitude),
        });
    }
    if let Some(east) = minutes.1 {
        out.push(Slip {
            key: LONGITUDE,
            words: "the minutes of the longitude, written as decimals",
            meant: (latitude, east),
        });
    }
    if let (Some(north), Some(east)) = minutes {
        out.push(Slip {
            key: LATITUDE,
            words: "the minutes of latitude and longitude, written as decimals",
            meant: (north, east),
        });
    }
    out
}

/// Where the flight begins: its earliest row with a position of its own, and the
/// seconds after release at which that was; the row is counted from 0.
///
/// An ascent begins at its lowest row, a drop at its highest, where the sheet says
/// the drop was released. A descent begins a long way from the station, at the top
/// of the flight, and its rows count seconds from release.
fn beginning(profile: &Profile, station: (f64, f64)) -> Option<(usize, Position, f64)> {
    // A row that the sheet put first has the station's position.
    let own = |place: &Position| (place.latitude_deg, place.longitude_deg) != station;
    let at = |(number, place, time_s): (usize, Position, Option<f64>)| match time_s {
        None if profile.descent => None,
        time_s => Some((number, place, time_s.unwrap_or(0.0).max(0.0))),
    };
    let mut rows = profile.rows.iter().enumerate();
    let placed = |(number, row): (usize, &crate::model::Row)| {
        row.place.map(|place| (number, place, row.time_s))
    };
    match profile.motion {
        Motion::Rising => {
            let first = rows.find_map(placed)?;
            if own(&first.1) {
                return at(first);
            }
            rows.find_map(placed).and_then(at)
        }
        Motion::Falling => rows.rev().find_map(placed).and_then(at),
    }
}

fn apart_m(from: (f64, f64), to: (f64, f64)) -> f64 {
    let (east, north) = way_m(from, to);
    east.hypot(north)
}

/// Compares the position of the station with that of the first row that has one.
pub(super) fn check(series: &Series, context: &Context, findings: &mut Vec<Finding>) {
    let station = &context.station;
    let Some(written) = station.latitude_deg.zip(station.longitude_deg) else {
        return;
    };
    // Positions from the wind begin at the station.
    if series.places_from_wind {
        return;
    }
    let Some((number, place, time_s)) = beginning(series.profile, written) else {
        return;
    };
    let lim = profile_limits();
    let there = (place.latitude_deg, place.longitude_deg);
    let allowed_m = lim.station_distance_m + lim.station_drift_ms * time_s;
    let off_m = apart_m(written, there);
    if off_m <= allowed_m {
        return;
    }
    let slip = slips(written)
        .into_iter()
        .map(|slip| (apart_m(slip.meant, there), slip))
        .filter(|(m, _)| *m <= allowed_m)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let most_km = allowed_m / 1000.0;
    findings.push(match slip {
        Some((_, slip)) => finding!(
            StationPositionSlip,
            Place::key(slip.key),
            sheet_lat = written.0,
            sheet_lon = written.1,
            row = number + 1,
            row_lat = there.0,
            row_lon = there.1,
            off_km = off_m / 1000.0,
            [
                most_km = most_km,
                slip = slip.words,
                meant_lat = slip.meant.0,
                meant_lon = slip.meant.1
            ]
        ),
        None => finding!(
            StationDistance,
            Place::key("station.latitude_deg"),
            sheet_lat = written.0,
            sheet_lon = written.1,
            row = number + 1,
            row_lat = there.0,
            row_lon = there.1,
            off_km = off_m / 1000.0,
            [most_km = most_km]
        ),
    });
}
