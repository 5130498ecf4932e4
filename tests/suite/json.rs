//! The JSON document: valid by its schema, read back as the same report and
//! message, the same as the text.

use std::collections::BTreeSet;

use fivefig::forms::json;
use fivefig::forms::json::Record;
use fivefig::forms::text::message;
use fivefig::issue::{Coded, code};
use fivefig::levels;
use fivefig::model::{Form, Reach};
use itertools::Itertools;

use crate::support::{self, coded};

fn sample(name: &str, form: Form) -> (Coded, Record) {
    let (ascent, sheet) = support::ascent(name, form);
    let coded = code(form, &ascent, &sheet.context, Reach::Whole).unwrap();
    let mut fidelity = coded.fidelity.clone();
    let coding = &sheet.context.coding;
    fidelity.counts = (form == Form::Temp)
        .then(|| levels::count(&ascent, coding, &sheet.context.orders, Reach::Whole));
    let record = Record::new(
        &coded.report,
        Some(&coded.message),
        &coded.findings,
        Some(fidelity),
    );
    (coded, record)
}

/// JSON Schema, draft 2020-12, by a general validator from the registry.
#[test]
fn every_sample_is_valid_by_the_schema() {
    let schema = json::schema();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    for (name, form) in coded() {
        let (coded, record) = sample(name, form);
        for record in [
            record,
            // What a text message gives is a document as well.
            Record::new(&coded.message.report(), Some(&coded.message), &[], None),
        ] {
            let text = json::write(vec![record]).unwrap();
            let value: serde_json::Value = serde_json::from_str(&text).unwrap();
            let faults: Vec<String> = validator
                .iter_errors(&value)
                .map(|e| format!("{}: {e}", e.instance_path()))
                .collect();
            assert!(faults.is_empty(), "{name}: {faults:?}");
        }
    }
    // The validator does look: a role that is none, and a wind from nowhere.
    let (_, record) = sample("low_burst", Form::Temp);
    let mut value = serde_json::to_value(json::Document {
        schema: json::SCHEMA.to_owned(),
        reports: vec![record],
    })
    .unwrap();
    assert!(validator.is_valid(&value));
    value["reports"][0]["levels"][0]["wind_dir_deg"] = 400.into();
    assert!(!validator.is_valid(&value));
}

/// A report holds what was received, also where no sheet may give it.
#[test]
fn the_bounds_of_a_sheet_are_not_those_of_a_document() {
    let validator = jsonschema::draft202012::new(&json::schema()).unwrap();
    let (_, record) = sample("low_burst", Form::Temp);
    let mut value = serde_json::to_value(json::Document {
        schema: json::SCHEMA.to_owned(),
        reports: vec![record],
    })
    .unwrap();
    for (key, other, valid) in [
        ("/station/wmo_block", serde_json::json!(0), true),
        ("/station/elevation_m", serde_json::json!(-9999), true),
        ("/station/call_sign", serde_json::json!("x y"), true),
        ("/equipment/radome", serde_json::json!(3), true),
        ("/balloon/mass_kg", serde_json::json!(-1.5), true),
        ("/bulletin/parts", serde_json::json!("DC"), true),
        // The type itself has its own bounds.
        ("/equipment/radome", serde_json::json!(256), false),
        ("/bufr/centre", serde_json::json!(65_536), false),
        ("/flight/ascent", serde_json::json!(-1), false),
        ("/bulletin/bufr_area", serde_json::json!("AB"), false),
        ("/coding/region", serde_json::json!("VII"), false),
    ] {
        let place = value.pointer_mut(&format!("/reports/0{key}")).unwrap();
        let was = std::mem::replace(place, other.clone());
        assert_eq!(validator.is_valid(&value), valid, "{key} = {other}");
        *value.pointer_mut(&format!("/reports/0{key}")).unwrap() = was;
    }
    assert!(validator.is_valid(&value));
}

#[test]
fn the_document_reads_back_as_the_same_report_and_message() {
    for (name, form) in coded() {
        let (coded, record) = sample(name, form);
        let text = json::write(vec![record.clone()]).unwrap();
        let read = json::read(&text).unwrap();
        assert_eq!(read, [record], "{name}");
        let report = read[0].report(1).unwrap();
        assert_eq!(report, coded.report, "{name}");
        assert_eq!(message(&report).unwrap().value, coded.message, "{name}");
        assert_eq!(read[0].disagreements(&report).unwrap(), [], "{name}");
        assert_eq!(json::write(read).unwrap(), text, "{name}");
    }
}

