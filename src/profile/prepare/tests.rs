use super::*;
use crate::physics::gravity::geopotential_gpm;
use crate::physics::humidity::{humidity_from_ice_pct, saturation_vapour_pressure_hpa};
use crate::physics::hydrostatic::standard_pressure_hpa;
use crate::profile::{build, build_for};
use crate::sounding::{
    Axis, Flight, HeightReference, HumidityOver, Meaning, Profile, Reading, Station, Surface,
};
use crate::source::text;
use jiff::civil::date;

fn context(meaning: Meaning) -> Context {
    Context {
        station: Station {
            latitude_deg: Some(45.0),
            longitude_deg: Some(7.0),
            elevation_m: Some(100.0),
            ..Station::default()
        },
        flight: Flight {
            release: Some(date(2031, 1, 15).at(11, 20, 0, 0)),
            ..Flight::default()
        },
        meaning,
        ..Context::default()
    }
}

fn with_surface(pressure_hpa: f64) -> Context {
    Context {
        surface: Some(Surface {
            pressure_hpa: Some(pressure_hpa),
            ..Surface::default()
        }),
        ..context(Meaning::default())
    }
}

fn raw(csv: &str) -> RawProfile {
    let read = text::read(csv.as_bytes(), "x.csv", &Reading::default());
    read.unwrap().0
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code.as_ref()).collect()
}

/// The one finding of a code.
#[track_caller]
fn told(findings: &[Finding], code: &str) -> String {
    let mut found = findings.iter().filter(|f| f.code == code);
    let one = found
        .next()
        .unwrap_or_else(|| panic!("{code}: {findings:?}"));
    assert!(found.next().is_none(), "{findings:?}");
    one.to_string()
}

/// A flight at 5 m/s from 100 m, a row a second: rows of time and height.
fn ascent(from_s: i32, seconds: i32) -> Vec<(f64, f64)> {
    (0..=seconds)
        .map(|t| (f64::from(from_s + t), 100.0 + 5.0 * f64::from(t)))
        .collect()
}

/// The same as a file: temperature falls with height; no pressure.
fn file(moments: &[(f64, f64)]) -> String {
    let mut csv = "time_s,height_gpm,pressure_hpa,temperature_c,humidity_pct\n".to_owned();
    for (t, z) in moments {
        let p = standard_pressure_hpa(*z);
        csv += &format!("{t},{z},{p:.3},{:.2},50\n", 15.0 - 0.0065 * z);
    }
    csv
}

fn times(profile: &Profile) -> Vec<f64> {
    profile.rows.iter().filter_map(|r| r.time_s).collect()
}

// Release.

#[test]
fn a_sonde_that_stands_is_released_when_it_rises() {
    // Forty seconds on the ground, with heights that waver by a metre; the balloon
    // is let go at 40 s.
    let mut moments: Vec<(f64, f64)> = (0..40)
        .map(|t| (f64::from(t), 100.0 + f64::from(t % 3 - 1)))
        .collect();
    moments.extend(ascent(40, 600));
    let csv = file(&moments);
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert_eq!(times(&profile)[..3], [0.0, 1.0, 2.0]);
    assert_eq!(profile.rows[0].height_gpm, Some(100.0));
    assert_eq!(profile.rows[600].height_gpm, Some(3100.0));
    assert_eq!(
        told(&findings, "release-found"),
        "info: x.csv:42: the sonde is released at time_s 40; 40 rows before are left out; times \
         count from there (release_time_s under [profile] says otherwise; 0: \
         the file's own times)"
    );
    // The sheet has the last word: another moment, or the file's own times.
    let at = |release_time_s| Meaning {
        release_time_s: Some(release_time_s),
        ..Meaning::default()
    };
    let (profile, findings) = build(&raw(&csv), &context(at(43.0))).unwrap();
    assert_eq!(profile.rows[0].height_gpm, Some(115.0));
    assert_eq!(
        codes(&findings)[..3],
        ["release-given", "before-release", "height-offset"],
        "{findings:?}"
    );
    let (profile, findings) = build(&raw(&csv), &context(at(0.0))).unwrap();
    assert_eq!(times(&profile)[0], 0.0);
    assert_eq!(*times(&profile).last().unwrap(), 640.0);
    assert!(!codes(&findings).contains(&"release-found"));
}

#[test]
fn a_flight_from_its_first_row_is_left_as_it_is() {
    for seconds in [0, 1, 4] {
        let mut moments: Vec<(f64, f64)> = (0..seconds).map(|t| (f64::from(t), 100.0)).collect();
        moments.extend(ascent(seconds, 300));
        let (profile, findings) =
            build(&raw(&file(&moments)), &context(Meaning::default())).unwrap();
        assert!(!codes(&findings).contains(&"release-found"), "{seconds}");
        assert_eq!(*times(&profile).last().unwrap(), f64::from(300 + seconds));
    }
}

