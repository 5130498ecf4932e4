use jiff::civil::date;
use proptest::prelude::*;

use super::*;
use crate::input::{RawRow, text};
use crate::model::finding::Severity;
use crate::model::{
    Derivation, Element, HeightReference, HumidityOver, Noted, Order, PressureAt, Reading, Station,
    Surface, Wind,
};
use crate::physics::gravity::geopotential_gpm;
use crate::physics::humidity::{dewpoint_c, relative_humidity_pct};
use crate::physics::hydrostatic::height_below;

fn context() -> Context {
    Context {
        station: Station {
            latitude_deg: Some(45.0),
            longitude_deg: Some(7.0),
            elevation_m: Some(100.0),
            ..Station::default()
        },
        ..Context::default()
    }
}

fn raw(csv: &str) -> RawProfile {
    text::read(csv.as_bytes(), "x.csv", &Reading::default())
        .unwrap()
        .value
}

/// The profile and the findings, to be taken apart.
fn build(raw: &RawProfile, context: &Context) -> Result<(Profile, Vec<Finding>), ProfileError> {
    super::build(raw, context).map(Into::into)
}

fn built(csv: &str) -> (Profile, Vec<Finding>) {
    build(&raw(csv), &context()).unwrap()
}

fn with_surface(csv: &str, surface: Surface) -> (Profile, Vec<Finding>) {
    let context = Context {
        surface: Some(surface),
        ..context()
    };
    build(&raw(csv), &context).unwrap()
}

fn refused(csv: &str) -> String {
    build(&raw(csv), &context()).unwrap_err().to_string()
}

#[track_caller]
fn near(value: f64, wanted: f64, within: f64) {
    assert!((value - wanted).abs() <= within, "{value}, not {wanted}");
}

fn reported(findings: &[Finding]) -> Vec<String> {
    findings.iter().map(ToString::to_string).collect()
}

fn pressures(profile: &Profile) -> Vec<f64> {
    let rows = profile.rows.iter();
    rows.map(|r| r.pressure_hpa.unwrap()).collect()
}

/// Pressure, height, temperature and wind.
const HEAD: &str = "pressure_hpa,height_gpm,temperature_c,wind_dir_deg,wind_speed_ms\n";

#[test]
fn two_rows_are_an_ascent() {
    let (profile, findings) = built(&format!("{HEAD}1000,100,15,240,5\n990,185,14.5,245,6\n"));
    assert_eq!(profile.rows.len(), 2);
    assert_eq!(profile.axis, Axis::Pressure);
    assert_eq!(profile.derived, []);
    // One row above the first is too little for TEMP.
    assert!(!has_temperature(&profile));
    assert_eq!(
        reported(&findings),
        ["info: x.csv: no row has a temperature (PILOT is the form for winds alone)"]
    );
}

#[test]
fn what_is_no_ascent_is_refused() {
    assert_eq!(
        refused("pressure_hpa,temperature_c\n1000,15\n"),
        "x.csv: the profile has 1 row(s); at least 2 are needed, with pressure falling: give the complete ascent"
    );
    assert_eq!(
        refused("time_s,temperature_c\n0,15\n1,14\n"),
        "x.csv: pressure_hpa and height_gpm (or altitude_m) are missing in every row; one of them is needed: name its column under [columns]"
    );
    assert_eq!(
        refused("pressure_hpa,height_gpm\n1000,100\n990,185\n"),
        "x.csv: temperature, humidity and wind are missing in every row; one of them is needed: name its column under [columns]"
    );
    assert_eq!(
        refused("pressure_hpa,temperature_c\n900,15\n950,15\n1000,15\n"),
        "x.csv: the profile never rises: of 3 rows read, none is above the first of the ascent (2 rows after the top of the ascent left out)"
    );
    assert_eq!(
        refused("pressure_hpa,temperature_c\n900,15\n900,15\n"),
        "x.csv: the profile never rises: of 2 rows read, none is above the first of the ascent"
    );
    assert_eq!(
        refused("height_gpm,wind_dir_deg,wind_speed_ms\n900,15,3\n900,15,3\n"),
        "x.csv: the profile never rises: of 2 rows read, none is above the first of the ascent (1 row after the top of the ascent left out)"
    );
    assert_eq!(
        refused("time_s,pressure_hpa,temperature_c\n0,1000,15\n2,990,14\n2,980,14\n1.5,970,13\n"),
        "x.csv:5: time_s is 1.5, earlier than 2 in a row above; put the rows in order of time, or leave time_s out"
    );
}

