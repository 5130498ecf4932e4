use itertools::Itertools as _;

use super::*;
use crate::model::At;
use crate::model::finding::Severity;

const A: &str = "TTAA 15111 99011 99004 04430 23006 00119 04226 22507 92748 00306 23512 \
    85421 01756 25015 70946 09562 25518 50547 24158 26037 40706 35947 26537 30900 50756 \
    27549 25017 51960 28061 20162 52771 29046 15347 56571 29528 10598 66969 30016 88280 \
    53957 28057 77262 28064 41711 31313 49008 81123";
const B: &str = "TTBB 15118 99011 00004 04430 11876 03105 22842 01158 33642 13164 21212 \
    00004 23006 11690 25519 31313 49008 81123 41414 65470";

/// Everything that comes out of a text: reports, and findings in order.
fn read(text: &str) -> (Vec<Received>, Vec<Finding>) {
    read_with(Traffic::new("x.txt"), text)
}

fn read_with(mut traffic: Traffic, text: &str) -> (Vec<Received>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut reports = Vec::new();
    for line in text.lines() {
        traffic.push(line);
        findings.extend(traffic.take_findings());
        reports.extend(traffic.take());
    }
    traffic.finish();
    findings.extend(traffic.take_findings());
    reports.extend(traffic.take());
    for report in &reports {
        findings.extend(report.findings.clone());
    }
    (reports, findings)
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code.as_ref()).collect()
}

#[test]
fn parts_of_one_report_join_across_bulletins() {
    let text = format!(
        "\u{1}\r\r\n123\r\r\nUSXX01 XXXX 151200\r\r\n{A}=\r\r\nTTAA 1511/ 99012 NIL=\r\r\n\u{3}\
         \u{1}\r\r\n124\r\r\nUKXX01 XXXX 151200 RRA\r\r\n{B}=\r\r\n\u{3}"
    );
    let (reports, findings) = read(&text);
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(reports.len(), 2);
    assert_eq!(reports[0].message.parts.len(), 2);
    let headings: Vec<String> = reports[0]
        .headings
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(headings, ["USXX01 XXXX 151200", "UKXX01 XXXX 151200 RRA"]);
    assert_eq!(reports[1].message.to_string(), "TTAA 1511/ 99012 NIL=\n");
}

#[test]
fn untidy_edges_are_read_and_told() {
    let small = A.to_ascii_lowercase();
    for (text, parts, reported) in [
        // A heading in ITA-2 manner, blanks, blank lines.
        (
            format!("ZCZC 017\n\nUSXX01  XXXX 151200\n\n  {A}  =\n\nNNNN\n"),
            1,
            vec![],
        ),
        (
            format!("usxx1 xxxx 151200\n{small}="),
            1,
            vec!["small-letters"],
        ),
        (
            format!("{A}\nUKXX01 XXXX 151200\n{B}="),
            2,
            vec!["end-missing"],
        ),
        (format!("{B}=\n{A}"), 2, vec!["end-missing"]),
        (
            format!("USXX01 XXXX 151200 COR\n{A}="),
            1,
            vec!["heading-bbb"],
        ),
        (
            format!("hello {A}= world"),
            1,
            vec!["stray-word", "stray-word"],
        ),
        (format!("{A}=\n{A}="), 1, vec!["part-twice"]),
        (
            "USXX01 XXXX 151200\nNIL=".to_owned(),
            0,
            vec!["bulletin-nil"],
        ),
    ] {
        let (reports, findings) = read(&text);
        let count: usize = reports.iter().map(|r| r.message.parts.len()).sum();
        assert_eq!((count, codes(&findings)), (parts, reported), "{text}");
    }
}

#[test]
fn letters_may_stand_once_for_all_reports_of_a_bulletin() {
    let rest = A
        .strip_prefix("TTAA ")
        .unwrap()
        .replacen("99011", "99013", 1);
    let (reports, findings) = read(&format!("USXX01 XXXX 151200\n{A}=\n{rest}="));
    assert_eq!(reports.len(), 2);
    assert_eq!(codes(&findings), ["letters-missing"]);
    assert_eq!(
        reports[1].message.ident,
        Ident::Land {
            block: 99,
            number: 13
        }
    );
}

