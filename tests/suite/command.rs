//! The command as a user meets it: texts and exit codes of bad input.

use std::fs;
use std::path::Path;

use crate::support;

fn in_samples(args: &[&str]) -> (i32, String, String) {
    support::run(&support::samples(), args, "")
}

fn run(args: &[&str], input: &str) -> (i32, String, String) {
    support::run(Path::new(env!("CARGO_MANIFEST_DIR")), args, input)
}

const SHEET: &str = "[station]\nwmo_block = 99\nwmo_number = 7\nelevation_m = 10\nlatitude_deg = 50\n[flight]\nrelease = \"2031-01-15T11:23:40Z\"\nstandard_time = \"2031-01-15T12:00:00Z\"\n";
const HEAD: &str =
    "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,wind_dir_deg,wind_speed_ms\n";

/// Runs `encode` on a profile and a sheet: exit code and standard error.
fn encode(profile: &[u8], sheet: &str) -> (i32, String) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("p.csv"), profile).unwrap();
    fs::write(folder.path().join("s.toml"), sheet).unwrap();
    let args = ["encode", "p.csv", "--sheet", "s.toml"];
    let (code, out, errors) = support::run(folder.path(), &args, "");
    assert!(
        code == 0 || out.is_empty(),
        "an output in spite of an error"
    );
    (code, errors)
}

#[test]
fn bad_profiles_are_refused_with_place_and_advice() {
    let cases: &[(&str, Vec<u8>, &str)] = &[
        ("empty", b"".to_vec(), "p.csv: the file is empty"),
        (
            "header only",
            HEAD.into(),
            "there is a header row but no row of numbers below it; give the rows, or set skip_lines or delimiter under [text] if they are not recognized",
        ),
        (
            "NaN",
            format!("{HEAD}0,1000,10,NaN,80,,\n").into(),
            "p.csv:2:4: temperature_c is `NaN` (list it under [text] missing",
        ),
        (
            "inf",
            format!("{HEAD}0,inf,10,1,80,,\n").into(),
            "p.csv:2:2: pressure_hpa is `inf`",
        ),
        (
            "out of range",
            format!("{HEAD}0,1000,10,99,80,,\n").into(),
            "temperature_c is `99` (-120 to 60 °C is allowed)",
        ),
        (
            "cells",
            format!("{HEAD}0,1000,10\n").into(),
            "p.csv:2: the row has 3 cells (the header has 7)",
        ),
        (
            "not UTF-8",
            b"time_s,pressure_hpa\n0,\x81\n".to_vec(),
            "p.csv:2: not UTF-8 at byte 3 of the line; save the file as UTF-8",
        ),
        (
            "binary",
            vec![0, 1, 2, 3, 10, 0, 0],
            "p.csv:1: a zero byte at position 1 of the line: the file is binary",
        ),
        (
            "long line",
            vec![b'x'; 10 << 20],
            "p.csv:1: the line has 10485760 bytes, at most 1048576 are read",
        ),
        (
            "no coordinate",
            format!("{HEAD}0,,,1,80,,\n1,,,1,80,,\n").into(),
            "pressure_hpa and height_gpm (or altitude_m) are missing in every row",
        ),
        (
            "never rises",
            format!("{HEAD}0,1000,10,1,80,,\n1,1000,10,1,80,,\n").into(),
            "the profile never rises",
        ),
        (
            "time back",
            format!("{HEAD}5,1000,10,1,80,,\n4,990,90,1,80,,\n").into(),
            "p.csv:3: time_s is 4, earlier than 5 in a row above",
        ),
        (
            "no temperature",
            format!("{HEAD}0,1000,10,,,90,5\n1,990,90,,,90,5\n2,980,170,,,90,5\n").into(),
            "PILOT is the form for winds alone",
        ),
    ];
    for (name, profile, expected) in cases {
        let (code, stderr) = encode(profile, SHEET);
        assert_eq!(code, 1, "{name}: {stderr}");
        assert!(stderr.contains(expected), "{name}: {stderr}");
    }
}

