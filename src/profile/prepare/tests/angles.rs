//! Winds of balloons that are followed by their angles.
//!
//! The angles are generated here from known winds by geometry of its own: the track goes
//! in steps of a second over a sphere, bearings are those of great circles by haversines, and
//! elevations follow from the sides of the triangle of centre, instrument and balloon.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "seconds of a flight are few"
)]

use super::*;
use crate::model::raw::{Angles, RawProfile, RawRow};
use crate::model::{Balloon, Equipment, Form, Tracking, TrackingMethod, Wind};

/// Mean radius of the Earth, m.
const R: f64 = 6_371_008.771_4;
const SITE: (f64, f64) = (60.0, 10.0);
const GROUND_M: f64 = 100.0;

/// The known wind at a height, m: from 250° at 5 m/s, turning to 310° and strengthening to
/// 35 m/s at 11 km, and weaker above.
fn known_ms(height_m: f64) -> (f64, f64) {
    let x = (height_m / 11_000.0).min(2.0);
    let speed = 5.0 + 30.0 * (x * std::f64::consts::FRAC_PI_2).sin();
    let from = (250.0 + 60.0 * x.min(1.0)).to_radians();
    (-speed * from.sin(), -speed * from.cos())
}

/// Where the balloon is at each second: degrees north and east, m.
fn flight(rate_ms: f64, seconds: usize) -> Vec<(f64, f64, f64)> {
    let (mut lat, mut lon) = SITE;
    let mut track = vec![(lat, lon, GROUND_M)];
    for second in 0..seconds {
        let height = GROUND_M + rate_ms * (second as f64 + 0.5);
        let (u, v) = known_ms(height);
        let middle = lat + (v / 2.0 / R).to_degrees();
        lon += (u / R / middle.to_radians().cos()).to_degrees();
        lat += (v / R).to_degrees();
        track.push((lat, lon, GROUND_M + rate_ms * (second + 1) as f64));
    }
    track
}

/// Elevation and azimuth, degrees, at which a place sees another.
fn angles_deg(from: (f64, f64, f64), to: (f64, f64, f64), refraction: f64) -> (f64, f64) {
    let [a, b] = [from.0.to_radians(), to.0.to_radians()];
    let around = (to.1 - from.1).to_radians();
    let half = ((b - a) / 2.0).sin().powi(2) + a.cos() * b.cos() * (around / 2.0).sin().powi(2);
    let centre = 2.0 * half.sqrt().asin();
    let azimuth =
        (around.sin() * b.cos()).atan2(a.cos() * b.sin() - a.sin() * b.cos() * around.cos());
    // On the larger sphere the same way on the ground is a smaller angle.
    let larger = R / (1.0 - refraction);
    let centre = centre * R / larger;
    let (p, q) = (larger + from.2, larger + to.2);
    // p² + q² - 2 p q cos, without the loss of figures of nearly equal squares.
    let straight = ((q - p).powi(2) + 4.0 * p * q * (centre / 2.0).sin().powi(2)).sqrt();
    let up = ((q - p) * (q + p) - straight.powi(2)) / (2.0 * p * straight);
    (
        up.asin().to_degrees(),
        azimuth.to_degrees().rem_euclid(360.0),
    )
}

/// Rows at a distance of seconds with the angles of one theodolite.
fn notebook(track: &[(f64, f64, f64)], every_s: usize, refraction: f64) -> RawProfile {
    let from = track[0];
    let rows = (every_s..track.len()).step_by(every_s).enumerate();
    RawProfile {
        name: "x.csv".to_owned(),
        rows: rows
            .map(|(at, second)| {
                let (elevation, azimuth) = angles_deg(from, track[second], refraction);
                RawRow {
                    line: at + 2,
                    time_s: Some(second as f64),
                    angles: Some(Box::new(Angles {
                        elevation_deg: Some(elevation),
                        azimuth_deg: Some(azimuth),
                        ..Angles::default()
                    })),
                    ..RawRow::default()
                }
            })
            .collect(),
        start: None,
    }
}

fn tracked(tracking: Tracking) -> Context {
    let mut context = context(Meaning::default());
    context.station.latitude_deg = Some(SITE.0);
    context.station.longitude_deg = Some(SITE.1);
    context.station.elevation_m = Some(GROUND_M);
    context.equipment = Equipment {
        measuring: Some(1),
        ..Equipment::default()
    };
    context.tracking = tracking;
    context
}

