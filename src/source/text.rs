//! Delimited text: comma, tab, semicolon or blanks; a header row; `#` comments.
//!
//! Departures from RFC 4180: a quoted cell ends on its line, blanks around a
//! cell do not count, blank lines are passed over.

use std::borrow::Cow;

use super::columns::{FLAGS, Header, Known, Use, shown};
use super::unit::Unit;
use super::{Fault, RawProfile, RawRow, SourceError};
use crate::finding::Finding;
use crate::quantity::snap;
use crate::sounding::{Reading, Roles};

#[cfg(test)]
mod tests;

/// Largest file, octets.
const MAX_FILE: usize = 256 << 20;
/// Longest line, octets.
const MAX_LINE: usize = 1 << 20;
/// Most columns.
const MAX_COLUMNS: usize = 1000;
/// Most rows.
const MAX_ROWS: usize = 2_000_000;
/// Most faults listed.
const MAX_FAULTS: usize = 20;
/// Bits of flag table 0 08 042.
const FLAG_BITS: u32 = 18;

/// Reads delimited text.
///
/// # Errors
/// See [`SourceError`]. Faulty rows and cells are listed with line and column,
/// at most twenty.
pub fn read(
    bytes: &[u8],
    name: &str,
    reading: &Reading,
) -> Result<(RawProfile, Vec<Finding>), SourceError> {
    if bytes.len() > MAX_FILE {
        return Err(SourceError::FileTooLarge {
            name: name.to_owned(),
            octets: bytes.len(),
            limit: MAX_FILE,
        });
    }
    let given = reading.delimiter.map(|d| split_by(d, name)).transpose()?;
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let missing: Vec<&str> = reading.missing.iter().map(|m| m.trim()).collect();
    let mut findings = Vec::new();
    let mut table: Option<Table<'_>> = None;
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    for (index, line) in bytes.split(|&b| b == b'\n').enumerate() {
        let number = index + 1;
        let line = text_of(line, name, number)?;
        if line.trim().is_empty() || line.trim_start().starts_with('#') {
            continue;
        }
        cells.clear();
        if let Some(table) = &mut table {
            if table.rows.len() >= MAX_ROWS {
                return Err(SourceError::TooManyRows {
                    name: name.to_owned(),
                    line: number,
                    limit: MAX_ROWS,
                });
            }
            match table.split.cells(line, table.uses.len() + 1, &mut cells) {
                Ok(()) => table.row(&cells, number),
                Err(OpenQuote) => table.fault(number, None, open_quote()),
            }
            if table.faults.len() >= MAX_FAULTS {
                break;
            }
        } else {
            let split = given.unwrap_or_else(|| Split::of_header(line));
            if split.cells(line, MAX_COLUMNS + 1, &mut cells).is_err() {
                let (what, allowed) = open_quote();
                let fault = Fault {
                    name: name.to_owned(),
                    line: number,
                    column: None,
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
                    line: number,
                    limit: MAX_COLUMNS,
                });
            }
            let header = Header {
                file: name,
                line: number,
                cells: &cells.iter().map(AsRef::as_ref).collect::<Vec<&str>>(),
                reading,
            };
            table = Some(Table {
                name,
                split,
                uses: header.assign(&mut findings)?,
                missing: &missing,
                rows: Vec::new(),
                faults: Vec::new(),
            });
        }
    }
    let name = name.to_owned();
    match table {
        None => Err(SourceError::Empty { name }),
        Some(table) if !table.faults.is_empty() => Err(SourceError::Cells {
            more: table.faults.len() >= MAX_FAULTS,
            faults: table.faults,
        }),
        Some(table) if table.rows.is_empty() => Err(SourceError::NoRows { name }),
        Some(Table { rows, .. }) => {
            let start = None;
            Ok((RawProfile { name, rows, start }, findings))
        }
    }
}

