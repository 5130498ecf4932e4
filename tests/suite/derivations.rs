//! Quantities that a file lacks and that follow from the others: held to the U.S.
//! Standard Atmosphere, to published gravity, and, on every sample, to the column
//! that was taken away.
//!
//! With `FIVEFIG_PROFILES` naming a folder of `NAME.csv` and `NAME.toml`, pressure
//! is taken from every flight in it as well.

use approx::assert_abs_diff_eq;
use std::fs;
use std::path::Path;

use crate::scene;

use fivefig::input::{RawProfile, RawRow};
use fivefig::issue;
use fivefig::model::finding::Finding;
use fivefig::model::{
    Context, Form, HeightKind, HeightReference, HumidityOver, PressureAt, Profile, Reach, Surface,
    Wind,
};
use fivefig::physics::gravity::geopotential_gpm;
use fivefig::physics::humidity::{humidity_from_ice_pct, relative_humidity_pct};
use fivefig::profile::{self, ProfileError};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::support::{read as flight, sample};

/// Samples that rise and have pressure, temperature and a height throughout.
const WHOLE: [&str; 11] = [
    "gaps",
    "low_burst",
    "mobile",
    "plateau",
    "polar_night",
    "ship",
    "tropical",
    "twin_levels",
    "windless",
    "winter_jet",
    "descent",
];

/// The profile and the findings, to be taken apart.
fn build(raw: &RawProfile, context: &Context) -> Result<(Profile, Vec<Finding>), ProfileError> {
    profile::build(raw, context).map(Into::into)
}

fn text(profile: &Profile, context: &Context) -> String {
    let coded = issue::code(Form::Temp, profile, context, Reach::Whole).unwrap();
    coded.message.to_string()
}

/// The surface pressure of a flight in its sheet, at the release point.
fn with_surface(context: &Context, pressure_hpa: f64) -> Context {
    Context {
        surface: Some(Surface {
            pressure_hpa: Some(pressure_hpa),
            pressure_at: PressureAt::Release,
            ..context.surface.clone().unwrap_or_default()
        }),
        ..context.clone()
    }
}

fn without(raw: &RawProfile, take: impl Fn(&mut RawRow)) -> RawProfile {
    let mut raw = raw.clone();
    raw.rows.iter_mut().for_each(take);
    raw
}

// The standard atmosphere.

fn standard(keep: impl Fn(&mut RawRow)) -> RawProfile {
    let rows = scene::standard::rows().into_iter().zip(2..);
    let rows = rows.map(|(r, line)| {
        let mut row = RawRow {
            line,
            time_s: Some(f64::from(r.time_s)),
            pressure_hpa: Some(r.pressure_hpa),
            height_gpm: Some(r.height_gpm),
            temperature_c: r.temperature_c,
            ..RawRow::default()
        };
        keep(&mut row);
        row
    });
    RawProfile {
        name: "standard".to_owned(),
        rows: rows.collect(),
        start: None,
    }
}

