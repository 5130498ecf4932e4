//! Any text as traffic: every report is written and read the same, checked, and
//! made a profile of.
#![no_main]

use fivefig::forms::text::{Traffic, parse, rows_as_text};
use fivefig::verify;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let mut traffic = Traffic::new("fuzz");
    for line in text.lines() {
        traffic.push(line);
    }
    traffic.finish();
    for one in traffic.take() {
        assert_eq!(parse(&one.message.to_string()).as_ref(), Ok(&one.message));
        let _ = one.placed("fuzz", verify::message::check(&one.message));
        let _ = rows_as_text(&one.message.profile());
    }
});
