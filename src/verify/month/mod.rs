//! A month of a station: what its flight book and its issues add up to, beside the month
//! before.
//!
//! [`sum`] reads no file and asks no clock: the records come from the flight book and the
//! folder of issues, and the same records give the same month. It prints as text; as rows
//! it is [`Month::table`], as a document [`Month`] itself.

mod batches;
mod figures;
mod levels;
mod period;
mod requirements;
mod table;
mod text;
mod times;
mod tops;

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::input::sheet::Schedule;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{GroundCheckResult, GroundQuantity, utc};
use crate::tables::FigureTable;
use crate::verify::compare::{Difference, Quantity};

pub use batches::{Batch, BatchDifference};
pub use figures::{Delay, Extremes, Share, Spread};
pub use levels::{MeanBeside, Surface, SurfaceValues, surfaces};
pub use period::Period;
pub use requirements::Judged;
pub use times::{Hour, Punctuality, Slot, SlotState, Times};
pub use tops::{REACHED_HPA, Reached, Tops};

/// What a document of a month says it is.
pub const SCHEMA: &str = "fivefig month 1";

/// The ground check of a sonde.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Checked {
    /// What came of it.
    pub result: Option<GroundCheckResult>,
    /// Sonde less reference, of what was compared.
    pub differences: Vec<(GroundQuantity, f64)>,
}

/// An ascent whose report is out, with its corrections.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ascent {
    /// The identifier of the station.
    pub station: String,
    /// The standard time, UTC.
    pub standard: DateTime,
    /// Whether the flight book has it; by hand it was issued otherwise.
    pub in_book: bool,
    /// Minutes from the standard time to the issue.
    pub after_min: Option<i64>,
    /// Whether it was within the limit of the schedule.
    pub in_time: Option<bool>,
    /// Lowest pressure, hPa.
    pub top_hpa: Option<f64>,
    /// Greatest geopotential height, gpm.
    pub top_gpm: Option<f64>,
    /// Why it ended, 0 35 035.
    pub ended_by: Option<u8>,
    /// Whether no row is outside a limit of the curve of the coded message.
    pub within_limits: Option<bool>,
    /// The batch of the sonde; empty where no sheet gives one.
    pub batch: String,
    /// The ground check of the sonde.
    pub checked: Option<Checked>,
    /// Codes of the findings of severity warning or error, each as often as it was found.
    pub codes: Vec<String>,
    /// Whether it was held because of its continuity and released by an operator.
    pub released: bool,
    /// The values at standard surfaces.
    pub levels: Vec<SurfaceValues>,
}

/// A file that was refused.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Refusal {
    /// The standard time where it is known, otherwise the time of the refusal, UTC.
    pub at: DateTime,
    /// Why, in a word.
    pub reason: String,
    /// The batch of the sonde; empty where no sheet gives one.
    pub batch: String,
    /// The ground check of the sonde.
    pub checked: Option<Checked>,
    /// Codes of what it was refused for.
    pub codes: Vec<String>,
}

/// What a correction changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The early message: the complete ascent gave other groups.
    EarlyMessage,
    /// Station, time or instrument.
    Identity,
    /// Levels or parts that were lacking or too many.
    Levels,
    /// Pressure alone.
    Pressure,
    /// Geopotential height alone.
    Height,
    /// Temperature alone.
    Temperature,
    /// Humidity alone.
    Humidity,
    /// Wind alone.
    Wind,
    /// Several of these.
    Several,
    /// It cannot be read.
    Unknown,
}

impl Cause {
    /// What the differences from the report before have in common.
    #[must_use]
    pub fn of(differences: &[Difference]) -> Self {
        let mut causes = differences.iter().map(Self::of_one);
        match causes.next() {
            Some(first) if causes.all(|cause| cause == first) => first,
            Some(_) => Self::Several,
            None => Self::Unknown,
        }
    }

    fn of_one(difference: &Difference) -> Self {
        match difference {
            Difference::Part { .. } | Difference::Missing { .. } | Difference::Role { .. } => {
                Self::Levels
            }
            Difference::Value { quantity, .. } => match quantity {
                Quantity::Pressure => Self::Pressure,
                Quantity::Height => Self::Height,
                Quantity::Temperature => Self::Temperature,
                Quantity::Depression | Quantity::Humidity => Self::Humidity,
                Quantity::WindDirection
                | Quantity::WindSpeed
                | Quantity::ShearBelow
                | Quantity::ShearAbove => Self::Wind,
            },
            _ => Self::Identity,
        }
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::EarlyMessage => "early message",
            Self::Identity => "identity or instrument",
            Self::Levels => "levels or parts",
            Self::Pressure => "pressure",
            Self::Height => "geopotential height",
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::Wind => "wind",
            Self::Several => "several quantities",
            Self::Unknown => "not readable",
        }
    }
}

