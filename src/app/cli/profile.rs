//! `profile`: the rows of a flight as they were read, under our names.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::Stop;
use super::diagnostics::{Diagnostics, Reporter};
use super::flight::{SourceArgs, all, open, put};
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::input::{Format, jsonl, text};
use crate::model::utc;

#[derive(Args)]
pub(super) struct ProfileArgs {
    #[command(flatten)]
    source: SourceArgs,
    /// Form of the rows
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    to: RowsForm,
    /// Output path; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        default_value = "-",
        help_heading = "Output"
    )]
    output: PathBuf,
    #[command(flatten)]
    diagnostics: Diagnostics,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum RowsForm {
    /// Delimited text under standard names, which include the units
    #[default]
    Csv,
    /// One line of JSON with rows and sheet, which `encode` reads
    Jsonl,
}

/// Writes the rows of a flight.
pub(super) fn profile(asked: &ProfileArgs) -> Result<u8, Stop> {
    let given = open(&asked.source)?;
    let message = asked.source.read.message;
    let (id, contents) = if given.format == Format::Jsonl {
        jsonl::read(&given.bytes, &given.name, message).map_err(Stop::data)?
    } else {
        (id(&asked.source.profile, message), given.contents(message)?)
    };
    let mut reporter = Reporter::new(asked.diagnostics);
    reporter.all(&contents.findings)?;
    reporter.finish();
    let product = match asked.to {
        RowsForm::Csv => text::write(&contents.raw)
            .ok_or_else(|| Stop::data(format!("{}: no row has a value", given.name)))?,
        RowsForm::Jsonl => {
            let own = contents.sheet.as_deref().map(|text| Source {
                name: &given.name,
                text,
            });
            let files = given
                .sheets
                .iter()
                .map(|(name, text)| Source { name, text });
            let files: Vec<Source<'_>> = own.into_iter().chain(files).collect();
            let mut sheet = sheet::joined(&files).map_err(|error| all(&error))?;
            if let Some(start) = contents.raw.start {
                let flight = sheet
                    .entry("flight")
                    .or_insert_with(|| toml::Table::new().into());
                if let Some(flight) = flight.as_table_mut() {
                    flight
                        .entry("release")
                        .or_insert_with(|| utc::print(start).into());
                }
            }
            jsonl::write(&id, &sheet, &contents.raw)
        }
    };
    put(&asked.output, product.as_bytes())?;
    Ok(0)
}

/// A name for the flight of a file: that of the file, and the number in it.
fn id(path: &Path, message: Option<usize>) -> String {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy());
    let stem = stem.filter(|stem| stem != "-");
    let stem = stem.as_deref().unwrap_or("flight");
    let stem: String = stem.chars().take(150).collect();
    match message {
        Some(number) => format!("{stem}_{number}"),
        None => stem,
    }
}
