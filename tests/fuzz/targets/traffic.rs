//! Any text as traffic: every report is written and read the same, checked, and
//! made a profile of; what is salvaged of damaged parts is coded again from its report.
#![no_main]

use fivefig::forms::text::{Traffic, message, parse, rows_as_text};
use fivefig::model::{DepartureKind, Part};
use fivefig::verify;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    for strict in [true, false] {
        let mut traffic = Traffic::new("fuzz");
        if strict {
            traffic = traffic.strict_parts();
        }
        for line in text.lines() {
            traffic.push(line);
        }
        traffic.finish();
        for one in traffic.take() {
            let received = &one.message;
            let report = received.report();
            let again = message(&report).map(|noted| noted.value);
            for part in Part::ALL {
                let groups = again.as_ref().ok().and_then(|again| again.groups(part));
                assert_eq!(groups, received.groups(part), "{again:?}");
                let departures = received.departures(part);
                if let Some(lines) = received.lines(part)
                    && !departures.salvaged
                    && !departures.has(DepartureKind::NoTime, 1)
                {
                    let read = parse(&lines.join("\n")).map(|read| read.groups(part));
                    assert_eq!(read, Ok(received.groups(part)));
                }
            }
            let _ = one.placed("fuzz", verify::message::check(received));
            let _ = rows_as_text(&received.profile());
        }
    }
});