#[test]
fn a_corrected_part_replaces_and_a_different_one_stands_alone() {
    let other = A.replacen("04430", "04630", 1);
    let (reports, findings) = read(&format!("{A}=\n{B}=\nUSXX01 XXXX 151200 CCA\n{other}="));
    assert_eq!(reports.len(), 1);
    assert_eq!(codes(&findings), ["part-corrected"]);
    assert!(reports[0].message.to_string().contains("99004 04630"));
    let (reports, findings) = read(&format!("{A}=\n{other}="));
    assert_eq!(reports.len(), 2);
    assert_eq!(codes(&findings), ["part-differs"]);
}

#[test]
fn a_broken_part_names_its_place_and_leaves_the_others() {
    let broken = A.replacen("85421", "8X421", 1);
    let text = format!("{broken}=\n{B}=");
    let (reports, findings) = read_with(Traffic::new("x.txt").strict_parts(), &text);
    assert_eq!(reports.len(), 1);
    assert_eq!(reports[0].message.parts.len(), 1);
    let f = &findings[0];
    assert_eq!(
        (f.code.as_ref(), f.severity),
        ("malformed", Severity::Error)
    );
    let p = &f.place;
    // Letters 4, three groups of identification, then groups of 5 and a blank
    // each: the thirteenth begins at column 6 + 11 × 6 = 72.
    assert_eq!((p.line, p.column, p.part), (Some(1), Some(72), Some('A')));
    assert_eq!((p.section, p.group), (Some(2), Some(13)));
}

#[test]
fn free_text_is_kept() {
    let text = "XXAA 63183 99256 70775 08057 99007 28448 01027 00064 28047 01028 92752 22419 \
        02525 85484 18448 04532 88999 77999 61616 ACFT 1708A OB 01 62626 SPL 2551N07756W=";
    let (reports, findings) = read(text);
    assert_eq!(
        codes(&findings),
        ["id-wrong"],
        "Id 3, but no wind above 850 hPa"
    );
    assert_eq!(findings[0].place.group, Some(2));
    assert!(reports[0].message.to_string().starts_with("XXAA 63188 "));
    let (reports, findings) = read(&text.replacen("63183", "63188", 1));
    assert!(findings.is_empty(), "{findings:?}");
    let report = reports[0].message.report();
    let national = &report.parts[&Part::A].national;
    assert_eq!(national.join(" "), "ACFT 1708A OB 01 62626 SPL 2551N07756W");
    assert!(reports[0].raw[0].1.ends_with("62626 SPL 2551N07756W"));
}

#[test]
fn the_window_is_bounded_and_nothing_is_lost() {
    let mut traffic = Traffic::new("x");
    let mut seen = 0;
    for k in 0..10_000 {
        // Days 1 to 31, hours 0 to 23, stations: all different.
        let (day, hour, station) = (k % 31 + 1, k % 24, k / 700 + 100);
        traffic.push(&format!("TTAA {day:02}{hour:02}/ 99{station} NIL="));
        assert!(traffic.open.len() <= WINDOW);
        seen += traffic.take().len();
    }
    traffic.finish();
    seen += traffic.take().len();
    let mut all = std::collections::BTreeSet::new();
    for k in 0..10_000 {
        all.insert((k % 31, k % 24, k / 700));
    }
    assert_eq!(seen, all.len());
}

#[test]
fn a_report_that_is_sent_again_and_again_leaves_the_window() {
    let mut traffic = Traffic::new("x");
    let mut twice = 0;
    for _ in 0..=PARTS {
        traffic.push("TTAA 15120 99011 NIL=");
        for report in traffic.take() {
            twice += report.findings.len();
        }
    }
    assert_eq!((twice, traffic.open.len()), (PARTS, 0));
}

/// The solidus of the first block has a wind too. Where winds are too few it is not known
/// which is missing, unless the text breaks off.
#[test]
fn winds_behind_a_solidus_are_counted() {
    // The first block of station 72318 (heading UGUS50 KWBC 130000), a wind removed.
    let few = "PPBB 63008 72318 90/34 27007 26014 90678 26018 27520 28021=";
    let (reports, findings) = read(few);
    assert_eq!(codes(&findings), ["level-damaged", "surface-solidus"]);
    let all: Vec<Option<f64>> = winds(&reports[0]).iter().map(|wind| wind.0).collect();
    assert_eq!(all, [Some(1800.0), Some(2100.0), Some(2400.0)]);
    // Cut: the winds that are there belong to the surface and 900 m.
    let (reports, _) = read("PPBB 63008 72318 90/34 27007 26014");
    let got = winds(&reports[0]);
    assert_eq!((got[0].0, got[0].1), (None, 270.0));
    assert_eq!((got[1].0, got[1].1), (Some(900.0), 260.0));
    assert_eq!(got.len(), 2);
    let (reports, _) = read("PPBB 63008 72318 90/34 27007 26014=");
    assert!(winds(&reports[0]).is_empty());
}

