//! Which groups of a message stand for which level of its report.

use std::collections::BTreeMap;

use super::pilot::from_report::coded_in_section4;
use super::temp::from_report::{is_in, placed_maxima};
use super::{Body, Message, Set};
use crate::model::{Form, Level, Part, Report, Roles};

/// The groups of one level, part by part, in the order of the text.
pub type Beside = Under<Part>;

/// Groups under keys that stand for parts.
type Under<K> = BTreeMap<K, Vec<String>>;

impl Message {
    /// The groups that stand for each level of the report that the message was
    /// made from: one entry a level, in the report's order.
    ///
    /// A level is in Part A or C as surface, standard surface, tropopause or
    /// maximum wind, and in Part B or D as significant level; most are in one
    /// part, some in both, and one without a role of the text form in none.
    #[must_use]
    pub fn beside(&self, report: &Report) -> Vec<Beside> {
        self.groups_beside(report, |part| part).1
    }

    /// The groups of every part, and those that stand for each level, under the keys of
    /// their parts.
    pub(crate) fn groups_beside<K: Ord + Clone>(
        &self,
        report: &Report,
        key: impl Fn(Part) -> K,
    ) -> (Under<K>, Vec<Under<K>>) {
        let mut of_levels = vec![Under::<K>::new(); report.levels.len()];
        let mut of_parts = Under::new();
        for &part in self.parts.keys() {
            let key = key(part);
            let levels = LevelsOf::new(report, part);
            let mut all = self.head_groups(part).unwrap_or_default();
            for (set, groups) in self.sets(part) {
                all.extend_from_slice(&groups);
                let level = self.level_among(&levels, set);
                if let Some(beside) = level.and_then(|i| of_levels.get_mut(i)) {
                    match beside.get_mut(&key) {
                        Some(before) => before.extend(groups),
                        None => _ = beside.insert(key.clone(), groups),
                    }
                }
            }
            of_parts.insert(key, all);
        }
        (of_parts, of_levels)
    }

    /// The level that a set of groups stands for, in the report's order.
    pub(super) fn level_of(&self, report: &Report, part: Part, set: Set) -> Option<usize> {
        self.level_among(&LevelsOf::new(report, part), set)
    }

    fn level_among(&self, levels: &LevelsOf<'_>, set: Set) -> Option<usize> {
        let LevelsOf { report, part, .. } = *levels;
        match set {
            Set::Surface => levels.surface.first().copied(),
            Set::Standard(n) => {
                let pressure = Some(f64::from(self.standard_pressure(part, n)?));
                let at = |i: &usize| report.levels.get(*i).map(|level| level.row.pressure_hpa);
                let mut standard = levels.standard.iter();
                standard.find(|i| at(i) == Some(pressure)).copied()
            }
            Set::Tropopause(n) => levels.tropopauses.get(n).copied(),
            Set::Maximum(n) => {
                let (_, level) = placed_maxima(report, part).nth(n)?;
                index(report, level)
            }
            Set::Thermal(n) => levels.thermal.get(n).copied(),
            Set::Wind(n) => levels.winds.get(n).copied(),
            Set::Other(_) => None,
        }
    }

    /// Pressure of the nth standard surface of a part, hPa.
    fn standard_pressure(&self, part: Part, n: usize) -> Option<u16> {
        match self.parts.get(&part)? {
            Body::Standard(p) => Some(p.standard.get(n)?.pressure_hpa),
            Body::Winds(p) => Some(p.standard.get(n)?.pressure_hpa),
            _ => None,
        }
    }
}

/// The levels of a report that stand in a part, by what they stand as: places in the report.
struct LevelsOf<'a> {
    report: &'a Report,
    part: Part,
    surface: Vec<usize>,
    standard: Vec<usize>,
    tropopauses: Vec<usize>,
    thermal: Vec<usize>,
    winds: Vec<usize>,
}

impl<'a> LevelsOf<'a> {
    fn new(report: &'a Report, part: Part) -> Self {
        let mut of = Self {
            report,
            part,
            surface: Vec::new(),
            standard: Vec::new(),
            tropopauses: Vec::new(),
            thermal: Vec::new(),
            winds: Vec::new(),
        };
        for (i, level) in report.levels.iter().enumerate() {
            if !is_in(part, level) {
                continue;
            }
            for (roles, own) in [
                (Roles::SURFACE, &mut of.surface),
                (Roles::STANDARD, &mut of.standard),
                (Roles::TROPOPAUSE, &mut of.tropopauses),
                (Roles::SIG_T_OR_U, &mut of.thermal),
                (Roles::SIG_WIND, &mut of.winds),
            ] {
                if level.roles.any(roles) {
                    own.push(i);
                }
            }
        }
        if report.form == Form::Pilot {
            let coded = coded_in_section4(report, part).into_iter();
            of.winds = coded.filter_map(|level| index(report, level)).collect();
        }
        of
    }
}

/// The place of a level in its report.
fn index(report: &Report, level: &Level) -> Option<usize> {
    report.levels.iter().position(|l| std::ptr::eq(l, level))
}
