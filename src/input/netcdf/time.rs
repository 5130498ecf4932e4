//! Times: `seconds since 2031-01-15 11:20:00`, or elapsed.

use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};

use crate::input::elements::clock::{clock_time, digits, zone_seconds};

/// What is allowed, for messages.
pub(super) const ALLOWED: &str = "seconds, minutes, hours or days, alone or with \
     `since YYYY-MM-DD hh:mm:ss`, in UTC or with a zone";

/// Farther from the epoch no time is, s.
const FAR_S: f64 = 4e11;

/// The unit of a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TimeUnit {
    /// Seconds in one.
    pub(super) seconds: f64,
    /// Where the count begins, UTC, whole seconds, and what is left of a second;
    /// `None` for elapsed time.
    pub(super) epoch: Option<(DateTime, f64)>,
}

/// Reads a unit of time.
pub(super) fn parse(text: &str) -> Option<TimeUnit> {
    let lower = text.trim().to_ascii_lowercase();
    let (word, since) = match lower.split_once(" since ") {
        Some((word, since)) => (word.trim(), Some(since.trim())),
        None => (lower.as_str(), None),
    };
    // The words of UDUNITS.
    let seconds = match word {
        "s" | "sec" | "secs" | "second" | "seconds" => 1.0,
        "min" | "mins" | "minute" | "minutes" => 60.0,
        "h" | "hr" | "hrs" | "hour" | "hours" => 3600.0,
        "d" | "day" | "days" => 86400.0,
        _ => return None,
    };
    let epoch = match since {
        Some(since) => Some(reference(since)?),
        None => None,
    };
    Some(TimeUnit { seconds, epoch })
}

/// `YYYY-MM-DD[ T]hh:mm:ss.f zone`, lower case.
fn reference(text: &str) -> Option<(DateTime, f64)> {
    let (day, rest) = match text.find(|c: char| c == 't' || c.is_whitespace()) {
        Some(at) => text.split_at(at),
        None => (text, ""),
    };
    let mut parts = day.split('-').map(digits);
    let (year, month, day) = (parts.next()??, parts.next()??, parts.next()??);
    if parts.next().is_some() {
        return None;
    }
    let date = Date::new(
        i16::try_from(year).ok()?,
        i8::try_from(month).ok()?,
        i8::try_from(day).ok()?,
    );
    let rest = rest.strip_prefix('t').unwrap_or(rest).trim();
    let end = rest.find(['z', '+', '-', 'u', 'g']);
    let end = end.or_else(|| rest.find(char::is_whitespace));
    let (clock, zone) = rest.split_at(end.unwrap_or(rest.len()));
    let (time, fraction) = clock_time(clock.trim())?;
    let offset = zone_seconds(zone.trim())?;
    let local = date.ok()?.to_datetime(time);
    let utc = local.checked_sub(SignedDuration::from_secs(offset)).ok()?;
    Some((utc, fraction))
}

/// Times of rows.
pub(super) struct Times {
    /// UTC, whole seconds, at which the time of a row is 0.
    pub(super) start: Option<DateTime>,
    /// Seconds after it.
    pub(super) rows: Vec<Option<f64>>,
    /// The greatest step of the numbers in the file, s, when it is coarse.
    pub(super) coarse_s: Option<f64>,
}

impl TimeUnit {
    /// The times of rows from their numbers, which have the precision of a double
    /// or (`single`) of a single. Elapsed times stay; others count from the whole
    /// second of the first. `None` when the first is farther than any time.
    pub(super) fn times(&self, values: &[Option<f64>], single: bool) -> Option<Times> {
        let greatest = values.iter().flatten().fold(0.0_f64, |m, v| m.max(v.abs()));
        let step = greatest * self.seconds * if single { 1.2e-7 } else { 2.3e-16 };
        let coarse_s = (step > 0.5).then_some(step);
        let fraction = self.epoch.map_or(0.0, |(_, f)| f);
        let seconds = |v: f64| clean(v * self.seconds + fraction, step);
        let first = values.iter().flatten().next();
        let (start, shift) = match (self.epoch, first) {
            (Some((epoch, _)), Some(first)) => {
                let whole = seconds(*first).floor();
                (Some(later(epoch, whole)?), whole)
            }
            _ => (None, 0.0),
        };
        let one = |v: f64| clean(seconds(v) - shift, step);
        let rows = values.iter().map(|v| v.map(one)).collect();
        Some(Times {
            start,
            rows,
            coarse_s,
        })
    }

    /// The moment of one number.
    pub(super) fn moment(&self, value: f64, single: bool) -> Option<DateTime> {
        self.times(&[Some(value)], single)?.start
    }
}

/// A time without what the file's precision cannot say: a day count of 1900 knows
/// a microsecond, so that 11:59:59.9999998 is noon. At most a millisecond goes.
fn clean(seconds: f64, step: f64) -> f64 {
    let unit = (2.0 * step).clamp(1e-9, 1e-3);
    let decimals = 10f64.powf(-unit.log10().ceil());
    let scaled = seconds * decimals;
    // Beyond 2^53 a double has no decimals left to lose.
    if scaled.abs() < 9e15 {
        scaled.round() / decimals
    } else {
        seconds
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a whole number, bounded")]
fn later(epoch: DateTime, seconds: f64) -> Option<DateTime> {
    let whole = (seconds.abs() < FAR_S).then_some(seconds as i64)?;
    epoch.checked_add(SignedDuration::from_secs(whole)).ok()
}
