//! The clock of the machine, and whether it can be trusted.

use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

use crate::model::utc;

/// How far the clock may go astray from the steady one between two looks, s.
const JUMP_S: i64 = 30;

/// How long after a jump the clock is not trusted.
const UNEASY: Duration = Duration::from_secs(300);

/// A moment by both clocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Now {
    /// Seconds since 1970, by a clock that can be set.
    pub wall_s: i64,
    /// Time since some moment, by a clock that cannot.
    pub steady: Duration,
}

/// What tells the time.
pub trait Clock {
    /// Now.
    fn now(&self) -> Now;
}

/// The system clocks.
#[derive(Clone, Copy, Debug)]
pub struct Machine {
    start: std::time::Instant,
}

impl Default for Machine {
    fn default() -> Self {
        Self {
            start: std::time::Instant::now(),
        }
    }
}

impl Clock for Machine {
    fn now(&self) -> Now {
        let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        Now {
            wall_s: since.map_or(0, |s| i64::try_from(s.as_secs()).unwrap_or(i64::MAX)),
            steady: self.start.elapsed(),
        }
    }
}

/// What a look at the clock found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    Nothing,
    /// It was moved, by this number of seconds.
    Jumped(i64),
    /// It is behind what was written with it before, by this number of seconds.
    Behind(i64),
}

/// Watches the clock for jumps.
#[derive(Clone, Debug, Default)]
pub(super) struct Watch {
    last: Option<Now>,
    uneasy_until: Duration,
    behind: bool,
}

impl Watch {
    /// Looks at the clock; `known_s` is a moment that has passed.
    pub(super) fn look(&mut self, now: Now, known_s: i64) -> Found {
        let last = self.last.replace(now);
        let mut found = Found::Nothing;
        if let Some(last) = last {
            let passed = now.steady.saturating_sub(last.steady).as_secs();
            let passed = i64::try_from(passed).unwrap_or(i64::MAX);
            let moved = now
                .wall_s
                .saturating_sub(last.wall_s)
                .saturating_sub(passed);
            if moved.abs() > JUMP_S {
                self.uneasy_until = now.steady.saturating_add(UNEASY);
                found = Found::Jumped(moved);
            }
        }
        let behind = known_s.saturating_sub(now.wall_s);
        if behind > JUMP_S && !self.behind && found == Found::Nothing {
            found = Found::Behind(behind);
        }
        self.behind = behind > JUMP_S;
        found
    }

    /// Whether it is behind what was written with it before.
    pub(super) fn is_behind(&self) -> bool {
        self.behind
    }

    /// Whether deadlines can be judged by it.
    pub(super) fn is_trusted(&self, now: Now) -> bool {
        !self.behind && now.steady >= self.uneasy_until
    }
}

/// A moment as `2031-01-15T13:02:11Z`.
pub(super) fn shown(wall_s: i64) -> String {
    let time = Timestamp::from_second(wall_s).unwrap_or(Timestamp::UNIX_EPOCH);
    utc::print(Offset::UTC.to_datetime(time))
}

/// A standard time as it is spoken of: `12 UTC`, with the date where it is not that of
/// the clock.
pub(super) fn hour(standard: DateTime, now_s: i64) -> String {
    let words = format!("{:02} UTC", standard.hour());
    match civil(now_s).is_some_and(|now| now.date() == standard.date()) {
        true => words,
        false => format!("{words} on {}", standard.date()),
    }
}

/// A time in UTC as seconds since 1970.
pub(super) fn seconds(time: DateTime) -> Option<i64> {
    Some(Offset::UTC.to_timestamp(time).ok()?.as_second())
}

/// Seconds since 1970 as a time in UTC.
pub(super) fn civil(wall_s: i64) -> Option<DateTime> {
    let time = Timestamp::from_second(wall_s).ok()?;
    Some(Offset::UTC.to_datetime(time))
}

#[cfg(test)]
mod tests {
    use super::{Found, Now, UNEASY, Watch};
    use std::time::Duration;

    fn at(wall_s: i64, steady_s: u64) -> Now {
        let steady = Duration::from_secs(steady_s);
        Now { wall_s, steady }
    }

    #[test]
    fn a_jump_is_seen_and_forgotten() {
        let mut watch = Watch::default();
        assert_eq!(watch.look(at(1000, 0), 0), Found::Nothing);
        assert_eq!(watch.look(at(1010, 10), 0), Found::Nothing);
        assert!(watch.is_trusted(at(1010, 10)));
        assert_eq!(watch.look(at(90_020, 20), 0), Found::Jumped(89_000));
        assert!(!watch.is_trusted(at(90_020, 20)));
        let later = 20 + UNEASY.as_secs();
        assert_eq!(watch.look(at(90_320, later), 0), Found::Nothing);
        assert!(watch.is_trusted(at(90_320, later)));
        assert_eq!(watch.look(at(100, later + 1), 0), Found::Jumped(-90_221));
    }

    #[test]
    fn a_clock_behind_the_journal_is_not_trusted_until_it_has_caught_up() {
        let mut watch = Watch::default();
        assert_eq!(watch.look(at(0, 0), 5000), Found::Behind(5000));
        assert!(!watch.is_trusted(at(0, 0)));
        assert_eq!(watch.look(at(10, 10), 5000), Found::Nothing);
        assert!(!watch.is_trusted(at(10, 10)));
        // Set right: a jump, then trusted after a while.
        assert_eq!(watch.look(at(5000, 20), 5000), Found::Jumped(4980));
        assert!(watch.is_trusted(at(5000, 20 + UNEASY.as_secs())));
    }
}
