//! What fails, and what is found torn: nothing is lost and nothing goes out twice.

use super::*;
use crate::app::spool::status::Health;

/// Where a folder is wanted there is a file: nothing can be moved.
#[test]
fn what_cannot_be_moved_is_issued_once_and_moved_later() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let done = place.watched().join("done");
    let log = run(&place, &clock, |spool| {
        fs::remove_dir(&done).unwrap();
        fs::write(&done, "").unwrap();
        place.put("a", &sample(60).0);
        let turn = turns(spool, &clock, 20);
        assert_eq!(turn.done, 1);
        assert!(turn.failed);
        assert_eq!(place.names("out"), [WHOLE]);
        let (now, health) = status(&place.out(), clock.now().wall_s).unwrap();
        assert_eq!(health, Health::Look);
        assert_eq!(now.problems.len(), 1, "{now}");
    });
    // GroupMeaning once.
    assert_eq!(events(&log), ["flight", "failed"]);
    let mut say = |_: &LogEntry| {};
    let refused = Spool::open(place.setup(), &clock, &mut say);
    assert!(matches!(refused, Err(SpoolError::Io { .. })));
    fs::remove_file(&done).unwrap();
    let log = run(&place, &clock, |spool| {
        let turn = turns(spool, &clock, 20);
        assert_eq!((turn.done, turn.failed), (0, false));
    });
    assert_eq!(events(&log), [""; 0]);
    assert_eq!(place.names("in/done"), ["a.csv", "a.toml"]);
    assert_eq!(place.book().lines().count(), 2);
}

#[test]
fn an_out_folder_that_is_gone_comes_back_and_nothing_is_lost() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let away = place.folder.path().join("away");
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 1);
        fs::rename(place.out(), &away).unwrap();
        place.put("a", &sample(60).0);
        let turn = turns(spool, &clock, 20);
        assert_eq!((turn.done, turn.failed), (0, true));
        assert_eq!(place.names("in"), ["a.csv", "a.toml", "done", "refused"]);
        fs::rename(&away, place.out()).unwrap();
        let turn = turns(spool, &clock, 20);
        assert_eq!((turn.done, turn.failed), (1, false));
    });
    let reported = events(&log);
    assert_eq!(reported.last(), Some(&"flight"));
    assert_eq!(
        reported.iter().filter(|event| **event == "flight").count(),
        1
    );
    assert_eq!(place.names("out"), [WHOLE]);
}

#[test]
fn a_book_that_cannot_be_written_gets_its_lines_later_and_in_order() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let book = place.out().join("spool/book.csv");
    let (rows, _, flight) = sample(60);
    run(&place, &clock, |spool| {
        fs::create_dir(&book).unwrap();
        place.put("a", &rows);
        let other = flight.replace("-15T", "-14T");
        place.put_with("b", &rows, &other);
        let turn = turns(spool, &clock, 20);
        assert_eq!((turn.done, turn.failed), (2, true));
        fs::remove_dir(&book).unwrap();
        assert!(!turns(spool, &clock, 2).failed);
    });
    let text = place.book();
    let numbers: Vec<&str> = text.lines().map(|l| l.split(',').next().unwrap()).collect();
    assert_eq!(numbers, ["no", "1", "2"]);
    assert_eq!(place.names("in/done").len(), 4);
}

/// The journal is cut at every octet: a restart then never issues again what is out,
/// and never loses what is not.
#[test]
fn a_journal_that_is_torn_anywhere() {
    let place = Place::new("");
    let clock = Hand::at(START);
    run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
    });
    let journal = place.out().join("spool/journal.jsonl");
    let whole = fs::read(&journal).unwrap();
    let issued = fs::read(place.out().join(WHOLE).join("text.txt")).unwrap();
    let first = whole.iter().position(|&b| b == b'\n').unwrap();
    let meant = first + 1 + whole[first + 1..].iter().position(|&b| b == b'\n').unwrap();
    for length in (0..whole.len())
        .step_by(7)
        .chain([first, first + 1, meant, meant + 1])
    {
        fs::write(&journal, &whole[..length]).unwrap();
        fs::remove_file(place.out().join("spool/book.csv")).ok();
        let log = run(&place, &clock, |spool| {
            assert_eq!(turns(spool, &clock, 8).done, 0, "{length}");
        });
        assert_eq!(place.names("out"), [WHOLE]);
        assert_eq!(
            fs::read(place.out().join(WHOLE).join("text.txt")).unwrap(),
            issued
        );
        assert_eq!(place.names("in/done"), ["a.csv", "a.toml"]);
        // What was meant and is there was issued.
        let known = length > meant && length <= whole.len();
        let booked = place.out().join("spool/book.csv").exists();
        assert_eq!(booked, known, "{length}: {:?}", events(&log));
    }
}

