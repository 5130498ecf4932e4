//! The command `spool`: log, status, signals, exit codes.
#![cfg(all(unix, feature = "spool"))]

use std::fs;
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::Path;
use std::process::{Child, Command};
use std::time::Duration;

use crate::support::fivefig;

/// Runs the command: exit code, standard output, standard error.
fn run(folder: &Path, args: &[&str]) -> (i32, String, String) {
    crate::support::run(folder, args, "")
}

const ISSUE: &str = "0-20000-0-99011_202101151200_temp";

/// A folder with the invented winter flight in the watched folder.
fn place() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("in")).unwrap();
    put(folder.path(), "a");
    folder
}

/// The invented winter flight ten years earlier, in the past by any clock, with a sheet
/// that lets it be so old.
fn put(folder: &Path, name: &str) {
    let at = |ending: &str| folder.join(format!("in/{name}.{ending}"));
    fs::copy("samples/winter_jet.csv", at("csv")).unwrap();
    let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
    fs::write(at("toml"), sheet.replace("2031-", "2021-")).unwrap();
    fs::write(folder.join("age.toml"), "[schedule]\nmax_age_h = 1000000\n").unwrap();
}

const ONCE: [&str; 10] = [
    "spool", "--in", "in", "--out", "out", "--sheet", "age.toml", "--once", "--settle", "0",
];

fn end(mut child: Child) -> (i32, String) {
    let process = child.id().to_string();
    let kill = Command::new("kill")
        .args(["-TERM", &process])
        .status()
        .unwrap();
    assert!(kill.success());
    let code = child.wait().unwrap().code().unwrap();
    let mut stderr = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut stderr)
        .unwrap();
    (code, stderr)
}

#[test]
fn once_issues_what_encode_writes() {
    let place = place();
    let folder = place.path();
    let to = ["--to", "text,bulletin,json,bufr,html"];
    let (code, out, stderr) = run(folder, &[&ONCE[..], &to].concat());
    assert_eq!((code, out), (0, format!("out/{ISSUE}\n")), "{stderr}");
    let (code, ..) = run(
        folder,
        &[
            &[
                "encode",
                "in/done/a.csv",
                "--sheet",
                "in/done/a.toml",
                "-q",
                "-o",
                "alone",
            ],
            &to[..],
        ]
        .concat(),
    );
    assert_eq!(code, 0);
    for file in fs::read_dir(folder.join("alone").join(ISSUE)).unwrap() {
        let path = file.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        let ours = fs::read(folder.join("out").join(ISSUE).join(name)).unwrap();
        let theirs = fs::read(&path).unwrap();
        if ["report.json", "review.html"].contains(&name) {
            // They name the file that findings are about.
            let plain = |octets: &[u8]| String::from_utf8_lossy(octets).replace("in/done/", "");
            assert_eq!(plain(&ours), plain(&theirs), "{name}");
        } else {
            assert_eq!(ours, theirs, "{name}");
        }
    }
    // The saved sheet makes the same text again.
    let sheet = format!("out/{ISSUE}/sheet.toml");
    let (_, text, _) = run(
        folder,
        &["encode", "in/done/a.csv", "--sheet", &sheet, "-q"],
    );
    let issued = fs::read_to_string(folder.join("out").join(ISSUE).join("text.txt")).unwrap();
    assert_eq!(text, issued);
}

/// Minute data and the notebook of a theodolite are issued like any other profile, and the
/// issue has what `encode` writes.
#[test]
fn minute_data_and_angles_are_issued() {
    let place = place();
    let folder = place.path();
    fs::remove_file(folder.join("in/a.csv")).unwrap();
    fs::remove_file(folder.join("in/a.toml")).unwrap();
    for (name, form) in [("minute", "temp"), ("theodolite", "pilot")] {
        let at = |ending: &str| folder.join(format!("in/{name}.{ending}"));
        fs::copy(format!("samples/{name}.csv"), at("csv")).unwrap();
        let sheet = fs::read_to_string(format!("samples/{name}.toml")).unwrap();
        fs::write(at("toml"), sheet.replace("2031-", "2021-")).unwrap();
        let to = ["--to", "text,bufr,json,netcdf", "--form", form];
        let (code, out, stderr) = run(folder, &[&ONCE[..], &to].concat());
        assert_eq!(code, 0, "{stderr}");
        let issue = folder.join(out.trim());
        let issued = fs::read_to_string(issue.join("text.txt")).unwrap();
        let (csv, toml) = (
            format!("in/done/{name}.csv"),
            format!("in/done/{name}.toml"),
        );
        let (_, text, _) = run(
            folder,
            &["encode", &csv, "--sheet", &toml, "--form", form, "-q"],
        );
        assert_eq!(issued, text, "{name}");
        let (code, text, stderr) = run(
            folder,
            &[
                "decode",
                issue.join("sounding.bufr").to_str().unwrap(),
                "-q",
            ],
        );
        assert_eq!((code, text.is_empty()), (0, false), "{name}: {stderr}");
        assert!(issue.join("sounding.nc").is_file(), "{name}");
    }
}

