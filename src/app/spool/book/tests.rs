//! The figures of a month from a book that was written by hand.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test stops at the first fault"
)]

use std::fs;

use proptest::prelude::*;

use super::{Book, Line, Share, Spread, days, summary};
use crate::input::sheet::Schedule;

/// Invented: a month of a station with two flights a day, worked out by hand.
const BOOK: &str = "\
no,at,event,input,issue,standard_time,release,after_min,in_time,top_hpa,top_gpm,levels,warnings,notes,departure,outside,ended_by,refused,why
1,2031-02-01T01:10:00Z,flight,a.csv,x_203102010000_temp,2031-02-01T00:00:00Z,2031-01-31T23:20:00Z,70,true,8.1,32000,60,0,2,0.9,0,1,,
2,2031-02-01T13:20:00Z,early,b.csv,x_203102011200_temp-to100,2031-02-01T12:00:00Z,2031-02-01T11:20:00Z,80,true,100,16000,30,0,2,0.9,0,,,
3,2031-02-01T13:50:00Z,flight,b.csv,x_203102011200_temp,2031-02-01T12:00:00Z,2031-02-01T11:20:00Z,110,true,30,24000,50,1,2,1.2,3,1,,
4,2031-02-02T01:10:00Z,refused,c.csv,,,,,,,,,,,,,,profile,c.csv:7: no
5,2031-02-02T02:30:00Z,nil,,x_203102020000_temp-nil,2031-02-02T00:00:00Z,,150,true,,,,,,,,,,
6,2031-02-02T04:00:00Z,flight,c.csv,x_203102020000_temp_RRA,2031-02-02T00:00:00Z,2031-02-01T23:20:00Z,240,false,30.1,23900,50,0,2,0.8,0,13,,
7,2031-02-02T04:01:00Z,same,c.csv,,,,,,,,,,,,,,,the same octets
8,2031-02-02T07:00:00Z,flight,d.csv,x_203102020600_temp,2031-02-02T06:00:00Z,2031-02-02T05:20:00Z,60,,250,10000,20,0,0,0.5,0,,,
9,2031-03-01T00:40:00Z,flight,e.csv,x_203103010000_temp,2031-03-01T00:00:00Z,2031-02-28T23:20:00Z,40,true,9,31000,60,0,0,0.5,0,1,,
";

fn of(count: usize, of: usize) -> Share {
    Share { count, of }
}

#[test]
fn the_figures_of_a_month() {
    let out = tempfile::tempdir().unwrap();
    fs::create_dir(out.path().join("spool")).unwrap();
    fs::write(out.path().join("spool/book.csv"), BOOK).unwrap();
    let schedule = Schedule {
        hours: vec![0, 12],
        ..Schedule::default()
    };
    let month = summary(out.path(), "2031-02", &schedule).unwrap();
    // February 2031 has 28 days: 56 scheduled times, three of them with a flight.
    assert_eq!(month.reported, Some(of(3, 56)));
    assert_eq!((month.flights, month.early, month.nil), (4, 1, 1));
    assert_eq!(month.in_time, of(2, 3));
    assert_eq!(month.reached_100_hpa, of(3, 4));
    // 30 hPa is reached at 30, not at 30.1.
    assert_eq!(month.reached_30_hpa, of(2, 4));
    assert_eq!(month.reached_10_hpa, of(1, 4));
    assert_eq!(month.within_limits, of(3, 4));
    assert_eq!(
        month.refused.into_iter().collect::<Vec<_>>(),
        [("profile".to_owned(), 1)]
    );
    let ended: Vec<(String, usize)> = month.ended_by.into_iter().collect();
    assert_eq!(ended.len(), 3);
    assert_eq!(ended[0], ("balloon burst".to_owned(), 2));
    // Without a schedule nothing is said of it.
    let month = summary(out.path(), "2031-03", &Schedule::default()).unwrap();
    assert_eq!((month.reported, month.flights), (None, 1));
    insta::assert_snapshot!(summary(out.path(), "2031-02", &schedule).unwrap());
}

#[test]
fn a_month_is_a_year_and_a_month() {
    // 2032 is a leap year.
    assert_eq!(
        (days("2031-02"), days("2032-02"), days("2031-12")),
        (Some(28), Some(29), Some(31))
    );
    for wrong in ["2031", "2031-13", "31-02", "2031-2", "2031-02-01", "", "-"] {
        assert_eq!(days(wrong), None, "{wrong}");
    }
}

#[test]
fn a_share_is_rounded_to_tenths() {
    assert_eq!(of(2, 3).to_string(), "2 of 3 (66.7 %)");
    assert_eq!(of(1, 16).to_string(), "1 of 16 (6.3 %)");
    assert_eq!(of(0, 0).to_string(), "0 of 0");
}

#[test]
fn a_torn_line_goes_and_a_wrong_one_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.csv");
    fs::write(&path, &BOOK[..BOOK.len() - 20]).unwrap();
    let mut book = Book::open(path.clone()).unwrap();
    assert_eq!(book.last, 8);
    book.add(8, &Line::default()).unwrap();
    book.add(9, &Line::default()).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    // A book of fewer columns is written anew with those of today.
    let blank = format!("\n9{}\n", ",".repeat(25));
    assert!(text.ends_with(&blank), "{text}");
    assert!(text.starts_with("no,at,event,") && text.contains(",dry_humidity_pct\n1,"));
    fs::write(&path, BOOK.replace("8.1,", "high,")).unwrap();
    let error = Book::open(path).err().unwrap().to_string();
    assert!(error.contains("book.csv:2: "), "{error}");
}

proptest! {
    #[test]
    fn any_octets_are_read_or_refused(octets in prop::collection::vec(any::<u8>(), 0..300)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("book.csv");
        fs::write(&path, &octets).unwrap();
        if let Ok(mut book) = Book::open(path.clone()) {
            let no = book.last.saturating_add(1);
            book.add(no, &Line::default()).unwrap();
        } else {
            let kept = fs::read(&path).unwrap();
            prop_assert!(octets.starts_with(&kept));
        }
    }
}

/// By hand: −0.1, 0.2 and 0.5 have the mean 0.2 and the deviation √(0.18 / 2) = 0.3.
#[test]
fn a_batch_has_mean_and_deviation() {
    let spread = |values: &[f64]| Spread::of(values.iter().copied());
    let found = spread(&[-0.1, 0.2, 0.5]).unwrap();
    assert_eq!(
        (found.count, found.mean, found.deviation),
        (3, 0.2, Some(0.3))
    );
    assert_eq!(found.to_string(), "+0.20 ± 0.30");
    assert_eq!(spread(&[-1.0]).unwrap().to_string(), "-1.00");
    assert_eq!(spread(&[]), None);
}
