use super::*;
use crate::input::text;
use crate::model::{
    Axis, Flight, HeightKind, HeightReference, HumidityOver, Meaning, Profile, Reading, Station,
    Surface,
};
use crate::physics::gravity::geopotential_gpm;
use crate::physics::humidity::{humidity_from_ice_pct, saturation_vapour_pressure_hpa};
use crate::physics::hydrostatic::standard_pressure_hpa;
use crate::profile::build_for;
use jiff::civil::{date, time};

mod air;
mod angles;
mod made;

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
    read.unwrap().value
}

/// The profile and the findings, to be taken apart.
fn build(raw: &RawProfile, context: &Context) -> Result<(Profile, Vec<Finding>), ProfileError> {
    crate::profile::build(raw, context).map(Into::into)
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code.as_ref()).collect()
}

/// The one finding of a code.
#[track_caller]
fn reported(findings: &[Finding], code: &str) -> String {
    let mut found = findings.iter().filter(|f| f.code == code);
    let one = found
        .next()
        .unwrap_or_else(|| panic!("{code}: {findings:?}"));
    assert!(found.next().is_none(), "{findings:?}");
    one.to_string()
}

/// A flight at 5 m/s from 100 m, one row per second: rows of time and height.
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
        reported(&findings, "release-found"),
        "info: x.csv:42: the sonde is released at time_s 40, and times count from there; 40 rows before it left out (release_time_s under [profile] sets another time; 0 keeps the times of the file)"
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
fn rows_without_times_are_one_second_apart() {
    let mut moments = vec![(0.0, 100.0); 40];
    moments.extend(ascent(0, 300));
    let csv: String = file(&moments)
        .lines()
        .map(|l| format!("{}\n", l.split_once(',').unwrap().1))
        .collect();
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(reported(&findings, "release-found").contains("40 rows before it left out"));
    assert_eq!(profile.rows.len(), 301);
}

#[test]
fn dates_of_the_file_are_compared_with_the_sheet() {
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
        reported(&findings, "release-apart"),
        "warning: x.csv:2: the balloon rises from 2031-01-15T11:10:00Z by the file; the release in the sheet is 2031-01-15T11:20:00Z (the times of the rows are used; correct flight.release)"
    );
    // Later than the sheet: it may have been heard late.
    let (profile, findings) = build(&dated(11, 50), &context(Meaning::default())).unwrap();
    assert_eq!(times(&profile)[0], 1800.0);
    assert!(reported(&findings, "release-apart").contains("rises from 2031-01-15T11:50:00Z"));
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
fn times_of_day_get_the_date_by_which_they_are_nearest_to_release() {
    let release = date(2031, 1, 15).at(23, 45, 0, 0);
    let of = |hour, minute, second| {
        let mut rows = raw("time_s,pressure_hpa\n0,1000\n1,999\n");
        let found = date_clock(&mut rows, time(hour, minute, second, 0), release);
        (
            rows.start,
            rows.rows[1].time_s,
            found.map(|f| f.to_string()),
        )
    };
    let begins = |day, hour, minute| Some(date(2031, 1, day).at(hour, minute, 0, 0));
    assert_eq!(of(23, 40, 0), (begins(15, 23, 40), Some(1.0), None));
    // Over midnight, 25 minutes after release.
    assert_eq!(of(0, 10, 0), (begins(16, 0, 10), Some(1.0), None));
    // Elapsed times that begin at five seconds.
    assert_eq!(of(0, 0, 5), (None, Some(6.0), None));
    // A clock eight hours ahead of UTC.
    let (start, time_s, found) = of(7, 45, 0);
    assert_eq!((start, time_s), (None, Some(1.0)));
    assert_eq!(
        found.unwrap(),
        "warning: x.csv: the clock times begin at 07:45:00, more than 6 h from the release at 2031-01-15T23:45:00Z; times count from the first row (check flight.release, and that the clock times are UTC)"
    );
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
    assert!(reported(&findings, "release-found").contains("at time_s 40000, and times count"));
}

