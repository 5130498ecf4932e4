//! The command line: reads files, calls the library, writes what it gives.

mod batch;
mod bounded;
mod check;
mod columns;
mod compare;
mod decode;
#[cfg(feature = "desk")]
mod desk;
mod diagnostics;
mod draw;
mod encode;
mod explain;
mod flight;
mod generate;
mod guide;
#[cfg(feature = "spool")]
mod handover;
mod help;
mod init;
mod manual;
mod output;
#[cfg(feature = "parquet")]
mod parquet;
mod profile;
mod share;
#[cfg(feature = "spool")]
mod spool;
mod summary;
mod table;
#[cfg(test)]
mod tests;
#[cfg(feature = "spool")]
mod unattended;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::error::ErrorKind;
use clap::{Args, Parser, Subcommand, ValueEnum};

use diagnostics::{Diagnostics, Line};
use flight::{FlightArgs, ReadArgs, SourceArgs, finish, prepare, put};

use crate::forms::json;
use crate::forms::text::{Bbb, Bulletins, Envelope};
use crate::input;
use crate::input::sheet;
use crate::issue::LevelContent;
use crate::issue::outputs::Options;
use crate::model::finding::{printable, shown_path};
use crate::model::{Dated, Form, Part};
use crate::verify::month;

/// Codes radiosonde ascents as WMO upper-air messages.
#[derive(Parser)]
#[command(name = "fivefig", version, after_long_help = help::all())]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Write a commented sheet to start from, for a profile or for a kind of station
    ///
    /// The columns are guessed from the profile and shown; position, time and elevation are
    /// taken from it where it has them. Mandatory values that are not known are asked for on
    /// a terminal; without one they are marked REQUIRED in the sheet. The next command is
    /// printed.
    #[command(after_long_help = help::init())]
    Init(init::InitArgs),
    /// Code a profile as a message
    #[command(after_long_help = help::encode())]
    Encode(Box<encode::EncodeArgs>),
    /// Report that there is no sounding (NIL) for every scheduled part
    #[command(after_long_help = help::nil())]
    Nil(encode::NilArgs),
    /// List the levels of the report, with the reasons for each
    #[command(after_long_help = help::levels())]
    Levels {
        #[command(flatten)]
        flight: FlightArgs,
        /// Form of the list
        #[arg(long, value_enum, default_value_t, help_heading = "Output")]
        to: LevelsForm,
    },
    /// Draw a flight and its report as a diagram in SVG, or as a review sheet in HTML
    #[command(after_long_help = help::draw())]
    Draw(draw::DrawArgs),
    /// Read messages strictly, in groups, JSON or BUFR, and write them in any form
    ///
    /// Reports that can be read are written even if others have errors.
    #[command(after_long_help = help::decode())]
    Decode {
        /// Messages in groups, JSON or BUFR, or a folder of such files; - for standard input
        message: PathBuf,
        /// Output form
        #[arg(long, value_enum, default_value_t, help_heading = "Output")]
        to: DecodedForm,
        /// With --to json or jsonl: what a BUFR message says of its values, beside them
        #[arg(long, help_heading = "Output")]
        quality: bool,
        #[command(flatten)]
        dated: DatedArgs,
        #[command(flatten)]
        bulletin: BulletinArgs,
        /// Leave a damaged part out, instead of reading what is sound in it
        #[arg(long, help_heading = "Input")]
        strict_parts: bool,
        /// The station's own table of practices, whose standard surfaces its messages have
        #[arg(long, value_name = "FILE", help_heading = "Input")]
        practice: Option<PathBuf>,
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
    },
    /// Check messages for internal consistency; with --sheet, check a profile or the
    /// sheet alone
    ///
    /// The findings go to standard output. A sheet alone is complete if nothing that every
    /// report needs is missing from it.
    #[command(after_long_help = help::check())]
    Check {
        /// Messages, bulletins, reports in JSON or BUFR, or a profile; - for standard input
        #[arg(required_unless_present = "sheet")]
        file: Option<PathBuf>,
        /// Sheet: a TOML file about station and flight; the file to check is then a
        /// profile, and without one the sheet is checked. The option may be repeated
        #[arg(long, value_name = "FILE", num_args = 1, help_heading = "Input")]
        sheet: Vec<PathBuf>,
        /// Exported table of station metadata with which the sheet is compared
        #[arg(long, value_name = "FILE", requires = "sheet", help_heading = "Input")]
        station_list: Option<PathBuf>,
        /// Earlier report of the station with which the profile is compared: a message, an
        /// issue, or a folder of issues, of which the last ones are taken. The option may be
        /// repeated
        #[arg(
            long,
            value_name = "PATH",
            num_args = 1,
            requires_all = ["sheet", "file"],
            help_heading = "Input"
        )]
        previous: Vec<PathBuf>,
        /// WIGOS metadata record of the station (WMDR 1.0, XML) with which the sheet is compared
        #[arg(long, value_name = "FILE", requires = "sheet", help_heading = "Input")]
        wmd: Option<PathBuf>,
        /// Code form (default: that of a BUFR message, else temp)
        #[arg(long, value_enum, help_heading = "Coding")]
        form: Option<CodeForm>,
        #[command(flatten)]
        dated: DatedArgs,
        #[command(flatten)]
        diagnostics: Diagnostics,
        /// Exit with code 1 if there is a warning
        #[arg(long, help_heading = "Diagnostics")]
        strict: bool,
        /// Leave a damaged part out, instead of reading what is sound in it
        #[arg(long, help_heading = "Input")]
        strict_parts: bool,
        /// The station's own table of practices, whose standard surfaces its messages have
        #[arg(long, value_name = "FILE", help_heading = "Input")]
        practice: Option<PathBuf>,
    },
    /// Count the parts of a day's traffic: expected, received, NIL, late, damaged, with errors
    ///
    /// Parts are expected of the stations of --station-list at every time at which one of them
    /// reports.
    #[command(after_long_help = help::summary())]
    Summary(summary::SummaryArgs),
    /// Compare two messages in any two forms; with --sheet, a message with a profile
    ///
    /// A difference is reported where the resolution of the coarser form does not explain
    /// it.
    #[command(after_long_help = help::compare())]
    Compare(compare::CompareArgs),
    /// List how each column of a profile is interpreted, and the lines a sheet needs
    ///
    /// For columns with unknown names a quantity is suggested by name, unit and values. A
    /// suggestion is only shown; no other command uses it.
    #[command(after_long_help = help::columns())]
    Columns(columns::ColumnsArgs),
    /// Write the rows of a profile as they were read, under standard names
    #[command(after_long_help = help::profile())]
    Profile(profile::ProfileArgs),
    /// Prepare a report by hand in a local web page
    ///
    /// Prints the address to open in a browser. The page is served on 127.0.0.1
    /// only, to anyone with the access token in the URL.
    #[cfg(feature = "desk")]
    #[command(after_long_help = help::desk())]
    Desk(desk::DeskArgs),
    /// Issue every finished profile that comes into a folder, unattended
    ///
    /// Each flight is issued exactly once, even if the process is killed and started again. A
    /// profile that cannot be coded is moved to refused/ with the reason beside it. SIGTERM
    /// ends the spool.
    #[cfg(feature = "spool")]
    #[command(after_long_help = help::spool())]
    Spool(spool::SpoolArgs),
    /// Hand issues over to the targets that the sheet names under [handover]
    ///
    /// Every issue in the folder goes to every target, in order and each once; what fails is
    /// tried again after growing pauses. The spool does the same by itself. SIGTERM ends it.
    #[cfg(feature = "spool")]
    #[command(after_long_help = help::handover())]
    Handover(handover::HandoverArgs),
    /// Explain a finding by its code, or list all findings
    ///
    /// Prints the severity, the text, what is allowed or what to do, and the rule.
    #[command(after_long_help = help::explain())]
    Explain(explain::ExplainArgs),
    /// Print a page of the guide
    ///
    /// Without a topic the pages are listed. On a terminal a page is shown in a pager.
    #[command(after_long_help = help::guide())]
    Guide(guide::GuideArgs),
    /// Write manual pages or shell completions
    #[command(after_long_help = help::generate())]
    Generate(generate::GenerateArgs),
    /// Print a JSON Schema (draft 2020-12) of the sheet, of reports, of flights or of months
    #[command(after_long_help = help::schema())]
    Schema {
        /// What the schema describes
        #[arg(value_enum)]
        of: SchemaOf,
    },
}

