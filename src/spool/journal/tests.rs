//! Any octets are a journal or refused, and what was written is read again.
#![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

use std::fs;

use proptest::prelude::*;

use super::{Input, Journal, Kind, Meant, Step};
use crate::spool::book::Line;

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
        if Journal::open(path.clone(), 5).is_ok() {
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
        let mut journal = Journal::open(path.clone(), 5).unwrap();
        for (number, (kind, steps)) in (1..).zip(cases) {
            let no = journal.mean(number, meant(kind, number.unsigned_abs())).unwrap();
            let all = match kind.issues() {
                true => [Step::Issued, Step::Moved, Step::Told],
                false => [Step::Moved, Step::Told, Step::Told],
            };
            for step in all.into_iter().take(steps.into()) {
                journal.step(no, number, step).unwrap();
            }
        }
        let (cases, out) = (journal.cases.clone(), journal.out.clone());
        let (next, last) = (journal.next, journal.last_s);
        drop(journal);
        let again = Journal::open(path, 99).unwrap();
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
    let mut journal = Journal::open(path, 5).unwrap();
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