#[test]
fn rows_without_times_are_a_second_each() {
    let mut moments = vec![(0.0, 100.0); 40];
    moments.extend(ascent(0, 300));
    let csv: String = file(&moments)
        .lines()
        .map(|l| format!("{}\n", l.split_once(',').unwrap().1))
        .collect();
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(told(&findings, "release-found").contains("40 rows before are left out"));
    assert_eq!(profile.rows.len(), 301);
}

#[test]
fn dates_of_the_file_are_held_against_the_sheet() {
    let dated = |hour, minute| RawProfile {
        start: Some(date(2031, 1, 15).at(hour, minute, 0, 0)),
        ..raw(&file(&ascent(0, 300)))
    };
    // The balloon rises from the first row: a sheet that says one minute later does
    // not make its rows rows before release.
    let (profile, findings) = build(&dated(11, 19), &context(Meaning::default())).unwrap();
    assert_eq!(times(&profile)[..2], [0.0, 1.0]);
    assert_eq!(profile.rows.len(), 301);
    assert!(!codes(&findings).contains(&"release-apart"));
    let (profile, findings) = build(&dated(11, 10), &context(Meaning::default())).unwrap();
    assert_eq!(profile.rows.len(), 301);
    assert_eq!(
        told(&findings, "release-apart"),
        "warning: x.csv:2: by the file the balloon rises from 2031-01-15T11:10:00Z, the sheet's \
         release is 2031-01-15T11:20:00Z (the rows are followed; mend flight.release)"
    );
    // Later than the sheet: it may have been heard late.
    let (profile, findings) = build(&dated(11, 50), &context(Meaning::default())).unwrap();
    assert_eq!(times(&profile)[0], 1800.0);
    assert!(told(&findings, "release-apart").contains("rises from 2031-01-15T11:50:00Z"));
    assert_eq!(
        build(&dated(23, 0), &context(Meaning::default()))
            .unwrap_err()
            .to_string(),
        "x.csv: by the file the flight begins at 2031-01-15T23:00:00Z, by the sheet it is \
         released at 2031-01-15T11:20:00Z; give the sheet of this flight"
    );
    // The order of the sheet is a time of the file, whatever the dates say.
    let meaning = Meaning {
        release_time_s: Some(10.0),
        ..Meaning::default()
    };
    let (profile, _) = build(&dated(11, 10), &context(meaning)).unwrap();
    assert_eq!((times(&profile)[0], profile.rows.len()), (0.0, 291));
}

#[test]
fn launches_that_are_slow_or_windy_lose_no_row() {
    // Up 20 m, pressed down again until 12 s, then 5 m/s; 0.3 m/s for 8 s; a sonde
    // carried up 69 m and standing there.
    let mut windy = vec![(0.0, 100.0), (4.0, 120.0), (8.0, 110.0), (12.0, 100.0)];
    windy.extend(ascent(13, 300));
    let mut slow: Vec<(f64, f64)> = (0..8)
        .map(|t| (f64::from(t), 100.0 + 0.3 * f64::from(t)))
        .collect();
    slow.extend(ascent(8, 300).iter().map(|(t, z)| (*t, z + 2.4)));
    let mut lifted: Vec<(f64, f64)> = (0..60).map(|t| (f64::from(t), 100.0)).collect();
    lifted.extend((60..80).map(|t| (f64::from(t), 100.0 + 3.45 * f64::from(t - 60))));
    lifted.extend((80..220).map(|t| (f64::from(t), 169.0)));
    lifted.extend(ascent(220, 300).iter().map(|(t, z)| (*t, z + 69.0)));
    for moments in [windy, slow, lifted] {
        let (_, findings) = build(&raw(&file(&moments)), &context(Meaning::default())).unwrap();
        assert!(!codes(&findings).contains(&"release-found"), "{findings:?}");
    }
    // A clock that ran before: the first row is at the release point.
    let late = file(&ascent(40_000, 300));
    let (profile, findings) = build(&raw(&late), &context(Meaning::default())).unwrap();
    assert_eq!(times(&profile)[0], 0.0);
    assert!(told(&findings, "release-found").contains("at time_s 40000; times count"));
}

// Flights of a file.

/// Down again at 20 m/s from the last row.
fn fall(moments: &mut Vec<(f64, f64)>, to: f64) {
    let (mut t, mut z) = *moments.last().unwrap();
    while z > to {
        (t, z) = (t + 1.0, z - 20.0);
        moments.push((t, z.max(to)));
    }
}