/// A message received as text, kept as JSON and written again is the same text.
#[test]
fn a_received_message_survives_json() {
    for (name, form) in coded() {
        let (coded, _) = sample(name, form);
        let received = coded.message.report();
        let record = Record::new(&received, Some(&coded.message), &[], None);
        let text = json::write_line(&record).unwrap();
        let read = json::read(&text).unwrap()[0].report(1).unwrap();
        assert_eq!(read, received, "{name}");
        assert_eq!(message(&read).unwrap().value, coded.message, "{name}");
    }
}

/// The groups beside the levels are those of the message, each once.
#[test]
fn the_groups_beside_the_levels_are_those_of_the_message() {
    for (name, form) in coded() {
        let (_, record) = sample(name, form);
        for (part, groups) in &record.groups {
            let mut beside: Vec<&String> = record
                .levels
                .iter()
                .filter_map(|level| level.groups.get(part))
                .flatten()
                .collect();
            let mut left: Vec<&String> = groups.iter().collect();
            for group in &beside {
                let at = left.iter().position(|g| g == group);
                left.remove(at.unwrap_or_else(|| panic!("{name} {part}: {group}")));
            }
            beside.sort_unstable();
            // What belongs to no level: identification, indicators, layers
            // without data, sections 7 and 8.
            let plain = |g: &String| {
                ["TT", "88999", "77999", "21212", "31313", "41414"]
                    .iter()
                    .any(|head| g.starts_with(head))
                    || g.contains('/')
            };
            let others = left.iter().filter(|g| !plain(g)).count();
            assert!(others <= 18, "{name} {part}: {left:?}");
            assert!(beside.len() + 3 <= groups.len(), "{name} {part}");
        }
    }
}

#[test]
fn values_win_over_groups_that_disagree() {
    let (coded, mut record) = sample("winter_jet", Form::Temp);
    record.groups.get_mut("ttbb").unwrap()[4] = "11111".to_owned();
    record.groups.get_mut("ttdd").unwrap().pop();
    let report = record.report(1).unwrap();
    let stderr: Vec<String> = record
        .disagreements(&report)
        .unwrap()
        .iter()
        .map(ToString::to_string)
        .collect();
    let own = &coded.message.groups(fivefig::model::Part::D).unwrap();
    assert_eq!(
        stderr,
        [
            "warning: part B group 5: the group in the document is `11111`, the values give `04430` (the values are used)"
                .to_owned(),
            format!(
                "warning: part D group {}: the group in the document is nothing, the values give `{}` (the values are used)",
                own.len(),
                own.last().unwrap()
            ),
        ]
    );
}

/// Every key path of a value, `[]` for the items of an array.
fn paths(value: &serde_json::Value, at: &str, found: &mut BTreeSet<String>) {
    match value {
        serde_json::Value::Array(items) => {
            for item in items {
                paths(item, &format!("{at}[]"), found);
            }
        }
        serde_json::Value::Object(object) => {
            for (key, value) in object {
                paths(value, &format!("{at}.{key}"), found);
            }
        }
        _ => {
            found.insert(at.to_owned());
        }
    }
}

/// The keys that programs read: a change here is a change of the schema.
#[test]
fn the_keys_of_the_document() {
    let mut found = BTreeSet::new();
    for (name, form) in coded() {
        let (_, record) = sample(name, form);
        paths(&serde_json::to_value(record).unwrap(), "", &mut found);
    }
    insta::assert_snapshot!(found.iter().join("\n"));
}

/// The surface of a sample beside the first row of its file
/// (`0,1017.80,16.0,16.27,74.4,318.4,6.31,44.10000,-11.75000`), its sheet, and the
/// groups by WMO-No. 306, FM 35: `99PPP TTTaTaDD ddfff` with 318° at 6.31 m/s as 32006.
#[test]
fn the_surface_of_a_sample_stands_in_the_document() {
    let (_, record) = sample("low_burst", Form::Temp);
    let value = serde_json::to_value(record).unwrap();
    let at = |pointer: &str| value.pointer(pointer).unwrap_or(&serde_json::Value::Null);
    assert_eq!(at("/station/wmo_number"), 12);
    assert_eq!(at("/when/release"), "2031-10-04T22:58:05Z");
    assert_eq!(at("/levels/0/pressure_hpa"), 1017.8);
    assert_eq!(at("/levels/0/temperature_c"), 16.27);
    assert_eq!(at("/levels/0/wind_dir_deg"), 318.4);
    assert_eq!(at("/levels/0/latitude_deg"), 44.1);
    assert_eq!(at("/levels/0/groups/ttaa/0"), "99018");
    assert_eq!(at("/levels/0/groups/ttaa/2"), "32006");
    assert_eq!(at("/levels/0/groups/ttbb/0"), "00018");
}
