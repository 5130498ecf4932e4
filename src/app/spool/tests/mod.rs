//! The spool over whole flights, by a clock that the test sets.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

use std::cell::{Cell, RefCell};
use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use super::clock::{Clock, Now, seconds};
use super::{LogEntry, Setup, Spool, SpoolError, Turn, month, status};
use crate::issue::folder::Name;
use crate::issue::outputs::Output;
use crate::issue::sent;
use crate::model::utc;
use crate::verify::month::Share;

mod faults;

const STATION: &str = "station.toml";

/// When the test spools begin: at the standard time of the invented flight, which was
/// released at 11:23:40.
const START: &str = "2031-01-15T12:00:00Z";

/// A clock that is set by hand.
struct Hand(Cell<Now>);

impl Hand {
    fn at(time: &str) -> Self {
        let wall_s = seconds(utc::parse(time).unwrap()).unwrap();
        let steady = Duration::from_secs(1000);
        Self(Cell::new(Now { wall_s, steady }))
    }

    /// Both clocks go on.
    fn pass(&self, s: u32) {
        let now = self.0.get();
        self.0.set(Now {
            wall_s: now.wall_s + i64::from(s),
            steady: now.steady + Duration::from_secs(s.into()),
        });
    }

    /// The clock on the wall is moved.
    fn set(&self, s: i64) {
        let now = self.0.get();
        let wall_s = now.wall_s + s;
        self.0.set(Now { wall_s, ..now });
    }
}

impl Clock for Hand {
    fn now(&self) -> Now {
        self.0.get()
    }
}

/// Folders of a station.
struct Place {
    folder: tempfile::TempDir,
    station: String,
}

/// Every nth row of the invented winter flight, and its sheet in two: what holds
/// for the station, what for the flight.
fn sample(every: usize) -> (String, String, String) {
    let rows = fs::read_to_string("samples/winter_jet.csv").unwrap();
    let (head, rows): (Vec<&str>, Vec<&str>) = rows
        .lines()
        .partition(|line| line.starts_with('#') || line.starts_with("time_s"));
    let rows = rows.iter().step_by(every).copied();
    let text: String = head
        .iter()
        .copied()
        .chain(rows)
        .flat_map(|l| [l, "\n"])
        .collect();
    let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let (station, rest) = sheet.split_once("[flight]").unwrap();
    let (flight, rest) = rest.split_once("[surface]").unwrap();
    (
        text,
        format!("{station}\n[surface]{rest}"),
        format!("[flight]{flight}"),
    )
}

impl Place {
    fn new(schedule: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let (_, station, _) = sample(60);
        fs::create_dir(folder.path().join("in")).unwrap();
        let station = format!("{station}\n[schedule]\nmax_age_h = 1000\n{schedule}\n");
        Self { folder, station }
    }

    fn watched(&self) -> PathBuf {
        self.folder.path().join("in")
    }

    fn out(&self) -> PathBuf {
        self.folder.path().join("out")
    }

    fn setup(&self) -> Setup {
        Setup {
            watched: self.watched(),
            out: self.out(),
            sheets: vec![(STATION.to_owned(), self.station.clone())],
            wanted: [Output::Text, Output::Bulletin].into(),
            form: None,
            levels: None,
            settle: Duration::from_secs(5),
            only: Vec::new(),
            alarm: Vec::new(),
        }
    }

    /// Puts a flight into the folder.
    fn put(&self, name: &str, rows: &str) {
        let (_, _, flight) = sample(60);
        self.put_with(name, rows, &flight);
    }

    fn put_with(&self, name: &str, rows: &str, sheet: &str) {
        fs::write(self.watched().join(format!("{name}.toml")), sheet).unwrap();
        fs::write(self.watched().join(format!("{name}.csv")), rows).unwrap();
    }

