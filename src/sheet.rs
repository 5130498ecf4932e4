//! The sheet: TOML about the station and the flight.
//!
//! Several sheets are checked each on its own, then merged key by key (tables
//! merge, arrays replace, a later file wins), then completed.

mod complete;
mod keys;

use schemars::generate::SchemaSettings;
use thiserror::Error;

use crate::finding::{Finding, Place};
use crate::sounding::{Context, Reading};

/// Largest sheet, octets.
const MAX_SHEET: usize = 1 << 20;

/// One sheet file.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// Its name, for messages.
    pub name: &'a str,
    /// Its text.
    pub text: &'a str,
}

/// What the sheets say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// Station, flight and practice.
    pub context: Context,
    /// How to read the profile.
    pub reading: Reading,
}

/// A fault of a sheet, with its place.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{place}: {what}")]
#[non_exhaustive]
pub struct SheetError {
    /// File, line and column, or the key where no file has it.
    pub place: Place,
    /// What is wrong and what to do.
    pub what: String,
}

/// Reads, merges and completes sheets.
///
/// # Errors
/// Every fault found: syntax, unknown or mistyped keys (per file), then values
/// out of range and missing keys (of the whole).
pub fn read(files: &[Source<'_>]) -> Result<(Sheet, Vec<Finding>), Vec<SheetError>> {
    let mut errors = Vec::new();
    let mut merged = toml::Table::new();
    for file in files {
        match parse(file) {
            Ok(table) => merge(&mut merged, table),
            Err(error) => errors.push(*error),
        }
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    let keys: keys::SheetFile =
        toml::Value::Table(merged)
            .try_into()
            .map_err(|e: toml::de::Error| {
                vec![SheetError {
                    place: Place::default(),
                    what: e.message().to_owned(),
                }]
            })?;
    complete::complete(keys, files)
}

/// One file on its own: syntax, keys and types.
fn parse(file: &Source<'_>) -> Result<toml::Table, Box<SheetError>> {
    if file.text.len() > MAX_SHEET {
        let place = Place::default().in_file(file.name);
        return Err(Box::new(SheetError {
            place,
            what: "a sheet larger than 1 MiB".to_owned(),
        }));
    }
    let text = file.text.strip_prefix('\u{feff}').unwrap_or(file.text);
    let fault = |error: &toml::de::Error| {
        let (line, column) = position(text, error.span().map_or(0, |s| s.start));
        Box::new(SheetError {
            place: Place::line(file.name, line).at_column(column),
            what: explain(error.message()),
        })
    };
    let _: keys::SheetFile = toml::from_str(text).map_err(|e| fault(&e))?;
    toml::from_str(text).map_err(|e| fault(&e))
}

/// Line and column, from 1, of an octet offset.
fn position(text: &str, offset: usize) -> (usize, usize) {
    let before = text.get(..offset).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|&c| c != '\n').count() + 1;
    (line, column)
}

/// The words of a fault; an unknown key gets the nearest known one.
fn explain(message: &str) -> String {
    let message = message.trim().replace('\n', "; ");
    if !message.starts_with("unknown field `") {
        return message;
    }
    let mut names = message.split('`').skip(1).step_by(2);
    let unknown = names.next().unwrap_or_default();
    let nearest = names.max_by(|l, r| {
        strsim::jaro_winkler(unknown, l).total_cmp(&strsim::jaro_winkler(unknown, r))
    });
    match nearest {
        Some(nearest) => format!("unknown key `{unknown}` (did you mean `{nearest}`?)"),
        None => format!("unknown key `{unknown}`"),
    }
}

fn merge(into: &mut toml::Table, from: toml::Table) {
    for (key, value) in from {
        match (into.get_mut(&key), value) {
            (Some(toml::Value::Table(old)), toml::Value::Table(new)) => merge(old, new),
            (_, value) => {
                into.insert(key, value);
            }
        }
    }
}

/// The JSON Schema (draft 2020-12) of a sheet.
#[must_use]
pub fn schema() -> serde_json::Value {
    let generator = SchemaSettings::draft2020_12().into_generator();
    generator
        .into_root_schema_for::<keys::SheetFile>()
        .to_value()
}

#[cfg(test)]
mod tests;
