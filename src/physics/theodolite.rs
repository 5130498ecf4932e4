//! Where a balloon is by the angles at which one theodolite or two see it.
//!
//! The Earth is a sphere of mean radius. Light and radio waves bend towards it; a larger
//! sphere, on which they are straight, stands for both curvatures (effective radius: WMO-No. 8
//! Volume I chapter 13 and ITU-R P.310, from memory). The substitute holds for the lowest
//! kilometres and overstates the bending of rays that leave them, which are then steep
//! enough for it to matter little.

use super::drift::EARTH_M;

/// A direction in which a balloon is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// Above the horizon, degrees.
    pub elevation_deg: f64,
    /// Clockwise from true north, degrees.
    pub azimuth_deg: f64,
}

/// A point seen from the first theodolite: on the ground towards east and north, m, and
/// height above mean sea level, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Towards east along the ground, m.
    pub east_m: f64,
    /// Towards north along the ground, m.
    pub north_m: f64,
    /// Height above mean sea level, m, geometric.
    pub height_m: f64,
}

impl Point {
    /// Distance on the ground, m, and direction, degrees true, from the first theodolite.
    #[must_use]
    pub fn way(self) -> (f64, f64) {
        let azimuth_deg = self.east_m.atan2(self.north_m).to_degrees();
        (
            self.east_m.hypot(self.north_m),
            azimuth_deg.rem_euclid(360.0),
        )
    }
}

/// The radius of the sphere on which rays are straight, m; `refraction` is their curvature
/// in parts of that of the Earth (0.13 for light, 0.25 for radio waves).
///
/// ```
/// // Four thirds of the Earth.
/// let radius_m = fivefig::physics::theodolite::effective_radius_m(0.25);
/// assert!((radius_m / 6_371_008.77 - 4.0 / 3.0).abs() < 1e-8);
/// ```
#[must_use]
pub fn effective_radius_m(refraction: f64) -> f64 {
    EARTH_M / (1.0 - refraction)
}

/// How a point is seen from another, on a sphere of a radius, m.
#[must_use]
pub fn seen(from: Point, at: Point, radius_m: f64) -> Sight {
    let (east, north) = (at.east_m - from.east_m, at.north_m - from.north_m);
    let centre = east.hypot(north) / radius_m;
    let target = radius_m + at.height_m;
    // The fall of the ground, 1 - cos, without the loss of figures of small angles.
    let up = at.height_m - from.height_m - 2.0 * target * (centre / 2.0).sin().powi(2);
    Sight {
        elevation_deg: up.atan2(target * centre.sin()).to_degrees(),
        azimuth_deg: east.atan2(north).to_degrees().rem_euclid(360.0),
    }
}

/// The point of a known height, m, that a theodolite at another height sees in a direction.
///
/// In the triangle of the centre of the sphere, instrument and balloon the law of sines
/// gives the angle at the centre: cos(e + θ) = (R + h0) cos e / (R + h). `None` when
/// the balloon is not above the instrument.
///
/// ```
/// use fivefig::physics::theodolite::{Sight, single};
///
/// // On a sphere without curvature, 1000 m above the instrument at 45° to the east.
/// let sight = Sight { elevation_deg: 45.0, azimuth_deg: 90.0 };
/// let point = single(sight, 100.0, 1100.0, 1e12).unwrap();
/// assert!((point.east_m - 1000.0).abs() < 1e-3 && point.north_m.abs() < 1e-3);
/// ```
#[must_use]
pub fn single(sight: Sight, instrument_m: f64, height_m: f64, radius_m: f64) -> Option<Point> {
    if height_m.is_nan() || height_m <= instrument_m {
        return None;
    }
    let e = sight.elevation_deg.to_radians();
    let ratio = (radius_m + instrument_m) / (radius_m + height_m);
    let way_m = radius_m * ((ratio * e.cos()).acos() - e);
    let (sin, cos) = sight.azimuth_deg.to_radians().sin_cos();
    way_m.is_finite().then_some(Point {
        east_m: way_m * sin,
        north_m: way_m * cos,
        height_m,
    })
}

