//! Where the rows of a text begin, when other lines stand above its header.

use crate::input::SourceError;
use crate::input::elements::known::Use;
use crate::input::text::head::{Head, is_number};
use crate::input::text::lines::Lines;
use crate::model::Reading;

/// Most lines that are looked at.
const MAX_LINES: usize = 200;
/// Rows that must fit the header above them.
const ROWS: usize = 3;
/// Fewest columns, and fewest numbers in a row, of what can be a sounding.
const MIN_COLUMNS: usize = 3;
const MIN_NUMBERS: usize = 2;

/// How many lines stand above the header, or above the first row of a text without
/// one: a header has rows of as many cells below it, with numbers. Of several, the
/// first that names two columns that are known; 0 when there is none, or when the
/// sheet says where the rows begin.
///
/// # Errors
/// Lines that are no text.
pub(super) fn lines_above(
    text: &[u8],
    name: &str,
    reading: &Reading,
) -> Result<usize, SourceError> {
    if reading.skip_lines > 0 || !reading.names.is_empty() {
        return Ok(0);
    }
    let mut lines = Lines::below(text, name, 0);
    let mut unknown = None;
    for at in 0..MAX_LINES {
        let Some((line, _)) = lines.next()? else {
            break;
        };
        let Some(known) = header_below(text, name, line.saturating_sub(1), reading) else {
            continue;
        };
        if at == 0 || known >= MIN_NUMBERS {
            return Ok(if at == 0 { 0 } else { line.saturating_sub(1) });
        }
        unknown.get_or_insert(line.saturating_sub(1));
    }
    Ok(unknown.unwrap_or(0))
}

/// How many columns are known by their names in the header below `skip` lines; `None`
/// when no header with rows is there.
fn header_below(text: &[u8], name: &str, skip: usize, reading: &Reading) -> Option<usize> {
    let mut lines = Lines::below(text, name, skip);
    let head = Head::read(&mut lines, name, reading, true).ok()?;
    let columns = head.cells.len();
    for _ in 0..ROWS {
        let (_, line) = lines.next().ok()??;
        let mut cells = Vec::new();
        head.split
            .cells(line, columns.saturating_add(1), &mut cells)
            .ok()?;
        let numbers = cells.iter().filter(|cell| is_number(cell)).count();
        if cells.len() != columns || numbers < MIN_NUMBERS {
            return None;
        }
    }
    if columns < MIN_COLUMNS {
        return None;
    }
    let cells: Vec<&str> = head.cells.iter().map(String::as_str).collect();
    let uses = head.header(name, &cells, reading).uses(&mut Vec::new());
    let known = |what: &&Use| !matches!(what, Use::Nothing);
    Some(uses.map_or(0, |uses| uses.iter().filter(known).count()))
}