fn at_sea() -> Context {
    Context {
        station: serde_json::from_str(r#"{"latitude_deg": 45.5425, "elevation_m": 0}"#).unwrap(),
        surface: Some(Surface {
            pressure_hpa: Some(1013.25),
            ..Surface::default()
        }),
        ..Context::default()
    }
}

/// U.S. Standard Atmosphere, 1976, table II: geopotential height, gpm, and
/// pressure, hPa (from memory; the formulas 33a and 33b, from which the rows are
/// made, give the same).
const PUBLISHED: [(f64, f64); 9] = [
    (0.0, 1013.25),
    (1000.0, 898.746),
    (3000.0, 701.085),
    (5000.0, 540.199),
    (10_000.0, 264.362),
    (15_000.0, 120.445),
    (20_000.0, 54.7487),
    (25_000.0, 25.110),
    (30_000.0, 11.718_7),
];

#[test]
fn pressures_of_the_standard_atmosphere_come_from_its_heights() {
    let raw = standard(|r| r.pressure_hpa = None);
    let (profile, findings) = build(&raw, &at_sea()).unwrap();
    assert!(findings.iter().any(|f| f.code == "pressure-integrated"));
    let mut worst: f64 = 0.0;
    for row in profile
        .rows
        .iter()
        .filter(|r| r.height_gpm.unwrap() <= 31_000.0)
    {
        let (p, _) = scene::standard::pressure_and_temperature(row.height_gpm.unwrap());
        worst = worst.max((row.pressure_hpa.unwrap() / p - 1.0).abs());
    }
    assert!(worst < 2e-4, "{worst}");
    for (z, p) in PUBLISHED {
        let row = profile
            .rows
            .iter()
            .find(|r| r.height_gpm == Some(z))
            .unwrap();
        let own = row.pressure_hpa.unwrap();
        assert!((own / p - 1.0).abs() < 2e-4, "{z}: {own}");
    }
}

#[test]
fn heights_of_the_standard_atmosphere_come_from_its_pressures() {
    let raw = standard(|r| r.height_gpm = None);
    let (profile, _) = build(&raw, &at_sea()).unwrap();
    for (row, given) in profile.rows.iter().zip(scene::standard::rows()) {
        if given.height_gpm <= 31_000.0 {
            let off = row.height_gpm.unwrap() - given.height_gpm;
            assert!(off.abs() < 2.0, "{}: {off}", given.height_gpm);
        }
    }
}

// Gravity.

/// Gravity, m/s², above the ellipsoid: NIMA TR8350.2, equations 4-1 and 4-3, with
/// the constants of WGS 84 (from memory).
fn gravity(latitude_deg: f64, altitude_m: f64) -> f64 {
    let s2 = latitude_deg.to_radians().sin().powi(2);
    let surface = 9.780_325_335_9 * (1.0 + 0.001_931_852_652_41 * s2)
        / (1.0 - 0.006_694_379_990_14 * s2).sqrt();
    let (a, f, m) = (6_378_137.0, 1.0 / 298.257_223_563, 0.003_449_786_506_84);
    surface
        * (1.0 - 2.0 / a * (1.0 + f + m - 2.0 * f * s2) * altitude_m
            + 3.0 * altitude_m * altitude_m / (a * a))
}

#[test]
fn geopotential_is_the_integral_of_published_gravity() {
    for latitude in [0.0, 45.0, 90.0] {
        let mut sum = 0.0;
        let step = 100.0;
        for k in 0..400 {
            let altitude = step * f64::from(k);
            // Simpson's rule over each hundred metres.
            let g = |m: f64| gravity(latitude, altitude + m);
            sum += step / 6.0 * (g(0.0) + 4.0 * g(step / 2.0) + g(step));
            let z = geopotential_gpm(altitude + step, latitude);
            assert!(
                (z - sum / 9.80665).abs() < 2.0,
                "{latitude}, {altitude}: {z}"
            );
        }
    }
    // U.S. Standard Atmosphere, 1976, table I (from memory), where gravity is the
    // standard one: geometric and geopotential.
    for (m, gpm) in [
        (10_000.0, 9984.0),
        (20_000.0, 19_937.0),
        (30_000.0, 29_859.0),
    ] {
        assert!((geopotential_gpm(m, 45.5425) - gpm).abs() < 4.0, "{m}");
    }
}

// What was taken away comes back.

/// Greatest departures of pressures, as a share and in hPa, of rows at the same
/// time.
fn departures(whole: &Profile, back: &Profile) -> (f64, f64) {
    let mut later = back.rows.iter().peekable();
    let mut worst: (f64, f64) = (0.0, 0.0);
    let mut pairs = 0;
    for row in &whole.rows {
        while later.next_if(|r| r.time_s < row.time_s).is_some() {}
        if let Some(same) = later.peek().filter(|r| r.time_s == row.time_s) {
            let (a, b) = (row.pressure_hpa.unwrap(), same.pressure_hpa.unwrap());
            worst = (worst.0.max((b / a - 1.0).abs()), worst.1.max((b - a).abs()));
            pairs += 1;
        }
    }
    assert!(pairs * 10 > whole.rows.len() * 9, "{pairs} pairs");
    worst
}

/// Pressure taken away and computed: the greatest departures.
fn recovered(raw: &RawProfile, context: &Context) -> (f64, f64) {
    let mut raw = raw.clone();
    // A level below the ground, which a station's own choice has, is no surface.
    let first = raw.rows.iter().position(|r| r.temperature_c.is_some());
    raw.rows.drain(..first.unwrap());
    let raw = &raw;
    let (whole, _) = build(raw, context).unwrap();
    let context = with_surface(context, whole.rows[0].pressure_hpa.unwrap());
    let (back, findings) = build(&without(raw, |r| r.pressure_hpa = None), &context).unwrap();
    assert!(
        findings.iter().any(|f| f.code == "pressure-integrated"),
        "{findings:?}"
    );
    departures(&whole, &back)
}

#[test]
fn pressure_taken_from_a_sample_comes_back() {
    for name in WHOLE {
        let (raw, sheet) = sample(name);
        let (share, hpa) = recovered(&raw, &sheet.context);
        println!("{name}: {:.4} %, {hpa:.3} hPa", share * 100.0);
        // Noise of temperature, and layers of `gaps` without it.
        assert!(share < 1e-3 && hpa < 0.25, "{name}: {share}, {hpa} hPa");
    }
}

#[test]
fn pressure_taken_from_other_flights_comes_back() {
    let Some(folder) = std::env::var_os("FIVEFIG_PROFILES") else {
        println!("FIVEFIG_PROFILES is not set: no other flights");
        return;
    };
    let folder = Path::new(&folder);
    let mut held = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        let name = path.file_stem().unwrap().to_str().unwrap();
        let (raw, sheet) = flight(folder, name);
        let warm = raw.rows.iter().filter(|r| r.temperature_c.is_some());
        if warm.count() * 2 < raw.rows.len() {
            println!("{name}: no temperature to compute it from");
            continue;
        }
        let (profile, findings) = build(&raw, &sheet.context).unwrap();
        let lengths = raw.rows.iter().any(|r| r.altitude_m.is_some());
        let top = profile.rows.last().unwrap().pressure_hpa.unwrap();
        // What these files call altitude is geopotential, as the tool says where a
        // flight is high enough to tell.
        let reported = findings.iter().any(|f| f.code == "kind-of-height");
        assert_eq!(reported, lengths && top < 300.0, "{name}");
        let raw = without(&raw, |r| {
            r.height_gpm = r.height_gpm.or(r.altitude_m.take())
        });
        let (share, hpa) = recovered(&raw, &sheet.context);
        println!("{name}: {:.4} %, {hpa:.3} hPa", share * 100.0);
        assert!(share < 5e-3 && hpa < 0.3, "{name}: {share}, {hpa} hPa");
        held += 1;
    }
    println!("{held} other flights");
    assert!(held > 0);
}

