//! Where the wind carries a sonde, on a sphere.
//!
//! The radius is the mean radius of the WGS 84 ellipsoid, on which satellite
//! navigation gives positions: of all spheres it departs least from that
//! ellipsoid. Against the ellipsoid a way is off by at most 0.6 % in degrees,
//! and by 0.5 % where the sonde is 30 km up, for height is not reckoned with.

/// Mean radius of the Earth, m: (2a + b) / 3 of WGS 84 (a = 6 378 137 m,
/// 1/f = 298.257 223 563; NIMA TR8350.2, from memory).
pub const EARTH_M: f64 = 6_371_008.771_4;

/// Nearest to a pole that a place is reckoned, degrees: east and north turn too
/// fast beyond (our own choice).
const POLE_DEG: f64 = 0.1;

/// Way that a wind carries in a number of seconds, m towards east and north; winds
/// (towards east and north, m/s) at the beginning and at the end, linear in time
/// between: the trapezoidal rule, which is exact for that.
#[must_use]
pub fn carried_m(seconds: f64, before_ms: (f64, f64), after_ms: (f64, f64)) -> (f64, f64) {
    (
        f64::midpoint(before_ms.0, after_ms.0) * seconds,
        f64::midpoint(before_ms.1, after_ms.1) * seconds,
    )
}

/// The place (degrees north, degrees east) some metres east and north of another.
///
/// East is turned into degrees at the middle latitude of the way. Longitudes
/// beyond 180° go on from −180° and the other way round. `None` when the way
/// begins or ends within 0.1° of a pole, or is not a number.
///
/// ```
/// // 111 195.08 m north are a degree: π/180 × 6 371 008.77 m.
/// let (north, east) = fivefig::physics::drift::moved((10.0, 20.0), 0.0, 111_195.08).unwrap();
/// assert!((north - 11.0).abs() < 1e-7 && east == 20.0);
/// ```
#[must_use]
pub fn moved(from_deg: (f64, f64), east_m: f64, north_m: f64) -> Option<(f64, f64)> {
    let (latitude, longitude) = from_deg;
    let end = latitude + (north_m / EARTH_M).to_degrees();
    let clear = |deg: f64| deg.abs() <= 90.0 - POLE_DEG;
    if !clear(latitude) || !clear(end) {
        return None;
    }
    let round_m = EARTH_M * f64::midpoint(latitude, end).to_radians().cos();
    let east = wrapped(longitude + (east_m / round_m).to_degrees());
    east.is_finite().then_some((end, east))
}

/// The place (degrees north, degrees east) that a great circle reaches from another: its
/// direction there, degrees true, and its length on the ground, m.
///
/// A theodolite sees along great circles, and 100 km to the east at 60° of latitude a
/// great circle is 1.4 km south of the parallel. Spherical trigonometry. `None` within
/// 0.1° of a pole, or for what is not a number.
///
/// ```
/// // A quarter of the equator.
/// let quarter_m = 10_007_557.2;
/// let (north, east) = fivefig::physics::drift::reached((0.0, 20.0), 90.0, quarter_m).unwrap();
/// assert!(north.abs() < 1e-6 && (east - 110.0).abs() < 1e-6);
/// ```
#[must_use]
pub fn reached(from_deg: (f64, f64), azimuth_deg: f64, way_m: f64) -> Option<(f64, f64)> {
    let (sin_lat, cos_lat) = from_deg.0.to_radians().sin_cos();
    let (sin_way, cos_way) = (way_m / EARTH_M).sin_cos();
    let (sin_az, cos_az) = azimuth_deg.to_radians().sin_cos();
    let sin_end = (sin_lat * cos_way + cos_lat * sin_way * cos_az).clamp(-1.0, 1.0);
    let around = (sin_az * sin_way * cos_lat).atan2(cos_way - sin_lat * sin_end);
    let end = sin_end.asin().to_degrees();
    let east = wrapped(from_deg.1 + around.to_degrees());
    let clear = |deg: f64| deg.abs() <= 90.0 - POLE_DEG;
    (clear(from_deg.0) && clear(end) && east.is_finite()).then_some((end, east))
}

/// A longitude, or a difference of two, within −180…180.
#[must_use]
pub fn wrapped(longitude_deg: f64) -> f64 {
    if longitude_deg.abs() > 180.0 {
        (longitude_deg + 180.0).rem_euclid(360.0) - 180.0
    } else {
        longitude_deg
    }
}

