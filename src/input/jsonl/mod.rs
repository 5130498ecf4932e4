//! JSON Lines: one flight per line, as
//! `{"id": "…", "sheet": {…}, "columns": {"pressure_hpa": [1004.3, null, …], …}}`.
//!
//! The sheet has the keys of the TOML sheet; a column has our name, which gives
//! its unit, and a number or null for each row.

use std::borrow::Cow;

use itertools::Itertools as _;
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value, json};

use crate::forms::json::what;
use crate::input::elements::known::{FLAGS, KNOWN, shown};
use crate::input::sheet;
use crate::input::sheet::{MAX_SHEET_BYTES, Source};
use crate::input::{Contents, RawProfile, RawRow, SourceError};
use crate::model::quantity::trim;

mod columns;
#[cfg(test)]
mod schema;
#[cfg(test)]
mod tests;

use columns::Columns;

/// Largest file of which one flight is taken, octets.
const MAX_FILE: usize = 1 << 30;
/// Most rows of a flight: 55 hours at one row per second.
const MAX_ROWS: usize = 200_000;
/// Longest line, octets: that of `MAX_ROWS` rows with every column has some 30 million.
pub const MAX_LINE: usize = 32 << 20;
/// Longest name of a flight, characters.
const MAX_ID: usize = 200;

/// One flight; nothing of it is copied.
#[derive(Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(title = "flight"))]
#[serde(deny_unknown_fields)]
struct Flight<'a> {
    /// A name, given back beside the report.
    #[serde(borrow)]
    #[cfg_attr(test, schemars(length(min = 1, max = 200)))]
    id: Cow<'a, str>,
    /// Station and flight, with the keys of the TOML sheet.
    #[serde(default, borrow)]
    #[cfg_attr(test, schemars(schema_with = "schema::sheet"))]
    sheet: Option<&'a RawValue>,
    /// A column each, all of one length.
    #[serde(borrow)]
    #[cfg_attr(test, schemars(schema_with = "schema::columns"))]
    columns: Columns<'a>,
}

/// The name of a flight whose line is otherwise at fault.
#[derive(Deserialize)]
struct Named<'a> {
    #[serde(borrow)]
    id: Cow<'a, str>,
}

/// The JSON Schema of one line (draft 2020-12).
#[must_use]
pub fn schema() -> Value {
    serde_json::from_str(include_str!("schema.json")).unwrap_or_default()
}

/// Whether the start of a file is that of JSON objects.
#[must_use]
pub fn is_jsonl(start: &[u8]) -> bool {
    let start = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start);
    let Some(inside) = start.trim_ascii_start().strip_prefix(b"{") else {
        return false;
    };
    matches!(inside.trim_ascii_start().first(), None | Some(b'"' | b'}'))
}

/// Reads the one flight of a file, or the one of that number (from 1): its name
/// and what is known of it. Blank lines are passed over.
///
/// # Errors
/// A line that is no flight; several where none is named; no such number.
pub fn read(
    bytes: &[u8],
    name: &str,
    number: Option<usize>,
) -> Result<(String, Contents), SourceError> {
    if bytes.len() > MAX_FILE {
        return Err(SourceError::FileTooLarge {
            name: name.to_owned(),
            octets: bytes.len(),
            limit: MAX_FILE,
        });
    }
    let which = |what: String| {
        Err(SourceError::Which {
            name: name.to_owned(),
            what,
        })
    };
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut lines = (1..)
        .zip(bytes.split(|&b| b == b'\n'))
        .filter(|(_, line)| !line.trim_ascii().is_empty());
    let count = lines.clone().count();
    let wanted = match number {
        None if count > 1 => {
            // An object over several lines is reported as what it is.
            if let Some((line, text)) = lines.next()
                && !text.trim_ascii_end().ends_with(b"}")
            {
                flight(text, name, line)?;
            }
            return Err(SourceError::Several {
                name: name.to_owned(),
                count,
                of: "flights".to_owned(),
            });
        }
        None => lines.next(),
        Some(number) => match number.checked_sub(1).and_then(|skip| lines.nth(skip)) {
            Some(line) => Some(line),
            None => {
                return which(format!("there is no flight {number}; the file has {count}"));
            }
        },
    };
    match wanted {
        Some((line, text)) => flight(text, name, line),
        None => which("the file is empty; one flight per line is expected".to_owned()),
    }
}

/// Reads the flight of one line: its name and what is known of it.
///
/// # Errors
/// A line that is no flight, with its number and, where the line says them, the
/// flight and the column.
pub fn flight(text: &[u8], name: &str, line: usize) -> Result<(String, Contents), SourceError> {
    let refused = |id: Option<&str>, what: String| SourceError::Flight {
        name: name.to_owned(),
        line,
        id: id.map(shown),
        what,
    };
    if text.len() > MAX_LINE {
        let what = format!(
            "the line has {} octets; at most {MAX_LINE} are read",
            text.len()
        );
        return Err(refused(None, what));
    }
    let flight: Flight<'_> = serde_json::from_slice(text).map_err(|error| {
        let what = what(&error);
        let named = serde_json::from_slice::<Named<'_>>(text).ok();
        refused(
            named.as_ref().map(|named| &*named.id),
            format!(
                "{what} (character {}; a flight is one object on one line with id, sheet and columns)",
                error.column()
            ),
        )
    })?;
    let Flight { id, sheet, columns } = flight;
    let refused = |what: String| refused(Some(&id), what);
    let characters = id.chars().count();
    if characters == 0 || characters > MAX_ID {
        return Err(refused(format!(
            "id has {characters} characters; 1 to {MAX_ID} are allowed"
        )));
    }
    let sheet = sheet.map_or("{}", RawValue::get);
    let sheet = sheet_text(sheet).map_err(&refused)?;
    let rows = columns.rows().map_err(&refused)?;
    let raw = RawProfile {
        name: format!("{name} (flight {})", shown(&id)),
        rows,
        start: None,
    };
    let contents = Contents {
        raw,
        sheet: Some(sheet),
        ..Contents::default()
    };
    Ok((id.into_owned(), contents))
}