#[test]
fn rows_outside_the_ascent_are_counted() {
    let (profile, findings) = built(
        "time_s,pressure_hpa,height_gpm,temperature_c\n\
         -2,1001,100,15\n\
         -1,1001,100,15\n\
         0,1013,-10,\n\
         0,1002,90,15\n\
         0,1000,95,15\n\
         1,999,105,15\n\
         2,999.5,100,15\n\
         3,,110,15\n\
         4,998,115,15\n\
         5,998,112,15\n\
         6,990,185,14\n\
         7,991,176,14\n\
         8,992,168,14\n\
         9,980,270,\n",
    );
    assert_eq!(pressures(&profile), [1000.0, 999.0, 998.0, 998.0, 990.0]);
    let heights: Vec<_> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(heights, [95.0, 105.0, 112.0, 115.0, 185.0]);
    assert_eq!(
        reported(&findings),
        [
            "info: x.csv:2: 2 rows before release left out",
            "warning: x.csv: no row has a wind (check the names and units of the wind columns)",
            "info: x.csv:4: 1 row below the ground, without observations, left out",
            "warning: x.csv:5: 1 row with observations more than 5 m below the ground left out (check release_m and elevation_m, and that heights are above mean sea level)",
            "info: x.csv:9: 1 row without pressure left out",
            "info: x.csv:15: 1 row without observations at the top left out",
            "info: x.csv:8: 1 row with a pressure greater than an earlier one left out",
            "info: x.csv:13: 2 rows after the top of the ascent left out",
        ]
    );
    let codes: Vec<_> = findings.iter().map(|f| f.code.clone()).collect();
    assert_eq!(
        codes,
        [
            "before-release",
            "wind-missing",
            "below-ground-computed",
            "below-ground",
            "no-pressure",
            "no-observation",
            "pressure-rises",
            "after-burst"
        ]
    );
}

#[test]
fn equal_pressures_without_all_heights_stay_in_the_order_of_time() {
    let (profile, _) = built(
        "time_s,pressure_hpa,height_gpm,temperature_c\n\
         0,1000,100,15\n1,990,190,14\n2,990,,14\n3,990,185,14\n4,980,270,13\n",
    );
    let times: Vec<_> = profile.rows.iter().filter_map(|r| r.time_s).collect();
    assert_eq!(times, [0.0, 1.0, 2.0, 3.0, 4.0]);
}

#[test]
fn the_surface_row_stays_first_among_its_equals() {
    let (profile, findings) = built(&format!(
        "{HEAD}1000,100,15,0,0\n1000,98,15,0,0\n1000,101,15,0,0\n990,185,15,0,0\n"
    ));
    let heights: Vec<_> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(heights, [100.0, 101.0, 185.0]);
    assert!(
        reported(&findings)
            .contains(&"info: x.csv:3: 1 row below the surface level left out".to_owned())
    );
}

#[test]
fn without_pressure_height_is_the_axis() {
    let (profile, findings) = built(
        "altitude_m,wind_dir_deg,wind_speed_ms\n100,240,5\n400,250,7\n390,250,7\n700,260,9\n650,1,1\n",
    );
    assert_eq!(profile.axis, Axis::Height);
    let heights: Vec<_> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(
        heights,
        [100.0, 400.0, 700.0].map(|m| geopotential_gpm(m, 45.0))
    );
    assert_eq!(profile.derived, [Derivation::HeightFromAltitude]);
    let codes: Vec<_> = findings.iter().map(|f| f.code.clone()).collect();
    assert_eq!(
        codes,
        [
            "temperature-missing",
            "height-falls",
            "after-burst",
            "derived"
        ]
    );
}

