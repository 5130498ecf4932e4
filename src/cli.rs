//! The command line: reads files, calls the library, writes what it gives.

mod check;
mod compare;
mod decode;
mod output;
mod table;

use std::fmt::Write as _;
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};

use output::put;

use crate::code::{self, Bbb, Envelope, Message};
use crate::finding::{Finding, Severity};
use crate::json::{self, Record};
use crate::product::{self, Coded};
use crate::sheet::{self, Sheet, Source};
use crate::sounding::{Form, Profile, Reach, Report};
use crate::{levels, profile, source};

/// Codes radiosonde ascents as WMO upper-air messages.
#[derive(Parser)]
#[command(name = "fivefig", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Code a profile as a message
    Encode {
        #[command(flatten)]
        flight: FlightArgs,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: MessageForm,
        #[command(flatten)]
        bulletin: BulletinArgs,
        /// Write only the parts that changed since --was, as CCA, CCB …
        #[arg(long, value_name = "CCx", value_parser = ccx, requires = "was", conflicts_with = "bbb")]
        correct: Option<Bbb>,
        /// The message that was sent
        #[arg(long, value_name = "FILE", requires = "correct")]
        was: Option<PathBuf>,
    },
    /// Write that there is no report (NIL) for every scheduled part
    Nil {
        /// TOML about station and time; later ones win
        #[arg(long, value_name = "FILE", required = true, num_args = 1)]
        sheet: Vec<PathBuf>,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: MessageForm,
        /// Which code form
        #[arg(long, value_enum, default_value_t)]
        form: CodeForm,
        #[command(flatten)]
        bulletin: BulletinArgs,
        /// Where the product goes; - for standard output
        #[arg(short, value_name = "PATH", default_value = "-")]
        output: PathBuf,
    },
    /// List every chosen level, with the reasons
    Levels {
        #[command(flatten)]
        flight: FlightArgs,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: LevelsForm,
    },
    /// Read a message strictly, or reports in JSON, and write them again
    ///
    /// Exit code 1 when something in it is an error; what could be read is written
    /// all the same.
    Decode {
        /// The message, in groups or JSON; - for standard input
        message: PathBuf,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: DecodedForm,
        #[command(flatten)]
        bulletin: BulletinArgs,
        /// Where the product goes; - for standard output
        #[arg(short, value_name = "PATH", default_value = "-")]
        output: PathBuf,
    },
    /// Check messages against themselves, or with --sheet a profile
    Check {
        /// Messages, bulletins or reports in JSON, or a profile; - for standard input
        file: PathBuf,
        /// TOML about station and flight: the file is a profile
        #[arg(long, value_name = "FILE", num_args = 1)]
        sheet: Vec<PathBuf>,
        /// Exported table of station metadata to hold the sheet against
        #[arg(long, value_name = "FILE", requires = "sheet")]
        station_list: Option<PathBuf>,
        /// Which code form the profile is for
        #[arg(long, value_enum, default_value_t)]
        form: CodeForm,
        /// How findings are written
        #[arg(long, value_enum, default_value_t)]
        notes: Notes,
        /// Exit 1 on a warning too
        #[arg(long)]
        strict: bool,
        /// Leave out findings of severity info
        #[arg(short)]
        quiet: bool,
    },
    /// Compare two messages in any two forms, or a message with a profile (--sheet)
    ///
    /// Exit code 1 when something differs by more than the coarser of the two
    /// forms explains.
    Compare {
        /// A message, or a report in JSON
        left: PathBuf,
        /// The other one; with --sheet a profile
        right: PathBuf,
        /// TOML about station and flight: the right file is a profile
        #[arg(long, value_name = "FILE", num_args = 1)]
        sheet: Vec<PathBuf>,
        /// TOML with tolerances that replace those of the forms
        #[arg(long, value_name = "FILE")]
        tolerance: Option<PathBuf>,
        /// What is written
        #[arg(long, value_enum, default_value_t)]
        to: compare::ComparedForm,
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
    /// A JSON document: values, reasons, groups, findings, fidelity
    Json,
    /// The same on one line a report
    Jsonl,
    /// Bulletins: a heading for each part, lines after CR CR LF
    Bulletin,
}