/// Part B of station 72317 (heading UGUS50 KWBC 130000 RRB) has two solidi and three winds:
/// the second wind belongs to no height.
#[test]
fn a_wind_of_no_height_is_missing() {
    let text = "PPBB 63008 72317 90//2 24010 27511 23015 90345 22014 21514 22020=";
    let (reports, findings) = read(text);
    assert_eq!(codes(&findings), ["group-damaged", "surface-solidus"]);
    assert_eq!(findings[0].place.group, Some(6));
    let all: Vec<_> = winds(&reports[0])
        .iter()
        .map(|wind| (wind.0, wind.1))
        .collect();
    assert_eq!(
        all,
        [
            (None, 240.0),
            (Some(600.0), 230.0),
            (Some(900.0), 220.0),
            (Some(1200.0), 215.0),
            (Some(1500.0), 220.0)
        ]
    );
}

/// Part B of a mobile station (heading UMUS41 KWBC 081600): section 6 begins with 11 and
/// stands once more after section 8.
const FROM_11: &str = "IIBB USBYZ01 58168 99450 71107 15640 19053 00810 10659 11766 06257 \
    22745 06658 21212 11810 12004 22810 21514 33806 21515 31313 40708 81624 41414 21500 \
    21212 11810 12004 22810 21514 33806 21515";

#[test]
fn section_6_may_begin_with_11_and_stand_twice() {
    let (reports, findings) = read(&format!("{FROM_11}="));
    assert_eq!(
        codes(&findings),
        ["square-beside", "first-level-absent", "section-again"]
    );
    let groups = reports[0].message.groups(Part::B).unwrap();
    assert_eq!(groups.join(" "), FROM_11.split_whitespace().join(" "));
    let report = reports[0].message.report();
    let meanings = reports[0].message.meanings(Part::B, &report).unwrap();
    assert_eq!(meanings.len(), groups.len());
    let same = crate::forms::text::message(&report).unwrap().value;
    assert_eq!(same.groups(Part::B).unwrap(), groups);
    // Other groups after section 8 are no repetition.
    let (_, findings) = read(&format!("{FROM_11}=").replace("33806 21515=", "33806 21520="));
    assert!(codes(&findings).contains(&"part-cut"), "{findings:?}");
    // Section 5 has no such practice, and Part D begins with 11.
    let (_, findings) = read("TTBB 15118 99011 11876 03105 22842 01158=");
    assert!(codes(&findings).contains(&"level-lost"), "{findings:?}");
}

#[test]
fn a_printed_time_is_no_stray_word() {
    let (reports, findings) = read(&format!("040722 06:00\n\n{A}="));
    assert_eq!(
        (codes(&findings), reports.len()),
        (vec!["printed-time"; 2], 1)
    );
    let (_, findings) = read(&format!("040722 06.00\n\n{A}="));
    assert_eq!(codes(&findings)[0], "stray-word");
}

/// Height (none of the surface), direction and speed of each wind, rounded.
fn winds(one: &Received) -> Vec<(Option<f64>, f64, f64)> {
    let report = one.message.report();
    let unit = report.context.coding.wind_unit;
    let wind = |level: &crate::model::Level| {
        let wind = level.row.wind?;
        let speed = unit.from_ms(wind.speed_ms).round();
        Some((level.row.height_gpm, wind.dir_deg, speed))
    };
    report.levels.iter().filter_map(wind).collect()
}

fn values_at(one: &Received, pressure_hpa: f64) -> (Option<f64>, Option<f64>, At) {
    let report = one.message.report();
    let at = |l: &&crate::model::Level| l.row.pressure_hpa == Some(pressure_hpa);
    let level = report.levels.iter().find(at).unwrap();
    (
        level.row.temperature_c,
        level.row.wind.map(|w| w.dir_deg),
        level.at,
    )
}

// Public traffic as received of 13 July 2022, 00 UTC: bulletins of KWBC.

