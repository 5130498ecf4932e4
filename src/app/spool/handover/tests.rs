//! Handing over into folders, by a clock that the test sets: order, pauses, limits, and
//! what a kill at any step leaves.
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

use super::{
    Delivery, DeliveryState, Handover, HandoverError, deliveries, is_being_marked, mark, month,
};
use crate::app::spool::LogEntry;
use crate::app::spool::clock::{Clock, Machine, Now};
use crate::input::sheet::Source;
use crate::issue::folder::Name;

/// The clock of the machine, moved on by hand.
struct Hand(Cell<i64>);

impl Clock for Hand {
    fn now(&self) -> Now {
        let now = Machine::default().now();
        Now {
            wall_s: now.wall_s + self.0.get(),
            ..now
        }
    }
}

/// A folder of issues, and one that files are handed over to.
struct Place {
    folder: tempfile::TempDir,
    sheet: String,
    clock: Hand,
    log: RefCell<Vec<String>>,
}

const TARGET: &str = "[handover.hub]\nkind = \"folder\"\nfolder = \"THERE\"\n";

impl Place {
    fn new(more: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("out")).unwrap();
        let there = folder.path().join("there").display().to_string();
        Self {
            sheet: format!("{TARGET}{more}\n").replace("THERE", &there),
            folder,
            clock: Hand(Cell::new(0)),
            log: RefCell::new(Vec::new()),
        }
    }

    fn out(&self) -> PathBuf {
        self.folder.path().join("out")
    }

    fn there(&self) -> PathBuf {
        self.folder.path().join("there")
    }

    /// An issue with one bulletin, whose number ii is that of the issue.
    fn issue(&self, number: u8) -> String {
        let name = format!("0-20000-0-99011_2031011{number}1200_temp");
        let folder = self.out().join(&name);
        fs::create_dir(&folder).unwrap();
        fs::write(folder.join("bulletin.txt"), bulletin(number)).unwrap();
        // The order of issues is that of their moments.
        std::thread::sleep(Duration::from_millis(10));
        name
    }

    fn with<T>(&self, work: impl FnOnce(&mut Handover<'_>) -> T) -> T {
        let say = |entry: &LogEntry| self.log.borrow_mut().push(entry.text.clone());
        let sources = [Source {
            name: "s.toml",
            text: &self.sheet,
        }];
        let marker = self.folder.path().join("alarms").display().to_string();
        let script = format!("echo \"$1 $2\" >> {marker}");
        let alarm = ["/bin/sh", "-c", &script, "sh"].map(Into::into).into();
        let opened = Handover::open(&self.out(), &sources, alarm, &self.clock, &say);
        work(&mut opened.unwrap().unwrap())
    }

    /// Turns until nothing is on its way.
    fn settle(handover: &mut Handover<'_>) {
        for _ in 0..2000 {
            handover.turn(false);
            if handover.lanes.iter().all(|lane| lane.busy.is_none())
                && handover.alarms.waiting() == 0
            {
                let pending = handover.lanes.iter().any(|lane| {
                    let first = handover.journal.deliveries.first(&lane.target.name);
                    first.is_some_and(|one| one.problem.is_none())
                });
                if !pending {
                    return;
                }
            }
            std::thread::sleep(Duration::from_millis(2));
        }
        panic!(
            "it does not settle: {:?}",
            handover.journal.deliveries.all()
        );
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.there()).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn deliveries(&self) -> Vec<Delivery> {
        deliveries(&self.out()).unwrap()
    }

    fn journal(&self) -> String {
        fs::read_to_string(self.out().join("handover/journal.jsonl")).unwrap()
    }
}

fn bulletin(number: u8) -> String {
    format!("USXX{number:02} ABCD 151200\r\r\nTTAA 65121 99011 NIL=\r\r\n")
}

