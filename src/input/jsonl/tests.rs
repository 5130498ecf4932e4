use proptest::prelude::*;

use super::*;
use crate::input::{detect, text};
use crate::model::raw::Angles;
use crate::model::{Noted, Reading, Roles};

const LINE: &str = r#"{"id": "A1", "sheet": {"station": {"wmo_block": 99, "wmo_number": 7, "elevation_m": 84, "latitude_deg": 51.25, "call_sign": null}, "flight": {"release": "2031-01-15T11:23:40Z"}}, "columns": {"time_s": [0, 1, 2], "pressure_hpa": [1004.3, null, 990], "temperature_c": [4.5, 4, null], "station_flags": [131072, 0, null]}}"#;

fn refused(line: &str) -> String {
    flight(line.as_bytes(), "x.jsonl", 3)
        .unwrap_err()
        .to_string()
}

#[test]
fn a_line_is_a_flight() {
    let (id, contents) = flight(LINE.as_bytes(), "x.jsonl", 3).unwrap();
    assert_eq!(id, "A1");
    assert_eq!(contents.raw.name, "x.jsonl (flight A1)");
    let rows = &contents.raw.rows;
    assert_eq!(rows.len(), 3);
    assert_eq!(
        rows[0],
        RawRow {
            line: 1,
            time_s: Some(0.0),
            pressure_hpa: Some(1004.3),
            temperature_c: Some(4.5),
            flags: Roles::SURFACE,
            ..RawRow::default()
        }
    );
    assert_eq!((rows[1].pressure_hpa, rows[2].temperature_c), (None, None));
    let source = Source {
        name: "",
        text: &contents.sheet.unwrap(),
    };
    let (sheet, _) = sheet::read(&[source]).unwrap();
    assert_eq!(sheet.context.station.wmo_number, Some(7));
    assert_eq!(sheet.context.station.call_sign, None);
    assert_eq!(sheet.context.station.elevation_m, Some(84.0));
}

#[test]
fn what_is_no_flight_is_refused_with_line_flight_and_column() {
    let with = |from: &str, to: &str| {
        let line = LINE.replacen(from, to, 1);
        assert_ne!(line, LINE);
        refused(&line)
    };
    for (from, to, reported) in [
        (
            "temperature_c",
            "temprature_c",
            "x.jsonl:3: flight `A1`: columns.temprature_c: no such column is read; did you mean temperature_c?; there are time_s, pressure_hpa, height_gpm, altitude_m, temperature_c, humidity_pct, dewpoint_c, wind_dir_deg, wind_speed_ms, wind_u_ms, wind_v_ms, latitude_deg, longitude_deg, elevation_deg, azimuth_deg, elevation_2_deg, azimuth_2_deg, station_flags",
        ),
        (
            "[4.5, 4, null]",
            "[4.5, \"4\", null]",
            "x.jsonl:3: flight `A1`: columns.temperature_c[2] is a text (a number or null is expected)",
        ),
        (
            "[4.5, 4, null]",
            "[4.5, 400, null]",
            "x.jsonl:3: flight `A1`: columns.temperature_c[2] is 400 (-120 to 60 °C is allowed)",
        ),
        (
            "[4.5, 4, null]",
            "[4.5, 4]",
            "x.jsonl:3: flight `A1`: columns.time_s has 3 values and columns.temperature_c 2; every column has one for each row",
        ),
        (
            "[4.5, 4, null]",
            "4.5",
            "x.jsonl:3: flight `A1`: columns.temperature_c is a number; an array of numbers and null is expected",
        ),
        (
            "131072",
            "262144",
            "x.jsonl:3: flight `A1`: columns.station_flags[1] is 262144 (a whole number from 0 to 262143 is expected)",
        ),
        (
            "\"sheet\"",
            "\"sheets\"",
            "x.jsonl:3: flight `A1`: unknown field `sheets`, expected one of `id`, `sheet`, `columns` (character 22; a flight is one object on one line with id, sheet and columns)",
        ),
        (
            "\"A1\"",
            "7",
            "x.jsonl:3: invalid type: integer `7`, expected a string (character 8; a flight is one object on one line with id, sheet and columns)",
        ),
        (
            "\"A1\"",
            "\"\"",
            "x.jsonl:3: flight ``: id has 0 characters; 1 to 200 are allowed",
        ),
        (
            "\"wmo_block\": 99",
            "\"wmo_blok\": 99, \"wmo_block\": 100",
            "x.jsonl:3: flight `A1`: sheet: `station.wmo_block` = 100 is out of range (1 to 99); sheet: unknown key `wmo_blok` in [station] (did you mean `wmo_block`?)",
        ),
        (
            "\"wmo_block\": 99",
            "\"x\": [1, null]",
            "x.jsonl:3: flight `A1`: sheet.station.x[2] is null; a value is expected",
        ),
        (
            "}}",
            "}",
            "x.jsonl:3: EOF while parsing an object (character 339; a flight is one object on one line with id, sheet and columns)",
        ),
    ] {
        let found = with(from, to);
        // Where serde_json ends is its own affair; the words are ours.
        let plain = |text: &str| {
            text.split("(character")
                .next()
                .unwrap_or_default()
                .to_owned()
        };
        if reported.contains("(character") {
            assert_eq!(plain(&found), plain(reported));
            assert!(
                found.ends_with("a flight is one object on one line with id, sheet and columns)"),
                "{found}"
            );
        } else {
            assert_eq!(found, reported);
        }
    }
    for columns in ["{}", "{\"time_s\": []}", "{\"station_flags\": [1]}"] {
        assert_eq!(
            refused(&format!("{{\"id\": \"A\", \"columns\": {columns}}}")),
            "x.jsonl:3: flight `A`: columns holds no row; at least one column with values is expected"
        );
    }
}