    /// The names in a folder, hidden ones and the spool's own left out.
    fn names(&self, folder: &str) -> Vec<String> {
        let entries = fs::read_dir(self.folder.path().join(folder)).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| !name.starts_with('.') && name != "spool")
            .collect();
        names.sort();
        names
    }

    fn bulletin(&self, issue: &str) -> String {
        fs::read_to_string(self.out().join(issue).join("bulletin.txt")).unwrap()
    }

    fn book(&self) -> String {
        fs::read_to_string(self.out().join("spool/book.csv")).unwrap()
    }
}

/// Runs a spool: what is done with it, and the words of its log.
fn run(place: &Place, clock: &Hand, work: impl FnOnce(&mut Spool<'_>)) -> Vec<LogEntry> {
    let log = RefCell::new(Vec::new());
    let mut say = |entry: &LogEntry| log.borrow_mut().push(entry.clone());
    let mut spool = Spool::open(place.setup(), clock, &mut say).unwrap();
    work(&mut spool);
    drop(spool);
    log.into_inner()
}

/// Turns until nothing is left, one second apart.
fn turns(spool: &mut Spool<'_>, clock: &Hand, count: u32) -> Turn {
    let mut all = Turn::default();
    for _ in 0..count {
        let turn = spool.turn(&|| false);
        all.done += turn.done;
        all.refused += turn.refused;
        (all.waiting, all.failed) = (turn.waiting, turn.failed);
        clock.pass(1);
    }
    all
}

fn events(log: &[LogEntry]) -> Vec<&str> {
    log.iter().map(|entry| entry.event).collect()
}

const WHOLE: &str = "0-20000-0-99011_203101151200_temp";
const EARLY: &str = "0-20000-0-99011_203101151200_temp-to100";
const NIL: &str = "0-20000-0-99011_203101151200_temp-nil";

#[test]
fn a_finished_profile_is_issued_and_moved() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let log = run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        assert_eq!(turns(spool, &clock, 5).done, 0);
        assert_eq!(turns(spool, &clock, 1).done, 1);
        assert_eq!(turns(spool, &clock, 20).done, 0);
    });
    assert_eq!(events(&log), ["flight"]);
    assert_eq!(place.names("out"), [WHOLE]);
    assert_eq!(
        place.names(&format!("out/{WHOLE}")),
        ["bulletin.txt", "sheet.toml", "text.txt"]
    );
    assert_eq!(place.names("in"), ["done", "refused"]);
    assert_eq!(place.names("in/done"), ["a.csv", "a.toml"]);
    // Nothing more after a restart.
    assert!(
        run(&place, &clock, |spool| {
            assert_eq!(turns(spool, &clock, 20), Turn::default());
        })
        .is_empty()
    );
    assert_eq!(place.book().lines().count(), 2);
}

#[test]
fn a_refused_flight_lies_beside_its_reason() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let log = run(&place, &clock, |spool| {
        place.put("a", "pressure_hpa,temperature_c\n1004,warm\n");
        place.put_with("b", &sample(60).0, "[flight]\nrelaese = 1\n");
        let turn = turns(spool, &clock, 10);
        assert_eq!((turn.done, turn.refused), (2, 2));
        // Put right and moved back, it goes out.
        let from = place.watched().join("refused/b.csv");
        fs::rename(from, place.watched().join("b.csv")).unwrap();
        fs::write(place.watched().join("b.toml"), sample(60).2).unwrap();
        let turn = turns(spool, &clock, 10);
        assert_eq!((turn.done, turn.refused), (1, 0));
    });
    assert_eq!(events(&log), ["refused", "refused", "flight"]);
    let reason =
        |name: &str| fs::read_to_string(place.watched().join("refused").join(name)).unwrap();
    assert!(
        reason("a.csv.reason.txt").starts_with("a.csv:2:2: "),
        "{}",
        reason("a.csv.reason.txt")
    );
    assert!(reason("b.csv.reason.txt").contains("relaese"));
    assert_eq!(place.names("out"), [WHOLE]);
    assert!(place.book().contains(",refused,b.csv,"));
}

