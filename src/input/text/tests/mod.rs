mod shapes;

use proptest::prelude::*;

use super::*;
use crate::model::ColumnSource;
use crate::model::finding::{Finding, Severity};

fn column(column: &str, unit: &str) -> ColumnSource {
    let given = |s: &str| Some(s.to_owned()).filter(|s| !s.is_empty());
    ColumnSource {
        column: given(column),
        unit: given(unit),
    }
}

fn reading(columns: &[(&str, ColumnSource)]) -> Reading {
    Reading {
        columns: (columns.iter().cloned())
            .map(|(k, v)| (k.to_owned(), v))
            .collect(),
        ..Reading::default()
    }
}

/// The rows and the findings, to be taken apart.
fn read(
    bytes: &[u8],
    name: &str,
    reading: &Reading,
) -> Result<(RawProfile, Vec<Finding>), SourceError> {
    super::read(bytes, name, reading).map(Into::into)
}

fn rows(text: &str) -> Vec<RawRow> {
    read(text.as_bytes(), "x.csv", &Reading::default())
        .unwrap()
        .0
        .rows
}

fn refused(text: impl AsRef<[u8]>) -> String {
    refused_with(text, &Reading::default())
}

fn refused_with(text: impl AsRef<[u8]>, reading: &Reading) -> String {
    read(text.as_ref(), "x.csv", reading)
        .unwrap_err()
        .to_string()
}

#[test]
fn every_delimiter_gives_the_same_rows() {
    let comma = "# made up\n\ntime_s,pressure_hpa,temperature_c\n0,1000.5,4.2\n1,,-9999\n";
    let wanted = rows(comma);
    assert_eq!(wanted.len(), 2);
    assert_eq!(wanted[0].line, 4);
    assert_eq!(wanted[0].pressure_hpa, Some(1000.5));
    assert_eq!(wanted[0].temperature_c, Some(4.2));
    assert_eq!(
        (wanted[1].pressure_hpa, wanted[1].temperature_c),
        (None, None)
    );
    for d in ["\t", ";", " ; "] {
        assert_eq!(rows(&comma.replace(',', d)), wanted, "{d:?}");
    }
    let aligned = comma.replace(",,", ",///,").replace(',', "   ");
    assert_eq!(rows(&aligned), wanted);
    assert_eq!(rows(&comma.replace('\n', "\r\n")), wanted);
    assert_eq!(rows(&format!("\u{feff}{comma}")), wanted);
    assert_eq!(rows(comma.trim_end()), wanted);
    let piped = Reading {
        delimiter: Some('|'),
        ..Reading::default()
    };
    let (raw, _) = read(comma.replace(',', "|").as_bytes(), "x.csv", &piped).unwrap();
    assert_eq!(raw.rows, wanted);
}

#[test]
fn quoted_cells_are_the_same_as_bare_ones() {
    let bare = rows("time_s,pressure_hpa,note\n0,1000.5,a\n");
    assert_eq!(
        rows("\"time_s\",\"pressure_hpa\",note\n0, \"1000.5\" ,a\n"),
        bare
    );
    assert_eq!(
        rows("\"time_s\",\"pressure_hpa\",note\n\"0\",\"1000.5\",\"a, \"\"b\"\"\"\n"),
        bare
    );
    assert_eq!(
        rows("\"time_s\" \"pressure_hpa\" note\n0 \"1000.5\" a\n"),
        bare
    );
    assert_eq!(
        refused("time_s,pressure_hpa\n0,\"1000\n"),
        "x.csv:2: a quote is opened and not closed (a quoted cell ends on its line)"
    );
    assert_eq!(
        refused("time_s,\"pressure_hpa\n0,1000\n"),
        "x.csv:1: a quote is opened and not closed (a quoted cell ends on its line)"
    );
}

#[test]
fn names_match_without_regard_to_case_or_blanks() {
    let rows = rows(" Time_S , PRESSURE_HPA\n0,1000\n");
    assert_eq!(rows[0].time_s, Some(0.0));
    assert_eq!(rows[0].pressure_hpa, Some(1000.0));
}

#[test]
fn decimal_commas_need_another_delimiter() {
    assert_eq!(
        rows("pressure_hpa;temperature_c\n1000,5;-4,25\n")[0].temperature_c,
        Some(-4.25)
    );
    assert_eq!(
        refused("pressure_hpa;temperature_c\n1.000,5;1\n"),
        "x.csv:2:1: pressure_hpa is `1.000,5` (a number is expected; list it under [text] missing if it means missing)"
    );
}

