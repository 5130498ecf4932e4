//! `spool`: the folder that is watched, the log, and how to ask how it is; the month, and
//! flights that are released.

use std::cell::Cell;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::thread;
use std::time::Duration;

use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use serde::Serialize;

use super::diagnostics::{Diagnostics, Notes, Reporter};
use super::flight::{LevelContent, Named, put, sheet_files, sources};
use super::handover::{lines, shown};
use super::unattended::{SLICE, asked_to_end, json, log};
use super::{CodeForm, Stop};
use crate::app::spool;
use crate::app::spool::handover;
use crate::app::spool::handover::Handover;
use crate::app::spool::{Clock as _, Health, LogEntry, Machine, Setup, Spool, SpoolError};
use crate::issue::outputs::{Output, Wanted};
use crate::model::finding::shown_path;
use crate::verify::month::Month;
use crate::view::diagram::Theme;
use crate::view::month::page;

#[derive(Args)]
pub(super) struct SpoolArgs {
    /// Folder in which profiles arrive; done/ and refused/ are created in it
    #[arg(long = "in", value_name = "DIR", required_unless_present_any = ["status", "summary"], help_heading = "Input")]
    watched: Option<PathBuf>,
    /// Folder of issues; journal, flight book and status are in spool/ there
    #[arg(long, value_name = "DIR", help_heading = "Output")]
    out: PathBuf,
    /// Sheet: a TOML file about the station. The option may be repeated; the values of a
    /// later sheet replace those of an earlier one, and the sheet beside a profile
    /// (NAME.toml for NAME.csv) comes last
    #[arg(long, value_name = "FILE", num_args = 1, help_heading = "Input")]
    sheet: Vec<PathBuf>,
    /// Outputs of an issue, separated by commas (default: text,bulletin,json,bufr); with
    /// --summary the form of the month: text (default), csv, json or html
    #[arg(long, value_parser = to(), value_delimiter = ',', help_heading = "Output")]
    to: Vec<To>,
    /// Output path of the month; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        requires = "summary",
        default_value = "-",
        help_heading = "Output"
    )]
    output: PathBuf,
    /// Code form (default: that of a BUFR message, else temp)
    #[arg(long, value_enum, help_heading = "Coding")]
    form: Option<CodeForm>,
    /// Levels in JSON and BUFR (default: all in BUFR, chosen in JSON)
    #[arg(long, value_enum, help_heading = "Coding")]
    levels: Option<LevelContent>,
    /// Time for which a file must be unchanged before it is read, seconds; 0 if files are
    /// only ever renamed into the folder
    #[arg(long, value_name = "S", default_value_t = 10, value_parser = clap::value_parser!(u64).range(..=86_400), help_heading = "Watching")]
    settle: u64,
    /// Take only files whose name fits this pattern, such as '*.csv' (* stands for any
    /// characters, ? for one). The option may be repeated; other files are left alone
    #[arg(long, value_name = "PATTERN", num_args = 1, help_heading = "Watching")]
    only: Vec<String>,
    /// Interval between two scans of the folder, seconds
    #[arg(long, value_name = "S", default_value_t = 1, value_parser = clap::value_parser!(u64).range(1..=3600), help_heading = "Watching")]
    poll: u64,
    /// Process the profiles in the folder, then end; profiles without a sheet stay there.
    /// Exit code 1 if a flight was refused, or a target of [handover] does not have it
    #[arg(long, help_heading = "Watching")]
    once: bool,
    /// Program to run at every issue and refusal; repeat the option for each of its
    /// arguments. It receives the event and a path as last arguments, and one line of JSON
    /// on standard input
    #[arg(
        long,
        value_name = "ARGUMENT",
        num_args = 1,
        allow_hyphen_values = true,
        help_heading = "Watching"
    )]
    alarm: Vec<OsString>,
    #[command(flatten)]
    diagnostics: Diagnostics,
    /// Print the state of the spool in --out, as JSON with --notes json
    #[arg(long, conflicts_with_all = ["summary", "once"], help_heading = "Reports")]
    status: bool,
    /// Write the figures of a month from flight book and issues in --out; with --sheet those
    /// of its station and schedule
    #[arg(
        long,
        value_name = "YYYY-MM",
        conflicts_with = "once",
        help_heading = "Reports"
    )]
    summary: Option<String>,
    /// Release a flight that is held because of its continuity: NAME is that of the profile
    /// in refused/, and the spool on --in issues it with its warnings
    #[arg(
        long,
        value_name = "NAME",
        requires = "watched",
        conflicts_with_all = ["status", "summary", "once"],
        help_heading = "Watching"
    )]
    release: Option<String>,
}