#[test]
fn geometric_height_takes_the_gravity_of_the_place() {
    let csv = "pressure_hpa,altitude_m,latitude_deg,longitude_deg,temperature_c\n\
               1000,100,,,15\n500,5500,80,350,-20\n";
    let (profile, _) = built(csv);
    assert_eq!(
        profile.rows[0].height_gpm,
        Some(geopotential_gpm(100.0, 45.0))
    );
    assert_eq!(
        profile.rows[1].height_gpm,
        Some(geopotential_gpm(5500.0, 80.0))
    );
    let place = profile.rows[1].place.unwrap();
    assert_eq!((place.latitude_deg, place.longitude_deg), (80.0, -10.0));
    assert_eq!(profile.rows[0].place, None);
}

#[test]
fn winds_from_either_pair() {
    // A wind toward the east (u > 0) blows from the west, 270 degrees.
    for (cells, wind) in [
        ("240,5,,", Some((240.0, 5.0))),
        ("240,5,9,9", Some((240.0, 5.0))),
        (",,3,0", Some((270.0, 3.0))),
        (",,-3,0", Some((90.0, 3.0))),
        (",,0,3", Some((180.0, 3.0))),
        (",,0,-3", Some((0.0, 3.0))),
        (",,3,4", Some((216.869_897_645_844, 5.0))),
        (",,0,0", Some((0.0, 0.0))),
        (",0,,", Some((0.0, 0.0))),
        ("240,,3,0", Some((270.0, 3.0))),
        ("240,,,", None),
        (",5,,", None),
        (",,3,", None),
        (",,,", None),
    ] {
        let csv = format!(
            "pressure_hpa,temperature_c,wind_dir_deg,wind_speed_ms,wind_u_ms,wind_v_ms\n\
             1000,15,{cells}\n990,14,1,1,,\n"
        );
        let (profile, findings) = built(&csv);
        let found = profile.rows[0].wind;
        assert_eq!(found.is_some(), wind.is_some(), "{cells}");
        if let (Some(found), Some((dir, speed))) = (found, wind) {
            near(found.dir_deg, dir, 1e-9);
            near(found.speed_ms, speed, 1e-12);
        }
        let half = findings.iter().any(|f| f.code == "wind-incomplete");
        assert_eq!(half, wind.is_none() && cells != ",,,", "{cells}");
    }
}

#[test]
fn humidity_and_dew_point_complete_each_other() {
    let head = "pressure_hpa,temperature_c,humidity_pct,dewpoint_c\n";
    let (profile, findings) = built(&format!(
        "{head}1000,15,80,\n990,14,,9\n980,13,0,\n970,12,103,\n960,11,90,2\n950,10,50,0.06\n940,,50,1\n930,9,,9.5\n"
    ));
    let at = |i: usize| {
        (
            profile.rows[i].humidity_pct,
            profile.rows[i].any_dewpoint_c(),
        )
    };
    assert_eq!(at(0), (Some(80.0), dewpoint_c(15.0, 80.0)));
    assert_eq!(at(1), (Some(relative_humidity_pct(14.0, 9.0)), Some(9.0)));
    assert_eq!(at(2), (Some(0.0), None));
    assert_eq!(at(3).0, Some(100.0));
    near(at(3).1.unwrap(), 12.0, 1e-9);
    assert_eq!(at(4), (Some(90.0), Some(2.0)));
    assert_eq!(at(5), (Some(50.0), Some(0.06)));
    assert_eq!(at(6), (None, None));
    assert_eq!(at(7), (Some(100.0), Some(9.5)));
    let reported = reported(&findings);
    for wanted in [
        "info: x.csv:5: 1 row with a humidity over 100 %, used as 100 %",
        "info: x.csv:6: 1 row in which humidity and dew point differ by more than 0.5 K (each is used as given)",
        "info: x.csv:8: 1 row with humidity but without temperature; humidity is treated as missing",
        "info: x.csv:9: 1 row with a dew point above the temperature; humidity is used as 100 %",
    ] {
        assert!(
            reported.iter().any(|t| t == wanted),
            "{wanted}: {reported:#?}"
        );
    }
    assert_eq!(
        profile.derived[..2],
        [
            Derivation::HumidityFromDewpoint,
            Derivation::DewpointFromHumidity
        ]
    );
}

