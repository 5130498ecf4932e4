//! The ground check from the sheet to every place that it goes to.

use std::fs;
use std::path::Path;

use crate::support::run;

const CHECK: &str = "
[ground_check]
time = \"2021-01-15T10:40:00Z\"
operator = \"QX\"
batch = \"7\"
reference_pressure_hpa = 1004.2
sonde_pressure_hpa = 1004.9
reference_temperature_c = 19.6
sonde_temperature_c = 19.8
reference_humidity_pct = 33
sonde_humidity_pct = 34.5
dry_humidity_pct = 0.4
battery_v = 3.1
battery_least_v = 2.7
";

/// The invented winter flight ten years earlier, with a ground check.
fn place(check: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("in")).unwrap();
    fs::copy("samples/winter_jet.csv", at("in/a.csv")).unwrap();
    let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let sheet = sheet.replace("2031-", "2021-") + check;
    fs::write(at("in/a.toml"), sheet).unwrap();
    fs::write(at("age.toml"), "[schedule]\nmax_age_h = 1000000\n").unwrap();
    folder
}

fn look_again() -> String {
    CHECK.replace("sonde_temperature_c = 19.8", "sonde_temperature_c = 20.2")
}

fn checked(folder: &Path, more: &[&str]) -> (i32, String, String) {
    let args = ["check", "--sheet", "in/a.toml"];
    run(folder, &[&args[..], more].concat(), "")
}

#[test]
fn the_sheet_alone_says_go_or_look_again() {
    let go = place(CHECK);
    let (code, out, errors) = checked(go.path(), &[]);
    assert_eq!(
        (code, out.as_str()),
        (0, "before release: go\n"),
        "{errors}"
    );
    let again = place(&look_again());
    let (code, out, _) = checked(again.path(), &[]);
    // 20.2 − 19.6 = 0.6 K, and 0.5 K is the limit.
    let what = "at the ground check the sonde's temperature is 20.2 °C, that of the reference 19.6 °C (+0.6 K)";
    assert_eq!(code, 0);
    assert!(
        out.ends_with(&format!("before release: look again: {what}\n")),
        "{out}"
    );
    let (code, ..) = checked(again.path(), &["--strict"]);
    assert_eq!(code, 1);
    // Before the release is known the other keys are missing, and the check is there.
    let sheet = fs::read_to_string(go.path().join("in/a.toml")).unwrap();
    let without: Vec<&str> = sheet
        .lines()
        .filter(|line| !line.starts_with("release ="))
        .collect();
    fs::write(go.path().join("in/a.toml"), without.join("\n")).unwrap();
    let (_, out, _) = checked(go.path(), &[]);
    assert!(out.ends_with("before release: go\n"), "{out}");
    // With the profile both are one verdict.
    let (_, out, _) = checked(again.path(), &["in/a.csv"]);
    assert!(
        out.contains(&format!("before release: look again: {what}")),
        "{out}"
    );
}

#[test]
fn a_value_that_cannot_be_is_refused_with_its_place() {
    for (key, value, wanted) in [
        ("dry_humidity_pct", "200", "-10 to 110"),
        ("battery_v", "-1", "0 to 60"),
        (
            "operator",
            "\"too long\"",
            "1 to 4 printable ASCII characters",
        ),
        ("sonde_presure_hpa", "1", "sonde_pressure_hpa"),
    ] {
        let place = place(&format!("[ground_check]\n{key} = {value}\n"));
        let (code, out, _) = checked(place.path(), &[]);
        assert_eq!(code, 1, "{key}");
        assert!(
            out.contains(wanted) && out.contains("in/a.toml:"),
            "{key}: {out}"
        );
    }
}

#[test]
fn json_bufr_and_review_sheet_have_it() {
    let place = place(&look_again());
    let folder = place.path();
    let to = |form: &str| {
        let args = [
            "encode",
            "in/a.csv",
            "--sheet",
            "in/a.toml",
            "-q",
            "-o",
            form,
        ];
        let (code, _, errors) = run(folder, &[&args[..], &["--to", form]].concat(), "");
        assert_eq!(code, 0, "{errors}");
        fs::read(folder.join(form)).unwrap()
    };
    let json: serde_json::Value = serde_json::from_slice(&to("json")).unwrap();
    let report = &json["reports"][0];
    assert_eq!(report["ground_check"]["sonde_temperature_c"], 20.2);
    assert_eq!(report["ground_check"]["operator"], "QX");
    assert_eq!(report["ground_check_result"], "look-again");
    let codes = report["findings"].as_array().unwrap().iter();
    assert_eq!(
        codes.filter(|f| f["code"] == "ground-temperature").count(),
        1
    );
    // Read back and written again it is the same.
    let (code, again, errors) = run(folder, &["decode", "json", "--to", "json", "-q"], "");
    assert_eq!(code, 0, "{errors}");
    let again: serde_json::Value = serde_json::from_str(&again).unwrap();
    assert_eq!(again["reports"][0]["ground_check"], report["ground_check"]);
    // The operator is the observer of 0 01 095, the one place that templates have.
    to("bufr");
    let (_, out, _) = run(folder, &["decode", "bufr", "--to", "json", "-q"], "");
    let out: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(out["reports"][0]["flight"]["observer"], "QX");
    let review = String::from_utf8(to("html")).unwrap();
    assert!(review.contains("look again: at the ground check"));
}

/// Two flights, one of them refused: both are in the book, and in the month.
#[cfg(all(unix, feature = "spool"))]
#[test]
fn the_book_has_it_of_issued_and_refused_flights() {
    let place = place(CHECK);
    let folder = place.path();
    let sheet = fs::read_to_string(folder.join("in/a.toml")).unwrap();
    let other = sheet.replace("2021-01-15T", "2021-01-16T");
    let other = other.replace("sonde_temperature_c = 19.8", "sonde_temperature_c = 20.4");
    fs::write(folder.join("in/b.toml"), other).unwrap();
    // A flight that cannot be coded.
    fs::write(
        folder.join("in/b.csv"),
        "time_s,pressure_hpa\n0,1000\n1,999\n",
    )
    .unwrap();
    let spool = [
        "spool", "--in", "in", "--out", "out", "--sheet", "age.toml", "--once", "--settle", "0",
        "-q",
    ];
    let (code, _, errors) = run(folder, &spool, "");
    assert_eq!(code, 1, "{errors}");
    let book = fs::read_to_string(folder.join("out/spool/book.csv")).unwrap();
    assert!(book.contains(",INV0029,7,go,0.7,0.2,1.5,0.4,"), "{book}");
    assert!(
        book.contains(",INV0029,7,look-again,0.7,0.8,1.5,0.4,"),
        "{book}"
    );
    // By hand: mean of 0.2 and 0.8 is 0.5, deviation √(2 × 0.3²) = 0.424.
    let summary = ["spool", "--summary", "2021-01", "--out", "out"];
    let (_, out, _) = run(folder, &summary, "");
    let line = out
        .lines()
        .find(|line| line.contains("ground checks"))
        .unwrap_or_default();
    // The refused flight has no standard time of its own; it counts when it was refused.
    assert!(
        line.ends_with(
            "1, look again 0; sonde less reference +0.70 hPa, +0.20 K, +1.50 %, dry air +0.40 %"
        ),
        "{out}"
    );
    let month = &book.lines().last().unwrap()[2..9];
    let (_, out, _) = run(folder, &["spool", "--summary", month, "--out", "out"], "");
    assert!(
        out.contains("look again 1; sonde less reference +0.70 hPa, +0.80 K"),
        "{month}: {out}"
    );
}