#[test]
fn two_releases_are_refused_with_their_times() {
    let mut moments = ascent(0, 600);
    fall(&mut moments, 120.0);
    let again = moments.last().unwrap().0;
    #[expect(clippy::cast_possible_truncation, reason = "a small whole number")]
    moments.extend(ascent(again as i32 + 60, 600));
    let refused = |csv: &str, form| {
        build_for(form, &raw(csv), &context(Meaning::default()))
            .unwrap_err()
            .to_string()
    };
    // 3000 m down at 20 m/s: 149 s; release 60 s after that, at 809 s.
    let words = "x.csv: the file holds two releases, one at time_s 0 (line 2), one at time_s 809 \
                 (line 752); give each flight a file of its own";
    assert_eq!(refused(&file(&moments), Form::Temp), words);
    assert_eq!(refused(&file(&moments), Form::Descent), words);
    // Without a fall between them, and with times that begin anew.
    let mut joined = ascent(0, 600);
    joined.extend(ascent(0, 600));
    assert_eq!(
        refused(&file(&joined), Form::Temp),
        "x.csv: the file holds two releases, one at time_s 0 (line 2), one at time_s 0 (line \
         603); give each flight a file of its own"
    );
}

#[test]
fn wrong_heights_and_deep_downdraughts_are_no_flight() {
    let one = |at: usize, z: f64| {
        let mut moments = ascent(0, 600);
        moments[at].1 = z;
        moments
    };
    // A spike up, one down to the ground, two rows of one before release.
    let mut stood: Vec<(f64, f64)> = (0..40).map(|t| (f64::from(t), 100.0)).collect();
    stood[20].1 = 5500.0;
    stood[21].1 = 5500.0;
    stood.extend(ascent(40, 600));
    // Down from 1600 m to 140 m over the ground, and on.
    let mut downdraught = ascent(0, 300);
    fall(&mut downdraught, 240.0);
    let t = downdraught.last().unwrap().0;
    downdraught.extend((1..=600).map(|s| (t + f64::from(s), 240.0 + 5.0 * f64::from(s))));
    for moments in [one(3, 9000.0), one(400, 100.0), stood, downdraught] {
        let built = build(&raw(&file(&moments)), &context(Meaning::default()));
        assert!(built.is_ok(), "{built:?}");
    }
}

#[test]
fn a_bounce_is_told_and_its_way_left_out() {
    let mut moments = ascent(0, 400);
    fall(&mut moments, 1900.0);
    let (t, z) = *moments.last().unwrap();
    moments.extend((1..400).map(|s| (t + f64::from(s), z + 5.0 * f64::from(s))));
    let (profile, findings) = build(&raw(&file(&moments)), &context(Meaning::default())).unwrap();
    // Down from 2100 m to 1900 m in 10 s, back at 2100 m 40 s later.
    assert_eq!(
        told(&findings, "bounce"),
        "warning: x.csv:402: the balloon fell by 200 gpm from here and rose again, time_s 400 to \
         451 (the rows of the fall and of the way back are left out)"
    );
    assert!(codes(&findings).contains(&"pressure-rises"));
    let heights: Vec<f64> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert!(heights.is_sorted());
    assert_eq!(*heights.last().unwrap(), 1900.0 + 5.0 * 399.0);
}

#[test]
fn a_float_is_told_and_stays() {
    let mut moments = ascent(0, 400);
    let (t, z) = *moments.last().unwrap();
    moments.extend((1..=1200).map(|s| (t + f64::from(s), z + 0.05 * f64::from(s))));
    let (profile, findings) = build(&raw(&file(&moments)), &context(Meaning::default())).unwrap();
    let told = told(&findings, "floating");
    // U.S. Standard Atmosphere: 1965 gpm 1013.25 (1 - 0.0065 x 1965 / 288.15)^5.2559 =
    // 798.4 hPa, 2160 gpm 779.3 hPa. The window of 300 s is too slow from where 150 gpm are left in it: 27 s
    // before the float, 5 × 27 + 0.05 × 273 = 149 gpm.
    assert_eq!(
        told,
        "warning: x.csv: the balloon floats from time_s 373 at 798.4 hPa to time_s 1600 at 779.3 \
         hPa: it rises 195 gpm in 20 min (at least 0.5 m/s over 5 min)"
    );
    assert_eq!(profile.rows.len(), 1601);
    let (_, findings) = build(&raw(&file(&ascent(0, 1200))), &context(Meaning::default())).unwrap();
    assert!(!codes(&findings).contains(&"floating"));
}

