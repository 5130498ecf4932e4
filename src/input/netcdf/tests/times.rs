use jiff::civil::{DateTime, date};

use crate::input::netcdf::time::parse;

fn epoch(text: &str) -> Option<(f64, DateTime, f64)> {
    let unit = parse(text)?;
    unit.epoch
        .map(|(at, fraction)| (unit.seconds, at, fraction))
}

#[test]
fn reference_times_are_read_as_files_write_them() {
    let noon = date(2031, 1, 15).at(12, 0, 0, 0);
    for text in [
        "seconds since 2031-01-15 12:00:00",
        "second since 2031-1-15 12:00:00 0:00",
        "s since 2031-01-15T12:00:00Z",
        "seconds since 2031-01-15 12:00:00 UTC",
        "seconds since 2031-01-15 12:00:00.0 +0000",
        "sec since 2031-01-15 13:30:00 +01:30",
        "secs since 2031-01-15 06:00 -6:00",
        "seconds since 2031-01-15 11:00:00-01",
        "seconds since 2031-01-15T12",
        "Seconds Since 2031-01-15T12:00:00+00:00",
    ] {
        assert_eq!(epoch(text), Some((1.0, noon, 0.0)), "{text}");
    }
    let midnight = date(1900, 1, 1).at(0, 0, 0, 0);
    assert_eq!(
        epoch("days since 1900-01-01"),
        Some((86400.0, midnight, 0.0))
    );
    assert_eq!(
        epoch("hours since 1900-1-1 00:00:00.25").unwrap(),
        (3600.0, midnight, 0.25)
    );
    assert_eq!(parse("minutes").unwrap().seconds, 60.0);
    for text in [
        "",
        "since 2031-01-15",
        "months since 2031-01-15",
        "seconds since",
        "seconds since now",
        "seconds since 2031-13-01",
        "seconds since 2031-01-15 25:00",
        "seconds since 2031-01",
        "seconds since 2031-01-15 12:00:00 +99:00",
        "seconds since -4713-01-01",
        "seconds since 2031-01-15 12:00:00 CET",
        "seconds since 2031-01-15 1:2:3:4",
    ] {
        assert_eq!(parse(text), None, "{text}");
    }
}

#[test]
fn times_count_from_the_whole_second_of_the_first() {
    let unit = parse("days since 1900-01-01 00:00:00").unwrap();
    // 47496 days from 1900-01-01 to 2030-01-15 (130 * 365 + 32 leap days + 14 = 47496);
    // doubles of that size are 7.3e-12 days, 0.6 microseconds, apart.
    let days = |s: f64| Some(47_496.0 + s / 86_400.0);
    let times = unit
        .times(
            &[days(41_020.0), None, days(41_021.0), days(41_022.5)],
            false,
        )
        .unwrap();
    assert_eq!(times.start, Some(date(2030, 1, 15).at(11, 23, 40, 0)));
    assert_eq!(times.rows, [Some(0.0), None, Some(1.0), Some(2.5)]);
    assert_eq!(times.coarse_s, None);
    // Half seconds stay in the rows.
    let unit = parse("seconds since 2031-01-15 11:23:00.25").unwrap();
    let times = unit.times(&[Some(0.5), Some(1.5)], false).unwrap();
    assert_eq!(times.start, Some(date(2031, 1, 15).at(11, 23, 0, 0)));
    assert_eq!(times.rows, [Some(0.75), Some(1.75)]);
    // Before the reference: -0.5 s is half a second after 59.
    let times = parse("seconds since 2031-01-15")
        .unwrap()
        .times(&[Some(-0.5)], false)
        .unwrap();
    assert_eq!(times.start, Some(date(2031, 1, 14).at(23, 59, 59, 0)));
    assert_eq!(times.rows, [Some(0.5)]);
    // Elapsed.
    let times = parse("min")
        .unwrap()
        .times(&[Some(0.5), Some(1.0)], false)
        .unwrap();
    assert_eq!(
        (times.start, times.rows),
        (None, vec![Some(30.0), Some(60.0)])
    );
}

#[test]
fn times_that_are_too_coarse_or_too_far_are_reported() {
    let unit = parse("seconds since 1970-01-01").unwrap();
    // Singles near 1.9e9 are 128 apart.
    let times = unit.times(&[Some(1_900_000_000.0)], true).unwrap();
    assert!(times.coarse_s.is_some_and(|s| s > 100.0));
    assert!(unit.times(&[Some(1e12)], false).is_none());
    assert!(unit.times(&[Some(f64::INFINITY)], false).is_none());
    assert!(
        parse("days since 9999-01-01")
            .unwrap()
            .times(&[Some(1e6)], false)
            .is_none()
    );
}
