use super::*;
use jiff::civil::date;

fn errors(text: &str) -> String {
    let lines: Vec<String> = read(&[Source {
        name: "x.toml",
        text,
    }])
    .unwrap_err()
    .iter()
    .map(ToString::to_string)
    .collect();
    lines.join("\n")
}

const GOOD: &str =
    "[station]\nwmo_block = 99\nwmo_number = 7\n[flight]\nrelease = \"2031-01-15T23:20:40Z\"\n";

#[test]
fn faults_have_places() {
    assert_eq!(
        errors("[station]\nwmo_blok = 99\n"),
        "x.toml:2:1: unknown key `wmo_blok` (did you mean `wmo_block`?)"
    );
    assert_eq!(
        errors(&GOOD.replace("= 7", "= 1000")),
        "x.toml:3:14: `station.wmo_number` is 1000 (0 to 999 are allowed)"
    );
    assert_eq!(
        errors("[station]\nwmo_block = 99\nwmo_number = 7\n"),
        "flight.release: no sheet gives `flight.release`; write release = \"2031-01-15T11:23:40Z\" under [flight]"
    );
    assert_eq!(
        errors(&GOOD.replace("40Z", "40")),
        "x.toml:5:11: `flight.release` is `2031-01-15T23:20:40`; times are UTC, such as 2031-01-15T11:23:40Z"
    );
}

#[test]
fn the_standard_time_rolls_over_midnight() {
    let (sheet, findings) = read(&[Source {
        name: "x.toml",
        text: GOOD,
    }])
    .unwrap();
    assert_eq!(
        sheet.context.flight.standard_time,
        Some(date(2031, 1, 16).at(0, 0, 0, 0))
    );
    assert_eq!(findings[0].code, "standard-time-assumed");
}

#[test]
fn later_sheets_win_and_native_times_are_read() {
    let later = "[station]\nwmo_number = 8\n[flight]\nrelease = 2031-01-16T11:30:00Z\n[coding]\nwind_unit = \"kt\"\n";
    let files = [
        Source {
            name: "a",
            text: GOOD,
        },
        Source {
            name: "b",
            text: later,
        },
    ];
    let (sheet, _) = read(&files).unwrap();
    assert_eq!(
        (
            sheet.context.station.wmo_block,
            sheet.context.station.wmo_number
        ),
        (Some(99), Some(8))
    );
    assert_eq!(
        sheet.context.flight.release,
        Some(date(2031, 1, 16).at(11, 30, 0, 0))
    );
}

#[test]
fn the_schema_is_of_draft_2020_12_and_knows_the_keys() {
    let schema = schema();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    let text = schema.to_string();
    for key in [
        "wmo_block",
        "standard_time",
        "sea_temperature_c",
        "below_station",
        "from_hpa",
    ] {
        assert!(text.contains(key), "{key}");
    }
}