#[test]
fn it_runs_until_it_is_asked_to_end_and_says_how_it_is() {
    let place = place();
    let folder = place.path();
    let status = ["spool", "--status", "--out", "out"];
    let (code, _, stderr) = run(folder, &status);
    assert_eq!(code, 3);
    assert!(stderr.contains("out: no spool has issued"), "{stderr}");
    assert!(stderr.contains("fivefig spool --in"), "{stderr}");

    let args = [
        "spool", "--in", "in", "--out", "out", "--sheet", "age.toml", "--settle", "0", "--notes",
        "json",
    ];
    let mut child = fivefig(folder, &args).spawn().unwrap();
    // The path on standard output says that it is out.
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert_eq!(lines.next().unwrap().unwrap(), format!("out/{ISSUE}"));
    let well = || {
        (0..100).any(|_| {
            std::thread::sleep(Duration::from_millis(50));
            let (code, out, _) = run(folder, &status);
            code == 0 && out.contains(ISSUE)
        })
    };
    assert!(well());
    let (code, _, stderr) = run(folder, &["spool", "--in", "in", "--out", "out2"]);
    assert_eq!(code, 3);
    assert!(
        stderr.contains("another spool works on this folder"),
        "{stderr}"
    );

    let (code, stderr) = end(child);
    assert_eq!(code, 0, "{stderr}");
    let log: Vec<serde_json::Value> = stderr
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let events: Vec<&str> = log
        .iter()
        .map(|line| line["event"].as_str().unwrap())
        .collect();
    assert_eq!(events, ["flight", "stopped"]);
    assert_eq!(log[0]["issue"], format!("out/{ISSUE}"));
    assert_eq!(
        (&log[0]["severity"], &log[0]["input"]),
        (&"info".into(), &"a.csv".into())
    );
    let (code, out, _) = run(folder, &status);
    assert_eq!(code, 3);
    assert!(out.starts_with("state         stopped\n"), "{out}");
}

#[test]
fn a_refused_flight_is_for_someone_to_look_at() {
    let place = place();
    let folder = place.path();
    fs::write(folder.join("in/bad.csv"), "pressure_hpa\nlow\n").unwrap();
    fs::copy(folder.join("in/a.toml"), folder.join("in/bad.toml")).unwrap();
    let alarm = [
        "--alarm",
        "/bin/sh",
        "--alarm",
        "-c",
        "--alarm",
        "cat >> told; echo \"$@\" >> told",
        "--alarm",
        "sh",
    ];
    let (code, _, stderr) = run(folder, &[&ONCE[..], &alarm].concat());
    assert_eq!(code, 1);
    assert!(
        stderr.contains("error: bad.csv: refused: bad.csv:2:1: "),
        "{stderr}"
    );
    let reported = fs::read_to_string(folder.join("told")).unwrap();
    let lines: Vec<&str> = reported.lines().collect();
    assert_eq!(lines[1], format!("flight out/{ISSUE}"));
    assert_eq!(lines[3], "refused in/refused/bad.csv");
    let json: serde_json::Value = serde_json::from_str(lines[2]).unwrap();
    assert_eq!(
        (&json["event"], &json["line"]["refused"]),
        (&"refused".into(), &"file".into())
    );
    assert!(
        json["reason"]
            .as_str()
            .unwrap()
            .starts_with("bad.csv:2:1: ")
    );
    // While it runs, the status says so.
    let args = ["spool", "--in", "in", "--out", "out"];
    let child = fivefig(folder, &args).spawn().unwrap();
    let looked = (0..100).any(|_| {
        std::thread::sleep(Duration::from_millis(50));
        let (code, out, _) = run(
            folder,
            &["spool", "--status", "--out", "out", "--notes", "json"],
        );
        code == 1 && out.contains("\"to_look_at\": 1")
    });
    assert!(looked);
    assert_eq!(end(child).0, 0);
    let (code, out, _) = run(folder, &["spool", "--summary", "2021-01", "--out", "out"]);
    assert_eq!(code, 0);
    assert!(
        out.contains("reached 30 hPa                  1 of 1"),
        "{out}"
    );
}

