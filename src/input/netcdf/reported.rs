//! What is reported of every variable.

use std::collections::HashSet;

use crate::input::elements::known::{Known, known, unit};
use crate::input::elements::words;
use crate::input::netcdf::layout::Shape;
use crate::input::netcdf::reader::{Chosen, MAX_FAULTS, Reader};
use crate::input::netcdf::station::Once;
use crate::input::netcdf::values;
use crate::input::netcdf::values::Values;
use crate::input::{By, ColumnUse};
use crate::model::finding::{Finding, Place, finding};

/// Most values that are read only to show their range.
const MAX_UNUSED: u64 = 2_000_000;

impl Reader<'_> {
    /// What a variable is interpreted as, with what was read of it.
    pub(super) fn column_use(
        &self,
        at: usize,
        ours: Option<(&'static str, By)>,
        read: Option<&Values>,
    ) -> Option<ColumnUse> {
        let variable = self.variable(at)?;
        let known = ours.and_then(|(name, _)| known(name));
        Some(ColumnUse {
            column: variable.name.clone(),
            number: at + 1,
            ours,
            unit: match known {
                Some(known) => self.unit(known, at),
                None => self.attribute(at, "units"),
            },
            present: read.map_or(0, |r| r.values.iter().flatten().count()),
            range: read.and_then(Values::range),
        })
    }

    /// The variables that are no columns.
    pub(super) fn others(&self, chosen: &[Chosen], once: &Once) -> Vec<ColumnUse> {
        let width = self.layout.width();
        let mut read = 0;
        let rest =
            (0..self.file.variables().len()).filter(|at| !chosen.iter().any(|c| c.at == *at));
        let one = |at: usize| {
            let ours = once.used.iter().find(|(place, _)| *place == at);
            let variable = self.variable(at)?;
            let values = match self.layout.shape(variable) {
                Shape::Rows(selection)
                    if values::is_number(&variable.dtype) && read + width <= MAX_UNUSED =>
                {
                    read += width;
                    values::read(self.file, variable, &selection, width).ok()
                }
                Shape::Once(selection) if ours.is_some() => {
                    values::read(self.file, variable, &selection, 1).ok()
                }
                _ => None,
            };
            let ours = ours.map(|(_, name)| (*name, By::Attribute));
            self.column_use(at, ours, values.as_ref())
        };
        rest.filter_map(one).collect()
    }

    /// What variables without a standard name could be, by their name, `long_name`,
    /// unit and values; shown, never used.
    pub(super) fn guess(&self, taken: &mut [ColumnUse]) {
        let mut used: Vec<&'static str> = (taken.iter())
            .filter_map(|t| t.ours.map(|(name, _)| name))
            .collect();
        for one in taken
            .iter_mut()
            .filter(|t| t.ours.is_none() && t.present > 0)
        {
            let named = |at: usize| self.attribute(at, "standard_name").is_some();
            if one.number.checked_sub(1).is_none_or(named) {
                continue;
            }
            let fits = |known: &&'static Known| {
                let unit = match &one.unit {
                    Some(text) => unit(known, text),
                    None => known.units.first(),
                };
                let within = |v: f64| unit.is_some_and(|u| known.allows(u.ours(v)));
                let (low, high) = one.range.unwrap_or((f64::NAN, f64::NAN));
                !used.contains(&known.name) && within(low) && within(high)
            };
            let mut names = words::by_name(&one.column);
            let long = one.number.checked_sub(1);
            let long = long.and_then(|at| self.attribute(at, "long_name"));
            names.extend(long.iter().flat_map(|long| words::by_name(long)));
            let known = names.iter().filter_map(|name| known(name)).find(fits);
            if let Some(known) = known {
                one.ours = Some((known.name, By::Guess));
                used.push(known.name);
            }
        }
    }

    /// Variables along the rows that nothing was known of.
    pub(super) fn tell_unused(&self, chosen: &[Chosen], once: &Once, findings: &mut Vec<Finding>) {
        let used = |at: &usize| {
            chosen.iter().any(|c| c.at == *at) || once.used.iter().any(|(place, _)| place == at)
        };
        // What stands beside other variables as flags or bounds is not missed.
        let beside: HashSet<String> = (0..self.file.variables().len())
            .flat_map(|at| {
                let lists = ["ancillary_variables", "bounds"].map(|n| self.attribute(at, n));
                let names: Vec<String> = (lists.iter().flatten())
                    .flat_map(|list| list.split_whitespace())
                    .map(str::to_owned)
                    .collect();
                names
            })
            .collect();
        let unused = |at: &usize| {
            let variable = self.variable(*at);
            !used(at)
                && variable.is_some_and(|v| {
                    matches!(self.layout.shape(v), Shape::Rows(_)) && !beside.contains(&v.name)
                })
        };
        let mut names: Vec<String> = (0..self.file.variables().len())
            .filter(unused)
            .map(|at| format!("`{}`", self.name(at)))
            .collect();
        if names.is_empty() {
            return;
        }
        let more = names.len().saturating_sub(MAX_FAULTS);
        names.truncate(MAX_FAULTS);
        if more > 0 {
            names.push(format!("{more} more"));
        }
        let place = Place::default().in_file(self.file.name);
        let names = names.join(", ");
        findings.push(finding!(UnknownVariable, place, names = names));
    }
}
