//! `init`: from an unknown file to the first message, and `check` of a sheet alone.

use std::fs;
use std::path::Path;

use crate::support;

fn run(folder: &Path, args: &[&str]) -> (i32, String, String) {
    support::run(folder, args, "")
}

/// Invented: names of no standard, decimal commas, a clock that runs over midnight, the
/// position in the rows. Windows-1252 where it is written.
fn unknown() -> Vec<u8> {
    let mut text = String::from(
        "Flugnummer 7\nDatum;Uhrzeit;Luftdruck [hPa];Höhe [m];Temperatur [°C];rel. Feuchte [%];Windrichtung [Grad];Windgeschwindigkeit [Knoten];Breite;Länge\n",
    )
    .split_off("Flugnummer 7\n".len());
    // 5 m/s from 1000 to 300 hPa in an air that is as dry as it is steady.
    for i in 0..1800_u32 {
        let second = 23 * 3600 + 59 * 60 + 30 + i;
        let clock = second % 86_400;
        let height = 84.0 + 5.0 * f64::from(i);
        // The scale height of an atmosphere of 250 K or so, 7.4 km: for trying only.
        let pressure = 1004.3 * (-(height - 84.0) / 7400.0).exp();
        let row = format!(
            "{:02}.01.2031;{:02}:{:02}:{:02};{pressure:.1};{height:.0};{:.1};50;230;10;51.25;-3.4\n",
            15 + second / 86_400,
            clock / 3600,
            clock / 60 % 60,
            clock % 60,
            4.5 - 0.0065 * (height - 84.0),
        );
        text.push_str(&row.replace('.', ","));
    }
    // The dates are written with points.
    let text = text.replace(",01,2031", ".01.2031");
    let one = |c: char| u8::try_from(u32::from(c)).expect("a letter of Latin-1");
    text.chars().map(one).collect()
}