#[test]
fn nil_is_read_in_every_form() {
    for (text, stations, reported) in [
        // USUS50 KWBC 130000.
        (
            "TTAA 72202 NIL=\nTTAA 72206 NIL=",
            "72202 72206",
            vec!["nil-time"; 2],
        ),
        // ULUS90 KWBC 130000: the station before the letters.
        (
            "72201 TTCC 72201 NIL=\n72202 TTCC 72202 NIL=",
            "72201 72202",
            vec!["nil-time"; 2],
        ),
        ("TTAA 6300/ 72214 NIL=", "72214", vec![]),
        ("TTAA 6300/ 72214 51515 10148=", "72214", vec![]),
        ("TTBB 63008 72501 51515 10159=", "72501", vec![]),
        // Our own: a list, and a reason in words.
        (
            "TTAA 72202 NIL 72206 NIL=",
            "72202 72206",
            vec!["nil-time"; 2],
        ),
        ("TTAA NIL 72202=", "72202", vec!["nil-time"]),
        ("TTAA 6300/ 72214 NIL NO GAS=", "72214", vec![]),
        (
            "72999 TTCC 72201 NIL=",
            "72201",
            vec!["nil-time", "station-ahead"],
        ),
    ] {
        let (reports, findings) = read(&format!("USUS50 KWBC 130000\n{text}"));
        let read = reports.iter().map(|one| {
            let m = &one.message;
            assert_eq!((m.day, m.hour), (13, 0), "{text}");
            assert!(m.parts.values().all(|body| matches!(body, Body::Nil(_))));
            m.ident.groups().join(" ")
        });
        assert_eq!(read.collect::<Vec<_>>().join(" "), stations, "{text}");
        assert_eq!(codes(&findings), reported, "{text}");
    }
    let (reports, _) = read("USUS50 KWBC 130000\nTTAA 72202 NIL=");
    assert_eq!(reports[0].message.to_string(), "TTAA 72202 NIL=\n");
    // Without a heading nothing gives the time.
    let (reports, findings) = read("TTAA 72202 NIL=");
    assert!(reports.is_empty());
    assert_eq!(codes(&findings), ["malformed"]);
}

#[test]
fn data_replace_a_nil_of_the_same_station_and_time() {
    let nil = "USXX01 XXXX 151100\nTTAA 99011 NIL=";
    for (text, reported) in [
        (format!("{nil}\n{A}=\n{B}="), "nil-replaced"),
        (format!("{A}=\n{B}=\n{nil}"), "nil-not-used"),
    ] {
        let (reports, findings) = read(&text);
        assert_eq!(reports.len(), 1, "{text}");
        assert!(codes(&findings).contains(&reported), "{findings:?}");
        let body = &reports[0].message.parts[&Part::A];
        assert!(matches!(body, Body::Standard(_)));
    }
}

#[test]
fn the_surface_wind_of_pilot_may_stand_behind_a_solidus() {
    // Station 72201, Part B; its Part A has 11504 at the surface.
    let text = "PPBB 63008 72201 90/12 11504 11507 08005 90346 12004 10004 10506=";
    let (reports, findings) = read(text);
    assert_eq!(codes(&findings), ["surface-solidus"]);
    let got = winds(&reports[0]);
    assert_eq!(got[0], (None, 115.0, 4.0));
    assert_eq!(
        got[1..3],
        [(Some(300.0), 115.0, 7.0), (Some(600.0), 80.0, 5.0)]
    );
    assert_eq!(reports[0].message.to_string(), format!("{text}\n"));
    // Station 72493: a level just above the surface rounds to 0 (its Part B of TEMP has
    // 28016 at 1012 hPa and 30010 at 1010 hPa).
    let (reports, _) = read("PPBB 63008 72493 90/01 28016 30010 28515 90234 22515 21518 19016=");
    let got = winds(&reports[0]);
    assert_eq!(got[..2], [(None, 280.0, 16.0), (Some(0.0), 300.0, 10.0)]);
}

#[test]
fn from_30_km_on_units_of_500_m_follow_those_of_300_m() {
    // Station 72797, Part D, from 99789 on: 97 × 300 m, then 60 × 500 m.
    let text = "PPDD 63008 72797 99789 07518 10021 07025 86002 10013 06511 06530 86244 09019 \
        07538 09028=";
    let (reports, findings) = read(text);
    assert_eq!(codes(&findings), ["units-500-from-30-km"]);
    let heights: Vec<Option<f64>> = winds(&reports[0]).iter().map(|w| w.0).collect();
    let wanted = [
        29100.0, 29400.0, 29700.0, 30000.0, 30000.0, 31000.0, 31000.0, 32000.0, 32000.0,
    ];
    assert_eq!(heights, wanted.map(Some));
    assert_eq!(
        reports[0].message.to_string().replace('\n', " ").trim(),
        text
    );
}