#[test]
fn the_same_octets_are_issued_once_and_others_under_the_same_name_not_at_all() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, _) = sample(60);
    let log = run(&place, &clock, |spool| {
        place.put("a", &rows);
        turns(spool, &clock, 10);
        place.put("a", &rows);
        turns(spool, &clock, 10);
        place.put("a", &sample(50).0);
        assert_eq!(turns(spool, &clock, 10).refused, 1);
    });
    assert_eq!(events(&log), ["flight", "same", "refused"]);
    assert_eq!(
        place.names("in/done"),
        ["a-2.csv", "a-2.toml", "a.csv", "a.toml"]
    );
    let reason = fs::read_to_string(place.watched().join("refused/a.csv.reason.txt")).unwrap();
    assert!(
        reason.starts_with(&format!("{WHOLE}: issued already")),
        "{reason}"
    );
    assert_eq!(place.names("out"), [WHOLE]);
}

#[test]
fn an_ascent_that_goes_on_has_its_early_message_once() {
    let place = Place::new("two_messages = true");
    let clock = Hand::at(START);
    let (rows, _, _) = sample(20);
    let lines: Vec<&str> = rows.split_inclusive('\n').collect();
    let log = run(&place, &clock, |spool| {
        for count in (40..lines.len()).step_by(10) {
            // The last row is torn.
            let mut text = lines[..count].concat();
            text.truncate(text.len() - 7);
            if count == 40 {
                place.put("a", &text);
            }
            fs::write(place.watched().join("a.csv"), &text).unwrap();
            turns(spool, &clock, 1);
        }
        assert_eq!(place.names("out"), [EARLY]);
        assert_eq!(place.names("in"), ["a.csv", "a.toml", "done", "refused"]);
    });
    assert_eq!(events(&log), ["early"]);
    // A restart does not repeat it; what comes after is the whole message.
    let log = run(&place, &clock, |spool| {
        let path = place.watched().join("a.csv");
        fs::write(&path, lines[..lines.len() - 1].concat()).unwrap();
        turns(spool, &clock, 3);
        fs::write(&path, &rows).unwrap();
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["flight"]);
    assert_eq!(place.names("out"), [WHOLE, EARLY]);
    // WMO-No. 386 Part II: the same heading twice is a duplicate, so A and B are out.
    assert_eq!(letters(&place.bulletin(EARLY)), ["TTAA", "TTBB"]);
    assert_eq!(letters(&place.bulletin(WHOLE)), ["TTCC", "TTDD"]);
}

/// The letters of the parts in bulletins.
fn letters(bulletin: &str) -> Vec<&str> {
    let groups = bulletin.split_ascii_whitespace();
    groups
        .filter(|group| group.len() == 4 && group.starts_with("TT"))
        .collect()
}

/// An early message of the sample, and the whole flight with more in its sheet.
fn early_and_whole(schedule: &str, more: &str) -> (Place, Vec<String>) {
    let place = Place::new(schedule);
    let clock = Hand::at(START);
    let (rows, _, flight) = sample(20);
    let lines: Vec<&str> = rows.split_inclusive('\n').collect();
    // A row at 99.98 hPa, where the sample passes 100 hPa, and a few more.
    let above = |line: &str| {
        let p = line.split(',').nth(1).and_then(|p| p.parse::<f64>().ok());
        p.is_some_and(|p| p < 99.0)
    };
    let count = lines.iter().position(|line| above(line)).unwrap();
    let log = run(&place, &clock, |spool| {
        place.put("a", &lines[..count].concat());
        for more in 1..9 {
            let path = place.watched().join("a.csv");
            fs::write(path, lines[..count + more].concat()).unwrap();
            turns(spool, &clock, 1);
        }
        assert_eq!(place.names("out"), [EARLY]);
        place.put_with("a", &rows, &format!("{flight}{more}"));
        turns(spool, &clock, 10);
    });
    let events = events(&log).into_iter().map(str::to_owned).collect();
    (place, events)
}

/// A value at the surface that changed by more than a step of the code is a correction,
/// CCA of Part A and B, before Parts C and D under headings without BBB.
#[test]
fn what_changed_since_the_early_message_goes_out_as_its_correction() {
    let more = "\n[surface]\ntemperature_c = 3.5\n";
    let (place, events) = early_and_whole("two_messages = true", more);
    assert_eq!(events, ["early", "correction", "flight"]);
    let correction = format!("{EARLY}_CCA");
    assert_eq!(place.names("out"), [WHOLE, EARLY, &correction]);
    let text = place.bulletin(&correction);
    assert_eq!(letters(&text), ["TTAA", "TTBB"]);
    assert_eq!(text.matches("151200 CCA\r\r\n").count(), 2);
    let whole = place.bulletin(WHOLE);
    assert_eq!(letters(&whole), ["TTCC", "TTDD"]);
    assert!(!whole.contains("CCA"));
    assert_eq!(place.names("in"), ["done", "refused"]);
}

#[test]
fn a_sheet_may_want_every_part_again() {
    let more = "\n[bulletin]\nrepeat_early = true\n";
    let (place, events) = early_and_whole("two_messages = true", more);
    assert_eq!(events, ["early", "flight"]);
    assert_eq!(
        letters(&place.bulletin(WHOLE)),
        ["TTAA", "TTBB", "TTCC", "TTDD"]
    );
}

const EXPECTED: &str = "hours = [0, 12]\nlimit_min = 150\nnil = true";

#[test]
fn nil_goes_out_at_the_deadline_once_and_the_flight_late() {
    let place = Place::new(EXPECTED);
    let clock = Hand::at(START);
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 1);
        // 14:29:59
        clock.pass(2 * 3600 + 1798);
        turns(spool, &clock, 1);
        assert!(place.names("out").is_empty());
        assert_eq!(turns(spool, &clock, 5).done, 1);
    });
    assert_eq!(events(&log), ["nil"]);
    assert_eq!(place.names("out"), [NIL]);
    let nil = place.bulletin(NIL);
    // Id is `/`, there being no wind (as worked by hand in tests/forms.rs).
    for part in [
        "TTAA 1512/ 99011 NIL",
        "TTBB 1512/ 99011 NIL",
        "TTCC",
        "TTDD",
    ] {
        assert!(nil.contains(part), "{nil}");
    }
    // Not again after a restart; the flight goes out as RRA.
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 5);
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
        // Hours later there is nothing more to say.
        clock.pass(5 * 3600);
        turns(spool, &clock, 5);
    });
    assert_eq!(events(&log), ["flight"]);
    let late = format!("{WHOLE}_RRA");
    assert_eq!(place.names("out"), [NIL.to_owned(), late.clone()]);
    assert!(
        place
            .bulletin(&late)
            .contains("USXX01 XXXX 151200 RRA\r\r\n")
    );
    // What is corrected later is the late report.
    let name = Name::parse(WHOLE).unwrap();
    let earlier = sent::earlier(&place.out(), &name).unwrap().unwrap();
    assert_eq!((earlier.name, earlier.last), (late, None));
    let text = "[schedule]\nhours = [0, 12]\nlimit_min = 150\n";
    let name = "schedule";
    let sheets = [crate::input::sheet::Source { name, text }];
    let over = seconds(utc::parse("2031-02-02T00:00:00Z").unwrap()).unwrap();
    let month = month(&place.out(), "2031-01", &sheets, over).unwrap();
    assert_eq!((month.ascents, month.nil), (1, 1));
    let share = |share: Share| (share.count, share.of);
    assert_eq!(share(month.standard_times.reported), (1, 62));
    assert_eq!(share(month.punctuality.in_time), (0, 1));
    let reached: Vec<usize> = month.tops.reached.iter().map(|r| r.count).collect();
    assert_eq!(reached, [1, 1, 0]);
}