#[test]
fn temperature_that_ends_below_the_wind_advises_pilot() {
    let mut csv =
        "time_s,pressure_hpa,height_gpm,temperature_c,wind_dir_deg,wind_speed_ms\n".to_owned();
    for t in 0..600 {
        let z = 100.0 + 5.0 * f64::from(t);
        let warm = if t < 300 { "10" } else { "" };
        csv += &format!("{t},{:.2},{z},{warm},270,8\n", standard_pressure_hpa(z));
    }
    let (_, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    // U.S. Standard Atmosphere: 1013.25 (1 - 0.0065 x 1595 / 288.15)^5.2559 = 835.8 hPa, and
    // 692.7 hPa at 3095 gpm.
    assert_eq!(
        told(&findings, "temperature-ends"),
        "info: x.csv: temperature ends at 835.8 hPa, wind goes on to 692.7 hPa (TEMP is coded \
         with it missing above; PILOT carries winds alone)"
    );
}

// Heights.

#[test]
fn heights_above_the_ellipsoid_come_down_to_the_station() {
    let meaning = Meaning {
        height_reference: HeightReference::Ellipsoid,
        ..Meaning::default()
    };
    let csv = "time_s,altitude_m,pressure_hpa,temperature_c\n0,147.3,1000,15\n1,152.3,999.4,15\n\
               10,197.3,994,14.6\n20,247.3,988,14.2\n";
    let (profile, findings) = build(&raw(csv), &context(meaning.clone())).unwrap();
    assert_eq!(
        told(&findings, "ellipsoid-height"),
        "info: x.csv:2: heights are above the ellipsoid: +47.3 m taken off, so that the sonde is \
         released at 100 m"
    );
    let wanted = |m: f64| geopotential_gpm(m, 45.0);
    let heights: Vec<f64> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    for (z, m) in heights.iter().zip([100.0, 105.0, 150.0, 200.0]) {
        assert!((z - wanted(m)).abs() < 1e-6, "{z} {m}");
    }
    // The same without the word: the station is said to be 47 m lower.
    let (_, findings) = build(&raw(csv), &context(Meaning::default())).unwrap();
    assert_eq!(
        told(&findings, "height-offset"),
        "warning: x.csv:2: the sonde is released at 147.3 m by its heights, at 100 m by the sheet \
         (+47.3 m) (at most 10 m apart; check release_m, or write height_reference = \
         \"ellipsoid\" under [profile] where heights are above the ellipsoid)"
    );
    // A first row some seconds up: 4 s at the 5 m/s that follow.
    let later = csv
        .replace("0,147.3,1000,15\n1,152.3,999.4,15\n", "4,167.3,997.6,15\n")
        .replace("10,197.3", "9,192.3");
    let (_, findings) = build(&raw(&later), &context(meaning.clone())).unwrap();
    assert!(told(&findings, "ellipsoid-height").contains("+47.3 m taken off"));
    // 300 m is no undulation of the geoid.
    let far = csv
        .replace("147.3", "447.3")
        .replace("152.3", "452.3")
        .replace("197.3", "497.3")
        .replace("247.3", "547.3");
    let error = build(&raw(&far), &context(meaning.clone())).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("x.csv:2: as height above the ellipsoid the sonde is released +347.3 m"),
        "{error}"
    );
    // A drop is not released at the station.
    let mut drop = context(meaning.clone());
    drop.station.kind = StationKind::Drop;
    assert!(build(&raw(csv), &drop).is_err());
    // Where geopotential stands beside it, that is left alone.
    let both = "time_s,altitude_m,height_gpm,pressure_hpa,temperature_c\n\
                0,147.3,100,1000,15\n10,,150,994,14.6\n20,247.3,200,988,14.2\n";
    let (profile, _) = build(&raw(both), &context(meaning.clone())).unwrap();
    let heights: Vec<f64> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(heights, [100.0, 150.0, 200.0]);
    // Nothing to hold it against.
    let mut nowhere = context(meaning.clone());
    nowhere.station.elevation_m = None;
    let error = build(&raw(csv), &nowhere).unwrap_err().to_string();
    assert!(error.contains("give release_m or elevation_m"), "{error}");
    let late = "time_s,altitude_m,pressure_hpa,temperature_c\n60,447,960,12\n70,497,955,11\n";
    let error = build(&raw(late), &context(meaning))
        .unwrap_err()
        .to_string();
    assert!(error.contains("no row within 10 s of release"), "{error}");
}

