//! A flight: profile and sheets to a coded report.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::bounded::{MAX_INPUT, MAX_SMALL, get, text};
use super::diagnostics::{Diagnostics, Reporter, columns_advice};
use super::output::Sink;
use super::{CodeForm, Stop};
use crate::input;
use crate::input::sheet;
use crate::input::sheet::{Sheet, Source};
use crate::input::{Contents, Format, SourceError};
use crate::issue;
use crate::issue::{Ascent, Flight, FlightError, Which};
use crate::model::finding::{Finding, shown_path};
use crate::model::{Form, PracticeTable, Reach, Reading};
use crate::profile::Positions;
use crate::tables;

/// Where the rows come from.
#[derive(Args)]
pub(super) struct SourceArgs {
    /// The processed ascent: text with a header row, BUFR, NetCDF, an IGRA v2 station
    /// file or JSON Lines of flights; - for standard input
    pub(super) profile: PathBuf,
    #[command(flatten)]
    pub(super) read: ReadArgs,
}

/// What a profile is read with.
#[derive(Args, Clone)]
#[command(next_help_heading = "Input")]
pub(super) struct ReadArgs {
    /// Sheet: a TOML file about station and flight. The option may be repeated; the
    /// values of a later sheet replace those of an earlier one, and of the file itself
    #[arg(long, value_name = "FILE", num_args = 1)]
    pub(super) sheet: Vec<PathBuf>,
    /// Number of the sounding in a file with several, from 1
    #[arg(long, value_name = "N")]
    pub(super) message: Option<usize>,
    /// Format of the profile (default: detected from the content)
    #[arg(long, value_enum, value_name = "FORMAT")]
    pub(super) from: Option<ProfileFormat>,
}

/// A format of profiles.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum ProfileFormat {
    /// Delimited text, or text in columns of fixed width
    Text,
    /// BUFR edition 3 or 4
    Bufr,
    /// An IGRA v2 station file
    Igra,
    /// JSON Lines, one flight per line
    Jsonl,
    /// NetCDF-3 or NetCDF-4 with CF attributes
    Netcdf,
}

impl From<ProfileFormat> for Format {
    fn from(format: ProfileFormat) -> Self {
        match format {
            ProfileFormat::Text => Self::Text,
            ProfileFormat::Bufr => Self::Bufr,
            ProfileFormat::Igra => Self::Igra,
            ProfileFormat::Jsonl => Self::Jsonl,
            ProfileFormat::Netcdf => Self::NetCdf,
        }
    }
}

#[derive(Args)]
pub(super) struct FlightArgs {
    #[command(flatten)]
    pub(super) source: SourceArgs,
    #[command(flatten)]
    pub(super) how: CodeArgs,
}

/// How a flight is coded, and what is reported of it.
#[derive(Args)]
#[command(next_help_heading = "Coding")]
pub(super) struct CodeArgs {
    /// Code form (default: that of a BUFR message, else temp)
    #[arg(long, value_enum)]
    pub(super) form: Option<CodeForm>,
    /// Levels in JSON and BUFR (default: all in BUFR, chosen in JSON)
    #[arg(long, value_enum)]
    pub(super) levels: Option<LevelContent>,
    /// Code the early message of an ascent that may still be in progress: Parts A and B
    /// from the rows up to 100 hPa
    #[arg(long, value_name = "HPA", value_parser = ["100"])]
    up_to: Option<String>,
    /// Output path; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        default_value = "-",
        help_heading = "Output"
    )]
    pub(super) output: PathBuf,
    #[command(flatten)]
    pub(super) diagnostics: Diagnostics,
    /// Exit with code 1 if there is a warning
    #[arg(long, help_heading = "Diagnostics")]
    pub(super) strict: bool,
}

/// The levels in JSON and BUFR.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum LevelContent {
    /// Every row of the profile, with its vertical significance
    All,
    /// The reported levels only
    Chosen,
}

impl From<LevelContent> for issue::LevelContent {
    fn from(levels: LevelContent) -> Self {
        match levels {
            LevelContent::All => Self::All,
            LevelContent::Chosen => Self::Chosen,
        }
    }
}

impl From<FlightError> for Stop {
    fn from(error: FlightError) -> Self {
        let code = match error {
            FlightError::NoSheet { .. } => 2,
            _ => 1,
        };
        let mut lines = vec![error.to_string()];
        match &error {
            FlightError::Source(
                SourceError::NoColumns { name, .. }
                | SourceError::NoNames { name, .. }
                | SourceError::NoVariables { name, .. },
            ) => lines.push(columns_advice(name)),
            FlightError::Source(SourceError::Several { .. }) => lines.push(
                "--message N gives it; encode --to jsonl codes all flights of JSON Lines"
                    .to_owned(),
            ),
            FlightError::NoSheet { .. } => lines.push("name it with --sheet FILE".to_owned()),
            _ => {}
        }
        Self { code, lines }
    }
}

/// A profile and its sheets before anything is read of them.
pub(super) struct Given {
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
    pub(super) format: Format,
    pub(super) sheets: Vec<Named>,
    pub(super) reading: Reading,
}