/// Year and month of text.
#[derive(Args, Clone, Copy)]
struct DatedArgs {
    /// Year and month of messages in groups (2022-07), or a date (2022-07-13): then each
    /// is of the nearest such day
    #[arg(long, value_name = "DATE", help_heading = "Input")]
    date: Option<Dated>,
}

/// What a bulletin needs besides the sheet.
#[derive(Args)]
#[command(next_help_heading = "Bulletins")]
struct BulletinArgs {
    /// BBB of the heading: RRA to RRX delayed, CCA to CCX corrected, AAA to AAX amended
    #[arg(long, value_name = "BBB", value_parser = bbb)]
    bbb: Option<Bbb>,
    /// Channel sequence number; adds the starting line and the end of message
    #[arg(long, value_name = "NNN", value_parser = clap::value_parser!(u16).range(0..=999))]
    channel: Option<u16>,
}

fn ccx(text: &str) -> Result<Bbb, String> {
    Bbb::new(text)
        .filter(Bbb::is_correction)
        .ok_or_else(|| "CCA to CCX is expected".to_owned())
}

/// Some of the letters A to D.
fn parts(text: &str) -> Result<BTreeSet<Part>, String> {
    let parts: Option<BTreeSet<Part>> = text.chars().map(Part::from_letter).collect();
    let parts = parts.filter(|parts| !parts.is_empty() && parts.len() == text.len());
    parts
        .ok_or_else(|| "one or more of the letters A, B, C and D are expected, as in CD".to_owned())
}