/// The way from one place (degrees north, degrees east) to another, m towards
/// east and north, the shorter way round: the inverse of [`moved`].
#[must_use]
pub fn way_m(from_deg: (f64, f64), to_deg: (f64, f64)) -> (f64, f64) {
    let middle = f64::midpoint(from_deg.0, to_deg.0);
    let around = wrapped(to_deg.1 - from_deg.1);
    let east = EARTH_M * middle.to_radians().cos() * around.to_radians();
    let north = EARTH_M * (to_deg.0 - from_deg.0).to_radians();
    (east, north)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_radius_is_the_mean_of_the_ellipsoid() {
        // b = a (1 - f).
        let (a, f) = (6_378_137.0, 1.0 / 298.257_223_563);
        let mean = (2.0 * a + a * (1.0 - f)) / 3.0;
        assert!((EARTH_M - mean).abs() < 1e-4, "{mean}");
    }

    #[test]
    fn ways_along_a_meridian_and_the_equator() {
        // 36 000 / 6 371 008.7714 = 0.005 650 596 6 rad; × 57.295 779 5 =
        // 0.323 755 34°.
        let (north, east) = moved((0.0, 0.0), 36_000.0, 0.0).unwrap();
        assert_eq!(north, 0.0);
        assert!((east - 0.323_755_34).abs() < 1e-8, "{east}");
        let (north, east) = moved((0.0, 0.0), 0.0, -36_000.0).unwrap();
        assert!((north + 0.323_755_34).abs() < 1e-8, "{north}");
        assert_eq!(east, 0.0);
        // At 60° a degree of longitude is half as long.
        let (_, east) = moved((60.0, 0.0), 36_000.0, 0.0).unwrap();
        assert!((east - 0.647_510_68).abs() < 2e-8, "{east}");
        // 0.1° round 60.05°: cos 60.05° = 0.499 244 = 0.5 less sin 60° ×
        // 0.000 872 66, so that 36 000 m east are 0.323 755 34 / 0.499 244 05.
        let north_m = EARTH_M * 0.1_f64.to_radians();
        let (_, east) = moved((60.0, 0.0), 36_000.0, north_m).unwrap();
        assert!((east - 0.648_491_1).abs() < 1e-6, "{east}");
    }

    #[test]
    fn a_great_circle_leaves_the_parallel() {
        // East from 60° over 1° of arc, 111 195.08 m: sin(end) = sin 60° cos 1° =
        // 0.866 025 40 x 0.999 847 70 = 0.865 893 50, and cos 60° = 0.5: the end is
        // 0.000 131 90 / 0.5 = 0.000 263 80 rad south, less the second order, sin 60° /
        // (2 cos³ 60°) x 0.000 131 90² = 0.000 000 06: 0.015 111°. The longitude:
        // tan = sin 1° x 0.5 / (cos 1° - sin 60° x 0.865 893 50) =
        // 0.008 726 203 / 0.249 961 9 = 0.034 910 13, atan 0.034 895 96 rad = 1.999 391°.
        let (north, east) = reached((60.0, 10.0), 90.0, 111_195.08).unwrap();
        assert!((north - 59.984_889).abs() < 2e-6, "{north}");
        assert!((east - 11.999_391).abs() < 2e-6, "{east}");
        // Along a meridian it is the way of `moved`.
        let (north, east) = reached((60.0, 10.0), 0.0, 36_000.0).unwrap();
        assert!((north - 60.323_755_34).abs() < 1e-8 && (east - 10.0).abs() < 1e-12);
        assert_eq!(reached((89.95, 0.0), 0.0, 1.0), None);
        assert_eq!(reached((0.0, 0.0), f64::NAN, 1.0), None);
    }

    #[test]
    fn poles_and_the_date_line() {
        assert_eq!(moved((89.95, 0.0), 1.0, 0.0), None);
        assert_eq!(moved((-89.8, 0.0), 0.0, -20_000.0), None);
        assert_eq!(moved((f64::NAN, 0.0), 1.0, 0.0), None);
        assert_eq!(moved((0.0, 0.0), f64::INFINITY, 0.0), None);
        let (_, east) = moved((0.0, 179.9), 36_000.0, 0.0).unwrap();
        assert!((east - (-179.776_244_66)).abs() < 1e-8, "{east}");
        let (_, west) = moved((0.0, -179.9), -36_000.0, 0.0).unwrap();
        assert!((west - 179.776_244_66).abs() < 1e-8, "{west}");
        let (east_m, north_m) = way_m((0.0, 179.9), (0.0, -179.9));
        // 0.2° × 111 195.08 m.
        assert!((east_m - 22_239.016).abs() < 1e-2 && north_m == 0.0);
    }

    proptest! {
        /// A way there and back, with the same wind reversed, and the inverse.
        #[test]
        fn the_way_back_ends_where_it_began(
            latitude in -89.0..89.0_f64,
            longitude in -180.0..180.0_f64,
            before in (-100.0..100.0_f64, -100.0..100.0_f64),
            after in (-100.0..100.0_f64, -100.0..100.0_f64),
            seconds in 0.0..600.0_f64,
        ) {
            let (east, north) = carried_m(seconds, before, after);
            let to = moved((latitude, longitude), east, north).unwrap();
            let (back_east, back_north) = carried_m(
                seconds,
                (-after.0, -after.1),
                (-before.0, -before.1),
            );
            let back = moved(to, back_east, back_north).unwrap();
            prop_assert!((back.0 - latitude).abs() < 1e-9);
            let off = (back.1 - longitude + 540.0).rem_euclid(360.0) - 180.0;
            prop_assert!(off.abs() < 1e-9);
            let way = way_m((latitude, longitude), to);
            prop_assert!((way.0 - east).abs() < 1e-3 && (way.1 - north).abs() < 1e-3);
        }
    }
}
