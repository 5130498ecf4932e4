use proptest::prelude::*;

use super::*;
use crate::input::text;
use crate::model::finding::Code;

mod languages;

fn found(text: &str) -> Columns {
    columns(text.as_bytes(), "x.csv", &Reading::default()).unwrap()
}

/// Our name, unit and how it is known, column by column.
fn taken(text: &str) -> Vec<String> {
    let one = |t: &ColumnUse| match t.ours {
        Some((name, by)) => format!("{name} {} {by:?}", t.unit.as_deref().unwrap_or("")),
        None => "-".to_owned(),
    };
    found(text).columns.iter().map(one).collect()
}

fn guessed(header: &str, cells: &str) -> String {
    taken(&format!("time_s;{header}\n0;{cells}\n1;{cells}\n")).remove(1)
}

#[test]
fn values_decide_on_the_unit() {
    for (header, cells, wanted) in [
        ("T", "277.3", "temperature_c K Guess"),
        ("T", "4.2", "temperature_c °C Guess"),
        ("T", "150", "-"),
        ("P", "98840", "pressure_hpa Pa Guess"),
        ("P", "988.4", "pressure_hpa hPa Guess"),
        ("P", "1500", "-"),
        ("RH", "0.81", "humidity_pct fraction Guess"),
        ("RH", "81", "humidity_pct % Guess"),
        ("RH", "281", "-"),
        ("Td", "270", "dewpoint_c K Guess"),
        // The unit of the name goes before.
        ("T [C]", "4.2", "temperature_c °C Guess"),
        ("T [K]", "4.2", "-"),
        ("T [F]", "4.2", "-"),
        ("Temp", "warm", "-"),
        // A name that says nothing, a unit that only one quantity has.
        ("x [%]", "81", "humidity_pct % Guess"),
        ("x [m/s]", "8", "-"),
        ("x [hPa]", "988", "pressure_hpa hPa Guess"),
        ("height", "84", "height_gpm gpm Guess"),
        ("h", "840", "height_gpm gpm Guess"),
    ] {
        assert_eq!(guessed(header, cells), wanted, "{header} {cells}");
    }
}

#[test]
fn u_is_a_wind_beside_v_and_else_humidity() {
    assert_eq!(guessed("u", "81"), "humidity_pct % Guess");
    assert_eq!(guessed("u", "-1.5"), "-");
    assert_eq!(
        taken("time_s,u,v\n0,1.5,2\n"),
        [
            "time_s s Name",
            "wind_u_ms m/s Guess",
            "wind_v_ms m/s Guess"
        ]
    );
    assert_eq!(guessed("u [%]", "1.5"), "humidity_pct % Guess");
}

#[test]
fn steps_tell_time_height_and_pressure() {
    let text = "a;b;c;d\n0;1000.1;80;9\n1;700.2;1200;8\n2;400;5000;9\n3;100;16000;7\n";
    assert_eq!(
        taken(text),
        [
            "time_s s Guess",
            "pressure_hpa hPa Guess",
            "height_gpm gpm Guess",
            "-"
        ]
    );
}

#[test]
fn a_quantity_is_guessed_once() {
    // The better name wins, then more values, then the first.
    assert_eq!(
        taken("sonde temp,T,Temp\n1,2,\n1,2,3\n"),
        ["-", "temperature_c °C Guess", "-"]
    );
    // What has our name is not guessed again; a doubled name cannot be given.
    assert_eq!(
        taken("temperature_c,T\n1,2\n"),
        ["temperature_c °C Name", "-"]
    );
    assert_eq!(
        taken("T,t,P\n1,2,900\n"),
        ["-", "-", "pressure_hpa hPa Guess"]
    );
}

#[test]
fn marks_for_missing_are_found_where_they_can_be_no_values() {
    let all = found("T,alt,x\n-999,9999,-999\n4,nan,1\n-99.9,200,2\n");
    assert_eq!(all.missing, ["-999", "nan"]);
    let of = |at: usize| (all.columns[at].present, all.columns[at].range);
    // −99.9 °C and 9999 m can be; in a column that is not used nothing is known.
    assert_eq!(of(0), (2, Some((-99.9, 4.0))));
    assert_eq!(of(1), (2, Some((200.0, 9999.0))));
    assert_eq!(of(2), (3, Some((-999.0, 2.0))));
    let given = Reading {
        missing: vec!["?".to_owned()],
        ..Reading::default()
    };
    let all = columns(b"T\n?\n-999\n1\n", "x.csv", &given).unwrap();
    assert_eq!(all.missing, ["?", "-999"]);
    assert_eq!(all.columns[0].present, 1);
}

#[test]
fn rows_of_another_length_are_reported_and_left_out() {
    let all = found("T,P\n1\n2,900\n3,800,1\n");
    assert_eq!(all.rows, 3);
    assert_eq!(all.columns[0].present, 1);
    assert_eq!(
        all.findings[0].to_string(),
        "warning: x.csv:2: 2 of 3 rows do not have 2 cells and are left out here; the first is on line 2 (coding refuses them; set skip_lines, delimiter or widths under [text])"
    );
}

