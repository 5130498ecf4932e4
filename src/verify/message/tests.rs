use super::*;
use crate::forms::text::parse;
use crate::model::finding::{Code, Severity};

/// The findings above info of a published message, part by part as its file of
/// vectors has it.
fn loud(findings: &[Finding]) -> Vec<String> {
    let loud = findings.iter().filter(|f| f.severity > Severity::Info);
    loud.map(ToString::to_string).collect()
}

/// Parts A to D of a land station, all figures possible and agreeing (own
/// figures on round numbers; heights by the hypsometric relation).
const SOUND: &str = "TTAA 15111 99011 99013 10030 24005 00107 09030 24006 92748 04430 25010 \
    85431 00056 26014 70961 08357 27018 50550 22760 27030 40710 33962 27036 30906 48163 27045 \
    25024 54764 27050 20166 57167 27042 15348 56969 27030 10603 58971 27020 88242 55765 27050 \
    77247 27052=\n\
    TTBB 15118 99011 00013 10030 11850 00056 22700 08357 33500 22760 44400 33962 55242 55765 \
    66150 56969 77100 58971 21212 00013 24005 11850 26014 22500 27030 33247 27052 44150 27030 \
    55100 27020=";

fn found(text: &str) -> Vec<String> {
    let message = parse(text).unwrap_or_else(|e| panic!("{e}: {text}"));
    check(&message).iter().map(|f| f.code.to_string()).collect()
}

#[test]
fn what_is_sound_is_not_found_fault_with() {
    let message = parse(SOUND).unwrap();
    assert!(
        loud(&check(&message)).is_empty(),
        "{:?}",
        loud(&check(&message))
    );
}

#[test]
fn each_fault_is_found_with_its_code_and_place() {
    for (from, to, code, part, section) in [
        // A sign slip at a significant level: −22.7 written +22.6.
        ("33500 22760", "33500 22660", "sign-slip", 'B', 5),
        // A level out of order.
        (
            "33500 22760 44400 33962",
            "33400 33962 44500 22760",
            "pressure-not-falling",
            'B',
            5,
        ),
        (
            "22500 27030 33247 27052",
            "22247 27052 33500 27030",
            "pressure-not-falling",
            'B',
            6,
        ),
        // Surface of A and B.
        (
            "00013 10030 11850",
            "00013 10430 11850",
            "surface-differs",
            'B',
            5,
        ),
        (
            "00013 24005 11850",
            "00013 25005 11850",
            "surface-wind-differs",
            'B',
            6,
        ),
        // 850 hPa in A and B.
        ("85431 00056", "85446 04056", "shared-level-differs", 'A', 2),
        // The tropopause among the significant levels.
        ("88242 55765", "88242 56165", "tropopause-differs", 'A', 3),
        (
            "77247 27052=",
            "77247 27055=",
            "maximum-wind-differs",
            'A',
            4,
        ),
        ("77247 27052=", "77247 27020=", "maximum-wind-weak", 'A', 4),
        // A height wrong by 100 gpm, and one by 1000 gpm.
        ("70961 08357", "70861 08357", "hydrostatic-height", 'A', 2),
        ("30906 48163", "30929 48163", "hydrostatic-height", 'A', 2),
        // Colder above than dry air can become.
        (
            "22700 08357",
            "22700 18357",
            "superadiabatic-levels",
            'B',
            5,
        ),
        // A wind turned by half a circle within a few hPa.
        (
            "22500 27030 33247",
            "22500 27030 33480 09052 44247",
            "wind-shear",
            'B',
            6,
        ),
        // A temperature that nobody measured.
        ("66150 56969", "66150 95769", "gross-temperature", 'B', 5),
    ] {
        let mut text = SOUND.replacen(from, to, 1);
        assert_ne!(text, SOUND, "{from}");
        if code == "wind-shear" {
            text = text.replace("44150 27030 55100 27020=", "55150 27030 66100 27020=");
        }
        let findings = check(&parse(&text).unwrap());
        let hit = findings.iter().find(|f| f.code == code);
        let hit = hit.unwrap_or_else(|| panic!("{code}: {findings:?}"));
        assert_eq!(
            (hit.place.part, hit.place.section),
            (Some(part), Some(section)),
            "{code}"
        );
    }
}

