//! Any octets as BUFR: read, listed and looked for; what is read is written and
//! read the same.
#![no_main]

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Layout, Value};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|octets: &[u8]| {
    for framed in bufr::frames(octets) {
        assert!(octets.get(framed.offset..) == Some(framed.bytes));
    }
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
