//! The strict reader of the embedded tables.
//!
//! Comma-separated UTF-8 with LF: header comments (`#`), a line of column
//! names, then rows. A field with a comma stands in double quotes. Everything
//! that could hide a slip of the pen is refused: blank lines, spaces at the
//! edge of a field, wrong counts of fields, keys that are doubled, out of
//! order or left out.

use std::collections::HashMap;
use std::str::FromStr;

/// What is wrong with a table, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}:{line}: {what}")]
pub struct Fault {
    /// The file, from the root of the crate.
    pub file: &'static str,
    /// Line, from 1.
    pub line: usize,
    /// What is wrong, with the value.
    pub what: String,
}

/// An embedded file.
#[derive(Clone, Copy, Debug)]
pub(super) struct File {
    /// Path from the root of the crate.
    pub(super) name: &'static str,
    /// The whole text.
    pub(super) text: &'static str,
}

impl File {
    /// A fault of the table as a whole, placed at its last line.
    pub(super) fn fault_at_end(self, what: impl Into<String>) -> Fault {
        Fault {
            file: self.name,
            line: self.text.lines().count(),
            what: what.into(),
        }
    }
}

/// How the keys of a table follow one another.
#[derive(Clone, Copy, Debug)]
pub(super) enum Order {
    /// Whole numbers without a gap through each of these runs, ends included.
    Run(&'static [(u32, u32)]),
    /// Numbers, each less than the one before.
    Falling,
    /// Numbers, each greater than the one before.
    Rising,
    /// Words, each once.
    Unique,
}

/// What a table must look like.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shape {
    /// The column names, in order.
    pub(super) columns: &'static [&'static str],
    /// How many leading columns name a group of rows; the next is the key.
    pub(super) group: usize,
    /// How keys follow one another within a group.
    pub(super) order: Order,
}

/// One row.
#[derive(Clone, Debug)]
pub(super) struct Row {
    file: &'static str,
    line: usize,
    columns: &'static [&'static str],
    cells: Vec<&'static str>,
}

impl Row {
    /// A fault in this row.
    pub(super) fn fault(&self, what: impl Into<String>) -> Fault {
        Fault {
            file: self.file,
            line: self.line,
            what: what.into(),
        }
    }

    /// The cell, `None` when empty.
    pub(super) fn optional(&self, column: &str) -> Result<Option<&'static str>, Fault> {
        self.columns
            .iter()
            .position(|name| *name == column)
            .and_then(|at| self.cells.get(at))
            .map(|cell| Some(*cell).filter(|cell| !cell.is_empty()))
            .ok_or_else(|| self.fault(format!("no column `{column}`")))
    }

    /// The cell, which must not be empty.
    pub(super) fn text(&self, column: &str) -> Result<&'static str, Fault> {
        self.optional(column)?
            .ok_or_else(|| self.fault(format!("`{column}` is empty")))
    }

    /// The cell as a number, `None` when empty.
    pub(super) fn optional_number<T: FromStr>(&self, column: &str) -> Result<Option<T>, Fault> {
        self.optional(column)?
            .map(|cell| {
                cell.parse().map_err(|_| {
                    self.fault(format!("`{column}` is `{cell}`, not a number in range"))
                })
            })
            .transpose()
    }

    /// The cell as a number.
    pub(super) fn number<T: FromStr>(&self, column: &str) -> Result<T, Fault> {
        self.optional_number(column)?
            .ok_or_else(|| self.fault(format!("`{column}` is empty")))
    }

    /// The cell as one of a list of words.
    pub(super) fn word<T: Copy>(&self, column: &str, words: &[(&str, T)]) -> Result<T, Fault> {
        let cell = self.text(column)?;
        words
            .iter()
            .find(|(word, _)| *word == cell)
            .map(|&(_, meaning)| meaning)
            .ok_or_else(|| {
                let known: Vec<&str> = words.iter().map(|&(word, _)| word).collect();
                self.fault(format!(
                    "`{column}` is `{cell}`, not one of {}",
                    known.join(" ")
                ))
            })
    }
}

/// Reads a file into rows, all checks made.
pub(super) fn rows(file: File, shape: Shape) -> Result<Vec<Row>, Fault> {
    let fault = |line: usize, what: String| Fault {
        file: file.name,
        line,
        what,
    };
    let Some(body) = file.text.strip_suffix('\n') else {
        let last = file.text.split('\n').count();
        return Err(fault(
            last,
            "no line feed at the end of the file".to_owned(),
        ));
    };
    let mut lines = (1..).zip(body.split('\n')).peekable();
    let mut comments = 0;
    while lines.next_if(|(_, line)| line.starts_with('#')).is_some() {
        comments += 1;
    }
    if comments == 0 {
        let what = "no header comment: the file must start with `#`, document and date";
        return Err(fault(1, what.to_owned()));
    }
    let mut named = false;
    let mut found = Vec::new();
    let mut last = comments;
    for (line, text) in lines {
        last = line;
        let cells = split(text).map_err(|what| fault(line, what))?;
        if !named {
            if cells != shape.columns {
                let want = shape.columns.join(",");
                return Err(fault(line, format!("columns are `{text}`, not `{want}`")));
            }
            named = true;
            continue;
        }
        if cells.len() != shape.columns.len() {
            let (is, want) = (cells.len(), shape.columns.len());
            return Err(fault(
                line,
                format!("{is} fields where there are {want} columns"),
            ));
        }
        found.push(Row {
            file: file.name,
            line,
            columns: shape.columns,
            cells,
        });
    }
    if found.is_empty() {
        return Err(fault(last, "no rows".to_owned()));
    }
    check_groups(&found, shape)?;
    Ok(found)
}

