//! Soundings by descriptor: old templates, spelt out ones, other kinds of data.

use super::*;
use crate::model::{Axis, Form, Noted, Roles};
use approx::assert_abs_diff_eq;

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
    assert_abs_diff_eq!(surface.row.height_gpm.unwrap(), 115.228, epsilon = 0.001);
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
    assert_abs_diff_eq!(standard.row.height_gpm.unwrap(), 1498.983, epsilon = 0.001);
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

/// A message of 3 09 064 (processed pressure, temperature, humidity) or 3 09 065
/// (processed wind and position): a subset for each value of `seconds`, launch at
/// 11:09:41.
fn piece(template: &str, seconds: &[i64], value: impl Fn(&str, i64) -> Option<i64>) -> Vec<u8> {
    let base = descriptors(template.get(..6).unwrap());
    let rated = template.contains("222000");
    let template = descriptors(template);
    let fields = Layout::new(&base, 0).unwrap().fields(|_| None);
    let subset = |second: &i64| {
        // 0 08 041: 3 launch, 6 flight level; all after it belongs to it.
        let mut part = 0;
        let mut values = Vec::new();
        for field in &fields {
            let fxy = field.descriptor.to_string();
            let of = match fxy.as_str() {
                "008041" => {
                    part = if part == 0 { 3 } else { 6 };
                    Some(part)
                }
                "001001" => Some(72),
                "001002" => Some(747),
                "004001" => Some(2025),
                "004002" => Some(1),
                "004003" => Some(14),
                "004004" => Some(11),
                "004005" => Some(9),
                // Hundredths of a second.
                "004006" if part == 3 => Some(4100),
                "004006" => Some(4100 + 100 * second),
                _ if part == 3 => None,
                other => value(other, *second),
            };
            values.push(of.map_or(Value::Missing, Value::Number));
        }
        if rated {
            values.extend([0; 3].map(Value::Number));
            values.extend((0..3).map(|_| Value::Number(value("033007", *second).unwrap())));
        }
        values
    };
    let message = Message {
        section1: Section1::default(),
        template,
        values: seconds.iter().map(subset).collect(),
    };
    message.encode().unwrap()
}

/// The subsets of one message are the levels of one ascent; two messages of it are one
/// profile, joined by the time of each level.
#[test]
fn an_ascent_in_several_messages_is_one_profile() {
    let thermal = piece("309064", &[5, 10], |fxy, second| match fxy {
        // 1 Pa steps (2 01 131, 2 02 129): 978.49 hPa; 71.2 %; 249.08 K; 392 gpm.
        "007004" => Some(97_849 - 100 * second),
        "013003" => Some(712),
        "012101" => Some(24_908),
        "010009" => Some(380 + second),
        _ => None,
    });
    // 3 m/s towards north, 4 m/s from the east: speed 5.
    let wind = piece("309065", &[5, 15], |fxy, second| match fxy {
        "011003" => Some(-40),
        "011004" => Some(30),
        "007007" => Some(380 + second),
        _ => None,
    });
    let bytes = [thermal.clone(), wind].concat();
    let Noted {
        value: found,
        findings,
    } = crate::input::bufr::soundings(&bytes, "f");
    assert_eq!(findings, []);
    let [one] = found.as_slice() else {
        panic!("{} soundings", found.len());
    };
    let times: Vec<_> = one.report.levels.iter().map(|l| l.row.time_s).collect();
    assert_eq!(times, [Some(5.0), Some(10.0), Some(15.0)]);
    let first = &one.report.levels[0].row;
    assert_eq!(
        (first.pressure_hpa, first.height_gpm),
        (Some(973.49), Some(385.0))
    );
    assert_eq!(
        (first.temperature_c, first.humidity_pct),
        (Some(-24.07), Some(71.2))
    );
    let wind = first.wind.unwrap();
    assert_abs_diff_eq!(wind.speed_ms, 5.0, epsilon = 1e-9);
    // From 180 - atan(-4/3) = 126.87 degrees: towards west and north.
    assert!((wind.dir_deg - 126.87).abs() < 0.01, "{}", wind.dir_deg);
    assert_eq!(one.report.levels[1].row.wind, None);
    assert_eq!(one.report.levels[2].row.pressure_hpa, None);
    // A message alone is its levels.
    let alone = crate::input::bufr::soundings(&thermal, "f").value;
    assert_eq!(alone[0].report.levels.len(), 2);
}

