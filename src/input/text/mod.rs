//! Delimited text (comma, tab, semicolon or blanks) and text in columns of fixed
//! width; a header row, perhaps a row of units; `#` comments.
//!
//! Departures from RFC 4180: a quoted cell ends on its line, blanks around a
//! cell do not count, blank lines are passed over.

pub(in crate::input) mod encoding;
pub(in crate::input) mod head;
pub(in crate::input) mod header;
pub(in crate::input) mod lines;

use std::borrow::Cow;

use crate::input::elements::clock::ClockColumn;
use crate::input::elements::known::{FLAG_BITS, FLAGS, Known, MAX_ROWS, Taking, Use, shown};
use crate::input::elements::unit::Unit;
use crate::input::text::head::Head;
use crate::input::text::lines::{Lines, Split};
use crate::input::{ColumnUse, Contents, Fault, RawProfile, RawRow, SourceError};
use crate::model::quantity::snap;
use crate::model::{Noted, Reading, Roles};

#[cfg(test)]
mod tests;

/// Largest file, octets.
const MAX_FILE: usize = 256 << 20;
/// Most faults listed.
const MAX_FAULTS: usize = 20;

/// Reads text.
///
/// # Errors
/// See [`SourceError`]. Faulty rows and cells are listed with line and column,
/// at most twenty.
pub fn read(bytes: &[u8], name: &str, reading: &Reading) -> Result<Noted<RawProfile>, SourceError> {
    let contents = contents(bytes, name, reading)?;
    Ok((contents.raw, contents.findings).into())
}

/// The same, and what each column was interpreted as; rows with a value, least and
/// greatest are given for the columns that are used.
///
/// # Errors
/// As [`read`].
pub fn contents(bytes: &[u8], name: &str, reading: &Reading) -> Result<Contents, SourceError> {
    bounded(bytes, name)?;
    let missing = marks(reading);
    let mut findings = Vec::new();
    let bytes = encoding::utf8(bytes, name, reading, &mut findings)?;
    let mut lines = Lines::below(&bytes, name, reading.skip_lines);
    let head = Head::read(&mut lines, name, reading, false)?;
    let names: Vec<&str> = head.cells.iter().map(String::as_str).collect();
    let header = head.header(name, &names, reading);
    let uses = header.assign(&mut findings)?;
    let clock = |of: &Use| matches!(of, Use::Value { known, .. } if known.is_clock());
    let mut table = Table {
        name,
        split: head.split,
        named: head.line.is_none(),
        clocks: uses.iter().map(clock).collect(),
        uses,
        missing: &missing,
        tallies: vec![Tally::default(); head.cells.len()],
        rows: Vec::new(),
        given: Vec::new(),
        faults: Vec::new(),
        clock: ClockColumn::default(),
    };
    // Where there is no memory for as many rows as lines, fewer may do.
    let most = memchr::memchr_iter(b'\n', &bytes).count().min(MAX_ROWS);
    let _ = table.rows.try_reserve_exact(most);
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    loop {
        lines.take_while(|number, line| table.plain_row(number, line).is_some());
        let Some((number, line)) = lines.next()? else {
            break;
        };
        if table.rows.len() >= MAX_ROWS {
            return Err(SourceError::TooManyRows {
                name: name.to_owned(),
                line: number,
                limit: MAX_ROWS,
            });
        }
        cells.clear();
        let most = table.uses.len().saturating_add(1);
        match table.split.cells(line, most, &mut cells) {
            Ok(()) => table.row(&cells, number),
            Err(no) => {
                let (column, reported) = no.what_and_allowed();
                table.fault(number, column, reported);
            }
        }
        if table.faults.len() >= MAX_FAULTS {
            break;
        }
    }
    if !table.faults.is_empty() {
        return Err(SourceError::Cells {
            more: table.faults.len() >= MAX_FAULTS,
            faults: table.faults,
        });
    }
    let name = name.to_owned();
    if table.rows.is_empty() {
        return Err(SourceError::NoRows { name });
    }
    let columns = (table
        .uses
        .iter()
        .zip(&table.tallies)
        .zip(&names)
        .enumerate())
    .map(|(i, ((what, tally), name))| what.column_use(i, name, tally.taking(), &table.clock))
    .collect::<Vec<ColumnUse>>();
    Ok(Contents {
        raw: RawProfile {
            name,
            rows: table.rows,
            start: table.clock.start(),
        },
        clock: table.clock.time_of_day(),
        columns,
        findings,
        ..Contents::default()
    })
}

