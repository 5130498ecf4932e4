//! The standard time whose report is expected next.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::Spool;
use super::clock::{civil, hour, seconds};
use super::nil::DAY_S;
use crate::model::utc;

/// How long a report without a limit is expected after its standard time, s: six hours,
/// as long as a NIL may be late.
const PATIENCE_S: i64 = 6 * 3600;

/// A report that is expected.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Expected {
    /// Its standard time, UTC.
    pub standard_time: String,
    /// By when it is due, UTC, where the schedule has a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due: Option<String>,
    /// Whether NIL goes out then.
    pub nil: bool,
    /// The same in words, such as `12 UTC, NIL at 14:30`.
    pub words: String,
}

impl fmt::Display for Expected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl Spool<'_> {
    /// The first standard time of the schedule that has no report and is not over;
    /// `None` without a schedule.
    pub(super) fn expected_next(&self) -> Option<Expected> {
        let now_s = self.clock.now().wall_s;
        let limit_s = self.schedule.limit_min.map(|min| i64::from(min) * 60);
        let midnight = now_s.div_euclid(DAY_S) * DAY_S;
        let days = [midnight - DAY_S, midnight, midnight + DAY_S];
        let hours = &self.schedule.hours;
        let times = days.into_iter().flat_map(|day_s| {
            hours
                .iter()
                .map(move |&hour| day_s + i64::from(hour) * 3600)
        });
        let is_open = |standard_s: &i64| {
            now_s < standard_s.saturating_add(limit_s.unwrap_or(PATIENCE_S))
                && !self.settled.contains(standard_s)
                && !self.is_out(*standard_s)
        };
        let standard_s = times.into_iter().find(is_open)?;
        let standard = civil(standard_s)?;
        let due = limit_s.and_then(|limit_s| civil(standard_s.saturating_add(limit_s)));
        let nil = self.schedule.nil && standard_s >= self.journal.begun_s;
        let mut words = hour(standard, now_s);
        if let Some(due) = due {
            let what = if nil { "NIL" } else { "due" };
            words.push_str(&format!(
                ", {what} at {:02}:{:02}",
                due.hour(),
                due.minute()
            ));
        }
        Some(Expected {
            standard_time: utc::print(standard),
            due: due.map(utc::print),
            nil,
            words,
        })
    }

    /// Whether a report, or NIL, of a standard time is out.
    fn is_out(&self, standard_s: i64) -> bool {
        let name = self.station.as_ref().zip(civil(standard_s));
        let name = name.and_then(|(name, standard)| name.at(standard));
        debug_assert!(
            name.as_ref()
                .is_none_or(|name| { name.standard().and_then(seconds) == Some(standard_s) })
        );
        name.is_some_and(|name| self.has_report(&name))
    }
}
