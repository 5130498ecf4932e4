//! What the columns of a file are: all of them, whether they are used or not.

use crate::input::columns::above::lines_above;
use crate::input::columns::guess;
use crate::input::columns::guess::Guess;
use crate::input::columns::stats::Stats;
use crate::input::elements::known::{FLAGS, KNOWN, Known, MAX_ROWS, Taking, Use};
use crate::input::text::head::Head;
use crate::input::text::lines::Lines;
use crate::input::text::{bounded, encoding, is_missing, marks};
use crate::input::{By, ColumnUse, SourceError};
use crate::model::Reading;
use crate::model::finding::{Finding, Place, counted, finding};

#[cfg(test)]
mod tests;

/// The columns of a file and what a sheet would have to say of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Columns {
    /// Every column in the order of the file; guesses among them.
    pub columns: Vec<ColumnUse>,
    /// `skip_lines` for `[text]`: the lines above the header.
    pub skip_lines: usize,
    /// Names for `[text]` where the file has no header row.
    pub names: Vec<String>,
    /// Marks for `[text]` that stand for missing values.
    pub missing: Vec<String>,
    /// Rows below the header.
    pub rows: usize,
    /// What is to be said of it.
    pub findings: Vec<Finding>,
}

impl Columns {
    /// The tables of a sheet that make the file be read this way, guesses as if
    /// they were true; `None` when nothing has to be said.
    #[must_use]
    pub fn sheet(&self) -> Option<String> {
        let mut out = String::new();
        let list = |texts: &[String]| {
            let items = texts.iter().cloned().map(toml::Value::String);
            toml::Value::Array(items.collect())
        };
        if self.skip_lines > 0 || !self.names.is_empty() || !self.missing.is_empty() {
            out.push_str("[text]\n");
            if self.skip_lines > 0 {
                out.push_str(&format!("skip_lines = {}\n", self.skip_lines));
            }
            for (key, texts) in [("names", &self.names), ("missing", &self.missing)] {
                if !texts.is_empty() {
                    out.push_str(&format!("{key} = {}\n", list(texts)));
                }
            }
        }
        let mut lines = String::new();
        for taken in &self.columns {
            // What attributes of the file say needs no word.
            let wanted = |(name, by): &(&str, By)| *name != FLAGS && *by != By::Attribute;
            let Some((name, by)) = taken.ours.filter(wanted) else {
                continue;
            };
            let own = KNOWN.iter().find(|k| k.name == name);
            // Clock times are seen in the cells.
            let plain = own.and_then(Known::clock_unit).map(|u| u.name);
            let own = own.and_then(|k| k.units.first()).map(|u| u.name);
            let mut table = toml::Table::new();
            if by != By::Name {
                table.insert("column".to_owned(), taken.column.clone().into());
            }
            if let Some(unit) = taken
                .unit
                .as_deref()
                .filter(|unit| ![own, plain].contains(&Some(*unit)))
            {
                table.insert("unit".to_owned(), unit.into());
            }
            if !table.is_empty() {
                lines.push_str(&format!("{name} = {}\n", toml::Value::Table(table)));
            }
        }
        if !lines.is_empty() {
            if !out.is_empty() {
                out.push('\n');
            }
            out.push_str("[columns]\n");
            out.push_str(&lines);
        }
        (!out.is_empty()).then_some(out)
    }
}

/// Looks through a text: every column, used or not, with a guess where its name
/// is not known.
///
/// # Errors
/// A file that cannot be read as text, or a sheet that does not fit it; columns
/// without a known name, rows of another length and cells that are no numbers are
/// none.
pub fn columns(bytes: &[u8], name: &str, reading: &Reading) -> Result<Columns, SourceError> {
    bounded(bytes, name)?;
    let missing = marks(reading);
    let mut findings = Vec::new();
    let bytes = encoding::utf8(bytes, name, reading, &mut findings)?;
    let mut out = Columns {
        skip_lines: lines_above(&bytes, name, reading)?,
        ..Columns::default()
    };
    if out.skip_lines > 0 {
        findings.push(finding!(
            LinesAboveTheHeader,
            Place::line(name, out.skip_lines.saturating_add(1)),
            lines = counted(out.skip_lines, "line")
        ));
    }
    let mut lines = Lines::below(&bytes, name, reading.skip_lines.max(out.skip_lines));
    let head = Head::read(&mut lines, name, reading, true)?;
    let cells: Vec<&str> = head.cells.iter().map(String::as_str).collect();
    let uses = head.header(name, &cells, reading).uses(&mut findings)?;
    let mut stats = vec![Stats::default(); uses.len()];
    let mut row = Vec::new();
    let mut odd: Option<(usize, usize)> = None;
    while let Some((number, line)) = lines.next()? {
        if out.rows >= MAX_ROWS {
            return Err(SourceError::TooManyRows {
                name: name.to_owned(),
                line: number,
                limit: MAX_ROWS,
            });
        }
        out.rows += 1;
        row.clear();
        let most = uses.len().saturating_add(1);
        let fits = head.split.cells(line, most, &mut row).is_ok() && row.len() == uses.len();
        if !fits {
            let (_, count) = odd.get_or_insert((number, 0));
            *count += 1;
            continue;
        }
        for (cell, stats) in row.iter().zip(&mut stats) {
            if !is_missing(cell, &missing) {
                stats.add(cell, head.split);
            }
        }
    }
    if let Some((line, count)) = odd {
        findings.push(finding!(
            RowsOfAnotherLength,
            Place::line(name, line),
            odd = count,
            rows = counted(out.rows, "row"),
            cells = uses.len(),
            line = line
        ));
    }
    let guesses = guess::all(&head, &uses, &stats);
    for (i, ((what, guess), mut stats)) in uses.iter().zip(guesses).zip(stats).enumerate() {
        let (taken, marks) = one(i, &head, *what, guess, &mut stats);
        for mark in marks {
            if !out.missing.iter().any(|m| m == mark) && taken.ours.is_some() {
                out.missing.push(mark.to_owned());
            }
        }
        out.columns.push(taken);
    }
    if !out.missing.is_empty() {
        // An array of a later sheet replaces that of an earlier one.
        let given = reading.missing.iter().cloned();
        out.missing = given.chain(std::mem::take(&mut out.missing)).collect();
    }
    if head.numbered {
        out.names = head.cells.clone();
        findings.push(finding!(NoHeader, Place::default().in_file(name)));
    }
    out.findings = findings;
    Ok(out)
}

/// One column as it is reported, and the marks for missing in it.
fn one(
    at: usize,
    head: &Head<'_>,
    what: Use,
    guess: Option<Guess>,
    stats: &mut Stats,
) -> (ColumnUse, Vec<&'static str>) {
    let what = match (what, guess) {
        (Use::Nothing, Some(Guess { known, unit })) => Use::Value {
            known,
            unit,
            by: By::Guess,
        },
        (what, _) => what,
    };
    let marks = stats.settle(match what {
        Use::Value { known, unit, .. } => Some((known, unit)),
        Use::Flags | Use::Nothing => None,
    });
    let taking = Taking {
        present: stats.numbers.saturating_add(stats.words),
        range: stats.range,
    };
    let column = head.cells.get(at).map_or("", String::as_str);
    let mut taken = what.column_use(at, column, taking, &stats.clock);
    if matches!(what, Use::Nothing) {
        taken.unit = head.unit(at).map(str::to_owned);
    }
    (taken, marks)
}
