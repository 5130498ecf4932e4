//! A pilot balloon and the angles at which a theodolite sees it, from known winds: the track
//! goes in steps of a second over a sphere, bearings are those of great circles, elevations
//! follow from the sides of the triangle of centre, instrument and balloon on the larger sphere
//! on which light is straight.

/// Mean radius of the Earth, m.
const EARTH_M: f64 = 6_371_008.771_4;
/// Coefficient of refraction of light.
const REFRACTION: f64 = 0.13;
/// Station: degrees north and east, m.
const STATION: (f64, f64, f64) = (38.47, -27.12, 62.0);
const MINUTES: u32 = 40;

/// Rate of ascent of a balloon of 30 g, m/s: 216 m in the first minute, 198 m in the next two,
/// 189 m in the two after them, and 180 m from then on.
fn rate_ms(second: u32) -> f64 {
    match second / 60 {
        0 => 3.6,
        1 | 2 => 3.3,
        3 | 4 => 3.15,
        _ => 3.0,
    }
}

fn height_m(second: u32) -> f64 {
    STATION.2 + (0..second).map(rate_ms).sum::<f64>()
}

/// The wind, m/s towards east and north: from 60° at 5 m/s near the ground, 10 m/s at 1500 m,
/// turning through east and south to west above 2500 m, 22 m/s at 7 km.
fn wind_ms(height_m: f64) -> (f64, f64) {
    let line = |points: &[(f64, f64)]| {
        let pairs = points.iter().zip(points.iter().skip(1));
        let mut value = points.last().map_or(0.0, |p| p.1);
        for (a, b) in pairs {
            if height_m < b.0 {
                value = a.1 + (height_m.max(a.0) - a.0) / (b.0 - a.0) * (b.1 - a.1);
                break;
            }
        }
        value
    };
    let speed = line(&[(62.0, 5.0), (1500.0, 10.0), (2600.0, 5.5), (7500.0, 23.0)]);
    let from = line(&[
        (62.0, 60.0),
        (1500.0, 85.0),
        (3200.0, 250.0),
        (7500.0, 285.0),
    ]);
    let (sin, cos) = from.to_radians().sin_cos();
    (-speed * sin, -speed * cos)
}

/// The wind of one second.
fn in_second_ms(second: u32) -> (f64, f64) {
    wind_ms((height_m(second) + height_m(second + 1)) / 2.0)
}

/// The mean wind between two times after release, s.
pub fn mean_ms(from_s: f64, to_s: f64) -> (f64, f64) {
    let inside = |second: &u32| (from_s..to_s).contains(&f64::from(*second));
    let winds = (0..MINUTES * 60).filter(inside).map(in_second_ms);
    let (u, v) = winds.fold((0.0, 0.0), |sum, wind| (sum.0 + wind.0, sum.1 + wind.1));
    (u / (to_s - from_s), v / (to_s - from_s))
}

/// Elevation and azimuth, degrees, at which the station sees a place.
fn seen_deg(to: (f64, f64, f64)) -> (f64, f64) {
    let (a, b) = (STATION.0.to_radians(), to.0.to_radians());
    let around = (to.1 - STATION.1).to_radians();
    let half = ((b - a) / 2.0).sin().powi(2) + a.cos() * b.cos() * (around / 2.0).sin().powi(2);
    let bearing = (around.sin() * b.cos())
        .atan2(a.cos() * b.sin() - a.sin() * b.cos() * around.cos())
        .to_degrees();
    let larger = EARTH_M / (1.0 - REFRACTION);
    let centre = 2.0 * half.sqrt().asin() * (1.0 - REFRACTION);
    let (p, q) = (larger + STATION.2, larger + to.2);
    let straight = ((q - p).powi(2) + 4.0 * p * q * (centre / 2.0).sin().powi(2)).sqrt();
    let sine = ((q - p) * (q + p) - straight.powi(2)) / (2.0 * p * straight);
    (sine.asin().to_degrees(), bearing.rem_euclid(360.0))
}

/// The notebook: one row per minute, angles to a tenth of a degree.
pub fn file() -> String {
    let mut text = "# invented station, invented flight: pilot balloon of 30 g followed with a theodolite\n\
         # invented station, invented flight: made from known winds by tests/suite/scene/theodolite.rs, measured by no one\n\
         time_min,elevation_deg,azimuth_deg\n"
        .to_owned();
    let (mut lat, mut lon) = (STATION.0, STATION.1);
    for second in 0..MINUTES * 60 {
        let (u, v) = in_second_ms(second);
        let middle = lat + (v / 2.0 / EARTH_M).to_degrees();
        lon += (u / EARTH_M / middle.to_radians().cos()).to_degrees();
        lat += (v / EARTH_M).to_degrees();
        if (second + 1) % 60 == 0 {
            let (elevation, azimuth) = seen_deg((lat, lon, height_m(second + 1)));
            text += &format!("{},{elevation:.1},{azimuth:.1}\n", (second + 1) / 60);
        }
    }
    text
}