#[test]
fn what_is_too_much_or_comes_twice_is_refused() {
    let with = |sheet: &str, columns: &str| {
        refused(&format!(
            "{{\"id\": \"A\", \"sheet\": {sheet}, \"columns\": {columns}}}"
        ))
    };
    let many = format!("{{\"time_s\": [{}0]}}", "0,".repeat(MAX_ROWS));
    assert_eq!(
        with("{}", &many),
        "x.jsonl:3: flight `A`: columns.time_s has 200001 values; at most 200000 are read"
    );
    assert_eq!(
        with("{}", r#"{"time_s": [0], "time_s": [1]}"#),
        "x.jsonl:3: flight `A`: columns.time_s comes twice; give it once"
    );
    let long = format!("{{\"x\": \"{}\"}}", "x".repeat(MAX_SHEET_BYTES));
    assert_eq!(
        with(&long, "{}"),
        "x.jsonl:3: flight `A`: sheet has 1048585 octets; at most 1048576 are read"
    );
    let long = "x".repeat(MAX_LINE + 1);
    assert!(refused(&long).contains("the line has 33554433 octets; at most 33554432 are read"));
}

#[test]
fn one_of_several_is_to_be_named() {
    let file = format!("{LINE}\n\n{}\n", LINE.replace("A1", "A2"));
    let of = |number| read(file.as_bytes(), "x.jsonl", number);
    assert_eq!(of(Some(2)).unwrap().0, "A2");
    assert_eq!(
        of(None).unwrap_err().to_string(),
        "x.jsonl: there are 2 flights; give the number of one, 1 to 2"
    );
    for number in [0, 3] {
        assert_eq!(
            of(Some(number)).unwrap_err().to_string(),
            format!("x.jsonl: there is no flight {number}; the file has 2")
        );
    }
    // One object over several lines.
    let spread = LINE.replace(", ", ",\n");
    let reported = read(spread.as_bytes(), "x.jsonl", None)
        .unwrap_err()
        .to_string();
    assert!(
        reported.starts_with("x.jsonl:1: EOF while parsing"),
        "{reported}"
    );
    assert_eq!(
        read(b" \n", "x.jsonl", None).unwrap_err().to_string(),
        "x.jsonl: the file is empty; one flight per line is expected"
    );
}

#[test]
fn a_value_that_is_a_mark_for_missing_survives_text() {
    let line = r#"{"id": "A", "columns": {"time_s": [-9999, null]}}"#;
    let (_, contents) = flight(line.as_bytes(), "x", 1).unwrap();
    let rows = text::write(&contents.raw).unwrap();
    assert_eq!(rows, "time_s\n-9999.00\n///\n");
    let back = text::read(rows.as_bytes(), "x", &Reading::default())
        .unwrap()
        .value;
    assert_eq!(back.rows[0].time_s, Some(-9999.0));
    assert_eq!(back.rows[1].time_s, None);
}

#[test]
fn what_a_conversion_leaves_is_left_off() {
    let raw = RawProfile {
        rows: vec![RawRow {
            // 277.6 − 273.15 in doubles.
            temperature_c: Some(4.450_000_000_000_045),
            pressure_hpa: Some(1e-12),
            ..RawRow::default()
        }],
        ..RawProfile::default()
    };
    let text = text::write(&raw).unwrap();
    assert_eq!(text, "pressure_hpa,temperature_c\n0.000000000001,4.45\n");
    let line = write("A", &toml::Table::new(), &raw);
    assert!(line.contains("\"temperature_c\":[4.45]"), "{line}");
    assert!(flight(line.as_bytes(), "x", 1).is_ok());
}

#[test]
fn flights_are_known_by_how_they_begin() {
    for start in ["{\"id\"", " \n{ \"columns\"", "{", "{}", "\u{feff}{\"id\""] {
        assert_eq!(
            detect(start.as_bytes()),
            crate::input::Format::Jsonl,
            "{start}"
        );
    }
    for start in ["", "{x", "[{\"id\"", "time_s,pressure_hpa\n"] {
        assert_eq!(
            detect(start.as_bytes()),
            crate::input::Format::Text,
            "{start}"
        );
    }
}

#[test]
fn the_schema_holds_what_is_read() {
    let schema = jsonschema::validator_for(&schema()).unwrap();
    let line: Value =
        serde_json::from_str(&LINE.replace("\"call_sign\": null", "\"name\": \"A\"")).unwrap();
    let errors: Vec<String> = schema.iter_errors(&line).map(|e| e.to_string()).collect();
    assert_eq!(errors, Vec::<String>::new());
    for (from, to) in [
        ("temperature_c", "temprature_c"),
        ("[4.5, 4", "[4.5, \"4\""),
        ("[4.5, 4", "[4.5, 61"),
        ("1004.3", "0"),
        ("\"wmo_block\": 99", "\"wmo_block\": 100"),
        ("\"A1\"", "7"),
    ] {
        let line: Value = serde_json::from_str(&LINE.replace(from, to)).unwrap();
        assert!(!schema.is_valid(&line), "{to}");
    }
}

/// Any rows within the bounds.
fn any_rows() -> impl Strategy<Value = Vec<RawRow>> {
    let some = |low: f64, high: f64| prop::option::of((low..high).prop_map(trim));
    let row = (
        (
            some(-10.0, 9000.0),
            some(0.1, 1100.0),
            some(-500.0, 60000.0),
            some(-100.0, 60000.0),
        ),
        (some(-120.0, 60.0), some(0.0, 200.0), some(-150.0, 60.0)),
        (
            some(0.0, 360.0),
            some(0.0, 250.0),
            some(-250.0, 250.0),
            some(-250.0, 250.0),
        ),
        (some(-90.0, 90.0), some(-180.0, 360.0), 0_u32..1 << 18),
    );
    prop::collection::vec(row, 1..8).prop_map(|rows| {
        (rows.into_iter())
            .map(
                |((t, p, z, a), (temp, rh, td), (dd, ff, u, v), (lat, lon, bits))| RawRow {
                    line: 0,
                    time_s: t,
                    pressure_hpa: p,
                    height_gpm: z,
                    altitude_m: a,
                    temperature_c: temp,
                    humidity_pct: rh,
                    dewpoint_c: td,
                    wind_dir_deg: dd,
                    wind_speed_ms: ff,
                    wind_u_ms: u,
                    wind_v_ms: v,
                    latitude_deg: lat,
                    longitude_deg: lon,
                    angles: dd.map(|dd| {
                        Box::new(Angles {
                            azimuth_deg: Some(dd),
                            azimuth_2_deg: ff,
                            ..Angles::default()
                        })
                    }),
                    flags: Roles::from_bits_retain(bits),
                },
            )
            .collect()
    })
}

proptest! {
    /// What is written as text or as a line is read back, all nine decimals of it.
    #[test]
    fn rows_survive_text_and_json(rows in any_rows(), id in "[ -~é]{1,20}") {
        let raw = RawProfile { name: "x".to_owned(), rows, start: None };
        let unnumbered = |rows: Vec<RawRow>| -> Vec<RawRow> {
            rows.into_iter().map(|row| RawRow { line: 0, ..row }).collect()
        };
        if columns_with_values(&raw.rows).iter().all(|(name, _)| *name == FLAGS) {
            prop_assert_eq!(text::write(&raw), None);
            return Ok(());
        }
        let csv = text::write(&raw).unwrap();
        let Noted { value: back, findings: notes } = text::read(csv.as_bytes(), "x", &Reading::default()).unwrap();
        prop_assert_eq!(unnumbered(back.rows), raw.rows.clone());
        prop_assert_eq!(notes, vec![]);
        let sheet: toml::Table = "[text]\nskip_lines = 3\n[station]\nname = \"é\"\nelevation_m = 84.5\n".parse().unwrap();
        let line = write(&id, &sheet, &raw);
        prop_assert_eq!(line.matches('\n').count(), 1);
        let (name, back) = flight(line.as_bytes(), "x", 1).unwrap();
        prop_assert_eq!(name, id);
        prop_assert_eq!(unnumbered(back.raw.rows), raw.rows);
        let back: toml::Table = back.sheet.unwrap().parse().unwrap();
        prop_assert_eq!(&back["station"], &sheet["station"]);
        prop_assert!(back.get("text").is_none());
    }

    #[test]
    fn any_bytes_are_read_or_refused(
        bytes in proptest::collection::vec(any::<u8>(), 0..300),
        at in 0_usize..300,
        new in "[-0-9a-z\"\\[\\]{},: ]{0,8}",
    ) {
        let _ = read(&bytes, "x", None);
        let mut line = LINE.to_owned();
        line.replace_range(at..at + new.len(), &new);
        if let Ok((_, contents)) = flight(line.as_bytes(), "x", 1) {
            prop_assert!(!contents.raw.rows.is_empty());
        }
    }
}
