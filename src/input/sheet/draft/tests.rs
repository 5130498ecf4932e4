use super::super::{Fault, read};
use super::*;

fn draft(text: &str) -> Draft {
    let source = Source {
        name: "s.toml",
        text,
    };
    Draft::merged(&[source]).unwrap()
}

fn key(name: &str) -> Key {
    let (table, _) = name.split_once('.').unwrap();
    let mut keys = keys_of(table).into_iter();
    keys.find(|key| key.name == name).unwrap()
}

#[test]
fn what_is_written_out_says_the_same() {
    let folder = std::fs::read_dir("samples").unwrap();
    let mut count = 0;
    for entry in folder {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "toml") {
            continue;
        }
        count += 1;
        let text = std::fs::read_to_string(&path).unwrap();
        let name = "s.toml";
        let was = read(&[Source { name, text: &text }]).unwrap().0;
        let draft = draft(&text);
        let printed = draft.print();
        let source = Source {
            name,
            text: &printed,
        };
        assert_eq!(read(&[source]).unwrap().0, was, "{printed}");
        assert_eq!(Draft::merged(&[source]).unwrap(), draft);
    }
    assert!(count >= 10);
}

/// Quotes, line breaks, names of columns with blanks and points, orders.
#[test]
fn awkward_texts_come_back() {
    let text = "[station]\nname = \"a \\\"b\\\" <script> \\\\ \\n é\"\n[columns]\n\"temperature_c\" = { column = \"T [°C].x\", unit = \"K\" }\n[text]\nmissing = [\"\", \"//\"]\n[[level]]\naction = \"drop\"\npressure_hpa = 612\nreason = \"it's \\\"wet\\\"\"\n[section9]\nA = [\"10148\"]\n";
    let draft = draft(text);
    let printed = draft.print();
    let source = Source {
        name: "s",
        text: &printed,
    };
    assert_eq!(Draft::merged(&[source]).unwrap(), draft, "{printed}");
    assert_eq!(draft.get("station.name"), "a \"b\" <script> \\ \n é");
    let one = |k: &str, v: &str| (k.to_owned(), v.to_owned());
    assert_eq!(
        draft.orders("level"),
        [[
            one("action", "drop"),
            one("pressure_hpa", "612"),
            one("reason", "it's \"wet\"")
        ]]
    );
    let at = |name: &str| printed.find(name).unwrap();
    assert!(at("[station]") < at("[text]") && at("[section9]") < at("[[level]]"));
}

#[test]
fn a_field_sets_and_takes_away_a_key() {
    let mut draft = draft("[surface]\ntemperature_c = 4.5\n[clouds]\nnh = 6\n");
    assert_eq!(draft.get("surface.temperature_c"), "4.5");
    assert!(!draft.set(&key("surface.temperature_c"), " 4.50 "));
    assert!(draft.set(&key("surface.temperature_c"), "-4"));
    assert_eq!(draft.get("surface.temperature_c"), "-4");
    assert!(draft.set(&key("clouds.nh"), ""));
    assert!(!draft.set(&key("clouds.nh"), " "));
    assert!(draft.set(&key("coding.shear"), "true"));
    assert_eq!(
        draft.print(),
        "[surface]\ntemperature_c = -4.0\n\n[coding]\nshear = true\n"
    );
    // What is no number stays what it is, and the reader of sheets says so.
    assert!(draft.set(&key("surface.temperature_c"), "4,5"));
    let printed = draft.print();
    let source = Source {
        name: "s.toml",
        text: &printed,
    };
    let faults = Draft::merged(&[source]).unwrap_err();
    assert_eq!(
        faults.to_string(),
        "s.toml:2:17: `surface.temperature_c` is a string; a number is expected"
    );
    assert!(matches!(faults.faults()[0].fault, Fault::Mistyped { .. }));
    // A time is text of a shape.
    assert!(draft.set(&key("flight.release"), "2031-01-15T11:23:40Z"));
    assert_eq!(draft.get("flight.release"), "2031-01-15T11:23:40Z");
}

#[test]
fn orders_are_added_and_taken_back() {
    let mut draft = Draft::default();
    let level = [
        ("action", "drop"),
        ("pressure_hpa", "612.3"),
        ("reason", " wet "),
    ];
    draft.order("level", &level);
    draft.order(
        "withhold",
        &[
            ("element", "wind"),
            ("from_hpa", "480"),
            ("to_hpa", "430"),
            ("reason", ""),
        ],
    );
    draft.order("station", &[("name", "x")]);
    draft.order("nonsense", &[("name", "x")]);
    assert_eq!(
        draft.print(),
        "[[level]]\naction = \"drop\"\npressure_hpa = 612.3\nreason = \"wet\"\n\n[[withhold]]\nelement = \"wind\"\nfrom_hpa = 480.0\nto_hpa = 430.0\n"
    );
    assert!(!draft.take_back("level", 1));
    assert!(draft.take_back("level", 0) && draft.take_back("withhold", 0));
    assert_eq!(draft, Draft::default());
}

#[test]
fn every_key_has_a_meaning_and_a_kind() {
    for table in ["station", "flight", "surface", "clouds", "coding", "bufr"] {
        let keys = keys_of(table);
        assert!(!keys.is_empty(), "{table}");
        for key in keys {
            assert!(!key.about.is_empty(), "{}", key.name);
        }
    }
    assert_eq!(
        key("clouds.nh").kind,
        KeyKind::Integer(Some(0), Some(9)),
        "0 to 9 by the range of the key"
    );
    assert_eq!(
        key("coding.wind_unit").kind,
        KeyKind::Choice(vec!["m/s".to_owned(), "kt".to_owned()])
    );
    assert_eq!(
        key("clouds.sky").kind,
        KeyKind::Choice(["clear", "obscured", "unseen"].map(str::to_owned).to_vec())
    );
    assert_eq!(key("coding.wind_unit").default.as_deref(), Some("m/s"));
    assert_eq!(key("bufr.reused").default.as_deref(), Some("false"));
    assert_eq!(key("flight.release").kind, KeyKind::Time);
    assert_eq!(key("bufr.reused").kind, KeyKind::Flag);
}