fn rate(rate_ms: f64) -> Tracking {
    Tracking {
        ascent_rate_ms: Some(rate_ms),
        ..Tracking::default()
    }
}

fn pilot(raw: &RawProfile, context: &Context) -> (Profile, Vec<Finding>) {
    let noted = build_for(Form::Pilot, raw, context).unwrap();
    (noted.value, noted.findings)
}

/// The greatest difference of a component, m/s, from the mean of the known wind over
/// the window around each row, and the number of winds.
fn greatest_ms(profile: &Profile, rate_ms: f64, window_s: f64) -> (f64, usize) {
    let mut greatest: f64 = 0.0;
    let mut count = 0;
    for row in &profile.rows {
        let time_s = row.time_s.filter(|time_s| *time_s > 0.0);
        let Some((wind, time_s)) = row.wind.zip(time_s) else {
            continue;
        };
        // The mean of the wind at the middle of each second.
        let (from, to) = (time_s - window_s / 2.0, time_s + window_s / 2.0);
        let (mut u, mut v, mut n) = (0.0, 0.0, 0.0);
        let mut t = from + 0.5;
        while t < to {
            let (eu, ev) = known_ms(GROUND_M + rate_ms * t);
            (u, v, n) = (u + eu, v + ev, n + 1.0);
            t += 1.0;
        }
        let (own_u, own_v) = wind.components_ms();
        greatest = greatest
            .max((own_u - u / n).abs())
            .max((own_v - v / n).abs());
        count += 1;
    }
    (greatest, count)
}

#[test]
fn known_winds_come_back_from_angles_and_a_rate_of_ascent() {
    let track = flight(5.0, 4200);
    for (measuring, refraction) in [(1, 0.13), (2, 0.25)] {
        let mut context = tracked(rate(5.0));
        context.equipment.measuring = Some(measuring);
        let (profile, findings) = pilot(&notebook(&track, 60, refraction), &context);
        let (greatest, count) = greatest_ms(&profile, 5.0, 120.0);
        // 70 minutes; the last has no minute after it, and the release none before it.
        assert_eq!(count, 69, "{findings:?}");
        assert!(greatest < 0.1, "{greatest} m/s");
        // The top, where a wind is: a minute before the end.
        let last = profile.rows.last().unwrap();
        let place = last.place.unwrap();
        let end = track[4140];
        assert!((last.height_gpm.unwrap() - geopotential_gpm(end.2, end.0)).abs() < 0.1);
        assert!(
            (place.latitude_deg - end.0).abs() < 1e-4,
            "{place:?} {end:?}"
        );
        assert!(
            (place.longitude_deg - end.1).abs() < 1e-4,
            "{place:?} {end:?}"
        );
        assert_eq!(
            reported(&findings, "position-from-angles"),
            format!(
                "info: x.csv:2: positions are computed from angles and heights for 70 of 70 rows, \
                 with the curvature of the Earth and a refraction of {refraction} (winds are means over 120 s; \
                 track_window_s under [profile] sets another interval) [WMO-No. 8 Volume I chapter 13]"
            )
        );
        assert_eq!(
            profile.derived[..2],
            [
                Derivation::HeightFromAscentRate,
                Derivation::PositionsFromAngles
            ]
        );
    }
}

/// Without the curvature of the Earth the winds at the end of this flight would be wrong by
/// more than the tenth of a metre per second that is asked for.
#[test]
fn curvature_matters() {
    let track = flight(5.0, 4200);
    let end = track[4200];
    let (elevation, _) = angles_deg(track[0], end, 0.13);
    let plane_m = (end.2 - GROUND_M) / elevation.to_radians().tan();
    let (before, _) = angles_deg(track[0], track[4140], 0.13);
    let plane_before_m = (track[4140].2 - GROUND_M) / before.to_radians().tan();
    let of = |at: (f64, f64, f64)| {
        let (east, north) = crate::physics::drift::way_m((SITE.0, SITE.1), (at.0, at.1));
        east.hypot(north)
    };
    let off_ms = ((plane_m - plane_before_m) - (of(end) - of(track[4140]))) / 60.0;
    assert!(off_ms > 0.2, "{off_ms}");
}

