//! The spool is killed at random moments, again and again: every flight goes out
//! exactly once all the same, whole, and with the octets of a run without kills.
//!
//! `FIVEFIG_KILLS` sets the number of kills (default 20; 2.5 flights each).
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first fault and tells its figures"
)]
#![cfg(all(unix, feature = "spool"))]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Steps of a linear congruential generator (Knuth's MMIX): the moments of the kills.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// The invented winter flight in every sixtieth row.
fn rows() -> String {
    let text = fs::read_to_string("samples/winter_jet.csv").unwrap();
    let mut count = 0;
    let kept = text.lines().filter(|line| {
        count += 1;
        line.starts_with('#') || line.starts_with("time_s") || count % 60 == 0
    });
    kept.flat_map(|line| [line, "\n"]).collect()
}

/// A flight for each quarter of a day from the first of February 2021; every eleventh has a
/// faulty sheet, and the fifth after it comes twice.
fn put(folder: &Path, number: usize, rows: &str, sheet: &str) {
    let (day, hour) = (number / 4, number % 4 * 6);
    let (month, day) = (day / 28 + 1, day % 28 + 1);
    let time = format!(
        "20{:02}-{:02}-{day:02}T{hour:02}",
        21 + month / 12,
        month % 12 + 1
    );
    let before = (hour + 23) % 24;
    let (month_of, day_of) = match (hour, day) {
        (0, 1) => (month - 1, 28),
        (0, day) => (month, day - 1),
        (_, day) => (month, day),
    };
    let release = format!(
        "20{:02}-{:02}-{day_of:02}T{before:02}",
        21 + month_of / 12,
        month_of % 12 + 1
    );
    let mut sheet = sheet
        .replace("2031-01-15T12", &time)
        .replace("2031-01-15T11", &release);
    if number % 11 == 3 {
        sheet = sheet.replace("wmo_number = 11", "wmo_number = 1111");
    }
    let mut names = vec![format!("f{number:04}")];
    if number % 11 == 8 {
        names.push(format!("g{number:04}"));
    }
    for name in names {
        // The row count makes the octets differ, so that a digest is one flight's.
        let rows = format!("{rows}# {number}\n");
        fs::write(folder.join(format!("{name}.toml")), &sheet).unwrap();
        let part = folder.join(format!("{name}.csv.part"));
        fs::write(&part, rows).unwrap();
        fs::rename(&part, folder.join(format!("{name}.csv"))).unwrap();
    }
}

fn spool(place: &Path) -> Command {
    // The flights are of the past.
    fs::write(place.join("age.toml"), "[schedule]\nmax_age_h = 1000000\n").unwrap();
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("fivefig"));
    command
        .current_dir(place)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    let to = "text,bulletin,json,bufr";
    command.args([
        "spool", "--once", "--settle", "0", "--in", "in", "--out", "out", "--sheet", "age.toml",
        "--to", to,
    ]);
    for word in ["/bin/sh", "-c", "echo \"$1 $2\" >> told", "sh"] {
        command.args(["--alarm", word]);
    }
    command
}