/// By hand: 150 minutes after 12 UTC it is 14:30, after 00 UTC 02:30.
#[test]
fn the_spool_says_what_it_expects_and_what_it_did() {
    let place = Place::new(EXPECTED);
    let clock = Hand::at(START);
    let expected = |place: &Place| {
        let now_s = clock.0.get().wall_s;
        let (status, _) = status(&place.out(), now_s).unwrap();
        status.expected_next.map(|next| next.to_string())
    };
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 1);
        assert_eq!(expected(&place).as_deref(), Some("12 UTC, NIL at 14:30"));
        clock.pass(150 * 60);
        turns(spool, &clock, 2);
        let next = "00 UTC on 2031-01-16, NIL at 02:30";
        assert_eq!(expected(&place).as_deref(), Some(next));
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
    });
    let out = place.out().display().to_string();
    let texts: Vec<&str> = log.iter().map(|entry| entry.text.as_str()).collect();
    assert_eq!(
        texts,
        [
            format!("NIL issued for 12 UTC, since no report had come by 14:30: {out}/{NIL}"),
            format!(
                "a.csv: report of 12 UTC issued 2 h 30 min after the standard time: {out}/{WHOLE}_RRA"
            ),
        ]
    );
}

#[test]
fn a_flight_in_time_needs_no_nil_and_one_past_the_limit_is_late_without() {
    let place = Place::new("hours = [12]\nlimit_min = 90");
    let clock = Hand::at("2031-01-15T13:29:50Z");
    run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
        assert_eq!(place.names("out"), [WHOLE]);
        let (rows, _, flight) = sample(60);
        // The flight before, half a day late.
        let before = flight
            .replace("-15T12", "-15T00")
            .replace("-15T11", "-14T23");
        place.put_with("b", &rows, &before);
        turns(spool, &clock, 10);
    });
    assert_eq!(
        place.names("out"),
        ["0-20000-0-99011_203101150000_temp_RRA", WHOLE]
    );
    let book = place.book();
    assert!(book.lines().nth(1).unwrap().contains(",89,true,"), "{book}");
    assert!(
        book.lines().nth(2).unwrap().contains(",810,false,"),
        "{book}"
    );
}

