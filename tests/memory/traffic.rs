//! Memory that reading of traffic and writing it as JSON take, however much there is.
//!
//! Why there is a bound: at most 4,096 reports stay open for further parts, and none for
//! longer than 32,768 parts; a document is written report by report.

use std::io;

use fivefig::forms::json::{Record, Writer};
use fivefig::forms::text::{Received, Traffic};

use crate::MEMORY;

/// How many parts fill the window of any stream.
const FILL: usize = 34_000;

/// The part of a number in a stream (invented): one of `different` reports.
fn part(number: usize, different: usize) -> String {
    let k = number % different;
    let (hour, day, station) = (k % 24, k / 24 % 31 + 1, k / (24 * 31) + 100);
    let text = match number % 16 {
        0 => "99004 04430 23006 00119 04226 22507 88999 77999",
        _ => "NIL",
    };
    format!("TTAA {day:02}{hour:02}0 99{station} {text}=")
}

/// Reads `parts` twice and writes what was read; the most memory that each half takes beyond
/// what there was before, and how many reports there were so far.
fn written(parts: usize, different: usize) -> [(usize, usize); 2] {
    let before = MEMORY.current_usage();
    let mut traffic = Traffic::new("x");
    let mut writer = Writer::default();
    let mut reports = 0;
    let mut write = |received: Vec<Received>| {
        for one in received {
            reports += 1;
            let report = one.message.report();
            let record = Record::new(&report, Some(&one.message), &one.findings, None);
            writer.write(&record, io::sink()).unwrap();
        }
        reports
    };
    [0..parts, parts..2 * parts].map(|numbers| {
        MEMORY.reset_peak_usage();
        let ends = numbers.start > 0;
        for number in numbers {
            traffic.push(&part(number, different));
            write(traffic.take());
        }
        if ends {
            traffic.finish();
        }
        let reports = write(traffic.take());
        (MEMORY.peak_usage().saturating_sub(before), reports)
    })
}

#[test]
fn memory_does_not_grow_with_the_number_of_parts() {
    let _alone = crate::alone();
    // Tables are read on first use and stay.
    let [_, (_, reports)] = written(1, 1);
    assert!(reports > 0);
    for (what, different) in [
        ("every report another", usize::MAX),
        ("reports sent again and again", 1_000),
    ] {
        let [(once, few), (later, many)] = written(FILL, different);
        println!("{what}: {once} bytes for {few} reports, {later} for {many}");
        assert!(many > few, "{what}: {few}, {many}");
        // Lists of the window double their room as they grow, some at the one number only.
        assert!(later <= once + once / 10, "{what}: {once}, {later}");
    }
}