/// A line as text, without its end.
fn text_of<'a>(line: &'a [u8], name: &str, number: usize) -> Result<&'a str, SourceError> {
    if line.len() > MAX_LINE {
        return Err(SourceError::LineTooLong {
            name: name.to_owned(),
            line: number,
            octets: line.len(),
            limit: MAX_LINE,
        });
    }
    if let Some(at) = line.iter().position(|&b| b == 0) {
        return Err(SourceError::Binary {
            name: name.to_owned(),
            line: number,
            position: at + 1,
        });
    }
    let line = line.strip_suffix(b"\r").unwrap_or(line);
    std::str::from_utf8(line).map_err(|e| SourceError::NotUtf8 {
        name: name.to_owned(),
        line: number,
        position: e.valid_up_to() + 1,
    })
}

/// How a line falls into cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Split {
    /// At every delimiter.
    At(u8),
    /// At runs of blanks.
    Blanks,
}

/// A quoted cell that does not end on its line.
struct OpenQuote;

fn open_quote() -> (String, String) {
    (
        "a quote is opened and not closed".to_owned(),
        "a quoted cell ends on its line".to_owned(),
    )
}

/// The way of splitting that the sheet asks for.
fn split_by(delimiter: char, name: &str) -> Result<Split, SourceError> {
    match u8::try_from(delimiter) {
        Ok(b' ') => Ok(Split::Blanks),
        Ok(b) if b == b'\t' || (b.is_ascii_punctuation() && !b"\"#.+-".contains(&b)) => {
            Ok(Split::At(b))
        }
        _ => Err(SourceError::Delimiter {
            name: name.to_owned(),
            given: delimiter,
        }),
    }
}

impl Split {
    /// The delimiter most frequent in the header: comma, tab or semicolon, or
    /// else blanks.
    fn of_header(line: &str) -> Self {
        let count = |d: u8| line.bytes().filter(|&b| b == d).count();
        let best = [b';', b'\t', b',']
            .into_iter()
            .map(|d| (count(d), d))
            .max_by_key(|&(n, _)| n);
        match best {
            Some((n, d)) if n > 0 => Self::At(d),
            _ => Self::Blanks,
        }
    }

    /// The cells of a line, trimmed, at most so many.
    fn cells<'a>(
        self,
        line: &'a str,
        most: usize,
        cells: &mut Vec<Cow<'a, str>>,
    ) -> Result<(), OpenQuote> {
        match self {
            Self::At(d) if line.contains('"') => quoted(line, d, most, cells)?,
            Self::At(d) => {
                let parts = line.split(char::from(d)).take(most);
                cells.extend(parts.map(|c| Cow::Borrowed(c.trim())));
            }
            Self::Blanks => {
                let parts = line.split_whitespace().take(most);
                cells.extend(parts.map(|c| Cow::Borrowed(unquoted(c))));
            }
        }
        Ok(())
    }
}

fn unquoted(cell: &str) -> &str {
    let inner = cell.strip_prefix('"').and_then(|c| c.strip_suffix('"'));
    inner.unwrap_or(cell)
}

/// The cells of a line with quotes in it: a delimiter inside quotes is part of
/// the cell, a doubled quote is one.
fn quoted<'a>(
    line: &'a str,
    delimiter: u8,
    most: usize,
    cells: &mut Vec<Cow<'a, str>>,
) -> Result<(), OpenQuote> {
    let mut inside = false;
    let parts = line.split(|c: char| {
        inside ^= c == '"';
        !inside && c == char::from(delimiter)
    });
    for part in parts.take(most) {
        let cell = unquoted(part.trim());
        cells.push(if cell.contains("\"\"") {
            Cow::Owned(cell.replace("\"\"", "\""))
        } else {
            Cow::Borrowed(cell)
        });
    }
    if line
        .bytes()
        .filter(|&b| b == b'"')
        .count()
        .is_multiple_of(2)
    {
        Ok(())
    } else {
        Err(OpenQuote)
    }
}