#[test]
fn two_commands_and_one_edit_lead_to_the_first_message() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("flight.csv"), unknown()).unwrap();

    let (code, product, stderr) = run(at, &["init", "flight.csv"]);
    assert_eq!((code, product.as_str()), (0, ""), "{stderr}");
    assert!(
        stderr.ends_with(
            "fivefig: sheet.toml: written; 2 mandatory values to fill in: station.wmo_block, station.wmo_number\nfivefig: next: fivefig encode flight.csv --sheet sheet.toml\n"
        ),
        "{stderr}"
    );
    let sheet = fs::read_to_string(at.join("sheet.toml")).unwrap();
    // What the columns are is shown, the position and the release are there.
    assert!(sheet.contains("#  3  Luftdruck [hPa] "), "{sheet}");
    assert!(
        sheet.contains("latitude_deg = 51.25  # from the first row that has it"),
        "{sheet}"
    );
    assert!(
        sheet.contains("release = \"2031-01-15T23:59:30Z\"  # from"),
        "{sheet}"
    );

    // What is missing is reported for the sheet alone.
    let (code, listed, _) = run(at, &["check", "--sheet", "sheet.toml"]);
    assert_eq!(code, 1);
    assert_eq!(
        listed,
        "error: missing key `station.wmo_block`: no sheet gives it, and a land station is named by its number; write wmo_block = 99 under [station] (the guide describes each key of the sheet)\nerror: missing key `station.wmo_number`: no sheet gives it, and a land station is named by its number; write wmo_number = 7 under [station] (the guide describes each key of the sheet)\n"
    );

    // The edit.
    let edited = sheet
        .replace("wmo_block = \"\"", "wmo_block = 99")
        .replace("wmo_number = \"\"", "wmo_number = 11");
    fs::write(at.join("sheet.toml"), edited).unwrap();
    let (code, _, stderr) = run(at, &["check", "--sheet", "sheet.toml"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(stderr.contains("the sheet is complete"), "{stderr}");

    // The command that was printed.
    let (code, message, stderr) = run(at, &["encode", "flight.csv", "--sheet", "sheet.toml"]);
    assert_eq!(code, 0, "{stderr}");
    // TTAA, day 16 and hour 00 (release to the nearest hour) and 99011; 1004.3 hPa,
    // 4.5 °C (044 or 045 by table 3931), 230° and 10 kn = 5.1 m/s: 23005.
    assert!(message.starts_with("TTAA 1600"), "{message}");
    assert!(message.contains(" 99011 99004 044"), "{message}");
    assert!(message.contains(" 23005 "), "{message}");
}

#[test]
fn nothing_is_overwritten_and_options_answer_the_questions() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("sheet.toml"), "# mine\n").unwrap();
    let (code, product, stderr) = run(at, &["init"]);
    assert_eq!((code, product.as_str()), (3, ""));
    assert!(
        stderr.contains("sheet.toml: it exists and is not overwritten"),
        "{stderr}"
    );
    assert_eq!(
        fs::read_to_string(at.join("sheet.toml")).unwrap(),
        "# mine\n"
    );

    let ship = [
        "init",
        "--kind",
        "ship",
        "--form",
        "pilot",
        "-o",
        "ship.toml",
        "-q",
        "--set",
        "station.call_sign=XXXX9",
        "--set",
        "station.latitude_deg=51.25",
        "--set",
        "station.longitude_deg = -3.4",
        "--set",
        "flight.release=2031-01-15T11:23:40Z",
    ];
    let (code, product, stderr) = run(at, &ship);
    assert_eq!((code, product.as_str(), stderr.as_str()), (0, "", ""));
    let (code, ..) = run(at, &["check", "-q", "--sheet", "ship.toml"]);
    assert_eq!(code, 0);
    for (args, code, text) in [
        (
            vec!["init", "-o", "-", "--set", "station.wmo_block=100"],
            1,
            "out of range (1 to 99)",
        ),
        (
            vec!["init", "-o", "-", "--set", "station.block=1"],
            2,
            "`station.block` is not a key of a sheet; there are station.",
        ),
        (
            vec!["init", "-o", "-", "--set", "wmo_block"],
            2,
            "KEY=VALUE is expected",
        ),
        (vec!["init", "-o", "-", "--kind", "tower"], 2, "land"),
        (vec!["init", "-o", "no/such/s.toml"], 3, "no/such/s.toml"),
        (vec!["init", "nothing.csv", "-o", "-"], 3, "nothing.csv"),
        (vec!["check"], 2, "required"),
    ] {
        let (found, product, stderr) = run(at, &args);
        assert_eq!((found, product.as_str()), (code, ""), "{args:?}");
        assert!(stderr.contains(text), "{stderr}");
    }
    assert!(!at.join("no").exists());
    // To standard output, for another program.
    let (code, sheet, stderr) = run(at, &["init", "-o", "-"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(sheet.contains("wmo_block = \"\"  # REQUIRED"), "{sheet}");
    assert!(
        stderr.contains("next: fivefig encode PROFILE --sheet SHEET"),
        "{stderr}"
    );
}

#[test]
fn a_file_that_describes_its_station_leaves_nothing_open() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let sample = |name: &str| format!("{}/samples/{name}", env!("CARGO_MANIFEST_DIR"));
    let (csv, toml) = (sample("ship.csv"), sample("ship.toml"));
    let args = [
        "encode", "-q", &csv, "--sheet", &toml, "--to", "bufr", "-o", "x.bufr",
    ];
    let (code, _, stderr) = run(at, &args);
    assert_eq!(code, 0, "{stderr}");
    let (code, _, stderr) = run(at, &["init", "x.bufr"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(stderr.contains("nothing mandatory is missing"), "{stderr}");
    let sheet = fs::read_to_string(at.join("sheet.toml")).unwrap();
    assert!(
        sheet.contains("kind = \"ship\"  # from the file"),
        "{sheet}"
    );
    let (code, _, stderr) = run(at, &["encode", "-q", "x.bufr", "--sheet", "sheet.toml"]);
    assert_eq!(code, 0, "{stderr}");
}
