//! Any bytes as flights in JSON Lines: read or refused; what is read is written as
//! a line that reads back.
#![no_main]

use fivefig::input::jsonl;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = jsonl::is_jsonl(bytes);
    let _ = jsonl::read(bytes, "fuzz", Some(2));
    let Ok((id, contents)) = jsonl::read(bytes, "fuzz", None) else {
        return;
    };
    let sheet = contents.sheet.unwrap_or_default();
    let sheet = sheet.parse().expect("a sheet that was read is TOML");
    let line = jsonl::write(&id, &sheet, &contents.raw);
    if contents
        .raw
        .rows
        .iter()
        .any(|row| row.pressure_hpa.is_some())
    {
        let (again, back) =
            jsonl::flight(line.as_bytes(), "fuzz", 1).expect("a line that was written is read");
        assert_eq!(again, id);
        assert_eq!(back.raw.rows.len(), contents.raw.rows.len());
        assert_eq!(jsonl::write(&id, &sheet, &back.raw), line);
    }
});
