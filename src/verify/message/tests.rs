use super::*;
use crate::forms::text::parse;
use crate::model::finding::Severity;

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
            "00013 10230 11850",
            "surface-differs",
            'B',
            5,
        ),
        (
            "00013 24005 11850",
            "00013 24505 11850",
            "surface-wind-differs",
            'B',
            6,
        ),
        // 850 hPa in A and B.
        ("85431 00056", "85446 04056", "shared-level-differs", 'A', 2),
        // The tropopause among the significant levels.
        ("88242 55765", "88242 55965", "tropopause-differs", 'A', 3),
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
