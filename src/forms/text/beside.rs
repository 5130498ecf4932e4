//! Which groups of a message stand for which level of its report.

use std::collections::BTreeMap;

use super::pilot::from_report::coded_in_section4;
use super::temp::from_report::{placed_maxima, with};
use super::{Body, Message, Set};
use crate::model::{Form, Level, Part, Report, Roles};

/// The groups of one level, part by part, in the order of the text.
pub type Beside = BTreeMap<Part, Vec<String>>;

impl Message {
    /// The groups that stand for each level of the report that the message was
    /// made from: one entry a level, in the report's order.
    ///
    /// A level is in Part A or C as surface, standard surface, tropopause or
    /// maximum wind, and in Part B or D as significant level; most are in one
    /// part, some in both, and one without a role of the text form in none.
    #[must_use]
    pub fn beside(&self, report: &Report) -> Vec<Beside> {
        let mut out = vec![Beside::new(); report.levels.len()];
        for part in Part::ALL {
            for (set, groups) in self.sets(part) {
                let level = self.level_of(report, part, set);
                if let Some(beside) = level.and_then(|i| out.get_mut(i)) {
                    beside.entry(part).or_default().extend(groups);
                }
            }
        }
        out
    }

    /// The level that a set of groups stands for, in the report's order.
    pub(super) fn level_of(&self, report: &Report, part: Part, set: Set) -> Option<usize> {
        let nth = |roles: Roles, n: usize| index(report, with(report, part, roles).nth(n)?);
        match set {
            Set::Surface => nth(Roles::SURFACE, 0),
            Set::Standard(n) => self.standard_level(report, part, n),
            Set::Tropopause(n) => nth(Roles::TROPOPAUSE, n),
            Set::Maximum(n) => {
                let (_, level) = placed_maxima(report, part).nth(n)?;
                index(report, level)
            }
            Set::Thermal(n) => nth(Roles::SIG_T_OR_U, n),
            Set::Wind(n) if report.form == Form::Pilot => {
                index(report, coded_in_section4(report, part).get(n)?)
            }
            Set::Wind(n) => nth(Roles::SIG_WIND, n),
            Set::Other(_) => None,
        }
    }

    /// The level of the nth standard surface of a part.
    fn standard_level(&self, report: &Report, part: Part, n: usize) -> Option<usize> {
        let pressure = match self.parts.get(&part)? {
            Body::Standard(p) => p.standard.get(n)?.pressure_hpa,
            Body::Winds(p) => p.standard.get(n)?.pressure_hpa,
            _ => return None,
        };
        let pressure = f64::from(pressure);
        with(report, part, Roles::STANDARD)
            .find(|level| level.row.pressure_hpa == Some(pressure))
            .and_then(|level| index(report, level))
    }
}

/// The place of a level in its report.
fn index(report: &Report, level: &Level) -> Option<usize> {
    report.levels.iter().position(|l| std::ptr::eq(l, level))
}