/// Refuses a file that is too large.
pub(in crate::input) fn bounded(bytes: &[u8], name: &str) -> Result<(), SourceError> {
    if bytes.len() > MAX_FILE {
        return Err(SourceError::FileTooLarge {
            name: name.to_owned(),
            octets: bytes.len(),
            limit: MAX_FILE,
        });
    }
    Ok(())
}

/// The sheet's marks for missing.
pub(in crate::input) fn marks(reading: &Reading) -> Vec<&str> {
    reading.missing.iter().map(|m| m.trim()).collect()
}

/// Whether a cell says that there is no value.
pub(in crate::input) fn is_missing(cell: &str, marks: &[&str]) -> bool {
    // Nearly every cell begins with a figure.
    let figure = cell.as_bytes().first().is_some_and(u8::is_ascii_digit);
    !figure && (matches!(cell, "-9999" | "-9999.0" | "NA") || cell.bytes().all(|b| b == b'/'))
        || marks.contains(&cell)
}

/// The number in a cell. A comma may be its decimal sign where it delimits nothing; in a
/// quoted cell between commas, three figures behind it may be thousands, and are refused.
pub(in crate::input) fn number(cell: &str, split: Split<'_>) -> Option<f64> {
    if let Some(value) = plain(cell).or_else(|| cell.parse::<f64>().ok()) {
        return Some(value);
    }
    let thousands = |(_, behind): (&str, &str)| split == Split::At(b',') && behind.len() == 3;
    if cell.split_once(',').is_some_and(thousands) {
        return None;
    }
    cell.replace(',', ".").replace('\u{2212}', "-").parse().ok()
}

/// Powers of ten, each of which a float holds exactly.
const POWERS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// A number of up to 15 digits with at most one point, as nearly all cells are.
fn plain(cell: &str) -> Option<f64> {
    let (value, rest) = leading(cell.as_bytes())?;
    rest.is_empty().then_some(value)
}

/// The plain number at the beginning of a text, and what comes after it. Its digits without
/// the point and the power of ten are both exact in a float, so that their quotient is
/// rounded once (W. D. Clinger, How to read floating point numbers accurately, 1990).
#[expect(clippy::cast_precision_loss, reason = "at most 15 digits")]
#[inline]
fn leading(text: &[u8]) -> Option<(f64, &[u8])> {
    let (negative, text) = match text {
        [b'-', rest @ ..] => (true, rest),
        rest => (false, rest),
    };
    let (number, behind) = digits(0, text);
    let (number, fraction, rest) = match behind {
        [b'.', fraction @ ..] => {
            let (number, rest) = digits(number, fraction);
            (number, fraction.len() - rest.len(), rest)
        }
        _ => (number, 0, behind),
    };
    if !(1..POWERS.len()).contains(&(text.len() - behind.len() + fraction)) {
        return None;
    }
    let value = number as f64 / POWERS.get(fraction)?;
    Some((if negative { -value } else { value }, rest))
}

/// A number with the digits at the beginning of a text behind its own, and what comes after
/// them. Of more than 19 digits it is wrong.
#[inline]
fn digits(mut number: u64, mut text: &[u8]) -> (u64, &[u8]) {
    while let [byte, after @ ..] = text
        && byte.is_ascii_digit()
    {
        number = (number.wrapping_mul(10)).wrapping_add(u64::from(byte - b'0'));
        text = after;
    }
    (number, text)
}

/// What comes after the blanks at the beginning of a text.
fn after_blanks(mut text: &[u8]) -> &[u8] {
    while let [b' ', rest @ ..] = text {
        text = rest;
    }
    text
}

/// The values of a column so far, in the unit of the file.
#[derive(Clone, Copy)]
struct Tally {
    present: usize,
    low: f64,
    high: f64,
}

impl Default for Tally {
    fn default() -> Self {
        Self {
            present: 0,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        }
    }
}

