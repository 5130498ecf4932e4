//! Many flights at once: order, octets, refusals, pipes, memory.

use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;

use serde_json::Value;

use crate::support::{fivefig, run};

/// Every nth row of the invented winter flight.
fn rows(every: usize) -> String {
    let text = fs::read_to_string("samples/winter_jet.csv").unwrap();
    let (head, rows): (Vec<&str>, Vec<&str>) = text
        .lines()
        .partition(|line| line.starts_with('#') || line.starts_with("time_s"));
    let rows = rows.into_iter().step_by(every);
    head.into_iter()
        .chain(rows)
        .flat_map(|line| [line, "\n"])
        .collect()
}

/// The sheet of that flight for another day.
fn sheet(day: usize) -> String {
    let text = fs::read_to_string("samples/winter_jet.toml").unwrap();
    text.replace("2031-01-15T", &format!("2031-01-{day:02}T"))
}

/// A folder with flights of five days, the third of which is refused, and things that
/// are no profiles.
fn flights() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let all = folder.path().join("all");
    fs::create_dir_all(all.join("older")).unwrap();
    for day in 1..=5 {
        fs::write(all.join(format!("f{day}.toml")), sheet(day)).unwrap();
        // The counts of rows differ, and with them the time each takes.
        fs::write(all.join(format!("f{day}.csv")), rows(30 * day)).unwrap();
    }
    fs::write(all.join("f3.csv"), "pressure_hpa\nlow\n").unwrap();
    fs::write(all.join(".hidden.csv"), "x").unwrap();
    fs::write(all.join("older/f6.csv"), "x").unwrap();
    folder
}

const NAMES: [&str; 5] = [
    "all/f1.csv",
    "all/f2.csv",
    "all/f3.csv",
    "all/f4.csv",
    "all/f5.csv",
];

