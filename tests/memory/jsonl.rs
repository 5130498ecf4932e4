//! Memory that a line of JSON takes, whatever stands in it.
//!
//! Why there is a bound: sheet and columns are read where they stand, values go into
//! rows without a step between, and a row has 14 columns of 16 bytes and its number (232
//! bytes with the alignment). Of 200,000 rows that is 46 million bytes.

use fivefig::input::jsonl;

use crate::peak;

/// Bytes of memory for each byte of the line, and beside them.
const EACH: usize = 1;
const BESIDE: usize = 50_000_000;

#[test]
fn memory_follows_the_length_of_the_line() {
    let _alone = crate::alone();
    let flight = |columns: &str| format!("{{\"id\":\"A\",\"columns\":{{{columns}}}}}");
    let list =
        |value: &str, count: usize| format!("[{value}{}]", format!(",{value}").repeat(count - 1));
    let names = [
        "time_s",
        "pressure_hpa",
        "height_gpm",
        "altitude_m",
        "temperature_c",
        "humidity_pct",
        "dewpoint_c",
        "wind_dir_deg",
        "wind_speed_ms",
        "wind_u_ms",
        "wind_v_ms",
        "latitude_deg",
        "longitude_deg",
        "station_flags",
    ];
    let every = |value: &str, rows: usize| {
        let columns = names.map(|name| format!("\"{name}\":{}", list(value, rows)));
        flight(&columns.join(","))
    };
    let cases = [
        ("200,000 rows of every column", every("1", 200_000), true),
        ("the same in long figures", every("1.00000", 200_000), false),
        (
            "200,000 rows of one column",
            flight(&format!("\"time_s\":{}", list("1", 200_000))),
            true,
        ),
        (
            "600,000 rows",
            flight(&format!("\"time_s\":{}", list("1", 600_000))),
            false,
        ),
        (
            "400,000 nulls as flags",
            flight(&format!("\"station_flags\":{}", list("null", 400_000))),
            false,
        ),
        (
            "400,000 columns",
            flight(
                &(list("\"x\":[]", 400_000)
                    .trim_matches(['[', ']'])
                    .to_owned()
                    + "]"),
            ),
            false,
        ),
        (
            "nested",
            flight(&format!(
                "\"time_s\":[{}{}]",
                "[".repeat(100),
                "]".repeat(100)
            )),
            false,
        ),
        (
            "a long sheet",
            format!(
                "{{\"id\":\"A\",\"sheet\":{{\"x\":{}}},\"columns\":{{}}}}",
                list("1", 400_000)
            ),
            false,
        ),
        (
            "a long field that is not known",
            format!("{{\"id\":\"A\",\"x\":{}}}", list("1", 400_000)),
            false,
        ),
        (
            "a long name",
            format!("{{\"id\":\"{}\",\"columns\":{{}}}}", "x".repeat(10_000_000)),
            false,
        ),
    ];
    // Tables are read on first use and stay.
    let read = |line: &str| jsonl::flight(line.as_bytes(), "x", 1);
    assert!(read("{\"id\":\"A\",\"columns\":{\"time_s\":[0]}}").is_ok());
    for (what, line, good) in cases {
        assert!(line.len() <= jsonl::MAX_LINE, "{what}: {}", line.len());
        let (most, found) = peak(|| read(&line));
        let bound = EACH * line.len() + BESIDE;
        println!(
            "{what}: {} bytes, {most} of memory, {bound} allowed",
            line.len()
        );
        assert_eq!(found.is_ok(), good, "{what}");
        assert!(most <= bound, "{what}: {most} of memory, {bound} allowed");
    }
}