#[test]
fn missing_heights_are_integrated() {
    // U.S. Standard Atmosphere 1976, table I (from memory): 1013.25 hPa 15 degrees C
    // at 0; 900 hPa at 988.5 gpm, 850 hPa at 1457.3, 800 hPa at 1948.99,
    // 700 hPa at 3012.2, 500 hPa at 5574.4; lapse 6.5 K/km. The 850 hPa row has
    // no temperature and is bridged; the first has none either, to be warmed by
    // the next.
    let mut context = context();
    context.station.elevation_m = Some(0.0);
    let kelvin = |gpm: f64| 15.0 - 0.0065 * gpm;
    let csv = format!(
        "pressure_hpa,temperature_c\n1013.25,15\n900,{}\n850,\n800,{}\n700,{}\n500,{}\n490,\n",
        kelvin(988.5),
        kelvin(1948.99),
        kelvin(3012.2),
        kelvin(5574.4),
    );
    let mut csv = raw(&csv);
    csv.rows[6].wind_speed_ms = Some(0.0);
    let (profile, findings) = build(&csv, &context).unwrap();
    for (row, gpm) in profile
        .rows
        .iter()
        .zip([0.0, 988.5, 1457.3, 1948.99, 3012.2, 5574.4])
    {
        near(row.height_gpm.unwrap(), gpm, 4.0);
    }
    assert_eq!(profile.rows[6].height_gpm, None);
    assert_eq!(profile.derived, [Derivation::HeightByIntegration]);
    assert_eq!(
        findings[0].to_string(),
        "info: x.csv: heights above the release height are missing and computed hydrostatically with virtual temperature, across 1 row without temperature; 1 row at the top without height"
    );
    assert_eq!(findings[0].code, "height-integrated");

    context.station.elevation_m = None;
    let (profile, findings) = build(&csv, &context).unwrap();
    assert!(profile.rows.iter().all(|r| r.height_gpm.is_none()));
    assert_eq!(
        findings[0].to_string(),
        "warning: x.csv: no row has a height (heights are computed where temperature and station.elevation_m are given)"
    );
}

#[test]
fn the_release_height_is_the_first_height() {
    let mut context = context();
    context.station.release_m = Some(102.0);
    let csv = format!("{HEAD}1000,,15,0,0\n990,187,14,0,0\n");
    let (profile, findings) = build(&raw(&csv), &context).unwrap();
    assert_eq!(profile.rows[0].height_gpm, Some(102.0));
    assert!(findings.iter().all(|f| f.code != "height-integrated"));
}

#[test]
fn the_release_height_counts_among_equal_pressures() {
    let (profile, _) = built(&format!(
        "{HEAD}870,,15,0,0\n870,890,15,0,0\n870,150,15,0,0\n800,1500,9,0,0\n"
    ));
    let heights: Vec<_> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(heights, [100.0, 150.0, 890.0, 1500.0]);
}

const ASCENT: &str = "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,wind_dir_deg,wind_speed_ms\n\
                      0,1000,100,15,80,240,5\n1,999,108,14.9,80,241,5\n2,990,185,14,81,245,6\n3,980,272,13,82,250,7\n";