#[test]
fn a_journal_that_is_wrong_in_the_middle_is_refused() {
    let place = Place::new("");
    let clock = Hand::at(START);
    run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
    });
    let journal = place.out().join("spool/journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    for (from, to, line, what) in [
        (
            "\"step\":\"meant\"",
            "\"step\":\"mint\"",
            2,
            "unknown variant `mint`",
        ),
        ("\"version\":2", "\"version\":3", 1, "version 3"),
        (
            "{\"no\":1,\"at_s\"",
            "{\"no\":7,\"at_s\"",
            3,
            "there is no case",
        ),
    ] {
        // The last of the three: only the second step of the case is another's.
        let wrong = match line {
            3 => {
                let (head, tail) = text.split_at(text.rfind("\"step\":\"issued\"").unwrap() - 30);
                let tail = tail.replacen(from, to, 1);
                format!("{head}{tail}")
            }
            _ => text.replacen(from, to, 1),
        };
        assert_ne!(wrong, text);
        fs::write(&journal, &wrong).unwrap();
        let mut say = |_: &LogEntry| {};
        let Err(error) = Spool::open(place.setup(), &clock, &mut say) else {
            panic!("{what}");
        };
        let entry = error.to_string();
        assert!(entry.contains(what), "{entry}");
        assert!(entry.contains("journal.jsonl:"), "{entry}");
        // It is left as it is.
        assert_eq!(fs::read_to_string(&journal).unwrap(), wrong);
    }
}

/// Between what was meant and what was done the process ends: the folder decides.
#[test]
fn a_case_that_is_open_is_judged_by_the_folder() {
    let place = Place::new("");
    let clock = Hand::at(START);
    run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
    });
    let journal = place.out().join("spool/journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    let open: String = text.split_inclusive('\n').take(2).collect();
    let back = || {
        for name in ["a.csv", "a.toml"] {
            let from = place.watched().join("done").join(name);
            fs::rename(from, place.watched().join(name)).unwrap();
        }
        fs::write(&journal, &open).unwrap();
        fs::remove_file(place.out().join("spool/book.csv")).unwrap();
    };
    // It is there: not again.
    back();
    let log = run(&place, &clock, |spool| {
        assert_eq!(turns(spool, &clock, 10).done, 0);
    });
    assert_eq!(events(&log), ["recovered", "flight"]);
    assert_eq!(place.names("in/done"), ["a.csv", "a.toml"]);
    // It is not there, and half of it is hidden: again, and the half is gone.
    back();
    fs::remove_dir_all(place.out().join(WHOLE)).unwrap();
    let half = place.out().join(format!(".{WHOLE}.part0"));
    fs::create_dir(&half).unwrap();
    fs::write(half.join("text.txt"), "TTAA").unwrap();
    let log = run(&place, &clock, |spool| {
        assert!(!half.exists());
        assert_eq!(turns(spool, &clock, 10).done, 1);
    });
    assert_eq!(events(&log), ["recovered", "flight"]);
    assert_eq!(place.names("out"), [WHOLE]);
    // Another's issue of that name: this one is refused.
    back();
    fs::write(place.out().join(WHOLE).join("text.txt"), "TTAA").unwrap();
    let log = run(&place, &clock, |spool| {
        assert_eq!(turns(spool, &clock, 10).refused, 1);
    });
    assert_eq!(events(&log), ["recovered", "refused"]);
    assert_eq!(place.names("in/refused").len(), 3);
    // The early message, NIL and refusals are judged alike: by their names and octets.
}