#[test]
fn bad_sheets_are_refused_with_place_and_advice() {
    let good = format!("{HEAD}0,1000,10,1,80,90,5\n1,990,90,0,80,90,5\n2,980,170,-1,80,90,5\n");
    for (sheet, expected) in [
        (SHEET.replace("= 7\n", "= 1000\n"), "s.toml:3:14:"),
        (
            SHEET.replace("wmo_block", "wmo_blok"),
            "did you mean `wmo_block`?",
        ),
        (
            SHEET.replace("release =", "serial ="),
            "flight.release: missing from the sheet",
        ),
        (
            format!("{SHEET}[columns]\ntemperature_c = {{ unit = \"R\" }}\n"),
            "unknown unit `R`; it may be °C, K",
        ),
    ] {
        let (code, stderr) = encode(good.as_bytes(), &sheet);
        assert_eq!(code, 1, "{stderr}");
        assert!(stderr.contains(expected), "{expected}: {stderr}");
    }
}

#[test]
fn two_rows_and_no_wind_are_not_errors() {
    let rows = format!("{HEAD}0,1000,10,1,80,,\n1,990,90,0,80,,\n2,980,170,-1,80,,\n");
    let (code, stderr) = encode(rows.as_bytes(), SHEET);
    assert_eq!(code, 0, "{stderr}");
    assert!(stderr.contains("no row has a wind"), "{stderr}");
}

#[test]
fn a_missing_file_is_exit_code_3_and_bad_usage_2() {
    let code = |args: &[&str]| run(args, "").0;
    let missing = ["encode", "no-such.csv", "--sheet", "no-such.toml"];
    assert_eq!(code(&missing), 3);
    assert_eq!(code(&["encode"]), 2);
    assert_eq!(code(&["schema", "sheet"]), 0);
}

#[test]
fn the_table_of_levels_gives_every_reason() {
    let (code, table, _) = in_samples(&[
        "levels",
        "gaps.csv",
        "--sheet",
        "gaps.toml",
        "--to",
        "table",
    ]);
    assert_eq!(code, 0);
    insta::assert_snapshot!(table);
}

#[test]
fn findings_come_as_json_lines_and_strict_counts_warnings() {
    let args = [
        "encode",
        "windless.csv",
        "--sheet",
        "windless.toml",
        "--notes",
        "json",
    ];
    let (code, text, stderr) = in_samples(&args);
    assert_eq!((code, text.get(..4)), (0, Some("TTAA")));
    let finding: serde_json::Value = serde_json::from_str(stderr.lines().next().unwrap()).unwrap();
    assert_eq!(finding["code"], "wind-missing");
    let (code, _, _) = in_samples(&[&args[..], &["--strict"]].concat());
    assert_eq!(code, 1);
}

#[test]
fn a_damaged_message_is_refused_by_part_and_group() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("m.txt");
    let head = "TTAA 15111 99011 99004 04430 23006";
    for (text, expected) in [
        ("", "no report could be read"),
        (
            "TTAA 15111=",
            "m.txt:1:6: part A section 1 group 3: the part ends: IIiii is expected",
        ),
        ("TTAA 32111 99011=", "YY is 01 to 31"),
        ("TTAA 15241 99011=", "GG is 00 to 23"),
        (
            &format!("{head} 00119 04251="),
            "the part ends: ddfff is expected",
        ),
        (&format!("{head} 00119 04226 37001="), "dd is 00 to 36"),
        (
            "TTAA 1511/ 99011 99004 04430 23006 88999 77999 00000=",
            "nothing of this form can stand here",
        ),
    ] {
        fs::write(&path, text).unwrap();
        let (code, out, stderr) = in_samples(&["decode", "--strict-parts", path.to_str().unwrap()]);
        assert_eq!((code, out.as_str()), (1, ""), "{text}");
        assert!(stderr.contains(expected), "{text}: {stderr}");
    }
    // What can be read is written, and the exit code says that not all could.
    fs::write(&path, format!("{head} 88999 77999=")).unwrap();
    let (code, out, stderr) = in_samples(&["decode", path.to_str().unwrap()]);
    assert_eq!(
        (code, out),
        (
            1,
            format!("{head} 88999 77999=\n").replace("15111", "1511/")
        )
    );
    assert!(
        stderr.contains("Id does not give the last standard surface with wind"),
        "{stderr}"
    );
    fs::write(&path, format!("{head} 3X999= TTBB 1511/ 99011 NIL=")).unwrap();
    let (code, out, stderr) = in_samples(&["decode", "--strict-parts", path.to_str().unwrap()]);
    assert_eq!(
        (code, out.as_str()),
        (1, "TTBB 1511/ 99011 NIL=\n"),
        "{stderr}"
    );
}

