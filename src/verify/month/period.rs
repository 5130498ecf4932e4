//! A calendar month in UTC.

use std::fmt;

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};

/// A month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Period {
    first: Date,
}

impl Period {
    /// Reads a month in the form `2031-01`; `None` of anything else, and of the first and the
    /// last month of the calendar, which have no neighbour.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (year, month) = text.split_once('-')?;
        let figures =
            |text: &str, n: usize| text.len() == n && text.bytes().all(|b| b.is_ascii_digit());
        if !figures(year, 4) || !figures(month, 2) {
            return None;
        }
        let first = Date::new(year.parse().ok()?, month.parse().ok()?, 1).ok()?;
        let has_neighbours = (1..9999).contains(&first.year());
        has_neighbours.then_some(Self { first })
    }

    /// The month before.
    #[must_use]
    pub fn previous(self) -> Self {
        let before = self.first.saturating_sub(1.month());
        Self { first: before }
    }

    /// Whether a time, UTC, is in it.
    #[must_use]
    pub fn has(self, time: DateTime) -> bool {
        (time.year(), time.month()) == (self.first.year(), self.first.month())
    }

    /// Its days.
    pub fn days(self) -> impl Iterator<Item = Date> {
        let first = self.first;
        let days = std::iter::successors(Some(first), |day| day.tomorrow().ok());
        days.take_while(move |day| day.month() == first.month())
    }

    /// Its end, which is no longer in it.
    #[must_use]
    pub fn end(self) -> DateTime {
        self.first.saturating_add(1.month()).at(0, 0, 0, 0)
    }
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}", self.first.year(), self.first.month())
    }
}