/// Between the issue and the move the file grows: what is out stays, what has grown is
/// looked at anew and refused.
#[test]
fn a_file_that_grows_again_after_its_issue() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let done = place.watched().join("done");
    let (rows, _, _) = sample(60);
    let log = run(&place, &clock, |spool| {
        fs::remove_dir(&done).unwrap();
        fs::write(&done, "").unwrap();
        place.put("a", &rows);
        turns(spool, &clock, 8);
        let last = rows.lines().last().unwrap();
        let more = last.replacen("17.", "16.", 1);
        place.put("a", &format!("{rows}{more}\n"));
        fs::remove_file(&done).unwrap();
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["flight", "failed", "grew", "refused"]);
    assert_eq!(place.names("out"), [WHOLE]);
    assert_eq!(place.names("in/refused").len(), 3);
}

#[test]
fn a_stop_is_heard_between_two_files() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, flight) = sample(60);
    run(&place, &clock, |spool| {
        for day in 10..15 {
            let sheet = flight.replace("-15T", &format!("-{day}T"));
            place.put_with(&format!("f{day}"), &rows, &sheet);
        }
        turns(spool, &clock, 5);
        let asked = Cell::new(0);
        let turn = spool.turn(&|| {
            asked.set(asked.get() + 1);
            asked.get() > 2
        });
        assert_eq!(turn.done, 2);
        assert_eq!(turns(spool, &clock, 1).done, 3);
    });
    assert_eq!(place.names("out").len(), 5);
}

#[test]
fn ten_thousand_files_at_the_start() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, _) = sample(60);
    let count = 10_000;
    for number in 0..count {
        let path = place.watched().join(format!("f{number:05}.csv.part"));
        fs::write(path, "x").unwrap();
    }
    run(&place, &clock, |spool| {
        place.put("a", &rows);
        assert_eq!(turns(spool, &clock, 8).done, 1);
    });
    // Renamed in, all at once; each is looked at once.
    for number in 0..count {
        let path = place.watched().join(format!("f{number:05}.csv"));
        fs::rename(path.with_extension("csv.part"), path).unwrap();
    }
    let mut log = 0;
    let mut say = |_: &LogEntry| log += 1;
    let mut spool = Spool::open(place.setup(), &clock, &mut say).unwrap();
    spool.turn(&|| false);
    clock.pass(5);
    let asked = Cell::new(0);
    let turn = spool.turn(&|| {
        asked.set(asked.get() + 1);
        asked.get() > 200
    });
    assert_eq!((turn.done, turn.refused), (200, 200));
    assert_eq!(turn.waiting, count - 200);
    let (now, _) = status(&place.out(), clock.now().wall_s).unwrap();
    assert_eq!((now.waiting, now.files.len()), (count - 200, 20));
    drop(spool);
    assert_eq!(log, 200);
}

