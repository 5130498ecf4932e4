//! Whether the times of a report can be true by a clock.

use jiff::civil::DateTime;
use jiff::tz::Offset;

use crate::model::{Report, When, utc};

/// How far a release may be ahead of the clock, s: two clocks are seldom the same.
const SKEW_S: i64 = 300;

/// How far a standard time may be ahead of the clock, s: half a day before it no flight
/// that reports it has been released.
const STANDARD_AHEAD_S: i64 = 12 * 3600;

/// Why a report does not go out now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum OutOfTime {
    /// Its release or standard time lies in the future.
    Future(String),
    /// Its release is older than allowed.
    TooOld(String),
}

/// Compares the times of a report with a clock, seconds since 1970; `None`: it may go
/// out. Without `max_age_h` no report is too old.
pub(crate) fn out_of_time(
    report: &Report,
    now_s: i64,
    max_age_h: Option<u32>,
) -> Option<OutOfTime> {
    let When::Full { release, standard } = report.when else {
        return None;
    };
    let ahead = ahead("flight.release", release, now_s, SKEW_S);
    if let Some(why) = ahead.or_else(|| standard_ahead(standard, now_s)) {
        return Some(OutOfTime::Future(why));
    }
    let past_s = now_s.saturating_sub(seconds(release)?);
    let most_h = max_age_h.filter(|&hours| past_s > i64::from(hours) * 3600)?;
    Some(OutOfTime::TooOld(format!(
        "flight.release: {} is {} ago (schedule.max_age_h allows {most_h} h); correct the release, or raise schedule.max_age_h to issue older flights",
        utc::print(release),
        length(past_s),
    )))
}

/// Why nothing is said yet of a standard time, neither a report nor NIL; `None`: it may
/// go out.
pub(crate) fn standard_ahead(standard: DateTime, now_s: i64) -> Option<String> {
    ahead("flight.standard_time", standard, now_s, STANDARD_AHEAD_S)
}

/// Why a time of a key, which may be so far ahead of the clock, is too far ahead.
fn ahead(key: &str, time: DateTime, now_s: i64, ahead_s: i64) -> Option<String> {
    let past_s = now_s.saturating_sub(seconds(time)?);
    (past_s < -ahead_s).then(|| {
        format!(
            "{key}: {} is {} ahead of the system clock (at most {} is allowed); correct the time, or set the clock",
            utc::print(time),
            length(past_s),
            length(ahead_s),
        )
    })
}

/// Seconds since 1970 of a time in UTC.
fn seconds(time: DateTime) -> Option<i64> {
    Some(Offset::UTC.to_timestamp(time).ok()?.as_second())
}

/// A length of time in words, to the minute, from two days on to the hour, from ten days
/// on to the day.
pub(crate) fn length(seconds: i64) -> String {
    let minutes = seconds.unsigned_abs() / 60;
    let hours = minutes / 60;
    match (hours / 24, hours % 24) {
        _ if minutes < 120 => format!("{minutes} min"),
        (0..2, _) => format!("{hours} h {} min", minutes % 60),
        (days, hours) if days < 10 && hours > 0 => format!("{days} days {hours} h"),
        (days, _) => format!("{days} days"),
    }
}

#[cfg(test)]
mod tests {
    use super::{OutOfTime, length, out_of_time, standard_ahead};
    use crate::model::{Report, When};

    /// By hand: release 2031-01-15T11:23:40Z is 1926242620 s after 1970 (22294 days of
    /// 86400 s to 2031-01-15, and 41020 s of the day).
    const RELEASE_S: i64 = 22_294 * 86_400 + 11 * 3600 + 23 * 60 + 40;

    fn report() -> Report {
        let time = |hour, minute, second| {
            jiff::civil::DateTime::new(2031, 1, 15, hour, minute, second, 0).unwrap()
        };
        Report {
            when: When::Full {
                release: time(11, 23, 40),
                standard: time(12, 0, 0),
            },
            ..crate::issue::tests::report()
        }
    }

    /// 12 h before 2031-01-15 12:00 UTC is the beginning of that day.
    #[test]
    fn nil_waits_for_the_half_day_before_its_hour() {
        let standard = jiff::civil::date(2031, 1, 15).at(12, 0, 0, 0);
        let midnight_s = 22_294 * 86_400;
        assert_eq!(standard_ahead(standard, midnight_s), None);
        let why = standard_ahead(standard, midnight_s - 1).unwrap();
        assert!(
            why.starts_with("flight.standard_time: 2031-01-15T12:00:00Z is "),
            "{why}"
        );
    }

    #[test]
    fn a_release_is_neither_ahead_of_the_clock_nor_too_old() {
        let report = report();
        let at = |after_s: i64| out_of_time(&report, RELEASE_S + after_s, Some(24));
        // 5 minutes ahead and 24 hours old are the last that are allowed.
        for after_s in [-300, 0, 86_400] {
            assert_eq!(at(after_s), None, "{after_s}");
        }
        assert!(matches!(at(-301), Some(OutOfTime::Future(_))));
        assert!(matches!(at(86_401), Some(OutOfTime::TooOld(_))));
        assert_eq!(out_of_time(&report, RELEASE_S + (1 << 40), None), None);
        assert_eq!(
            at(12 * 365 * 86_400),
            Some(OutOfTime::TooOld(
                "flight.release: 2031-01-15T11:23:40Z is 4380 days ago (schedule.max_age_h allows 24 h); correct the release, or raise schedule.max_age_h to issue older flights".to_owned()
            ))
        );
        assert_eq!(
            at(-365 * 86_400),
            Some(OutOfTime::Future(
                "flight.release: 2031-01-15T11:23:40Z is 365 days ahead of the system clock (at most 5 min is allowed); correct the time, or set the clock".to_owned()
            ))
        );
    }

    /// By hand: 2 h are 7200 s, 2 days 172800 s, 4980 min are 3 days 11 h.
    #[test]
    fn long_times_are_in_days_and_hours() {
        for (seconds, words) in [
            (0, "0 min"),
            (-59, "0 min"),
            (7_199, "119 min"),
            (7_200, "2 h 0 min"),
            (172_799, "47 h 59 min"),
            (172_800, "2 days"),
            (4_980 * 60, "3 days 11 h"),
            (863_999, "9 days 23 h"),
            (863_999 + 86_400, "10 days"),
        ] {
            assert_eq!(length(seconds), words);
        }
    }

    /// A release in time under the standard time of another year.
    #[test]
    fn a_standard_time_is_not_far_ahead_of_the_clock() {
        let mut report = report();
        if let When::Full { standard, .. } = &mut report.when {
            *standard = jiff::civil::DateTime::new(2032, 1, 15, 12, 0, 0, 0).unwrap();
        }
        let found = out_of_time(&report, RELEASE_S + 3600, Some(24));
        assert!(
            matches!(&found, Some(OutOfTime::Future(why)) if why.starts_with("flight.standard_time: 2032-01-15T12:00:00Z is 364 days ahead")),
            "{found:?}"
        );
    }
}
