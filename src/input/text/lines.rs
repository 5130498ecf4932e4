//! The lines of a text and how each falls into cells.

use std::borrow::Cow;

use memchr::memchr;

use crate::input::SourceError;
use crate::model::Reading;

/// Longest line, octets.
pub(super) const MAX_LINE: usize = 1 << 20;
/// Most columns.
pub(in crate::input) const MAX_COLUMNS: usize = 1000;

/// The lines that are neither blank nor a comment, each with its number from 1.
pub(in crate::input) struct Lines<'a> {
    name: &'a str,
    /// What comes after the lines so far; `None` behind the last.
    rest: Option<&'a [u8]>,
    /// Lines so far.
    count: usize,
    back: Option<(usize, &'a str)>,
}

impl<'a> Lines<'a> {
    /// The lines below the first ones of a file, which may hold anything.
    pub(in crate::input) fn below(bytes: &'a [u8], name: &'a str, skip: usize) -> Self {
        let mut lines = Self {
            name,
            rest: Some(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)),
            count: 0,
            back: None,
        };
        for _ in 0..skip {
            if lines.octets().is_none() {
                break;
            }
        }
        lines
    }

    /// The next line as it stands.
    fn octets(&mut self) -> Option<&'a [u8]> {
        let rest = self.rest?;
        self.count += 1;
        let Some(end) = memchr(b'\n', rest) else {
            self.rest = None;
            return Some(rest);
        };
        let (line, after) = rest.split_at(end);
        self.rest = after.get(1..);
        Some(line)
    }

    /// The next line.
    ///
    /// # Errors
    /// A line that is too long, or no text in UTF-8.
    pub(in crate::input) fn next(&mut self) -> Result<Option<(usize, &'a str)>, SourceError> {
        if let Some(line) = self.back.take() {
            return Ok(Some(line));
        }
        while let Some(line) = self.octets() {
            let number = self.count;
            let line = text_of(line, self.name, number)?;
            // Nearly every line begins with a figure.
            if line.starts_with(|c: char| c.is_ascii_digit()) {
                return Ok(Some((number, line)));
            }
            if !line.trim().is_empty() && !line.trim_start().starts_with('#') {
                return Ok(Some((number, line)));
            }
        }
        Ok(None)
    }

    /// Takes the next lines as long as `take` takes them: it is given the number of a line
    /// and the text from there on, which may be anything, and gives back what comes after
    /// the line.
    pub(in crate::input) fn take_while(
        &mut self,
        mut take: impl FnMut(usize, &'a [u8]) -> Option<&'a [u8]>,
    ) {
        while self.back.is_none()
            && let Some(text) = self.rest
            && let Some(after) = take(self.count + 1, text)
        {
            self.count += 1;
            self.rest = Some(after);
        }
    }

    /// Gives a line back, to be the next one.
    pub(in crate::input) fn put_back(&mut self, line: (usize, &'a str)) {
        self.back = Some(line);
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
    if let Some(at) = memchr(0, line) {
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
pub(in crate::input) enum Split<'a> {
    /// At every delimiter.
    At(u8),
    /// At runs of blanks.
    Blanks,
    /// After these numbers of characters.
    Widths(&'a [usize]),
}

/// Why a line does not fall into cells.
pub(in crate::input) enum NoCells {
    /// A quoted cell does not end on its line.
    OpenQuote,
    /// Something stands after the last width.
    AfterWidths {
        /// What it is.
        rest: String,
        /// Character of the line where it begins, from 1.
        at: usize,
        /// The column it would be, from 1.
        column: usize,
    },
}

impl NoCells {
    /// The column, what is wrong, and what is allowed.
    pub(in crate::input) fn what_and_allowed(self) -> (Option<usize>, (String, String)) {
        match self {
            Self::OpenQuote => (
                None,
                (
                    "a quote is opened and not closed".to_owned(),
                    "a quoted cell ends on its line".to_owned(),
                ),
            ),
            Self::AfterWidths { rest, at, column } => (
                Some(column),
                (
                    format!("`{rest}` stands at character {at}, after the last width"),
                    "add its width to [text] widths".to_owned(),
                ),
            ),
        }
    }
}

/// The way of splitting that the sheet asks for; `None` to find it out.
pub(in crate::input) fn asked<'a>(
    reading: &'a Reading,
    name: &str,
) -> Result<Option<Split<'a>>, SourceError> {
    let refused = |what: String| SourceError::Text {
        name: name.to_owned(),
        what,
    };
    if !reading.widths.is_empty() {
        if reading.delimiter.is_some() {
            return Err(refused(
                "widths and delimiter stand side by side; keep one of them".to_owned(),
            ));
        }
        if reading.widths.len() > MAX_COLUMNS {
            return Err(refused(format!(
                "widths has {} columns; at most {MAX_COLUMNS} are read",
                reading.widths.len()
            )));
        }
        if let Some(at) = reading.widths.iter().position(|&w| w == 0) {
            return Err(refused(format!(
                "widths[{}] is 0; a column has one character or more",
                at + 1
            )));
        }
        return Ok(Some(Split::Widths(&reading.widths)));
    }
    let Some(delimiter) = reading.delimiter else {
        return Ok(None);
    };
    match u8::try_from(delimiter) {
        Ok(b' ') => Ok(Some(Split::Blanks)),
        Ok(b) if b == b'\t' || (b.is_ascii_punctuation() && !b"\"#.+-".contains(&b)) => {
            Ok(Some(Split::At(b)))
        }
        _ => Err(SourceError::Delimiter {
            name: name.to_owned(),
            given: delimiter,
        }),
    }
}

impl Split<'_> {
    /// The delimiter most frequent in a header: comma, tab or semicolon (of equals the
    /// later, since commas stand within names), or else blanks.
    pub(in crate::input) fn of_header(line: &str) -> Self {
        let count = |d: u8| line.bytes().filter(|&b| b == d).count();
        let best = [b',', b'\t', b';']
            .into_iter()
            .map(|d| (count(d), d))
            .max_by_key(|&(n, _)| n);
        match best {
            Some((n, d)) if n > 0 => Self::At(d),
            _ => Self::Blanks,
        }
    }

    /// The delimiter of a row of numbers, in which a comma may be decimal.
    pub(in crate::input) fn of_row(line: &str) -> Self {
        let there = |d: &u8| line.bytes().any(|b| b == *d);
        let found = [b';', b'\t', b','].into_iter().find(there);
        found.map_or(Self::Blanks, Self::At)
    }

    /// The cells of a line, trimmed, at most a given number.
    pub(in crate::input) fn cells<'l>(
        self,
        line: &'l str,
        most: usize,
        cells: &mut Vec<Cow<'l, str>>,
    ) -> Result<(), NoCells> {
        match self {
            Self::At(d) if memchr(b'"', line.as_bytes()).is_some() => {
                quoted(line, d, most, cells)?;
            }
            Self::At(d) => plain(line, d, most, cells),
            Self::Blanks => {
                let parts = line.split_whitespace().take(most);
                cells.extend(parts.map(|c| Cow::Borrowed(unquoted(c))));
            }
            Self::Widths(widths) => cut(line, widths, cells)?,
        }
        Ok(())
    }
}