#[test]
fn no_early_message_after_the_whole_one_or_of_a_file_that_came_whole() {
    let place = Place::new("two_messages = true");
    let clock = Hand::at(START);
    let (rows, _, _) = sample(60);
    let lines: Vec<&str> = rows.split_inclusive('\n').collect();
    let log = run(&place, &clock, |spool| {
        place.put("a", &rows);
        turns(spool, &clock, 10);
        assert_eq!(place.names("out"), [WHOLE]);
        // The same again, then one that grows: both are known by name.
        place.put("b", &rows);
        turns(spool, &clock, 2);
        place.put("c", &lines[..lines.len() - 4].concat());
        turns(spool, &clock, 2);
        place.put("c", &lines[..lines.len() - 1].concat());
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["flight", "same", "refused"]);
    assert_eq!(place.names("out"), [WHOLE]);
}

#[test]
fn an_early_message_waits_for_the_whole_sheet() {
    let place = Place::new("two_messages = true");
    let clock = Hand::at(START);
    let (rows, _, flight) = sample(20);
    let lines: Vec<&str> = rows.split_inclusive('\n').collect();
    let log = run(&place, &clock, |spool| {
        // The sheet grows too: its last key is not there yet.
        let half = flight.replace("termination = 1\n", "");
        for (count, sheet) in [(200, &half), (210, &half), (220, &flight), (230, &flight)] {
            place.put_with("a", &lines[..count].concat(), sheet);
            turns(spool, &clock, 2);
        }
        assert!(place.names("out").is_empty());
        for count in 231..236 {
            fs::write(place.watched().join("a.csv"), lines[..count].concat()).unwrap();
            turns(spool, &clock, 1);
        }
    });
    assert_eq!(events(&log), ["early"]);
    let sheet = fs::read_to_string(place.out().join(EARLY).join("sheet.toml")).unwrap();
    assert!(sheet.contains("termination = 1"));
}

/// Who picks issues up may take them away: the journal still knows them.
#[test]
fn an_issue_that_was_taken_away_is_out_all_the_same() {
    let place = Place::new("hours = [12]\nlimit_min = 150\nnil = true");
    let clock = Hand::at(START);
    let away = place.folder.path().join("away");
    run(&place, &clock, |spool| {
        place.put("a", &sample(60).0);
        turns(spool, &clock, 10);
        fs::rename(place.out().join(WHOLE), away).unwrap();
    });
    let log = run(&place, &clock, |spool| {
        place.put("b", &sample(50).0);
        turns(spool, &clock, 10);
        clock.pass(5 * 3600);
        turns(spool, &clock, 5);
    });
    assert_eq!(events(&log), ["refused"]);
    assert!(place.names("out").is_empty());
}

/// Something else stands at the name of an issue: that flight is refused, others go out.
#[cfg(unix)]
#[test]
fn what_stands_at_the_name_of_an_issue_holds_up_nothing_else() {
    for link in [true, false] {
        let place = Place::new("");
        let clock = Hand::at(START);
        fs::create_dir_all(place.out()).unwrap();
        let there = place.out().join(WHOLE);
        match link {
            true => std::os::unix::fs::symlink("../nowhere", &there).unwrap(),
            false => fs::write(&there, "").unwrap(),
        }
        let (rows, _, flight) = sample(60);
        let log = run(&place, &clock, |spool| {
            place.put("a", &rows);
            place.put_with("b", &rows, &flight.replace("-15T", "-14T"));
            assert_eq!(turns(spool, &clock, 10).done, 2);
        });
        assert_eq!(events(&log), ["refused", "flight"], "{link}");
        let journal = fs::read_to_string(place.out().join("spool/journal.jsonl")).unwrap();
        assert!(journal.lines().count() < 8, "{journal}");
    }
}

#[test]
fn a_lock_that_is_taken_away_stops_the_work() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let log = run(&place, &clock, |spool| {
        fs::remove_file(place.watched().join(".fivefig-spool.lock")).unwrap();
        place.put("a", &sample(60).0);
        let turn = turns(spool, &clock, 20);
        assert_eq!((turn.done, turn.failed), (0, true));
    });
    assert_eq!(events(&log), ["failed"]);
    assert!(place.names("out").is_empty());
}

/// The sheet has moved, the profile has not, and another flight comes under its name.
#[test]
fn another_flight_under_the_name_of_a_half_moved_one_is_not_swallowed() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, flight) = sample(60);
    run(&place, &clock, |spool| {
        place.put("a", &rows);
        turns(spool, &clock, 10);
    });
    let journal = place.out().join("spool/journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    let open: Vec<&str> = text
        .lines()
        .filter(|line| !line.contains("\"moved\""))
        .collect();
    fs::write(&journal, open.join("\n") + "\n").unwrap();
    fs::remove_file(place.watched().join("done/a.csv")).unwrap();
    fs::write(place.watched().join("a.csv"), sample(50).0).unwrap();
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 10);
        // It waits for its own sheet, and goes out with it.
        fs::write(
            place.watched().join("a.toml"),
            flight.replace("-15T", "-14T"),
        )
        .unwrap();
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["grew", "waits", "flight"]);
    assert_eq!(place.names("out").len(), 2);
    assert_eq!(place.names("in"), ["done", "refused"]);
}

