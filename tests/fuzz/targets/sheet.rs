//! Any text as a sheet: read, or refused with places.
#![no_main]

use fivefig::input::sheet;
use fivefig::input::sheet::Source;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Err(error) = sheet::read(&[Source { name: "fuzz", text }]) {
        assert!(!error.faults().is_empty());
        for fault in error.faults() {
            assert!(!fault.to_string().is_empty());
        }
    }
});