/// The flight released at 11:23:40 on 2031-01-15 by five clocks.
#[test]
fn what_is_not_released_yet_or_too_old_is_refused() {
    for (at, refused) in [
        // Of a future year, and 5 minutes and 10 seconds before the release.
        ("2026-11-26T12:00:00Z", Some("future")),
        ("2031-01-15T11:18:00Z", Some("future")),
        ("2031-01-15T11:20:00Z", None),
        ("2031-01-16T11:20:00Z", None),
        // 24 hours and a minute old, and 12 years.
        ("2031-01-16T11:24:40Z", Some("too-old")),
        ("2043-01-15T12:00:00Z", Some("too-old")),
    ] {
        let mut place = Place::new("");
        // The default: a day.
        place.station = place.station.replace("max_age_h = 1000", "");
        let clock = Hand::at(at);
        let log = run(&place, &clock, |spool| {
            place.put("a", &sample(60).0);
            turns(spool, &clock, 10);
        });
        let Some(word) = refused else {
            assert_eq!(events(&log), ["flight"], "{at}");
            continue;
        };
        assert_eq!(events(&log), ["refused"], "{at}");
        assert!(place.names("out").is_empty(), "{at}");
        assert_eq!(
            place.names("in/refused"),
            ["a.csv", "a.csv.reason.txt", "a.toml"]
        );
        let reason = fs::read_to_string(place.watched().join("refused/a.csv.reason.txt")).unwrap();
        assert!(
            reason.starts_with("flight.release: 2031-01-15T11:23:40Z is "),
            "{reason}"
        );
        assert!(place.book().contains(&format!(",{word},")), "{at}");
    }
}