impl Tally {
    fn add(&mut self, value: f64) {
        self.present += 1;
        if value < self.low {
            self.low = value;
        }
        if value > self.high {
            self.high = value;
        }
    }

    fn taking(&self) -> Taking {
        Taking {
            present: self.present,
            range: (self.low <= self.high).then_some((self.low, self.high)),
        }
    }
}

/// What has been read below a header.
struct Table<'a> {
    name: &'a str,
    split: Split<'a>,
    /// Whether the sheet gives the names.
    named: bool,
    uses: Vec<Use>,
    /// Whether a column may hold clock times.
    clocks: Vec<bool>,
    /// The sheet's marks for missing.
    missing: &'a [&'a str],
    tallies: Vec<Tally>,
    rows: Vec<RawRow>,
    /// The values of a row as they were given, NaN for none.
    given: Vec<f64>,
    faults: Vec<Fault>,
    clock: ClockColumn,
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

    /// Takes a row of plain numbers within their bounds and of cells that say that there is
    /// no value, as nearly all rows are; of any other line `None`, and nothing is taken.
    fn plain_row(&mut self, line: usize, text: &[u8]) -> Option<()> {
        let mut rest = after_blanks(text);
        if self.rows.len() >= MAX_ROWS || rest.first().is_none_or(|&first| first == b'#') {
            return None;
        }
        let delimiter = match self.split {
            Split::At(delimiter) => delimiter,
            Split::Blanks => b' ',
            Split::Widths(_) => return None,
        };
        let mut row = RawRow {
            line,
            ..RawRow::default()
        };
        let mut given = std::mem::take(&mut self.given);
        given.resize(self.uses.len(), f64::NAN);
        let columns = self.uses.iter().zip(&self.clocks).zip(&mut given);
        for (i, ((&what, &is_clock), value)) in columns.enumerate() {
            if i > 0 {
                rest = match rest {
                    [first, behind @ ..] if *first == delimiter => after_blanks(behind),
                    _ => return None,
                };
            }
            (*value, rest) = self.plain_cell(rest, delimiter, what, is_clock, &mut row)?;
        }
        if !after_blanks(rest).is_empty() {
            return None;
        }
        for (tally, &value) in self.tallies.iter_mut().zip(&given) {
            if !value.is_nan() {
                tally.add(value);
            }
        }
        self.given = given;
        self.rows.push(row);
        Some(())
    }

    /// The value of the cell at the beginning of a text, which goes into the row, as it is
    /// given, NaN for none; and what comes after the cell.
    #[inline]
    fn plain_cell<'t>(
        &self,
        text: &'t [u8],
        delimiter: u8,
        what: Use,
        is_clock: bool,
        row: &mut RawRow,
    ) -> Option<(f64, &'t [u8])> {
        if let Use::Value { known, unit, .. } = what
            && let Some((value, behind)) = leading(text)
        {
            let after = match delimiter {
                b' ' => behind,
                _ => after_blanks(behind),
            };
            let asked = value == -9999.0 || !self.missing.is_empty();
            if after.first().is_none_or(|&first| first == delimiter)
                && !(asked && self.is_nothing(what, text.get(..text.len() - behind.len())?)?)
            {
                let ours = unit.ours(value);
                let reads = !is_clock || self.clock.has_numbers(unit.notation);
                if !reads || !known.allows(ours) {
                    return None;
                }
                (known.set)(row, ours);
                return Some((value, after));
            }
        }
        let end = text.iter().position(|&b| b == delimiter);
        let (cell, after) = text.split_at_checked(end.unwrap_or(text.len()))?;
        (self.is_nothing(what, cell)?).then_some((f64::NAN, after))
    }

    /// Whether a cell of printed characters without quotes gives no value.
    fn is_nothing(&self, what: Use, cell: &[u8]) -> Option<bool> {
        let printed = |&b: &u8| matches!(b, b' '..=b'~') && b != b'"';
        let cell = std::str::from_utf8(cell).ok()?;
        match what {
            _ if !cell.as_bytes().iter().all(printed) => None,
            Use::Nothing => Some(true),
            Use::Value { .. } => Some(is_missing(cell.trim_end(), self.missing)),
            Use::Flags => None,
        }
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
            let wanted = if self.named {
                format!("[text] names has {columns}")
            } else {
                format!("the header has {columns}")
            };
            let allowed = match self.split {
                Split::At(_) | Split::Widths(_) => wanted,
                Split::Blanks => {
                    format!("{wanted}; between blanks a missing value needs a mark such as ///")
                }
            };
            self.fault(line, None, (format!("the row has {count} cells"), allowed));
            return;
        }
        let mut row = RawRow {
            line,
            ..RawRow::default()
        };
        let uses = self.uses.iter().zip(&self.clocks).zip(&mut self.tallies);
        for (i, (cell, ((what, &is_clock), tally))) in cells.iter().zip(uses).enumerate() {
            if matches!(what, Use::Nothing) || is_missing(cell, self.missing) {
                continue;
            }
            let done = match *what {
                Use::Nothing => Ok(()),
                Use::Flags => flags(cell).map(|roles| {
                    tally.add(f64::from(roles.bits()));
                    row.flags = roles;
                }),
                Use::Value { known, unit, .. } => {
                    let clock = Some(&mut self.clock).filter(|_| is_clock);
                    value(cell, known, unit, self.split, clock).map(|(given, ours)| {
                        tally.add(given);
                        (known.set)(&mut row, ours);
                    })
                }
            };
            if let Err((what, allowed)) = done {
                self.faults.push(Fault {
                    name: self.name.to_owned(),
                    line,
                    column: Some(i + 1),
                    what,
                    allowed,
                });
                if self.faults.len() >= MAX_FAULTS {
                    return;
                }
            }
        }
        self.rows.push(row);
    }
}

