//! Any octets as BUFR: read, listed and looked for; what is read is written and
//! read the same, and what is a sounding is a report with its text, its profile and its
//! BUFR.
#![no_main]

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Layout, Value};
use fivefig::forms::json::Record;
use fivefig::forms::{json, text};
use fivefig::verify::compare::{Tolerance, compare_forms};
use fivefig::{input, profile};
use libfuzzer_sys::fuzz_target;

/// The meaning of the values: levels, times, station, quality; then every other form.
fn soundings(octets: &[u8]) {
    let found = input::bufr::soundings(octets, "fuzz").value;
    for (number, sounding) in (1..).zip(&found) {
        let report = &sounding.report;
        let of_levels = sounding.quality.levels.len();
        assert!(of_levels == report.levels.len() || sounding.piece.is_some());
        let message = text::message(report);
        if let Ok(message) = &message {
            let again = message.value.report();
            let tolerance = Tolerance::coarser(report, &again);
            let _ = compare_forms(report, &again, &tolerance);
        }
        let message = message.ok().map(|m| m.value);
        let record = Record::new(report, message.as_ref(), &sounding.findings, None);
        let record = record.with_quality(sounding.quality.clone());
        // Values that a report cannot hold are refused when the document is read.
        if let Ok(document) = json::write(vec![record]) {
            let _ = json::read(&document).map(|records| records.first().map(|r| r.report(1)));
        }
        if let Ok(written) = bufr::write(report) {
            let again = input::bufr::soundings(&written.value, "again").value;
            assert!(again.len() == 1, "{}", again.len());
        }
        if let Ok((flight, _)) = input::bufr::read(octets, "fuzz", Some(number)) {
            let _ = profile::build(&flight.raw, &flight.report.context);
        }
    }
}

fuzz_target!(|octets: &[u8]| {
    for framed in bufr::frames(octets) {
        assert!(octets.get(framed.offset..) == Some(framed.bytes));
    }
    soundings(octets);
    let read = bufr::read(octets);
    let listed = bufr::dump(octets);
    assert_eq!(read.is_ok(), listed.is_ok());
    let Ok(received) = read else {
        return;
    };
    assert!(received.octets <= octets.len());
    let message = received.message;
    assert!(Layout::new(&message.template, 0).is_ok());
    // Texts of zero octets inside or of octets above 127 are no plain text.
    let plain = |value: &Value| match value {
        Value::Text(text) => text.chars().all(|c| matches!(c, ' '..='~')),
        _ => true,
    };
    if message.values.iter().flatten().all(plain) {
        // Compressed, many subsets may stand in few octets: the length says no.
        match message.encode() {
            Ok(octets) => {
                let again = bufr::read(&octets).map(|r| r.message);
                assert_eq!(again.as_ref(), Ok(&message));
            }
            Err(error) => assert!(matches!(error.fault, bufr::Fault::TooLong(_)), "{error}"),
        }
    }
});