#[test]
fn a_drop_is_released_when_it_begins_to_fall() {
    // Forty seconds on the aircraft at 3100 m, then down at 10 m/s.
    let mut moments: Vec<(f64, f64)> = (0..40).map(|t| (f64::from(t), 3100.0)).collect();
    moments.extend((0..=300).map(|t| (f64::from(40 + t), 3100.0 - 10.0 * f64::from(t))));
    let mut drop = context(Meaning::default());
    drop.station.kind = StationKind::Drop;
    let (profile, findings) = build(&raw(&file(&moments)), &drop).unwrap();
    assert!(
        reported(&findings, "release-found")
            .contains("released at time_s 40, and times count from there; 40 rows before")
    );
    // Lowest first: the fall ends at the 300th second.
    assert_eq!(times(&profile).first(), Some(&300.0));
    assert_eq!(times(&profile).last(), Some(&0.0));
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
    let words = "x.csv: the file has two releases, one at time_s 0 (line 2), one at time_s 809 \
                 (line 752); give each flight a file of its own";
    assert_eq!(refused(&file(&moments), Form::Temp), words);
    assert_eq!(refused(&file(&moments), Form::Descent), words);
    // Without a fall between them, and with times that begin anew.
    let mut joined = ascent(0, 600);
    joined.extend(ascent(0, 600));
    assert_eq!(
        refused(&file(&joined), Form::Temp),
        "x.csv: the file has two releases, one at time_s 0 (line 2), one at time_s 0 (line \
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
fn a_bounce_is_reported_and_its_way_left_out() {
    let mut moments = ascent(0, 400);
    fall(&mut moments, 1900.0);
    let (t, z) = *moments.last().unwrap();
    moments.extend((1..400).map(|s| (t + f64::from(s), z + 5.0 * f64::from(s))));
    let (profile, findings) = build(&raw(&file(&moments)), &context(Meaning::default())).unwrap();
    // Down from 2100 m to 1900 m in 10 s, back at 2100 m 40 s later.
    assert_eq!(
        reported(&findings, "bounce"),
        "warning: x.csv:402: the balloon falls and rises again 1 time, the first by 200 gpm, time_s 400 to 451 (the rows of each fall and of the way back are left out)"
    );
    assert!(codes(&findings).contains(&"pressure-rises"));
    let heights: Vec<f64> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert!(heights.is_sorted());
    assert_eq!(*heights.last().unwrap(), 1900.0 + 5.0 * 399.0);
}

#[test]
fn a_float_is_reported_and_stays() {
    let mut moments = ascent(0, 400);
    let (t, z) = *moments.last().unwrap();
    moments.extend((1..=1200).map(|s| (t + f64::from(s), z + 0.05 * f64::from(s))));
    let (profile, findings) = build(&raw(&file(&moments)), &context(Meaning::default())).unwrap();
    let reported = reported(&findings, "balloon-floats");
    // U.S. Standard Atmosphere: 1965 gpm 1013.25 (1 - 0.0065 x 1965 / 288.15)^5.2559 =
    // 798.4 hPa, 2160 gpm 779.3 hPa. The window of 300 s is too slow from where 150 gpm are left in it: 27 s
    // before the float, 5 × 27 + 0.05 × 273 = 149 gpm.
    assert_eq!(
        reported,
        "warning: x.csv: the balloon floats from time_s 373 at 798.4 hPa to time_s 1600 at 779.3 \
         hPa: it rises 195 gpm in 20 min (at least 0.5 m/s over 5 min; check the heights of \
         these rows) [common practice, no source]"
    );
    assert_eq!(profile.rows.len(), 1601);
    let (_, findings) = build(&raw(&file(&ascent(0, 1200))), &context(Meaning::default())).unwrap();
    assert!(!codes(&findings).contains(&"balloon-floats"));
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
        reported(&findings, "temperature-ends"),
        "info: x.csv: temperature ends at 835.8 hPa, wind continues to 692.7 hPa (TEMP is coded without temperature above; PILOT reports winds alone)"
    );
}
