//! Any text as a message: read or refused; what is read is written the same
//! and, where its values can be coded, stands for itself.
#![no_main]

use fivefig::forms::text;
use fivefig::forms::text::message;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let Ok(read) = text::parse(text) else { return };
    assert_eq!(text::parse(&read.to_string()).as_ref(), Ok(&read));
    let _ = message(&read.report());
});