#[test]
fn heights_of_the_other_kind_are_told() {
    // An isothermal column of 250 K, dry: ln(1000 / p) times 29.27127 x 250 =
    // 7317.8 gpm.
    let mut context = context(Meaning::default());
    context.station.latitude_deg = Some(0.0);
    context.station.elevation_m = Some(0.0);
    let column = |name: &str, height: fn(f64) -> f64| {
        let mut csv = format!("pressure_hpa,{name},temperature_c\n");
        for k in 0..=40 {
            let z = 500.0 * f64::from(k);
            let p = 1000.0 * (-z / 7_317.817_5).exp();
            csv += &format!("{p:.5},{:.2},-23.15\n", height(z));
        }
        build(&raw(&csv), &context).unwrap().1
    };
    let as_it_is = |z: f64| z;
    let as_length = |z: f64| crate::physics::gravity::altitude_m(z, 0.0);
    assert!(!codes(&column("height_gpm", as_it_is)).contains(&"kind-of-height"));
    assert!(!codes(&column("altitude_m", as_length)).contains(&"kind-of-height"));
    // 20 000 m at the equator are 20 000 x 9.780325 / 9.80665 x R / (R + 20 000), R =
    // 6 335.0 km: 19 883.5 gpm, 116.5 less.
    assert_eq!(
        told(&column("altitude_m", as_it_is), "kind-of-height"),
        "warning: x.csv:42: as geometric height the heights depart by -116 gpm here from those \
         that pressure and temperature give, as geopotential by +0 gpm (if they are geopotential, \
         give the column as height_gpm under [columns])"
    );
    // And the length of 20 000 gpm is 118 m more.
    assert_eq!(
        told(&column("height_gpm", as_length), "kind-of-height"),
        "warning: x.csv:42: as geopotential the heights depart by +118 gpm here from those that \
         pressure and temperature give, as geometric height by +0 gpm (if they are geometric \
         height, give the column as altitude_m under [columns])"
    );
}

// Humidity.

#[test]
fn humidity_over_ice_is_brought_to_water() {
    let meaning = Meaning {
        humidity_over: HumidityOver::Ice,
        ..Meaning::default()
    };
    let csv = "pressure_hpa,height_gpm,temperature_c,humidity_pct,dewpoint_c\n\
               1000,100,5,80,\n900,1000,-20,90,\n800,2000,-30,,-33\n";
    let (profile, findings) = build(&raw(csv), &context(meaning)).unwrap();
    assert_eq!(
        told(&findings, "humidity-over-ice"),
        "info: x.csv:3: humidity over ice brought to water in 2 rows"
    );
    let rows = &profile.rows;
    assert_eq!(rows[0].humidity_pct, Some(80.0));
    // Smithsonian tables (from memory): 1.032 hPa over ice, 1.254 over water at -20
    // degrees C: 90 % are 74.1 %.
    assert!((rows[1].humidity_pct.unwrap() - 74.1).abs() < 0.3);
    // A frost point of -33 is the same vapour.
    let td = rows[2].dewpoint_c.unwrap();
    let e = saturation_vapour_pressure_hpa(td);
    let over_ice =
        saturation_vapour_pressure_hpa(-33.0) * humidity_from_ice_pct(-33.0, 100.0) / 100.0;
    assert!((e / over_ice - 1.0).abs() < 1e-6 && td < -33.0);
}

#[test]
fn supersaturation_over_ice_is_less_than_saturation_over_water() {
    let csv = "pressure_hpa,height_gpm,temperature_c,humidity_pct\n\
               1000,100,5,80\n300,9000,-50,140\n280,9500,-52,150\n";
    let (profile, findings) = build(&raw(csv), &context(Meaning::default())).unwrap();
    assert_eq!(
        told(&findings, "humidity-over-105"),
        "warning: x.csv:3: 2 rows with a humidity over 105 %, taken as missing (0 to 105 % over \
         water; where it is over ice, write humidity_over = \"ice\" under [profile])"
    );
    assert_eq!(profile.rows[1].humidity_pct, None);
    let meaning = Meaning {
        humidity_over: HumidityOver::Ice,
        ..Meaning::default()
    };
    let (profile, _) = build(&raw(csv), &context(meaning)).unwrap();
    // Smithsonian tables (from memory): 0.0394 hPa over ice, 0.0636 over water at -50
    // degrees C: 140 % are 86.7 %.
    assert!((profile.rows[1].humidity_pct.unwrap() - 86.7).abs() < 1.5);
}

// Winds.

