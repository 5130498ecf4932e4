//! Where a balloon drifts: displacement on a sphere, and the wind summed up in time.

use crate::sounding::Position;

/// Mean radius of the earth, m (WGS 84, a third of twice the equatorial and once
/// the polar radius: 6 371 008.8 m; from memory).
const RADIUS_M: f64 = 6_371_008.8;

/// Nearer to a pole than this a degree of longitude says nothing.
const NEAREST_POLE_DEG: f64 = 0.1;

/// The place so many metres east and north of another; `None` within a tenth of a
/// degree of a pole. Good for steps that are short against the radius: the
/// circle of latitude is that of the middle.
#[must_use]
pub fn displaced(from: Position, east_m: f64, north_m: f64) -> Option<Position> {
    let latitude_deg = from.latitude_deg + (north_m / RADIUS_M).to_degrees();
    let middle = f64::midpoint(from.latitude_deg, latitude_deg);
    if middle.abs() > 90.0 - NEAREST_POLE_DEG || latitude_deg.abs() > 90.0 {
        return None;
    }
    let around = RADIUS_M * middle.to_radians().cos();
    let longitude = from.longitude_deg + (east_m / around).to_degrees();
    Some(Position {
        latitude_deg,
        longitude_deg: wrapped(longitude),
    })
}

/// A longitude within −180…180.
#[must_use]
pub fn wrapped(longitude_deg: f64) -> f64 {
    if longitude_deg > 180.0 {
        longitude_deg - 360.0
    } else if longitude_deg < -180.0 {
        longitude_deg + 360.0
    } else {
        longitude_deg
    }
}

/// Metres drifted in a time with a wind that changes evenly from one to another,
/// after the share `part` (0…1) of the time; east or north alike.
#[must_use]
pub fn drifted_m(first_ms: f64, last_ms: f64, seconds: f64, part: f64) -> f64 {
    seconds * part * (first_ms + 0.5 * (last_ms - first_ms) * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    const EQUATOR: Position = Position {
        latitude_deg: 0.0,
        longitude_deg: 179.9,
    };

    #[test]
    fn an_hour_of_ten_metres_a_second_along_the_equator() {
        // 36 000 m of a circle of 2 pi 6 371 008.8 m = 40 030 228.9 m:
        // 360 x 36 000 / 40 030 228.9 = 0.323 755 3 degrees.
        let metres = drifted_m(10.0, 10.0, 3600.0, 1.0);
        assert_eq!(metres, 36_000.0);
        let east = displaced(EQUATOR, metres, 0.0).unwrap();
        assert!((east.longitude_deg - (179.9 + 0.323_755_3 - 360.0)).abs() < 1e-6);
        let north = displaced(EQUATOR, 0.0, metres).unwrap();
        assert!((north.latitude_deg - 0.323_755_3).abs() < 1e-6);
        // At 60 degrees north the circle is half as long.
        let there = Position {
            latitude_deg: 60.0,
            longitude_deg: 0.0,
        };
        let east = displaced(there, metres, 0.0).unwrap();
        assert!((east.longitude_deg - 0.647_510_6).abs() < 1e-6);
    }

    #[test]
    fn a_wind_that_grows_evenly() {
        // From 0 to 20 m/s in 100 s: 1000 m in all, a quarter of it in the first half.
        assert_eq!(drifted_m(0.0, 20.0, 100.0, 1.0), 1000.0);
        assert_eq!(drifted_m(0.0, 20.0, 100.0, 0.5), 250.0);
    }

    #[test]
    fn near_a_pole_there_is_no_place() {
        let pole = Position {
            latitude_deg: 89.95,
            longitude_deg: 0.0,
        };
        assert_eq!(displaced(pole, 1.0, 0.0), None);
    }
}