fn bbb(text: &str) -> Result<Bbb, String> {
    Bbb::new(text).ok_or_else(|| "RRA to RRX, CCA to CCX or AAA to AAX is expected".to_owned())
}

impl BulletinArgs {
    /// How the outputs of a flight are written.
    fn options(&self, levels: Option<LevelContent>) -> Options {
        Options {
            levels,
            bbb: self.bbb.clone(),
            envelope: Envelope {
                channel: self.channel,
            },
            ..Options::default()
        }
    }

    /// Bulletins with this heading and envelope.
    fn bulletins(&self) -> Bulletins {
        let envelope = Envelope {
            channel: self.channel,
        };
        Bulletins::new(self.bbb.as_ref(), envelope)
    }
}

#[derive(Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
enum DecodedForm {
    /// The symbolic code, Parts A to D
    #[default]
    Text,
    /// Bulletins: reports of one heading together, lines after CR CR LF
    Bulletin,
    /// One line per level
    Table,
    /// Delimited text: the levels of one report as rows of a profile
    Profile,
    /// A JSON document
    Json,
    /// The same, one line per report
    Jsonl,
    /// BUFR edition 4, one message per report
    Bufr,
    /// Every field of a BUFR message with its position in bits
    Dump,
    /// The levels of all reports as one table, a Parquet file
    #[cfg(feature = "parquet")]
    Parquet,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum LevelsForm {
    /// One line per level with its reasons below, then the fidelity
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
    /// PILOT, PILOT SHIP or PILOT MOBIL: winds only (FM 32 to 34)
    Pilot,
    /// Descent of a radiosonde after burst, from a file of the whole flight or of the
    /// descent only; it has no text code
    Descent,
}

impl From<CodeForm> for Form {
    fn from(form: CodeForm) -> Self {
        match form {
            CodeForm::Temp => Self::Temp,
            CodeForm::Pilot => Self::Pilot,
            CodeForm::Descent => Self::Descent,
        }
    }
}

#[derive(Clone, Copy, ValueEnum)]
enum SchemaOf {
    /// The sheet
    Sheet,
    /// The JSON document of reports
    Report,
    /// One line of JSON Lines of flights
    Flight,
    /// The figures of a month
    Month,
}

/// Why the command stops: an exit code and lines for standard error.
struct Stop {
    code: u8,
    lines: Vec<String>,
}

impl Stop {
    /// The command line is wrong.
    fn usage(line: impl ToString) -> Self {
        Self {
            code: 2,
            lines: vec![line.to_string()],
        }
    }

    /// Prints its lines to standard error.
    fn print(&self) {
        for line in self.lines.iter().flat_map(|line| line.lines()) {
            Line::error(line).print();
        }
    }

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
            lines: vec![format!("{}: {error}", shown_path(path))],
        }
    }
}

/// What the command prints without arguments. It goes to standard error with exit code
/// 2, as `clap` prints its help then: nothing was done, and a script that lost its
/// arguments must not go on as if something were.
const THINGS_TO_TRY: &str = "\
fivefig codes radiosonde ascents as WMO upper-air messages. Three things to try:

  fivefig encode samples/winter_jet.csv --sheet samples/winter_jet.toml
      code an invented flight as TEMP
  fivefig levels samples/winter_jet.csv --sheet samples/winter_jet.toml
      list its levels, with the reason for each
  fivefig guide start
      read the quick start; fivefig --help lists all commands";

/// Runs the command with the arguments of the process.
///
/// Exit code 0 done, 1 data refused (or a warning under `--strict`), 2 usage,
/// 3 input or output failed.
#[must_use]
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) if error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            for line in THINGS_TO_TRY.lines() {
                tell(line);
            }
            return ExitCode::from(2);
        }
        // Help and version are such an "error" too, and go to standard output.
        Err(error) => return printed(&error),
    };
    match run(cli) {
        Ok(code) => ExitCode::from(code),
        Err(stop) => {
            stop.print();
            ExitCode::from(stop.code)
        }
    }
}