#[test]
fn nothing_needs_to_be_said_of_our_own_names() {
    let all = found("time_s,pressure_hpa,station_flags\n0,1000,4\n");
    assert_eq!(all.sheet(), None);
    // But a unit of a row of units stays in the file.
    let all = found("t0,T\ns,K\n0,277\n1,277\n2,277\n");
    assert_eq!(
        all.sheet().unwrap(),
        "[columns]\ntime_s = { column = \"t0\" }\ntemperature_c = { column = \"T\", unit = \"K\" }\n"
    );
}

proptest! {
    /// What is shown for a sheet makes the text be read, every guess in its place.
    #[test]
    fn the_sheet_shown_reads_the_file(
        stem in prop::sample::select(vec!["Temp", "air temperature", "T"]),
        pressure in prop::sample::select(vec!["P", "Pres [Pa]", "\"p, the \"\"press\"\" = 'x' \\\"", "press\u{e9}\u{1} pressure"]),
        kelvin in any::<bool>(),
        header in any::<bool>(),
        rows in 4_u32..20,
    ) {
        let mut text = String::new();
        if header {
            text.push_str(&format!("{stem},{pressure}\n"));
        }
        for i in 0..rows {
            let t = if kelvin { 280.0 } else { 7.0 } - f64::from(i % 3);
            let p = 100_000.0 - 4000.0 * f64::from(i) - f64::from(i * i);
            text.push_str(&format!("{t},{p}\n"));
        }
        let all = columns(text.as_bytes(), "x.csv", &Reading::default()).unwrap();
        if all.columns.iter().all(|taken| taken.ours.is_none()) {
            // Without a header only a pressure that falls far enough is known.
            prop_assert!(!header && rows < 12);
            return Ok(());
        }
        let sheet = all.sheet().unwrap();
        let files = [crate::input::sheet::Source { name: "s.toml", text: &sheet }];
        let reading = crate::input::sheet::reading(&files).unwrap();
        let raw = text::read(text.as_bytes(), "x.csv", &reading).unwrap().value;
        prop_assert_eq!(raw.rows.len(), usize::try_from(rows).unwrap());
        for taken in &all.columns {
            let name = taken.ours.map_or("", |(name, _)| name);
            let got = |r: &crate::input::RawRow| match name {
                "temperature_c" => r.temperature_c.is_some(),
                "pressure_hpa" => r.pressure_hpa.is_some(),
                _ => true,
            };
            prop_assert!(raw.rows.iter().all(got), "{}", name);
        }
        if header {
            prop_assert!((raw.rows[0].pressure_hpa.unwrap() - 1000.0).abs() < 1e-9);
            prop_assert!((raw.rows[0].temperature_c.unwrap() - 7.0).abs() < 0.2);
        }
    }

    #[test]
    fn any_bytes_are_looked_through_or_refused(
        bytes in proptest::collection::vec(any::<u8>(), 0..300),
        body in "[-0-9.,; \\t\\nTPKm\\[\\]_\"#é]{0,200}",
    ) {
        let _ = columns(&bytes, "x", &Reading::default());
        if let Ok(all) = columns(body.as_bytes(), "x", &Reading::default()) {
            for taken in &all.columns {
                prop_assert!(taken.range.is_none_or(|(low, high)| low <= high));
            }
        }
    }
}

#[test]
fn the_header_is_found_below_other_lines() {
    let rows = "0;1005,3;5,2\n10;998,3;4,8\n20;990,3;4,2\n";
    let above = "Invented Field\nLatitude: 51.25 N\nRun;1;2\n\n# a comment\n";
    let first = found(&format!("{above}time_s;Druck [hPa];Temperatur\n{rows}"));
    assert_eq!(first.skip_lines, 5);
    assert_eq!(first.rows, 3);
    assert!(
        first
            .sheet()
            .unwrap()
            .starts_with("[text]\nskip_lines = 5\n"),
        "{:?}",
        first.sheet()
    );
    assert!(
        first
            .findings
            .iter()
            .all(|f| f.is(Code::LinesAboveTheHeader))
    );
    assert_eq!(first.findings.len(), 1);
    // Names that are not known, and no names.
    assert_eq!(found(&format!("{above}a;b;c\n{rows}")).skip_lines, 5);
    let bare = found(&format!("Invented Field\n{rows}"));
    assert_eq!((bare.skip_lines, bare.names.len()), (1, 3));
    // A header on the first line stays, whatever stands in the rows.
    let odd = found(&format!("time_s;Druck;Temperatur\n{rows}1;2\n"));
    assert_eq!((odd.skip_lines, odd.rows), (0, 4));
    // Nothing that looks like rows: read from the top, as without a guess.
    assert_eq!(found("one\ntwo\nthree\n").skip_lines, 0);
}