#[test]
fn issues_go_out_in_order_and_once() {
    let place = Place::new("");
    fs::create_dir(place.there()).unwrap();
    let issues = [3, 1, 2].map(|number| place.issue(number));
    place.with(Place::settle);
    place.with(Place::settle);
    let all = place.deliveries();
    let order: Vec<&str> = all.iter().map(|one| one.issue.as_str()).collect();
    assert_eq!(order, issues);
    assert!(all.iter().all(|one| one.state == DeliveryState::Accepted));
    let names = place.names();
    assert_eq!(names.len(), 3, "{names:?}");
    for (name, number) in names.iter().zip([1, 2, 3]) {
        assert!(name.starts_with(&format!("A_USXX{number:02}ABCD151200_C_ABCD_")));
        let octets = fs::read_to_string(place.there().join(name)).unwrap();
        assert_eq!(octets, bulletin(number));
    }
    assert_eq!(place.journal().matches("\"accepted\"").count(), 3);
    assert_eq!(place.journal().matches("\"attempt\"").count(), 3);
    let period = |month| crate::verify::month::Period::parse(month).unwrap();
    let handed = &month(&all, period("2031-01"))["hub"];
    assert_eq!((handed.accepted, handed.in_time, handed.of), (3, 3, 3));
    assert!(month(&all, period("2031-02")).is_empty());
    // Nothing is left staged.
    let staged = fs::read_dir(place.out().join("handover/files/hub")).unwrap();
    assert_eq!(staged.count(), 0);
}

/// 10 s, then twice as long each time, at most 600 s: by hand 10, 20, 40, 80, 160, 320,
/// 600, 600.
#[test]
fn pauses_grow_and_what_follows_waits() {
    let place = Place::new("");
    place.issue(1);
    place.issue(2);
    let attempts = |place: &Place| place.journal().matches("\"attempt\"").count();
    place.with(|handover| {
        Place::settle(handover);
        assert_eq!(attempts(&place), 1);
        for (made, pause) in (1..).zip([10, 20, 40, 80, 160, 320, 600, 600]) {
            place.clock.0.set(place.clock.0.get() + pause - 2);
            Place::settle(handover);
            assert_eq!(attempts(&place), made, "before {pause} s");
            place.clock.0.set(place.clock.0.get() + 3);
            Place::settle(handover);
            assert_eq!(attempts(&place), made + 1, "after {pause} s");
        }
    });
    // A start goes on with the pause, and with the order.
    fs::create_dir(place.there()).unwrap();
    place.with(Place::settle);
    assert!(place.names().is_empty());
    place.clock.0.set(place.clock.0.get() + 700);
    place.with(Place::settle);
    assert_eq!(place.names().len(), 2);
    let log = place.log.borrow();
    assert!(
        log.iter().any(|text| text.contains("not handed over: ") && text.ends_with("tried again in 20 s")),
        "{log:?}"
    );
    assert!(
        log.iter()
            .any(|text| text.contains("handed over, 1 file, ")),
        "{log:?}"
    );
}

#[test]
fn what_is_not_out_by_its_limit_alarms_once() {
    let place = Place::new("limit_min = 5");
    let issue = place.issue(1);
    place.with(|handover| {
        Place::settle(handover);
        assert!(!place.folder.path().join("alarms").exists());
        place.clock.0.set(302);
        Place::settle(handover);
        Place::settle(handover);
    });
    place.clock.0.set(4000);
    place.with(Place::settle);
    let alarms = fs::read_to_string(place.folder.path().join("alarms")).unwrap();
    let path = place.out().join(&issue).display().to_string();
    assert_eq!(alarms, format!("late {path}\n"));
    assert!(place.deliveries()[0].late);
    // A day later it is given up.
    place.clock.0.set(25 * 3600);
    place.with(Place::settle);
    assert_eq!(place.deliveries()[0].state, DeliveryState::GivenUp);
}

