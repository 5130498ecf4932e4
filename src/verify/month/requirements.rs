//! What networks ask of a month, and whether it is met
//! (`tables/network_requirements.csv`).

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

use super::tops::reaches;
use super::{Ascent, Period};
use crate::tables::{Counted, NetworkRequirement, NetworkStanding, network_requirements};

/// A requirement, and what the month has of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Judged {
    /// Its name.
    pub name: String,
    /// The network.
    pub network: String,
    /// Required or recommended.
    pub standing: NetworkStanding,
    /// What is counted.
    pub counted: Counted,
    /// The pressure that an ascent reaches, hPa.
    pub pressure_hpa: f64,
    /// The least number of ascents, in the month or on every day.
    pub at_least: usize,
    /// Ascents, or days with at least that number of them.
    pub count: usize,
    /// What there must be of them.
    pub needed: usize,
    /// Whether it is met.
    pub met: bool,
    /// The document.
    pub clause: String,
    /// What is known of it, and where from.
    pub source: String,
}

impl Judged {
    /// What is asked, in words: `2 ascents to 30 hPa on every day`.
    #[must_use]
    pub fn asked(&self) -> String {
        let ascents = if self.at_least == 1 {
            "ascent"
        } else {
            "ascents"
        };
        let (at_least, p) = (self.at_least, self.pressure_hpa);
        match self.counted {
            Counted::Ascents => format!("{at_least} {ascents} to {p} hPa"),
            Counted::Days => format!("{at_least} {ascents} to {p} hPa on every day"),
        }
    }

    /// By which figure it is met or not: `27 of 31 days`.
    #[must_use]
    pub fn figure(&self) -> String {
        match self.counted {
            Counted::Ascents => format!("{} ascents, {} needed", self.count, self.needed),
            Counted::Days => format!("{} of {} days", self.count, self.needed),
        }
    }

    /// `met` or `not met`.
    #[must_use]
    pub fn verdict(&self) -> &'static str {
        if self.met { "met" } else { "not met" }
    }
}

/// Judges the ascents of a month; of one that is not over its days that are.
pub(super) fn judge(ascents: &[&Ascent], period: Period, until: Option<DateTime>) -> Vec<Judged> {
    let rows = network_requirements().iter();
    rows.map(|row| one(row, ascents, period, until)).collect()
}

fn one(
    row: &NetworkRequirement,
    ascents: &[&Ascent],
    period: Period,
    until: Option<DateTime>,
) -> Judged {
    let times = ascents.iter().filter(|a| reaches(a, row.pressure_hpa));
    let mut times: Vec<DateTime> = times.map(|ascent| ascent.standard).collect();
    times.sort_unstable();
    times.dedup();
    let (count, needed) = match row.counted {
        Counted::Ascents => (times.len(), row.at_least),
        Counted::Days => {
            let over = |day: &jiff::civil::Date| until.is_none_or(|until| *day < until.date());
            let days: Vec<jiff::civil::Date> = period.days().filter(over).collect();
            let good = days.iter().filter(|day| {
                let of_day = times.iter().filter(|time| time.date() == **day);
                of_day.count() >= row.at_least
            });
            (good.count(), days.len())
        }
    };
    Judged {
        name: row.name.to_owned(),
        network: row.network.to_owned(),
        standing: row.standing,
        counted: row.counted,
        pressure_hpa: row.pressure_hpa,
        at_least: row.at_least,
        count,
        needed,
        met: needed > 0 && count >= needed,
        clause: row.clause.to_owned(),
        source: row.source.to_owned(),
    }
}