/// Operator 2 22 behind the same templates: a bit-map of three bits, all 0, is about the last
/// three elements, 0 10 009 (or 0 11 004), 0 33 035 and 0 33 015.
#[test]
fn quality_is_kept_when_messages_are_joined() {
    let rated = |template| format!("{template} 222000 101003 031031 101003 033007");
    let thermal = piece(&rated("309064"), &[5, 10], |fxy, second| match fxy {
        "007004" => Some(97_849 - 100 * second),
        "012101" => Some(24_908),
        "010009" => Some(380 + second),
        "033007" => Some(70),
        _ => None,
    });
    let wind = piece(&rated("309065"), &[5, 15], |fxy, second| match fxy {
        "011003" => Some(-40),
        "011004" => Some(30),
        "007007" => Some(380 + second),
        "033007" => Some(60),
        _ => None,
    });
    let found = crate::input::bufr::soundings(&[thermal, wind].concat(), "f").value;
    let [one] = found.as_slice() else {
        panic!("{} soundings", found.len());
    };
    let levels: Vec<Vec<(&str, Option<f64>)>> = one
        .quality
        .levels
        .iter()
        .map(|level| {
            level
                .iter()
                .map(|q| (q.element.as_str(), q.value))
                .collect()
        })
        .collect();
    let (own, checks) = (
        ("010009", Some(70.0)),
        [("033035", Some(70.0)), ("033015", Some(70.0))],
    );
    // The wind comes from the second message, and with it what is said of it.
    assert_eq!(
        levels[0],
        [own, checks[0], checks[1], ("011004", Some(60.0))]
    );
    assert_eq!(levels[1], [own, checks[0], checks[1]]);
    assert_eq!(levels[2][0], ("011004", Some(60.0)));
    assert_eq!(one.report.levels.len(), levels.len());
}

#[test]
fn a_dump_says_which_value_has_which_quality() {
    let template = "012101 011002 222000 101002 031031 033007";
    let parts = [(27315, 16), (123, 12), (0, 1), (1, 1), (70, 7)];
    let text = dump(&message(template, 1, OBSERVED, &packed(&parts)))
        .unwrap()
        .0;
    let line = |fxy: &str| {
        text.lines()
            .find(|l| l.starts_with('4') && l[24..30] == *fxy)
    };
    // Section 4 begins with 4 octets; the temperature is its first element.
    let bit: usize = line("012101").unwrap()[7..16].trim().parse().unwrap();
    let quality = line("033007").unwrap();
    assert!(
        quality.ends_with(&format!("70 % (of 012101 at bit {bit})")),
        "{quality}"
    );
}

/// 0 07 006 is a height above the station, here 84 m: 500 m above it are 584 m above the
/// sea, geopotential a little less (at 52 degrees g is 9.812 near the ground, so 584.3 less
/// 584 / 6 371 000 of it).
#[test]
fn heights_above_the_station_stand_on_it() {
    let template = "301001 301011 301012 301021 007030 103000 031001 007006 011001 011002";
    let parts = [
        (10, 7),
        (393, 10),
        (2031, 12),
        (1, 4),
        (15, 6),
        (11, 5),
        (30, 6),
        // 52 and 14 degrees less -90 and -180; 84.0 m less -400.0.
        (14_200_000, 25),
        (19_400_000, 26),
        (4840, 17),
        (1, 8),
        (500, 15),
        (270, 9),
        (123, 12),
    ];
    let found = sounding(&message(template, 1, OBSERVED, &packed(&parts)));
    let [level] = found.report.levels.as_slice() else {
        panic!("{:?}", found.report.levels);
    };
    assert_abs_diff_eq!(level.row.height_gpm.unwrap(), 584.3, epsilon = 0.3);
    assert!(found.findings.iter().any(|f| f.code == "height-in-metres"));
}

/// A sequence of a wind profiler, and data of a satellite, are named as what they are.
#[test]
fn profilers_and_satellites_are_no_ascents() {
    for (template, meaning) in [
        ("309020", "wind profiler data"),
        (
            "001007 301011 301012 301021 102000 031001 007004 012101",
            "satellite data",
        ),
    ] {
        let octets = message(template, 1, OBSERVED, &[0; 64]);
        let received = read(&octets).unwrap();
        let Err(NotSounding::Other { meaning: named, .. }) = to_report(&received) else {
            panic!("{template}");
        };
        assert_eq!(named, meaning);
    }
}
