use jiff::civil::{date, time};
use proptest::prelude::*;

use super::*;

fn of(cell: &str) -> Option<(Option<Date>, f64)> {
    ClockTime::parse(cell).map(|time| (time.date, time.second))
}

#[test]
fn clock_times_of_iso_8601_and_of_europe_are_read() {
    // Hand-worked: 05:32:00 is 5 × 3600 + 32 × 60 = 19,920 s after midnight.
    let new_year = Some(date(2019, 1, 1));
    for (cell, wanted) in [
        ("05:32:00", (None, 19_920.0)),
        ("5:32:00", (None, 19_920.0)),
        ("05:32:00.25", (None, 19_920.25)),
        ("05:32:00,25", (None, 19_920.25)),
        ("05:32:00Z", (None, 19_920.0)),
        ("05:32:00 UTC", (None, 19_920.0)),
        ("5:32:00 PM", (None, 63_120.0)),
        ("12:00:00 am", (None, 0.0)),
        ("2019-01-01T05:32:00Z", (new_year, 19_920.0)),
        ("2019-01-01 05:32:00", (new_year, 19_920.0)),
        ("2019/01/01 05:32:00", (new_year, 19_920.0)),
        ("01.01.2019 05:32:00", (new_year, 19_920.0)),
        ("1.1.2019, 05:32:00", (new_year, 19_920.0)),
        ("20190101T05:32:00", (new_year, 19_920.0)),
        // Half past one in a zone one hour east of UTC is half past midnight.
        ("2019-01-01T01:30:00+01:00", (new_year, 1_800.0)),
        ("2019-01-01T00:30:00+01:00", (new_year, -1_800.0)),
    ] {
        assert_eq!(of(cell), Some(wanted), "{cell}");
    }
    for cell in [
        "",
        "5",
        "05:32",
        "25:00:00",
        "05:61:00",
        "05:32:00:00",
        "13:00:00 pm",
        "1/2/2019 05:32:00",
        "32.01.2019 05:32:00",
        "01.01.19 05:32:00",
        "2019-02-29 05:32:00",
        "05:32:00 MEZ",
        "2019-01-01",
        "::",
        "T::",
        "05:32:0x",
    ] {
        assert_eq!(of(cell), None, "{cell}");
    }
}

fn column(cells: &[&str], notation: Notation) -> (Vec<f64>, ClockColumn) {
    let mut column = ClockColumn::default();
    let seconds = cells
        .iter()
        .map(|cell| column.read(cell, notation).unwrap().unwrap());
    (seconds.collect(), column)
}

#[test]
fn times_count_from_the_first_and_run_over_midnight() {
    let (seconds, found) = column(
        &[
            "23:59:58.5",
            "23:59:59.5",
            "00:00:01",
            "00:00:00",
            "11:00:00",
            "22:00:00",
            "00:00:01",
        ],
        Notation::Number,
    );
    // From 23:59:58: eleven o'clock is 11 h and 2 s later, 00:00:01 a day and 3 s.
    assert_eq!(seconds, [0.5, 1.5, 3.0, 2.0, 39_602.0, 79_202.0, 86_403.0]);
    assert_eq!(found.time_of_day(), Some(time(23, 59, 58, 0)));
    assert_eq!(found.start(), None);
    let (seconds, found) = column(
        &["2019-12-31T23:59:58Z", "2020-01-01T00:00:01Z"],
        Notation::Clock,
    );
    assert_eq!(seconds, [0.0, 3.0]);
    assert_eq!(found.start(), Some(date(2019, 12, 31).at(23, 59, 58, 0)));
    assert_eq!(found.time_of_day(), None);
    let (seconds, _) = column(&["20190101T053200Z", "20190101T053201Z"], Notation::Number);
    assert_eq!(seconds, [0.0, 1.0]);
    // The zone moves the first to the day before.
    let (_, found) = column(&["2019-01-01T00:30:00+01:00"], Notation::Number);
    assert_eq!(found.start(), Some(date(2018, 12, 31).at(23, 30, 0, 0)));
}

#[test]
fn two_parts_need_a_unit_and_kinds_are_not_mixed() {
    assert_eq!(
        column(&["05:32", "05:33"], Notation::HoursMinutes).0,
        [0.0, 60.0]
    );
    let (seconds, found) = column(&["00:05", "83:20.5"], Notation::MinutesSeconds);
    assert_eq!(seconds, [5.0, 5000.5]);
    assert!(!found.is_clock());
    let mut two = ClockColumn::default();
    let refused = two.read("05:32", Notation::Number).unwrap().unwrap_err();
    assert!(refused.contains("unit = \"hh:mm\""), "{refused}");
    let mut mixed = ClockColumn::default();
    assert_eq!(mixed.read("5", Notation::Number), None);
    assert!(mixed.read("05:32:00", Notation::Number).unwrap().is_err());
    let (_, mut dated) = column(&["2019-01-01T05:32:00Z"], Notation::Number);
    for cell in ["05:32:01", "7"] {
        assert!(
            dated.read(cell, Notation::Number).unwrap().is_err(),
            "{cell}"
        );
    }
}

proptest! {
    #[test]
    fn any_cell_is_read_or_refused(cells in prop::collection::vec("[-0-9:.,TtZ+ apmé/]{0,24}", 0..6)) {
        for notation in [Notation::Number, Notation::Clock, Notation::HoursMinutes, Notation::MinutesSeconds] {
            let mut column = ClockColumn::default();
            for cell in &cells {
                if let Some(Ok(seconds)) = column.read(cell, notation) {
                    prop_assert!(seconds.is_finite());
                }
            }
            let _ = (column.start(), column.time_of_day());
        }
    }

    /// Seconds written as a clock are the same seconds again, over any midnight.
    #[test]
    fn a_clock_that_was_written_is_read(start in 0_i32..86_400, steps in prop::collection::vec(0_i32..40_000, 1..6)) {
        let mut column = ClockColumn::default();
        let mut at = 0;
        for step in std::iter::once(0).chain(steps) {
            at += step;
            let of_day = (start + at) % 86_400;
            let cell = format!("{:02}:{:02}:{:02}", of_day / 3600, of_day / 60 % 60, of_day % 60);
            let read = column.read(&cell, Notation::Number).unwrap().unwrap();
            prop_assert_eq!(read, f64::from(at));
        }
    }
}