const JET: [&str; 4] = [
    "encode",
    "samples/winter_jet.csv",
    "--sheet",
    "samples/winter_jet.toml",
];

/// JSON, JSON Lines and text are one report: each decodes to the others.
#[test]
fn text_and_json_are_one_report() {
    let encode = |to| {
        let (code, out, _) = run(&[&JET[..], &["--to", to]].concat(), "");
        assert_eq!(code, 0);
        out
    };
    let (text, json, line) = (encode("text"), encode("json"), encode("jsonl"));
    assert_eq!(line.lines().count(), 1);
    for form in [&text, &json, &line] {
        assert_eq!(
            run(&["decode", "-"], form),
            (0, text.clone(), String::new())
        );
    }
    // A document read and written keeps everything, and so does a line.
    assert_eq!(run(&["decode", "-", "--to", "json"], &line).1, json);
    assert_eq!(run(&["decode", "-", "--to", "jsonl"], &json).1, line);
    // `levels` gives the same document, with its levels counted.
    let args = [&["levels"], &JET[1..], &["--to", "json"]].concat();
    let counted = support::without_counts(&run(&args, "").1);
    assert_eq!(
        counted,
        serde_json::from_str::<serde_json::Value>(&json).unwrap()
    );
    // Two reports in a file are two messages.
    let two = run(&["decode", "-"], &(line.clone() + &line)).1;
    assert_eq!(two, format!("{text}\n{text}"));
    let table = run(&["decode", "-", "--to", "table"], &text).1;
    assert!(table.lines().count() > 20 && table.contains("sig_wind"));
}

#[test]
fn json_that_is_no_report_is_refused_with_its_place() {
    let json = run(&[&JET[..], &["--to", "json"]].concat(), "").1;
    let cases = [
        (
            json.replace("\"tropopause\"", "\"pause\""),
            "`pause` is no role of a level",
        ),
        (
            json.replace("\"levels\"", "\"level\""),
            "unknown field `level`",
        ),
        (
            json.replace("report 1", "report 9"),
            "`fivefig report 1` is expected",
        ),
        (
            json.replacen("1004.3", "\"x\"", 1),
            "invalid type: string \"x\", expected f64",
        ),
        (json.get(..4000).unwrap().to_owned(), "EOF while parsing"),
        (
            json.replace("\"wind_speed_ms\": 6.", "\"wind_speed_ms\": -6."),
            "wind_speed_ms is -6.",
        ),
        ("{}".to_owned(), "report 1: `when` is missing"),
    ];
    for (text, expected) in cases {
        assert_ne!(text, json, "{expected}: the case changes nothing");
        let (code, out, stderr) = run(&["decode", "-"], &text);
        assert_eq!((code, out.as_str()), (1, ""), "{expected}: {stderr}");
        assert!(
            stderr.starts_with("fivefig: error: -: ") && stderr.contains(expected),
            "{stderr}"
        );
    }
    // Groups that the values do not give are reported; values win.
    let text = run(&JET, "").1;
    let (code, out, stderr) = run(
        &["decode", "-"],
        &json.replacen("\"99004\"", "\"99005\"", 1),
    );
    assert_eq!((code, out), (0, text));
    assert_eq!(stderr, "", "groups beside a level are for the eye");
    let changed = json.replace("\"99004\"", "\"99005\"");
    let stderr = run(&["decode", "-"], &changed).2;
    assert_eq!(
        stderr,
        "fivefig: warning: part A group 4: the group in the document is `99005`, the values give `99004` (the values are used)\nfivefig: 1 warning\n"
    );
}

#[test]
fn the_schemas_are_printed() {
    for (of, title) in [("sheet", "sheet"), ("report", "report")] {
        let (code, out, _) = run(&["schema", of], "");
        let schema: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!((code, schema["title"].as_str()), (0, Some(title)));
        assert!(schema["$schema"].as_str().unwrap().contains("2020-12"));
    }
}

