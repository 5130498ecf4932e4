//! `handover`: issues to the targets of the sheet, without the spool.

use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::thread;
use std::time::Duration;

use clap::Args;

use super::Stop;
use super::diagnostics::{Diagnostics, Notes};
use super::flight::{put, sheet_files, sources};
use super::unattended::{SLICE, asked_to_end, json, log};
use crate::app::spool::handover;
use crate::app::spool::handover::{Delivery, DeliveryState, Handover, HandoverError};
use crate::app::spool::{LogEntry, Machine};
use crate::model::finding::{counted, printable};

/// How often the folder is looked through.
const POLL: Duration = Duration::from_secs(1);

#[derive(Args)]
pub(super) struct HandoverArgs {
    /// Folder of issues; journal and queue are in handover/ there
    #[arg(long, value_name = "DIR", help_heading = "Input")]
    out: PathBuf,
    /// Sheet: a TOML file with the targets under [handover]. The option may be repeated;
    /// the values of a later sheet replace those of an earlier one
    #[arg(
        long,
        value_name = "FILE",
        num_args = 1,
        required_unless_present = "status",
        help_heading = "Input"
    )]
    sheet: Vec<PathBuf>,
    /// Hand over what is in the folder, then end. Exit code 1 if a target does not have
    /// everything
    #[arg(long, help_heading = "Watching")]
    once: bool,
    /// Mark every issue in the folder as handed over by other means, and send nothing
    #[arg(long, conflicts_with_all = ["once", "status"], help_heading = "Watching")]
    mark_sent: bool,
    /// Program to run when an issue is not accepted by its limit; repeat the option for
    /// each of its arguments
    #[arg(
        long,
        value_name = "ARGUMENT",
        num_args = 1,
        allow_hyphen_values = true,
        help_heading = "Watching"
    )]
    alarm: Vec<std::ffi::OsString>,
    /// Print what waits and what was handed over last, as JSON with --notes json
    #[arg(long, conflicts_with = "once", help_heading = "Reports")]
    status: bool,
    #[command(flatten)]
    diagnostics: Diagnostics,
}

impl From<HandoverError> for Stop {
    fn from(error: HandoverError) -> Self {
        let code = match &error {
            HandoverError::NoTarget => 2,
            HandoverError::Running(_) | HandoverError::Io { .. } => 3,
            _ => 1,
        };
        let lines = error.to_string().lines().map(str::to_owned).collect();
        Self { code, lines }
    }
}

/// Hands issues over until the process is asked to end, or prints how far they are.
pub(super) fn handover(asked: HandoverArgs) -> Result<u8, Stop> {
    if asked.status {
        return status(&asked.out, asked.diagnostics);
    }
    let sheets = sheet_files(&asked.sheet)?;
    let clock = Machine::default();
    let say = |entry: &LogEntry| {
        log(entry, asked.diagnostics);
    };
    let opened = Handover::open(&asked.out, &sources(&sheets), asked.alarm, &clock, &say)?;
    let mut handover = opened.ok_or(HandoverError::NoTarget)?;
    if asked.mark_sent {
        let marked = handover.mark()?;
        let text = format!("{} marked as handed over\n", counted(marked, "hand-over"));
        put(Path::new("-"), text.as_bytes())?;
        return Ok(0);
    }
    let asked_to_end = asked_to_end()?;
    loop {
        let progress = handover.turn(asked.once);
        if asked.once && (progress.is_tried || progress.failed) {
            return Ok(match (progress.failed, progress.waiting) {
                (true, _) => 3,
                (false, 0) => 0,
                (false, _) => 1,
            });
        }
        let mut left = if asked.once { SLICE } else { POLL };
        while !left.is_zero() {
            if asked_to_end.load(Ordering::Relaxed) {
                return Ok(0);
            }
            let slice = left.min(SLICE);
            thread::sleep(slice);
            left -= slice;
        }
    }
}

/// What is waiting, and what each target accepted last.
pub(super) fn shown(out: &Path) -> Result<Vec<Delivery>, HandoverError> {
    let all = handover::deliveries(out)?;
    let mut shown: Vec<Delivery> = Vec::new();
    for one in &all {
        let newer = |other: &&Delivery| {
            other.target == one.target && other.state == one.state && other.at_s > one.at_s
        };
        let stays = match one.state {
            DeliveryState::Waiting => true,
            DeliveryState::Accepted | DeliveryState::GivenUp => {
                !all.iter().any(|other| newer(&other))
            }
            DeliveryState::Nothing | DeliveryState::Marked => false,
        };
        if stays {
            shown.push(one.clone());
        }
    }
    Ok(shown)
}

/// The lines of a status.
pub(super) fn lines(shown: &[Delivery]) -> String {
    let line = |one: &Delivery| {
        let label = if one.late { "late" } else { "handover" };
        format!(
            "{label:<14}{}: {}\n",
            one.issue,
            printable(&one.to_string())
        )
    };
    shown.iter().map(line).collect()
}

fn status(out: &Path, diagnostics: Diagnostics) -> Result<u8, Stop> {
    let shown = shown(out)?;
    let text = match diagnostics.notes {
        Notes::Text => {
            let state = match handover::is_running(out) {
                true => "running",
                false => "stopped",
            };
            format!("{:<14}{state}\n{}", "state", lines(&shown))
        }
        Notes::Json => json(&shown)?,
    };
    put(Path::new("-"), text.as_bytes())?;
    let waits = shown.iter().any(|one| one.state == DeliveryState::Waiting);
    Ok(u8::from(waits))
}
