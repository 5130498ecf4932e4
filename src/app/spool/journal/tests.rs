//! Any octets are a journal or refused, and what was written is read again.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test stops at the first fault"
)]

use std::fs;

use proptest::prelude::*;

use super::{Entry, Input, Journal, Kind, Meant, Step};
use crate::app::spool::book::Line;

fn meant(kind: Kind, number: u64) -> Meant {
    let moves = matches!(kind, Kind::Flight | Kind::Refused | Kind::Same);
    Meant {
        kind,
        input: moves.then(|| Input {
            profile: format!("{number}.csv"),
            sheet: None,
            digest: format!("{number:064x}"),
            alone: String::new(),
            folder: "done".to_owned(),
            name: format!("{number}.csv"),
        }),
        issue: kind
            .issues()
            .then(|| format!("x_2031011512{:02}_temp", number % 60)),
        content: None,
        reason: None,
        alarm: number.is_multiple_of(2),
        line: Line {
            top_hpa: Some(10.5),
            why: "a \"word\"\n".to_owned(),
            ..Line::default()
        },
    }
}

fn kinds() -> impl Strategy<Value = Kind> {
    prop_oneof![
        Just(Kind::Flight),
        Just(Kind::Early),
        Just(Kind::Nil),
        Just(Kind::Refused),
        Just(Kind::Same),
    ]
}

proptest! {
    #[test]
    fn any_octets_are_read_or_refused(octets in prop::collection::vec(any::<u8>(), 0..400)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("journal");
        fs::write(&path, &octets).unwrap();
        if Journal::open(path.clone(), 5, 0).is_ok() {
            // What was kept is whole lines.
            let kept = fs::read(&path).unwrap();
            prop_assert!(kept.ends_with(b"\n"));
        } else {
            prop_assert_eq!(fs::read(&path).unwrap(), octets);
        }
    }

    /// However far each case came: a journal that is read again stands where it stood.
    #[test]
    fn what_was_written_is_read_again(cases in prop::collection::vec((kinds(), 0..4_u8), 0..12)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("journal");
        let mut journal = Journal::open(path.clone(), 5, 0).unwrap();
        for (number, (kind, steps)) in (1..).zip(cases) {
            let no = journal.mean(number, meant(kind, number.unsigned_abs())).unwrap();
            let all = match kind.issues() {
                true => [Step::Issued, Step::Moved, Step::Alarmed],
                false => [Step::Moved, Step::Alarmed, Step::Alarmed],
            };
            for step in all.into_iter().take(steps.into()) {
                journal.step(no, number, step).unwrap();
            }
        }
        let (cases, out) = (journal.cases.clone(), journal.out.clone());
        let (next, last) = (journal.next, journal.last_s);
        drop(journal);
        let again = Journal::open(path, 99, 0).unwrap();
        prop_assert_eq!(&again.cases, &cases);
        prop_assert_eq!(&again.out, &out);
        prop_assert_eq!((again.next, again.last_s, again.begun_s), (next, last, 5));
        prop_assert_eq!(again.torn, 0);
    }
}

#[test]
fn nothing_issued_is_forgotten_and_nothing_voided_is_remembered() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal");
    let mut journal = Journal::open(path, 5, 0).unwrap();
    let first = journal.mean(6, meant(Kind::Flight, 1)).unwrap();
    let digest = format!("{:064x}", 1);
    assert_eq!(journal.undecided(), [first]);
    assert_eq!(journal.out(&digest), None);
    journal.step(first, 7, Step::Void).unwrap();
    assert!(journal.undecided().is_empty());
    assert_eq!(journal.out(&digest), None);
    let second = journal.mean(8, meant(Kind::Flight, 1)).unwrap();
    assert!(second > first);
    journal.step(second, 9, Step::Issued).unwrap();
    journal.close(second);
    assert_eq!(journal.out(&digest), Some("x_203101151201_temp"));
    // A step of a case that is not there is a fault, not a guess.
    let error = journal.step(second, 10, Step::Moved).unwrap_err();
    assert!(error.to_string().contains("there is no case 2"), "{error}");
}