/// What has been read below a header.
struct Table<'a> {
    name: &'a str,
    split: Split,
    uses: Vec<Use>,
    /// The sheet's marks for missing.
    missing: &'a [&'a str],
    rows: Vec<RawRow>,
    faults: Vec<Fault>,
}

impl Table<'_> {
    fn fault(&mut self, line: usize, column: Option<usize>, (what, allowed): (String, String)) {
        self.faults.push(Fault {
            name: self.name.to_owned(),
            line,
            column,
            what,
            allowed,
        });
    }

    /// Takes a row, or notes what is wrong with it.
    fn row(&mut self, cells: &[Cow<'_, str>], line: usize) {
        let columns = self.uses.len();
        if cells.len() != columns {
            let count = if cells.len() > columns {
                format!("more than {columns}")
            } else {
                cells.len().to_string()
            };
            let allowed = match self.split {
                Split::At(_) => format!("the header has {columns}"),
                Split::Blanks => format!(
                    "the header has {columns}; between blanks a missing value needs a mark such as ///"
                ),
            };
            self.fault(line, None, (format!("the row has {count} cells"), allowed));
            return;
        }
        let mut row = RawRow {
            line,
            ..RawRow::default()
        };
        for i in 0..columns {
            let (Some(cell), Some(&what)) = (cells.get(i), self.uses.get(i)) else {
                break;
            };
            if matches!(what, Use::Nothing) || self.is_missing(cell) {
                continue;
            }
            let done = match what {
                Use::Nothing => Ok(()),
                Use::Flags => flags(cell).map(|roles| row.flags = roles),
                Use::Value(known, unit) => {
                    let comma = self.split != Split::At(b',');
                    value(cell, known, unit, comma).map(|v| (known.set)(&mut row, v))
                }
            };
            if let Err(told) = done {
                self.fault(line, Some(i + 1), told);
                if self.faults.len() >= MAX_FAULTS {
                    return;
                }
            }
        }
        self.rows.push(row);
    }

    fn is_missing(&self, cell: &str) -> bool {
        matches!(cell, "-9999" | "-9999.0" | "NA")
            || cell.bytes().all(|b| b == b'/')
            || self.missing.contains(&cell)
    }
}

/// Roles received from a station.
fn flags(cell: &str) -> Result<Roles, (String, String)> {
    match cell.parse::<u32>() {
        // Our own: the level is to be kept.
        Ok(bits) if Roles(bits).without(Roles::FORCED).0 < 1 << FLAG_BITS => Ok(Roles(bits)),
        _ => Err((
            format!("{FLAGS} is `{}`", shown(cell)),
            format!(
                "a whole number from 0 to {} is expected",
                (1 << FLAG_BITS) - 1
            ),
        )),
    }
}

/// The number in a cell, in our unit, within its bounds.
fn value(
    cell: &str,
    known: &Known,
    unit: &Unit,
    decimal_comma: bool,
) -> Result<f64, (String, String)> {
    let what = || format!("{} is `{}`", known.name, shown(cell));
    let number = match cell.parse::<f64>() {
        Ok(v) => Some(v),
        Err(_) if decimal_comma && cell.contains(',') => cell.replace(',', ".").parse().ok(),
        Err(_) => None,
    };
    match number {
        Some(v) if v.is_finite() => {
            let converted = unit.ours(v);
            // Snapped, so that a bound that went through a conversion is itself.
            if known.allows(snap(converted)) || known.allows(converted) {
                Ok(converted)
            } else if unit.convert.is_some() {
                Err((format!("{} {}", what(), unit.name), known.bounds()))
            } else {
                Err((what(), known.bounds()))
            }
        }
        Some(_) => Err((
            what(),
            "list it under [text] missing if it means missing".to_owned(),
        )),
        None => Err((
            what(),
            "a number is expected; list it under [text] missing if it means missing".to_owned(),
        )),
    }
}