/// Orders stand in the table, in JSON and among the findings.
#[test]
fn orders_show_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = format!(
        "{SHEET}[[level]]\naction = \"force\"\npressure_hpa = 900\nreason = \"cloud top\"\n\
         [[withhold]]\nelement = \"humidity\"\nfrom_hpa = 880\nto_hpa = 860\nreason = \"icing\"\n\
         [[doubtful]]\nelement = \"temperature\"\nfrom_hpa = 850\nto_hpa = 840\nreason = \"jumps\"\n"
    );
    let mut rows = HEAD.to_owned();
    for k in 0..40 {
        let (p, z) = (1000 - 5 * k, 10 + 42 * k);
        rows.push_str(&format!("{k},{p},{z},{},70,250,8\n", 15 - k / 4));
    }
    fs::write(folder.path().join("p.csv"), rows).unwrap();
    fs::write(folder.path().join("s.toml"), sheet).unwrap();
    let run = |args: &[&str]| {
        let args = [args, &["p.csv", "--sheet", "s.toml"]].concat();
        let (code, out, errors) = support::run(folder.path(), &args, "");
        assert_eq!(code, 0, "{errors}");
        (out, errors)
    };
    let (table, reported) = run(&["levels"]);
    for line in [
        "ordered: level at 900 hPa in: cloud top",
        "ordered: humidity withheld from 880 to 860 hPa: icing",
        "ordered: temperature doubtful from 850 to 840 hPa: jumps",
    ] {
        assert!(table.contains(line), "{table}");
    }
    assert!(
        reported.contains("is added by order: cloud top") && reported.contains("withheld"),
        "{reported}"
    );
    let (json, _) = run(&["encode", "--to", "json"]);
    for word in ["\"force\"", "\"icing\"", "\"doubtful\""] {
        assert!(json.contains(word), "{word}");
    }
}

#[test]
fn other_forms_by_the_command() {
    let run = |args: &[&str]| run(args, "");
    let (csv, toml) = ("samples/winter_jet.csv", "samples/winter_jet.toml");
    let (code, out, _) = run(&["encode", csv, "--sheet", toml, "--up-to", "100", "-q"]);
    assert_eq!((code, out.matches('=').count()), (0, 2));
    let args = [
        "encode", csv, "--sheet", toml, "--to", "bulletin", "--bbb", "RRB", "-q",
    ];
    let (code, out, _) = run(&args);
    assert_eq!(code, 0);
    assert!(
        out.starts_with("USXX01 XXXX 151200 RRB\r\r\nTTAA 15111 "),
        "{out}"
    );
    let (code, out, _) = run(&["nil", "--sheet", toml]);
    assert_eq!(code, 0);
    assert!(out.starts_with("TTAA 1512/ 99011 NIL=\n"), "{out}");
    let (code, _, stderr) = run(&[
        "encode", csv, "--sheet", toml, "--to", "bulletin", "--bbb", "COR",
    ]);
    assert_eq!(code, 2);
    assert!(stderr.contains("RRA to RRX"), "{stderr}");
    let low = [
        "encode",
        "samples/low_burst.csv",
        "--sheet",
        "samples/low_burst.toml",
    ];
    let (code, out, stderr) = run(&[&low[..], &["--up-to", "100"]].concat());
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(stderr.contains("has not reached 100 hPa"), "{stderr}");
    let (code, _, stderr) = run(&[
        "encode",
        "samples/windless.csv",
        "--sheet",
        "samples/windless.toml",
        "--form",
        "pilot",
    ]);
    assert_eq!(code, 1);
    assert!(stderr.contains("no row has a wind"), "{stderr}");
    let (code, _, stderr) = run(&[
        "encode",
        "samples/drop.csv",
        "--sheet",
        "samples/drop.toml",
        "--form",
        "pilot",
    ]);
    assert_eq!(code, 1);
    assert!(stderr.contains("no PILOT form for dropsondes"), "{stderr}");
}