#[test]
fn heights_above_the_ellipsoid_code_the_same_message() {
    // The first rows of these lie at the height of their release points.
    for name in ["winter_jet", "tropical"] {
        let (raw, sheet) = sample(name);
        let as_length = |off: f64| {
            without(&raw, |r| {
                r.altitude_m = r.height_gpm.take().map(|z| z + off);
            })
        };
        // The geopotential of the sample serves as a length here.
        let mut context = sheet.context.clone();
        context.meaning.height_kind = Some(HeightKind::Geometric);
        let level = build(&as_length(0.0), &context).unwrap().0;
        context.meaning.height_reference = HeightReference::Ellipsoid;
        for off in [-82.4, 47.3] {
            let (profile, findings) = build(&as_length(off), &context).unwrap();
            assert!(findings.iter().any(|f| f.code == "ellipsoid-height"));
            assert_eq!(
                text(&profile, &context),
                text(&level, &context),
                "{name} {off}"
            );
        }
    }
}

#[test]
fn humidity_over_ice_codes_the_same_message() {
    for name in ["winter_jet", "polar_night"] {
        let (raw, sheet) = sample(name);
        // Over ice: the humidity over water times the ratio of the saturations.
        let over_ice = without(&raw, |r| {
            if let Some((t, u)) = r.temperature_c.zip(r.humidity_pct) {
                r.humidity_pct = Some(u / humidity_from_ice_pct(t, 100.0) * 100.0);
            }
        });
        let mut context = sheet.context.clone();
        context.meaning.humidity_over = HumidityOver::Ice;
        let (profile, _) = build(&over_ice, &context).unwrap();
        let (plain, _) = build(&raw, &sheet.context).unwrap();
        for (row, wanted) in profile.rows.iter().zip(&plain.rows) {
            let (u, wanted) = (row.humidity_pct, wanted.humidity_pct);
            assert_eq!(u.is_some(), wanted.is_some());
            assert_abs_diff_eq!(u.unwrap_or(0.0), wanted.unwrap_or(0.0), epsilon = 1e-6);
        }
        assert_eq!(text(&profile, &context), text(&plain, &context), "{name}");
        // A frost point says the same as the humidity.
        let frost = without(&over_ice, |r| {
            r.humidity_pct = None;
            r.dewpoint_c = r.temperature_c.map(|t| t - 4.0);
        });
        let (profile, _) = build(&frost, &context).unwrap();
        let cold = profile
            .rows
            .iter()
            .skip(1)
            .find(|r| r.temperature_c.unwrap() < -20.0);
        let row = cold.unwrap();
        let (t, u) = (row.temperature_c.unwrap(), row.humidity_pct.unwrap());
        let over_water = relative_humidity_pct(t, t - 4.0);
        // 4 K below the temperature over ice is less vapour than over water.
        assert!(u < over_water, "{t}: {u} {over_water}");
    }
}

