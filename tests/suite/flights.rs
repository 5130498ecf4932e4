//! Flights in JSON Lines, and the rows of a profile written again.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{path as sample, run};

/// A sample as a line of flights.
fn line(at: &Path, name: &str) -> String {
    let (csv, toml) = (
        sample(&format!("{name}.csv")),
        sample(&format!("{name}.toml")),
    );
    let args = ["profile", &csv, "--sheet", &toml, "--to", "jsonl"];
    let (code, line, stderr) = run(at, &args, "");
    assert_eq!((code, stderr.as_str()), (0, ""));
    line
}

#[test]
fn rows_written_again_give_the_same_message() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for name in ["winter_jet", "drop", "gaps"] {
        let (csv, toml) = (
            sample(&format!("{name}.csv")),
            sample(&format!("{name}.toml")),
        );
        let (_, message, _) = run(at, &["encode", "-q", &csv, "--sheet", &toml], "");
        assert!(
            message.starts_with("TT") || message.starts_with("XX"),
            "{message}"
        );
        let (code, rows, stderr) = run(at, &["profile", &csv], "");
        assert_eq!((code, stderr.as_str()), (0, ""), "{name}");
        let (_, again, _) = run(at, &["encode", "-q", "-", "--sheet", &toml], &rows);
        assert_eq!(again, message, "{name}");
        // The line needs no sheet.
        let line = line(at, name);
        let (code, again, stderr) = run(at, &["encode", "-q", "-"], &line);
        assert_eq!((code, again), (0, message), "{stderr}");
        let (_, twice, _) = run(at, &["profile", "-", "--to", "jsonl"], &line);
        assert_eq!(twice, line);
    }
}

#[test]
fn a_line_comes_out_for_every_flight() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let good = line(at, "winter_jet");
    let bad = r#"{"id": "B", "columns": {"pressure_hpa": [1000, 990], "temperature_c": [1, "x"]}}"#;
    let late = r#"{"id": "C", "columns": {"pressure_hpa": [1000, 990], "temperature_c": [1, 0]}}"#;
    let flights = format!("{good}{bad}\nnot json\n\n{late}\n{}", line(at, "drop"));
    let (code, out, stderr) = run(at, &["encode", "-", "--to", "jsonl"], &flights);
    assert_eq!(code, 1);
    let lines: Vec<Value> = out
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    let ids: Vec<Option<&str>> = lines.iter().map(|l| l["id"].as_str()).collect();
    assert_eq!(
        ids,
        [Some("winter_jet"), Some("B"), None, Some("C"), Some("drop")]
    );
    assert_eq!(
        lines[1]["error"],
        "-:2: flight `B`: columns.temperature_c[2] is a text (a number or null is expected)"
    );
    assert!(
        lines[2]["error"]
            .as_str()
            .unwrap()
            .starts_with("-:3: expected ")
    );
    assert!(
        lines[3]["error"]
            .as_str()
            .unwrap()
            .contains("-:5: flight `C`: missing key `flight.release`: no sheet gives it"),
        "{}",
        lines[3]
    );
    assert_eq!(lines[1].get("report"), None);
    assert_eq!(lines[0].get("error"), None);
    assert_eq!(
        stderr.matches("fivefig: error: ").count(),
        2 + lines[3]["error"].as_str().unwrap().lines().count(),
        "{stderr}"
    );
    // The report is the one of the same flight alone.
    let (csv, toml) = (sample("winter_jet.csv"), sample("winter_jet.toml"));
    let args = ["encode", "-q", &csv, "--sheet", &toml, "--to", "jsonl"];
    let (_, alone, _) = run(at, &args, "");
    let alone: Value = serde_json::from_str(&alone).unwrap();
    for key in ["groups", "levels", "station", "flight", "fidelity"] {
        assert_eq!(lines[0]["report"][key], alone[key], "{key}");
    }
    // The same from a file, into a file; the last line has no end.
    fs::write(at.join("f.jsonl"), flights.trim_end()).unwrap();
    let args = ["encode", "f.jsonl", "--to", "jsonl", "-o", "out.jsonl"];
    let (code, nothing, _) = run(at, &args, "");
    assert_eq!((code, nothing.as_str()), (1, ""));
    let filed = fs::read_to_string(at.join("out.jsonl")).unwrap();
    assert_eq!(filed.lines().count(), 5);
    let first = |text: &str| serde_json::from_str::<Value>(text.lines().next().unwrap()).unwrap();
    assert_eq!(
        first(&filed)["report"]["groups"],
        first(&out)["report"]["groups"]
    );
    // One of them.
    let args = ["encode", "-q", "f.jsonl", "--message", "1"];
    let (code, message, _) = run(at, &args, "");
    assert_eq!(code, 0);
    assert!(message.starts_with("TTAA 15111 99011"), "{message}");
    let (code, _, stderr) = run(at, &["encode", "f.jsonl"], "");
    assert_eq!(code, 1);
    assert_eq!(
        stderr,
        "fivefig: error: f.jsonl: there are 5 flights; give the number of one, 1 to 5\nfivefig: error: --message N gives it; encode --to jsonl codes all flights of JSON Lines\n"
    );
    // All good is exit code 0, and a warning counts under --strict.
    let (code, out, stderr) = run(at, &["encode", "-", "--to", "jsonl"], &good);
    assert_eq!((code, out.lines().count(), stderr.as_str()), (0, 1, ""));
    let warned = good.replace("11:23:40", "09:23:40");
    assert_ne!(warned, good);
    let (code, _, _) = run(at, &["encode", "-", "--to", "jsonl", "--strict"], &warned);
    assert_eq!(code, 1);
}

#[test]
fn a_station_file_is_written_as_rows() {
    let station = "\
#ZZM00099007 2031 01 15 12 1123    3 invented invented  512500   -34000
21     0 100430B   84B   45B  810    31   230    61
10   255  92500B  748B    3B  720 -9999   225   120
10   510  85000B 1420B  -42B  705 -9999   235   155
";
    let folder = tempfile::tempdir().unwrap();
    let (code, rows, _) = run(folder.path(), &["profile", "-"], station);
    assert_eq!(code, 0);
    // Surface 131072 and standard level 65536 (flag table 0 08 042).
    assert_eq!(
        rows,
        "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,dewpoint_c,wind_dir_deg,wind_speed_ms,station_flags\n\
         0,1004.3,84,4.5,81,1.4,230,6.1,131072\n\
         175,925,748,0.3,72,,225,12,65536\n\
         310,850,1420,-4.2,70.5,,235,15.5,65536\n"
    );
    let args = ["profile", "-", "--to", "jsonl"];
    let (_, line, _) = run(folder.path(), &args, station);
    let (code, message, stderr) = run(folder.path(), &["encode", "-q", "-"], &line);
    assert_eq!(code, 0, "{stderr}");
    // Id 8: 850 hPa is the highest standard surface, and its wind is given.
    assert!(
        message.starts_with("TTAA 15118 99007 99004 04431 23006"),
        "{message}"
    );
}

#[test]
fn the_schema_of_a_flight_is_printed() {
    let folder = tempfile::tempdir().unwrap();
    let (code, text, _) = run(folder.path(), &["schema", "flight"], "");
    assert_eq!(code, 0);
    let schema: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    let validator = jsonschema::validator_for(&schema).unwrap();
    let line: Value = serde_json::from_str(&line(folder.path(), "drop")).unwrap();
    let errors: Vec<String> = validator
        .iter_errors(&line)
        .map(|e| e.to_string())
        .collect();
    assert_eq!(errors, Vec::<String>::new());
}