#[test]
fn messages_are_compared_in_any_two_forms() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let jet = [
        "encode",
        "samples/winter_jet.csv",
        "--sheet",
        "samples/winter_jet.toml",
        "-q",
    ];
    let text = run(&jet, "").1;
    let json = run(&[&jet[..], &["--to", "json"]].concat(), "").1;
    fs::write(path("m.txt"), &text).unwrap();
    fs::write(path("m.json"), &json).unwrap();
    let (code, out, _) = run(&["compare", &path("m.txt"), &path("m.json")], "");
    assert_eq!((code, out.as_str()), (0, ""));
    let changed = text.replacen("85421 01756", "85421 02156", 1);
    fs::write(path("n.txt"), &changed).unwrap();
    let (code, out, _) = run(&["compare", &path("m.txt"), &path("n.txt")], "");
    assert_eq!(code, 1);
    assert_eq!(
        out,
        "temperature at 850 hPa (standard): -1.7 °C on the left, -2.1 °C on the right\n"
    );
    let args = ["compare", &path("m.txt"), &path("n.txt"), "--to", "json"];
    let value: serde_json::Value = serde_json::from_str(&run(&args, "").1).unwrap();
    assert_eq!(value["differences"][0]["quantity"], "temperature");
    // A wider tolerance, and a key that is none.
    fs::write(path("t.toml"), "temperature_k = 0.5\n").unwrap();
    let args = [
        "compare",
        &path("m.txt"),
        &path("n.txt"),
        "--tolerance",
        &path("t.toml"),
    ];
    assert_eq!(run(&args, "").0, 0);
    fs::write(path("t.toml"), "temperature_c = 0.5\n").unwrap();
    let (code, _, stderr) = run(&args, "");
    assert!(
        code == 1 && stderr.contains("unknown key `temperature_c`"),
        "{stderr}"
    );
    // A message with its profile.
    let profile = [
        "samples/winter_jet.csv",
        "--sheet",
        "samples/winter_jet.toml",
    ];
    let (code, out, _) = run(&[&["compare", &path("m.txt")], &profile[..]].concat(), "");
    assert!(
        code == 0 && out.contains("fidelity of the significant levels"),
        "{out}"
    );
    // Its form is the message's, so winds alone need no word about it.
    let pilot = ["samples/pilot.csv", "--sheet", "samples/pilot.toml"];
    let asked = ["--form", "pilot", "-o", &path("p.txt")];
    assert_eq!(run(&[&["encode"], &pilot[..], &asked].concat(), "").0, 0);
    let (code, out, _) = run(&[&["compare", &path("p.txt")], &pilot[..]].concat(), "");
    assert!(code == 0 && out.contains("wind direction"), "{out}");
    let more = text
        .replacen("11673 25518 22441", "11673 25518 22600 26022 33441", 1)
        .replacen(
            "33362 27028 44262 28064 55155",
            "44362 27028 55262 28064 66155",
            1,
        )
        .replacen("29529 66100 30016", "29529 77100 30016", 1)
        .replacen("88280 53957", "88290 53957", 1);
    fs::write(path("n.txt"), more).unwrap();
    let (code, out, _) = run(&[&["compare", &path("n.txt")], &profile[..]].concat(), "");
    assert_eq!(code, 1);
    for line in [
        "the level at 290 hPa (tropopause) of Part A is missing on the right",
        "the level at 279.7 hPa (tropopause) of Part A is missing on the left",
        "the level at 600 hPa (sig_wind) is not required by 35.3.2",
    ] {
        assert!(out.contains(line), "{out}");
    }
}

#[test]
fn a_correction_holds_the_parts_that_changed() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let toml = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let changed = toml.replace("temperature_c = 4.5", "temperature_c = 4.9");
    assert_ne!(changed, toml);
    fs::write(path("now.toml"), changed).unwrap();
    let encode = |sheet: &str, more: &[&str]| {
        let args = ["encode", "samples/winter_jet.csv", "--sheet", sheet, "-q"];
        run(&[&args[..], more].concat(), "")
    };
    let sent = encode("samples/winter_jet.toml", &["--to", "bulletin"]).1;
    fs::write(path("was.txt"), &sent).unwrap();
    let (code, out, stderr) = encode(
        &path("now.toml"),
        &[
            "--to",
            "bulletin",
            "--correct",
            "CCA",
            "--was",
            &path("was.txt"),
        ],
    );
    assert_eq!(code, 0, "{stderr}");
    assert!(out.starts_with("USXX01 XXXX 151200 CCA\r\r\nTTAA"), "{out}");
    assert!(out.contains("TTBB") && !out.contains("TTCC"), "{out}");
    assert!(
        stderr.contains("corrected: temperature at 1004 hPa"),
        "{stderr}"
    );
    // The letter goes on; nothing changed is refused.
    fs::write(path("cca.txt"), &out).unwrap();
    let late = ["--correct", "CCA", "--was", &path("cca.txt")];
    let (code, _, stderr) = encode("samples/winter_jet.toml", &late);
    assert!(
        code == 1 && stderr.contains("the next correction is CCB"),
        "{stderr}"
    );
    let same = ["--correct", "CCA", "--was", &path("was.txt")];
    let (code, out, stderr) = encode("samples/winter_jet.toml", &same);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(stderr.contains("nothing has changed"), "{stderr}");
}