/// An attempt was written down, and the process was killed: before the file was there,
/// while it was written, and after it was in its place.
#[test]
fn an_attempt_without_an_answer_is_looked_up() {
    for (left, found, again) in [
        ("whole", true, false),
        ("tmp", false, false),
        ("", false, true),
    ] {
        let place = Place::new("");
        fs::create_dir(place.there()).unwrap();
        let issue = place.issue(7);
        place.with(|handover| {
            handover.queue().unwrap();
            let one = &handover.journal.deliveries.all()[0];
            let file = one.files[0].clone();
            match left {
                "whole" => fs::write(place.there().join(&file), bulletin(7)).unwrap(),
                "tmp" => fs::write(place.there().join(format!("{file}.tmp")), "USXX").unwrap(),
                _ => {}
            }
            let step = super::Step::Attempt { file };
            let now_s = place.clock.now().wall_s;
            handover.journal.add(now_s, "hub", &issue, step).unwrap();
        });
        place.with(Place::settle);
        assert_eq!(place.names().len(), 1, "{left}");
        let octets = fs::read_to_string(place.there().join(&place.names()[0])).unwrap();
        assert_eq!(octets, bulletin(7), "{left}");
        assert_eq!(place.journal().contains("\"found\":true"), found, "{left}");
        let log = place.log.borrow();
        let said = log.iter().any(|text| text.contains("was sent again"));
        assert_eq!(said, again, "{left}: {log:?}");
    }
}

#[test]
fn another_file_of_the_same_name_is_not_overwritten() {
    let place = Place::new("names = \"issue\"\nsend = [\"text\"]");
    fs::create_dir(place.there()).unwrap();
    let issue = place.issue(1);
    fs::write(place.out().join(&issue).join("text.txt"), "TTAA=\n").unwrap();
    let name = format!("{issue}.text.txt");
    fs::write(place.there().join(&name), "another").unwrap();
    place.with(Place::settle);
    assert_eq!(
        fs::read_to_string(place.there().join(name)).unwrap(),
        "another"
    );
    let problem = place.deliveries()[0].problem.clone().unwrap();
    assert!(
        problem.contains("another file of that name is there"),
        "{problem}"
    );
}

#[test]
fn a_running_number_names_a_file_of_messages() {
    let place = Place::new("names = \"sequence\"\nsend = [\"gts\"]");
    fs::create_dir(place.there()).unwrap();
    place.issue(1);
    place.issue(2);
    place.with(Place::settle);
    assert_eq!(place.names(), ["ABCD00000000.a", "ABCD00000001.a"]);
    let octets = fs::read(place.there().join("ABCD00000001.a")).unwrap();
    // By hand: CR CR LF 3, heading 18, CR CR LF 3, text 21.
    assert!(octets.starts_with(b"0000004501\r\r\nUSXX02 ABCD 151200\r\r\n"));
}

#[test]
fn an_issue_without_what_is_sent_has_nothing_to_hand_over() {
    let place = Place::new("send = [\"bufr-bulletin\"]");
    fs::create_dir(place.there()).unwrap();
    place.issue(1);
    place.with(Place::settle);
    assert_eq!(place.deliveries()[0].state, DeliveryState::Nothing);
    assert!(place.names().is_empty());
}

#[test]
fn what_was_sent_by_other_means_is_marked() {
    let place = Place::new("");
    place.issue(1);
    place.with(|handover| assert_eq!(handover.mark().unwrap(), 1));
    fs::create_dir(place.there()).unwrap();
    place.issue(2);
    place.with(Place::settle);
    assert_eq!(place.names().len(), 1);
    assert_eq!(place.deliveries()[0].state, DeliveryState::Marked);
}

#[test]
fn a_torn_line_goes_and_a_wrong_one_is_refused() {
    let place = Place::new("");
    fs::create_dir(place.there()).unwrap();
    place.issue(1);
    place.with(Place::settle);
    let path = place.out().join("handover/journal.jsonl");
    let text = place.journal();
    fs::write(&path, format!("{text}{{\"at_s\":1,\"tar")).unwrap();
    assert_eq!(place.deliveries().len(), 1);
    place.issue(2);
    place.with(Place::settle);
    assert_eq!(place.deliveries().len(), 2);
    fs::write(&path, format!("{text}what\n{text}")).unwrap();
    let error = deliveries(&place.out()).unwrap_err();
    let lines = text.lines().count() + 1;
    assert!(
        matches!(&error, HandoverError::Journal { line, .. } if *line == lines),
        "{error}"
    );
}

