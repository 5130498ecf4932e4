use super::*;
use crate::model::When;

fn record(level: Entry) -> Record {
    Record {
        when: Some(When::Coded {
            day: 15,
            hour: 12,
            release: None,
            date: None,
        }),
        levels: vec![level],
        ..Record::default()
    }
}

fn level() -> Entry {
    Entry {
        pressure_hpa: Some(850.0),
        temperature_c: Some(-5.0),
        ..Entry::default()
    }
}

#[test]
fn at_zero_humidity_the_dew_point_is_that_of_the_floor() {
    let dry = Level {
        row: Row {
            pressure_hpa: Some(300.0),
            temperature_c: Some(-40.0),
            humidity_pct: Some(0.0),
            ..Row::default()
        },
        at: At::Row(4),
        roles: Roles::SIG_HUMIDITY,
        why: Vec::new(),
    };
    let entry = Entry::new(&dry, BTreeMap::new());
    let td = entry.dewpoint_c.unwrap();
    // 0.1 % of the saturation vapour pressure at -40 degrees C.
    let u = crate::physics::humidity::relative_humidity_pct(-40.0, td);
    assert!((u - 0.1).abs() < 1e-6, "{td} {u}");
    assert_eq!(entry.row, Some(5));
    assert_eq!(entry.level(Form::Temp), Ok(dry));
}

#[test]
fn a_depression_alone_gives_the_dew_point() {
    let entry = Entry {
        depression_k: Some(2.5),
        ..level()
    };
    let read = entry.level(Form::Temp).unwrap();
    assert_eq!(read.row.dewpoint_c, Some(-7.5));
}

#[test]
fn levels_that_cannot_be_are_refused_by_number() {
    let mut cases = Vec::new();
    let mut case = |change: &dyn Fn(&mut Entry), text: &'static str| {
        let mut entry = level();
        change(&mut entry);
        cases.push((entry, text));
    };
    case(&|e| e.pressure_hpa = None, "pressure_hpa is missing");
    case(
        &|e| e.pressure_hpa = Some(-1.0),
        "pressure_hpa is -1 (0.001 to 1200 is allowed)",
    );
    case(
        &|e| e.wind_dir_deg = Some(361.0),
        "wind_dir_deg is 361 (0 to 360 is allowed)",
    );
    case(
        &|e| e.wind_speed_ms = Some(3.0),
        "wind_dir_deg and wind_speed_ms are given together or not at all",
    );
    case(
        &|e| e.at = Origin::Row,
        "`at` is `row` but `row` is no number from 1",
    );
    for (entry, text) in cases {
        let error = record(entry).report(2).unwrap_err().to_string();
        assert_eq!(error, format!("report 2, level 1: {text}"));
    }
    let timeless = Record::default().report(1).unwrap_err().to_string();
    assert!(timeless.starts_with("report 1: `when` is missing"));
}

#[test]
fn what_is_no_report_is_refused_with_its_place() {
    for (text, expected) in [
        (
            "",
            "there is no report in the text; a document has at least one",
        ),
        ("{\"reports\": []}", "1:15: missing field `schema`"),
        (
            "{\"schema\": \"x\", \"reports\": []}",
            "the schema of the document is `x`; `fivefig report 1` is expected",
        ),
        (
            "{\"schema\": \"fivefig report 1\", \"reports\": []}",
            "there is no report in the text; a document has at least one",
        ),
        ("{\n  \"stations\": {}\n}", "2:12: unknown field `stations`"),
        (
            "{\n  \"levels\": [{\"roles\": [\"sig_temp\"]}]\n}",
            "2:36: `sig_temp` is no role of a level",
        ),
        (
            "{\"flight\": {\"release\": \"today\"}}",
            "1:31: `today` is no time in UTC (like 2031-01-15T11:23:40Z)",
        ),
        ("TTAA 15111", "1:1: expected value"),
        ("[1, 2", "1:5: "),
    ] {
        let error = read(text).unwrap_err().to_string();
        assert!(error.starts_with(expected), "{text}: {error}");
    }
}

#[test]
fn a_line_or_a_document_reads_as_the_same() {
    let one = record(level());
    let line = write_line(&one).unwrap();
    assert_eq!(line.lines().count(), 1);
    let two = vec![one.clone(), one.clone()];
    assert_eq!(read(&(line.clone() + &line)).unwrap(), two);
    assert_eq!(read(&write(two.clone()).unwrap()).unwrap(), two);
}
