//! A clean invented ascent and one fault at a time in it. Rows are one second
//! apart and rise 5 m/s, so a minute is 60 rows and 300 gpm.

mod release;
mod samples;
mod stopping;

use super::*;
use crate::model::{Axis, Derivation, Motion, Position, Row, Station, Surface, Wind};
use crate::physics::humidity::dewpoint_c;

/// Temperature, °C, by height, gpm.
type Air = fn(f64) -> f64;

/// Noise between −0.5 and 0.5, the same every time (a linear congruential
/// sequence, constants in common use).
struct Dice(u32);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0) / f64::from(u32::MAX) - 0.5
    }
}

/// 6.5 K/km from 15 °C to 11 km, from there −56.5 °C (the shape of the U.S.
/// Standard Atmosphere, 1976).
fn usual(z: f64) -> f64 {
    15.0 - 6.5 * z.min(11_000.0) / 1000.0
}

fn rounded(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// The wind: veers 2° and freshens 1 m/s in each of a number of hundred metres.
fn wind_at(z: f64) -> Wind {
    Wind {
        dir_deg: (220.0 + z / 50.0) % 360.0,
        speed_ms: 5.0 + 25.0 * (z / 10_000.0).min(2.0 - z / 10_000.0).max(0.0),
    }
}

/// An ascent from 50 m, rows of `step_s`, rounded as files round.
fn ascent(count: u32, step_s: f64, air: Air) -> Profile {
    let mut dice = Dice(7);
    let (mut p, mut place) = (1008.0, (48.0, 11.0));
    let mut tv_below: Option<f64> = None;
    let mut rows = Vec::new();
    for i in 0..count {
        let time = f64::from(i) * step_s;
        let z = 50.0 + 5.0 * time;
        let t = rounded(air(z) + 0.06 * dice.next(), 0.01);
        let u = rounded(40.0 + 25.0 * (z / 700.0).sin() + dice.next(), 0.1);
        let mut wind = wind_at(z);
        wind.dir_deg = rounded(wind.dir_deg + 0.4 * dice.next(), 0.1).rem_euclid(360.0);
        wind.speed_ms = rounded(wind.speed_ms + 0.2 * dice.next(), 0.01);
        // Magnus form of WMO-No. 8, and the hydrostatic equation layer by layer.
        let vapour = u / 100.0 * 6.112 * (17.62 * t / (243.12 + t)).exp();
        let tv = (t + 273.15) / (1.0 - 0.378 * vapour / p);
        if let Some(below) = tv_below {
            p *= (-9.80665 * 5.0 * step_s / (287.05 * (below + tv) / 2.0)).exp();
        }
        tv_below = Some(tv);
        rows.push(Row {
            time_s: Some(time),
            pressure_hpa: Some(p),
            height_gpm: Some(rounded(z, 0.1)),
            temperature_c: Some(t),
            dewpoint_c: dewpoint_c(t, u),
            humidity_pct: Some(u),
            wind: Some(wind),
            place: None,
            ..Row::default()
        });
        let north = -wind.speed_ms * wind.dir_deg.to_radians().cos() * step_s;
        let east = -wind.speed_ms * wind.dir_deg.to_radians().sin() * step_s;
        let row = rows.last_mut().unwrap();
        row.place = Some(Position {
            latitude_deg: rounded(place.0, 1e-5),
            longitude_deg: rounded(place.1, 1e-5),
        });
        // 111 195 m are a degree of a circle of 6371 km.
        place.0 += north / 111_195.0;
        place.1 += east / (111_195.0 * f64::cos(place.0.to_radians()));
    }
    Profile {
        axis: Axis::Pressure,
        motion: Motion::Rising,
        rows,
        ..Profile::default()
    }
}

fn clean() -> Profile {
    ascent(4000, 1.0, usual)
}

/// A sheet that fits the clean ascent.
fn sheet() -> Context {
    let first = clean().rows[0].clone();
    Context {
        station: Station {
            latitude_deg: Some(48.0),
            longitude_deg: Some(11.0),
            elevation_m: Some(50.0),
            ..Station::default()
        },
        surface: Some(Surface {
            pressure_hpa: first.pressure_hpa,
            temperature_c: first.temperature_c,
            humidity_pct: first.humidity_pct,
            ..Surface::default()
        }),
        ..Context::default()
    }
}

/// Codes and words of the warnings.
fn warnings(findings: &[Finding]) -> Vec<(String, String)> {
    findings
        .iter()
        .filter(|f| f.severity > Severity::Info)
        .map(|f| (f.code.to_string(), f.what.clone()))
        .collect()
}

/// The one warning of a faulty ascent, which must be of this code; the rows
/// are the last thing it says.
#[track_caller]
fn only(profile: &Profile, context: &Context, code: &str, rows: &str) -> Finding {
    let findings = check(profile, context);
    let warned = warnings(&findings);
    assert!(
        warned.len() == 1 && warned[0].0 == code && warned[0].1.contains(rows),
        "{code} {rows}: {warned:#?}"
    );
    let found = findings.into_iter().find(|f| f.severity > Severity::Info);
    let found = found.unwrap();
    assert!(found.allowed.is_some() && found.clause.is_some());
    found
}

/// The clean ascent with some rows (from 1, both ends in) changed.
fn with(first: usize, last: usize, change: impl Fn(&mut Row)) -> Profile {
    let mut profile = clean();
    profile.rows[first - 1..last].iter_mut().for_each(change);
    profile
}

#[test]
fn a_clean_ascent_has_no_warning() {
    let findings = check(&clean(), &sheet());
    assert_eq!(warnings(&findings), []);
    assert_eq!(verdict(&findings), "go");
    let codes: Vec<&str> = findings.iter().map(|f| f.code.as_ref()).collect();
    // The two statistics are always reported.
    assert_eq!(codes, ["ascent-rate", "drift-wind"]);
    assert!(findings[0].what.contains("ascent is 5.0 m/s"));
}

#[test]
fn ten_rows_a_second_for_two_hours_are_clean_too() {
    let findings = check(&ascent(72_000, 0.1, usual), &sheet());
    assert_eq!(warnings(&findings), []);
}

#[test]
fn rows_without_time_are_clean_too() {
    let mut profile = clean();
    profile.rows.iter_mut().for_each(|r| r.time_s = None);
    assert_eq!(warnings(&check(&profile, &sheet())), []);
}

#[test]
fn a_jump_of_temperature_is_one_finding() {
    // 8 K in 1 s up and down again, the limit is 2.5 K/s × 1 s.
    let faulty = with(501, 501, |r| {
        *r.temperature_c.as_mut().unwrap() += 8.0;
    });
    let found = only(&faulty, &sheet(), "temperature-jump", "rows 500 to 502");
    assert!(found.what.contains(" K in 1.0 s"));
    assert_eq!(found.place.pressure_hpa, faulty.rows[500].pressure_hpa);
    assert_eq!(found.clause.unwrap(), "common practice, no source");
    // 2 K are within 2.5 K.
    let allowed = with(501, 501, |r| *r.temperature_c.as_mut().unwrap() += 2.0);
    assert_eq!(warnings(&check(&allowed, &sheet())), []);
}

#[test]
fn jumps_of_humidity_height_and_wind() {
    // 40 % in a row (limit 30 %/s), 200 gpm (limit 20 m/s).
    let faulty = with(900, 900, |r| {
        r.humidity_pct = r
            .humidity_pct
            .map(|u| if u > 50.0 { u - 40.0 } else { u + 40.0 });
    });
    only(&faulty, &sheet(), "humidity-jump", "rows 899 to 901");
    let faulty = with(900, 900, |r| *r.height_gpm.as_mut().unwrap() += 200.0);
    only(&faulty, &sheet(), "height-jump", "rows 899 to 901");
    // A step of the wind that stays: 12 m/s more from row 900 on (limit 4 m/s
    // in a second); positions left out, for they would disagree.
    let mut faulty = with(900, 4000, |r| r.wind.as_mut().unwrap().speed_ms += 12.0);
    faulty.rows.iter_mut().for_each(|r| r.place = None);
    only(&faulty, &sheet(), "wind-jump", "rows 899 to 900");
}

#[test]
fn positions_from_the_wind_are_not_compared_with_it() {
    let drifted = |profile: &Profile| {
        let findings = check(profile, &sheet());
        findings.iter().any(|f| f.code == "drift-wind")
    };
    let mut profile = clean();
    assert!(drifted(&profile));
    profile.derived.push(Derivation::PositionsFromWind);
    assert!(!drifted(&profile));
}

#[test]
fn a_constant_sensor_is_found() {
    // Rows 1000 to 1150: 150 s, the limit is 120 s. Temperature changes by
    // 6.5 K/km × 0.75 km = 4.9 K meanwhile, and comes back in one row.
    let held = clean().rows[999].clone();
    let frozen = |last: usize| with(1000, last, |r| r.temperature_c = held.temperature_c);
    let found = only(
        &frozen(1150),
        &sheet(),
        "temperature-constant",
        "rows 1000 to 1150",
    );
    assert!(found.what.contains("for 150 s"));
    let faulty = with(1000, 1150, |r| r.humidity_pct = held.humidity_pct);
    only(&faulty, &sheet(), "humidity-constant", "rows 1000 to 1150");
    let faulty = with(1000, 1150, |r| r.wind = held.wind);
    only(&faulty, &sheet(), "wind-constant", "rows 1000 to 1150");
    // 100 s are allowed; the 3.2 K with which it comes back are a jump.
    only(
        &frozen(1100),
        &sheet(),
        "temperature-jump",
        "rows 1100 to 1101",
    );
}

#[test]
fn saturated_and_very_dry_air_may_stay_constant() {
    for u in [100.0, 1.5] {
        let still = with(1000, 4000, |r| r.humidity_pct = Some(u));
        let codes = warnings(&check(&still, &sheet()));
        // Only the step in humidity into the layer may be reported.
        assert!(
            codes.iter().all(|(code, _)| code == "humidity-jump"),
            "{codes:?}"
        );
    }
    let still = with(1000, 4000, |r| r.humidity_pct = Some(2.0));
    let codes = warnings(&check(&still, &sheet()));
    assert!(codes.iter().any(|(code, _)| code == "humidity-constant"));
}

#[test]
fn a_column_of_whole_numbers_is_only_noted() {
    let mut profile = clean();
    for row in &mut profile.rows {
        // Whole per cents of a humidity that falls by 1 % in 200 s.
        row.humidity_pct = row.time_s.map(|t| (60.0 - t / 200.0).round());
    }
    let findings = check(&profile, &Context::default());
    assert_eq!(warnings(&findings), []);
    assert!(findings.iter().any(|f| f.code == "constant-whole-numbers"));
}

/// The usual air, but 20 K/km over 200 gpm from 3000 gpm on, made good over the
/// kilometre above.
fn unstable(z: f64) -> f64 {
    let extra = 13.5 / 1000.0 * (z - 3000.0).clamp(0.0, 200.0);
    usual(z) - extra * (1.0 - ((z - 3200.0) / 1000.0).clamp(0.0, 1.0))
}

/// 20 K/km over the lowest 150 gpm alone.
fn hot_ground(z: f64) -> f64 {
    usual(z) + 13.5 / 1000.0 * (200.0 - z).max(0.0)
}

#[test]
fn a_superadiabatic_layer_is_found() {
    // 3000 gpm is row (3000 - 50) / 5 + 1 = 591, 3200 gpm row 631. The top is
    // (20 - 9.76) K/km × 0.2 km = 2 K below the dry adiabat.
    let faulty = ascent(4000, 1.0, unstable);
    let found = only(&faulty, &sheet(), "superadiabatic", "rows ");
    let rows: Vec<f64> = found
        .what
        .split(' ')
        .filter_map(|w| w.parse().ok())
        .collect();
    let [.., first, last] = rows[..] else {
        panic!("{}", found.what)
    };
    assert!(
        (first - 591.0).abs() < 4.0 && (last - 631.0).abs() < 4.0,
        "{}",
        found.what
    );
    // Near the ground the sun does it.
    let context = Context {
        station: sheet().station,
        ..Context::default()
    };
    let findings = check(&ascent(4000, 1.0, hot_ground), &context);
    assert_eq!(warnings(&findings), []);
}

#[test]
fn a_growing_offset_of_height_is_found() {
    // 1 % too high: 100 gpm at 10 km. The limit is 30 gpm and what 0.1 hPa make:
    // 0.1 / 675 × 8000 gpm = 1 gpm near 3200 gpm, so it is passed where the
    // offset is 31 gpm, at 3150 gpm, row 621; the whole is 1 % of 19 995 gpm.
    let faulty = with(1, 4000, |r| {
        *r.height_gpm.as_mut().unwrap() += 0.01 * (r.time_s.unwrap() * 5.0);
    });
    let found = only(&faulty, &sheet(), "height-against-pressure", "at row 4000");
    let rows: Vec<f64> = found
        .what
        .split(' ')
        .filter_map(|w| w.parse().ok())
        .collect();
    let at = rows.iter().find(|r| (**r - 621.0).abs() < 25.0);
    assert!(at.is_some(), "{}", found.what);
    let total = rows.iter().find(|r| (**r - 200.0).abs() < 6.0);
    assert!(total.is_some(), "{}", found.what);
}

#[test]
fn a_wind_spike_is_found() {
    // 10 m/s more in three rows: the limits are 5 m/s from the median, and
    // 4 m/s in a second, which is not reported again.
    let faulty = with(2000, 2002, |r| r.wind.as_mut().unwrap().speed_ms += 10.0);
    only(&faulty, &sheet(), "wind-spike", "rows 2000 to 2002");
    let faulty = with(2000, 2000, |r| r.wind.as_mut().unwrap().speed_ms += 10.0);
    only(&faulty, &sheet(), "wind-spike", "row 2000");
}

#[test]
fn a_gap_of_time_is_found() {
    // Rows 1501 to 1560 are lost: 61 s from row 1500 to the next, limit 20 s.
    let mut faulty = clean();
    faulty.rows.drain(1500..1560);
    let found = only(&faulty, &sheet(), "time-gap", "rows 1500 to 1501");
    assert!(found.what.contains("61.0 s"));
    // 11 s are only irregular.
    let mut faulty = clean();
    faulty.rows.drain(1500..1510);
    let findings = check(&faulty, &sheet());
    assert_eq!(warnings(&findings), []);
    assert!(findings.iter().any(|f| f.code == "time-step-irregular"));
}

#[test]
fn an_element_missing_over_a_layer_is_noted() {
    // 100 rows without temperature, 505 gpm between those that have it.
    let faulty = with(1001, 1100, |r| r.temperature_c = None);
    let findings = check(&faulty, &sheet());
    assert_eq!(warnings(&findings), []);
    let found = findings
        .iter()
        .find(|f| f.code == "element-missing")
        .unwrap();
    assert!(found.what.starts_with("temperature is missing from "));
    assert!(found.what.ends_with("rows 1001 to 1100"), "{}", found.what);
    // 10 rows are not a layer: 55 gpm, reported from 100 gpm on.
    let faulty = with(1001, 1010, |r| r.temperature_c = None);
    let findings = check(&faulty, &sheet());
    assert!(findings.iter().all(|f| f.code != "element-missing"));
}

/// The clean ascent, held up for 120 s after row 1000 while it rises `rate` m/s.
fn held_up(rate: f64) -> Profile {
    let mut profile = clean();
    let base = profile.rows[999].clone();
    let next = profile.rows[1000].clone();
    let mut dice = Dice(3);
    let mut late: Vec<Row> = profile.rows.split_off(1000);
    let (z, p) = (base.height_gpm.unwrap(), base.pressure_hpa.unwrap());
    // Pressure falls with height as from row 1000 to the next, 5 gpm above, and
    // the layers above keep their ratios of pressure, as hydrostatics wants.
    let scale = 5.0 / (p / next.pressure_hpa.unwrap()).ln();
    for i in 1..=120_u32 {
        let s = f64::from(i);
        let mut row = base.clone();
        row.time_s = row.time_s.map(|t| t + s);
        row.height_gpm = Some(z + rate * s);
        row.pressure_hpa = Some(p * (-rate * s / scale).exp());
        row.temperature_c = row.temperature_c.map(|t| t + 0.06 * dice.next());
        row.humidity_pct = row.humidity_pct.map(|u| u + dice.next());
        row.wind.as_mut().unwrap().speed_ms += 0.2 * dice.next();
        row.place = None;
        profile.rows.push(row);
    }
    for row in &mut late {
        row.time_s = row.time_s.map(|t| t + 120.0);
        row.height_gpm = row.height_gpm.map(|z| z + rate * 120.0);
        row.pressure_hpa = row.pressure_hpa.map(|p| p * (-rate * 120.0 / scale).exp());
    }
    profile.rows.extend(late);
    profile
}

#[test]
fn a_floating_balloon_is_found() {
    // 120 s at 0.1 m/s. A minute is slower than 0.5 m/s when not more than
    // (0.5 - 0.1) / (5 - 0.1) × 60 = 4.9 s of it rise at 5 m/s: from 4 rows
    // before row 1000 to 4 rows after row 1120.
    let found = only(&held_up(0.1), &sheet(), "floating", "rows 996 to 1124");
    assert!(found.what.contains("0.1 m/s"));
    // 1 m/s is slow (limit 2 m/s), but no floating.
    only(&held_up(1.0), &sheet(), "ascent-slow", "rows ");
}

#[test]
fn a_fast_or_slow_ascent_is_found() {
    let paced = |factor: f64| {
        let mut profile = clean();
        for row in &mut profile.rows {
            row.time_s = row.time_s.map(|t| t * factor);
            row.place = None;
        }
        warnings(&check(&profile, &sheet()))
    };
    // 2.5 m/s is below 3 m/s in the mean; 12.5 m/s is above 8 m/s, and above
    // 10 m/s over every minute.
    let codes = |w: Vec<(String, String)>| w.into_iter().map(|w| w.0).collect::<Vec<_>>();
    assert_eq!(codes(paced(2.0)), ["ascent-rate-unusual"]);
    assert_eq!(codes(paced(0.4)), ["ascent-rate-unusual", "ascent-fast"]);
}

#[test]
fn a_drift_against_the_wind_is_found() {
    // Directions 30° off: the vectors of 5 to 30 m/s differ by
    // 2 sin 15° × speed = 2.6 to 15.5 m/s; the limits are 2 m/s in the mean
    // and 8 m/s anywhere.
    let faulty = with(1, 4000, |r| {
        let wind = r.wind.as_mut().unwrap();
        wind.dir_deg = (wind.dir_deg + 30.0).rem_euclid(360.0);
    });
    let found = only(&faulty, &sheet(), "drift-against-wind", "most by 15.");
    // The wind is strongest at 10 km, row 1991.
    assert!(
        found.what.contains("rows 19") || found.what.contains("rows 20"),
        "{}",
        found.what
    );
}

#[test]
fn positions_in_hundredths_are_not_compared_with_the_wind_as_if_exact() {
    let mut profile = clean();
    for place in profile.rows.iter_mut().filter_map(|r| r.place.as_mut()) {
        place.latitude_deg = rounded(place.latitude_deg, 0.01);
        place.longitude_deg = rounded(place.longitude_deg, 0.01);
    }
    assert_eq!(warnings(&check(&profile, &sheet())), []);
}

#[test]
fn many_findings_of_a_code_are_cut_short() {
    let mut noisy = clean();
    // Every tenth row 8 K too warm: 399 runs of three rows.
    for row in noisy.rows.iter_mut().skip(10).step_by(10) {
        *row.temperature_c.as_mut().unwrap() += 8.0;
    }
    let warned = warnings(&check(&noisy, &Context::default()));
    let jumps = warned.iter().filter(|(code, _)| code == "temperature-jump");
    assert_eq!(jumps.count(), 21);
    let last = &warned
        .iter()
        .rfind(|(code, _)| code == "temperature-jump")
        .unwrap()
        .1;
    assert_eq!(last, "379 more findings `temperature-jump`");
}

#[test]
fn two_rows_and_odd_rows_do_no_harm() {
    for rows in [
        vec![],
        vec![Row::default()],
        vec![Row::default(); 300],
        vec![
            Row {
                pressure_hpa: Some(0.0),
                temperature_c: Some(-300.0),
                time_s: Some(1e300),
                height_gpm: Some(-1e300),
                humidity_pct: Some(1e9),
                ..Row::default()
            };
            300
        ],
        (0..300_u32)
            .map(|i| Row {
                pressure_hpa: Some(1e-300),
                temperature_c: Some(1e300),
                time_s: Some(if i % 2 == 0 { 1e308 } else { -1e308 }),
                height_gpm: Some(if i % 3 == 0 { 1e308 } else { -1e308 }),
                wind: Some(Wind {
                    dir_deg: 360.0,
                    speed_ms: 1e308,
                }),
                place: Some(Position {
                    latitude_deg: 90.0,
                    longitude_deg: 180.0,
                }),
                ..Row::default()
            })
            .collect(),
    ] {
        for motion in [Motion::Rising, Motion::Falling] {
            let profile = Profile {
                motion,
                rows: rows.clone(),
                ..Profile::default()
            };
            for context in [sheet(), Context::default()] {
                let findings = check(&profile, &context);
                assert!(!verdict(&findings).is_empty());
            }
        }
    }
}

#[test]
fn every_limit_has_a_source() {
    for row in crate::tables::profile_limit_rows() {
        assert!(
            !row.source.is_empty() && !row.clause.is_empty(),
            "{}",
            row.name
        );
    }
}