#[test]
fn names_that_are_long_or_shared_are_distinguished() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let refused = place.watched().join("refused");
    let long = "x".repeat(246);
    let log = run(&place, &clock, |spool| {
        fs::write(place.watched().join(format!("{long}.csv")), "x\n1\n").unwrap();
        fs::write(place.watched().join(format!("{long}.toml")), "").unwrap();
        turns(spool, &clock, 10);
        // Two of one stem, while nothing can be moved.
        fs::rename(&refused, place.watched().join("other")).unwrap();
        fs::write(&refused, "").unwrap();
        for name in ["a.csv", "a.txt", "a.toml"] {
            fs::write(place.watched().join(name), "x\n1\n").unwrap();
        }
        turns(spool, &clock, 10);
        fs::remove_file(&refused).unwrap();
        turns(spool, &clock, 10);
    });
    assert_eq!(
        log.iter().filter(|entry| entry.event == "refused").count(),
        3
    );
    let left = place.names("in");
    assert!(
        left.iter().all(|name| !name.starts_with(['a', 'x'])),
        "{left:?}"
    );
    assert!(refused.join("a.csv").exists() && refused.join("a-2.txt").exists());
}

#[test]
fn a_journal_that_was_put_aside_counts_on() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, flight) = sample(60);
    run(&place, &clock, |spool| {
        place.put("a", &rows);
        turns(spool, &clock, 10);
    });
    fs::remove_file(place.out().join("spool/journal.jsonl")).unwrap();
    let log = run(&place, &clock, |spool| {
        place.put_with("b", &rows, &flight.replace("-15T", "-14T"));
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["flight"]);
    assert_eq!(place.book().lines().count(), 3);
    // Without its book nothing old is reported again, and its lines come back.
    fs::remove_file(place.out().join("spool/book.csv")).unwrap();
    let log = run(&place, &clock, |spool| {
        turns(spool, &clock, 3);
    });
    assert_eq!(events(&log), [""; 0]);
    assert_eq!(place.book().lines().count(), 2);
}

/// An alarm that hangs: the next flight goes out, and the next run gives it again.
#[cfg(unix)]
#[test]
fn an_alarm_that_hangs_holds_up_no_issue_and_is_not_lost() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, flight) = sample(60);
    let (hang, reported) = (
        place.folder.path().join("hang"),
        place.folder.path().join("told"),
    );
    fs::write(&hang, "").unwrap();
    let script = format!(
        "test -e {out}/spool/status.json && echo \"$2\" >> {reported}; test -e {hang} && exec sleep 1000; true",
        out = place.out().display(),
        reported = reported.display(),
        hang = hang.display(),
    );
    let setup = || Setup {
        alarm: ["/bin/sh", "-c", &script, "sh"].map(Into::into).into(),
        ..place.setup()
    };
    let heard = || fs::read_to_string(&reported).unwrap_or_default();
    let mut say = |_: &LogEntry| {};
    let mut spool = Spool::open(setup(), &clock, &mut say).unwrap();
    place.put("a", &rows);
    assert_eq!(turns(&mut spool, &clock, 10).done, 1);
    while heard().is_empty() {
        std::thread::sleep(Duration::from_millis(10));
    }
    // The first one hangs, the status is there, and the second flight goes out.
    place.put_with("b", &rows, &flight.replace("-15T", "-14T"));
    assert_eq!(turns(&mut spool, &clock, 10).done, 1);
    assert_eq!(place.names("out").len(), 2);
    assert_eq!(spool.turn(&|| false).alarms, 2);
    spool.end();
    let first = format!("{}\n", place.out().join(WHOLE).display());
    assert_eq!(heard(), first);
    // Both are given by the next run, in their order.
    fs::remove_file(&hang).unwrap();
    let mut spool = Spool::open(setup(), &clock, &mut say).unwrap();
    while !spool.turn(&|| false).is_idle() {
        std::thread::sleep(Duration::from_millis(10));
    }
    spool.end();
    let second = place.out().join(WHOLE.replace("0115", "0114"));
    assert_eq!(heard(), format!("{first}{first}{}\n", second.display()));
    // And not once more.
    let mut spool = Spool::open(setup(), &clock, &mut say).unwrap();
    assert!(spool.turn(&|| false).is_idle());
    spool.end();
    assert_eq!(heard().lines().count(), 3);
}