/// A track north-east at 10 m/s, a fix a second, in degrees of so many decimals.
fn track(decimals: usize, seconds: i32) -> String {
    let mut csv =
        "time_s,pressure_hpa,height_gpm,temperature_c,latitude_deg,longitude_deg\n".to_owned();
    let component = 10.0 / 2.0_f64.sqrt();
    for t in 0..=seconds {
        let way = component * f64::from(t);
        let (lat, lon) = crate::physics::drift::moved((45.0, 7.0), way, way).unwrap();
        let z = 100.0 + 5.0 * f64::from(t);
        csv += &format!(
            "{t},{:.3},{z},10,{lat:.decimals$},{lon:.decimals$}\n",
            standard_pressure_hpa(z)
        );
    }
    csv
}

#[test]
fn winds_come_from_the_track() {
    let (profile, findings) = build(&raw(&track(5, 300)), &context(Meaning::default())).unwrap();
    for row in &profile.rows {
        let wind = row.wind.unwrap();
        // From the south-west; the step of 1.1 m leaves a little.
        assert!((wind.speed_ms - 10.0).abs() < 0.1, "{wind:?}");
        assert!((wind.dir_deg - 225.0).abs() < 0.6, "{wind:?}");
    }
    let told = told(&findings, "wind-from-positions");
    assert!(
        told.starts_with(
            "info: x.csv:2: winds are missing; taken from positions for 301 of 301 rows, over 30 s \
             each; a way below the 1.1 m step of the positions is none; standard error of a \
             component 0.0"
        ),
        "{told}"
    );
    assert!(profile.derived.contains(&"wind from positions".to_owned()));
}

#[test]
fn coarse_positions_give_no_wind_but_in_a_longer_window() {
    // Three decimals are 111 m: over 30 s, winds below 3.7 m/s would not show.
    let csv = track(3, 600);
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(profile.rows.iter().all(|r| r.wind.is_none()));
    assert_eq!(
        told(&findings, "positions-coarse"),
        "warning: x.csv:2: winds are missing, and positions in steps of 111 m are too coarse to \
         take them from 30 s of the track (give a longer track_window_s under [profile], at least \
         45)"
    );
    let wide = Meaning {
        track_window_s: Some(120.0),
        ..Meaning::default()
    };
    let (profile, _) = build(&raw(&csv), &context(wide)).unwrap();
    let middle = profile.rows[300].wind.unwrap();
    assert!((middle.speed_ms - 10.0).abs() < 1.0, "{middle:?}");
}

#[test]
fn a_balloon_that_stays_within_a_step_is_in_calm() {
    let csv: String = track(5, 100)
        .lines()
        .enumerate()
        .map(|(i, l)| match i {
            0 => format!("{l}\n"),
            _ => format!(
                "{}45.00000,7.00001\n",
                l.split_at(l.find(",10,").unwrap() + 4).0
            ),
        })
        .collect();
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(profile.rows.iter().all(|r| r.wind.unwrap().speed_ms == 0.0));
    assert!(told(&findings, "wind-from-positions").contains("makes 101 of them calm"));
}

#[test]
fn wrong_positions_are_left_out() {
    let mut lines: Vec<String> = track(5, 300).lines().map(str::to_owned).collect();
    let put = |line: &mut String, place: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        *line = format!("{},{place}", cells[..4].join(","));
    };
    put(&mut lines[100], "0,0");
    put(&mut lines[101], "0,0");
    put(&mut lines[150], "45.01000,7.01000");
    let (profile, findings) = build(
        &raw(&(lines.join("\n") + "\n")),
        &context(Meaning::default()),
    )
    .unwrap();
    let told = told(&findings, "wind-from-positions");
    assert!(
        told.contains("; 3 positions further off than any wind carries are left out"),
        "{told}"
    );
    for row in &profile.rows {
        assert!(
            row.wind.is_none_or(|w| (w.speed_ms - 10.0).abs() < 0.2),
            "{row:?}"
        );
    }
}

#[test]
fn winds_that_fail_go_on_with_the_track() {
    let csv: String = track(5, 600)
        .lines()
        .enumerate()
        .map(|(i, l)| match i {
            0 => format!("{l},wind_dir_deg,wind_speed_ms\n"),
            1..=300 => format!("{l},225,10\n"),
            _ => format!("{l},,\n"),
        })
        .collect();
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(told(&findings, "wind-from-positions").contains("for 301 of 601 rows"));
    let top = profile.rows.last().unwrap().wind.unwrap();
    assert!((top.speed_ms - 10.0).abs() < 0.2 && (top.dir_deg - 225.0).abs() < 1.0);
}

