//! Times in UTC as text: RFC 3339.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

/// A time in UTC: RFC 3339 with `Z` or `+00:00`.
pub(crate) fn parse(text: &str) -> Option<DateTime> {
    let upper = text.to_ascii_uppercase();
    let zoned = upper.ends_with('Z') || upper.ends_with("+00:00");
    let plain = text.is_ascii() && text.len() <= 40 && !text.contains('[');
    // A bare day or a time without seconds is no RFC 3339 time.
    let full = text.len() >= "2031-01-15T11:23:40Z".len();
    if !(zoned && plain && full) {
        return None;
    }
    let time: Timestamp = text.parse().ok()?;
    Some(Offset::UTC.to_datetime(time))
}

/// The time as `2031-01-15T11:23:40Z`.
pub(crate) fn print(time: DateTime) -> String {
    format!("{time}Z")
}

/// A time that is always there, for serde.
pub(crate) mod required {
    use jiff::civil::DateTime;
    use serde::de::Error as _;
    use serde::{Deserialize as _, Deserializer, Serializer};

    /// Writes the time as text.
    pub fn serialize<S: Serializer>(time: &DateTime, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&super::print(*time))
    }

    /// Reads the time.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<DateTime, D::Error> {
        let text = String::deserialize(deserializer)?;
        super::parse(&text).ok_or_else(|| {
            D::Error::custom(format!(
                "`{text}` is no time in UTC (like 2031-01-15T11:23:40Z)"
            ))
        })
    }
}

/// A time that may be missing, for serde.
pub(crate) mod option {
    use jiff::civil::DateTime;
    use serde::de::Error as _;
    use serde::{Deserialize as _, Deserializer, Serializer};

    /// Writes the time as text, or null.
    pub fn serialize<S: Serializer>(
        time: &Option<DateTime>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        match time {
            Some(time) => serializer.serialize_str(&super::print(*time)),
            None => serializer.serialize_none(),
        }
    }

    /// Reads the time; null is missing.
    pub fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<DateTime>, D::Error> {
        let Some(text) = Option::<String>::deserialize(deserializer)? else {
            return Ok(None);
        };
        super::parse(&text).map(Some).ok_or_else(|| {
            D::Error::custom(format!(
                "`{text}` is no time in UTC (like 2031-01-15T11:23:40Z)"
            ))
        })
    }
}

/// A date that may be missing, for serde.
pub(crate) mod date {
    use jiff::civil::Date;
    use serde::de::Error as _;
    use serde::{Deserialize as _, Deserializer, Serializer};

    /// Writes the date as text, or null.
    pub fn serialize<S: Serializer>(date: &Option<Date>, serializer: S) -> Result<S::Ok, S::Error> {
        match date {
            Some(date) => serializer.collect_str(date),
            None => serializer.serialize_none(),
        }
    }

    /// Reads the date; null is missing.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Option<Date>, D::Error> {
        let Some(text) = Option::<String>::deserialize(d)? else {
            return Ok(None);
        };
        let whole = text.len() == "2031-01-15".len();
        let date = whole.then(|| text.parse().ok()).flatten();
        date.map(Some)
            .ok_or_else(|| D::Error::custom(format!("`{text}` is no date (like 2031-01-15)")))
    }
}
