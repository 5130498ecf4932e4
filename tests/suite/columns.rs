//! `columns`: what is shown of a file, and that it reads the file when pasted.

use std::fs;

use crate::support;

fn run(folder: &std::path::Path, args: &[&str]) -> (i32, String, String) {
    support::run(folder, args, "")
}

/// Invented rows under names that are not ours; a humidity as a fraction, a
/// temperature in K with a mark for missing.
const PROFILE: &str = "Time [s];Pres;Temp;RelHum;\"Wind; \"\"Speed\"\"_kt\";Dir;Alt (m);batt
0;1004,3;277,65;0.81;12;230;84;3.1
1;1003,7;277,6;0.82;13;231;89;3.1
2;1003,1;-999;0.83;13;231;94;
3;1002,5;277,5;0.84;14;232;99;3.1
";
const SHEET: &str = "[station]\nwmo_block = 99\nwmo_number = 7\nelevation_m = 84\nlatitude_deg = 50\n[flight]\nrelease = \"2031-01-15T11:23:40Z\"\nstandard_time = \"2031-01-15T12:00:00Z\"\n";

#[test]
fn what_columns_shows_is_a_sheet_that_reads_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("p.txt"), PROFILE).unwrap();
    fs::write(at.join("s.toml"), SHEET).unwrap();
    // Not before the sheet says so: the guess is shown and not used.
    let (code, product, stderr) = run(at, &["encode", "p.txt", "--sheet", "s.toml"]);
    assert_eq!((code, product.as_str()), (1, ""));
    assert!(stderr.contains("run `fivefig columns p.txt`"), "{stderr}");

    let (code, shown, stderr) = run(at, &["columns", "p.txt"]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    insta::assert_snapshot!(shown);
    let paste = shown.split_once("\n\n").unwrap().1;
    fs::write(at.join("c.toml"), paste).unwrap();
    let args = [
        "encode", "-q", "p.txt", "--sheet", "s.toml", "--sheet", "c.toml",
    ];
    let (code, message, stderr) = run(at, &args);
    assert_eq!(code, 0, "{stderr}");
    // 1004.3 hPa, 277.65 K = 4.5 °C, 230°, 12 kn = 6.2 m/s, by the groups of
    // section 2 of FM 35: 99PPP TTTaDD ddfff.
    assert!(message.contains(" 99004 044"), "{message}");
    assert!(message.contains(" 23006 "), "{message}");

    let (code, json, _) = run(at, &["columns", "p.txt", "--to", "json"]);
    assert_eq!(code, 0);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["rows"], 4);
    assert_eq!(json["columns"][2]["ours"], "temperature_c");
    assert_eq!(json["columns"][2]["known_by"], "guess");
    assert_eq!(json["columns"][2]["unit"], "K");
    assert_eq!(json["columns"][2]["rows"], 3);
    assert_eq!(json["columns"][2]["least"], 277.5);
    assert_eq!(json["columns"][7]["ours"], serde_json::Value::Null);
    let sheet = json["sheet"].as_str().unwrap();
    assert!(paste.ends_with(sheet), "{sheet}");
    // With the sheet it is known and no more a guess.
    let args = ["columns", "p.txt", "--sheet", "c.toml", "--to", "json"];
    let (_, json, _) = run(at, &args);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["columns"][2]["known_by"], "sheet");
    assert!(json["columns"][2]["rows"] == 3, "{json}");
}

#[test]
fn a_file_without_a_header_gets_names() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let rows = PROFILE.split_once('\n').unwrap().1;
    fs::write(at.join("p.txt"), rows).unwrap();
    let (code, shown, stderr) = run(at, &["columns", "p.txt"]);
    assert_eq!(code, 0);
    assert_eq!(
        stderr,
        "fivefig: info: p.txt: the first row has numbers only: the file is read without a header row\n"
    );
    assert!(shown.contains("names = [\"column_1\", "), "{shown}");
    assert!(
        shown.contains("time_s = { column = \"column_1\" }"),
        "{shown}"
    );
}

#[test]
fn a_column_that_is_likely_and_not_used_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let rows =
        "time_s,pressure_hpa,temperature_c,RH,v\n0,1000,4,80,1\n1,999,4,80,1\n2,998,4,80,1\n";
    fs::write(at.join("p.csv"), rows).unwrap();
    fs::write(at.join("s.toml"), SHEET).unwrap();
    let (code, _, stderr) = run(at, &["encode", "p.csv", "--sheet", "s.toml"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(
        stderr.contains("info: p.csv:1: not used, but `RH` like humidity_pct, `v` like wind_v_ms (give them under [columns] if they are these quantities)\nfivefig: run `fivefig columns p.csv`"),
        "{stderr}"
    );
}

#[test]
fn bufr_needs_no_columns() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let sample = |name: &str| format!("{}/samples/{name}", env!("CARGO_MANIFEST_DIR"));
    let (csv, toml) = (sample("drop.csv"), sample("drop.toml"));
    let (code, _, stderr) = run(
        at,
        &[
            "encode", "-q", &csv, "--sheet", &toml, "--to", "bufr", "-o", "x.bufr",
        ],
    );
    assert_eq!(code, 0, "{stderr}");
    let (code, shown, _) = run(at, &["columns", "x.bufr"]);
    assert_eq!(code, 0);
    assert_eq!(
        shown,
        "# x.bufr: every element of this format has a fixed meaning; nothing needs to be mapped\n"
    );
    let (code, _, stderr) = run(at, &["columns", "nothing.csv"]);
    assert_eq!(code, 3, "{stderr}");
}

#[test]
fn what_a_sheet_says_of_text_is_held_to_its_bounds() {
    use fivefig::input::sheet::{Source, reading};
    let of = |text: &str| {
        reading(&[Source {
            name: "s.toml",
            text,
        }])
    };
    let good = "[text]\nskip_lines = 3\nnames = [\"time_s\", \"P\"]\nwidths = [8, 10000]\n";
    let found = of(good).unwrap();
    assert_eq!(found.skip_lines, 3);
    assert_eq!(found.names, ["time_s", "P"]);
    assert_eq!(found.widths, [8, 10000]);
    for (from, to, reported) in [
        (
            "3",
            "-1",
            "s.toml:2:14: `text.skip_lines` = -1 is out of range (0 to 100000)",
        ),
        (
            "[8, 10000]",
            "[8, 0]",
            "s.toml:4:14: `text.widths[2]` = 0 is out of range (1 to 10000)",
        ),
        (
            "[8, 10000]",
            "[8, 2.5]",
            "s.toml:4:14: `text.widths[2]` is a number with a point; an integer is expected",
        ),
        (
            "\"P\"",
            "7",
            "s.toml:3:20: `text.names[2]` is an integer; a string is expected",
        ),
        (
            "widths",
            "width",
            "s.toml:4:1: unknown key `width` in [text] (did you mean `widths`?)",
        ),
    ] {
        let errors = of(&good.replacen(from, to, 1)).unwrap_err();
        assert_eq!(errors.faults().len(), 1);
        assert_eq!(errors.to_string(), reported);
    }
}
