//! What fails, and what is found torn: nothing is lost and nothing goes out twice.

use super::*;
use crate::spool::status::Health;

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
    // Told once.
    assert_eq!(events(&log), ["flight", "failed"]);
    let mut say = |_: &Said| {};
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
    let told = events(&log);
    assert_eq!(told.last(), Some(&"flight"));
    assert_eq!(told.iter().filter(|event| **event == "flight").count(), 1);
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
        let other = flight.replace("-15T", "-16T");
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
        ("\"version\":1", "\"version\":2", 1, "version 2"),
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
        let mut say = |_: &Said| {};
        let Err(error) = Spool::open(place.setup(), &clock, &mut say) else {
            panic!("{what}");
        };
        let said = error.to_string();
        assert!(said.contains(what), "{said}");
        assert!(said.contains("journal.jsonl:"), "{said}");
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
    let mut say = |_: &Said| log += 1;
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
