//! `spool`: the folder that is watched, the log, and how to ask how it is.

use std::cell::Cell;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::thread;
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::diagnostics::{Diagnostics, Notes};
use super::flight::{LevelContent, put, sheet_files, sources};
use super::handover::{lines, shown};
use super::output::outputs;
use super::unattended::{SLICE, asked_to_end, json, log};
use super::{CodeForm, Stop};
use crate::app::spool;
use crate::app::spool::handover;
use crate::app::spool::handover::Handover;
use crate::app::spool::{Clock as _, Health, LogEntry, Machine, Setup, Spool, SpoolError};
use crate::input::sheet;
use crate::issue::outputs::{Output, Wanted};
use crate::model::finding::shown_path;

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
            SpoolError::Running(_) | SpoolError::NoSpool(_) | SpoolError::Io { .. } => 3,
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
    let sheets = sheet_files(&asked.sheet)?;
    if let Some(month) = &asked.summary {
        let schedule = sheet::schedule(&sources(&sheets)).map_err(SpoolError::Sheets)?;
        let summary = spool::summary(&asked.out, month, &schedule)?;
        let handed = handover::month(&handover::deliveries(&asked.out)?, month);
        let text = match asked.diagnostics.notes {
            Notes::Text => {
                let lines = handed.iter().map(|(target, handed)| {
                    let label = format!("handed over to {target}");
                    format!("{label:<34}{handed}\n")
                });
                summary.to_string() + &lines.collect::<String>()
            }
            Notes::Json => json(&With {
                value: &summary,
                handover: &handed,
            })?,
        };
        put(Path::new("-"), text.as_bytes())?;
        return Ok(0);
    }
    let mut wanted: Wanted = asked.to.iter().copied().collect();
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
