//! Rows of units, lines before the header, names from the sheet, fixed widths.

use super::*;
use approx::assert_abs_diff_eq;

fn reported(findings: &[Finding]) -> Vec<String> {
    findings.iter().map(ToString::to_string).collect()
}

#[test]
fn a_row_of_units_is_used_and_told() {
    let text = "time_s,p,T,ff,note\ns,Pa,K,knots,-\n0,98840,277.35,36,a\n";
    let sheet = reading(&[
        ("pressure_hpa", column("p", "")),
        ("temperature_c", column("T", "")),
        ("wind_speed_ms", column("ff", "")),
    ]);
    let (raw, notes) = read(text.as_bytes(), "x.csv", &sheet).unwrap();
    assert_eq!(raw.rows.len(), 1);
    let row = &raw.rows[0];
    // 98840 Pa = 988.4 hPa; 277.35 − 273.15 = 4.2 °C; 36 kn = 36 · 1852/3600 m/s.
    assert_eq!(row.line, 3);
    assert_eq!(row.pressure_hpa, Some(988.4));
    assert_abs_diff_eq!(row.temperature_c.unwrap(), 4.2, epsilon = 1e-9);
    assert_abs_diff_eq!(row.wind_speed_ms.unwrap(), 18.52, epsilon = 1e-9);
    assert_eq!(
        reported(&notes),
        [
            "info: x.csv:2: the row below the header gives units: time_s in s, pressure_hpa in Pa, temperature_c in K, wind_speed_ms in kt",
            "info: x.csv:1:5: column `note` is not used (give its name under [columns] if it is needed)",
        ]
    );
}

#[test]
fn a_unit_that_contradicts_a_name_or_the_sheet_is_a_warning() {
    let text = b"time_s,temperature_c\ns,K\n0,277.35\n";
    let (raw, notes) = read(text, "x.csv", &Reading::default()).unwrap();
    assert_abs_diff_eq!(raw.rows[0].temperature_c.unwrap(), 4.2, epsilon = 1e-9);
    assert_eq!(
        reported(&notes)[0],
        "warning: x.csv:2:2: the row of units gives K for a column named temperature_c (the row of units is used; give unit under [columns] to override it)"
    );
    let sheet = reading(&[("temperature_c", column("", "°C"))]);
    let (raw, notes) = read(b"time_s,temperature_c\ns,K\n0,4.2\n", "x.csv", &sheet).unwrap();
    assert_eq!(raw.rows[0].temperature_c, Some(4.2));
    assert_eq!(
        reported(&notes)[0],
        "warning: x.csv:2:2: the row of units gives `K` for temperature_c, the sheet °C (the sheet is used)"
    );
    assert_eq!(
        refused("time_s,pressure_hpa,temperature_c\ns,hPa,F\n0,1000,40\n"),
        "x.csv: [columns] temperature_c: unknown unit `F` in the row of units on line 2; it may be °C, K; give unit under [columns] to overrule it"
    );
}

#[test]
fn a_row_of_values_is_no_row_of_units() {
    // Numbers, marks for missing, too few units.
    for row in ["0,1000", "///,///", "K,1000", "0,K"] {
        let text = format!("time_s,pressure_hpa,a,b\n0,1000,a,K\n{row},x,K\n");
        let found = read(text.as_bytes(), "x.csv", &Reading::default());
        match found {
            Ok((raw, notes)) => {
                assert_eq!(raw.rows.len(), 2, "{row}");
                assert!(notes.iter().all(|n| n.code != "units-row"), "{row}");
            }
            Err(error) => assert!(error.to_string().contains("`K`"), "{row}: {error}"),
        }
    }
    assert_eq!(rows("time_s,a,b,c\n,,,K\n0,,,K\n").len(), 2);
    // A unit of 1 beside other units is one.
    let (raw, _) = read(
        b"time_s,humidity_pct,pressure_hpa\ns,1,hPa\n0,0.5,1000\n",
        "x.csv",
        &Reading::default(),
    )
    .unwrap();
    assert_eq!(raw.rows.len(), 1);
    assert_eq!(raw.rows[0].humidity_pct, Some(50.0));
}

#[test]
fn lines_before_the_header_may_hold_anything() {
    let text = b"Station \xb0 7\0\n\nlast one\ntime_s,pressure_hpa\n0,1000\n";
    let below = |skip_lines| Reading {
        skip_lines,
        ..Reading::default()
    };
    let (raw, _) = read(text, "x.csv", &below(3)).unwrap();
    assert_eq!(raw.rows[0].line, 5);
    assert_eq!(
        refused_with(text, &below(0)),
        "x.csv:1: a zero byte at position 12 of the line: the file is binary or UTF-16; delimited text in UTF-8 is expected"
    );
    assert_eq!(
        refused_with(text, &below(9)),
        "x.csv: the file is empty; a header row and rows of numbers are expected"
    );
}