#[test]
fn winds_come_back_from_the_positions_of_samples() {
    for name in ["winter_jet", "tropical", "polar_night", "low_burst"] {
        let (raw, sheet) = sample(name);
        let track = without(&raw, |r| {
            r.wind_dir_deg = None;
            r.wind_speed_ms = None;
        });
        let (whole, _) = build(&raw, &sheet.context).unwrap();
        let (profile, findings) = build(&track, &sheet.context).unwrap();
        let reported = findings.iter().find(|f| f.code == "wind-from-positions");
        println!("{name}: {}", reported.unwrap());
        let mut squares = Vec::new();
        // The sheet's surface wind replaces that of the first row.
        for (row, own) in profile.rows.iter().zip(&whole.rows).skip(1) {
            if let Some((a, b)) = row.wind.zip(own.wind) {
                let ((u, v), (x, y)) = (a.components_ms(), b.components_ms());
                squares.push((u - x).powi(2) + (v - y).powi(2));
            }
        }
        assert!(squares.len() * 20 > whole.rows.len() * 19);
        let rms = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
        println!("{name}: rms {rms:.2} m/s");
        // The winds of the samples have noise of their own, which half a minute of
        // track smooths.
        assert!(rms < 1.0, "{name}: {rms}");
    }
}

#[test]
fn a_sonde_that_stood_before_release_codes_the_same_message() {
    for name in ["winter_jet", "plateau"] {
        let (raw, sheet) = sample(name);
        let (whole, _) = build(&raw, &sheet.context).unwrap();
        let first = raw.rows[0].clone();
        let stood = 137.0;
        let mut waiting = raw.clone();
        for row in &mut waiting.rows {
            row.time_s = row.time_s.map(|t| t + stood);
        }
        let standing = (0..137).map(|t| RawRow {
            time_s: Some(f64::from(t)),
            ..first.clone()
        });
        waiting.rows.splice(0..0, standing);
        let (profile, findings) = build(&waiting, &sheet.context).unwrap();
        assert!(findings.iter().any(|f| f.code == "release-found"), "{name}");
        assert_eq!(profile.rows, whole.rows, "{name}");
        // The same where the file says the time of day, two minutes too early.
        let mut dated = waiting.clone();
        let release = sheet.context.flight.release.unwrap();
        dated.start = Some(release - jiff::SignedDuration::from_secs(137));
        let (profile, _) = build(&dated, &sheet.context).unwrap();
        assert_eq!(profile.rows, whole.rows, "{name}");
    }
}

