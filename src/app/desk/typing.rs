//! What an operator types, as the sheet has it: decimal commas, true minus signs, clock
//! times without a date, and wind speeds in the unit of the code.

use jiff::civil::{DateTime, Time};
use jiff::{Timestamp, tz::Offset};

use crate::input::sheet::{Draft, Key, KeyKind};
use crate::model::quantity::{SpeedUnit, trim};
use crate::model::utc;

/// The one wind speed that is typed.
pub(super) const WIND_SPEED: &str = "surface.wind_speed_ms";

/// The unit in which the message gives wind speeds.
pub(super) fn wind_unit(draft: &Draft) -> SpeedUnit {
    if draft.get("coding.wind_unit") == SpeedUnit::Knots.symbol() {
        SpeedUnit::Knots
    } else {
        SpeedUnit::MetresPerSecond
    }
}

/// What the field of a key shows.
pub(super) fn shown(draft: &Draft, key: &str) -> String {
    let value = draft.get(key);
    match value.parse::<f64>() {
        Ok(speed_ms) if key == WIND_SPEED && wind_unit(draft) == SpeedUnit::Knots => {
            let tenths = (SpeedUnit::Knots.from_ms(speed_ms) * 10.0).round() / 10.0;
            tenths.to_string()
        }
        _ => value,
    }
}

/// What the sheet has for a text that stands in the field of a key: the reverse of
/// [`shown`], after [`tidied`].
pub(super) fn stored(draft: &Draft, key: &str, text: &str) -> String {
    match text.parse::<f64>() {
        Ok(speed) if key == WIND_SPEED && wind_unit(draft) == SpeedUnit::Knots => {
            trim(SpeedUnit::Knots.to_ms(speed)).to_string()
        }
        _ => text.to_owned(),
    }
}

/// A speed in the other unit than that of the code, for the line below the field.
pub(super) fn other_speed(draft: &Draft) -> Option<String> {
    let speed_ms: f64 = draft.get(WIND_SPEED).parse().ok()?;
    let other = match wind_unit(draft) {
        SpeedUnit::Knots => SpeedUnit::MetresPerSecond,
        SpeedUnit::MetresPerSecond => SpeedUnit::Knots,
    };
    let speed = other.from_ms(speed_ms);
    speed
        .is_finite()
        .then(|| format!("= {speed:.1} {}", other.symbol()))
}

/// A text as the sheet writes such a value; what cannot be read stays as it is, to be
/// refused with its reason. A clock time gets the date nearest to the other time of
/// the flight, or to now, seconds since 1970.
pub(super) fn tidied(key: &Key, text: &str, draft: &Draft, now_s: i64) -> String {
    let text = text.trim();
    match key.kind {
        KeyKind::Integer(..) | KeyKind::Number(..) => number(text),
        KeyKind::Time => {
            let other = match key.name.as_str() {
                "flight.standard_time" => "flight.release",
                "flight.release" => "flight.standard_time",
                _ => "flight.release",
            };
            let near = utc::parse(&draft.get(other)).or_else(|| at(now_s));
            time(text, near)
        }
        _ => text.to_owned(),
    }
}

fn at(now_s: i64) -> Option<DateTime> {
    let now = Timestamp::from_second(now_s).ok()?;
    Some(Offset::UTC.to_datetime(now))
}

/// Today's date, UTC, as it stands before a clock time.
pub(super) fn today(now_s: i64) -> String {
    at(now_s).map_or_else(String::new, |now| now.date().to_string())
}

/// A number with a point and a minus sign of ASCII, where it is one.
pub(super) fn number(text: &str) -> String {
    let blank = |c: char| matches!(c, ' ' | '\u{A0}' | '\u{2009}' | '\u{202F}');
    let plain: String = text
        .chars()
        .filter(|c| !blank(*c))
        .map(|c| match c {
            '\u{2212}' | '\u{2013}' | '\u{FF0D}' => '-',
            ',' => '.',
            c => c,
        })
        .collect();
    // `1,004.3` has a comma that is no decimal one.
    if plain.parse::<f64>().is_ok_and(f64::is_finite) {
        plain
    } else {
        text.to_owned()
    }
}

/// A time as `2031-01-15T11:23:00Z`, where it is one: a date and a clock time with a
/// blank or T between, or a clock time alone.
fn time(text: &str, near: Option<DateTime>) -> String {
    let plain = text.trim_end_matches(['Z', 'z']).trim_end();
    let plain = plain.strip_suffix("UTC").map_or(plain, str::trim_end);
    let whole = plain.split_once([' ', 'T', 't']).and_then(|(date, clock)| {
        let date = date.parse::<jiff::civil::Date>().ok()?;
        Some(date.to_datetime(clock_time(clock.trim())?))
    });
    let found = whole.or_else(|| nearest(clock_time(plain)?, near?));
    match found {
        Some(time) => time.strftime("%Y-%m-%dT%H:%M:%SZ").to_string(),
        None => text.to_owned(),
    }
}