#[test]
fn names_stand_for_a_header_that_is_not_there() {
    let names = |names: &[&str]| Reading {
        names: names.iter().map(|&n| n.to_owned()).collect(),
        ..Reading::default()
    };
    let sheet = names(&["time_s", "pressure_hpa", "temperature_c"]);
    for text in ["0,1000.5,4.2\n", "0;1000,5;4,2\n", "0 1000.5 4.2\n"] {
        let (raw, notes) = read(text.as_bytes(), "x.csv", &sheet).unwrap();
        assert_eq!(notes, []);
        assert_eq!(raw.rows.len(), 1);
        assert_eq!(raw.rows[0].line, 1);
        assert_eq!(raw.rows[0].pressure_hpa, Some(1000.5));
        assert_eq!(raw.rows[0].temperature_c, Some(4.2));
    }
    assert_eq!(
        refused_with("0,1000\n", &sheet),
        "x.csv:1: the row has 2 cells ([text] names has 3)"
    );
    assert!(
        refused_with("0,1000\n", &names(&["a", "b"])).starts_with(
            "x.csv: none of [text] names is known; it has `a`, `b`; give each its name under [columns] (known: time_s,"
        )
    );
}

fn widths(widths: &[usize]) -> Reading {
    Reading {
        widths: widths.to_vec(),
        ..Reading::default()
    }
}

#[test]
fn columns_of_fixed_width_are_cut_by_characters() {
    let sheet = Reading {
        columns: reading(&[
            ("pressure_hpa", column("p", "")),
            ("temperature_c", column("T °C", "")),
        ])
        .columns,
        ..widths(&[6, 7, 6])
    };
    // The header has a character of two octets; the second row lacks p, the
    // third ends before T, the fourth has nothing between its figures.
    let text = "time_s      p  T °C\n     0 1000.5   4.2\n     1          4.1\n     2  999.5\n000003 0999.0 -12.3\n";
    let (raw, notes) = read(text.as_bytes(), "x.txt", &sheet).unwrap();
    assert_eq!(notes, []);
    let found: Vec<_> = (raw.rows.iter())
        .map(|r| (r.time_s, r.pressure_hpa, r.temperature_c))
        .collect();
    assert_eq!(
        found,
        [
            (Some(0.0), Some(1000.5), Some(4.2)),
            (Some(1.0), None, Some(4.1)),
            (Some(2.0), Some(999.5), None),
            (Some(3.0), Some(999.0), Some(-12.3)),
        ]
    );
    // With names the first line is a row.
    let named = Reading {
        names: vec!["time_s".into(), "pressure_hpa".into(), "x".into()],
        ..widths(&[6, 7, 6])
    };
    let (raw, _) = read("     0 1000.5     é\n".as_bytes(), "x.txt", &named).unwrap();
    assert_eq!(raw.rows[0].pressure_hpa, Some(1000.5));
}

#[test]
fn what_does_not_fit_the_widths_is_refused_with_its_place() {
    let two = widths(&[6, 13]);
    assert_eq!(
        refused_with("time_s pressure_hpa\n     0       1000.5  7\n", &two),
        "x.csv:2:3: `7` stands at character 22, after the last width (add its width to [text] widths)"
    );
    assert_eq!(
        refused_with("time_s pressure_hpa x\n     0       1000.5\n", &two),
        "x.csv:1:3: `x` stands at character 21, after the last width (add its width to [text] widths)"
    );
    // Blanks beyond are nothing.
    assert!(
        read(
            b"time_s pressure_hpa  \n     0       1000.5   \n",
            "x",
            &two
        )
        .is_ok()
    );
    assert_eq!(
        refused_with("a\n", &widths(&[6, 0])),
        "x.csv: [text] widths[2] is 0; a column has one character or more"
    );
    let both = Reading {
        delimiter: Some(','),
        ..widths(&[6])
    };
    assert_eq!(
        refused_with("a\n", &both),
        "x.csv: [text] widths and delimiter stand side by side; keep one of them"
    );
    let unequal = Reading {
        names: vec!["time_s".into()],
        ..widths(&[6, 7])
    };
    assert_eq!(
        refused_with("a\n", &unequal),
        "x.csv: [text] names has 1 columns and widths 2; give one of each for every column"
    );
    assert_eq!(
        refused_with("a\n", &widths(&[1; 1001])),
        "x.csv: [text] widths has 1001 columns; at most 1000 are read"
    );
}

#[test]
fn what_the_columns_were_interpreted_as_is_given() {
    let sheet = reading(&[("temperature_c", column("T", "K"))]);
    let text = b"time_s,T,x,station_flags\n0,277.35,7,0\n1,,8,4\n2,270.15,,\n";
    let taken = contents(text, "x.csv", &sheet).unwrap().columns;
    let found: Vec<_> = (taken.iter())
        .map(|t| (t.number, t.ours, t.unit.as_deref(), t.present, t.range))
        .collect();
    use crate::input::By;
    assert_eq!(
        found,
        [
            (
                1,
                Some(("time_s", By::Name)),
                Some("s"),
                3,
                Some((0.0, 2.0))
            ),
            (
                2,
                Some(("temperature_c", By::Sheet)),
                Some("K"),
                2,
                Some((270.15, 277.35))
            ),
            (3, None, None, 0, None),
            (
                4,
                Some(("station_flags", By::Name)),
                None,
                2,
                Some((0.0, 4.0))
            ),
        ]
    );
}