#[test]
fn the_surface_of_the_sheet_replaces_what_it_gives() {
    let surface = Surface {
        pressure_hpa: Some(1000.6),
        temperature_c: Some(16.0),
        dewpoint_c: Some(11.0),
        ..Surface::default()
    };
    let (profile, _) = with_surface(ASCENT, surface);
    let first = &profile.rows[0];
    assert_eq!(first.pressure_hpa, Some(1000.6));
    assert_eq!(first.temperature_c, Some(16.0));
    assert_eq!(first.dewpoint_c, Some(11.0));
    assert_eq!(first.humidity_pct, Some(relative_humidity_pct(16.0, 11.0)));
    assert_eq!(first.height_gpm, Some(100.0));
    assert_eq!(
        first.wind,
        Some(Wind {
            dir_deg: 240.0,
            speed_ms: 5.0
        })
    );
    assert_eq!(profile.rows.len(), 4);

    let only_warmth = Surface {
        temperature_c: Some(16.0),
        wind_speed_ms: Some(0.0),
        ..Surface::default()
    };
    let (profile, _) = with_surface(ASCENT, only_warmth);
    let first = &profile.rows[0];
    assert_eq!(first.pressure_hpa, Some(1000.0));
    assert_eq!(first.humidity_pct, Some(80.0));
    assert_eq!(first.any_dewpoint_c(), dewpoint_c(16.0, 80.0));
    assert_eq!(first.wind.unwrap().speed_ms, 0.0);

    let only_humidity = Surface {
        humidity_pct: Some(60.0),
        wind_dir_deg: Some(10.0),
        ..Surface::default()
    };
    let (profile, _) = with_surface(ASCENT, only_humidity);
    let first = &profile.rows[0];
    assert_eq!(first.any_dewpoint_c(), dewpoint_c(15.0, 60.0));
    assert_eq!(first.wind.unwrap().dir_deg, 240.0);
}

#[test]
fn rows_below_the_surface_pressure_go() {
    let surface = Surface {
        pressure_hpa: Some(989.0),
        ..Surface::default()
    };
    let (profile, findings) = with_surface(ASCENT, surface);
    assert_eq!(pressures(&profile), [989.0, 980.0]);
    assert_eq!(profile.rows[0].time_s, Some(0.0));
    assert!(
        reported(&findings)
            .contains(&"info: x.csv:3: 2 rows below the surface level left out".to_owned())
    );
}

#[test]
fn a_barometer_reading_is_brought_to_the_release_point() {
    let mut context = context();
    context.station.barometer_m = Some(112.0);
    context.surface = Some(Surface {
        pressure_hpa: Some(999.0),
        pressure_at: PressureAt::Barometer,
        temperature_c: Some(15.0),
        dewpoint_c: Some(10.0),
        ..Surface::default()
    });
    let (profile, _) = build(&raw(ASCENT), &context).unwrap();
    let p = profile.rows[0].pressure_hpa.unwrap();
    // 12 m near sea level are about 1.4 hPa.
    near(p, 1000.4, 0.05);
    let back = height_below(112.0, 999.0, 15.0, Some(10.0), p);
    near(back, 100.0, 1e-9);
}

#[test]
fn a_file_that_starts_aloft_gets_a_surface_row() {
    let surface = Surface {
        pressure_hpa: Some(1000.0),
        temperature_c: Some(15.0),
        humidity_pct: Some(80.0),
        ..Surface::default()
    };
    let aloft: String = ASCENT.replace("0,1000,100,15,80,240,5\n1,999,108,14.9,80,241,5\n", "");
    let (profile, _) = with_surface(&aloft, surface);
    assert_eq!(pressures(&profile), [1000.0, 990.0, 980.0]);
    let first = &profile.rows[0];
    assert_eq!((first.time_s, first.height_gpm), (Some(0.0), Some(100.0)));
    assert_eq!(first.wind, None);
    assert_eq!(first.place.unwrap().longitude_deg, 7.0);
}

#[test]
fn a_surface_of_another_place_is_not_settled() {
    let reported = |csv: &str, surface: Surface| {
        let (profile, findings) = with_surface(csv, surface);
        assert!(profile.unsettled.iter().all(|f| findings.contains(f)));
        let reported = profile.unsettled.iter().map(ToString::to_string);
        reported.collect::<Vec<_>>().join("|")
    };
    let at = |pressure_hpa| Surface {
        pressure_hpa: Some(pressure_hpa),
        temperature_c: Some(15.0),
        ..Surface::default()
    };
    // The station is at 100 m. 288.15 K: 29.271 x 288.15 = 8434.5 gpm; 84.3 gpm
    // further up the pressure is lower by a factor exp(-0.01): 990.05 of 1000 hPa.
    let low = "time_s,pressure_hpa,height_gpm,temperature_c\n0,1000,100,15\n60,966,390,13\n\
               120,930,710,11\n180,895,1030,9\n240,860,1360,7\n";
    assert_eq!(reported(low, at(1009.9)), "");
    assert_eq!(
        reported(low, at(1010.1)),
        "error: x.csv:2: the pressure at the release point is 1000.0 hPa by the first row and 1010.1 hPa by the surface observation (-10.1 hPa) (at most 10 hPa apart; correct surface.pressure_hpa, or station.elevation_m and release_m) [common practice, no source]"
    );
    assert!(reported(low, at(900.0)).contains("(+100.0 hPa)"));
    let above = low.replace("0,1000,100,15", "17,990.05,184.345,15");
    assert_eq!(reported(&above, at(1009.0)), "");
    assert!(reported(&above, at(1011.0)).contains("is 1000.0 hPa by the first row and 1011.0"));
    // Without heights the first row is compared at the time of release alone.
    let bare = "time_s,pressure_hpa,temperature_c\n0,1000,15\n60,966,13\n120,930,11\n\
                180,895,9\n240,860,7\n";
    assert!(reported(bare, at(900.0)).contains("(+100.0 hPa)"));
    assert_eq!(reported(&bare.replace("\n0,", "\n20,"), at(1025.0)), "");
}