#[test]
fn known_winds_come_back_from_angles_and_heights() {
    let track = flight(5.0, 3000);
    let mut raw = notebook(&track, 10, 0.25);
    let mut context = tracked(Tracking::default());
    context.equipment.measuring = Some(2);
    for row in &mut raw.rows {
        row.altitude_m = Some(GROUND_M + 5.0 * row.time_s.unwrap());
    }
    let (profile, findings) = pilot(&raw, &context);
    let (greatest, count) = greatest_ms(&profile, 5.0, 60.0);
    assert!(count > 290, "{count} {findings:?}");
    // The first and last half minutes have a window on one side alone.
    let inner = Profile {
        rows: profile.rows[3..profile.rows.len() - 3].to_vec(),
        ..profile.clone()
    };
    assert!(greatest_ms(&inner, 5.0, 60.0).0 < 0.1, "{greatest}");

    // The same with pressures and temperatures of an isothermal air of 0 °C, in which
    // z = z0 + (R T / g) ln(p0 / p), R = 287.05 J/(kg K), g = 9.80665 m/s²: the height is
    // computed from them. TEMP stands on pressure.
    let scale = 287.05 * 273.15 / 9.80665;
    let mut first = RawRow {
        line: 1,
        time_s: Some(0.0),
        ..RawRow::default()
    };
    first.pressure_hpa = Some(1000.0);
    first.temperature_c = Some(0.0);
    for row in &mut raw.rows {
        let gpm = geopotential_gpm(row.altitude_m.take().unwrap(), SITE.0)
            - geopotential_gpm(GROUND_M, SITE.0);
        row.pressure_hpa = Some(1000.0 * (-gpm / scale).exp());
        row.temperature_c = Some(0.0);
    }
    raw.rows.insert(0, first);
    let (profile, findings) = build(&raw, &context).unwrap();
    assert_eq!(profile.axis, Axis::Pressure);
    let inner = Profile {
        rows: profile.rows[4..profile.rows.len() - 3].to_vec(),
        ..profile
    };
    let (greatest, count) = greatest_ms(&inner, 5.0, 60.0);
    assert!(
        count > 280 && greatest < 0.1,
        "{count} {greatest} {findings:?}"
    );
}

#[test]
fn known_winds_come_back_from_two_theodolites() {
    // The real rate of ascent is used nowhere.
    let track = flight(4.3, 2400);
    // 2000 m towards 30°, 60 m higher.
    let (lat, lon) = crate::physics::drift::reached(SITE, 30.0, 2000.0).unwrap();
    let second = (lat, lon, GROUND_M + 60.0);
    let mut raw = notebook(&track, 60, 0.13);
    for row in &mut raw.rows {
        let at = track[row.time_s.unwrap() as usize];
        let (elevation, azimuth) = angles_deg(second, at, 0.13);
        let angles = row.angles.as_mut().unwrap();
        angles.elevation_2_deg = Some(elevation);
        // North of the first theodolite: meridians converge.
        let turn = (lon - SITE.1) * lat.to_radians().sin();
        // Its zero is at the first theodolite.
        angles.azimuth_2_deg = Some((azimuth - turn - 210.0).rem_euclid(360.0));
    }
    let context = tracked(Tracking {
        base_length_m: Some(2000.0),
        base_azimuth_deg: Some(30.0),
        azimuth_zero_2_deg: Some(210.0),
        instrument_2_m: Some(GROUND_M + 60.0),
        ..Tracking::default()
    });
    let (profile, findings) = pilot(&raw, &context);
    let (greatest, count) = greatest_ms(&profile, 4.3, 120.0);
    assert_eq!(count, 39, "{findings:?}");
    assert!(greatest < 0.1, "{greatest}");
    assert!(profile.derived.contains(&Derivation::HeightFromBaseLine));
    let top = profile.rows.last().unwrap().height_gpm.unwrap();
    let known = geopotential_gpm(GROUND_M + 4.3 * 2340.0, SITE.0);
    assert!((top - known).abs() < 10.0, "{top} {known}");
    assert!(reported(&findings, "two-theodolites").contains("fit each other to 0.0"));

    // An angle of the second that is 5° off fits nothing.
    let mut wrong = raw.clone();
    let angles = wrong.rows[9].angles.as_mut().unwrap();
    angles.elevation_2_deg = angles.elevation_2_deg.map(|e| e + 5.0);
    let (_, findings) = pilot(&wrong, &context);
    assert_eq!(
        reported(&findings, "theodolites-apart"),
        "warning: x.csv:11: the lines of sight of two theodolites do not meet in 1 row, the first of them this \
         (residuals of at most 0.3 deg are allowed; check the angles of these rows, base_azimuth_deg and azimuth_zero_deg \
         under [tracking]) [our method]"
    );
}

