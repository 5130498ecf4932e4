//! The command line: reads files, calls the library, writes what it gives.

mod table;

use std::fmt::Write as _;
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::code;
use crate::finding::{Finding, Severity};
use crate::sheet::{self, Sheet, Source};
use crate::sounding::{Axis, Profile, Reach, Report, StationKind};
use crate::{levels, profile, report, source};

/// Codes radiosonde ascents as WMO upper-air messages.
#[derive(Parser)]
#[command(name = "fivefig", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Code a profile as a TEMP message
    Encode {
        #[command(flatten)]
        flight: FlightArgs,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: MessageForm,
        /// Which code form
        #[arg(long, value_enum, default_value_t)]
        form: CodeForm,
    },
    /// List every chosen level, with the reasons
    Levels {
        #[command(flatten)]
        flight: FlightArgs,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: LevelsForm,
    },
    /// Read a TEMP message strictly and write it in its standard form
    Decode {
        /// The message; - for standard input
        message: PathBuf,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: MessageForm,
        /// Where the product goes; - for standard output
        #[arg(short, value_name = "PATH", default_value = "-")]
        output: PathBuf,
    },
    /// Print a JSON Schema (draft 2020-12)
    Schema {
        /// Of what
        #[arg(value_enum)]
        of: SchemaOf,
    },
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum MessageForm {
    /// The symbolic code, Parts A to D
    #[default]
    Text,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum LevelsForm {
    /// A line a level, its reasons below
    #[default]
    Table,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum CodeForm {
    /// FM 35 TEMP
    #[default]
    Temp,
}

#[derive(Clone, Copy, ValueEnum)]
enum SchemaOf {
    /// The sheet
    Sheet,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum Notes {
    /// A line each
    #[default]
    Text,
    /// A JSON object a line
    Json,
}

#[derive(Args)]
struct FlightArgs {
    /// The processed ascent: delimited text with a header row; - for standard input
    profile: PathBuf,
    /// TOML about station and flight; later ones win
    #[arg(long, value_name = "FILE", required = true, num_args = 1)]
    sheet: Vec<PathBuf>,
    /// Where the product goes; - for standard output
    #[arg(short, value_name = "PATH", default_value = "-")]
    output: PathBuf,
    /// How findings are written to standard error
    #[arg(long, value_enum, default_value_t)]
    notes: Notes,
    /// Exit 1 on a warning
    #[arg(long)]
    strict: bool,
    /// Say nothing of severity info or warning
    #[arg(short)]
    quiet: bool,
}

/// Why the command stops: an exit code and lines for standard error.
struct Stop {
    code: u8,
    lines: Vec<String>,
}

impl Stop {
    /// The data are refused.
    fn data(line: impl ToString) -> Self {
        Self {
            code: 1,
            lines: vec![line.to_string()],
        }
    }

    /// A file cannot be read or written.
    fn io(path: &Path, error: &io::Error) -> Self {
        Self {
            code: 3,
            lines: vec![format!("{}: {error}", path.display())],
        }
    }
}

/// Runs the command with the arguments of the process.
///
/// Exit code 0 done, 1 data refused (or a warning under `--strict`), 2 usage,
/// 3 input or output failed.
#[must_use]
pub fn main() -> ExitCode {
    match run(Cli::parse()) {
        Ok(code) => ExitCode::from(code),
        Err(stop) => {
            for line in stop.lines.iter().flat_map(|l| l.lines()) {
                tell(&format!("fivefig: error: {line}"));
            }
            ExitCode::from(stop.code)
        }
    }
}

/// A line to standard error; nothing can be done if that fails.
fn tell(line: &str) {
    let _ = writeln!(io::stderr(), "{line}");
}

fn run(cli: Cli) -> Result<u8, Stop> {
    match cli.command {
        Command::Schema {
            of: SchemaOf::Sheet,
        } => {
            let text = serde_json::to_string_pretty(&sheet::schema()).map_err(Stop::data)?;
            put(Path::new("-"), &(text + "\n"))?;
            Ok(0)
        }
        Command::Encode {
            flight,
            to: MessageForm::Text,
            form: CodeForm::Temp,
        } => {
            let (report, mut findings) = prepare(&flight)?;
            let (message, notes) = code::message(&report).map_err(Stop::data)?;
            findings.extend(notes);
            finish(&flight, &message.to_string(), &findings)
        }
        Command::Decode {
            message,
            to: MessageForm::Text,
            output,
        } => {
            let name = message.display().to_string();
            let text = String::from_utf8(get(&message)?)
                .map_err(|_| Stop::data(format!("{name}: not UTF-8 text")))?;
            let read = code::parse(&text).map_err(|e| Stop::data(format!("{name}: {e}")))?;
            put(&output, &read.to_string())?;
            Ok(0)
        }
        Command::Levels {
            flight,
            to: LevelsForm::Table,
        } => {
            let (report, findings) = prepare(&flight)?;
            finish(&flight, &table::table(&report), &findings)
        }
    }
}

fn get(path: &Path) -> Result<Vec<u8>, Stop> {
    if path == Path::new("-") {
        let mut bytes = Vec::new();
        io::stdin()
            .read_to_end(&mut bytes)
            .map_err(|e| Stop::io(path, &e))?;
        return Ok(bytes);
    }
    std::fs::read(path).map_err(|e| Stop::io(path, &e))
}

/// Writes a product whole or not at all; a closed pipe ends quietly.
fn put(path: &Path, text: &str) -> Result<(), Stop> {
    if path == Path::new("-") {
        return match io::stdout().write_all(text.as_bytes()) {
            Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(Stop::io(path, &e)),
            _ => Ok(()),
        };
    }
    let folder = path
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let write = || -> io::Result<()> {
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|e| e.error)?;
        Ok(())
    };
    write().map_err(|e| Stop::io(path, &e))
}

fn read_sheets(paths: &[PathBuf]) -> Result<(Sheet, Vec<Finding>), Stop> {
    let mut files = Vec::new();
    for path in paths {
        let text = String::from_utf8(get(path)?)
            .map_err(|_| Stop::data(format!("{}: not UTF-8 text", path.display())))?;
        files.push((path.display().to_string(), text));
    }
    let sources: Vec<Source<'_>> = files
        .iter()
        .map(|(name, text)| Source { name, text })
        .collect();
    sheet::read(&sources).map_err(|errors| Stop {
        code: 1,
        lines: errors.iter().map(ToString::to_string).collect(),
    })
}

/// Profile and sheets to a report.
fn prepare(args: &FlightArgs) -> Result<(Report, Vec<Finding>), Stop> {
    let (sheet, mut findings) = read_sheets(&args.sheet)?;
    let name = args.profile.display().to_string();
    let (raw, notes) =
        source::text::read(&get(&args.profile)?, &name, &sheet.reading).map_err(Stop::data)?;
    findings.extend(notes);
    let context = &sheet.context;
    let (ascent, notes) = profile::build(&raw, context).map_err(Stop::data)?;
    findings.extend(notes);
    can_be_temp(&name, &ascent, context.station.kind)?;
    let chosen = levels::choose(&ascent, &context.coding, &context.orders, Reach::Whole);
    let (report, notes) = report::build(&ascent, chosen, context, Reach::Whole)
        .ok_or_else(|| Stop::data("flight.release: no sheet gives it"))?;
    findings.extend(notes);
    Ok((report, findings))
}

fn can_be_temp(name: &str, ascent: &Profile, kind: StationKind) -> Result<(), Stop> {
    if !profile::has_temperature(ascent) {
        return Err(Stop::data(format!(
            "{name}: temperature is missing throughout; TEMP needs it, PILOT is the form for winds alone"
        )));
    }
    if ascent.axis == Axis::Height {
        return Err(Stop::data(format!(
            "{name}: pressure is missing throughout; TEMP needs it, PILOT takes winds by height"
        )));
    }
    if kind != StationKind::Land {
        return Err(Stop::data(
            "station.kind: only land stations can be coded (kind = \"land\")",
        ));
    }
    Ok(())
}

/// Findings, then the product; exit 1 on a warning under `--strict`.
fn finish(args: &FlightArgs, product: &str, findings: &[Finding]) -> Result<u8, Stop> {
    for finding in findings
        .iter()
        .filter(|f| !args.quiet || f.severity == Severity::Error)
    {
        let line = match args.notes {
            Notes::Text => format!("fivefig: {finding}"),
            Notes::Json => serde_json::to_string(finding).map_err(Stop::data)?,
        };
        tell(&line);
    }
    put(&args.output, product)?;
    Ok(u8::from(
        args.strict && findings.iter().any(|f| f.severity >= Severity::Warning),
    ))
}

/// A value in a fixed width, or blanks.
fn cell(out: &mut String, value: Option<f64>, width: usize, decimals: usize) {
    let _ = match value {
        Some(v) => write!(out, "{v:width$.decimals$}"),
        None => write!(out, "{:>width$}", "-"),
    };
}