/// The cells of a line without quotes.
fn plain<'l>(line: &'l str, delimiter: u8, most: usize, cells: &mut Vec<Cow<'l, str>>) {
    let mut rest = line;
    for _ in 0..most {
        // Cells are short: a plain loop is faster than any search.
        let end = rest.bytes().position(|b| b == delimiter);
        // The delimiter is ASCII, so a character ends before it.
        let (cell, after) = match end {
            Some(end) => (rest.get(..end), rest.get(end + 1..)),
            None => (Some(rest), None),
        };
        cells.push(Cow::Borrowed(trimmed(cell.unwrap_or_default())));
        match after {
            Some(after) => rest = after,
            None => return,
        }
    }
}

/// A cell without blanks around it; nearly none has any.
fn trimmed(cell: &str) -> &str {
    match cell.as_bytes() {
        [b'!'..=b'~'] | [b'!'..=b'~', .., b'!'..=b'~'] => cell,
        _ => cell.trim(),
    }
}

/// Cuts a line after these numbers of characters; cells that a short line lacks are
/// blank.
fn cut<'l>(line: &'l str, widths: &[usize], cells: &mut Vec<Cow<'l, str>>) -> Result<(), NoCells> {
    let mut rest = line;
    for &width in widths {
        let end = rest
            .char_indices()
            .nth(width)
            .map_or(rest.len(), |(i, _)| i);
        let (cell, after) = rest.split_at_checked(end).unwrap_or((rest, ""));
        cells.push(Cow::Borrowed(cell.trim()));
        rest = after;
    }
    if rest.trim().is_empty() {
        return Ok(());
    }
    let blanks = rest.chars().take_while(|c| c.is_whitespace()).count();
    Err(NoCells::AfterWidths {
        rest: crate::input::elements::known::shown(rest.trim()),
        at: (widths.iter().fold(blanks, |sum, w| sum.saturating_add(*w))).saturating_add(1),
        column: widths.len().saturating_add(1),
    })
}

fn unquoted(cell: &str) -> &str {
    let inner = cell.strip_prefix('"').and_then(|c| c.strip_suffix('"'));
    inner.unwrap_or(cell)
}

/// The cells of a line with quotes in it: a delimiter inside quotes is part of
/// the cell, a doubled quote is one.
fn quoted<'l>(
    line: &'l str,
    delimiter: u8,
    most: usize,
    cells: &mut Vec<Cow<'l, str>>,
) -> Result<(), NoCells> {
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
        Err(NoCells::OpenQuote)
    }
}
