//! Any text as a sheet: read, or refused with places.
#![no_main]

use fivefig::input::sheet;
use fivefig::input::sheet::Source;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Err(errors) = sheet::read(&[Source { name: "fuzz", text }]) {
        assert!(!errors.is_empty());
        for error in errors {
            assert!(!error.to_string().is_empty());
        }
    }
});