/// The sheet as TOML, each of its keys checked.
fn sheet_text(sheet: &str) -> Result<String, String> {
    if sheet.len() > MAX_SHEET_BYTES {
        return Err(format!(
            "sheet has {} octets; at most {MAX_SHEET_BYTES} are read",
            sheet.len()
        ));
    }
    let text = sheet_toml(sheet)?;
    let source = Source {
        name: "sheet",
        text: &text,
    };
    sheet::joined(&[source]).map_err(|error| {
        let faults = error.faults().iter();
        faults.map(|f| format!("sheet: {}", f.fault)).join("; ")
    })?;
    Ok(text)
}

/// A sheet that is a JSON object with the keys of the TOML sheet, as TOML.
///
/// # Errors
/// What is no object, or null in an array, in words.
pub fn sheet_toml(json: &str) -> Result<String, String> {
    let sheet: Map<String, Value> =
        serde_json::from_str(json).map_err(|error| format!("sheet: {error}"))?;
    match toml_of(Value::Object(sheet), "sheet")? {
        Some(toml::Value::Table(table)) => Ok(table.to_string()),
        _ => Ok(String::new()),
    }
}

/// A value of JSON as one of TOML; null is left out.
fn toml_of(value: Value, key: &str) -> Result<Option<toml::Value>, String> {
    Ok(Some(match value {
        Value::Null => return Ok(None),
        Value::Bool(flag) => flag.into(),
        Value::String(text) => text.into(),
        Value::Number(number) => match (number.as_i64(), number.as_f64()) {
            (Some(whole), _) => whole.into(),
            (None, Some(float)) => float.into(),
            (None, None) => return Err(format!("{key} is {number}, out of every range")),
        },
        Value::Array(items) => {
            let mut out = Vec::with_capacity(items.len());
            for (i, item) in items.into_iter().enumerate() {
                let key = format!("{key}[{}]", i.saturating_add(1));
                match toml_of(item, &key)? {
                    Some(item) => out.push(item),
                    None => return Err(format!("{key} is null; a value is expected")),
                }
            }
            toml::Value::Array(out)
        }
        Value::Object(entries) => {
            let mut out = toml::Table::new();
            for (name, value) in entries {
                if let Some(value) = toml_of(value, &format!("{key}.{}", shown(&name)))? {
                    out.insert(name, value);
                }
            }
            toml::Value::Table(out)
        }
    }))
}

/// A flight as a line that [`flight()`] reads back, sheet and rows the same to a
/// billionth; what the sheet says of reading files is left out.
#[must_use]
pub fn write(id: &str, sheet: &toml::Table, raw: &RawProfile) -> String {
    let mut sheet = sheet.clone();
    sheet.remove("columns");
    sheet.remove("text");
    let mut columns = Map::new();
    for (name, get) in columns_with_values(&raw.rows) {
        let values = raw.rows.iter().map(|row| get.of(row)).collect();
        columns.insert(name.to_owned(), Value::Array(values));
    }
    let line = json!({ "id": id, "sheet": sheet, "columns": columns });
    line.to_string() + "\n"
}

/// How a value of a row is got.
#[derive(Clone, Copy)]
pub(in crate::input) enum Get {
    Value(fn(&RawRow) -> Option<f64>),
    Flags,
}

/// What a conversion leaves beyond a billionth is left off.
fn short(value: f64) -> f64 {
    let short = trim(value);
    if short == 0.0 { value } else { short }
}

impl Get {
    fn of(self, row: &RawRow) -> Value {
        match self {
            Self::Value(get) => get(row).map(short).into(),
            Self::Flags => row.flags.bits().into(),
        }
    }

    /// The same as text; empty when it is missing.
    pub(in crate::input) fn text(self, row: &RawRow) -> String {
        match self {
            Self::Value(get) => match get(row).map(|v| short(v).to_string()) {
                // The bare figures mean missing.
                Some(text) if text == "-9999" => "-9999.00".to_owned(),
                text => text.unwrap_or_default(),
            },
            Self::Flags => row.flags.bits().to_string(),
        }
    }
}

/// The columns that have a value in some row.
pub(in crate::input) fn columns_with_values(rows: &[RawRow]) -> Vec<(&'static str, Get)> {
    let mut held: Vec<(&'static str, Get)> = (KNOWN.iter())
        .filter(|known| rows.iter().any(|row| (known.get)(row).is_some()))
        .map(|known| (known.name, Get::Value(known.get)))
        .collect();
    if rows.iter().any(|row| !row.flags.is_empty()) {
        held.push((FLAGS, Get::Flags));
    }
    held
}