/// Hours, minutes and perhaps seconds between colons.
fn clock_time(text: &str) -> Option<Time> {
    let mut pieces = text.split(':');
    let mut piece = || -> Option<i8> {
        let piece = pieces.next()?;
        let figures = (1..=2).contains(&piece.len()) && piece.bytes().all(|b| b.is_ascii_digit());
        figures.then(|| piece.parse().ok()).flatten()
    };
    let (hour, minute) = (piece()?, piece()?);
    let second = if text.matches(':').count() == 2 {
        piece()?
    } else {
        0
    };
    let end = pieces.next().is_none();
    Time::new(hour, minute, second, 0).ok().filter(|_| end)
}

/// The moment of a clock time that is nearest to another.
fn nearest(clock: Time, near: DateTime) -> Option<DateTime> {
    let date = near.date();
    let days = [date.yesterday().ok(), Some(date), date.tomorrow().ok()];
    let moments = days.into_iter().flatten().map(|day| day.to_datetime(clock));
    let away = |moment: &DateTime| {
        let second = |time: DateTime| Offset::UTC.to_timestamp(time).map(Timestamp::as_second);
        let (one, other) = (second(*moment).ok(), second(near).ok());
        one.zip(other).map_or(i64::MAX, |(a, b)| (a - b).abs())
    };
    moments.min_by_key(away)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::sheet::keys_of;

    fn key(name: &str) -> Key {
        let (table, _) = name.split_once('.').unwrap();
        let keys = keys_of(table);
        keys.into_iter().find(|key| key.name == name).unwrap()
    }

    #[test]
    fn numbers_are_taken_as_they_are_typed_around_the_world() {
        for (typed, taken) in [
            ("4,9", "4.9"),
            ("\u{2212}4,9", "-4.9"),
            ("\u{2013}12", "-12"),
            (" 1 004.3 ", "1004.3"),
            ("1\u{202F}004,3", "1004.3"),
            // These stay, and are refused at the field.
            ("1,004.3", "1,004.3"),
            ("4.9 C", "4.9 C"),
            ("inf", "inf"),
            ("--4", "--4"),
            ("", ""),
        ] {
            assert_eq!(number(typed.trim()), taken, "{typed}");
        }
    }

    /// By hand: the standard time is 12 UTC on the 15th, then 00 UTC on the 16th, for
    /// which a sonde goes up late on the 15th; without it, the clock: 2031-01-15 is day
    /// 22,294 after 1970.
    #[test]
    fn a_clock_time_gets_the_nearest_date() {
        let release = key("flight.release");
        let standard = key("flight.standard_time");
        let now_s = 22_294 * 86_400 + 43_200;
        let mut draft = Draft::default();
        let taken = |draft: &Draft, text| tidied(&release, text, draft, now_s);
        assert_eq!(taken(&draft, "11:23"), "2031-01-15T11:23:00Z");
        draft.set(&standard, "2031-01-15T12:00:00Z");
        assert_eq!(taken(&draft, "11:23:40"), "2031-01-15T11:23:40Z");
        draft.set(&standard, "2031-01-16T00:00:00Z");
        for (typed, wanted) in [
            ("23:15", "2031-01-15T23:15:00Z"),
            ("0:05", "2031-01-16T00:05:00Z"),
            ("2031-01-15 11:23", "2031-01-15T11:23:00Z"),
            ("2031-01-15T11:23:40Z", "2031-01-15T11:23:40Z"),
            ("2031-01-15 11:23 UTC", "2031-01-15T11:23:00Z"),
            // No times: they stay as they are.
            ("11", "11"),
            ("25:00", "25:00"),
            ("11:23:40:1", "11:23:40:1"),
            ("2031-02-30 11:23", "2031-02-30 11:23"),
            ("2031-01-15T11:23:40+01:00", "2031-01-15T11:23:40+01:00"),
            ("", ""),
        ] {
            assert_eq!(taken(&draft, typed), wanted, "{typed}");
        }
        draft.set(&release, "2031-01-15T23:15:00Z");
        assert_eq!(tidied(&standard, "0:00", &draft, 0), "2031-01-16T00:00:00Z");
    }

    /// 1 kt is 1852/3600 m/s (the international nautical mile): 12 kt is 6.1733 m/s.
    #[test]
    fn a_speed_is_typed_in_the_unit_of_the_code() {
        let (speed, unit) = (key(WIND_SPEED), key("coding.wind_unit"));
        let mut draft = Draft::default();
        draft.set(&speed, "6.1");
        assert_eq!(shown(&draft, WIND_SPEED), "6.1");
        assert_eq!(other_speed(&draft).as_deref(), Some("= 11.9 kt"));
        draft.set(&unit, "kt");
        assert_eq!(shown(&draft, WIND_SPEED), "11.9");
        for typed in ["12", "12.5", "0", "99.9"] {
            let value = stored(&draft, WIND_SPEED, typed);
            draft.set(&speed, &value);
            assert_eq!(shown(&draft, WIND_SPEED), typed);
        }
        let value = stored(&draft, WIND_SPEED, "12");
        assert!((value.parse::<f64>().unwrap() - 12.0 * 1852.0 / 3600.0).abs() < 1e-6);
        draft.set(&speed, &value);
        assert_eq!(other_speed(&draft).as_deref(), Some("= 6.2 m/s"));
        assert_eq!(stored(&draft, WIND_SPEED, "x"), "x");
    }
}