#[test]
fn rows_that_are_all_at_one_pressure_are_refused() {
    let file = |pressures: &[f64]| {
        let mut csv = "time_s,pressure_hpa,height_gpm,temperature_c\n".to_owned();
        for (k, p) in pressures.iter().enumerate() {
            csv += &format!("{k},{p},{},15\n", 100 + 5 * k);
        }
        let built = build(&raw(&csv), &context());
        built.map_or_else(|error| error.to_string(), |_| String::new())
    };
    let words = "rows of the ascent are all at 990 hPa; pressure must fall: name the right column \
                 as pressure_hpa under [columns], or leave it out so that heights are used";
    assert!(file(&[990.0; 5]).contains("the profile never rises"));
    // The first row may be the surface observation.
    assert_eq!(
        file(&[1000.0, 990.0, 990.0, 990.0]),
        format!("x.csv: 3 {words}")
    );
    // Three rows, or one that is not the same, are an ascent.
    assert_eq!(file(&[1000.0, 990.0, 990.0]), "");
    assert_eq!(file(&[1000.0, 990.0, 990.0, 990.0, 989.9]), "");
}

#[test]
fn what_is_withheld_is_missing() {
    let order = |element, from_hpa, to_hpa, reason: &str| Order::Withhold {
        element,
        from_hpa,
        to_hpa,
        reason: reason.to_owned(),
    };
    let mut context = context();
    context.orders = vec![
        order(Element::Temperature, 1000.0, 999.0, "sensor wet"),
        order(Element::Humidity, 989.9, 990.0, "a test"),
        order(Element::Wind, 980.0, 500.0, "a test"),
    ];
    let (profile, findings) = build(&raw(ASCENT), &context).unwrap();
    let there: Vec<_> = profile
        .rows
        .iter()
        .map(|r| {
            (
                r.temperature_c.is_some(),
                r.humidity_pct.is_some() || r.dewpoint_c.is_some(),
                r.wind.is_some(),
            )
        })
        .collect();
    assert_eq!(
        there,
        [
            (false, false, true),
            (false, false, true),
            (true, false, true),
            (true, true, false),
        ]
    );
    assert_eq!(
        reported(&findings)[..3],
        [
            "info: withhold: temperature (and humidity) withheld from 1000 to 999 hPa in 2 rows: sensor wet",
            "info: withhold: humidity withheld from 989.9 to 990 hPa in 1 row: a test",
            "info: withhold: wind withheld from 980 to 500 hPa in 1 row: a test",
        ]
    );
    assert!(findings.iter().all(|f| f.severity == Severity::Info));
}

/// Values that make trouble: few different ones, so that ties are many.
fn cell(low: i32, high: i32) -> impl Strategy<Value = Option<f64>> {
    prop_oneof![
        1 => Just(None),
        6 => (low..=high).prop_map(|v| Some(f64::from(v))),
    ]
}