#[test]
fn messages_and_profiles_are_checked() {
    let jet = [
        "encode",
        "samples/winter_jet.csv",
        "--sheet",
        "samples/winter_jet.toml",
        "-q",
    ];
    let text = run(&jet, "").1;
    let (code, out, stderr) = run(&["check", "-"], &text);
    assert_eq!((code, out.as_str()), (0, ""));
    assert!(stderr.contains("1 report, 0 errors"), "{stderr}");
    let slip = text.replacen("44441 30756", "44441 30656", 1);
    assert_ne!(slip, text);
    let (code, out, _) = run(&["check", "-"], &slip);
    assert_eq!(code, 1);
    assert!(
        out.contains("error: -:8:1: part B section 5 group 12: 441 hPa:"),
        "{out}"
    );
    let (code, out, _) = run(&["check", "-", "--notes", "json"], &slip);
    assert_eq!(code, 1);
    let codes: Vec<serde_json::Value> = out
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap()["code"].clone())
        .collect();
    assert!(codes.contains(&"sign-slip".into()), "{codes:?}");
    let profile = [
        "check",
        "samples/winter_jet.csv",
        "--sheet",
        "samples/winter_jet.toml",
    ];
    let (code, out, _) = run(&profile, "");
    assert_eq!(code, 0);
    assert!(out.ends_with("before release: go\n"), "{out}");
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("list.csv");
    fs::write(
        &list,
        "block,station number,latitude,longitude,elevation\n99,11,51.26,-3.4,84\n",
    )
    .unwrap();
    let listed = [&profile[..], &["--station-list", list.to_str().unwrap()]].concat();
    let (_, out, _) = run(&listed, "");
    assert!(
        out.contains("latitude_deg is 51.25° in the sheet and 51.26° in the record of the station"),
        "{out}"
    );
}

#[test]
fn a_profile_is_made_of_one_message() {
    let jet = [
        "encode",
        "samples/winter_jet.csv",
        "--sheet",
        "samples/winter_jet.toml",
        "-q",
    ];
    let text = run(&jet, "").1;
    let (code, out, _) = run(&["decode", "-", "--to", "profile"], &text);
    assert_eq!(code, 0);
    assert!(
        out.starts_with("# the levels of a message, not a measured profile: 99011"),
        "{out}"
    );
    let two = format!("{text}{}", text.replace("99011", "99012"));
    let (code, out, stderr) = run(&["decode", "-", "--to", "profile"], &two);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(
        stderr.contains("written from one report, and there are 2"),
        "{stderr}"
    );
}

/// `--to wis2`: file and notification in a folder, the topic and the notification's
/// path on standard output.
#[test]
fn a_file_is_shared_in_a_folder_and_nothing_is_sent() {
    let folder = tempfile::tempdir().unwrap();
    let within = |name: &str| folder.path().join(name);
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/");
    let profile = format!("{samples}winter_jet.csv");
    let station = format!("{samples}winter_jet.toml");
    let sheet = "[station]\nwigos_id = \"0-20000-0-99011\"\n[wis2]\ncentre_id = \"xx-invented\"\nbase_url = \"https://data.example.org\"\n";
    fs::write(within("s.toml"), sheet).unwrap();
    fs::create_dir(within("out")).unwrap();
    let run = |args: &[&str]| support::run(folder.path(), args, "");
    let encode = [
        "encode", &profile, "--sheet", &station, "--sheet", "s.toml", "-q",
    ];
    let share = [
        &encode[..],
        &["--levels", "chosen", "--to", "wis2", "-o", "out"],
    ]
    .concat();
    let (code, _, reported) = run(&share);
    assert_eq!(code, 2);
    assert!(
        reported.contains("--pubtime 2031-01-15T13:05:00Z"),
        "{reported}"
    );
    let share = [&share[..], &["--pubtime", "2031-01-15T13:05:00Z"]].concat();
    let (code, line, reported) = run(&share);
    assert_eq!((code, reported.as_str()), (0, ""));
    let stem = "out/0-20000-0-99011_20310115T120000Z_temp_whole";
    assert_eq!(
        line,
        format!(
            "origin/a/wis2/xx-invented/data/core/weather/surface-based-observations/temp {stem}.json\n"
        )
    );
    let bufr = fs::read(within(&format!("{stem}.bufr"))).unwrap();
    assert!(bufr.starts_with(b"BUFR") && bufr.ends_with(b"7777"));
    let text = fs::read_to_string(within(&format!("{stem}.json"))).unwrap();
    let message: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(message["properties"]["content"]["size"], bufr.len());
    assert_eq!(message["links"][0]["length"], bufr.len());
    assert_eq!(message["links"][0]["rel"], "canonical");
    // The file is what --to bufr writes.
    let same = [
        &encode[..],
        &["--levels", "chosen", "--to", "bufr", "-o", "m.bufr"],
    ]
    .concat();
    assert_eq!(run(&same).0, 0);
    assert_eq!(fs::read(within("m.bufr")).unwrap(), bufr);
    // Another file under the same name is refused, and nothing is touched.
    let other = [
        &encode[..],
        &[
            "--to",
            "wis2",
            "-o",
            "out",
            "--pubtime",
            "2031-01-15T13:05:00Z",
        ],
    ]
    .concat();
    let (code, line, reported) = run(&other);
    assert_eq!((code, line.as_str()), (1, ""));
    assert!(
        reported.contains("nothing shared is written over"),
        "{reported}"
    );
    assert_eq!(fs::read(within(&format!("{stem}.bufr"))).unwrap(), bufr);
    let (code, _, reported) = run(&[&encode[..], &["--pubtime", "2031-01-15T13:05:00Z"]].concat());
    assert_eq!(code, 2);
    assert!(
        reported.contains("--pubtime is for --to wis2"),
        "{reported}"
    );
}