/// An output of an issue, or the form of a month.
#[derive(Clone, Copy, PartialEq)]
enum To {
    /// An output.
    Output(Output),
    /// A table of figures, of a month alone.
    Csv,
}

/// What is issued where nothing else is asked for.
const ISSUED: [Output; 4] = [Output::Text, Output::Bulletin, Output::Json, Output::Bufr];

/// Reads the names of outputs, and `csv`.
fn to() -> impl TypedValueParser<Value = To> {
    let outputs = Output::issued();
    let names = outputs.map(|output| PossibleValue::new(output.name()).help(output.help()));
    let csv = PossibleValue::new("csv").help("With --summary: one row for each figure");
    let names = PossibleValuesParser::new(names.chain([csv]));
    names.map(|name| Output::from_name(&name).map_or(To::Csv, To::Output))
}

/// A form of the month.
#[derive(Clone, Copy)]
enum MonthForm {
    Text,
    Csv,
    Json,
    Html,
}

impl SpoolArgs {
    /// The form of the month that is asked for.
    fn month_form(&self) -> Result<MonthForm, Stop> {
        match self.to.as_slice() {
            [] if self.diagnostics.notes == Notes::Json => Ok(MonthForm::Json),
            [] | [To::Output(Output::Text)] => Ok(MonthForm::Text),
            [To::Csv] => Ok(MonthForm::Csv),
            [To::Output(Output::Json)] => Ok(MonthForm::Json),
            [To::Output(Output::Html)] => Ok(MonthForm::Html),
            _ => Err(Stop::usage(
                "--to: a month is written in one form; with --summary give text, csv, json or html",
            )),
        }
    }

    /// The outputs of an issue that are asked for.
    fn wanted(&self) -> Result<Wanted, Stop> {
        if self.to.is_empty() {
            return Ok(ISSUED.into_iter().collect());
        }
        let output = |to: &To| match to {
            To::Output(output) => Some(*output),
            To::Csv => None,
        };
        let wanted: Option<Wanted> = self.to.iter().map(output).collect();
        wanted.ok_or_else(|| {
            Stop::usage("--to: csv is a form of the month; give it with --summary YYYY-MM")
        })
    }
}

impl From<SpoolError> for Stop {
    fn from(error: SpoolError) -> Self {
        let code = match error {
            SpoolError::Sheets(_) | SpoolError::Journal { .. } | SpoolError::Book { .. } => 1,
            SpoolError::Folders(..) | SpoolError::Month(_) | SpoolError::NotHeld(..) => 2,
            SpoolError::Running(_)
            | SpoolError::NoSpool(_)
            | SpoolError::NoRecords(_)
            | SpoolError::Io { .. } => 3,
        };
        let mut lines = vec![error.to_string()];
        if let SpoolError::NoSpool(out) = &error {
            lines.push(format!(
                "start one with: fivefig spool --in PROFILES --out {} --sheet STATION.toml",
                shown_path(out)
            ));
        }
        Self { code, lines }
    }
}

/// A document, and beside its keys what was handed over.
#[derive(Serialize)]
struct With<'a, T, H> {
    #[serde(flatten)]
    value: &'a T,
    handover: &'a H,
}

/// Watches a folder until the process is asked to end, or prints its state.
pub(super) fn spool(asked: SpoolArgs) -> Result<u8, Stop> {
    if asked.status {
        return status(&asked);
    }
    if let (Some(name), Some(watched)) = (&asked.release, &asked.watched) {
        let now_s = Machine::default().now().wall_s;
        let path = spool::release(watched, &asked.out, name, now_s)?;
        let text = format!("{}: released; the spool issues it\n", shown_path(&path));
        put(Path::new("-"), text.as_bytes())?;
        return Ok(0);
    }
    let sheets = sheet_files(&asked.sheet)?;
    if let Some(month) = &asked.summary {
        return summary(&asked, month, &sheets);
    }
    let mut wanted = asked.wanted()?;
    // What is handed over is issued too.
    wanted.append(&mut handover::wanted(&sources(&sheets))?);
    if wanted.iter().all(|output| !output.content().is_sent()) {
        return Err(Stop::usage(
            "--to: a review sheet and an archive are issued together with text, bulletin, json or bufr; name one of these too",
        ));
    }
    let Some(watched) = asked.watched else {
        return Err(Stop::usage(
            "--in: the folder in which profiles arrive is missing; name it",
        ));
    };
    let setup = Setup {
        watched,
        out: asked.out,
        sheets,
        wanted,
        form: asked.form.map(Into::into),
        levels: asked.levels.map(Into::into),
        settle: Duration::from_secs(asked.settle),
        only: asked.only,
        alarm: asked.alarm,
    };
    let poll = match asked.settle {
        0 if asked.once => Duration::ZERO,
        _ => Duration::from_secs(asked.poll),
    };
    run(setup, poll, asked.once, asked.diagnostics)
}

