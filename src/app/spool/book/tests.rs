//! A book that was written by hand.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test stops at the first fault"
)]

use std::fs;

use proptest::prelude::*;

use super::{Book, Line};

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
    let blank = format!("\n9{}\n", ",".repeat(27));
    assert!(text.ends_with(&blank), "{text}");
    assert!(
        text.starts_with("no,at,event,") && text.contains(",dry_humidity_pct,codes,released\n1,")
    );
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
