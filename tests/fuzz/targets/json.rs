//! Any text as a JSON document: read or refused; what is read is written and
//! read again the same.
#![no_main]

use fivefig::forms::json;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let Ok(records) = json::read(text) else {
        return;
    };
    for record in &records {
        let line = json::write_line(record).expect("a record is written");
        let again = json::read(&line).expect("what was written is read");
        assert_eq!(again.len(), 1);
    }
});