#[test]
fn a_gap_in_the_track_has_no_wind() {
    let csv: String = track(5, 300)
        .lines()
        .enumerate()
        .filter(|(i, _)| !(100..200).contains(i))
        .map(|(_, l)| format!("{l}\n"))
        .collect();
    let (profile, _) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    // Half a window to each side is enough, and there is nothing between.
    assert_eq!(profile.rows.len(), 201);
    assert!(profile.rows.iter().all(|r| r.wind.is_some()));
    // Fixes a minute apart are too few for a window of 30 s.
    let sparse: String = track(5, 600)
        .lines()
        .enumerate()
        .filter(|(i, _)| i % 60 < 2)
        .map(|(_, l)| format!("{l}\n"))
        .collect();
    let (profile, findings) = build(&raw(&sparse), &context(Meaning::default())).unwrap();
    assert!(profile.rows.iter().all(|r| r.wind.is_none()));
    assert!(told(&findings, "positions-sparse").contains("give a longer track_window_s"));
}

// Pressures.

/// A column with heights and temperatures alone.
const BARE: &str = "time_s,height_gpm,temperature_c\n0,100,15\n100,600,12\n200,1100,9\n";

#[test]
fn pressures_come_from_heights_and_the_surface() {
    let (profile, findings) = build(&raw(BARE), &with_surface(1000.0)).unwrap();
    assert_eq!(profile.axis, Axis::Pressure);
    // By hand: 500 gpm of dry air, mean 286.65 K: 1000 exp(-500 / (29.27127 x
    // 286.65)) = 942.15 hPa; the next 283.65 K: 942.15 x 0.941559 = 887.09 hPa.
    for (row, p) in profile.rows.iter().zip([1000.0, 942.15, 887.09]) {
        assert!((row.pressure_hpa.unwrap() - p).abs() < 0.01, "{row:?}");
    }
    assert_eq!(
        told(&findings, "pressure-integrated"),
        "info: x.csv:2: pressures are missing; integrated hydrostatically with virtual \
         temperature from 1000.0 hPa at the surface for 3 rows"
    );
    assert!(profile.derived.contains(&pressures::DERIVED.to_owned()));
}

#[test]
fn a_barometer_above_the_release_point_counts() {
    let mut context = with_surface(1000.0);
    context.station.barometer_m = Some(112.0);
    if let Some(surface) = &mut context.surface {
        surface.pressure_at = crate::sounding::PressureAt::Barometer;
    }
    let (profile, _) = build(&raw(BARE), &context).unwrap();
    // 12 m of air at 15 °C: 1000 (1 + 12 / (29.27 x 288.15)) = 1001.42 hPa.
    assert!((profile.rows[0].pressure_hpa.unwrap() - 1001.42).abs() < 0.01);
}

#[test]
fn rows_that_begin_aloft_start_from_the_release_point() {
    let aloft = "time_s,height_gpm,temperature_c\n100,600,12\n200,1100,9\n";
    let (profile, _) = build(&raw(aloft), &with_surface(1000.0)).unwrap();
    // The layer below the first row is as warm as it: 1000 exp(-500 / (29.27127 x
    // 285.15)) = 941.86 hPa (500 gpm less the 0.05 gpm of 100 m in 45 degrees).
    assert!(
        (profile.rows[1].pressure_hpa.unwrap() - 941.86).abs() < 0.02,
        "{profile:?}"
    );
    assert_eq!(profile.rows[0].pressure_hpa, Some(1000.0));
}

#[test]
fn where_pressure_cannot_be_had_it_stays_missing() {
    let missing = |csv: &str, context: &Context| {
        let (profile, findings) = build(&raw(csv), context).unwrap();
        assert_eq!(profile.axis, Axis::Height, "{findings:?}");
        assert!(!codes(&findings).contains(&"pressure-integrated"));
    };
    // No surface pressure; no temperature; first row far above the ground.
    missing(BARE, &context(Meaning::default()));
    missing(
        "time_s,height_gpm,wind_dir_deg,wind_speed_ms\n0,100,270,5\n100,600,270,6\n",
        &with_surface(1000.0),
    );
    missing(
        "time_s,height_gpm,temperature_c\n3000,15100,-55\n3100,15600,-55\n3200,16100,-55\n",
        &with_surface(1000.0),
    );
    // A drop is not released at the surface.
    let mut drop = with_surface(1000.0);
    drop.station.kind = StationKind::Drop;
    missing(
        "time_s,height_gpm,temperature_c\n0,1100,9\n50,600,12\n100,100,15\n",
        &drop,
    );
}