/// Both instruments follow another balloon for one row, 3000 m to the east: their lines of
/// sight meet, and the position lies 3000 m off the track. At most 15 m/s for 60 s and the
/// errors of angles are allowed.
#[test]
fn a_jump_of_two_theodolites_is_left_out() {
    let track = flight(4.3, 1800);
    let (lat, lon) = crate::physics::drift::reached(SITE, 30.0, 2000.0).unwrap();
    let second = (lat, lon, GROUND_M);
    let mut raw = notebook(&track, 60, 0.13);
    for (number, row) in raw.rows.iter_mut().enumerate() {
        let mut at = track[row.time_s.unwrap() as usize];
        if number == 9 {
            let (lat, lon) = crate::physics::drift::reached((at.0, at.1), 90.0, 3000.0).unwrap();
            at = (lat, lon, at.2);
            let (elevation, azimuth) = angles_deg((SITE.0, SITE.1, GROUND_M), at, 0.13);
            let angles = row.angles.as_mut().unwrap();
            angles.elevation_deg = Some(elevation);
            angles.azimuth_deg = Some(azimuth);
        }
        let (elevation, azimuth) = angles_deg(second, at, 0.13);
        let angles = row.angles.as_mut().unwrap();
        angles.elevation_2_deg = Some(elevation);
        let turn = (lon - SITE.1) * lat.to_radians().sin();
        angles.azimuth_2_deg = Some((azimuth - turn).rem_euclid(360.0));
    }
    let context = tracked(Tracking {
        base_length_m: Some(2000.0),
        base_azimuth_deg: Some(30.0),
        ..Tracking::default()
    });
    let (profile, findings) = pilot(&raw, &context);
    let jumps: Vec<_> = findings.iter().filter(|f| f.code == "angle-jump").collect();
    assert_eq!(jumps.len(), 1, "{findings:?}");
    assert_eq!(jumps[0].place.line, Some(11));
    // Without it the winds are those that were put in.
    let (greatest, _) = greatest_ms(&profile, 4.3, 120.0);
    assert!(greatest < 1.0, "{greatest}");
}

/// A rate that is a tenth too low makes winds a tenth too light.
#[test]
fn a_wrong_rate_of_ascent_is_an_error_in_proportion() {
    let track = flight(5.5, 600);
    let raw = notebook(&track, 60, 0.13);
    let (right, _) = pilot(&raw, &tracked(rate(5.5)));
    let (wrong, _) = pilot(&raw, &tracked(rate(5.0)));
    let speed = |profile: &Profile| profile.rows[5].wind.unwrap().speed_ms;
    assert!((speed(&wrong) / speed(&right) - 5.0 / 5.5).abs() < 1e-3);
}

#[test]
fn a_balloon_of_the_table_needs_no_rate() {
    let mut context = tracked(Tracking::default());
    context.balloon = Balloon {
        mass_kg: Some(0.03),
        ..Balloon::default()
    };
    let raw = notebook(&flight(3.0, 600), 60, 0.13);
    let (profile, findings) = pilot(&raw, &context);
    assert!(
        reported(&findings, "height-from-ascent-rate").contains("of 3.60, 3.30, 3.15, 3.00 m/s")
    );
    // 1170 m after 6 minutes, by the table.
    let row = profile
        .rows
        .iter()
        .find(|row| row.time_s == Some(360.0))
        .unwrap();
    let known = geopotential_gpm(GROUND_M + 1170.0, SITE.0);
    assert!((row.height_gpm.unwrap() - known).abs() < 0.01);
}