fn raw_row() -> impl Strategy<Value = RawRow> {
    (
        cell(1, 30),
        cell(-100, 300),
        cell(-90, 40),
        cell(0, 105),
        cell(-120, 40),
        cell(0, 360),
        cell(0, 90),
        cell(-90, 90),
    )
        .prop_map(|(p, z, t, u, td, dir, speed, place)| RawRow {
            pressure_hpa: p.map(|p| p * 30.0),
            height_gpm: z.map(|z| z * 100.0),
            altitude_m: place.map(|a| a * 100.0),
            temperature_c: t,
            humidity_pct: u,
            dewpoint_c: td,
            wind_dir_deg: dir,
            wind_speed_ms: speed,
            wind_u_ms: speed,
            wind_v_ms: dir,
            latitude_deg: place,
            longitude_deg: place.map(|v| v * 4.0),
            ..RawRow::default()
        })
}

proptest! {
    #[test]
    fn a_built_profile_keeps_its_promise(
        mut rows in proptest::collection::vec(raw_row(), 0..60),
        sorted in any::<bool>(),
        heights_only in any::<bool>(),
        surface_hpa in cell(1, 1100),
        withhold in (1.0..1100.0, 1.0..1100.0),
        form in prop::sample::select(vec![Form::Temp, Form::Pilot, Form::Descent]),
        (ellipsoid, ice, timed, windless, started) in any::<(bool, bool, bool, bool, bool)>(),
        (release_time_s, track_window_s) in (cell(-5, 20), cell(2, 60)),
    ) {
        if sorted {
            rows.sort_by(|a, b| b.pressure_hpa.partial_cmp(&a.pressure_hpa).unwrap());
        }
        for (i, row) in rows.iter_mut().enumerate() {
            row.line = i + 2;
            if heights_only {
                row.pressure_hpa = None;
            }
            if timed {
                row.time_s = u32::try_from(i).ok().map(f64::from);
            }
            if windless {
                (row.wind_dir_deg, row.wind_speed_ms) = (None, None);
                (row.wind_u_ms, row.wind_v_ms) = (None, None);
            }
        }
        let mut context = context();
        context.flight.release = Some(date(2031, 1, 15).at(11, 23, 40, 0));
        context.meaning.release_time_s = release_time_s;
        context.meaning.track_window_s = track_window_s;
        if ellipsoid {
            context.meaning.height_reference = HeightReference::Ellipsoid;
        }
        if ice {
            context.meaning.humidity_over = HumidityOver::Ice;
        }
        context.surface = surface_hpa.map(|p| Surface {
            pressure_hpa: Some(p),
            temperature_c: Some(10.0),
            ..Surface::default()
        });
        context.orders = vec![Order::Withhold {
            element: Element::Temperature,
            from_hpa: withhold.0,
            to_hpa: withhold.1,
            reason: "a test".to_owned(),
        }];
        let start = started.then(|| date(2031, 1, 15).at(11, 23, 30, 0));
        let raw = RawProfile { name: "x".to_owned(), rows, start };
        if let Ok(Noted { value: profile, .. }) = build_for(form, &raw, &context) {
            prop_assert!(profile.rows.len() >= 2 + usize::from(form == Form::Descent));
            for pair in profile.rows.windows(2) {
                let (a, b) = (&pair[0], &pair[1]);
                if profile.axis == Axis::Height {
                    prop_assert!(a.height_gpm.unwrap() < b.height_gpm.unwrap());
                    continue;
                }
                prop_assert!(a.pressure_hpa.unwrap() >= b.pressure_hpa.unwrap());
                prop_assert!(
                    a.height_gpm.is_none_or(f64::is_finite)
                        && a.dewpoint_c.is_none_or(f64::is_finite)
                        && a.humidity_pct.is_none_or(|u| (0.0..=100.0).contains(&u))
                        && a.wind.is_none_or(|w| w.speed_ms.is_finite() && w.dir_deg.is_finite())
                );
            }
            if profile.axis == Axis::Pressure {
                let ties = profile.rows.chunk_by(|a, b| a.pressure_hpa == b.pressure_hpa);
                for run in ties {
                    if run.iter().all(|r| r.height_gpm.is_some()) {
                        prop_assert!(run.is_sorted_by_key(|r| r.height_gpm));
                    }
                }
            }
        }
    }
}