fn lines(text: &str) -> Vec<Value> {
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn a_folder_gives_a_line_for_each_in_the_order_of_names() {
    let folder = flights();
    let at = folder.path();
    let mut first: Option<(String, String)> = None;
    for threads in ["1", "2", "8"] {
        let (code, out, stderr) = run(
            at,
            &["encode", "all", "--to", "jsonl", "--threads", threads],
            "",
        );
        assert_eq!(code, 1, "{stderr}");
        let all = lines(&out);
        let ids: Vec<&str> = all
            .iter()
            .map(|line| line["id"].as_str().unwrap())
            .collect();
        assert_eq!(ids, NAMES);
        for (line, name) in all.iter().zip(NAMES) {
            assert_eq!(line.get("report").is_some(), !name.contains('3'), "{name}");
        }
        assert!(
            all[2]["error"]
                .as_str()
                .unwrap()
                .starts_with("all/f3.csv:2:1: ")
        );
        assert_eq!(
            stderr.matches("fivefig: error: all/f3.csv:2:1: ").count(),
            1
        );
        assert!(
            stderr.contains("\nfivefig: 4 coded, 1 refused\nfivefig: refused: all/f3.csv:2:1: ")
        );
        // The same octets for any number of threads.
        let now = (out, stderr);
        assert_eq!(
            first.get_or_insert_with(|| now.clone()),
            &now,
            "{threads} threads"
        );
    }
    // The report of a file alone.
    let alone = [
        "encode",
        "all/f2.csv",
        "--sheet",
        "all/f2.toml",
        "--to",
        "jsonl",
    ];
    let (_, alone, _) = run(at, &alone, "");
    let all = lines(&first.unwrap().0);
    assert_eq!(all[1]["report"], lines(&alone)[0]);
    // Files in any order, as they were named.
    let args = ["encode", "all/f5.csv", "all/f1.csv", "--to", "jsonl", "-q"];
    let (code, out, stderr) = run(at, &args, "");
    assert_eq!((code, stderr.as_str()), (0, ""));
    let two = lines(&out);
    assert_eq!((&two[0], &two[1]), (&all[4], &all[0]));
}

#[test]
fn messages_come_one_after_the_other_and_are_read_so() {
    let folder = flights();
    let at = folder.path();
    let (code, out, stderr) = run(at, &["encode", "all", "-q"], "");
    assert_eq!(code, 1, "{stderr}");
    fs::write(at.join("all.txt"), &out).unwrap();
    let (code, again, stderr) = run(at, &["decode", "all.txt"], "");
    assert_eq!((code, again.as_str()), (0, out.as_str()), "{stderr}");
    assert_eq!(out.matches("TTAA ").count(), 4);
    for (name, day) in [("f1", 1), ("f5", 5)] {
        let (file, sheet) = (format!("all/{name}.csv"), format!("all/{name}.toml"));
        let (_, alone, _) = run(at, &["encode", &file, "--sheet", &sheet, "-q"], "");
        assert!(out.contains(&alone), "{day}");
    }
    // BUFR messages too.
    let (code, ..) = run(
        at,
        &["encode", "all", "-q", "--to", "bufr", "-o", "all.bufr"],
        "",
    );
    assert_eq!(code, 1);
    let (_, out, _) = run(at, &["decode", "all.bufr", "--to", "jsonl"], "");
    assert_eq!(out.lines().count(), 4);
}

#[test]
fn a_folder_for_each_and_no_identity_twice() {
    let folder = flights();
    let at = folder.path();
    fs::copy(at.join("all/f2.csv"), at.join("all/f9.csv")).unwrap();
    fs::copy(at.join("all/f2.toml"), at.join("all/f9.toml")).unwrap();
    for threads in ["1", "4"] {
        let args = [
            "encode",
            "all",
            "--to",
            "text,json",
            "-o",
            "out",
            "--threads",
            threads,
            "-q",
        ];
        let (code, out, stderr) = run(at, &args, "");
        assert_eq!(code, 1);
        let paths: Vec<&str> = out.lines().collect();
        let expected = |day: usize| format!("out/0-20000-0-99011_203101{day:02}1200_temp");
        assert_eq!(paths, [expected(1), expected(2), expected(4), expected(5)]);
        // The second of the same identity is the one that is refused, whichever is faster.
        assert!(
            stderr.contains(&format!("{}: already issued", expected(2))),
            "{stderr}"
        );
        assert!(stderr.contains("all/f3.csv:2:1: "));
        let text = fs::read_to_string(at.join(expected(4)).join("text.txt")).unwrap();
        assert!(text.starts_with("TTAA 04111 99011 "), "{text}");
        assert!(at.join(expected(4)).join("report.json").exists());
        fs::remove_dir_all(at.join("out")).unwrap();
    }
    // One form alone, into a folder that is there.
    fs::create_dir(at.join("out")).unwrap();
    let (code, out, _) = run(
        at,
        &["encode", "all", "--to", "bufr", "-o", "out", "-q"],
        "",
    );
    assert_eq!((code, out.lines().count()), (1, 4));
}

#[test]
fn a_list_names_the_files() {
    let folder = flights();
    let at = folder.path();
    let list = "all/f4.csv\r\n\n  \nall/none.csv\nall/f1.csv";
    fs::write(at.join("list"), list).unwrap();
    for (args, input) in [
        (["encode", "--list", "list", "--to", "jsonl"], ""),
        (["encode", "--list", "-", "--to", "jsonl"], list),
    ] {
        let (code, out, stderr) = run(at, &args, input);
        assert_eq!(code, 3, "{stderr}");
        let all = lines(&out);
        let ids: Vec<&str> = all
            .iter()
            .map(|line| line["id"].as_str().unwrap())
            .collect();
        assert_eq!(ids, ["all/f4.csv", "all/none.csv", "all/f1.csv"]);
        assert!(
            all[1]["error"]
                .as_str()
                .unwrap()
                .starts_with("all/none.csv: No such file")
        );
        assert!(stderr.contains("fivefig: 2 coded, 1 refused"));
    }
    let (code, out, stderr) = run(at, &["encode", "--list", "none", "--to", "jsonl"], "");
    assert_eq!((code, lines(&out).len()), (3, 1));
    assert!(stderr.contains("none: No such file"), "{stderr}");
}

/// A line of flights for each day.
fn stream(at: &Path, count: usize) -> String {
    fs::write(at.join("one.csv"), rows(60)).unwrap();
    fs::write(at.join("one.toml"), sheet(15)).unwrap();
    let (_, line, _) = run(
        at,
        &["profile", "one.csv", "--sheet", "one.toml", "--to", "jsonl"],
        "",
    );
    let one = |number: usize| line.replacen("\"one\"", &format!("\"n{number}\""), 1);
    (0..count).map(one).collect()
}

#[test]
fn lines_and_files_go_together_in_order() {
    let folder = flights();
    let at = folder.path();
    fs::write(at.join("some.jsonl"), stream(at, 3)).unwrap();
    let args = [
        "encode",
        "all/f2.csv",
        "some.jsonl",
        "all/f1.csv",
        "--to",
        "jsonl",
        "-q",
    ];
    let (code, out, stderr) = run(at, &args, "");
    assert_eq!((code, stderr.as_str()), (0, ""));
    let all = lines(&out);
    let ids: Vec<&str> = all
        .iter()
        .map(|line| line["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids, ["all/f2.csv", "n0", "n1", "n2", "all/f1.csv"]);
}

/// Two soundings of an invented station in one IGRA v2 file, written by hand to its
/// columns: a whole one, and winds by height, which TEMP refuses.
const STATION: &str = "\
#ZZM00099007 2031 01 15 12 1123    6 invented invented  512500   -34000
21     0 100430B   84B   45B  810    31   230    61
20    20  99000A  194B-9999 -9999 -9999 -8888 -8888
10   255  92500B  748B    3B  720 -9999   225   120
22  1030  27650B 9890B -621A-8888   120   250   305
30  1100 -9999  10500 -9999 -9999 -9999   251   310
10 -9999  10000 16180 -9999 -9999 -9999 -9999 -9999
#ZZM00099007 2031 01 16 00 2331    2          invented  512500   -34000
31     0 -9999     84 -9999 -9999 -9999   230    61
30 -9999 -9999    500 -9999 -9999 -9999   235    80
";

#[test]
fn a_station_file_stands_for_all_its_soundings() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::create_dir(at.join("all")).unwrap();
    fs::write(at.join("all/station.txt"), STATION).unwrap();
    fs::write(
        at.join("all/station.toml"),
        "[coding]\nhour = \"synoptic\"\n",
    )
    .unwrap();
    let (code, out, stderr) = run(at, &["encode", "all", "--to", "jsonl", "-q"], "");
    assert_eq!(code, 1);
    let all = lines(&out);
    let ids: Vec<&str> = all
        .iter()
        .map(|line| line["id"].as_str().unwrap())
        .collect();
    assert_eq!(
        ids,
        [
            "all/station.txt (sounding 1)",
            "all/station.txt (sounding 2)"
        ]
    );
    assert_eq!(
        all[0]["report"]["flight"]["standard_time"],
        "2031-01-15T12:00:00Z"
    );
    // The sheet beside the file holds for each: the standard hour, not that of release.
    let groups = all[0]["report"]["groups"]["ttaa"].to_string();
    assert!(groups.contains("\"1512"), "{groups}");
    assert!(
        stderr.contains("all/station.txt (sounding 2): no row has a temperature"),
        "{stderr}"
    );
    // Alone, the first is the same.
    let alone = [
        "encode",
        "all/station.txt",
        "--message",
        "1",
        "--sheet",
        "all/station.toml",
        "--to",
        "jsonl",
        "-q",
    ];
    let (code, alone, _) = run(at, &alone, "");
    assert_eq!(code, 0);
    assert_eq!(all[0]["report"]["groups"], lines(&alone)[0]["groups"]);
}

/// A step of a pipe that waits for the answer to a line before it sends the next.
#[test]
fn a_line_is_answered_before_the_next_one_comes() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let input = stream(at, 5);
    for threads in ["1", "4"] {
        let args = ["encode", "-", "--to", "jsonl", "--threads", threads];
        let mut child = fivefig(at, &args).spawn().unwrap();
        let mut to = child.stdin.take().unwrap();
        let mut from = BufReader::new(child.stdout.take().unwrap()).lines();
        for (number, line) in input.split_inclusive('\n').enumerate() {
            to.write_all(line.as_bytes()).unwrap();
            to.flush().unwrap();
            let answer: Value = serde_json::from_str(&from.next().unwrap().unwrap()).unwrap();
            assert_eq!(answer["id"], format!("n{number}"));
        }
        drop(to);
        assert!(from.next().is_none());
        assert_eq!(child.wait().unwrap().code(), Some(0));
    }
}

#[test]
fn who_reads_no_further_ends_it_quietly() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("many.jsonl"), stream(at, 400)).unwrap();
    let mut child = fivefig(at, &["encode", "many.jsonl", "--to", "jsonl"])
        .spawn()
        .unwrap();
    let mut from = BufReader::new(child.stdout.take().unwrap());
    let mut first = String::new();
    from.read_line(&mut first).unwrap();
    assert!(first.starts_with("{\"id\":\"n0\""));
    drop(from);
    let out = child.wait_with_output().unwrap();
    let stderr = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(0), "{stderr}");
    assert!(!stderr.contains("error"), "{stderr}");
    // Not all of them were coded for nothing.
    assert!(!stderr.contains("400 coded"), "{stderr}");
}