/// Prints what clap has to say; its exit code, or 3 where that cannot be written.
fn printed(error: &clap::Error) -> ExitCode {
    let code = u8::try_from(error.exit_code()).unwrap_or(2);
    match error.print().and_then(|()| io::stdout().flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Line::error(&format!("-: {e}")).print();
            ExitCode::from(3)
        }
        _ => ExitCode::from(code),
    }
}

/// A line to standard error; nothing can be done if that fails.
fn tell(line: &str) {
    let _ = writeln!(io::stderr(), "{}", printable(line));
}

fn run(cli: Cli) -> Result<u8, Stop> {
    match cli.command {
        Command::Schema { of } => {
            let schema = match of {
                SchemaOf::Sheet => sheet::schema(),
                SchemaOf::Report => json::schema(),
                SchemaOf::Flight => input::jsonl::schema(),
                SchemaOf::Month => month::schema(),
            };
            let text = serde_json::to_string_pretty(&schema).map_err(Stop::data)?;
            put(Path::new("-"), (text + "\n").as_bytes())?;
            Ok(0)
        }
        Command::Generate(asked) => generate::generate(&asked),
        Command::Explain(asked) => explain::explain(&asked),
        Command::Guide(asked) => guide::guide(&asked),
        Command::Init(asked) => init::init(&asked),
        Command::Encode(asked) if batch::is_asked(&asked)? => batch::run(&asked),
        Command::Encode(asked) => encode::encode(*asked),
        Command::Draw(asked) => draw::draw(&asked),
        #[cfg(feature = "desk")]
        Command::Desk(asked) => desk::desk(asked),
        #[cfg(feature = "spool")]
        Command::Spool(asked) => spool::spool(asked),
        #[cfg(feature = "spool")]
        Command::Handover(asked) => handover::handover(asked),
        Command::Nil(asked) => encode::nil(&asked),
        Command::Profile(asked) => profile::profile(&asked),
        Command::Columns(asked) => columns::columns(&asked),
        Command::Decode {
            message,
            to,
            quality,
            dated,
            bulletin,
            strict_parts,
            practice,
            output,
            diagnostics,
        } => {
            let practice = practice
                .as_deref()
                .map(flight::practice_table)
                .transpose()?;
            let reading = decode::Options {
                dated: dated.date,
                strict_parts,
                practice: practice.as_ref(),
            };
            let wanted = decode::Wanted {
                to,
                quality,
                reading,
            };
            decode::decode(&message, wanted, &bulletin, &output, diagnostics)
        }
        Command::Check {
            file,
            sheet,
            station_list,
            previous,
            wmd,
            form,
            dated,
            diagnostics,
            strict,
            strict_parts,
            practice,
        } => {
            let records = check::Records {
                list: station_list,
                wmd,
            };
            let options = check::Options {
                dated: dated.date,
                diagnostics,
                strict,
                strict_parts,
                practice: practice
                    .as_deref()
                    .map(flight::practice_table)
                    .transpose()?,
            };
            let Some(file) = file else {
                return check::sheet(&sheet, &records, &options);
            };
            if sheet.is_empty() {
                check::messages(&file, &options)
            } else {
                let source = SourceArgs {
                    profile: file,
                    read: ReadArgs {
                        sheet,
                        message: None,
                        from: None,
                    },
                };
                check::profile(&source, form, &records, &previous, &options)
            }
        }
        Command::Summary(asked) => summary::summary(&asked),
        Command::Compare(asked) => compare::run(&asked),
        Command::Levels { flight, to } => {
            let mut prepared = prepare(&flight)?;
            let findings = prepared.findings.clone();
            prepared.count();
            let product = match to {
                LevelsForm::Table => {
                    table::table(&prepared.report)
                        + &table::orders(&prepared.report)
                        + &table::fidelity(&prepared.fidelity)
                }
                LevelsForm::Json => {
                    json::write(vec![prepared.record(flight.how.levels.map(Into::into))])
                        .map_err(Stop::data)?
                }
            };
            finish(&flight, product.as_bytes(), &findings)
        }
    }
}

/// A value in a fixed width, or blanks.
fn cell(out: &mut String, value: Option<f64>, width: usize, decimals: usize) {
    let _ = match value {
        Some(v) => write!(out, "{v:width$.decimals$}"),
        None => write!(out, "{:>width$}", "-"),
    };
}
