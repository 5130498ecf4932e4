//! Year and month of reports that give only the day of the month.

use std::fmt;
use std::str::FromStr;

use jiff::ToSpan as _;
use jiff::civil::{Date, date};

/// Year and month, or a whole date, of reports whose text gives only day and hour.
///
/// ```
/// use fivefig::model::Dated;
/// use jiff::civil::date;
///
/// let month: Dated = "2022-07".parse().unwrap();
/// assert_eq!(month.of(31), Some(date(2022, 7, 31)));
/// // Around a whole date the nearest day counts, here of the month before.
/// let first: Dated = "2022-07-01".parse().unwrap();
/// assert_eq!(first.of(30), Some(date(2022, 6, 30)));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dated {
    /// All reports are of this month; the date is its first day.
    Month(Date),
    /// Each report is of the day nearest to this one.
    Near(Date),
}

impl Dated {
    /// The date of a day of the month, 1 to 31; `None` where the month has no such day.
    #[must_use]
    pub fn of(self, day: u8) -> Option<Date> {
        let day = i8::try_from(day).ok()?;
        let of_month = |first: Date| Date::new(first.year(), first.month(), day).ok();
        match self {
            Self::Month(first) => of_month(first),
            Self::Near(near) => {
                let first = near.first_of_month();
                let months = [-1, 0, 1].map(|n| first.checked_add(n.months()).ok());
                let days = months.into_iter().flatten().filter_map(of_month);
                days.min_by_key(|day| (*day - near).get_days().abs())
            }
        }
    }
}

/// Text that is no month and no date.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a year and month (2022-07) or a date (2022-07-13) is expected")]
pub struct NotDated;

impl FromStr for Dated {
    type Err = NotDated;

    fn from_str(text: &str) -> Result<Self, NotDated> {
        let mut fields = text.split('-');
        let mut next = |width: usize| {
            let field = fields.next()?;
            let figures = field.len() == width && field.bytes().all(|b| b.is_ascii_digit());
            figures.then(|| field.parse::<i16>().ok()).flatten()
        };
        let small = |value: i16| i8::try_from(value).ok();
        let mut read = || {
            let (year, month) = (next(4)?, small(next(2)?)?);
            let first = Date::new(year, month, 1).ok().filter(|d| *d >= OLDEST)?;
            match text.len() {
                7 => Some(Self::Month(first)),
                10 => Some(Self::Near(Date::new(year, month, small(next(2)?)?).ok()?)),
                _ => None,
            }
        };
        read().ok_or(NotDated)
    }
}

/// There are no radiosondes before this day; the first ones flew around 1930.
const OLDEST: Date = date(1900, 1, 1);

impl fmt::Display for Dated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Month(first) => f.write_str(&first.strftime("%Y-%m").to_string()),
            Self::Near(day) => day.fmt(f),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dated(text: &str) -> Dated {
        text.parse().unwrap()
    }

    /// The calendar by hand: June has 30 days, February 2023 has 28.
    #[test]
    fn a_month_has_its_own_days() {
        assert_eq!(dated("2022-06").of(30), Some(date(2022, 6, 30)));
        assert_eq!(dated("2022-06").of(31), None);
        assert_eq!(dated("2023-02").of(29), None);
        assert_eq!(dated("2024-02").of(29), Some(date(2024, 2, 29)));
    }

    /// By hand: 31 lies 1 day before 1 January and 30 days after it; 20 lies 12 days before
    /// and 19 after; of 16 days to both sides the earlier one is meant.
    #[test]
    fn around_a_date_the_nearest_day_counts() {
        assert_eq!(dated("2023-01-01").of(31), Some(date(2022, 12, 31)));
        assert_eq!(dated("2023-01-01").of(20), Some(date(2022, 12, 20)));
        assert_eq!(dated("2023-01-01").of(5), Some(date(2023, 1, 5)));
        assert_eq!(dated("2022-12-31").of(1), Some(date(2023, 1, 1)));
        // June has no day 31: that of May is nearer than that of July.
        assert_eq!(dated("2022-06-15").of(31), Some(date(2022, 5, 31)));
        assert_eq!(dated("2022-06-15").of(0), None);
        assert_eq!(dated("2022-06-15").of(200), None);
    }

    #[test]
    fn other_texts_are_refused() {
        for text in [
            "",
            "2022",
            "2022-7",
            "2022-13",
            "2022-07-32",
            "2022-02-30",
            "22-07",
            "07-2022",
            "2022/07",
            "2022-07-",
            "2022-07-1",
            "2022-07-13T00",
            "+022-07",
            "0022-07",
            "２022-07",
        ] {
            assert_eq!(text.parse::<Dated>(), Err(NotDated), "{text}");
        }
        for text in ["2022-07", "2022-07-13"] {
            assert_eq!(dated(text).to_string(), text);
        }
    }
}