/// A clean flight reports nothing; details come with -v, and nothing is in colour where
/// standard error is no terminal.
#[test]
fn a_clean_flight_has_no_finding_to_report() {
    let (code, text, stderr) =
        in_samples(&["encode", "winter_jet.csv", "--sheet", "winter_jet.toml"]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    let verbose = [
        "encode",
        "winter_jet.csv",
        "--sheet",
        "winter_jet.toml",
        "-v",
    ];
    let (code, same, stderr) = in_samples(&verbose);
    assert_eq!((code, same), (0, text));
    assert!(
        stderr.contains("computed: 4979 rows with dewpoint_c"),
        "{stderr}"
    );
    assert!(!stderr.contains('\u{1b}'), "{stderr}");
}

/// By hand: a profile is no message, so each of its words is a warning; ten are shown, then
/// one line for the others, the sum and the error.
#[test]
fn findings_of_a_kind_are_summed_up() {
    let pair = ["compare", "winter_jet.csv", "winter_jet.csv"];
    let (code, out, stderr) = in_samples(&pair);
    assert_eq!((code, out.as_str()), (1, ""));
    assert_eq!(
        stderr.matches("belongs to no report").count(),
        10,
        "{stderr}"
    );
    assert_eq!(stderr.lines().count(), 13, "{stderr}");
    let (_, _, all) = in_samples(&[&pair[..], &["-v"]].concat());
    let count = all.matches("belongs to no report").count();
    let more = format!("{} more findings", count - 10);
    assert!(count > 4000 && stderr.contains(&more), "{count}: {stderr}");
    assert!(
        stderr.contains(&format!("fivefig: {count} warnings\n")),
        "{stderr}"
    );
    let (_, _, quiet) = in_samples(&[&pair[..], &["--quiet"]].concat());
    assert!(
        quiet.starts_with("fivefig: error: ") && quiet.lines().count() == 1,
        "{quiet}"
    );
}

/// Of a folder the profiles are coded; the other files are named once.
#[test]
fn files_of_other_kinds_are_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    for name in ["ship.csv", "ship.toml", "pilot.svg"] {
        let from = format!("{}/samples/{name}", env!("CARGO_MANIFEST_DIR"));
        fs::copy(from, at(name)).unwrap();
    }
    fs::write(at("notes.service"), "[Unit]\n").unwrap();
    let (code, text, notes) = support::run(folder.path(), &["encode", "."], "");
    assert_eq!(code, 0, "{notes}");
    assert!(text.starts_with("UUAA"), "{text}");
    assert!(
        notes.contains("notes.service and 1 more left out"),
        "{notes}"
    );
    assert_eq!(
        support::run(folder.path(), &["encode", "pilot.svg"], "").0,
        1
    );
}
