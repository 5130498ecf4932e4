//! Dates and times in a message.

use super::Section1;
use super::fields::Fields;
use super::figure::real;
use crate::model::quantity::trim;
use jiff::civil::{DateTime, date};

/// The standard time of section 1.
pub(super) fn nominal(s: &Section1) -> Option<DateTime> {
    let [hour, minute, second] = s.clock;
    moment([
        i64::from(s.year),
        i64::from(s.month),
        i64::from(s.day),
        i64::from(hour),
        i64::from(minute),
        i64::from(second),
    ])
}

/// The time of launch, seconds 0 where they are missing.
pub(super) fn launch(head: &Fields<'_, '_>) -> Option<DateTime> {
    moment([
        head.code(4, 1)?,
        head.code(4, 2)?,
        head.code(4, 3)?,
        head.code(4, 4)?,
        head.code(4, 5).unwrap_or(0),
        whole_seconds(head).0,
    ])
}

/// Seconds as whole ones, and the part of a second after them: 0 04 006 may come in
/// hundredths.
fn whole_seconds(fields: &Fields<'_, '_>) -> (i64, f64) {
    let Some((field, value)) = fields.nth(4, 6, 0) else {
        return (0, 0.0);
    };
    let one = 10_i64.checked_pow(u32::try_from(field.scale).unwrap_or(0));
    let (Some(number), Some(one)) = (value.number(), one) else {
        return (0, 0.0);
    };
    (number / one, real(number % one, field.scale))
}

/// Seconds from one full date and time to another, parts of a second too.
pub(super) fn seconds_between(from: &Fields<'_, '_>, to: &Fields<'_, '_>) -> Option<f64> {
    let whole = launch(to)?.duration_since(launch(from)?).as_secs();
    #[expect(clippy::cast_precision_loss, reason = "years in seconds are exact")]
    let whole = whole as f64;
    Some(trim(whole + whole_seconds(to).1 - whole_seconds(from).1))
}

fn moment([year, month, day, hour, minute, second]: [i64; 6]) -> Option<DateTime> {
    let small = |v: i64| i8::try_from(v).ok();
    let year = i16::try_from(year).ok().filter(|y| *y > 0)?;
    jiff::civil::Date::new(year, small(month)?, small(day)?)
        .ok()
        .and_then(|day| {
            let time =
                jiff::civil::Time::new(small(hour)?, small(minute)?, small(second)?, 0).ok()?;
            Some(day.to_datetime(time))
        })
        .filter(|t| t.date() > date(1900, 1, 1))
}