#[test]
fn every_unit_becomes_ours() {
    // 1 kt = 1852/3600 m/s, 1 ft = 0.3048 m, 0 °C = 273.15 K, exactly (SI Brochure).
    for (ours, unit, cell, value) in [
        ("pressure_hpa", "hPa", "988.4", 988.4),
        ("pressure_hpa", "Pa", "98840", 988.4),
        ("height_gpm", "gpm", "210", 210.0),
        ("height_gpm", "m", "210", 210.0),
        ("height_gpm", "ft", "1000", 304.8),
        ("altitude_m", "ft", "-100", -30.48),
        ("temperature_c", "°C", "-1.5", -1.5),
        ("temperature_c", "C", "-1.5", -1.5),
        ("temperature_c", "K", "333.15", 60.0),
        ("dewpoint_c", "K", "273.15", 0.0),
        ("humidity_pct", "%", "81", 81.0),
        ("humidity_pct", "fraction", "0.81", 81.0),
        ("wind_speed_ms", "m/s", "7", 7.0),
        ("wind_speed_ms", "kt", "36", 18.52),
        ("wind_u_ms", "kt", "-36", -18.52),
        ("wind_v_ms", "km/h", "36", 10.0),
        ("wind_dir_deg", "deg", "360", 360.0),
        ("time_s", "min", "1.5", 90.0),
    ] {
        let sheet = reading(&[(ours, column("X", unit))]);
        let (raw, notes) = read(format!("x\n{cell}\n").as_bytes(), "x.csv", &sheet).unwrap();
        assert_eq!(notes, []);
        let row = format!("{:?}", raw.rows[0]);
        let found = row.split(&format!("{ours}: Some(")).nth(1).unwrap();
        let found: f64 = found.split(')').next().unwrap().parse().unwrap();
        assert!((found - value).abs() < 1e-9, "{ours} {unit}: {found}");
    }
}

#[test]
fn the_sheet_is_held_to_the_header() {
    let text = "T,p\n4.2,1000\n";
    let p = ("pressure_hpa", column("p", ""));
    for (columns, reported) in [
        (
            ("temperature_c", column("T", "F")),
            "x.csv: [columns] temperature_c: unknown unit `F`; it may be °C, K",
        ),
        (
            ("temperature_c", column("Temp", "")),
            "x.csv: [columns] temperature_c: the header has no column `Temp`; it has `T`, `p`",
        ),
        (
            ("temperature_c", column("p", "")),
            "x.csv: [columns] temperature_c: column 2 is already taken as pressure_hpa",
        ),
        (
            ("temprature", column("T", "")),
            "x.csv: [columns] temprature: no such column is read; there are time_s, pressure_hpa, height_gpm, altitude_m, temperature_c, humidity_pct, dewpoint_c, wind_dir_deg, wind_speed_ms, wind_u_ms, wind_v_ms, latitude_deg, longitude_deg, elevation_deg, azimuth_deg, elevation_2_deg, azimuth_2_deg, station_flags",
        ),
    ] {
        assert_eq!(
            refused_with(text, &reading(&[p.clone(), columns])),
            reported
        );
    }
    assert_eq!(
        refused("pressure_hpa,x,Pressure_hPa\n1,2,3\n"),
        "x.csv: [columns] pressure_hpa: column `pressure_hpa` stands twice in the header, in columns 1 and 3"
    );
    // A unit alone keeps our name for the column.
    let (raw, _) = read(
        b"pressure_hpa\n98840\n",
        "x.csv",
        &reading(&[("pressure_hpa", column("", "Pa"))]),
    )
    .unwrap();
    assert_eq!(raw.rows[0].pressure_hpa, Some(988.4));
}

#[test]
fn unknown_columns_are_reported_and_passed_over() {
    let text = "pressure_hpa,battery,temperature,\n1000,full,4,\n";
    let (raw, notes) = read(text.as_bytes(), "x.csv", &Reading::default()).unwrap();
    assert_eq!(raw.rows.len(), 1);
    let reported: Vec<String> = notes.iter().map(ToString::to_string).collect();
    assert_eq!(
        reported,
        [
            "info: x.csv:1:2: column `battery` is not used (give its name under [columns] if it is needed)",
            "info: x.csv:1:3: column `temperature` is not used (did you mean temperature_c?)",
            "info: x.csv:1: not used, but `temperature` like temperature_c (give them under [columns] if they are these quantities)",
        ]
    );
    assert!(notes[0].code == "unknown-column" && notes[1].code == "misspelt-column");
    assert_eq!(notes[2].code, "likely-column");
    let many: Vec<String> = (0..500).map(|i| format!("q{i}")).collect();
    let text = format!("pressure_hpa,{}\n", many.join(",")) + "1" + &",2".repeat(500);
    let (_, notes) = read(text.as_bytes(), "x.csv", &Reading::default()).unwrap();
    assert_eq!(notes.len(), 21);
    assert_eq!(notes[20].what, "480 more columns are not used");
    assert_eq!(notes[20].severity, Severity::Info);
}