#[test]
fn no_level_is_60_km_high() {
    // Invented: levels at 100 m, 12 810 m and 60 000 m, the last of which no group may give.
    let text = "PPBB 12173 99857 80248 23008 25007 24012 21212 00010 23008 11281 26068 \
        26000 26058 51515 10164=";
    let (reports, findings) = read(text);
    assert!(
        codes(&findings).contains(&"level-lost") || codes(&findings).contains(&"part-cut"),
        "{findings:?}"
    );
    let received = &reports[0].message;
    let groups = received.groups(Part::B).unwrap();
    assert!(groups.iter().any(|group| group == "11281"), "{groups:?}");
    assert!(!groups.iter().any(|group| group == "26000"), "{groups:?}");
    // What is left is coded from its report as it stands.
    let same = crate::forms::text::message(&received.report()).unwrap();
    assert_eq!(same.value.groups(Part::B).unwrap(), groups);
}

#[test]
fn region_ii_has_heights_after_21212() {
    // UGCI30 BABJ 121800 of November 2019, station 54857.
    let text = "PPBB 12173 54857 80248 23008 25007 24012 8126/ 26029 25534 820// 25543 21212 \
        00008 20007 10063 20510 20140 25007 30284 26507 40358 24007 50435 23515 60474 26023 \
        70512 27024 80907 25035 90949 25537 11281 26068 21460 26058=";
    let (reports, findings) = read(text);
    assert_eq!(codes(&findings), ["heights-after-21212"]);
    let got = winds(&reports[0]);
    assert_eq!(got[0], (Some(80.0), 200.0, 7.0));
    assert!(
        got.contains(&(Some(4000.0), 240.0, 12.0)),
        "8 × 500 m: {got:?}"
    );
    assert!(got.contains(&(Some(12_810.0), 260.0, 68.0)), "{got:?}");
    assert_eq!(
        reports[0].message.to_string().replace('\n', " ").trim(),
        text
    );
}

#[test]
fn what_some_senders_leave_out_is_reported() {
    let without = |a: &str, b: &str| A.replacen(a, b, 1) + "=";
    for (text, reported) in [
        (without(" 88280 53957 28057", ""), vec!["tropopause-absent"]),
        (without(" 77262 28064 41711", ""), vec!["maximum-absent"]),
        (without(" 49008 81123", ""), vec!["sonde-short"]),
        (without(" 49008 81123", " 49008"), vec!["sonde-short"]),
        (without(" 49008 81123", " 81123"), vec!["sonde-short"]),
        (
            without("25015 70946", "25015 70946").replacen("09562", "09553", 1),
            vec!["depression-tenths"],
        ),
        (
            "TTBB 15118 99011 00004 04430 11876 03105 21212=".to_owned(),
            vec!["winds-empty"],
        ),
        (
            format!("TTAA COR{}=", A.strip_prefix("TTAA").unwrap()),
            vec!["mark-in-part"],
        ),
    ] {
        let (reports, findings) = read(&text);
        assert_eq!(codes(&findings), reported, "{text}");
        let written = reports[0].message.to_string().replace('\n', " ");
        assert_eq!(written.trim(), text.replacen(" COR", "", 1), "{text}");
    }
    let (reports, _) = read(&without("09562", "09553"));
    let level = reports[0].message.report();
    let at = level
        .levels
        .iter()
        .find(|l| l.row.pressure_hpa == Some(700.0))
        .unwrap();
    // 095 is −9.5 °C; 53 goes on from 50 as tenths: −9.5 − 5.3.
    assert!((at.row.dewpoint_c.unwrap() + 14.8).abs() < 1e-9);
}

#[test]
fn headings_and_envelopes_of_several_hubs_are_read() {
    for heading in [
        "UGPY20 SGME200900",
        "UPY20 SGME 192100",
        "223 USUS50 KWBC 130000",
        "0000010200\u{1}\r\r\n223\r\r\nUSUS50 KWBC 130000",
        "USUS44 KJAN 221223\nMANJAN",
    ] {
        let (reports, findings) = read(&format!("{heading}\n{A}="));
        assert_eq!(reports[0].headings.len(), 1, "{heading}");
        assert!(
            codes(&findings).iter().all(|code| *code == "report-line"),
            "{findings:?}"
        );
    }
}