#[test]
fn two_processes_do_not_hand_over_the_same_folder() {
    let place = Place::new("");
    place.with(|_| {
        let say = |_: &LogEntry| {};
        let sources = [Source {
            name: "s.toml",
            text: &place.sheet,
        }];
        let second = Handover::open(&place.out(), &sources, Vec::new(), &place.clock, &say);
        assert!(matches!(second, Err(HandoverError::Running(_))));
    });
}

/// One issue of two is marked: by itself, where no process hands over, and beside one,
/// which takes the mark up at its next look.
#[test]
fn one_issue_is_marked_beside_a_process_that_hands_over() {
    let place = Place::new("");
    let issues = [1, 2, 3].map(|number| Name::parse(&place.issue(number)).unwrap());
    let sources = [Source {
        name: "s.toml",
        text: &place.sheet,
    }];
    let marked = |issue: &Name| mark(&place.out(), issue, &sources, &place.clock).unwrap();
    let state = |issue: &Name| {
        let all = place.deliveries();
        let own = all.iter().find(|one| one.issue == issue.to_string());
        own.map(|one| one.state)
    };
    marked(&issues[0]);
    assert_eq!(state(&issues[0]), Some(DeliveryState::Marked));
    place.with(|handover| {
        Place::settle(handover);
        assert_eq!(state(&issues[1]), Some(DeliveryState::Waiting));
        marked(&issues[1]);
        assert!(is_being_marked(&place.out(), &issues[1]));
        Place::settle(handover);
        assert_eq!(state(&issues[1]), Some(DeliveryState::Marked));
        assert!(!is_being_marked(&place.out(), &issues[1]));
    });
    // Twice is once, and the third goes out.
    marked(&issues[1]);
    assert_eq!(place.journal().matches("\"marked\"").count(), 2);
    fs::create_dir(place.there()).unwrap();
    place.clock.0.set(700);
    place.with(Place::settle);
    assert_eq!(place.names().len(), 1);
    assert_eq!(state(&issues[2]), Some(DeliveryState::Accepted));
}

/// Settled 401 days ago: one goes; what still waits for a target, and what was settled
/// within 400 days, stays line by line; and nothing goes out twice.
#[test]
fn what_was_settled_long_ago_leaves_the_journal() {
    const DAY: i64 = 86_400;
    let place = Place::new("");
    fs::create_dir(place.there()).unwrap();
    let old = place.issue(1);
    place.with(Place::settle);
    let path = place.out().join("handover/journal.jsonl");
    let mut journal = place.journal();
    let waits = place.issue(2);
    journal.push_str(&format!(
        "{{\"at_s\":1,\"target\":\"gone\",\"issue\":\"{waits}\",\"step\":\"queued\",\"files\":[\"a\"],\"issued_s\":1,\"due_s\":1}}\n"
    ));
    // Another target waits for the same issue: it stays as a whole.
    journal.push_str(&format!(
        "{{\"at_s\":1,\"target\":\"other\",\"issue\":\"{waits}\",\"step\":\"marked\",\"issued_s\":1}}\n"
    ));
    fs::write(&path, &journal).unwrap();
    place.clock.0.set(399 * DAY);
    place.with(|_| {});
    assert_eq!(place.journal(), journal);
    // What a kill left of a shorter journal does no harm.
    fs::write(path.with_extension("new"), "{\"at_s\"").unwrap();
    place.clock.0.set(401 * DAY);
    let recent = place.issue(3);
    place.with(|_| {});
    let shorter = place.journal();
    let (first, rest) = shorter.split_once('\n').unwrap();
    assert!(first.contains("\"step\":\"shortened\""), "{first}");
    assert!(!path.with_extension("new").exists());
    let left: Vec<&str> = journal.lines().filter(|l| l.contains(&waits)).collect();
    assert_eq!(rest.lines().collect::<Vec<_>>(), left);
    // The folder of the old issue changes: by its name it is none to hand over.
    fs::write(place.out().join(&old).join("note.txt"), "x").unwrap();
    place.clock.0.set(0);
    place.with(|handover| {
        handover.journal.deliveries.before_s = i64::MAX;
        Place::settle(handover);
    });
    assert_eq!(place.names().len(), 1);
    place.with(Place::settle);
    let all = place.deliveries();
    assert!(all.iter().any(|one| one.issue == recent));
}