/// Opens a profile and its sheets.
pub(super) fn open(args: &SourceArgs) -> Result<Given, Stop> {
    let bytes = get(&args.profile, MAX_INPUT)?;
    let sheets = sheet_files(&args.read.sheet)?;
    Ok(Given {
        name: shown_path(&args.profile),
        format: args
            .read
            .from
            .map_or_else(|| input::detect(&bytes), Format::from),
        reading: sheet::reading(&sources(&sheets)).map_err(|error| all(&error))?,
        bytes,
        sheets,
    })
}

impl Given {
    /// The flight of that number, or the only one.
    pub(super) fn contents(&self, message: Option<usize>) -> Result<Contents, Stop> {
        let (bytes, name) = (&self.bytes, &self.name);
        input::read(bytes, name, self.format, message, &self.reading).map_err(Stop::data)
    }
}

/// Reads a profile and its sheets.
pub(super) fn load(args: &SourceArgs) -> Result<Ascent, Stop> {
    let bytes = get(&args.profile, MAX_INPUT)?;
    let files = sheet_files(&args.read.sheet)?;
    let name = shown_path(&args.profile);
    let which = Which {
        format: args.read.from.map(Format::from),
        number: args.read.message,
    };
    Ok(Ascent::read(&bytes, &name, which, &sources(&files))?)
}

/// A file's name and text.
pub(super) type Named = (String, String);

pub(super) fn sheet_files(paths: &[PathBuf]) -> Result<Vec<Named>, Stop> {
    let one = |path: &PathBuf| {
        let sheet = text(path, MAX_SMALL)?;
        Ok((shown_path(path), with_practice(path, sheet)?))
    };
    paths.iter().map(one).collect()
}

/// A sheet in which the name of a file of practices is replaced by its rows, on the same line,
/// so that places stay what they are. What is no sheet is left to its reader.
fn with_practice(path: &Path, sheet: String) -> Result<String, Stop> {
    let Ok(document) = toml::de::DeTable::parse(&sheet) else {
        return Ok(sheet);
    };
    let coding = document.get_ref().get("coding").map(|c| c.get_ref());
    let value = coding.and_then(|c| c.as_table()?.get("practice"));
    let Some((name, span)) = value.and_then(|v| Some((v.get_ref().as_str()?, v.span()))) else {
        return Ok(sheet);
    };
    if name.is_empty() || name.contains([';', '\n']) {
        return Ok(sheet);
    }
    let file = path.parent().unwrap_or(Path::new("")).join(name);
    let table = practice_table(&file)?;
    let rows = toml::Value::String(table.into()).to_string();
    let (before, after) = (sheet.get(..span.start), sheet.get(span.end..));
    Ok([before.unwrap_or_default(), &rows, after.unwrap_or_default()].concat())
}

/// A station's own table of practices.
pub(super) fn practice_table(file: &Path) -> Result<PracticeTable, Stop> {
    let fault = |error| Stop::data(format!("{}: {error}", shown_path(file)));
    let table: PracticeTable = text(file, MAX_SMALL)?.parse().map_err(fault)?;
    tables::check_practice(&table).map_err(fault)?;
    Ok(table)
}

pub(super) fn sources(files: &[Named]) -> Vec<Source<'_>> {
    let mut sources = Vec::new();
    for (name, text) in files {
        sources.push(Source { name, text });
    }
    sources
}

/// Every fault on a line of its own.
pub(super) fn all(error: &sheet::SheetError) -> Stop {
    Stop {
        code: 1,
        lines: error.faults().iter().map(ToString::to_string).collect(),
    }
}

/// Reads sheets, the later ones having the last word.
pub(super) fn read_sheets(paths: &[PathBuf]) -> Result<(Sheet, Vec<Finding>), Stop> {
    let files = sheet_files(paths)?;
    sheet::read(&sources(&files)).map_err(|error| all(&error))
}

/// Profile and sheets to a coded report.
pub(super) fn prepare(args: &FlightArgs) -> Result<Flight, Stop> {
    prepared(&args.how, Positions::FromWind, load(&args.source)?)
}

/// A flight as read to a coded report.
pub(super) fn prepared(
    args: &CodeArgs,
    positions: Positions,
    loaded: Ascent,
) -> Result<Flight, Stop> {
    let form = loaded.form(args.form.map(Form::from));
    let reach = match args.up_to {
        Some(_) => Reach::To100,
        None => Reach::Whole,
    };
    Ok(loaded.into_coded(form, reach, positions)?)
}

/// Reports the findings, then writes the product; exit code 1 on a warning under `--strict`.
pub(super) fn finish(args: &FlightArgs, product: &[u8], findings: &[Finding]) -> Result<u8, Stop> {
    let code = report_all(&args.how, findings)?;
    put(&args.how.output, product)?;
    Ok(code)
}

/// Reports what was found; the exit code, 1 on a warning under `--strict`.
pub(super) fn report_all(args: &CodeArgs, findings: &[Finding]) -> Result<u8, Stop> {
    let mut reporter = Reporter::new(args.diagnostics);
    reporter.all(findings)?;
    let counts = reporter.finish();
    Ok(u8::from(args.strict && counts.errors + counts.warnings > 0))
}

/// Writes a product atomically; a closed pipe ends quietly.
pub(super) fn put(path: &Path, product: &[u8]) -> Result<(), Stop> {
    let mut sink = Sink::open(path)?;
    sink.write_bytes(product)?;
    sink.close()
}
