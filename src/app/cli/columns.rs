//! `columns`: how each column of a file is interpreted, and what a sheet needs.

use std::path::Path;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::Stop;
use super::diagnostics::{Diagnostics, Reporter};
use super::flight::{SourceArgs, open, put};
use crate::input;
use crate::input::{By, ColumnUse, Columns};

#[derive(Args)]
pub(super) struct ColumnsArgs {
    #[command(flatten)]
    source: SourceArgs,
    /// Form of the list
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    to: ListForm,
    #[command(flatten)]
    diagnostics: Diagnostics,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum ListForm {
    /// One line per column, then the tables to paste into a sheet
    #[default]
    Table,
    /// A JSON document
    Json,
}

/// Lists the columns of a file.
pub(super) fn columns(asked: &ColumnsArgs) -> Result<u8, Stop> {
    let given = open(&asked.source)?;
    let (bytes, name) = (&given.bytes, &given.name);
    let message = asked.source.read.message;
    let found = input::columns(bytes, name, given.format, message, &given.reading);
    let found = found.map_err(Stop::data)?;
    let mut reporter = Reporter::new(asked.diagnostics);
    reporter.all(found.iter().flat_map(|found| &found.findings))?;
    reporter.finish();
    let product = match asked.to {
        ListForm::Table => found.as_ref().map_or_else(|| fixed(name), table),
        ListForm::Json => document(name, found.as_ref())?,
    };
    put(Path::new("-"), product.as_bytes())?;
    Ok(0)
}

fn fixed(name: &str) -> String {
    format!(
        "# {name}: every element of this format has a fixed meaning; nothing needs to be mapped\n"
    )
}

fn by(by: By) -> &'static str {
    match by {
        By::Name => "name",
        By::Sheet => "sheet",
        By::Attribute => "attribute",
        By::Guess => "guess",
    }
}

/// The cells of a column's line.
fn cells(taken: &ColumnUse) -> [String; 8] {
    let dash = || "-".to_owned();
    let figure = |value: Option<f64>| value.map_or_else(dash, |v| v.to_string());
    [
        taken.number.to_string(),
        input::shown(&taken.column),
        taken.ours.map_or_else(dash, |(name, _)| name.to_owned()),
        taken.unit.as_deref().map_or_else(dash, input::shown),
        taken.present.to_string(),
        figure(taken.range.map(|(low, _)| low)),
        figure(taken.range.map(|(_, high)| high)),
        taken.ours.map_or_else(dash, |(_, how)| by(how).to_owned()),
    ]
}

/// Numbers stand to the right.
const RIGHT: [bool; 8] = [true, false, false, false, true, true, true, false];

/// One line per column, then what a sheet needs.
fn table(found: &Columns) -> String {
    let head = [
        "no",
        "column",
        "interpreted as",
        "unit",
        "rows",
        "least",
        "greatest",
        "known by",
    ];
    let mut lines = vec![head.map(str::to_owned)];
    lines.extend(found.columns.iter().map(cells));
    let mut widths = [0; 8];
    for line in &lines {
        for (width, cell) in widths.iter_mut().zip(line) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut out = String::new();
    for line in &lines {
        let mut row = String::new();
        for ((cell, width), right) in line.iter().zip(widths).zip(RIGHT) {
            let cell = if right {
                format!("{cell:>width$}")
            } else {
                format!("{cell:<width$}")
            };
            row.push_str(&cell);
            row.push_str("  ");
        }
        out.push_str(row.trim_end());
        out.push('\n');
    }
    out.push('\n');
    match found.sheet() {
        Some(sheet) => {
            out.push_str("# for a sheet, once it is looked through:\n");
            out.push_str(&sheet);
        }
        None => out.push_str("# a sheet needs to say nothing of these columns\n"),
    }
    out
}

fn document(name: &str, found: Option<&Columns>) -> Result<String, Stop> {
    let one = |taken: &ColumnUse| {
        json!({
            "number": taken.number,
            "column": taken.column,
            "ours": taken.ours.map(|(name, _)| name),
            "known_by": taken.ours.map(|(_, how)| by(how)),
            "unit": taken.unit,
            "rows": taken.present,
            "least": taken.range.map(|(low, _)| low),
            "greatest": taken.range.map(|(_, high)| high),
        })
    };
    let listed: Vec<_> = found.iter().flat_map(|f| &f.columns).map(one).collect();
    let document = json!({
        "file": name,
        "rows": found.map(|f| f.rows),
        "columns": listed,
        "sheet": found.and_then(Columns::sheet),
    });
    let text = serde_json::to_string_pretty(&document).map_err(Stop::data)?;
    Ok(text + "\n")
}
