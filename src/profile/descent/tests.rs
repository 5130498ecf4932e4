//! Tiny flights by hand: a climb of five rows (lines 2 to 6 of the file) and what
//! follows it.

use super::*;
use crate::input::text;
use crate::model::{Element, Noted, Order, Reading, Station, Surface};
use crate::profile::build_for;

const HEAD: &str = "time_s,pressure_hpa,height_gpm,temperature_c\n";
const CLIMB: &str =
    "0,1000,100,15\n10,900,1000,9\n20,800,2000,3\n30,700,3000,-4\n40,600,4200,-11\n";

fn context() -> Context {
    Context {
        station: Station {
            latitude_deg: Some(45.0),
            elevation_m: Some(100.0),
            ..Station::default()
        },
        ..Context::default()
    }
}

fn read(csv: &str) -> RawProfile {
    text::read(csv.as_bytes(), "x.csv", &Reading::default())
        .unwrap()
        .value
}

fn built_in(csv: &str, context: &Context) -> (Profile, Vec<String>) {
    let Noted {
        value: profile,
        findings,
    } = build_for(Form::Descent, &read(csv), context).unwrap();
    let reported = findings.iter().map(ToString::to_string);
    (profile, reported.collect())
}

fn built(fall: &str) -> (Profile, Vec<String>) {
    built_in(&format!("{HEAD}{CLIMB}{fall}"), &context())
}

fn refused(csv: &str) -> String {
    let refused = build_for(Form::Descent, &read(csv), &context());
    refused.unwrap_err().to_string()
}

fn pressures(profile: &Profile) -> Vec<f64> {
    let rows = profile.rows.iter();
    rows.map(|r| r.pressure_hpa.unwrap()).collect()
}

fn times(profile: &Profile) -> Vec<f64> {
    profile.rows.iter().map(|r| r.time_s.unwrap()).collect()
}

const BEFORE: &str = "info: x.csv:2: 4 rows before the start of the descent left out";

#[test]
fn the_top_and_what_falls_below_it_stay_lowest_first() {
    // The second row after the top bounces up from 650 to 640 hPa (line 8).
    let fall = "45,650,3600,-8\n50,640,3700,-9\n60,750,2500,-1\n70,850,1500,5\n80,950,540,12\n";
    let (profile, reported) = built(fall);
    assert_eq!(pressures(&profile), [950.0, 850.0, 750.0, 650.0, 600.0]);
    assert_eq!(times(&profile), [80.0, 70.0, 60.0, 45.0, 40.0]);
    assert_eq!(
        (profile.motion, profile.axis),
        (Motion::Falling, Axis::Pressure)
    );
    // 540 gpm is more than 50 above the 100 of the station.
    assert!(profile.descent && profile.ends_aloft);
    let bounced =
        "info: x.csv:8: 1 row with a pressure less than an earlier one of the descent left out";
    assert!(reported.iter().any(|t| t == BEFORE), "{reported:?}");
    assert!(reported.iter().any(|t| t == bounced), "{reported:?}");
}

#[test]
fn a_file_of_the_fall_alone_is_the_same() {
    let fall = "45,650,3600,-8\n60,750,2500,-1\n80,950,540,12\n";
    let (whole, _) = built(fall);
    let (alone, reported) = built_in(&format!("{HEAD}40,600,4200,-11\n{fall}"), &context());
    assert_eq!(alone, whole);
    assert!(
        reported.iter().all(|t| !t.contains("left out")),
        "{reported:?}"
    );
}

#[test]
fn a_float_at_the_top_belongs_to_the_time_before() {
    let (profile, reported) =
        built("50,600,4201,-11\n60,600,4199,-11\n70,700,3000,-4\n80,800,2000,3\n");
    assert_eq!(pressures(&profile), [800.0, 700.0, 600.0]);
    assert_eq!(times(&profile), [80.0, 70.0, 60.0]);
    assert!(
        reported
            .iter()
            .any(|t| t.starts_with("info: x.csv:2: 6 rows before"))
    );
}