#[test]
fn what_it_cannot_begin_with_is_reported() {
    let place = place();
    let folder = place.path();
    fs::write(folder.join("nil.toml"), "[schedule]\nnil = true\n").unwrap();
    fs::write(folder.join("wrong.toml"), "[schedule]\nhours = [24]\n").unwrap();
    for (args, code, what) in [
        (&["spool", "--out", "out"][..], 2, "--in"),
        (
            &["spool", "--in", "in", "--out", "in/out"],
            2,
            "neither inside the other",
        ),
        (
            &["spool", "--in", "in/a.csv", "--out", "out"],
            3,
            "in/a.csv: ",
        ),
        (
            &["spool", "--in", "in", "--out", "out", "--to", "html"],
            2,
            "an archive are issued together with",
        ),
        (
            &["spool", "--in", "in", "--out", "out", "--sheet", "nil.toml"],
            1,
            "write hours = [0, 12]",
        ),
        (
            &[
                "spool",
                "--in",
                "in",
                "--out",
                "out",
                "--sheet",
                "wrong.toml",
            ],
            1,
            "wrong.toml:2:",
        ),
        (
            &["spool", "--summary", "2031-1", "--out", "out"],
            2,
            "is not a month",
        ),
        (
            &["spool", "--summary", "2031-01", "--out", "nowhere"],
            3,
            "nowhere: there is neither a flight book",
        ),
    ] {
        let (found, _, stderr) = run(folder, args);
        assert_eq!(found, code, "{args:?}: {stderr}");
        assert!(stderr.contains(what), "{args:?}: {stderr}");
    }
    // Nothing was taken.
    assert!(folder.join("in/a.csv").exists());
}

/// The samples are of 2031 and, by the default, of no more than a day ago: a clock of
/// before and one of after both refuse them, but `encode` asks no clock.
#[test]
fn a_flight_of_another_year_is_refused() {
    let place = place();
    let folder = place.path();
    fs::copy("samples/winter_jet.toml", folder.join("in/b.toml")).unwrap();
    fs::copy("samples/winter_jet.csv", folder.join("in/b.csv")).unwrap();
    let args = [
        "spool", "--in", "in", "--out", "out", "--once", "--settle", "0",
    ];
    let (code, out, stderr) = run(folder, &args);
    assert_eq!((code, out.as_str()), (1, ""), "{stderr}");
    assert!(
        stderr.contains("a.csv: refused: flight.release: 2021-01-15T11:23:40Z is "),
        "{stderr}"
    );
    assert!(
        stderr.contains("b.csv: refused: flight.release: 2031-01-15T11:23:40Z is "),
        "{stderr}"
    );
    for name in ["a", "b"] {
        let csv = format!("in/refused/{name}.csv");
        let toml = format!("in/refused/{name}.toml");
        assert!(folder.join(format!("{csv}.reason.txt")).exists());
        let (code, ..) = run(folder, &["encode", &csv, "--sheet", &toml, "-q"]);
        assert_eq!(code, 0);
    }
}

/// The paths of issues cannot be written: the issues are made, the exit code says so.
#[test]
fn a_full_standard_output_is_reported_by_the_exit_code() {
    let place = place();
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let out = fivefig(place.path(), &ONCE).stdout(full).output().unwrap();
    let stderr = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(3), "{stderr}");
    assert!(stderr.contains("-: No space left"), "{stderr}");
    assert!(
        place
            .path()
            .join("out")
            .join(ISSUE)
            .join("text.txt")
            .exists()
    );
}

/// An alarm that hangs: SIGTERM does not wait for it, and it ends with its children.
#[test]
fn an_alarm_that_hangs_does_not_hold_up_the_end() {
    let place = place();
    let folder = place.path();
    let mut args = vec![
        "spool", "--in", "in", "--out", "out", "--sheet", "age.toml", "--settle", "0",
    ];
    let script = "test -e out/spool/status.json || exit 1; sleep 1000 & echo $$ $! > told; wait";
    for word in ["/bin/sh", "-c", script, "sh"] {
        args.extend(["--alarm", word]);
    }
    let mut child = fivefig(folder, &args).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert_eq!(lines.next().unwrap().unwrap(), format!("out/{ISSUE}"));
    let reported = || fs::read_to_string(folder.join("told")).unwrap_or_default();
    while !reported().ends_with('\n') {
        std::thread::sleep(Duration::from_millis(10));
    }
    let (code, stderr) = end(child);
    assert_eq!(code, 0, "{stderr}");
    for process in reported().split_whitespace() {
        let state = || fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
        while !state().is_empty() && !state().contains(") Z") {
            std::thread::sleep(Duration::from_millis(10));
        }
    }
    // It was not given to its end: the next run gives it.
    let journal = || fs::read_to_string(folder.join("out/spool/journal.jsonl")).unwrap();
    assert!(!journal().contains("\"told\""));
    fs::remove_file(folder.join("told")).unwrap();
    let alarm = [
        "--alarm",
        "/bin/sh",
        "--alarm",
        "-c",
        "--alarm",
        "echo \"$@\" >> told",
        "--alarm",
        "sh",
    ];
    assert_eq!(run(folder, &[&ONCE[..], &alarm].concat()).0, 0);
    assert_eq!(reported(), format!("flight out/{ISSUE}\n"));
    assert!(journal().contains("\"told\""));
}
