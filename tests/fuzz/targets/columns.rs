//! Any bytes as text in any shape: the first octets say by which widths, names and
//! lines before the header it is read; looked through, what is shown for a sheet is
//! one.
#![no_main]

use fivefig::input::sheet::{Source, reading};
use fivefig::input::{Format, columns, text};
use fivefig::model::Reading;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let [shape, skip, first, second, rest @ ..] = bytes else {
        return;
    };
    let mut asked = Reading {
        skip_lines: usize::from(*skip % 4),
        ..Reading::default()
    };
    if shape & 1 != 0 {
        asked.widths = vec![usize::from(*first), usize::from(*second), 7];
    }
    if shape & 2 != 0 {
        asked.names = ["time_s", "pressure_hpa", "Temp [K]"]
            .map(str::to_owned)
            .to_vec();
    }
    let _ = text::read(rest, "fuzz", &asked);
    let Ok(Some(found)) = columns(rest, "fuzz", Format::Text, None, &asked) else {
        return;
    };
    if let Some(sheet) = found.sheet() {
        let file = Source {
            name: "fuzz",
            text: &sheet,
        };
        let again = reading(&[file]).expect("what is shown for a sheet is one");
        let _ = text::read(rest, "fuzz", &again);
    }
});