#[test]
fn a_row_that_observes_nothing_is_neither_top_nor_end() {
    // A pressure computed beyond the top, and two after the signal was lost.
    let (profile, reported) =
        built("45,590,4300,\n50,650,3600,-8\n60,750,2500,-1\n70,850,1500,\n80,950,540,\n");
    assert_eq!(pressures(&profile), [750.0, 650.0, 600.0]);
    let end = "info: x.csv:10: 2 rows without observations at the end of the descent left out";
    assert!(reported.iter().any(|t| t == end), "{reported:?}");
    // 590 hPa is then a row out of order, below the pressure of the top.
    assert!(
        reported
            .iter()
            .any(|t| t.starts_with("info: x.csv:7: 1 row with a pressure less"))
    );
}

#[test]
fn the_ground_of_the_station_is_not_that_of_the_landing() {
    // Into a valley 60 m below the station, to whose bound of 50 m above it the
    // end is no drop aloft.
    let surface = Surface {
        pressure_hpa: Some(1000.0),
        temperature_c: Some(20.0),
        ..Surface::default()
    };
    let context = Context {
        surface: Some(surface),
        ..context()
    };
    let csv = format!("{HEAD}{CLIMB}50,700,3000,-4\n60,800,2000,3\n70,1005,40,16\n");
    let (profile, _) = built_in(&csv, &context);
    assert_eq!(pressures(&profile), [1005.0, 800.0, 700.0, 600.0]);
    assert_eq!(profile.rows[0].temperature_c, Some(16.0));
    assert!(!profile.ends_aloft);
    for (last, aloft) in [("150", false), ("151", true), ("", true)] {
        let csv = format!("{HEAD}{CLIMB}50,700,3000,-4\n60,800,2000,3\n70,990,{last},14\n");
        assert_eq!(built_in(&csv, &context).0.ends_aloft, aloft, "{last}");
    }
}

#[test]
fn a_file_without_a_descent_is_refused() {
    assert_eq!(
        refused(&format!("{HEAD}{CLIMB}")),
        "x.csv: the file has no descent: of 5 rows read, 0 lie below the top of the flight and in \
         order; at least 2 are needed (4 rows before the start of the descent left out)"
    );
    assert_eq!(
        refused(&format!("{HEAD}40,600,4200,-11\n50,650,3600,-8\n")),
        "x.csv: the file has no descent: of 2 rows read, 1 lies below the top of the flight and in \
         order; at least 2 are needed"
    );
    assert_eq!(
        refused(&format!("{HEAD}0,1000,100,\n10,900,1000,\n20,950,540,\n")),
        "x.csv: temperature, humidity and wind are missing in every row; one of them is needed: name its column under [columns]"
    );
    assert!(refused(&format!("{HEAD}20,600,4200,-11\n10,700,3000,-4\n")).contains("time_s is 10"));
}

#[test]
fn on_an_axis_of_heights_the_greatest_is_the_top() {
    let head = "time_s,height_gpm,wind_dir_deg,wind_speed_ms\n";
    let csv =
        format!("{head}0,100,240,5\n10,3000,250,9\n20,2000,250,8\n30,2000,249,8\n40,1000,245,7\n");
    let (profile, reported) = built_in(&csv, &context());
    let heights: Vec<_> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(heights, [1000.0, 2000.0, 3000.0]);
    assert_eq!(profile.axis, Axis::Height);
    let level =
        "info: x.csv:5: 1 row with a height not below an earlier one of the descent left out";
    assert!(reported.iter().any(|t| t == level), "{reported:?}");
}

#[test]
fn heights_are_not_made_up_and_orders_hold() {
    let mut context = context();
    context.orders = vec![Order::Withhold {
        element: Element::Temperature,
        from_hpa: 760.0,
        to_hpa: 740.0,
        reason: "a test".to_owned(),
    }];
    let csv = "time_s,pressure_hpa,temperature_c\n0,600,-11\n10,650,-8\n20,750,-1\n30,850,5\n";
    let (profile, reported) = built_in(csv, &context);
    assert!(profile.rows.iter().all(|r| r.height_gpm.is_none()));
    assert_eq!(
        reported[0],
        "warning: x.csv: no row of the descent has a height (heights of a descent are not computed: give them in the file)"
    );
    assert!(profile.ends_aloft);
    let masked = |p: f64| {
        let row = profile.rows.iter().find(|r| r.pressure_hpa == Some(p));
        row.unwrap().temperature_c.is_none()
    };
    assert!(masked(750.0) && !masked(650.0));
}