/// A journal of a number of finished cases as its lines; of two of them the steps are not all
/// there: 10 is out and not moved, of 20 it is not known whether it is out. Issues are of
/// minutes of their own.
fn long(cases: u64) -> String {
    let mut lines = String::new();
    let mut put = |no, step| {
        let entry = Entry {
            no,
            at_s: 1000 + i64::try_from(no).unwrap(),
            step,
        };
        lines += &serde_json::to_string(&entry).unwrap();
        lines += "\n";
    };
    put(0, Step::Begun { version: 1 });
    for no in 1..=cases {
        // NIL has no files and therefore no digest.
        let kind = match no % 10 {
            3 => Kind::Nil,
            4 => Kind::Refused,
            _ => Kind::Flight,
        };
        let mut meant = meant(kind, no);
        meant.alarm = true;
        if kind.issues() {
            meant.issue = Some(format!("x_{:012}_temp", 203_101_150_000 + no));
        }
        put(no, Step::Meant(Box::new(meant)));
        if no == 20 {
            continue;
        }
        if kind.issues() {
            put(no, Step::Issued);
        }
        if no == 10 {
            continue;
        }
        if kind != Kind::Nil {
            put(no, Step::Moved);
        }
        put(no, Step::Alarmed);
    }
    lines
}

#[test]
fn a_long_journal_is_made_shorter_and_forgets_no_issue() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.jsonl");
    let whole = long(4000);
    fs::write(&path, &whole).unwrap();
    // The book lacks the last three cases: they stay as they are.
    let open = || Journal::open(path.clone(), 99, 3997).unwrap();
    let same = |journal: &Journal| {
        let numbers: Vec<u64> = journal.cases.keys().copied().collect();
        assert_eq!(numbers, [10, 20, 3998, 3999, 4000]);
        assert_eq!(journal.undecided(), [20]);
        assert!(!journal.cases[&10].moved && journal.cases[&3998].moved);
        // Of 4000 cases 400 are NIL, 400 refused; of the flights one is not known to be
        // out, each of the others by its digest.
        assert_eq!((journal.issues.len(), journal.out.len()), (3599, 3199));
        let digest = |no: u64| format!("{no:064x}");
        assert_eq!(journal.out(&digest(1)), Some("x_203101150001_temp"));
        assert_eq!(journal.out(&digest(4000)), Some("x_203101154000_temp"));
        assert_eq!(journal.out(&digest(20)), None);
        assert!(journal.issues.contains("x_203101150003_temp"));
        assert_eq!(
            (journal.next, journal.begun_s, journal.last_s),
            (4001, 1000, 5000)
        );
    };
    let journal = open();
    assert!(matches!(journal.shortened, Some(Ok(_))));
    same(&journal);
    drop(journal);
    let short = fs::read_to_string(&path).unwrap();
    // One line to begin with, four of 3599 issues, 2 + 1 + 3 * 4 of cases, and the last.
    assert_eq!(short.lines().count(), 1 + 4 + 2 + 1 + 12 + 1);
    assert!(short.len() * 5 < whole.len(), "{}", short.len());
    for line in short.lines().filter(|line| line.contains("\"meant\"")) {
        assert!(whole.contains(line));
    }
    // Read again it stands where it stood, is not written anew, and is written on.
    let mut journal = open();
    assert!(journal.shortened.is_none());
    same(&journal);
    journal.step(20, 6000, Step::Void).unwrap();
    assert_eq!(journal.mean(6001, meant(Kind::Flight, 1)).unwrap(), 4001);
    drop(journal);
    let journal = open();
    assert_eq!((journal.next, journal.cases.len()), (4002, 5));
}

/// The power fails while the shorter journal is written: what there is of it is not used.
#[test]
fn a_journal_that_was_being_made_shorter_is_still_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.jsonl");
    let new = folder.path().join("journal.new");
    let whole = long(4000);
    fs::write(&path, &whole).unwrap();
    drop(Journal::open(path.clone(), 99, 4000).unwrap());
    let short = fs::read(&path).unwrap();
    for length in [0, 1, short.len() / 2, short.len() - 1, short.len()] {
        fs::write(&path, &whole).unwrap();
        fs::write(&new, &short[..length]).unwrap();
        let journal = Journal::open(path.clone(), 99, 4000).unwrap();
        assert_eq!((journal.next, journal.issues.len()), (4001, 3599));
        drop(journal);
        assert_eq!(fs::read(&path).unwrap(), short);
        assert!(!new.exists());
    }
    // It cannot be written: the journal stays as it is, and is used.
    fs::write(&path, &whole).unwrap();
    fs::create_dir(&new).unwrap();
    let journal = Journal::open(path.clone(), 99, 4000).unwrap();
    assert!(matches!(journal.shortened, Some(Err(_))));
    assert_eq!((journal.next, journal.issues.len()), (4001, 3599));
    assert_eq!(fs::read_to_string(&path).unwrap(), whole);
}
