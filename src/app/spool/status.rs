//! The status file: what is visible from outside.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::issue::age::length;
use crate::model::finding::printable;

use super::{Expected, LOCK, STATUS, SpoolError, clock, lock, state_folder};

/// The most files that are listed.
pub(super) const MAX_LISTED: usize = 20;

/// A running spool writes at least so often; an older word of it is stale, s.
pub(super) const HEARTBEAT_S: i64 = 10;
const STALE_S: i64 = 120;

/// The largest status file that is read, octets.
const MAX_STATUS: u64 = 1 << 20;

/// A file that waits, and for what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Waiting {
    /// Its name.
    pub input: String,
    /// What for.
    pub what: String,
}

/// What the process of the spool does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// It watches the folder.
    #[default]
    Running,
    /// It ended.
    Stopped,
    /// It stopped unexpectedly: it is gone, and wrote no end.
    #[serde(rename = "stopped unexpectedly")]
    Killed,
}

impl std::fmt::Display for State {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.serialize(f)
    }
}

/// How the spool stands.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Status {
    /// What it does; a process that was killed leaves [`State::Running`] behind.
    pub state: State,
    /// The process.
    pub process: u32,
    /// The watched folder.
    pub watched: String,
    /// When the process started, UTC.
    pub since: String,
    /// When this was written, UTC.
    pub at: String,
    /// The same, seconds since 1970.
    pub at_s: i64,
    /// The report that is expected next by the schedule.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected_next: Option<Expected>,
    /// Profiles that wait.
    pub waiting: usize,
    /// The first of them.
    pub files: Vec<Waiting>,
    /// Issues since the start.
    pub issued: usize,
    /// Refusals since the start.
    pub refused: usize,
    /// The last issue, and when.
    pub last_issue: Option<String>,
    /// Refused files that lie in the folder.
    pub to_look_at: usize,
    /// What stands in the way, newest last.
    pub problems: Vec<String>,
}

impl Status {
    /// Puts the file in its place.
    pub(super) fn write(&self, out: &Path) -> Result<(), SpoolError> {
        let folder = state_folder(out);
        let (path, new) = (folder.join(STATUS), folder.join(".status.new"));
        let text = serde_json::to_string_pretty(self).map_err(io::Error::other);
        let write = || -> io::Result<()> {
            fs::write(&new, text? + "\n")?;
            fs::rename(&new, &path)
        };
        write().map_err(|error| SpoolError::io(&path, error))
    }
}

/// How a spool is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Health {
    /// It runs, and nothing waits for a person.
    Good,
    /// It runs, and something is to be looked at.
    Look,
    /// It does not run.
    Stopped,
}

/// The status of the spool of a folder of issues, and how it is.
///
/// # Errors
/// There is none, or it cannot be read.
pub fn status(out: &Path, now_s: i64) -> Result<(Status, Health), SpoolError> {
    let path = state_folder(out).join(STATUS);
    let fault = |error| SpoolError::io(&path, error);
    let mut text = Vec::new();
    let file = File::open(&path).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => SpoolError::NoSpool(out.to_owned()),
        _ => fault(error),
    })?;
    file.take(MAX_STATUS)
        .read_to_end(&mut text)
        .map_err(fault)?;
    let mut status: Status =
        serde_json::from_slice(&text).map_err(|e| fault(io::Error::other(e)))?;
    let runs = lock::is_locked(&state_folder(out).join(LOCK));
    if !runs && status.state == State::Running {
        status.state = State::Killed;
    }
    let age = now_s.saturating_sub(status.at_s);
    if runs && age > STALE_S {
        let what = format!("the spool has written nothing for {}", length(age));
        status.problems.push(what);
    }
    let health = match runs {
        false => Health::Stopped,
        true if status.problems.is_empty() && status.to_look_at == 0 => Health::Good,
        true => Health::Look,
    };
    Ok((status, health))
}

impl std::fmt::Display for Status {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{:<14}{}", "state", self.state)?;
        writeln!(f, "{:<14}{}", "process", self.process)?;
        writeln!(f, "{:<14}{}", "watched", printable(&self.watched))?;
        writeln!(f, "{:<14}{}", "since", self.since)?;
        writeln!(f, "{:<14}{}", "as of", self.at)?;
        writeln!(f, "{:<14}{}", "issued", self.issued)?;
        let last = self.last_issue.as_deref().unwrap_or("none");
        writeln!(f, "{:<14}{last}", "last issue")?;
        if let Some(expected) = &self.expected_next {
            writeln!(f, "{:<14}{expected}", "expected next")?;
        }
        writeln!(f, "{:<14}{}", "refused", self.refused)?;
        writeln!(f, "{:<14}{}", "to look at", self.to_look_at)?;
        writeln!(f, "{:<14}{}", "waiting", self.waiting)?;
        for file in &self.files {
            writeln!(f, "  {}: {}", printable(&file.input), printable(&file.what))?;
        }
        for problem in &self.problems {
            writeln!(f, "{:<14}{}", "problem", printable(problem))?;
        }
        Ok(())
    }
}

/// An empty status of a process that starts.
pub(super) fn begun(watched: &Path, now_s: i64) -> Status {
    Status {
        process: std::process::id(),
        watched: watched.display().to_string(),
        since: clock::shown(now_s),
        ..Status::default()
    }
}