/// Every file below a folder with its octets; the spool's own left out.
fn tree(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(one) = open.pop() {
        for entry in fs::read_dir(one).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                if !path.ends_with("out/spool") {
                    open.push(path);
                }
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                all.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    all
}

#[test]
fn every_flight_goes_out_exactly_once_however_often_the_spool_is_killed() {
    let kills: usize = std::env::var("FIVEFIG_KILLS").map_or(20, |n| n.parse().unwrap());
    let flights = kills * 5 / 2;
    let (rows, sheet) = (
        rows(),
        fs::read_to_string("samples/winter_jet.toml").unwrap(),
    );

    // Without kills: how long it takes, and what comes out.
    let calm = tempfile::tempdir().unwrap();
    fs::create_dir(calm.path().join("in")).unwrap();
    for number in 0..flights {
        put(&calm.path().join("in"), number, &rows, &sheet);
    }
    let start = Instant::now();
    assert_eq!(spool(calm.path()).status().unwrap().code(), Some(1));
    let each = start.elapsed() / u32::try_from(flights).unwrap();

    let place = tempfile::tempdir().unwrap();
    let watched = place.path().join("in");
    fs::create_dir(&watched).unwrap();
    let mut dice = Dice(20_310_115);
    let (mut came, mut at_work) = (0, 0);
    // From the start of the process to two or three flights later; less on a machine that
    // has become faster since.
    let mut longest = u64::try_from((each * 5).as_micros()).unwrap().max(2000);
    for kill in 0..kills {
        while came < (kill + 1) * flights / kills {
            put(&watched, came, &rows, &sheet);
            came += 1;
        }
        let mut child = spool(place.path()).spawn().unwrap();
        std::thread::sleep(Duration::from_micros(dice.below(longest)));
        if child.try_wait().unwrap().is_none() {
            at_work += 1;
        } else {
            longest = (longest * 3 / 4).max(2000);
        }
        child.kill().unwrap();
        child.wait().unwrap();
    }
    let code = spool(place.path()).status().unwrap().code();
    assert!(matches!(code, Some(0 | 1)), "{code:?}");

    // The same issues with the same octets, nothing hidden, nothing left behind.
    let (now, expected) = (tree(place.path()), tree(calm.path()));
    let names = |tree: &BTreeMap<String, Vec<u8>>| -> Vec<String> {
        tree.keys()
            .filter(|name| *name != "told")
            .cloned()
            .collect()
    };
    assert_eq!(names(&now), names(&expected));
    for (name, octets) in expected.iter().filter(|(name, _)| *name != "told") {
        assert_eq!(&now[name], octets, "{name}");
    }
    let good: usize = (0..flights).filter(|number| number % 11 != 3).count();
    let issues = fs::read_dir(place.path().join("out")).unwrap().count() - 1;
    assert_eq!(issues, good);

    // The journal says of each issue once that it is out.
    let text = fs::read_to_string(place.path().join("out/spool/journal.jsonl")).unwrap();
    let mut meant = BTreeMap::new();
    let mut out = BTreeMap::new();
    let (mut void, mut issued) = (0, 0);
    for line in text.lines() {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        let no = line["no"].as_u64().unwrap();
        match line["step"].as_str().unwrap() {
            "meant" => {
                meant.insert(no, line);
            }
            "issued" => {
                issued += 1;
                let issue = meant[&no]["issue"].as_str().unwrap().to_owned();
                *out.entry(issue).or_insert(0) += 1;
            }
            "void" => void += 1,
            _ => {}
        }
    }
    assert_eq!((issued, out.len()), (good, good));
    // The book has a line for each, once and in order.
    let book = fs::read_to_string(place.path().join("out/spool/book.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(book.as_bytes());
    let lines: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let booked: Vec<&str> = lines
        .iter()
        .filter(|l| &l[2] == "flight")
        .map(|l| &l[4])
        .collect();
    assert_eq!(booked.len(), good);
    assert_eq!(booked.iter().collect::<BTreeSet<_>>().len(), good);
    let numbers: Vec<u64> = lines.iter().map(|l| l[0].parse().unwrap()).collect();
    assert!(numbers.is_sorted_by(|a, b| a < b));
    assert_eq!(
        lines.iter().filter(|l| &l[2] == "refused").count(),
        flights - good
    );
    // The alarm was given for each at least once.
    let reported = fs::read_to_string(place.path().join("told")).unwrap();
    let heard: BTreeSet<&str> = reported.lines().collect();
    assert_eq!(
        heard.len(),
        flights,
        "an issue or a refusal without an alarm"
    );
    let again = reported.lines().count() - heard.len();
    println!(
        "{kills} kills ({at_work} at work), {flights} flights: {good} issued once, {} refused once, {void} begun anew, {again} alarms given twice",
        flights - good
    );
    // Most kills must have met the spool at work for this to mean anything.
    assert!(at_work * 2 > kills, "{at_work} of {kills}");
}