/// Error of a position, m, by an error of the elevation angle: the derivative of
/// h / tan e, which is h / sin² e. An error of azimuth gives less, h / tan e.
#[must_use]
pub fn position_error_m(above_m: f64, elevation_deg: f64, error_deg: f64) -> f64 {
    above_m * error_deg.to_radians() / elevation_deg.to_radians().sin().powi(2)
}

/// A position that two theodolites give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Where the angles fit best.
    pub point: Point,
    /// How badly they fit, degrees: the root of the sum of the squares of the four
    /// residuals, for four angles with three unknowns leave one degree of freedom.
    pub residual_deg: f64,
    /// Error of the position on the ground, m, by an error of each angle of one degree.
    pub error_m_per_deg: f64,
}

/// Lines of sight closer to parallel than this have no crossing: the square of the sine
/// of the angle between them (0.06°; our own choice).
const PARALLEL: f64 = 1e-6;
/// Most steps of the adjustment.
const STEPS: usize = 20;
/// A step shorter than this ends it, m.
const SETTLED_M: f64 = 1e-4;

/// The position that leaves the least squares of four angles, each in degrees of arc (those
/// of azimuth times the cosine of the elevation), by the method of Gauss and Newton from the
/// middle of the shortest line between the two lines of sight.
///
/// `None` when the lines are parallel, or come closest behind a theodolite.
#[must_use]
pub fn double(first: (Point, Sight), second: (Point, Sight), radius_m: f64) -> Option<Crossing> {
    let mut point = between(first, second)?;
    let stations = [first, second];
    for _ in 0..STEPS {
        let residuals = residuals(&stations, point, radius_m);
        let (normal, right) = normal(&stations, point, &residuals, radius_m);
        let step = solved(normal, right)?;
        point.east_m += step[0];
        point.north_m += step[1];
        point.height_m += step[2];
        if step.iter().all(|s| s.abs() < SETTLED_M) {
            let squares = residuals.iter().map(|r| r * r).sum::<f64>();
            let east = solved(normal, [1.0, 0.0, 0.0])?[0];
            let north = solved(normal, [0.0, 1.0, 0.0])?[1];
            return Some(Crossing {
                point,
                residual_deg: squares.sqrt().to_degrees(),
                error_m_per_deg: (east + north).sqrt() * 1_f64.to_radians(),
            });
        }
    }
    None
}

