//! The head of a text: the names of its columns and the row of units below them.

use std::borrow::Cow;

use crate::input::elements::clock;
use crate::input::elements::clock::ClockTime;
use crate::input::elements::known::{KNOWN, unit};
use crate::input::text::header::Header;
use crate::input::text::lines::{Lines, MAX_COLUMNS, Split, asked};
use crate::input::{Fault, SourceError};
use crate::model::Reading;

/// What stands above the rows.
pub(in crate::input) struct Head<'a> {
    /// How every line falls into cells.
    pub(in crate::input) split: Split<'a>,
    /// Line of the header; `None` when the names come from elsewhere.
    pub(in crate::input) line: Option<usize>,
    /// The names.
    pub(in crate::input) cells: Vec<String>,
    /// Whether the names are numbers of ours, since the first row is one of values.
    pub(in crate::input) numbered: bool,
    /// The row of units and its line.
    pub(in crate::input) units: Option<(usize, Vec<String>)>,
}

impl<'a> Head<'a> {
    /// Reads the head; the next line is the first row. A header that is a row of
    /// numbers is, if `number` says so, the first row, and the columns get names
    /// of ours.
    ///
    /// # Errors
    /// See [`SourceError`].
    pub(in crate::input) fn read(
        lines: &mut Lines<'_>,
        name: &str,
        reading: &'a Reading,
        number: bool,
    ) -> Result<Self, SourceError> {
        let given = asked(reading, name)?;
        let Some((line, text)) = lines.next()? else {
            return Err(SourceError::Empty {
                name: name.to_owned(),
            });
        };
        let of_row = given.unwrap_or_else(|| Split::of_row(text));
        if !reading.names.is_empty() {
            lines.put_back((line, text));
            return Self::named(of_row, name, reading);
        }
        if number && let Some(count) = numbers(of_row, text) {
            lines.put_back((line, text));
            return Ok(Self {
                split: of_row,
                line: None,
                cells: (1..=count).map(|n| format!("column_{n}")).collect(),
                numbered: true,
                units: None,
            });
        }
        let split = given.unwrap_or_else(|| Split::of_header(text));
        let mut cells: Vec<Cow<'_, str>> = Vec::new();
        if let Err(no) = split.cells(text, MAX_COLUMNS + 1, &mut cells) {
            let (column, (what, allowed)) = no.what_and_allowed();
            let fault = Fault {
                name: name.to_owned(),
                line,
                column,
                what,
                allowed,
            };
            return Err(SourceError::Cells {
                faults: vec![fault],
                more: false,
            });
        }
        if cells.len() > MAX_COLUMNS {
            return Err(SourceError::TooManyColumns {
                name: name.to_owned(),
                line,
                limit: MAX_COLUMNS,
            });
        }
        let cells: Vec<String> = cells.into_iter().map(Cow::into_owned).collect();
        let mut units = None;
        if let Some((number, text)) = lines.next()? {
            units = units_row(split, text, cells.len()).map(|row| (number, row));
            if units.is_none() {
                lines.put_back((number, text));
            }
        }
        Ok(Self {
            split,
            line: Some(line),
            cells,
            numbered: false,
            units,
        })
    }

    /// The names of the sheet.
    fn named(split: Split<'a>, name: &str, reading: &Reading) -> Result<Self, SourceError> {
        let count = reading.names.len();
        let refused = |what: String| {
            Err(SourceError::Text {
                name: name.to_owned(),
                what,
            })
        };
        if count > MAX_COLUMNS {
            return refused(format!(
                "names has {count} columns; at most {MAX_COLUMNS} are read"
            ));
        }
        if let Split::Widths(widths) = split
            && widths.len() != count
        {
            return refused(format!(
                "names has {count} columns and widths {}; give one of each for every column",
                widths.len()
            ));
        }
        Ok(Self {
            split,
            line: None,
            cells: reading.names.iter().map(|n| n.trim().to_owned()).collect(),
            numbered: false,
            units: None,
        })
    }

    /// The head as what the columns are found by.
    pub(in crate::input) fn header<'h>(
        &'h self,
        file: &'h str,
        cells: &'h [&'h str],
        reading: &'h Reading,
    ) -> Header<'h> {
        Header {
            file,
            line: self.line,
            cells,
            units: self.units.as_ref().map(|(line, cells)| (*line, &cells[..])),
            reading,
        }
    }

    /// The unit that the row of units gives a column, from 0.
    pub(in crate::input) fn unit(&self, at: usize) -> Option<&str> {
        let (_, cells) = self.units.as_ref()?;
        cells
            .get(at)
            .map(String::as_str)
            .filter(|unit| !unit.is_empty())
    }
}

/// Whether a cell is a number, a clock time or a day.
pub(in crate::input) fn is_number(cell: &str) -> bool {
    cell.parse::<f64>().is_ok()
        || cell.replace(',', ".").parse::<f64>().is_ok()
        || ClockTime::parse(cell).is_some()
        || clock::day(cell).is_some()
}

/// How many cells a row of numbers has; `None` when it is none.
fn numbers(split: Split<'_>, line: &str) -> Option<usize> {
    let mut cells = Vec::new();
    split.cells(line, MAX_COLUMNS, &mut cells).ok()?;
    let given: Vec<_> = cells.iter().filter(|c| !c.is_empty()).collect();
    (!given.is_empty() && given.iter().all(|c| is_number(c))).then_some(cells.len())
}

/// The cells of a row of units: none is a number (but the unit 1), at least half
/// of them and at least two, or the only one, are units that are known.
fn units_row(split: Split<'_>, line: &str, columns: usize) -> Option<Vec<String>> {
    let mut cells = Vec::new();
    split.cells(line, columns + 1, &mut cells).ok()?;
    if cells.len() != columns {
        return None;
    }
    let given: Vec<_> = cells.iter().filter(|c| !c.is_empty()).collect();
    let known = |cell: &str| KNOWN.iter().any(|k| unit(k, cell).is_some());
    if given.iter().any(|c| is_number(c) && **c != "1") {
        return None;
    }
    let count = given.iter().filter(|c| known(c)).count();
    let enough = count >= 2 || columns == 1;
    let words = given.iter().any(|c| **c != "1");
    (words && enough && count * 2 >= given.len() && count > 0)
        .then(|| cells.into_iter().map(Cow::into_owned).collect())
}