#[test]
fn bounds_are_inclusive_but_for_no_pressure() {
    // Below the least allowed, the least, the greatest, above it.
    for (ours, below, least, most, above) in [
        ("pressure_hpa", "0", "0.001", "1100", "1100.1"),
        ("temperature_c", "-120.1", "-120", "60", "60.1"),
        ("humidity_pct", "-0.1", "0", "200", "200.1"),
        ("dewpoint_c", "-150.1", "-150", "60", "60.1"),
        ("wind_dir_deg", "-1", "0", "360", "360.1"),
        ("wind_speed_ms", "-0.1", "0", "250", "250.1"),
        ("wind_u_ms", "-251", "-250", "250", "251"),
        ("latitude_deg", "-90.1", "-90", "90", "90.1"),
        ("longitude_deg", "-180.1", "-180", "360", "360.1"),
        ("height_gpm", "-501", "-500", "60000", "60001"),
        ("altitude_m", "-501", "-500", "60000", "60001"),
    ] {
        for cell in [least, most] {
            rows(&format!("{ours}\n{cell}\n"));
        }
        for cell in [below, above] {
            let reported = refused(format!("time_s,{ours}\n0,{cell}\n"));
            let start = format!("x.csv:2:2: {ours} is `{cell}` (");
            assert!(reported.starts_with(&start), "{reported}");
            assert!(reported.ends_with(" is allowed)"), "{reported}");
        }
    }
    assert_eq!(
        refused("pressure_hpa\n0\n"),
        "x.csv:2:1: pressure_hpa is `0` (more than 0 and at most 1100 hPa is allowed)"
    );
    assert_eq!(
        refused_with("T\n400\n", &reading(&[("temperature_c", column("T", "K"))])),
        "x.csv:2:1: temperature_c is `400` K (-120 to 60 °C is allowed)"
    );
}

#[test]
fn missing_marks() {
    for mark in ["", "-9999", "-9999.0", "/", "///", "//////", "NA", "  "] {
        let text = format!("time_s,temperature_c\n0,{mark}\n");
        assert_eq!(rows(&text)[0].temperature_c, None, "{mark:?}");
    }
    let sheet = Reading {
        missing: vec!["99.9".to_owned(), " nan ".to_owned()],
        ..Reading::default()
    };
    let text = b"time_s,temperature_c\n0,99.9\n1,nan\n";
    let (raw, _) = read(text, "x.csv", &sheet).unwrap();
    assert!(raw.rows.iter().all(|r| r.temperature_c.is_none()));
    for bad in ["NaN", "nan", "inf", "-inf", "Infinity", "1e999"] {
        assert_eq!(
            refused(format!("time_s,temperature_c\n0,{bad}\n")),
            format!(
                "x.csv:2:2: temperature_c is `{bad}` (list it under [text] missing if it means missing)"
            )
        );
    }
}

#[test]
fn station_flags_are_received_roles() {
    let rows = rows("pressure_hpa,station_flags\n950,145408\n900,\n");
    // 145408 = 131072 + 8192 + 4096 + 2048: surface, significant T, U and wind
    // (WMO-No. 306 Vol. I.2, flag table 0 08 042).
    let all = Roles::SURFACE | Roles::SIG_TEMPERATURE | Roles::SIG_HUMIDITY | Roles::SIG_WIND;
    assert_eq!(rows[0].flags, all);
    assert_eq!(rows[1].flags, Roles::empty());
    for bad in ["262144", "-1", "1.5", "x"] {
        assert_eq!(
            refused(format!("pressure_hpa,station_flags\n950,{bad}\n")),
            format!(
                "x.csv:2:2: station_flags is `{bad}` (a whole number from 0 to 262143 is expected)"
            )
        );
    }
}