/// The most memory that a process had, kB (proc(5), VmHWM).
#[cfg(target_os = "linux")]
fn memory(at: &Path, count: usize) -> u64 {
    let input = stream(at, count);
    let args = ["encode", "-", "--to", "jsonl", "--threads", "2"];
    let mut child = fivefig(at, &args).spawn().unwrap();
    let mut to = child.stdin.take().unwrap();
    let from = BufReader::new(child.stdout.take().unwrap());
    let status = format!("/proc/{}/status", child.id());
    let writer = std::thread::spawn(move || {
        to.write_all(input.as_bytes()).unwrap();
        to
    });
    // Held open by us until the last answer is here, so that it can be asked.
    assert_eq!(from.lines().take(count).count(), count);
    let to = writer.join().unwrap();
    let text = fs::read_to_string(status).unwrap();
    drop(to);
    child.wait().unwrap();
    let line = text
        .lines()
        .find(|line| line.starts_with("VmHWM:"))
        .unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

/// 600 flights of 14 kB each, 8 MB in all, take no more than 60 do.
#[test]
#[cfg(target_os = "linux")]
fn memory_does_not_grow_with_the_number_of_flights() {
    let folder = tempfile::tempdir().unwrap();
    let few = memory(folder.path(), 60);
    let many = memory(folder.path(), 600);
    assert!(
        many * 4 < few * 5,
        "{few} kB for 60 flights, {many} kB for 600"
    );
}

#[test]
fn what_does_not_go_with_many_flights_is_reported() {
    let folder = flights();
    let at = folder.path();
    for (more, what) in [
        (&["--to", "json"][..], "--to json is for one flight"),
        (
            &["--to", "wis2", "-o", "out"],
            "--to wis2 is for one flight",
        ),
        (
            &["--to", "html", "-o", "out"],
            "--to html is for one flight",
        ),
        (
            &["--to", "text,jsonl", "-o", "out"],
            "go together into a folder",
        ),
        (
            &["--to", "text,bufr"],
            "--output: several outputs are several files",
        ),
        (&["--message", "2"], "--message picks a flight of one file"),
        (&["--correct", "CCA", "--was", "x"], "are for one flight"),
        (&["--threads", "0"], "1..=1024"),
    ] {
        let (code, out, stderr) = run(at, &[&["encode", "all"][..], more].concat(), "");
        assert_eq!((code, out.as_str()), (2, ""), "{more:?}: {stderr}");
        assert!(stderr.contains(what), "{more:?}: {stderr}");
    }
    let (code, ..) = run(at, &["encode"], "");
    assert_eq!(code, 2);
    // An empty folder is nothing to do.
    fs::create_dir(at.join("empty")).unwrap();
    let (code, out, stderr) = run(at, &["encode", "empty", "--to", "jsonl"], "");
    assert_eq!(
        (code, out.as_str(), stderr.as_str()),
        (0, "", "fivefig: 0 coded, 0 refused\n")
    );
    // A sheet with a fault is reported once, before anything is read.
    fs::write(at.join("bad.toml"), "[station]\nkind = \"moon\"\n").unwrap();
    let (code, out, stderr) = run(
        at,
        &["encode", "all", "--sheet", "bad.toml", "--to", "jsonl"],
        "",
    );
    assert_eq!((code, out.as_str()), (1, ""));
    assert_eq!(stderr.lines().count(), 1, "{stderr}");
}