/// Issues handed over to a target.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HandedOver {
    /// Issues that the target has.
    pub accepted: usize,
    /// Those of them that it had in time.
    pub in_time: usize,
    /// Issues that were to be handed over.
    pub of: usize,
}

impl std::fmt::Display for HandedOver {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            accepted,
            in_time,
            of,
        } = self;
        write!(f, "{accepted} of {of}, {in_time} in time")
    }
}

/// Everything that is known of a month and the one before.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Records {
    /// One for each station and standard time.
    pub ascents: Vec<Ascent>,
    /// Standard times of early messages, UTC.
    pub early: Vec<DateTime>,
    /// Standard times of NIL, UTC.
    pub nil: Vec<DateTime>,
    /// Standard times of corrections, UTC, and what they changed.
    pub corrections: Vec<(DateTime, Cause)>,
    /// Files that were refused.
    pub refusals: Vec<Refusal>,
    /// Issues handed over in the month, by target.
    pub handover: BTreeMap<String, HandedOver>,
    /// What was found in reading.
    pub findings: Vec<Finding>,
}

/// One ascent of the month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Listed {
    /// The identifier of the station.
    pub station: String,
    /// The standard time, UTC.
    #[serde(with = "utc::required")]
    #[cfg_attr(test, schemars(with = "crate::model::schema::Text"))]
    pub standard_time: DateTime,
    /// Minutes from the standard time to the issue.
    pub after_min: Option<i64>,
    /// Whether it was within the limit of the schedule.
    pub in_time: Option<bool>,
    /// Lowest pressure, hPa.
    pub top_hpa: Option<f64>,
    /// Greatest geopotential height, gpm.
    pub top_gpm: Option<f64>,
    /// Why it ended, 0 35 035.
    pub ended_by: Option<u8>,
    /// The batch of the sonde.
    pub batch: String,
    /// Findings of severity warning or error.
    pub findings: usize,
    /// Whether it was held because of its continuity and released by an operator.
    pub released: bool,
}

/// The figures of a month. Ascents count by their standard time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(title = "month"))]
pub struct Month {
    /// `fivefig month 1`.
    pub schema: String,
    /// The month, `2031-01`.
    pub month: String,
    /// The month beside which it is put.
    pub compared_with: String,
    /// Of a month that is not over: the time up to which reports are expected, UTC.
    #[serde(with = "utc::option", skip_serializing_if = "Option::is_none", default)]
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Text>"))]
    pub until: Option<DateTime>,
    /// Ascents by the identifier of their station.
    pub stations: BTreeMap<String, usize>,
    /// Standard times with reports.
    pub standard_times: Times,
    /// How soon reports were out.
    pub punctuality: Punctuality,
    /// Ascents whose report is out.
    pub ascents: usize,
    /// Those of them that the flight book does not have: they were issued by hand.
    pub by_hand: usize,
    /// Those of them that were held because of their continuity and released.
    pub released: usize,
    /// Early messages.
    pub early: usize,
    /// NIL.
    pub nil: usize,
    /// How high the ascents came.
    pub tops: Tops,
    /// Ascents no row of which is outside a limit of the curve of the coded message, of those
    /// that it is known for.
    pub within_limits: Share,
    /// Why ascents ended, in the words of 0 35 035.
    pub ended_by: BTreeMap<String, usize>,
    /// Corrections by what they changed.
    pub corrections: BTreeMap<Cause, usize>,
    /// Files that were refused, by reason; by their standard time or, where that is not known,
    /// the time of the refusal.
    pub refused: BTreeMap<String, usize>,
    /// Findings of severity warning or error of the ascents, by code.
    pub codes: BTreeMap<String, usize>,
    /// By batch of sondes; the batch is empty where no sheet gives one.
    pub batches: Vec<Batch>,
    /// Means at standard surfaces, from the ground up.
    pub levels: Vec<Surface>,
    /// What networks ask, and whether it is met.
    pub requirements: Vec<Judged>,
    /// Every standard time.
    pub slots: Vec<Slot>,
    /// Every ascent.
    pub list: Vec<Listed>,
    /// Issues handed over, by target.
    pub handover: BTreeMap<String, HandedOver>,
    /// What was found in reading, and what moved.
    pub findings: Vec<Finding>,
}

