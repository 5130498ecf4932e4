//! Which column of a file is which.

use crate::input::elements::known::{FLAGS, KNOWN, Known, Use, names, nearest, shown, unit};
use crate::input::elements::unit::Unit;
use crate::input::elements::words;
use crate::input::{By, SourceError};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{ColumnSource, Reading};

/// Most unknown columns reported one by one.
const MAX_UNKNOWN: usize = 20;
/// The header of a file and the sheet's words about it.
pub(in crate::input) struct Header<'a> {
    pub(in crate::input) file: &'a str,
    /// `None` when the sheet gives the names.
    pub(in crate::input) line: Option<usize>,
    pub(in crate::input) cells: &'a [&'a str],
    /// The row of units and its line.
    pub(in crate::input) units: Option<(usize, &'a [String])>,
    pub(in crate::input) reading: &'a Reading,
}

impl Header<'_> {
    /// What each column of the header is; one of values at least is known.
    pub(in crate::input) fn assign(
        &self,
        findings: &mut Vec<Finding>,
    ) -> Result<Vec<Use>, SourceError> {
        let uses = self.uses(findings)?;
        if !uses.iter().any(|u| matches!(u, Use::Value { .. })) {
            let name = self.file.to_owned();
            let header = self.listed();
            let known = names().collect::<Vec<_>>().join(", ");
            return Err(match self.line {
                Some(line) => SourceError::NoColumns {
                    name,
                    line,
                    header,
                    known,
                },
                None => SourceError::NoNames {
                    name,
                    header,
                    known,
                },
            });
        }
        self.tell_unknown(&uses, findings);
        Ok(uses)
    }

    /// What each column of the header is, as far as it is known.
    pub(in crate::input) fn uses(
        &self,
        findings: &mut Vec<Finding>,
    ) -> Result<Vec<Use>, SourceError> {
        self.only_our_names()?;
        let mut uses: Vec<Use> = vec![Use::Nothing; self.cells.len()];
        let mut units = Vec::new();
        for known in KNOWN {
            if let Some((at, own)) = self.named(known)? {
                let unit = self.unit(known, own, at, findings)?;
                let given = self.reading.columns.get(known.name);
                let by = match given.and_then(|g| g.column.as_ref()) {
                    Some(_) => By::Sheet,
                    None => By::Name,
                };
                units.push(format!("{} in {}", known.name, unit.name));
                self.take(&mut uses, at, known.name, Use::Value { known, unit, by })?;
            }
        }
        if let Some(at) = self.find(FLAGS)? {
            self.take(&mut uses, at, FLAGS, Use::Flags)?;
        }
        if let Some((line, _)) = self.units
            && !units.is_empty()
        {
            let place = Place::line(self.file, line);
            findings.push(finding!(UnitsRow, place, units = units.join(", ")));
        }
        Ok(uses)
    }

    fn fail<T>(&self, ours: &str, what: String) -> Result<T, SourceError> {
        Err(SourceError::Column {
            name: self.file.to_owned(),
            ours: ours.to_owned(),
            what,
        })
    }

    /// Every key of `[columns]` is a name of ours.
    fn only_our_names(&self) -> Result<(), SourceError> {
        for ours in self.reading.columns.keys() {
            if !names().any(|n| n == ours) {
                let all = names().collect::<Vec<_>>().join(", ");
                return self.fail(ours, format!("no such column is read; there are {all}"));
            }
        }
        Ok(())
    }

    /// The place of one of our columns in the header.
    fn find(&self, ours: &str) -> Result<Option<usize>, SourceError> {
        let given = self.reading.columns.get(ours);
        // What the sheet takes as something else is not what its name says.
        let named = |other: &ColumnSource| {
            let column = other.column.as_deref().unwrap_or_default();
            column.trim().eq_ignore_ascii_case(ours)
        };
        if given.is_none() && self.reading.columns.values().any(named) {
            return Ok(None);
        }
        let wanted = given.and_then(|g| g.column.as_deref()).unwrap_or(ours);
        let wanted = wanted.trim();
        let same = |cell: &&str| cell.to_lowercase() == wanted.to_lowercase();
        let mut at = (self.cells.iter().enumerate()).filter(|(_, cell)| same(cell));
        match (at.next(), at.next()) {
            (Some((first, _)), Some((second, _))) => self.fail(
                ours,
                format!(
                    "column `{}` stands twice in the header, in columns {} and {}",
                    shown(wanted),
                    first + 1,
                    second + 1
                ),
            ),
            (Some((first, _)), None) => Ok(Some(first)),
            (None, _) if given.is_some() => self.fail(
                ours,
                format!(
                    "the header has no column `{}`; it has {}",
                    shown(wanted),
                    self.listed()
                ),
            ),
            (None, _) => Ok(None),
        }
    }

    /// The place of a column in the header and the unit that its name says; where the
    /// sheet names no column, any of our names will do.
    fn named(
        &self,
        known: &'static Known,
    ) -> Result<Option<(usize, Option<&'static Unit>)>, SourceError> {
        let given = self.reading.columns.contains_key(known.name);
        for (name, unit) in known.headings() {
            if let Some(at) = self.find(name)? {
                return Ok(Some((at, unit)));
            }
            if given {
                break;
            }
        }
        Ok(None)
    }

    /// The unit of a column: that of the sheet, or of the row of units, or of its name.
    fn unit(
        &self,
        known: &'static Known,
        own: Option<&'static Unit>,
        at: usize,
        findings: &mut Vec<Finding>,
    ) -> Result<&'static Unit, SourceError> {
        let given = self.reading.columns.get(known.name);
        let sheet = given.and_then(|g| g.unit.as_deref()).map(str::trim);
        let row = self
            .units
            .and_then(|(line, cells)| Some((line, cells.get(at)?.as_str())))
            .filter(|(_, cell)| !cell.is_empty());
        let (found, wanted) = match (sheet, row) {
            (Some(text), _) => (unit(known, text), text),
            (None, Some((_, text))) => (unit(known, text), text),
            (None, None) => (own, ""),
        };
        let Some(found) = found else {
            let units: Vec<&str> = known.units.iter().map(|u| u.name).collect();
            let units = units.join(", ");
            let wanted = shown(wanted);
            return self.fail(
                known.name,
                match (sheet, row) {
                    (None, Some((line, _))) => format!(
                        "unknown unit `{wanted}` in the row of units on line {line}; it may be {units}; give unit under [columns] to overrule it"
                    ),
                    _ => format!("unknown unit `{wanted}`; it may be {units}"),
                },
            );
        };
        if let Some((line, text)) = row {
            let place = || Place::line(self.file, line).at_column(at.saturating_add(1));
            let same = |a: &Unit, b: &Unit| a.name == b.name;
            let by_name = given.is_none_or(|g| g.column.is_none());
            if sheet.is_some() && !unit(known, text).is_some_and(|u| same(u, found)) {
                findings.push(finding!(
                    UnitsDisagree,
                    place(),
                    row = shown(text),
                    column = known.name,
                    sheet = found.name
                ));
            } else if sheet.is_none() && by_name && own.is_some_and(|own| !same(own, found)) {
                findings.push(finding!(
                    UnitAgainstName,
                    place(),
                    row = found.name,
                    column = known.name
                ));
            }
        }
        Ok(found)
    }

    /// Gives a column its use, which must be its only one.
    fn take(&self, uses: &mut [Use], at: usize, ours: &str, new: Use) -> Result<(), SourceError> {
        let Some(slot) = uses.get_mut(at) else {
            return Ok(());
        };
        if let Use::Value { known, .. } = slot {
            let column = at + 1;
            return self.fail(
                ours,
                format!("column {column} is already taken as {}", known.name),
            );
        }
        *slot = new;
        Ok(())
    }

    /// The header, or the file when the sheet gives the names.
    fn place(&self) -> Place {
        match self.line {
            Some(line) => Place::line(self.file, line),
            None => Place::default().in_file(self.file),
        }
    }

    /// The header's columns, for messages.
    fn listed(&self) -> String {
        let mut list: Vec<String> = (self.cells.iter().take(MAX_UNKNOWN))
            .map(|c| format!("`{}`", shown(c)))
            .collect();
        if self.cells.len() > MAX_UNKNOWN {
            list.push(format!("{} more", self.cells.len() - MAX_UNKNOWN));
        }
        list.join(", ")
    }

    fn tell_unknown(&self, uses: &[Use], findings: &mut Vec<Finding>) {
        let unused = (uses.iter().zip(self.cells).enumerate())
            .filter(|(_, (what, cell))| matches!(what, Use::Nothing) && !cell.is_empty());
        let mut count = 0;
        let mut likely: Vec<String> = Vec::new();
        for (i, (_, cell)) in unused {
            count += 1;
            let used = |name: &str| {
                let same = |u: &Use| matches!(u, Use::Value { known, .. } if known.name == name);
                uses.iter().any(same)
            };
            if likely.len() < MAX_UNKNOWN {
                let names = words::by_name(cell);
                if !names.is_empty() && !names.iter().any(|n| used(n)) {
                    likely.push(format!("`{}` like {}", shown(cell), names.join(" or ")));
                }
            }
            if count > MAX_UNKNOWN {
                continue;
            }
            let place = self.place().at_column(i + 1);
            let name = shown(cell);
            findings.push(match nearest(cell) {
                Some(nearest) => finding!(MisspeltColumn, place, name = name, [nearest = nearest]),
                None => finding!(UnknownColumn, place, name = name),
            });
        }
        if count > MAX_UNKNOWN {
            let count = count - MAX_UNKNOWN;
            findings.push(finding!(MoreUnknownColumns, self.place(), count = count));
        }
        if !likely.is_empty() {
            let columns = likely.join(", ");
            findings.push(finding!(LikelyColumn, self.place(), columns = columns));
        }
    }
}