/// A machine that starts without a time of its own refuses nothing by it.
#[test]
fn a_clock_that_is_not_trusted_refuses_nothing() {
    let place = Place::new("");
    let clock = Hand::at(START);
    run(&place, &clock, |spool| {
        turns(spool, &clock, 1);
    });
    let clock = Hand::at("1970-01-01T00:00:00Z");
    let set_right = seconds(utc::parse("2031-01-15T12:10:00Z").unwrap()).unwrap();
    let log = run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        let turn = turns(spool, &clock, 10);
        assert_eq!((turn.done, turn.failed), (0, true));
        clock.set(set_right);
        assert_eq!(turns(spool, &clock, 10).done, 1);
    });
    assert_eq!(events(&log), ["clock", "failed", "clock", "flight"]);
    assert_eq!(place.names("out"), [WHOLE]);
}

#[test]
fn no_nil_for_what_was_before_the_spool() {
    let place = Place::new(EXPECTED);
    let clock = Hand::at("2031-01-15T14:00:00Z");
    let log = run(&place, &clock, |spool| {
        for _ in 0..10 {
            clock.pass(600);
            turns(spool, &clock, 1);
        }
    });
    assert_eq!(events(&log), [""; 0]);
}

#[test]
fn a_clock_that_jumps_sends_no_nil_until_it_is_steady() {
    let place = Place::new(EXPECTED);
    let clock = Hand::at(START);
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 1);
        clock.set(5 * 3600);
        turns(spool, &clock, 1);
        // Set back before it was believed.
        clock.set(-5 * 3600);
        turns(spool, &clock, 400);
        assert!(place.names("out").is_empty());
        // This time it stays so.
        clock.set(5 * 3600);
        turns(spool, &clock, 299);
        assert!(place.names("out").is_empty());
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["clock", "clock", "clock", "nil"]);
    // A clock that starts in the past sends nothing.
    let log = run(&place, &Hand::at("1970-01-01T14:40:00Z"), |spool| {
        spool.turn(&|| false);
    });
    assert_eq!(events(&log), ["clock"]);
}

#[test]
fn one_spool_for_a_folder() {
    let place = Place::new("");
    let clock = Hand::at(START);
    run(&place, &clock, |_| {
        let mut say = |_: &LogEntry| {};
        let again = Spool::open(place.setup(), &clock, &mut say);
        assert!(matches!(again, Err(SpoolError::Running(_))));
        for (one, other) in [("in", "out2"), ("in2", "out")] {
            let setup = Setup {
                watched: place.folder.path().join(one),
                out: place.folder.path().join(other),
                ..place.setup()
            };
            let again = Spool::open(setup, &clock, &mut say);
            assert!(
                matches!(again, Err(SpoolError::Running(_))),
                "{one} {other}"
            );
        }
    });
    let mut say = |_: &LogEntry| {};
    for out in ["in", "in/done", "."] {
        let out = place.folder.path().join(out);
        let setup = Setup {
            out,
            ..place.setup()
        };
        let refused = Spool::open(setup, &clock, &mut say);
        assert!(matches!(refused, Err(SpoolError::Folders(..))));
    }
}

#[test]
fn a_file_waits_for_its_sheet_when_nothing_else_says_whose_it_is() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let log = RefCell::new(Vec::new());
    let mut say = |entry: &LogEntry| log.borrow_mut().push(entry.event);
    let setup = Setup {
        sheets: Vec::new(),
        ..place.setup()
    };
    let (rows, station, flight) = sample(60);
    fs::write(place.watched().join("a.csv"), rows).unwrap();
    let mut spool = Spool::open(setup, &clock, &mut say).unwrap();
    let turn = turns(&mut spool, &clock, 20);
    assert_eq!((turn.done, turn.waiting), (0, 1));
    let (now, _) = status(&place.out(), clock.now().wall_s).unwrap();
    assert_eq!(now.files[0].what, "a sheet beside it");
    fs::write(place.watched().join("a.toml"), flight + &station).unwrap();
    assert_eq!(turns(&mut spool, &clock, 10).done, 1);
    spool.end();
    assert_eq!(*log.borrow(), ["waits", "flight", "stopped"]);
    assert_eq!(place.names("out"), [WHOLE]);
}
