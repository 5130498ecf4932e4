//! Standard times: which have a report, and how soon it was out.

use std::collections::{BTreeMap, BTreeSet};

use jiff::ToSpan as _;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

use super::figures::{Delay, Share};
use super::{Ascent, Period, Records};
use crate::input::sheet::Schedule;
use crate::model::utc;

/// What there is for a standard time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum SlotState {
    /// A report within the limit of the schedule.
    InTime,
    /// A report after it.
    Late,
    /// A report of which nothing says when it was out, or by when it was due.
    Reported,
    /// The early message alone.
    EarlyOnly,
    /// NIL alone.
    Nil,
    /// Nothing.
    Missing,
}

impl SlotState {
    /// Every state.
    pub const ALL: [Self; 6] = [
        Self::InTime,
        Self::Late,
        Self::Reported,
        Self::EarlyOnly,
        Self::Nil,
        Self::Missing,
    ];

    /// Whether there is a report.
    #[must_use]
    pub fn is_reported(self) -> bool {
        matches!(self, Self::InTime | Self::Late | Self::Reported)
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::InTime => "in time",
            Self::Late => "late",
            Self::Reported => "reported, time not known",
            Self::EarlyOnly => "early message only",
            Self::Nil => "NIL only",
            Self::Missing => "missing",
        }
    }
}

/// A standard time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Slot {
    /// The standard time, UTC.
    #[serde(with = "utc::required")]
    #[cfg_attr(test, schemars(with = "crate::model::schema::Text"))]
    pub standard_time: DateTime,
    /// Whether the schedule has it.
    pub scheduled: bool,
    /// What there is.
    pub state: SlotState,
}

/// The scheduled standard times of one hour: `reported`, `early_only`, `nil` and `missing`
/// are `expected` together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Hour {
    /// The hour, UTC.
    pub hour: i8,
    /// Standard times of the schedule.
    pub expected: usize,
    /// Those with a report.
    pub reported: usize,
    /// Those of these whose report was late.
    pub late: usize,
    /// Those with the early message alone.
    pub early_only: usize,
    /// Those with NIL alone.
    pub nil: usize,
    /// Those with nothing.
    pub missing: usize,
}

impl Hour {
    fn of<'a>(hour: i8, slots: impl Iterator<Item = &'a Slot>) -> Self {
        let mut out = Self {
            hour,
            ..Self::default()
        };
        for slot in slots {
            out.expected += 1;
            out.reported += usize::from(slot.state.is_reported());
            match slot.state {
                SlotState::Late => out.late += 1,
                SlotState::EarlyOnly => out.early_only += 1,
                SlotState::Nil => out.nil += 1,
                SlotState::Missing => out.missing += 1,
                SlotState::InTime | SlotState::Reported => {}
            }
        }
        out
    }
}

/// Standard times with reports.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Times {
    /// Whether there is a schedule; without one nothing is expected.
    pub scheduled: bool,
    /// Standard times of the schedule with a report, of all.
    pub reported: Share,
    /// Standard times with a report that the schedule does not have.
    pub unscheduled: usize,
    /// By hour of the schedule.
    pub hours: Vec<Hour>,
}

/// How soon reports were out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Punctuality {
    /// The limit of the schedule, minutes after the standard time.
    pub limit_min: Option<u16>,
    /// Reports within the limit that the schedule had then, of those that it is known for.
    pub in_time: Share,
    /// Minutes from the standard time to the issue.
    pub after: Option<Delay>,
    /// Of late reports: minutes from the limit to the issue.
    pub late: Option<Delay>,
}

/// Every standard time that the schedule expects or that has something. One is expected once
/// its limit has passed.
pub(super) fn slots(
    records: &Records,
    period: Period,
    schedule: &Schedule,
    now: Option<DateTime>,
) -> Vec<Slot> {
    let limit = i64::from(schedule.limit_min.unwrap_or_default()).minutes();
    let is_due = |time: &DateTime| now.is_none_or(|now| time.saturating_add(limit) <= now);
    let hours = schedule
        .hours
        .iter()
        .filter_map(|hour| i8::try_from(*hour).ok());
    let hours: BTreeSet<i8> = hours.filter(|hour| (0..24).contains(hour)).collect();
    let days = period.days();
    let scheduled: BTreeSet<DateTime> = days
        .flat_map(|day| hours.iter().map(move |hour| day.at(*hour, 0, 0, 0)))
        .collect();
    let mut states: BTreeMap<DateTime, SlotState> = BTreeMap::new();
    for time in scheduled.iter().filter(|time| is_due(time)) {
        states.insert(*time, SlotState::Missing);
    }
    // What says more comes later.
    let nil = records.nil.iter().map(|time| (*time, SlotState::Nil));
    let early = records
        .early
        .iter()
        .map(|time| (*time, SlotState::EarlyOnly));
    let whole = records.ascents.iter().map(|ascent| {
        let state = match ascent.in_time {
            Some(true) => SlotState::InTime,
            Some(false) => SlotState::Late,
            None => SlotState::Reported,
        };
        (ascent.standard, state)
    });
    let all = nil.chain(early).chain(whole);
    states.extend(all.filter(|(time, _)| period.has(*time)));
    let slots = states.into_iter().map(|(standard_time, state)| Slot {
        standard_time,
        scheduled: scheduled.contains(&standard_time),
        state,
    });
    slots.collect()
}

pub(super) fn times(slots: &[Slot], schedule: &Schedule) -> Times {
    let scheduled = slots.iter().filter(|slot| slot.scheduled);
    let hours: BTreeSet<i8> = scheduled
        .clone()
        .map(|slot| slot.standard_time.hour())
        .collect();
    let of_hour = |hour: i8| {
        let own = scheduled
            .clone()
            .filter(move |slot| slot.standard_time.hour() == hour);
        Hour::of(hour, own)
    };
    let others = slots.iter().filter(|slot| !slot.scheduled);
    Times {
        scheduled: !schedule.hours.is_empty(),
        reported: Share::of(scheduled.clone().map(|slot| slot.state.is_reported())),
        unscheduled: others.filter(|slot| slot.state.is_reported()).count(),
        hours: hours.into_iter().map(of_hour).collect(),
    }
}

pub(super) fn punctuality(ascents: &[&Ascent], schedule: &Schedule) -> Punctuality {
    let late = ascents
        .iter()
        .filter(|ascent| ascent.in_time == Some(false));
    let past = schedule
        .limit_min
        .map(|limit| late.filter_map(move |ascent| Some(ascent.after_min? - i64::from(limit))));
    Punctuality {
        limit_min: schedule.limit_min,
        in_time: Share::of(ascents.iter().filter_map(|ascent| ascent.in_time)),
        after: Delay::of(ascents.iter().filter_map(|ascent| ascent.after_min)),
        late: past.and_then(Delay::of),
    }
}
