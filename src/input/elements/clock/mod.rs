//! Clock times in cells: `05:32:00`, `2019-01-01T05:32:00Z`, `01.01.2019 05:32:00`.

use jiff::SignedDuration;
use jiff::civil::{Date, DateTime, Time};

use crate::input::elements::unit::Notation;
use crate::model::quantity::trim;

#[cfg(test)]
mod tests;

/// What is allowed, for messages.
const ALLOWED: &str = "hh:mm:ss is expected, alone or after a date YYYY-MM-DD or DD.MM.YYYY, in \
     UTC or with its zone";
const DAY_S: f64 = 86_400.0;

/// A clock time: seconds of the day, UTC, and the day where it is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::input) struct ClockTime {
    pub(in crate::input) date: Option<Date>,
    /// Outside 0 to 86,400 s where a zone moves it to another day.
    pub(in crate::input) second: f64,
}

impl ClockTime {
    /// Reads a cell; `None` when it is no clock time with seconds.
    pub(in crate::input) fn parse(cell: &str) -> Option<Self> {
        Self::with_parts(cell, 3)
    }

    /// Reads a cell whose time of day has a number of parts.
    fn with_parts(cell: &str, parts: usize) -> Option<Self> {
        // A number is seen in the first characters, and nearly every cell is one.
        if cell.len() > MAX_CELL || !cell.contains(':') {
            return None;
        }
        let cell = cell.trim().to_ascii_lowercase();
        let (date, rest) = match cell.split_once(['t', ' ']) {
            Some((date, rest)) if !date.contains(':') => (Some(day(date)?), rest),
            _ => (None, cell.as_str()),
        };
        let end = rest.find(|c: char| !(c.is_ascii_digit() || matches!(c, ':' | '.' | ',')));
        let (clock, zone) = rest.split_at(end.unwrap_or(rest.len()));
        if clock.split(':').count() != parts {
            return None;
        }
        let (time, fraction) = clock_time(&clock.replace(',', "."))?;
        let (hours, zone) = match zone.trim() {
            "am" => (hour_of_twelve(time, 0)?, ""),
            "pm" => (hour_of_twelve(time, 12)?, ""),
            zone => (i32::from(time.hour()), zone),
        };
        let whole = hours * 3600 + i32::from(time.minute()) * 60 + i32::from(time.second());
        let offset = i32::try_from(zone_seconds(zone)?).ok()?;
        Some(Self {
            date,
            second: f64::from(whole - offset) + fraction,
        })
    }
}

/// Longest cell that is looked at, bytes.
const MAX_CELL: usize = 50;

/// The hour of a clock of twelve.
fn hour_of_twelve(time: Time, noon: i32) -> Option<i32> {
    let hour = i32::from(time.hour());
    (1..=12).contains(&hour).then_some(hour % 12 + noon)
}

/// A day: `YYYY-MM-DD`, `YYYY/MM/DD`, `DD.MM.YYYY` or `YYYYMMDD`. Day and month of other
/// orders cannot be distinguished.
pub(in crate::input) fn day(text: &str) -> Option<Date> {
    let date = |year: &str, month: &str, day: &str| {
        let small = |text: &str| i8::try_from(digits(text)?).ok();
        let year = (year.len() == 4).then(|| digits(year)).flatten()?;
        Date::new(i16::try_from(year).ok()?, small(month)?, small(day)?).ok()
    };
    let text = text.trim().trim_end_matches(',');
    for sign in ['-', '/', '.'] {
        if let [a, b, c] = *text.split(sign).collect::<Vec<_>>() {
            return date(a, b, c).or_else(|| (sign == '.').then(|| date(c, b, a)).flatten());
        }
    }
    if text.len() != 8 || digits(text.get(..4)?).is_none_or(|year| year < 1900) {
        return None;
    }
    date(text.get(..4)?, text.get(4..6)?, text.get(6..)?)
}

/// A number of at most four figures.
pub(in crate::input) fn digits(text: &str) -> Option<u32> {
    let plain = !text.is_empty() && text.len() <= 4 && text.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

/// `hh[:mm[:ss[.f]]]`, or nothing: midnight.
pub(in crate::input) fn clock_time(text: &str) -> Option<(Time, f64)> {
    if text.is_empty() {
        return Some((Time::midnight(), 0.0));
    }
    let mut parts = text.split(':');
    let hour = digits(parts.next()?)?;
    let minute = parts.next().map_or(Some(0), digits)?;
    let (second, fraction) = match parts.next() {
        None => (0, 0.0),
        Some(part) => match part.split_once('.') {
            None => (digits(part)?, 0.0),
            Some((whole, f)) if f.bytes().all(|b| b.is_ascii_digit()) && f.len() <= 9 => {
                (digits(whole)?, format!("0.{f}0").parse().ok()?)
            }
            Some(_) => return None,
        },
    };
    if parts.next().is_some() {
        return None;
    }
    let small = |n: u32| i8::try_from(n).ok();
    let time = Time::new(small(hour)?, small(minute)?, small(second)?, 0).ok()?;
    Some((time, fraction))
}

/// Seconds east of UTC of `Z`, `UTC`, `+01:00`, `-0130`, `1` or `0:00`.
pub(in crate::input) fn zone_seconds(text: &str) -> Option<i64> {
    if matches!(text, "" | "z" | "utc" | "gmt") {
        return Some(0);
    }
    let (sign, figures) = match (text.strip_prefix('-'), text.strip_prefix('+')) {
        (Some(rest), _) => (-1, rest),
        (_, Some(rest)) => (1, rest),
        _ => (1, text),
    };
    let (hours, minutes) = match figures.split_once(':') {
        Some((h, m)) => (digits(h)?, digits(m)?),
        None => match digits(figures)? {
            hours if figures.len() <= 2 => (hours, 0),
            both => (both / 100, both % 100),
        },
    };
    let known = hours <= 14 && minutes < 60;
    known.then_some(sign * i64::from(hours * 3600 + minutes * 60))
}

/// The clock times of one column as seconds after its first; a time of day that falls
/// back by more than half a day is on the next day.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::input) struct ClockColumn {
    first: Option<ClockTime>,
    /// Seconds of the last time read.
    last_s: f64,
    /// Whether there is a number without a clock.
    numbers: bool,
}