#[test]
fn a_square_one_degree_off_costs_nothing() {
    // Station USBYZ01, UMUS41 KWBC 081600 of 2026: 45.0° N 110.7° W is in square 156 with
    // the units 5 and 0, the report has 15640.
    let text = "IIBB USBYZ01 58168 99450 71107 15640 19053 00810 10659 11766 06257 41414 21500=";
    let (reports, findings) = read(text);
    assert_eq!(codes(&findings), ["square-beside"]);
    let station = reports[0].message.report().context.station;
    assert_eq!(
        (station.latitude_deg, station.longitude_deg),
        (Some(45.0), Some(-110.7))
    );
    let written = reports[0].message.to_string().replace('\n', " ");
    assert_eq!(written.trim(), text);
    let long = text
        .replacen("USBYZ01", "USBYZ0123456", 1)
        .replacen("15640", "15650", 1);
    assert_eq!(codes(&read(&long).1), [""; 0]);
}

#[test]
fn damage_costs_a_group_or_a_level() {
    // What is changed, the finding, and what is left of the level: temperature and wind.
    for (from, to, reported, at, left) in [
        (
            "01756",
            "0X756",
            "group-damaged",
            850.0,
            (None, Some(250.0)),
        ),
        ("25015", "37015", "group-damaged", 850.0, (Some(-1.7), None)),
        ("25518", "2551", "group-damaged", 700.0, (Some(-9.5), None)),
        (
            "01756 25015",
            "0175625015",
            "groups-run-together",
            850.0,
            (Some(-1.7), Some(250.0)),
        ),
        (
            "01756",
            "01 756",
            "group-split",
            850.0,
            (Some(-1.7), Some(250.0)),
        ),
        ("01756 25015", "25015", "level-damaged", 850.0, (None, None)),
        (
            "01756",
            "01756 01756",
            "group-extra",
            850.0,
            (Some(-1.7), Some(250.0)),
        ),
    ] {
        let (reports, findings) = read(&format!("{}=", A.replacen(from, to, 1)));
        assert_eq!(codes(&findings), [reported], "{from} -> {to}");
        let (t, wind, origin) = values_at(&reports[0], at);
        assert_eq!((t, wind), left, "{from} -> {to}");
        let lost = matches!(reported, "group-damaged" | "level-damaged");
        assert_eq!(origin == At::Salvaged, lost, "{from} -> {to}");
        // The others are as they were.
        assert_eq!(values_at(&reports[0], 500.0).0, Some(-24.1));
        assert_eq!(values_at(&reports[0], 280.0).0, Some(-53.9));
    }
}

#[test]
fn a_lost_level_leaves_its_number_free() {
    let (reports, findings) = read(&format!("{}=", B.replacen("22842", "2X842", 1)));
    assert_eq!(codes(&findings), ["level-lost"]);
    assert_eq!(findings[0].place.group, Some(8));
    let text = reports[0].message.to_string().replace('\n', " ");
    assert_eq!(text.trim(), B.replacen("22842 01158 ", "", 1) + "=");
    // Through the report and back.
    let again = crate::forms::text::message(&reports[0].message.report())
        .unwrap()
        .value;
    assert_eq!(again.to_string(), reports[0].message.to_string());
}

#[test]
fn a_part_that_is_cut_short_gives_what_came_before() {
    // USDL02 EDZW 151800, station 10393, as it was published.
    let text = "TTAA 15171 10393 99007 01106 25005 00170 01508 25008 92788 04903 30014 85449 \
        08310 31513 70930 15710 33515 50540 30722 34523";
    let (reports, findings) = read(text);
    assert_eq!(
        codes(&findings),
        ["end-missing", "tropopause-absent", "maximum-absent"]
    );
    assert_eq!(values_at(&reports[0], 500.0).0, Some(-30.7));
    assert_eq!(
        reports[0].message.to_string().replace('\n', " "),
        format!("{text}= ")
    );
    let (reports, findings) = read(text.strip_suffix(" 34523").unwrap());
    assert!(codes(&findings).contains(&"part-cut"), "{findings:?}");
    assert_eq!(
        values_at(&reports[0], 500.0),
        (Some(-30.7), None, At::Salvaged)
    );
}