/// Roles received from a station.
fn flags(cell: &str) -> Result<Roles, (String, String)> {
    match cell.parse::<u32>() {
        // Our own: the level is to be kept.
        Ok(bits) if bits & !Roles::FORCED.bits() < 1 << FLAG_BITS => {
            Ok(Roles::from_bits_retain(bits))
        }
        _ => Err((
            format!("{FLAGS} is `{}`", shown(cell)),
            format!(
                "a whole number from 0 to {} is expected",
                (1 << FLAG_BITS) - 1
            ),
        )),
    }
}

/// The number in a cell, as it stands and in our unit, within its bounds.
fn value(
    cell: &str,
    known: &Known,
    unit: &Unit,
    split: Split<'_>,
    clock: Option<&mut ClockColumn>,
) -> Result<(f64, f64), (String, String)> {
    let what = || format!("{} is `{}`", known.name, shown(cell));
    let read = match clock.and_then(|clock| clock.read(cell, unit.notation)) {
        Some(Ok(seconds)) if known.allows(seconds) => return Ok((seconds, seconds)),
        Some(Ok(_)) => return Err((what(), "more than 11 days after the first row".to_owned())),
        Some(Err(allowed)) => return Err((what(), allowed)),
        None => number(cell, split),
    };
    match read {
        Some(v) if v.is_finite() => {
            let converted = unit.ours(v);
            // Snapped, so that a bound that went through a conversion is itself.
            if known.allows(converted) || known.allows(snap(converted)) {
                Ok((v, converted))
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

/// Rows as delimited text that [`read`] takes without a sheet, the same to a
/// billionth: a header of our names, and only the columns that have a value; `None`
/// when there is no value.
#[must_use]
pub fn write(raw: &RawProfile) -> Option<String> {
    let held = crate::input::jsonl::columns_with_values(&raw.rows);
    if held.iter().all(|(name, _)| *name == FLAGS) {
        return None;
    }
    let names: Vec<&str> = held.iter().map(|(name, _)| *name).collect();
    let mut out = names.join(",") + "\n";
    for row in &raw.rows {
        for (i, (_, get)) in held.iter().enumerate() {
            let value = get.text(row);
            match (i, value.is_empty() && held.len() == 1) {
                // A blank line would be none.
                (_, true) => out.push_str("///"),
                (0, _) => out.push_str(&value),
                _ => {
                    out.push(',');
                    out.push_str(&value);
                }
            }
        }
        out.push('\n');
    }
    Some(out)
}