/// Figures that an observer misreads, in one row each, and what is reported of it; the row
/// has no wind of its own figures and the others keep theirs.
#[test]
fn misread_angles_are_named() {
    let track = flight(5.0, 1800);
    let good = notebook(&track, 60, 0.13);
    let context = tracked(Tracking {
        azimuth_zero_deg: Some(0.0),
        ..rate(5.0)
    });
    let (sound, findings) = pilot(&good, &context);
    for code in [
        "azimuth-reversed",
        "azimuth-quadrant",
        "elevation-quadrant",
        "angle-jump",
    ] {
        assert!(findings.iter().all(|f| f.code != code), "{findings:?}");
    }
    type Misread = fn(&mut Angles);
    let cases: [(&str, Misread); 5] = [
        ("azimuth-reversed", |a| {
            a.azimuth_deg = a.azimuth_deg.map(|a| (a + 180.0).rem_euclid(360.0));
        }),
        ("azimuth-quadrant", |a| {
            a.azimuth_deg = a.azimuth_deg.map(|a| 360.0 - a);
        }),
        ("azimuth-quadrant", |a| {
            a.azimuth_deg = a.azimuth_deg.map(|a| (a + 90.0).rem_euclid(360.0));
        }),
        ("elevation-quadrant", |a| {
            a.elevation_deg = a.elevation_deg.map(|e| 90.0 - e);
        }),
        ("angle-jump", |a| {
            a.azimuth_deg = a.azimuth_deg.map(|a| (a + 40.0).rem_euclid(360.0));
        }),
    ];
    for (code, misread) in cases {
        let mut raw = good.clone();
        misread(raw.rows[19].angles.as_mut().unwrap());
        let (profile, findings) = pilot(&raw, &context);
        let of_row = findings.iter().filter(|f| f.place.line == Some(21));
        let codes: Vec<_> = of_row.map(|f| f.code.clone()).collect();
        assert_eq!(codes, [code], "{findings:?}");
        for (own, known) in profile.rows.iter().zip(&sound.rows) {
            let (Some(own), Some(known)) = (own.wind, known.wind) else {
                continue;
            };
            let apart = |w: Wind| w.components_ms();
            let (a, b) = (apart(own), apart(known));
            assert!(
                (a.0 - b.0).hypot(a.1 - b.1) < 1.0,
                "{code}: {own:?} {known:?}"
            );
        }
    }
}

/// An instrument whose zero points to the south: opposite to the surface wind, unless
/// the sheet says it.
#[test]
fn an_instrument_turned_round_is_seen_by_the_surface_wind() {
    let track = flight(5.0, 900);
    let mut raw = notebook(&track, 60, 0.13);
    for row in &mut raw.rows {
        let angles = row.angles.as_mut().unwrap();
        angles.azimuth_deg = angles.azimuth_deg.map(|a| (a + 180.0).rem_euclid(360.0));
    }
    let mut context = tracked(rate(5.0));
    context.surface = Some(Surface {
        wind_dir_deg: Some(250.0),
        wind_speed_ms: Some(5.0),
        ..Surface::default()
    });
    let (_, findings) = pilot(&raw, &context);
    let reported = reported(&findings, "azimuth-opposite");
    assert!(
        reported.contains("the balloon starts with a wind from 7"),
        "{reported}"
    );
    context.tracking.azimuth_zero_deg = Some(180.0);
    let (profile, findings) = pilot(&raw, &context);
    assert!(findings.iter().all(|f| f.code != "azimuth-opposite"));
    assert!(greatest_ms(&profile, 5.0, 120.0).0 < 0.1);
}

/// What errors of 0.1° in both angles do to winds of 60 s means, at 3000 m above the
/// instrument, by elevation: the error of a component along the line of sight is
/// sqrt(2) h 0.1° / sin² e over the 120 s of a window of minute readings. The figures of the
/// guide.
#[test]
fn errors_grow_at_low_elevations() {
    let mut state = 1_u64;
    // Sums of twelve numbers spread evenly over 1 have a variance of 1.
    let mut normal = || -> f64 {
        let sum: f64 = (0..12)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                (state >> 11) as f64 / (1_u64 << 53) as f64
            })
            .sum();
        sum - 6.0
    };
    let mut table = Vec::new();
    for elevation in [60.0_f64, 30.0, 20.0, 15.0, 10.0, 7.0] {
        let above = 3000.0;
        // A balloon that stays where it is: every wind is an error.
        let count = 400;
        let rows = (1..=count).map(|at| RawRow {
            line: at + 1,
            time_s: Some(60.0 * at as f64),
            altitude_m: Some(GROUND_M + above),
            angles: Some(Box::new(Angles {
                elevation_deg: Some(elevation + 0.1 * normal()),
                azimuth_deg: Some(90.0 + 0.1 * normal()),
                ..Angles::default()
            })),
            ..RawRow::default()
        });
        let raw = RawProfile {
            name: "x.csv".to_owned(),
            rows: rows.collect(),
            start: None,
        };
        let context = tracked(Tracking::default());
        let mut prepared = Prepared {
            raw: Cow::Borrowed(&raw),
            derived: Vec::new(),
            findings: Vec::new(),
            unsettled: Vec::new(),
            context: &context,
            form: Form::Pilot,
            window_s: None,
        };
        crate::profile::prepare::angles::positions(&mut prepared).unwrap();
        track::winds(&mut prepared);
        let winds = prepared.raw.rows.iter().skip(3).filter_map(RawRow::wind);
        let along: Vec<f64> = winds.map(|wind| wind.components_ms().0).collect();
        assert!(along.len() > 350, "{}", along.len());
        let squares: f64 = along.iter().map(|u| u * u).sum();
        let measured = (squares / along.len() as f64).sqrt();
        let sine = elevation.to_radians().sin();
        let expected = 2.0_f64.sqrt() * above * 0.1_f64.to_radians() / sine.powi(2) / 120.0;
        assert!(
            (0.8..1.25).contains(&(measured / expected)),
            "{elevation}: {measured} {expected}"
        );
        table.push(format!("{elevation:.0} {expected:.2}"));
    }
    assert_eq!(
        table,
        [
            "60 0.08", "30 0.25", "20 0.53", "15 0.92", "10 2.05", "7 4.15"
        ]
    );
}

