//! Any bytes as a station file: read or refused; its sheet is one, and what is
//! read is written as rows that read back.
#![no_main]

use fivefig::input::{RawRow, igra, text};
use fivefig::model::Reading;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = igra::is_igra(bytes);
    for number in [None, Some(1)] {
        let Ok(contents) = igra::read(bytes, "fuzz", number) else {
            continue;
        };
        assert!(contents.sheet.is_some());
        if let Some(rows) = text::write(&contents.raw) {
            let back = text::read(rows.as_bytes(), "fuzz", &Reading::default())
                .expect("rows that were written are read")
                .value;
            let plain = |row: &RawRow| RawRow {
                line: 0,
                ..row.clone()
            };
            assert!(
                back.rows
                    .iter()
                    .map(plain)
                    .eq(contents.raw.rows.iter().map(plain))
            );
        }
    }
});