#[test]
fn what_is_no_table_is_refused() {
    let empty = "x.csv: the file is empty; a header row and rows of numbers are expected";
    for text in ["", "\n\n", "# only a comment\n", "\u{feff}"] {
        assert_eq!(refused(text), empty);
    }
    assert_eq!(
        refused("# c\ntime_s,pressure_hpa\n# c\n"),
        "x.csv: there is a header row but no row of numbers below it; give the rows, or set skip_lines or delimiter under [text] if they are not recognized"
    );
    assert_eq!(
        refused("1,2\n3,4\n"),
        "x.csv:1: no column of the header is known; it has `1`, `2`; give each its name under [columns] of the sheet (known: time_s, pressure_hpa, height_gpm, altitude_m, temperature_c, humidity_pct, dewpoint_c, wind_dir_deg, wind_speed_ms, wind_u_ms, wind_v_ms, latitude_deg, longitude_deg, elevation_deg, azimuth_deg, elevation_2_deg, azimuth_2_deg, station_flags)"
    );
    assert_eq!(
        refused(b"BUFR\x00\x01\x02"),
        "x.csv:1: a zero byte at position 5 of the line: the file is binary; delimited text is expected"
    );
    assert_eq!(
        refused(b"time_s\n# 20 \x81C\n0\n"),
        "x.csv:2: not UTF-8 at byte 6 of the line; save the file as UTF-8 text, or give encoding under [text]"
    );
    for (given, shown) in [('x', "'x'"), ('"', "'\"'"), ('.', "'.'"), ('°', "'°'")] {
        let sheet = Reading {
            delimiter: Some(given),
            ..Reading::default()
        };
        assert_eq!(
            refused_with("time_s\n0\n", &sheet),
            format!(
                "x.csv: [text] delimiter {shown} cannot be used; it may be a tab, a blank or a sign such as , ; | :"
            )
        );
    }
}

#[test]
fn sizes_are_capped() {
    let long = "1".repeat(10 << 20);
    assert_eq!(
        refused(format!("time_s\n{long}\n")),
        "x.csv:2: the line has 10485760 bytes, at most 1048576 are read; check that the file is delimited text"
    );
    assert_eq!(
        refused("a,".repeat(1000) + "time_s\n"),
        "x.csv:1: the header has more than 1000 columns; check delimiter under [text]"
    );
    assert_eq!(
        refused("time_s\n".to_owned() + &"0\n".repeat(MAX_ROWS + 1)),
        "x.csv:2000002: the file has more than 2000000 rows; give one flight per file"
    );
    assert_eq!(
        refused(vec![b'\n'; MAX_FILE + 1]),
        "x.csv: the file has 268435457 bytes, at most 268435456 are read; give one flight per file"
    );
}

#[test]
fn rows_of_another_length_are_refused() {
    assert_eq!(
        refused("time_s,pressure_hpa\n0\n0,1,2\n"),
        "x.csv:2: the row has 1 cells (the header has 2)\n\
         x.csv:3: the row has more than 2 cells (the header has 2)"
    );
    assert_eq!(
        refused("time_s pressure_hpa\n0\n"),
        "x.csv:2: the row has 1 cells (the header has 2; between blanks a missing value needs a mark such as ///)"
    );
}

#[test]
fn at_most_twenty_faults_are_listed() {
    let reported = refused("time_s,pressure_hpa\n".to_owned() + &"x,y\n".repeat(50));
    assert_eq!(reported.lines().count(), 21);
    assert!(reported.ends_with("x.csv:11:2: pressure_hpa is `y` (a number is expected; list it under [text] missing if it means missing)\nreading stopped after 20 faults"), "{reported}");
    // A long or strange cell stays one short line.
    let reported = refused("pressure_hpa\n".to_owned() + &"z\u{1b}".repeat(100));
    assert!(
        reported.contains("`z\u{fffd}z\u{fffd}") && reported.contains("…`"),
        "{reported}"
    );
}

#[test]
fn a_hundred_thousand_rows_are_read() {
    use std::fmt::Write as _;
    let mut text = "time_s,pressure_hpa\n".to_owned();
    for i in 0..100_000 {
        writeln!(text, "{i},{}", 1000.0 - f64::from(i) / 200.0).unwrap();
    }
    let rows = rows(&text);
    assert_eq!(rows.len(), 100_000);
    assert_eq!(rows[99_999].line, 100_001);
    assert_eq!(rows[99_999].time_s, Some(99_999.0));
}

/// A cell, nearly always a number or none.
fn any_cell() -> impl Strategy<Value = String> {
    let words = [
        "", "///", "NA", "-9999", "-9999.0", "-12", "x", "7e2", "+3", "1 2", "é",
    ];
    prop_oneof![
        20 => "[1-5]?[1-9](\\.[0-9]{0,3})?",
        20 => " ?[1-5]?[0-9]?\\.[0-9]{1,3} {0,2}",
        1 => "-?[0-9]{1,3}",
        1 => prop::sample::select(words.map(str::to_owned).to_vec()),
    ]
}