#[test]
fn the_group_of_a_finding_is_counted_from_the_letters() {
    let text = SOUND.replacen("33500 22760", "33500 22660", 1);
    let findings = check(&parse(&text).unwrap());
    let slip = findings.iter().find(|f| f.code == "sign-slip").unwrap();
    // TTBB 15118 99011, then two groups a level: 33500 is the tenth.
    assert_eq!(slip.place.group, Some(10));
}

#[test]
fn what_the_rules_allow_is_no_fault() {
    for (from, to) in [
        // Levels below ground left out; a4 a solidus; 31313 in any part.
        ("00107 09030 24006 ", ""),
        ("TTBB 15118", "TTBB 1511/"),
        ("77247 27052=", "77247 27052 31313 49008 81123="),
    ] {
        let text = SOUND.replacen(from, to, 1);
        assert_ne!(text, SOUND);
        let message = parse(&text).unwrap();
        assert!(
            loud(&check(&message)).is_empty(),
            "{from}: {:?}",
            loud(&check(&message))
        );
    }
    assert!(found("TTAA 1511/ 99012 NIL=").is_empty());
}

#[test]
fn missing_names_among_the_significant_levels_are_notes() {
    let text = SOUND.replacen("55242 55765 66150 56969 77100", "55150 56969 66100", 1);
    let findings = check(&parse(&text).unwrap());
    let note = findings
        .iter()
        .find(|f| f.code == "tropopause-not-significant");
    assert_eq!(note.unwrap().severity, Severity::Info);
    let text = SOUND.replacen("33247 27052 44150 27030 55100", "33150 27030 44100", 1);
    assert!(found(&text).contains(&"maximum-wind-not-significant".to_owned()));
}