#[test]
fn low_balloons_are_reported() {
    let track = flight(4.0, 1800);
    let (profile, findings) = pilot(&notebook(&track, 60, 0.13), &tracked(rate(4.0)));
    let low = reported(&findings, "elevation-low");
    assert!(low.contains("below 15 deg in"), "{low}");
    let lowest = angles_deg(track[0], track[1800], 0.13).0;
    assert!(lowest > 6.0, "{lowest}");
    assert!(profile.rows.last().unwrap().place.is_some());
    // 0.8 m/s: below the limiting angle.
    let track = flight(0.8, 1800);
    let (_, findings) = pilot(&notebook(&track, 60, 0.13), &tracked(rate(0.8)));
    let too_low = reported(&findings, "elevation-too-low");
    assert!(
        too_low.contains("lower than 6 deg above the horizon in"),
        "{too_low}"
    );
}

#[test]
fn what_is_missing_is_asked_for() {
    let raw = notebook(&flight(5.0, 600), 60, 0.13);
    let refused = |raw: &RawProfile, context: &Context| {
        build_for(Form::Pilot, raw, context)
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        refused(&raw, &tracked(Tracking::default())),
        "x.csv: the rows have angles, and nothing gives the heights; give ascent_rate_ms under [tracking], or mass_kg under \
         [balloon] and free_lift_g under [tracking]"
    );
    let method = |method| Tracking {
        method: Some(method),
        ..rate(5.0)
    };
    assert!(
        refused(&raw, &tracked(method(TrackingMethod::BaseLine))).contains("second theodolite")
    );
    assert!(
        refused(&raw, &tracked(method(TrackingMethod::Height)))
            .contains("neither height nor pressure")
    );
    let mut nowhere = tracked(rate(5.0));
    nowhere.station.latitude_deg = None;
    assert!(refused(&raw, &nowhere).contains("position of the theodolite"));
    let mut floating = tracked(rate(5.0));
    floating.station.elevation_m = None;
    assert!(refused(&raw, &floating).contains("height of the release point"));
    let mut timeless = raw.clone();
    for row in &mut timeless.rows {
        row.time_s = None;
    }
    assert!(refused(&timeless, &tracked(rate(5.0))).contains("needs times"));
    // Rows without an angle, with one of two, and all below the release point.
    let mut holes = raw.clone();
    holes.rows[3].angles = None;
    holes.rows[5].angles.as_mut().unwrap().azimuth_deg = None;
    let (profile, findings) = pilot(&holes, &tracked(rate(5.0)));
    assert!(
        reported(&findings, "angles-incomplete")
            .contains("x.csv:7: elevation or azimuth is missing in 1 row")
    );
    assert!(profile.rows.iter().filter(|row| row.wind.is_some()).count() >= 4);
    // Positions in the file win.
    let mut placed = raw;
    placed.rows[0].latitude_deg = Some(60.0);
    placed.rows[0].longitude_deg = Some(10.0);
    for row in &mut placed.rows {
        row.altitude_m = Some(GROUND_M + 5.0 * row.time_s.unwrap());
        row.wind_dir_deg = Some(270.0);
        row.wind_speed_ms = Some(5.0);
    }
    let (_, findings) = pilot(&placed, &tracked(rate(5.0)));
    assert!(findings.iter().any(|f| f.code == "angles-unused"));
}