/// The receiver of a sonde without pressure sensor: height above the ellipsoid,
/// temperature, humidity and a track.
#[test]
fn height_temperature_humidity_and_track_make_the_whole_message() {
    let (raw, sheet) = sample("winter_jet");
    let (whole, _) = build(&raw, &sheet.context).unwrap();
    let bare = without(&raw, |r| {
        *r = RawRow {
            line: r.line,
            time_s: r.time_s,
            altitude_m: r
                .height_gpm
                .map(|z| fivefig::physics::gravity::altitude_m(z, 51.25) + 48.7),
            temperature_c: r.temperature_c,
            humidity_pct: r.humidity_pct,
            latitude_deg: r.latitude_deg,
            longitude_deg: r.longitude_deg,
            ..RawRow::default()
        };
    });
    let mut context = sheet.context.clone();
    context.meaning.height_reference = HeightReference::Ellipsoid;
    let (profile, _) = build(&bare, &context).unwrap();
    let (share, hpa) = departures(&whole, &profile);
    assert!(share < 2e-3 && hpa < 0.3, "{share} {hpa}");
    let parts = |message: &str| {
        message
            .split("\n\n")
            .map(|p| p[..4].to_owned())
            .collect::<Vec<_>>()
    };
    let (own, given) = (text(&profile, &context), text(&whole, &sheet.context));
    assert_eq!(parts(&own), parts(&given));
    // Part A: the same surface, tropopauses and standard levels but for the last
    // figure of some; in all, at most a fifth of the groups differ.
    let (a, b): (Vec<_>, Vec<_>) = (
        own.split("\n\n")
            .next()
            .unwrap()
            .split_whitespace()
            .collect(),
        given
            .split("\n\n")
            .next()
            .unwrap()
            .split_whitespace()
            .collect(),
    );
    assert_eq!(a.len(), b.len(), "{own}\n{given}");
    let other = a.iter().zip(&b).filter(|(a, b)| a != b).count();
    assert!(
        other * 5 <= a.len(),
        "{other} of {}\n{own}\n{given}",
        a.len()
    );
}

#[test]
fn a_surface_observation_far_from_the_sonde_is_a_warning() {
    let (raw, sheet) = sample("winter_jet");
    let reported = |surface: Surface| {
        let context = Context {
            surface: Some(surface),
            ..sheet.context.clone()
        };
        let (profile, _) = build(&raw, &context).unwrap();
        let coded = issue::code(Form::Temp, &profile, &context, Reach::Whole).unwrap();
        let mut codes: Vec<String> = (coded.findings.iter())
            .filter(|f| f.code.starts_with("sonde-"))
            .map(|f| f.code.to_string())
            .collect();
        codes.sort();
        codes
    };
    let given = sheet.context.surface.clone().unwrap();
    assert_eq!(reported(given.clone()), Vec::<String>::new());
    // 5 hPa, 6 K and 30 % off: the limits are 1.5 hPa, 2 K and 10 %
    // (tables/profile_limits.csv).
    let off = Surface {
        pressure_hpa: given.pressure_hpa.map(|p| p + 5.0),
        temperature_c: given.temperature_c.map(|t| t - 6.0),
        humidity_pct: given.humidity_pct.map(|u| u - 30.0),
        ..given
    };
    assert_eq!(
        reported(off),
        ["sonde-humidity", "sonde-pressure", "sonde-temperature"]
    );
}