fn run(setup: Setup, poll: Duration, once: bool, diagnostics: Diagnostics) -> Result<u8, Stop> {
    let asked_to_end = asked_to_end()?;
    let stop = || asked_to_end.load(Ordering::Relaxed);
    let clock = Machine::default();
    let unwritten = Cell::new(false);
    let say = |entry: &LogEntry| {
        // Work goes on: the path is in the log too.
        unwritten.set(!log(entry, diagnostics) | unwritten.get());
    };
    let mut write = say;
    let (out, sheets, alarm) = (setup.out.clone(), setup.sheets.clone(), setup.alarm.clone());
    let mut spool = Spool::open(setup, &clock, &mut write)?;
    let mut handover = Handover::open(&out, &sources(&sheets), alarm, &clock, &say)?;
    let mut refused = false;
    let mut failed = false;
    while !stop() {
        let turn = spool.turn(&stop);
        refused |= turn.refused > 0;
        failed = turn.failed;
        let mut tried = true;
        if let Some(handover) = &mut handover {
            let progress = handover.turn(once);
            failed |= progress.failed;
            tried = progress.is_tried;
            if once && tried {
                refused |= progress.waiting > 0;
            }
        }
        if once && ((turn.is_idle() && tried) || failed) {
            break;
        }
        // Where nothing but alarms is left, their end is waited for.
        let mut left = match turn.done == 0 && (turn.alarms > 0 || !tried) {
            true => poll.max(SLICE),
            false => poll,
        };
        while !left.is_zero() && !stop() {
            let slice = left.min(SLICE);
            thread::sleep(slice);
            left -= slice;
        }
    }
    spool.end();
    if unwritten.get() {
        return Ok(3);
    }
    Ok(match (once, failed, refused) {
        (true, true, _) => 3,
        (true, false, true) => 1,
        _ => 0,
    })
}

/// Writes the figures of a month.
fn summary(asked: &SpoolArgs, month: &str, sheets: &[Named]) -> Result<u8, Stop> {
    let form = asked.month_form()?;
    let now_s = Machine::default().now().wall_s;
    let month = spool::month(&asked.out, month, &sources(sheets), now_s)?;
    let written = match form {
        MonthForm::Text => month.to_string(),
        MonthForm::Csv => rows(&month)?,
        MonthForm::Json => json(&month)?,
        MonthForm::Html => page(&month, Theme::Auto),
    };
    put(&asked.output, written.as_bytes())?;
    let mut reporter = Reporter::new(asked.diagnostics);
    reporter.all(&month.findings)?;
    reporter.finish();
    Ok(0)
}

/// One row for each figure.
fn rows(month: &Month) -> Result<String, Stop> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let header = writer.write_record(["of", "which", "figure", "value"]);
    header.map_err(Stop::data)?;
    for row in month.table() {
        let record = [row.of, &row.which, &row.figure, &row.value];
        writer.write_record(record).map_err(Stop::data)?;
    }
    let octets = writer.into_inner().map_err(Stop::data)?;
    String::from_utf8(octets).map_err(Stop::data)
}

/// How the spool is.
fn status(asked: &SpoolArgs) -> Result<u8, Stop> {
    let now_s = Machine::default().now().wall_s;
    let (status, mut health) = spool::status(&asked.out, now_s)?;
    let deliveries = shown(&asked.out)?;
    if health == Health::Good && deliveries.iter().any(|one| one.problem.is_some()) {
        health = Health::Look;
    }
    let text = match asked.diagnostics.notes {
        Notes::Text => status.to_string() + &lines(&deliveries),
        Notes::Json => json(&With {
            value: &status,
            handover: &deliveries,
        })?,
    };
    put(Path::new("-"), text.as_bytes())?;
    Ok(match health {
        Health::Good => 0,
        Health::Look => 1,
        Health::Stopped => 3,
    })
}