/// A clock that does something when it is looked at for the so-manieth time.
struct Doing<'a> {
    hand: &'a Hand,
    left: Cell<u32>,
    work: &'a dyn Fn(),
}

impl Clock for Doing<'_> {
    fn now(&self) -> Now {
        let left = self.left.get();
        self.left.set(left.saturating_sub(1));
        if left == 1 {
            (self.work)();
        }
        self.hand.0.get()
    }
}

/// A file is finished and grows all the same, at every moment of the turn that issues it
/// at which the clock is looked at. What goes out is the whole file, or went out before
/// it grew, and then that is reported.
#[test]
fn a_file_that_grows_while_it_is_coded_is_looked_at_again() {
    let (rows, _, _) = sample(60);
    let lines: Vec<&str> = rows.split_inclusive('\n').collect();
    let (mut again, mut whole) = (0, String::new());
    // 0: it does not grow, being whole from the beginning.
    for moment in 0..10 {
        let place = Place::new("");
        let clock = Hand::at(START);
        let path = place.watched().join("a.csv");
        let grow = || {
            if path.exists() {
                fs::write(&path, &rows).unwrap();
            }
        };
        let doing = Doing {
            hand: &clock,
            left: Cell::new(0),
            work: &grow,
        };
        let log = RefCell::new(Vec::new());
        let mut say = |entry: &LogEntry| log.borrow_mut().push(entry.event);
        let mut spool = Spool::open(place.setup(), &doing, &mut say).unwrap();
        let first = match moment {
            0 => rows.clone(),
            _ => lines[..lines.len() - 20].concat(),
        };
        place.put("a", &first);
        turns(&mut spool, &clock, 5);
        doing.left.set(moment);
        let turn = spool.turn(&|| false);
        doing.left.set(0);
        turns(&mut spool, &clock, 20);
        drop(spool);
        let text = fs::read_to_string(place.out().join(WHOLE).join("text.txt")).unwrap();
        if moment == 0 {
            whole = text;
            continue;
        }
        let grew = log.borrow().contains(&"grew") || !path.exists() && turn.done == 1;
        assert!(text == whole || grew, "{moment}: {:?}", log.borrow());
        if turn.done == 0 {
            assert_eq!(text, whole, "{moment}");
            again += 1;
        }
    }
    assert!(again >= 2, "{again}");
}

/// Names that would write on a terminal, or a line of their own into the log.
#[cfg(unix)]
#[test]
fn names_with_control_characters_are_escaped() {
    let place = Place::new("");
    let clock = Hand::at(START);
    let (rows, _, _) = sample(60);
    let good = "a\n2031-01-15T12:00:00Z info: b\u{1b}[2J";
    let log = run(&place, &clock, |spool| {
        place.put(good, &rows);
        place.put_with("c\u{7}", "x\n1\n", "[flight\n");
        fs::create_dir_all(place.folder.path().join("x")).unwrap();
        std::os::unix::fs::symlink("x", place.watched().join("l\u{1b}")).unwrap();
        turns(spool, &clock, 10);
    });
    assert_eq!(events(&log), ["passed-over", "flight", "refused"]);
    for entry in &log {
        let odd = |c: char| c.is_control() && !(entry.event == "refused" && c == '\n');
        assert!(!entry.text.contains(odd), "{:?}", entry.text);
    }
    assert!(
        log[1]
            .text
            .starts_with("a\\n2031-01-15T12:00:00Z info: b\\u{1b}[2J.csv: ")
    );
    assert_eq!(log[1].input.as_deref(), Some(&*format!("{good}.csv")));
    // Nor does such a name leave the comment that it stands in.
    let sheet = fs::read_to_string(place.out().join(WHOLE).join("sheet.toml")).unwrap();
    let first = "# sheet for the profile a\\n2031-01-15T12:00:00Z info: b\\u{1b}[2J.csv";
    assert_eq!(sheet.lines().next(), Some(first));
    assert!(sheet.parse::<toml::Table>().is_ok());
}