/// What a bulletin needs besides the sheet.
#[derive(Args)]
struct BulletinArgs {
    /// BBB of the heading: RRA to RRX late, CCA to CCX corrected, AAA to AAX amended
    #[arg(long, value_name = "BBB", value_parser = bbb)]
    bbb: Option<Bbb>,
    /// Channel sequence number: adds starting line and end of message
    #[arg(long, value_name = "NNN", value_parser = clap::value_parser!(u16).range(0..=999))]
    channel: Option<u16>,
}

fn ccx(text: &str) -> Result<Bbb, String> {
    Bbb::new(text)
        .filter(Bbb::is_correction)
        .ok_or_else(|| "CCA to CCX is expected".to_owned())
}

fn bbb(text: &str) -> Result<Bbb, String> {
    Bbb::new(text).ok_or_else(|| "RRA to RRX, CCA to CCX or AAA to AAX is expected".to_owned())
}

impl BulletinArgs {
    fn write(&self, messages: &[(&Report, &Message)]) -> Result<String, Stop> {
        let envelope = Envelope {
            channel: self.channel,
        };
        code::bulletins(messages, self.bbb.as_ref(), envelope).map_err(Stop::data)
    }
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum DecodedForm {
    /// The symbolic code, Parts A to D
    #[default]
    Text,
    /// Bulletins: reports of one heading together, lines after CR CR LF
    Bulletin,
    /// A line a level
    Table,
    /// Delimited text: the levels of one report as rows of a profile
    Profile,
    /// A JSON document
    Json,
    /// The same on one line a report
    Jsonl,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum LevelsForm {
    /// A line a level, its reasons below; then the fidelity
    #[default]
    Table,
    /// A JSON document, the same as `encode` writes
    Json,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum CodeForm {
    /// TEMP, TEMP SHIP, TEMP MOBIL or TEMP DROP, by the kind of station (FM 35 to 38)
    #[default]
    Temp,
    /// PILOT, PILOT SHIP or PILOT MOBIL: winds alone (FM 32 to 34)
    Pilot,
}

impl From<CodeForm> for Form {
    fn from(form: CodeForm) -> Self {
        match form {
            CodeForm::Temp => Self::Temp,
            CodeForm::Pilot => Self::Pilot,
        }
    }
}

#[derive(Clone, Copy, ValueEnum)]
enum SchemaOf {
    /// The sheet
    Sheet,
    /// The JSON document of reports
    Report,
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
    /// Which code form
    #[arg(long, value_enum, default_value_t)]
    form: CodeForm,
    /// Make the early message of an ascent that may still be going on: Parts A
    /// and B from the rows up to 100 hPa
    #[arg(long, value_name = "HPA", value_parser = ["100"])]
    up_to: Option<String>,
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
        Command::Schema { of } => {
            let schema = match of {
                SchemaOf::Sheet => sheet::schema(),
                SchemaOf::Report => json::schema(),
            };
            let text = serde_json::to_string_pretty(&schema).map_err(Stop::data)?;
            put(Path::new("-"), &(text + "\n"))?;
            Ok(0)
        }
        Command::Encode {
            flight,
            to,
            mut bulletin,
            correct,
            was,
        } => {
            let mut prepared = prepare(&flight)?;
            if let (Some(letter), Some(was)) = (correct, was) {
                correction(&mut prepared.coded, &letter, &was)?;
                bulletin.bbb = Some(letter);
            }
            let findings = prepared.coded.findings.clone();
            let product = match to {
                MessageForm::Text => prepared.coded.message.to_string(),
                MessageForm::Json => json::write(vec![prepared.record()]).map_err(Stop::data)?,
                MessageForm::Jsonl => json::write_line(&prepared.record()).map_err(Stop::data)?,
                MessageForm::Bulletin => {
                    let coded = &prepared.coded;
                    bulletin.write(&[(&coded.report, &coded.message)])?
                }
            };
            finish(&flight, &product, &findings)
        }
        Command::Nil {
            sheet,
            to,
            form,
            bulletin,
            output,
        } => {
            let (sheet, findings) = read_sheets(&sheet)?;
            for finding in &findings {
                tell(&format!("fivefig: {finding}"));
            }
            let (report, message) =
                product::nil(form.into(), &sheet.context).map_err(Stop::data)?;
            let record = || Record::new(&report, &message, &findings, None);
            let product = match to {
                MessageForm::Text => message.to_string(),
                MessageForm::Json => json::write(vec![record()]).map_err(Stop::data)?,
                MessageForm::Jsonl => json::write_line(&record()).map_err(Stop::data)?,
                MessageForm::Bulletin => bulletin.write(&[(&report, &message)])?,
            };
            put(&output, &product)?;
            Ok(0)
        }
        Command::Decode {
            message,
            to,
            bulletin,
            output,
        } => decode::decode(&message, to, &bulletin, &output),
        Command::Check {
            file,
            sheet,
            station_list,
            form,
            notes,
            strict,
            quiet,
        } => {
            let manner = check::Manner {
                notes,
                strict,
                quiet,
            };
            if sheet.is_empty() {
                check::messages(&file, &manner)
            } else {
                check::profile(&file, &sheet, form.into(), station_list.as_deref(), &manner)
            }
        }
        Command::Compare {
            left,
            right,
            sheet,
            tolerance,
            to,
        } => compare::run(&compare::Asked {
            left: &left,
            right: &right,
            sheets: &sheet,
            tolerance: tolerance.as_deref(),
            to,
        }),
        Command::Levels { flight, to } => {
            let mut prepared = prepare(&flight)?;
            let findings = prepared.coded.findings.clone();
            let product = match to {
                LevelsForm::Table => {
                    prepared.count();
                    table::table(&prepared.coded.report)
                        + &table::orders(&prepared.coded.report)
                        + &table::fidelity(&prepared.coded.fidelity)
                }
                LevelsForm::Json => json::write(vec![prepared.record()]).map_err(Stop::data)?,
            };
            finish(&flight, &product, &findings)
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

/// A flight as read, and what was coded from it.
struct Prepared {
    ascent: Profile,
    coded: Coded,
}

impl Prepared {
    /// The record for the JSON forms, levels counted.
    fn record(mut self) -> Record {
        self.count();
        let coded = self.coded;
        Record::new(
            &coded.report,
            &coded.message,
            &coded.findings,
            Some(coded.fidelity),
        )
    }

    /// Counts the levels of TEMP against the fewest possible.
    fn count(&mut self) {
        let report = &self.coded.report;
        if report.form != Form::Temp {
            return;
        }
        let context = &report.context;
        self.coded.fidelity.counts = Some(levels::count(
            &self.ascent,
            &context.coding,
            &context.orders,
            report.reach,
        ));
    }
}

/// Profile and sheets to a coded report.
fn prepare(args: &FlightArgs) -> Result<Prepared, Stop> {
    let (sheet, mut findings) = read_sheets(&args.sheet)?;
    let name = args.profile.display().to_string();
    let (raw, notes) =
        source::text::read(&get(&args.profile)?, &name, &sheet.reading).map_err(Stop::data)?;
    findings.extend(notes);
    let form = args.form.into();
    let reach = match args.up_to {
        Some(_) => Reach::To100,
        None => Reach::Whole,
    };
    let (ascent, notes) = profile::build_for(form, &raw, &sheet.context).map_err(Stop::data)?;
    findings.extend(notes);
    let mut coded = product::code(form, &ascent, &sheet.context, reach)
        .map_err(|refused| Stop::data(format!("{name}: {refused}")))?;
    findings.append(&mut coded.findings);
    coded.findings = findings;
    Ok(Prepared { ascent, coded })
}

/// Keeps the parts that changed since the message that was sent, and tells what
/// changed.
fn correction(coded: &mut Coded, letter: &Bbb, was: &Path) -> Result<(), Stop> {
    let (_, sent, headings) = compare::one(was)?;
    let name = was.display();
    let last = headings.iter().filter_map(|h| h.bbb.as_ref());
    let last = last.filter(|b| b.is_correction()).max();
    let first = Bbb::new("CCA");
    let wanted = last.map_or(first, Bbb::next);
    if !headings.is_empty() && wanted.as_ref() != Some(letter) {
        let wanted = wanted.map_or("nothing".to_owned(), |b| b.as_str().to_owned());
        return Err(Stop::data(format!(
            "{name}: the next correction is {wanted}, not {}",
            letter.as_str()
        )));
    }
    let correction = product::correct(&sent, &coded.message)
        .map_err(|no| Stop::data(format!("{name}: {no}")))?;
    for difference in &correction.differences {
        tell(&format!("fivefig: corrected: {difference}"));
    }
    let parts = &correction.message.parts;
    coded
        .report
        .parts
        .retain(|part, _| parts.contains_key(part));
    coded.message = correction.message;
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
