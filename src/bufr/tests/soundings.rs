//! Soundings by descriptor: old templates, spelt out ones, other kinds of data.

use super::*;
use crate::sounding::{Axis, Form, Roles};

fn sounding(octets: &[u8]) -> Sounding {
    let mut all = to_report(&read(octets).unwrap()).unwrap();
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// 3 09 007 (WMO-No. 306 Vol. I.2, Table D): 3 01 037, 3 02 004, then levels of
/// 3 03 014, all of Table B with the widths of version 45.
#[test]
fn a_template_of_before_2000_is_read_by_its_descriptors() {
    let parts = [
        // 3 01 037: block, number, type, method; date, time; place and height: 52.22 and
        // 14.12 degrees in 0.00001, 115 m less -400.
        (10, 7),
        (393, 10),
        (80, 8),
        (4, 4),
        (2011, 12),
        (8, 4),
        (2, 6),
        (17, 5),
        (30, 6),
        (14_222_000, 25),
        (19_412_000, 26),
        (515, 15),
        // 3 02 004: cover missing; 1; nothing; 2600 m in 10 less -40; cloud types 30, 20, 10.
        (127, 7),
        (1, 6),
        (0, 4),
        (300, 11),
        (30, 6),
        (20, 6),
        (10, 6),
        // Two levels.
        (2, 8),
        // 1006 hPa; 64 + 4 + 2: surface, significant in temperature or humidity and in
        // wind; 1130 m2 s-2 in 10 less -400; 23.0 and 13.0 degrees: 296.15 K would be
        // 2961.5, so 2962 and 2861; 120 degrees, 2.0 m/s.
        (10_060, 14),
        (70, 7),
        (513, 17),
        (2962, 12),
        (2861, 12),
        (120, 9),
        (20, 12),
        // 850 hPa, standard; 14 700 m2 s-2; wind missing.
        (8500, 14),
        (32, 7),
        (1870, 17),
        (2800, 12),
        (4095, 12),
        (511, 9),
        (4095, 12),
    ];
    let found = sounding(&message("309007", 1, OBSERVED, &packed(&parts)));
    let report = &found.report;
    assert_eq!((report.form, report.axis), (Form::Temp, Axis::Pressure));
    let station = &report.context.station;
    assert_eq!(
        (station.wmo_block, station.wmo_number),
        (Some(10), Some(393))
    );
    assert_eq!(
        (station.latitude_deg, station.longitude_deg),
        (Some(52.22), Some(14.12))
    );
    assert_eq!(station.elevation_m, Some(115.0));
    assert_eq!(report.context.equipment.radiosonde, Some(80));
    let [surface, standard] = report.levels.as_slice() else {
        panic!("{} levels", report.levels.len());
    };
    let roles = Roles::SURFACE | Roles::SIG_T_OR_U | Roles::SIG_WIND;
    assert_eq!(
        (surface.roles, surface.row.pressure_hpa),
        (roles, Some(1006.0))
    );
    // 1130 / 9.80665 = 115.228 gpm.
    assert!((surface.row.height_gpm.unwrap() - 115.228).abs() < 0.001);
    assert_eq!(surface.row.temperature_c, Some(23.05));
    assert_eq!(surface.row.dewpoint_c, Some(12.95));
    assert_eq!(
        surface.row.wind.map(|w| (w.dir_deg, w.speed_ms)),
        Some((120.0, 2.0))
    );
    assert_eq!(
        (standard.roles, standard.row.pressure_hpa),
        (Roles::STANDARD, Some(850.0))
    );
    assert!((standard.row.height_gpm.unwrap() - 1498.983).abs() < 0.001);
    assert_eq!((standard.row.dewpoint_c, standard.row.wind), (None, None));
}

/// Components and a height in metres: wind from the west is towards the east.
#[test]
fn components_and_heights_in_metres_become_wind_and_geopotential() {
    let template = "301001 301011 301012 301021 104000 031001 004016 007007 011003 011004";
    let parts = [
        (10, 7),
        (393, 10),
        (2011, 12),
        (8, 4),
        (2, 6),
        (17, 5),
        (30, 6),
        (14_500_000, 25),
        (19_000_000, 26),
        (1, 8),
        // 60 s less -4096; 10 000 m less -1000; 5.0 and 0.0 m/s less -409.6.
        (4156, 13),
        (11_000, 17),
        (4146, 13),
        (4096, 13),
    ];
    let found = sounding(&message(template, 1, OBSERVED, &packed(&parts)));
    assert_eq!(
        (found.report.form, found.report.axis),
        (Form::Pilot, Axis::Height)
    );
    let row = &found.report.levels[0].row;
    assert_eq!(row.time_s, Some(60.0));
    assert_eq!(
        row.wind.map(|w| (w.dir_deg, w.speed_ms)),
        Some((270.0, 5.0))
    );
    // At 55 degrees north normal gravity is 9.8151 m s-2, so that 10 000 m are
    // 9.8151 / 9.80665 x 10 000 x R / (R + 10 000) with R 6.36 million m: 9993 gpm.
    let height = row.height_gpm.unwrap();
    assert!((height - 9993.0).abs() < 3.0, "{height}");
    let codes: Vec<&str> = found.findings.iter().map(|f| &*f.code).collect();
    assert!(codes.contains(&"height-in-metres"), "{codes:?}");
}

/// What is no ascent is named as what it is: Table D, 3 21 022 with the signal-to-noise
/// ratio of a wind profiler; 3 09 041, an ozone sounding; 3 09 054, monthly means;
/// 3 09 070.
#[test]
fn other_data_are_named() {
    let zero = vec![0; 2000];
    for (template, meaning) in [
        ("301032 321021 101000 031001 321022", "wind profiler data"),
        (
            "301032 321021 101000 031001 321024",
            "RASS temperature profile",
        ),
        ("309041", "ozone sounding"),
        ("309054", "monthly means (CLIMAT TEMP)"),
        (
            "309070",
            "vertical profile for numerical weather prediction",
        ),
    ] {
        let received = read(&message(template, 1, OBSERVED, &zero)).unwrap();
        match to_report(&received) {
            Err(NotSounding::Other { meaning: own, .. }) => assert_eq!(own, meaning, "{template}"),
            other => panic!("{template}: {other:?}"),
        }
    }
    // A station and clouds: nothing repeats as levels do.
    let received = read(&message("301001 301011 020011", 1, OBSERVED, &zero)).unwrap();
    assert!(matches!(
        to_report(&received),
        Err(NotSounding::NoLevels(_))
    ));
}

/// Without bit 4 (16 384) of 0 08 042: what a report does not hold is listed once.
#[test]
fn what_is_not_used_is_listed() {
    // 0 11 006, the vertical component of the wind, and 0 20 010, cloud cover.
    let template = "301001 301011 301012 301021 020010 104000 031001 007004 011001 011002 011006";
    let parts = [
        (10, 7),
        (393, 10),
        (2011, 12),
        (8, 4),
        (2, 6),
        (17, 5),
        (30, 6),
        (14_500_000, 25),
        (19_000_000, 26),
        (50, 7),
        (1, 8),
        (8500, 14),
        (270, 9),
        (50, 12),
        (4100, 13),
    ];
    let found = sounding(&message(template, 1, OBSERVED, &packed(&parts)));
    let finding = found
        .findings
        .iter()
        .find(|f| f.code == "values-not-used")
        .unwrap();
    assert!(finding.what.contains("020010"), "{}", finding.what);
    assert!(finding.what.contains("011006"), "{}", finding.what);
}