/// The middle of the shortest line between two lines of sight on a plane.
fn between(first: (Point, Sight), second: (Point, Sight)) -> Option<Point> {
    let [u, v] = [first.1, second.1].map(|sight| {
        let (sin_e, cos_e) = sight.elevation_deg.to_radians().sin_cos();
        let (sin_a, cos_a) = sight.azimuth_deg.to_radians().sin_cos();
        [cos_e * sin_a, cos_e * cos_a, sin_e]
    });
    let w = [
        second.0.east_m - first.0.east_m,
        second.0.north_m - first.0.north_m,
        second.0.height_m - first.0.height_m,
    ];
    let (uv, uw, vw) = (dot(u, v), dot(u, w), dot(v, w));
    let sine = 1.0 - uv * uv;
    if sine.is_nan() || sine < PARALLEL {
        return None;
    }
    // Along each line: the derivatives of the squared distance vanish.
    let along_first = (uw - uv * vw) / sine;
    let along_second = (uv * uw - vw) / sine;
    if along_first <= 0.0 || along_second <= 0.0 {
        return None;
    }
    let middle = |from: f64, u: f64, w: f64, v: f64| {
        from + f64::midpoint(along_first * u, w + along_second * v)
    };
    Some(Point {
        east_m: middle(first.0.east_m, u[0], w[0], v[0]),
        north_m: middle(first.0.north_m, u[1], w[1], v[1]),
        height_m: middle(first.0.height_m, u[2], w[2], v[2]),
    })
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Elevation and azimuth of each theodolite, seen less computed, radians of arc.
fn residuals(stations: &[(Point, Sight); 2], at: Point, radius_m: f64) -> [f64; 4] {
    let [a, b] = stations.map(|(from, sight)| {
        let computed = seen(from, at, radius_m);
        let turned = super::angles::shorter_arc(sight.azimuth_deg - computed.azimuth_deg);
        [
            (sight.elevation_deg - computed.elevation_deg).to_radians(),
            turned.to_radians() * sight.elevation_deg.to_radians().cos(),
        ]
    });
    [a[0], a[1], b[0], b[1]]
}

/// The normal equations of one step: derivatives by differences over a metre.
fn normal(
    stations: &[(Point, Sight); 2],
    at: Point,
    here: &[f64; 4],
    radius_m: f64,
) -> ([[f64; 3]; 3], [f64; 3]) {
    let moved = [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)].map(|(east, north, up)| {
        let there = Point {
            east_m: at.east_m + east,
            north_m: at.north_m + north,
            height_m: at.height_m + up,
        };
        let there = residuals(stations, there, radius_m);
        let mut column = [0.0; 4];
        for (slot, (here, there)) in column.iter_mut().zip(here.iter().zip(there)) {
            *slot = here - there;
        }
        column
    });
    let product = |a: &[f64; 4], b: &[f64; 4]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    (
        moved
            .each_ref()
            .map(|a| moved.each_ref().map(|b| product(a, b))),
        moved.each_ref().map(|a| product(a, here)),
    )
}