impl ClockColumn {
    /// Reads a cell in a notation; `None` when it is a number and may be one.
    pub(in crate::input) fn read(
        &mut self,
        cell: &str,
        notation: Notation,
    ) -> Option<Result<f64, String>> {
        // `20190101T053200Z` has no colon.
        let compact = expanded(cell);
        let cell = compact.as_deref().unwrap_or(cell);
        if !cell.contains(':') {
            return match (self.first, notation) {
                (None, Notation::Number) => {
                    self.numbers = true;
                    None
                }
                _ => Some(Err(ALLOWED.to_owned())),
            };
        }
        if self.numbers {
            return Some(Err("a number is expected, as in the rows above".to_owned()));
        }
        if notation == Notation::MinutesSeconds {
            return Some(minutes_seconds(cell).ok_or_else(|| "mm:ss is expected".to_owned()));
        }
        let hours_minutes = notation == Notation::HoursMinutes;
        let time = if hours_minutes {
            ClockTime::with_parts(cell, 2)
        } else {
            ClockTime::parse(cell)
        };
        let wanted = || match (hours_minutes, minutes_seconds(cell)) {
            (true, _) => "hh:mm is expected".to_owned(),
            (false, Some(_)) => {
                "hh:mm or mm:ss; give unit = \"hh:mm\" or unit = \"mm:ss\" under [columns]"
                    .to_owned()
            }
            (false, None) => ALLOWED.to_owned(),
        };
        Some(
            time.and_then(|time| self.after_first(time))
                .ok_or_else(wanted),
        )
    }

    /// Seconds since the whole second of the first; `None` where one has a date and the
    /// other has none.
    fn after_first(&mut self, time: ClockTime) -> Option<f64> {
        let first = *self.first.get_or_insert(time);
        let since = time.second - first.second.floor();
        let days = match (first.date, time.date) {
            (Some(first), Some(date)) => date.duration_since(first).as_secs_f64() / DAY_S,
            (None, None) => ((self.last_s - since) / DAY_S).round(),
            _ => return None,
        };
        self.last_s = trim(since + days * DAY_S);
        Some(self.last_s)
    }

    /// Whether the column has numbers without a clock, and is to have them further on.
    #[inline]
    pub(in crate::input) fn has_numbers(&self, notation: Notation) -> bool {
        self.numbers && self.first.is_none() && notation == Notation::Number
    }

    /// Whether the column has clock times.
    pub(in crate::input) fn is_clock(&self) -> bool {
        self.first.is_some()
    }

    /// The date and time of second 0, where dates are given.
    pub(in crate::input) fn start(&self) -> Option<DateTime> {
        let first = self.first?;
        let midnight = first.date?.to_datetime(Time::midnight());
        midnight
            .checked_add(SignedDuration::from_secs(whole(first.second)))
            .ok()
    }

    /// The time of day of second 0, where no dates are given.
    pub(in crate::input) fn time_of_day(&self) -> Option<Time> {
        let first = self.first.filter(|first| first.date.is_none())?;
        let midnight = Date::constant(2000, 1, 1).to_datetime(Time::midnight());
        let moment = midnight.checked_add(SignedDuration::from_secs(whole(first.second)));
        Some(moment.ok()?.time())
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "within two days of midnight"
)]
fn whole(second: f64) -> i64 {
    second.floor() as i64
}

/// `mm:ss`, elapsed, s.
fn minutes_seconds(cell: &str) -> Option<f64> {
    let (minutes, seconds) = cell.split_once(':')?;
    let seconds = seconds.replace(',', ".");
    let plain = seconds.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let seconds = seconds.parse::<f64>().ok().filter(|s| plain && *s < 60.0)?;
    Some(f64::from(digits(minutes)?) * 60.0 + seconds)
}

/// `YYYYMMDDThhmmss…` with the signs of ISO 8601 between its figures.
fn expanded(cell: &str) -> Option<String> {
    let (date, rest) = cell.split_once(['T', 't'])?;
    let (clock, zone) = rest.split_at_checked(6)?;
    let figures = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    if !(figures(date) && figures(clock) && cell.len() <= MAX_CELL) {
        return None;
    }
    let (hours, rest) = clock.split_at_checked(2)?;
    let (minutes, seconds) = rest.split_at_checked(2)?;
    Some(format!("{date}T{hours}:{minutes}:{seconds}{zone}"))
}