/// The codes above info when pieces of the sound message are replaced.
fn with(pieces: &[(&str, &str)]) -> Vec<String> {
    let mut text = SOUND.to_owned();
    for (from, to) in pieces {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    let message = parse(&text).unwrap_or_else(|e| panic!("{e}: {text}"));
    let loud = check(&message).into_iter();
    let loud = loud.filter(|f| f.severity > Severity::Info);
    loud.map(|f| f.code.into_owned()).collect()
}

/// 925 hPa lies at ln(1013/925) / ln(1013/850) = 0.0909 / 0.1754 = 0.518 of the stretch from
/// the surface to 850 hPa of Part B.
#[test]
fn standard_levels_lie_on_the_line_through_the_significant_levels() {
    for (group, code) in [
        // Temperature 10.0 and 0.0 °C: 4.82 °C on the line, 3 K allowed.
        ("92748 07830 25010", None),
        ("92748 08030 25010", Some("temperature-off-line")),
        ("92748 02030 25010", None),
        ("92748 01830 25010", Some("temperature-off-line")),
        // Depression 3.0 and 6 K: 4.55 K on the line, by the Magnus formula (17.62, 243.12 °C)
        // 72.3 % at 4.4 °C. 30 % are allowed: 42.3 % is a depression of 11.7 K.
        ("92748 04461 25010", None),
        ("92748 04462 25010", Some("depression-off-line")),
        // Wind 240° 5 m/s and 260° 14 m/s: components 9.23 and 2.46 m/s on the line. Of 250°
        // 17 m/s, 15.97 and 5.81 m/s, it differs by 7.53 m/s; of 18 m/s by 8.53 m/s.
        ("92748 04430 25017", None),
        ("92748 04430 25018", Some("wind-off-line")),
        ("92748 04430 07010", Some("wind-off-line")),
    ] {
        let found = with(&[("92748 04430 25010", group)]);
        let found: Vec<&str> = found.iter().map(String::as_str).collect();
        let wanted: Vec<&str> = code.into_iter().collect();
        let lines = found.iter().filter(|c| c.ends_with("-off-line"));
        assert_eq!(
            lines.copied().collect::<Vec<_>>(),
            wanted,
            "{group}: {found:?}"
        );
    }
}

/// Temperature 20 °C + 50 K ln(p/1000 hPa): 11.9 °C at 850 hPa, 2.2 at 700, −5.5 at 600, −14.7
/// at 500, −25.8 at 400. Part B has +5.4 °C at 600 hPa: the line is then 3.5, 7.6 and 6.1 K
/// off at 850, 700 and 500 hPa, and without that level nowhere.
#[test]
fn a_significant_level_that_explains_all_is_named_instead() {
    let text = "TTAA 15114 99011 99000 20050 00000 00080 20050 00000 85500 11858 00000 \
        70080 02258 00000 50580 14758 00000 40750 25758 00000 88999 77999=\n\
        TTBB 15110 99011 00000 20050 11600 05458 22400 25758=";
    let found = check(&parse(text).unwrap());
    let lines: Vec<&Finding> = found
        .iter()
        .filter(|f| f.is(Code::TemperatureOffLine))
        .collect();
    let [one] = lines.as_slice() else {
        panic!("{found:?}")
    };
    assert_eq!(
        (one.place.part, one.place.pressure_hpa),
        (Some('B'), Some(600.0))
    );
    // TTBB YYGGa4 IIiii, surface: the sixth group.
    assert_eq!(one.place.group, Some(6));
}

#[test]
fn the_top_of_the_wind_and_maximum_winds() {
    assert_eq!(
        with(&[("77247 27052=", "66247 27052=")]),
        ["wind-above-top"]
    );
    assert_eq!(
        with(&[("77247 27052=", "77999=")]),
        ["maximum-wind-left-out"]
    );
    // More than 30 m/s, half a unit is the code's: 31 m/s is a maximum, 30 m/s is none.
    let slower = |speed: &str| {
        let level = format!("33247 270{speed}");
        with(&[("77247 27052=", "77999="), ("33247 27052", &level)])
    };
    let left_out = "maximum-wind-left-out".to_owned();
    assert!(slower("31").contains(&left_out));
    assert!(!slower("30").contains(&left_out));
}

#[test]
fn section_7_agrees_between_parts_and_with_the_hour() {
    let sondes = |a: &str, b: &str| {
        let (a, b) = (format!("27052 31313 {a}="), format!("27020 31313 {b}="));
        with(&[("27052=", &a), ("27020=", &b)])
    };
    assert!(sondes("49008 81040", "49008 81040").is_empty());
    assert_eq!(sondes("49008 81040", "49008 81041"), ["sonde-differs"]);
    assert_eq!(sondes("49008 81040", "49108 81040"), ["sonde-differs"]);
    // GG is 11: from 105 min before, 0915, to 60 min after, 1200.
    for (clock, off) in [
        ("0915", false),
        ("0914", true),
        ("1200", false),
        ("1201", true),
    ] {
        let group = format!("49008 8{clock}");
        let found = sondes(&group, &group);
        assert_eq!(found == ["release-off-hour"], off, "{clock}: {found:?}");
        assert_eq!(found.is_empty(), !off, "{clock}: {found:?}");
    }
}

/// The surface at 990 hPa: 1000 hPa is below the ground. From 1000 to 990 hPa air of 10 °C
/// (virtual 284 K) is 84 gpm thick, and 560 gpm from there to 925 hPa: 644 gpm in all, and
/// 26 gpm are allowed. 925 hPa is at 748 gpm, so 1000 hPa lies between 78 and 130 gpm.
#[test]
fn below_the_ground_nothing_is_measured() {
    let high = [("99013 10030", "99990 10030"), ("00013", "00990")];
    let of = |group: &'static str| {
        let mut pieces = high.to_vec();
        pieces.push(("00107 09030 24006", group));
        with(&pieces)
    };
    assert!(of("00107 ///// /////").is_empty());
    assert_eq!(of("00107 09030 24006"), ["temperature-below-ground"]);
    assert!(of("00127 ///// /////").is_empty());
    assert_eq!(of("00134 ///// /////"), ["height-below-ground"]);
    assert!(of("00081 ///// /////").is_empty());
    assert_eq!(of("00074 ///// /////"), ["height-below-ground"]);
}