/// The schema of a [`Month`] as JSON, draft 2020-12.
#[must_use]
pub fn schema() -> Value {
    serde_json::from_str(include_str!("schema.json")).unwrap_or_default()
}

/// Adds up a month. `now` (UTC) limits what is expected of a month that is not over; `None`
/// expects all of it.
#[must_use]
pub fn sum(records: &Records, period: Period, schedule: &Schedule, now: Option<DateTime>) -> Month {
    let before = period.previous();
    let of = |period: Period| -> Vec<&Ascent> {
        let ascents = records.ascents.iter();
        let mut ascents: Vec<&Ascent> = ascents.filter(|a| period.has(a.standard)).collect();
        ascents.sort_by_key(|a| (a.standard, a.station.as_str()));
        ascents
    };
    let ascents = of(period);
    let count_in = |times: &[DateTime]| times.iter().filter(|time| period.has(**time)).count();
    let known = ascents.iter().filter_map(|a| a.within_limits);
    let until = now.filter(|now| *now < period.end());
    let slots = times::slots(records, period, schedule, now);
    let levels = levels::beside(&ascents, &of(before));
    let refusals = records.refusals.iter();
    let of_month: Vec<&Refusal> = refusals.filter(|r| period.has(r.at)).collect();
    let batches = batches::all(&ascents, &of_month);
    let mut findings = records.findings.clone();
    let stations = counted(ascents.iter().map(|a| a.station.clone()));
    if stations.len() > 1 {
        let names: Vec<&str> = stations.keys().map(String::as_str).collect();
        let names = names.join(", ");
        findings.push(finding!(MonthStations, Place::default(), names = names));
    }
    findings.extend(levels::moved(&levels, before));
    findings.extend(batches::drifts(&batches));
    let corrections = records.corrections.iter();
    let corrections = corrections.filter(|(at, _)| period.has(*at));
    Month {
        schema: SCHEMA.to_owned(),
        month: period.to_string(),
        compared_with: before.to_string(),
        until,
        stations,
        standard_times: times::times(&slots, schedule),
        punctuality: times::punctuality(&ascents, schedule),
        ascents: ascents.len(),
        by_hand: ascents.iter().filter(|a| !a.in_book).count(),
        released: ascents.iter().filter(|a| a.released).count(),
        early: count_in(&records.early),
        nil: count_in(&records.nil),
        tops: tops::tops(&ascents),
        within_limits: Share::of(known),
        ended_by: counted(ascents.iter().map(|a| ended(a.ended_by))),
        corrections: counted(corrections.map(|(_, cause)| *cause)),
        refused: counted(of_month.iter().map(|r| r.reason.clone())),
        codes: counted(ascents.iter().flat_map(|a| a.codes.iter().cloned())),
        batches,
        levels,
        requirements: requirements::judge(&ascents, period, until),
        slots,
        list: ascents.iter().map(|a| listed(a)).collect(),
        handover: records.handover.clone(),
        findings,
    }
}

/// How often each stands there.
fn counted<T: Ord>(all: impl Iterator<Item = T>) -> BTreeMap<T, usize> {
    let mut counts = BTreeMap::new();
    for one in all {
        *counts.entry(one).or_insert(0) += 1;
    }
    counts
}

fn listed(ascent: &Ascent) -> Listed {
    Listed {
        station: ascent.station.clone(),
        standard_time: ascent.standard,
        after_min: ascent.after_min,
        in_time: ascent.in_time,
        top_hpa: ascent.top_hpa,
        top_gpm: ascent.top_gpm,
        ended_by: ascent.ended_by,
        batch: ascent.batch.clone(),
        findings: ascent.codes.len(),
        released: ascent.released,
    }
}

/// Why an ascent ended, in the words of 0 35 035.
#[must_use]
pub fn ended(figure: Option<u8>) -> String {
    let Some(figure) = figure else {
        return "not stated".to_owned();
    };
    let rows = FigureTable::Termination.figures();
    let meaning = rows.iter().find(|row| row.figure == figure);
    meaning.map_or_else(|| format!("figure {figure}"), |row| row.meaning.to_owned())
}