/// Reads a table of one key column, row by row.
pub(super) fn read<T>(
    file: File,
    columns: &'static [&'static str],
    order: Order,
    one: impl Fn(&Row) -> Result<T, Fault>,
) -> Result<Vec<T>, Fault> {
    let shape = Shape {
        columns,
        group: 0,
        order,
    };
    rows(file, shape)?.iter().map(one).collect()
}

/// Splits a line into its fields.
fn split(line: &'static str) -> Result<Vec<&'static str>, String> {
    if line.is_empty() {
        return Err("blank line".to_owned());
    }
    if line.starts_with('#') {
        return Err("comment below the column names".to_owned());
    }
    if line.contains('\r') {
        return Err("carriage return: lines end with a line feed alone".to_owned());
    }
    let mut cells = Vec::new();
    let mut rest = Some(line);
    while let Some(text) = rest {
        let number = cells.len() + 1;
        let cell = if let Some(quoted) = text.strip_prefix('"') {
            let (cell, after) = quoted
                .split_once('"')
                .ok_or_else(|| format!("quote never closed in field {number}"))?;
            rest = if after.is_empty() {
                None
            } else {
                let next = after.strip_prefix(',');
                Some(next.ok_or_else(|| format!("text after the closing quote of field {number}"))?)
            };
            cell
        } else {
            let (cell, after) = match text.split_once(',') {
                Some((cell, after)) => (cell, Some(after)),
                None => (text, None),
            };
            if cell.contains('"') {
                return Err(format!("quote inside field {number}"));
            }
            rest = after;
            cell
        };
        if cell.trim() != cell {
            return Err(format!("space at the edge of field {number}"));
        }
        cells.push(cell);
    }
    Ok(cells)
}

/// Checks that groups are whole and that the keys of each are in order.
fn check_groups(rows: &[Row], shape: Shape) -> Result<(), Fault> {
    let group_of = |row: &Row| row.cells.get(..shape.group).unwrap_or_default().join(",");
    let mut seen: Vec<String> = Vec::new();
    for group in rows.chunk_by(|a, b| group_of(a) == group_of(b)) {
        let Some(first) = group.first() else { continue };
        let name = group_of(first);
        if seen.contains(&name) {
            return Err(first.fault(format!("group `{name}` comes back after another")));
        }
        seen.push(name);
        check_keys(group, shape)?;
    }
    Ok(())
}

fn check_keys(rows: &[Row], shape: Shape) -> Result<(), Fault> {
    let keys: Vec<(&Row, &'static str)> = rows
        .iter()
        .map(|row| match row.cells.get(shape.group) {
            Some(key) if !key.is_empty() => Ok((row, *key)),
            _ => Err(row.fault("the key is empty")),
        })
        .collect::<Result<_, _>>()?;
    match shape.order {
        Order::Unique => {
            let mut first = HashMap::new();
            for (row, key) in keys {
                if let Some(line) = first.insert(key, row.line) {
                    return Err(
                        row.fault(format!("key `{key}` stands twice, first on line {line}"))
                    );
                }
            }
            Ok(())
        }
        Order::Falling | Order::Rising => {
            let falling = matches!(shape.order, Order::Falling);
            let mut before: Option<(f64, &str)> = None;
            for (row, key) in keys {
                let value = key_number::<f64>(row, key)?;
                if let Some((last, last_key)) = before {
                    if value == last {
                        return Err(row.fault(format!("key `{key}` stands twice")));
                    }
                    if (value > last) == falling {
                        let way = if falling { "fall" } else { "rise" };
                        let what = format!("key `{key}` after `{last_key}`: keys must {way}");
                        return Err(row.fault(what));
                    }
                }
                before = Some((value, key));
            }
            Ok(())
        }
        Order::Run(runs) => {
            let mut wanted = runs.iter().flat_map(|&(from, to)| from..=to);
            let mut before: Option<u32> = None;
            let mut last = None;
            for (row, key) in keys {
                last = Some(row);
                let value = key_number::<u32>(row, key)?;
                if before == Some(value) {
                    return Err(row.fault(format!("key `{key}` stands twice")));
                }
                match wanted.next() {
                    Some(want) if want == value => before = Some(value),
                    Some(want) => {
                        return Err(row.fault(format!("key `{key}` where `{want}` must stand")));
                    }
                    None => return Err(row.fault(format!("key `{key}` is past the last"))),
                }
            }
            match (wanted.next(), last) {
                (Some(want), Some(row)) => {
                    Err(row.fault(format!("the table ends before key `{want}`")))
                }
                _ => Ok(()),
            }
        }
    }
}

fn key_number<T: FromStr>(row: &Row, key: &str) -> Result<T, Fault> {
    key.parse()
        .map_err(|_| row.fault(format!("key `{key}` is not a number in range")))
}

#[cfg(test)]
mod tests;