#[test]
fn rows_without_temperature_are_bridged_and_told() {
    let csv = "time_s,height_gpm,temperature_c\n0,100,15\n50,350,\n100,600,12\n150,850,\n";
    let (profile, findings) = build(&raw(csv), &with_surface(1000.0)).unwrap();
    assert!(
        told(&findings, "pressure-integrated")
            .ends_with("for 3 rows, 1 of them without temperature")
    );
    // Half-way, 286.65 K there: mean of 288.15 and 286.65 over 250 gpm: 1000
    // exp(-250 / (29.27127 x 287.4)) = 970.72 hPa.
    let there = profile
        .rows
        .iter()
        .find(|r| r.height_gpm == Some(350.0))
        .unwrap();
    assert!(
        (there.pressure_hpa.unwrap() - 970.72).abs() < 0.01,
        "{there:?}"
    );
}

#[test]
fn a_layer_without_pressure_is_integrated_and_its_end_compared() {
    // The dry column of the standard atmosphere with pressures lost between 600 gpm
    // and 1600 gpm, and the height of the failing row too.
    let mut csv = "time_s,pressure_hpa,height_gpm,temperature_c\n".to_owned();
    for k in 0..=50 {
        let z = 100.0 + 40.0 * f64::from(k);
        let lost = (600.0..1600.0).contains(&z);
        let p = if lost {
            String::new()
        } else {
            format!("{:.2}", standard_pressure_hpa(z))
        };
        let height = if k == 12 {
            String::new()
        } else {
            z.to_string()
        };
        csv += &format!("{},{p},{height},{:.3}\n", 8 * k, 15.0 - 0.0065 * z);
    }
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert_eq!(profile.rows.len(), 51);
    for row in profile.rows.iter().filter(|r| r.height_gpm.is_some()) {
        let p = standard_pressure_hpa(row.height_gpm.unwrap());
        assert!((row.pressure_hpa.unwrap() - p).abs() < 0.05, "{row:?} {p}");
    }
    // 1620 gpm: 1013.25 (1 - 0.0065 x 1620 / 288.15)^5.2559 = 833.2 hPa.
    let told = told(&findings, "pressure-integrated");
    assert!(
        told.ends_with("where it returns it is 833.2 hPa, by integration 833.2 hPa"),
        "{told}"
    );
}

#[test]
fn heights_that_fail_go_on_hydrostatically() {
    let mut csv = "time_s,pressure_hpa,height_gpm,temperature_c\n".to_owned();
    for k in 0..=50 {
        let z = 100.0 + 40.0 * f64::from(k);
        let height = if k > 20 { String::new() } else { z.to_string() };
        csv += &format!(
            "{},{:.3},{height},{:.3}\n",
            8 * k,
            standard_pressure_hpa(z),
            15.0 - 0.0065 * z
        );
    }
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    // 900 gpm: 1013.25 (1 - 0.0065 x 900 / 288.15)^5.2559 = 909.7 hPa.
    assert_eq!(
        told(&findings, "height-integrated"),
        "info: x.csv: heights end at 909.7 hPa; integrated hydrostatically from there with virtual \
         temperature"
    );
    let top = profile.rows.last().unwrap().height_gpm.unwrap();
    assert!((top - 2100.0).abs() < 0.2, "{top}");
}

#[test]
fn a_pressure_sensor_that_is_off_is_no_other_kind_of_height() {
    let mut csv = "pressure_hpa,height_gpm,temperature_c\n".to_owned();
    for k in 0..=56 {
        let z = 500.0 * f64::from(k);
        // 0.25 hPa too much: 17 hPa and more than 100 gpm at the top.
        let p = 1000.0 * (-z / 7_317.817_5).exp() + 0.25;
        csv += &format!("{p:.5},{z},-23.15\n");
    }
    let mut context = context(Meaning::default());
    context.station.elevation_m = Some(0.0);
    let (_, findings) = build(&raw(&csv), &context).unwrap();
    assert!(
        !codes(&findings).contains(&"kind-of-height"),
        "{findings:?}"
    );
}

#[test]
fn a_drop_is_released_when_it_begins_to_fall() {
    // Forty seconds on the aircraft at 3100 m, then down at 10 m/s.
    let mut moments: Vec<(f64, f64)> = (0..40).map(|t| (f64::from(t), 3100.0)).collect();
    moments.extend((0..=300).map(|t| (f64::from(40 + t), 3100.0 - 10.0 * f64::from(t))));
    let mut drop = context(Meaning::default());
    drop.station.kind = StationKind::Drop;
    let (profile, findings) = build(&raw(&file(&moments)), &drop).unwrap();
    assert!(told(&findings, "release-found").contains("released at time_s 40; 40 rows before"));
    // Lowest first: the fall ends at the 300th second.
    assert_eq!(times(&profile).first(), Some(&300.0));
    assert_eq!(times(&profile).last(), Some(&0.0));
}
