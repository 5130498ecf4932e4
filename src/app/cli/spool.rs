//! `spool`: the folder that is watched, the log, and how to ask how it is.

use std::cell::Cell;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use clap::Args;

use super::diagnostics::{Diagnostics, Line, Notes};
use super::flight::{LevelContent, put, sheet_files, sources};
use super::output::outputs;
use super::{CodeForm, Stop, tell};
use crate::app::spool;
use crate::app::spool::{Clock as _, Health, LogEntry, Machine, Setup, Spool, SpoolError};
use crate::input::sheet;
use crate::issue::outputs::Output;
use crate::model::finding::Severity;

/// How often a wait looks whether it is to end.
const SLICE: Duration = Duration::from_millis(50);

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
    /// Outputs of an issue, separated by commas
    #[arg(
        long,
        value_parser = outputs(|output| output.file().is_some()),
        value_delimiter = ',',
        default_value = "text,bulletin,json,bufr",
        help_heading = "Output"
    )]
    to: Vec<Output>,
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
    /// Interval between two scans of the folder, seconds
    #[arg(long, value_name = "S", default_value_t = 1, value_parser = clap::value_parser!(u64).range(1..=3600), help_heading = "Watching")]
    poll: u64,
    /// Process the profiles in the folder, then end; profiles without a sheet stay there.
    /// Exit code 1 if a flight was refused
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
    /// Print the statistics of a month from the flight book in --out, with --sheet also the
    /// share of scheduled reports; as JSON with --notes json
    #[arg(
        long,
        value_name = "YYYY-MM",
        conflicts_with = "once",
        help_heading = "Reports"
    )]
    summary: Option<String>,
}

impl From<SpoolError> for Stop {
    fn from(error: SpoolError) -> Self {
        let code = match error {
            SpoolError::Sheets(_) | SpoolError::Journal { .. } | SpoolError::Book { .. } => 1,
            SpoolError::Folders(..) | SpoolError::Month(_) => 2,
            SpoolError::Running(_) | SpoolError::Io { .. } => 3,
        };
        let lines = vec![error.to_string()];
        Self { code, lines }
    }
}

/// Watches a folder until the process is asked to end, or prints its state.
pub(super) fn spool(asked: SpoolArgs) -> Result<u8, Stop> {
    if asked.status {
        return status(&asked);
    }
    let sheets = sheet_files(&asked.sheet)?;
    if let Some(month) = &asked.summary {
        let schedule = sheet::schedule(&sources(&sheets)).map_err(SpoolError::Sheets)?;
        let summary = spool::summary(&asked.out, month, &schedule)?;
        let text = match asked.diagnostics.notes {
            Notes::Text => summary.to_string(),
            Notes::Json => json(&summary)?,
        };
        put(Path::new("-"), text.as_bytes())?;
        return Ok(0);
    }
    let wanted = asked.to.iter().copied().collect();
    if wanted == [Output::Html].into() {
        return Err(Stop::usage(
            "--to html: a review sheet is issued together with text, bulletin, json or bufr; name one of these too",
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
    let mut write = |entry: &LogEntry| {
        // Work goes on: the path is in the log too.
        unwritten.set(!log(entry, diagnostics) | unwritten.get());
    };
    let mut spool = Spool::open(setup, &clock, &mut write)?;
    let mut refused = false;
    let mut failed = false;
    while !stop() {
        let turn = spool.turn(&stop);
        refused |= turn.refused > 0;
        failed = turn.failed;
        if once && (turn.is_idle() || failed) {
            break;
        }
        // Where nothing but alarms is left, their end is waited for.
        let mut left = match turn.alarms > 0 && turn.done == 0 {
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

/// A flag that SIGTERM and SIGINT set; the second of them ends the process at once,
/// which a journal takes as well.
#[cfg(unix)]
fn asked_to_end() -> Result<Arc<AtomicBool>, Stop> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let flag = Arc::new(AtomicBool::new(false));
    for signal in [SIGTERM, SIGINT] {
        let at_once = signal_hook::flag::register_conditional_default(signal, Arc::clone(&flag));
        let set = signal_hook::flag::register(signal, Arc::clone(&flag));
        at_once
            .and(set)
            .map_err(|e| Stop::io(Path::new("signals"), &e))?;
    }
    Ok(flag)
}

#[cfg(not(unix))]
fn asked_to_end() -> Result<Arc<AtomicBool>, Stop> {
    Ok(Arc::new(AtomicBool::new(false)))
}

/// A line of the log; the path of an issue also goes to standard output. Whether that
/// could be written, or nobody reads it.
fn log(entry: &LogEntry, diagnostics: Diagnostics) -> bool {
    let mut written = true;
    if let Some(issue) = &entry.issue
        && let Err(stop) = put(Path::new("-"), format!("{issue}\n").as_bytes())
    {
        written = false;
        stop.lines.iter().for_each(|line| tell(line));
    }
    if diagnostics.quiet && entry.severity != Severity::Error {
        return written;
    }
    match diagnostics.notes {
        Notes::Text => Line::at(&entry.at, entry.severity, &entry.text).print(),
        Notes::Json => {
            tell(&serde_json::to_string(entry).unwrap_or_else(|_| entry.text.clone()));
        }
    }
    written
}

/// How the spool is.
fn status(asked: &SpoolArgs) -> Result<u8, Stop> {
    let now_s = Machine::default().now().wall_s;
    let (status, health) = spool::status(&asked.out, now_s)?;
    let text = match asked.diagnostics.notes {
        Notes::Text => status.to_string(),
        Notes::Json => json(&status)?,
    };
    put(Path::new("-"), text.as_bytes())?;
    Ok(match health {
        Health::Good => 0,
        Health::Look => 1,
        Health::Stopped => 3,
    })
}

fn json(value: &impl serde::Serialize) -> Result<String, Stop> {
    let text = serde_json::to_string_pretty(value).map_err(Stop::data)?;
    Ok(text + "\n")
}