/// Columns of air: heights of the rows and what is in them.
fn columns() -> impl Strategy<Value = Vec<RawRow>> {
    let step = (3.0..60.0_f64, -1.5..1.0_f64, 1.0..100.0_f64);
    (vec(step, 20..200), -20.0..35.0_f64, 850.0..1050.0_f64).prop_map(|(steps, start, ground)| {
        let (mut z, mut t, mut time) = (100.0, start, 0.0);
        let mut rows = vec![RawRow {
            pressure_hpa: Some(ground),
            height_gpm: Some(z),
            temperature_c: Some(t),
            humidity_pct: Some(60.0),
            time_s: Some(time),
            line: 2,
            ..RawRow::default()
        }];
        for (up, warmer, humidity) in steps {
            z += up;
            time += up / 5.0;
            t = (t + warmer).clamp(-90.0, 45.0);
            rows.push(RawRow {
                height_gpm: Some(z),
                temperature_c: Some(t),
                humidity_pct: Some(humidity),
                time_s: Some(time),
                line: rows.len() + 2,
                ..RawRow::default()
            });
        }
        rows
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Pressures made from heights, and heights made from those again: the two
    /// integrations are inverse.
    #[test]
    fn heights_come_back_from_the_pressures_made_of_them(rows in columns()) {
        let mut context = at_sea();
        context.station.elevation_m = Some(100.0);
        let ground = rows[0].pressure_hpa.unwrap();
        context.surface = None;
        let raw = RawProfile { name: "x".to_owned(), rows, start: None };
        let bare = without(&raw, |r| r.pressure_hpa = None);
        let (up, _) = build(&bare, &with_surface(&context, ground)).unwrap();
        let mut made = raw.clone();
        let mut of = up.rows.iter();
        for row in &mut made.rows {
            row.pressure_hpa = of.next().unwrap().pressure_hpa;
            prop_assert!(row.pressure_hpa.is_some());
            row.height_gpm = None;
        }
        let (back, findings) = build(&made, &context).unwrap();
        prop_assert!(findings.iter().any(|f| f.code == "height-integrated"));
        for (row, given) in back.rows.iter().zip(&raw.rows) {
            let off = row.height_gpm.unwrap() - given.height_gpm.unwrap();
            // Pressures are kept to a billionth of a hectopascal.
            prop_assert!(off.abs() < 1e-4, "{off}");
        }
    }

    /// Positions made from an even wind give it back.
    #[test]
    fn an_even_wind_comes_back_from_its_positions(
        latitude in -80.0..80.0_f64,
        longitude in -180.0..180.0_f64,
        dir_deg in 0.0..360.0_f64,
        speed_ms in 1.0..80.0_f64,
    ) {
        let wind = Wind { dir_deg, speed_ms };
        let (east, north) = wind.components_ms();
        let rows = (0..120).map(|t| {
            let s = f64::from(t);
            let (lat, lon) =
                fivefig::physics::drift::moved((latitude, longitude), east * s, north * s).unwrap();
            RawRow {
                line: 2,
                time_s: Some(s),
                pressure_hpa: Some(1000.0 - s / 2.0),
                height_gpm: Some(100.0 + 5.0 * s),
                temperature_c: Some(10.0),
                latitude_deg: Some(lat),
                longitude_deg: Some(lon),
                ..RawRow::default()
            }
        });
        let raw = RawProfile { name: "x".to_owned(), rows: rows.collect(), start: None };
        let mut context = at_sea();
        context.surface = None;
        context.station.elevation_m = Some(100.0);
        let (profile, _) = build(&raw, &context).unwrap();
        for row in &profile.rows {
            let (u, v) = row.wind.unwrap().components_ms();
            // East is turned into degrees at the middle of each way: near 80° a
            // kilometre north changes it by a thousandth.
            let within = 1e-6 + speed_ms * 2e-3;
            prop_assert!((u - east).abs() < within && (v - north).abs() < within, "{u} {v}");
        }
    }
}