#[test]
fn one_step_of_the_code_and_equal_pressures_are_information() {
    for (from, to, code) in [
        // 0.2 K: the tenths are even or odd by the sign. One unit of speed, 5°, 1 hPa.
        ("00013 10030 11850", "00013 10230 11850", "one-step-apart"),
        ("00013 10030 11850", "00014 10030 11850", "one-step-apart"),
        ("00013 24005 11850", "00013 24506 11850", "one-step-apart"),
        ("77247 27052=", "77247 27053=", "one-step-apart"),
        ("88242 55765", "88242 55965", "one-step-apart"),
        ("33500 22760 44400", "33700 08357 44400", "equal-pressures"),
    ] {
        let text = SOUND.replacen(from, to, 1);
        assert_ne!(text, SOUND, "{from}");
        let found = check(&parse(&text).unwrap());
        let hit = found.iter().find(|f| f.code == code);
        let hit = hit.unwrap_or_else(|| panic!("{to}: {found:?}"));
        assert_eq!(hit.severity, Severity::Info);
    }
}

/// Winds from 270° of PILOT Part B at 900, 1200 and 1500 m, m/s. By hand: between 900 and
/// 1500 m the line at 1200 m is 20 m/s, and 12 m/s + 5 m/s for each of 0.6 km are 15 m/s.
#[test]
fn a_wind_stands_out_over_the_limit() {
    for (speed, codes) in [
        (34, &[][..]),
        (36, &["wind-outlier"]),
        (6, &[]),
        (4, &["wind-outlier"]),
    ] {
        let text = format!("PPBB 15118 99011 90345 27020 270{speed:02} 27020=");
        assert_eq!(found(&text), codes, "{speed}");
    }
    // By hand: beside 10 and 30 m/s the line is 20 m/s again.
    assert_eq!(found("PPBB 15118 99011 90345 27010 27034 27030="), [""; 0]);
    assert_eq!(
        found("PPBB 15118 99011 90345 27010 27036 27030="),
        ["wind-outlier"]
    );
}

/// Depressions at 850, 830 and 810 hPa and 0.0 °C. By hand: 850 and 810 hPa are 1457 and 1852
/// gpm in the standard atmosphere (ICAO Doc 7488), so 42 % + 20 % for each of 0.395 km are
/// 49.9 %. Over water (WMO-No. 8, Annex 4.B; 6.11 hPa at 0 °C, 3.10 at -9 °C, 2.86 at -10 °C)
/// 9 K are 50.7 % and 10 K 46.9 %: 49.3 % and 53.1 % below saturated air.
#[test]
fn a_humidity_stands_out_over_the_limit() {
    let text = |dd: u8| {
        format!("TTBB 15118 99011 00990 05015 11850 000{dd} 22830 00000 33810 000{dd} 44700 08359=")
    };
    assert!(!found(&text(59)).contains(&"humidity-outlier".to_owned()));
    assert!(found(&text(60)).contains(&"humidity-outlier".to_owned()));
    // A step to one side is no outlier.
    let step = text(60).replace("33810 00060", "33810 00000");
    assert!(!found(&step).contains(&"humidity-outlier".to_owned()));
}

/// Winds from 270° of PILOT at 850 hPa (Part A) and at 1200 and 1800 m (Part B). By hand: 55
/// puts 850 hPa at 1500 m (WMO-No. 306, 32.2.2.2); heights of Part B are known to half of
/// 300 m, so the line from 10 to 30 m/s gives 15 to 25 m/s, and 8 m/s more are allowed.
/// Located by pressure (44) the surface is within 7 % of 1500 m: 1245 to 1755 m with the half
/// step, 11.5 to 28.5 m/s.
#[test]
fn pilot_part_a_lies_on_the_line_of_part_b() {
    for (block, speed, off) in [
        ("55185", 32, false),
        ("55185", 34, true),
        ("55185", 8, false),
        ("55185", 6, true),
        ("44185", 36, false),
        ("44185", 37, true),
        ("44185", 4, false),
        ("44185", 3, true),
    ] {
        let text = format!(
            "PPAA 15118 99011 {block} 270{speed:02} 77999=\nPPBB 15118 99011 9046/ 27010 27030="
        );
        let codes = found(&text);
        assert_eq!(
            codes.contains(&"wind-off-line".to_owned()),
            off,
            "{block} {speed}: {codes:?}"
        );
    }
    // A surface that the line does not reach is not compared.
    assert_eq!(
        found("PPAA 15118 99011 55150 27099 77999=\nPPBB 15118 99011 9046/ 27010 27030="),
        [""; 0]
    );
}
