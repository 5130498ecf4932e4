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
use crate::input::text::lines::{Lines, MAX_LINE, Split};
use crate::input::{ColumnUse, Contents, Fault, RawProfile, RawRow, SourceError};
use crate::model::quantity::{POWERS_OF_TEN, snap};
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
    let column = |what: Use| {
        let (is_clock, ours) = match what {
            Use::Value { known, unit, .. } => (known.is_clock(), unit.convert.is_none()),
            _ => (false, false),
        };
        Column {
            what,
            is_clock,
            is_ours: ours && !is_clock,
            given: f64::NAN,
            tally: Tally::default(),
        }
    };
    let mut table = Table {
        name,
        split: head.split,
        named: head.line.is_none(),
        columns: uses.into_iter().map(column).collect(),
        missing: &missing,
        numbers: missing.iter().filter_map(|mark| plain(mark)).collect(),
        rows: Vec::new(),
        faults: Vec::new(),
        clock: ClockColumn::default(),
    };
    // Where there is no memory for as many rows as lines, fewer may do.
    let most = memchr::memchr_iter(b'\n', &bytes).count().min(MAX_ROWS);
    let _ = table.rows.try_reserve_exact(most);
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    loop {
        lines.take_while(|number, text| table.plain_row(number, text));
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
        let most = table.columns.len().saturating_add(1);
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
    let named = table.columns.iter().zip(&names).enumerate();
    let columns = named
        .map(|(i, (column, name))| {
            (column.what).column_use(i, name, column.tally.taking(), &table.clock)
        })
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

/// A number of up to 15 digits with at most one point, as nearly all cells are.
fn plain(cell: &str) -> Option<f64> {
    let (value, rest) = leading(cell.as_bytes())?;
    rest.is_empty().then_some(value)
}

/// The plain number at the beginning of a text, and what comes after it. Its digits without
/// the point and the power of ten are both exact in a float, so that their quotient is
/// rounded once (W. D. Clinger, How to read floating point numbers accurately, 1990).
#[inline(always)]
fn leading(text: &[u8]) -> Option<(f64, &[u8])> {
    const POINT: u64 = (b'.' ^ b'0') as u64;
    let (negative, text) = match text {
        [b'-', rest @ ..] => (true, rest),
        rest => (false, rest),
    };
    let octets = eight(text);
    let others = no_digits(octets);
    let (value, count) = if others == 0 {
        long(text, many_digits(text))?
    } else {
        let end = others.trailing_zeros();
        let first = end - 7;
        let number = || number_of((octets << 8) << (63 - end));
        let figures = (end / 8) as usize;
        if (octets >> first) & 0xff != POINT {
            (figures > 0).then(|| (number(), figures))?
        } else if others & (others - 1) == 0 {
            // The digits behind the point go on.
            long(text, (number(), figures))?
        } else {
            // The digits behind the point move to its place.
            let stop = (others & (others - 1)).trailing_zeros();
            let before = (1 << first) - 1;
            let digits = (octets & before) | ((octets >> 8) & !before);
            let power = POWERS_OF_TEN.get(((stop - end) / 8 - 1) as usize)?;
            (stop > 15).then(|| {
                (
                    number_of(digits << (79 - stop)) / power,
                    (stop / 8) as usize,
                )
            })?
        }
    };
    Some((if negative { -value } else { value }, text.get(count..)?))
}

/// The number at the beginning of a text that begins with these digits, their number and how
/// many they are; and how many octets it has.
#[inline(always)]
fn long(text: &[u8], (value, figures): (f64, usize)) -> Option<(f64, usize)> {
    let (mut value, mut all, mut count) = (value, figures, figures);
    if let [b'.', behind @ ..] = text.get(figures..)? {
        let (part, places) = digits(behind);
        let power = POWERS_OF_TEN.get(places)?;
        value = (value * power + part) / power;
        all += places;
        count = all + 1;
    }
    (1..=15).contains(&all).then_some((value, count))
}

/// The first eight octets of a text as one number, the first the lowest, each less the figure
/// 0: of a digit its value.
#[inline(always)]
fn eight(text: &[u8]) -> u64 {
    let octets = match text.first_chunk::<8>() {
        Some(octets) => u64::from_le_bytes(*octets),
        None => last_octets(text),
    };
    octets ^ (EACH * u64::from(b'0'))
}

/// One in each of eight octets.
const EACH: u64 = 0x0101_0101_0101_0101;

/// The upper bit of every octet that is no digit; above the lowest that is not printed some
/// others too.
#[inline(always)]
fn no_digits(octets: u64) -> u64 {
    (octets.wrapping_add(EACH * 0x76) | octets) & (EACH * 0x80)
}

/// The number of some digits, up to seven, the last in the highest octet and zeros before the
/// first: they are added up in pairs, and these in fours (D. Lemire, Number parsing at a
/// gigabyte per second, 2021).
#[inline(always)]
fn number_of(digits: u64) -> f64 {
    let pairs = (digits.wrapping_mul(10)).wrapping_add(digits >> 8);
    let (low, high) = (pairs & 0xff_0000_00ff, (pairs >> 16) & 0xff_0000_00ff);
    let sum = low.wrapping_mul(100 + (1_000_000 << 32));
    let sum = sum.wrapping_add(high.wrapping_mul(1 + (10_000 << 32)));
    f64::from((sum >> 32) as u32)
}

/// The digits at the beginning of a text: their number, exact for up to 15, and how many they
/// are.
#[inline(always)]
fn digits(text: &[u8]) -> (f64, usize) {
    let octets = eight(text);
    let others = no_digits(octets);
    if others == 0 {
        return many_digits(text);
    }
    let end = others.trailing_zeros();
    (number_of((octets << 8) << (63 - end)), (end / 8) as usize)
}

/// The same for eight digits and more.
#[cold]
fn many_digits(text: &[u8]) -> (f64, usize) {
    let digits = || text.iter().take_while(|octet| octet.is_ascii_digit());
    let number = digits().fold(0_u64, |number, octet| {
        (number.wrapping_mul(10)).wrapping_add(u64::from(octet - b'0'))
    });
    #[expect(clippy::cast_precision_loss, reason = "exact for up to 15 digits")]
    (number as f64, digits().count())
}

/// The octets at the end of a file, fewer than eight, with zeros behind.
#[cold]
fn last_octets(text: &[u8]) -> u64 {
    let places = text.iter().zip((0..64).step_by(8));
    places.fold(0, |all, (&octet, place)| all | u64::from(octet) << place)
}

/// What comes after the blanks at the beginning of a text.
fn after_blanks(mut text: &[u8]) -> &[u8] {
    while let [b' ', rest @ ..] = text {
        text = rest;
    }
    text
}

/// Whether a cell of printed characters without quotes gives no value.
fn is_nothing(what: Use, cell: &[u8], missing: &[&str]) -> Option<bool> {
    let printed = |&b: &u8| matches!(b, b' '..=b'~') && b != b'"';
    let cell = std::str::from_utf8(cell).ok()?;
    match what {
        _ if !cell.as_bytes().iter().all(printed) => None,
        Use::Nothing => Some(true),
        Use::Value { .. } => Some(is_missing(cell.trim_end(), missing)),
        Use::Flags => None,
    }
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
    /// Counts a value; NaN is none.
    #[inline]
    fn add(&mut self, value: f64) {
        self.present += usize::from(!value.is_nan());
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

/// A column of the file.
struct Column {
    what: Use,
    /// Whether it may hold clock times.
    is_clock: bool,
    /// Whether its values are numbers in our unit and no clock times.
    is_ours: bool,
    /// Its value in the row that is being read, as it is given; NaN for none.
    given: f64,
    tally: Tally,
}

/// What has been read below a header.
struct Table<'a> {
    name: &'a str,
    split: Split<'a>,
    /// Whether the sheet gives the names.
    named: bool,
    columns: Vec<Column>,
    /// The sheet's marks for missing.
    missing: &'a [&'a str],
    /// Those of them that are plain numbers.
    numbers: Vec<f64>,
    rows: Vec<RawRow>,
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

    /// Takes the row at the beginning of a text when it is of plain numbers within their
    /// bounds and of cells that say that there is no value, as nearly all rows are, and ends:
    /// what comes after it. Of any other line `None`, and nothing is taken.
    fn plain_row<'t>(&mut self, line: usize, text: &'t [u8]) -> Option<&'t [u8]> {
        if self.rows.len() >= MAX_ROWS {
            return None;
        }
        self.rows.push(RawRow {
            line,
            ..RawRow::default()
        });
        let after = self.plain_cells(text);
        if after.is_none() {
            self.rows.pop();
        }
        after
    }

    /// Reads such a row into the last one.
    fn plain_cells<'t>(&mut self, text: &'t [u8]) -> Option<&'t [u8]> {
        let mut rest = after_blanks(text);
        if matches!(rest, [] | [b'#' | b'\r' | b'\n', ..]) {
            return None;
        }
        let delimiter = match self.split {
            Split::At(delimiter) => delimiter,
            Split::Blanks => b' ',
            Split::Widths(_) => return None,
        };
        let row = self.rows.last_mut()?;
        let mut first = true;
        for column in &mut self.columns {
            if !first {
                rest = match rest {
                    [first, behind @ ..] if *first == delimiter => after_blanks(behind),
                    _ => return None,
                };
            }
            first = false;
            if let Use::Value { known, unit, .. } = column.what
                && let Some((value, mut behind)) = leading(rest)
                && value != -9999.0
                && (self.numbers.is_empty() || !self.numbers.contains(&value))
            {
                if delimiter != b' ' && behind.first() != Some(&delimiter) {
                    behind = after_blanks(behind);
                }
                let mut ours = value;
                if !column.is_ours {
                    if column.is_clock && !self.clock.has_numbers(unit.notation) {
                        return None;
                    }
                    ours = unit.ours(value);
                }
                if !known.allows(ours) {
                    return None;
                }
                (known.set)(row, ours);
                (column.given, rest) = (value, behind);
            } else {
                let ends = |&b: &u8| b == delimiter || matches!(b, b'\r' | b'\n');
                let (cell, behind) = rest.split_at_checked(rest.iter().position(ends)?)?;
                if !is_nothing(column.what, cell, self.missing)? {
                    return None;
                }
                (column.given, rest) = (f64::NAN, behind);
            }
        }
        let ([b'\n', rest @ ..] | [b'\r', b'\n', rest @ ..]) = after_blanks(rest) else {
            return None;
        };
        if text.len() - rest.len() > MAX_LINE {
            return None;
        }
        for column in &mut self.columns {
            column.tally.add(column.given);
        }
        Some(rest)
    }

    /// Takes a row, or notes what is wrong with it.
    fn row(&mut self, cells: &[Cow<'_, str>], line: usize) {
        let columns = self.columns.len();
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
        for (i, (cell, column)) in cells.iter().zip(&mut self.columns).enumerate() {
            if matches!(column.what, Use::Nothing) || is_missing(cell, self.missing) {
                continue;
            }
            let tally = &mut column.tally;
            let done = match column.what {
                Use::Nothing => Ok(()),
                Use::Flags => flags(cell).map(|roles| {
                    tally.add(f64::from(roles.bits()));
                    row.flags = roles;
                }),
                Use::Value { known, unit, .. } => {
                    let clock = Some(&mut self.clock).filter(|_| column.is_clock);
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
