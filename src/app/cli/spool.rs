//! `spool`: the folder that is watched, the log, and how to ask how it is.

use std::cell::Cell;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use clap::Args;

use super::flight::{Keep, put, sheet_files, sources};
use super::output::IssuedForm;
use super::{CodeForm, Notes, Stop, tell};
use crate::app::spool;
use crate::app::spool::{Clock as _, Health, Machine, Said, Setup, Spool, SpoolError};
use crate::input::sheet;
use crate::issue::outputs::Output;
use crate::model::finding::Severity;

/// How often a wait looks whether it is to end.
const SLICE: Duration = Duration::from_millis(50);

#[derive(Args)]
pub(super) struct SpoolArgs {
    /// The folder that profiles come into; done/ and refused/ are made in it
    #[arg(long = "in", value_name = "DIR", required_unless_present_any = ["status", "summary"])]
    watched: Option<PathBuf>,
    /// The folder that issues go into; journal, book and status are in spool/ there
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// TOML about the station; later ones win, and last the one beside a profile
    /// (NAME.toml for NAME.csv)
    #[arg(long, value_name = "FILE", num_args = 1)]
    sheet: Vec<PathBuf>,
    /// What is issued
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        default_value = "text,bulletin,json,bufr"
    )]
    to: Vec<IssuedForm>,
    /// Which code form (default: that of a BUFR message, else temp)
    #[arg(long, value_enum)]
    form: Option<CodeForm>,
    /// Which levels JSON and BUFR carry (default: all in BUFR, chosen in JSON)
    #[arg(long, value_enum)]
    levels: Option<Keep>,
    /// A file is finished when it is unchanged for this long, seconds; 0 where
    /// files are only ever renamed into the folder
    #[arg(long, value_name = "S", default_value_t = 10, value_parser = clap::value_parser!(u64).range(..=86_400))]
    settle: u64,
    /// How often the folder is looked through, seconds
    #[arg(long, value_name = "S", default_value_t = 1, value_parser = clap::value_parser!(u64).range(1..=3600))]
    poll: u64,
    /// End when nothing is left but what waits for a sheet; exit code 1 when a flight
    /// was refused
    #[arg(long)]
    once: bool,
    /// A program that is run at every issue and refusal, and with the same option
    /// again each of its arguments. It gets the event and a path as two more, and a
    /// line of JSON on standard input
    #[arg(long, value_name = "WORD", num_args = 1, allow_hyphen_values = true)]
    alarm: Vec<OsString>,
    /// How the log is written to standard error; with json, --status and --summary
    /// print JSON too
    #[arg(long, value_enum, default_value_t)]
    notes: Notes,
    /// Log warnings and errors alone
    #[arg(short)]
    quiet: bool,
    /// Print how the spool of --out is: exit code 0 when it runs and all is well, 1
    /// when something is to be looked at, 3 when it does not run
    #[arg(long, conflicts_with_all = ["summary", "once"])]
    status: bool,
    /// Print the figures of a month from the flight book of --out; with --sheet the
    /// share of scheduled reports too
    #[arg(long, value_name = "YYYY-MM", conflicts_with = "once")]
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

/// Watches a folder until the process is asked to end, or says how it is.
pub(super) fn spool(asked: SpoolArgs) -> Result<u8, Stop> {
    if asked.status {
        return status(&asked);
    }
    let sheets = sheet_files(&asked.sheet)?;
    if let Some(month) = &asked.summary {
        let schedule = sheet::schedule(&sources(&sheets)).map_err(SpoolError::Sheets)?;
        let summary = spool::summary(&asked.out, month, &schedule)?;
        let text = match asked.notes {
            Notes::Text => summary.to_string(),
            Notes::Json => json(&summary)?,
        };
        put(Path::new("-"), text.as_bytes())?;
        return Ok(0);
    }
    let wanted = asked.to.iter().copied().map(Output::from).collect();
    if wanted == [Output::Html].into() {
        return Err(usage(
            "--to: html goes along with text, bulletin, json or bufr",
        ));
    }
    let Some(watched) = asked.watched else {
        return Err(usage("--in: name the folder that profiles come into"));
    };
    let setup = Setup {
        watched,
        out: asked.out,
        sheets,
        wanted,
        form: asked.form.map(Into::into),
        keep: asked.levels.map(Into::into),
        settle: Duration::from_secs(asked.settle),
        alarm: asked.alarm,
    };
    let poll = match asked.settle {
        0 if asked.once => Duration::ZERO,
        _ => Duration::from_secs(asked.poll),
    };
    run(setup, poll, asked.once, asked.notes, asked.quiet)
}

fn run(setup: Setup, poll: Duration, once: bool, notes: Notes, quiet: bool) -> Result<u8, Stop> {
    let told_to_end = told_to_end()?;
    let stop = || told_to_end.load(Ordering::Relaxed);
    let clock = Machine::default();
    let unwritten = Cell::new(false);
    let mut say = |said: &Said| {
        // Work goes on: the path is in the log too.
        unwritten.set(!log(said, notes, quiet) | unwritten.get());
    };
    let mut spool = Spool::open(setup, &clock, &mut say)?;
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
fn told_to_end() -> Result<Arc<AtomicBool>, Stop> {
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
fn told_to_end() -> Result<Arc<AtomicBool>, Stop> {
    Ok(Arc::new(AtomicBool::new(false)))
}

/// A line of the log; the path of an issue also goes to standard output. Whether that
/// could be written, or nobody reads it.
fn log(said: &Said, notes: Notes, quiet: bool) -> bool {
    let mut written = true;
    if let Some(issue) = &said.issue
        && let Err(stop) = put(Path::new("-"), format!("{issue}\n").as_bytes())
    {
        written = false;
        stop.lines.iter().for_each(|line| tell(line));
    }
    if quiet && said.severity == Severity::Info {
        return written;
    }
    let text = match notes {
        Notes::Text => format!("{} {}: {}", said.at, said.severity, said.text),
        Notes::Json => serde_json::to_string(said).unwrap_or_else(|_| said.text.clone()),
    };
    for line in text.lines() {
        tell(line);
    }
    written
}

/// How the spool is.
fn status(asked: &SpoolArgs) -> Result<u8, Stop> {
    let now_s = Machine::default().now().wall_s;
    let (status, health) = spool::status(&asked.out, now_s)?;
    let text = match asked.notes {
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

fn usage(line: &str) -> Stop {
    let lines = vec![line.to_owned()];
    Stop { code: 2, lines }
}