/// How any text may be read: by widths, with names, below some lines.
fn any_reading() -> impl Strategy<Value = Reading> {
    let name = prop::sample::select(vec!["time_s", "pressure_hpa", "x", ""]);
    (
        0_usize..3,
        prop::collection::vec(0_usize..5, 0..4),
        prop::collection::vec(name.prop_map(str::to_owned), 0..4),
    )
        .prop_map(|(skip_lines, widths, names)| Reading {
            skip_lines,
            widths,
            names,
            ..Reading::default()
        })
}

proptest! {
    /// The reference is the standard library's reader of numbers.
    #[test]
    fn plain_numbers_are_read_exactly(
        cell in "-?[0-9]{0,9}\\.?[0-9]{0,9}",
        behind in "([,; \\r\\n/e:][ -~\u{b0}]{0,12})?",
    ) {
        if let Some(value) = plain(&cell) {
            prop_assert_eq!(value.to_bits(), cell.parse::<f64>().unwrap().to_bits());
            // Whatever stands behind it.
            let text = format!("{cell}{behind}");
            prop_assert_eq!(leading(text.as_bytes()), Some((value, behind.as_bytes())));
        } else {
            let digits = cell.bytes().filter(u8::is_ascii_digit).count();
            prop_assert!(digits == 0 || digits > 15, "{}", cell);
        }
    }

    /// A quoted cell is read in the general way, and with it its whole row.
    #[test]
    fn plain_rows_are_read_as_all_others(
        lines in prop::collection::vec(prop::collection::vec(any_cell(), 5), 1..8),
        knots in any::<bool>(),
        marks in any::<bool>(),
        delimiter in prop::sample::select(vec![",", ";", "\t"]),
        end in prop::sample::select(vec!["\n", "\r\n"]),
    ) {
        let unit = if knots { "kt" } else { "m/s" };
        let mut reading = reading(&[("wind_speed_ms", column("", unit))]);
        if marks {
            reading.missing = vec!["-12".to_owned(), "x".to_owned()];
        }
        let text = |quote: &str| {
            let names = ["pressure_hpa", "time_s", "temperature_c", "wind_speed_ms", "other"];
            let mut out = names.join(delimiter) + end;
            for line in &lines {
                let (first, rest) = line.split_first().unwrap();
                let cells = std::iter::once(format!("{quote}{}{quote}", first.trim()));
                let cells: Vec<String> = cells.chain(rest.iter().cloned()).collect();
                out += &(cells.join(delimiter) + end);
            }
            out
        };
        let read = |quote| {
            let contents = contents(text(quote).as_bytes(), "x", &reading);
            contents.map_or_else(|e| e.to_string(), |c| format!("{:?} {:?}", c.raw, c.columns))
        };
        prop_assert_eq!(read(""), read("\""));
    }

    #[test]
    fn any_bytes_are_read_or_refused_in_any_way(
        bytes in proptest::collection::vec(any::<u8>(), 0..300),
        body in "[-0-9.,; \t\nsKPahé#]{0,200}",
        reading in any_reading(),
    ) {
        let _ = read(&bytes, "x", &reading);
        if let Ok((raw, _)) = read(body.as_bytes(), "x", &reading) {
            prop_assert!(!raw.rows.is_empty());
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let _ = read(&bytes, "x", &Reading::default());
    }

    #[test]
    fn any_table_like_text_is_read_or_refused(
        delimiter in prop::sample::select(vec![",", ";", "\t", " "]),
        body in "[-0-9.,;/ \t\"\r\nNAeinf#°]{0,300}",
    ) {
        let head = ["time_s", "pressure_hpa", "\"temperature_c\""].join(delimiter);
        let text = format!("{head}\n{body}");
        if let Ok((raw, _)) = read(text.as_bytes(), "x", &Reading::default()) {
            for row in raw.rows {
                prop_assert!(row.pressure_hpa.is_none_or(|p| p > 0.0 && p <= 1100.0));
                prop_assert!(row.temperature_c.is_none_or(|t| (-120.0..=60.0).contains(&t)));
            }
        }
    }
}

#[test]
fn a_column_that_the_sheet_takes_as_another_is_not_taken_by_its_name() {
    let mut reading = Reading::default();
    reading.columns.insert(
        "height_gpm".to_owned(),
        ColumnSource {
            column: Some("Altitude_m".to_owned()),
            unit: None,
        },
    );
    let csv = b"pressure_hpa,altitude_m\n1000,100\n990,190\n";
    let (raw, _) = read(csv, "x.csv", &reading).unwrap();
    assert_eq!(raw.rows[1].height_gpm, Some(190.0));
    assert_eq!(raw.rows[1].altitude_m, None);
}