/// The solution of three linear equations by the rule of Cramer; `None` when they do not
/// determine it.
fn solved(m: [[f64; 3]; 3], right: [f64; 3]) -> Option<[f64; 3]> {
    let [a, b, c] = m;
    let whole = dot(a, cross(b, c));
    let scale: f64 = m.iter().map(|row| dot(*row, *row).sqrt()).product();
    if whole.is_nan() || whole.abs() <= scale * 1e-14 {
        return None;
    }
    // By columns: the matrix is symmetric, so its rows are its columns.
    Some([
        dot(right, cross(b, c)) / whole,
        dot(a, cross(right, c)) / whole,
        dot(a, cross(b, right)) / whole,
    ])
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn point(east_m: f64, north_m: f64, height_m: f64) -> Point {
        Point {
            east_m,
            north_m,
            height_m,
        }
    }

    fn sight(elevation_deg: f64, azimuth_deg: f64) -> Sight {
        Sight {
            elevation_deg,
            azimuth_deg,
        }
    }

    /// By hand: at 20 km the Earth falls away by s²/(2R) = 4e8 / 12 742 018 = 31.4 m, so a
    /// balloon 3000 m above the instrument is 2968.6 m above its horizon. The distance
    /// along the horizon is (R + 3000) sin(s/R) = 20 009.4 m. The elevation is
    /// atan(0.148 360) = 8.4389°; on a plane it would be atan(0.15) = 8.5308°.
    #[test]
    fn the_earth_falls_away() {
        let from = point(0.0, 0.0, 0.0);
        let at = point(0.0, 20_000.0, 3000.0);
        let curved = seen(from, at, effective_radius_m(0.0)).elevation_deg;
        assert!((curved - 8.4389).abs() < 2e-4, "{curved}");
        let plane = seen(from, at, 1e13).elevation_deg;
        assert!((plane - 8.5308).abs() < 1e-4, "{plane}");
        // Light bends: 13 % of the fall are given back, 4.1 m at 20 km, 0.0116°.
        let light = seen(from, at, effective_radius_m(0.13)).elevation_deg;
        assert!((light - curved - 0.0116).abs() < 5e-4, "{light}");
    }

    /// Two theodolites 1000 m apart from west to east see a balloon on a plane that is
    /// 500 m east, 500 m north and 500 sqrt(2) m above both: each at 45°, the first
    /// to the north-east, the second to the north-west.
    #[test]
    fn two_lines_cross() {
        let second = point(1000.0, 0.0, 0.0);
        let found = double(
            (point(0.0, 0.0, 0.0), sight(45.0, 45.0)),
            (second, sight(45.0, 315.0)),
            1e13,
        )
        .unwrap();
        assert!((found.point.east_m - 500.0).abs() < 1e-3, "{found:?}");
        assert!((found.point.north_m - 500.0).abs() < 1e-3, "{found:?}");
        assert!((found.point.height_m - 707.1068).abs() < 1e-3, "{found:?}");
        assert!(found.residual_deg < 1e-6, "{found:?}");
        // Elevations that differ by 1° are met half way, by symmetry: the azimuths stay,
        // and of the four residuals two are about half a degree each.
        let found = double(
            (point(0.0, 0.0, 0.0), sight(45.5, 45.0)),
            (second, sight(44.5, 315.0)),
            1e13,
        )
        .unwrap();
        assert!((found.point.north_m - 500.0).abs() < 5.0, "{found:?}");
        assert!((0.4..0.75).contains(&found.residual_deg), "{found:?}");
    }

    #[test]
    fn lines_that_do_not_cross() {
        let (a, b) = (point(0.0, 0.0, 0.0), point(1000.0, 0.0, 0.0));
        // Parallel, apart from each other, along the base line, both the same place.
        for (first, second) in [(45.0, 45.0), (270.0, 90.0), (90.0, 90.0)] {
            let found = double((a, sight(45.0, first)), (b, sight(45.0, second)), 1e13);
            assert_eq!(found, None, "{first} {second}");
        }
        let same = double((a, sight(45.0, 45.0)), (a, sight(45.0, 315.0)), 1e13);
        assert_eq!(same, None);
        let nan = double((a, sight(f64::NAN, 45.0)), (b, sight(45.0, 315.0)), 1e13);
        assert_eq!(nan, None);
        assert_eq!(single(sight(10.0, 0.0), 100.0, 100.0, 1e13), None);
        assert_eq!(single(sight(f64::NAN, 0.0), 0.0, 100.0, 1e13), None);
    }

    /// h / sin² e: 1000 m above at 30°, 0.1° = 0.001 745 33 rad: 4000 x that = 6.98 m.
    #[test]
    fn errors_grow_at_low_angles() {
        assert!((position_error_m(1000.0, 30.0, 0.1) - 6.9813).abs() < 1e-3);
    }

    proptest! {
        /// What is seen leads back to where it is, from one theodolite with the height and
        /// from two without it.
        #[test]
        fn seen_and_found_again(
            way in (-60e3..60e3_f64, 1e3..60e3_f64),
            height in 300.0..30e3_f64,
            base in (400.0..5e3_f64, -5e3..-400.0_f64),
            second in -50.0..250.0_f64,
        ) {
            let radius = effective_radius_m(0.13);
            let at = point(way.0, way.1, height);
            let (a, b) = (point(0.0, 0.0, 80.0), point(base.0, base.1, second));
            let sight = seen(a, at, radius);
            prop_assume!(sight.elevation_deg > 2.0);
            let one = single(sight, 80.0, height, radius).unwrap();
            prop_assert!((one.east_m - at.east_m).abs() < 1e-2, "{one:?}");
            prop_assert!((one.north_m - at.north_m).abs() < 1e-2, "{one:?}");
            if let Some(two) = double((a, sight), (b, seen(b, at, radius)), radius) {
                prop_assert!((two.point.east_m - at.east_m).abs() < 0.1, "{two:?}");
                prop_assert!((two.point.north_m - at.north_m).abs() < 0.1, "{two:?}");
                prop_assert!((two.point.height_m - at.height_m).abs() < 0.1, "{two:?}");
            }
        }
    }
}
