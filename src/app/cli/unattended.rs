//! What commands share that run until they are asked to end: signals, log, documents.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use serde::Serialize;

use super::diagnostics::{Diagnostics, Line, Notes};
use super::flight::put;
use super::{Stop, tell};
use crate::app::spool::LogEntry;
use crate::model::finding::Severity;

/// How often a wait looks whether it is to end.
pub(super) const SLICE: Duration = Duration::from_millis(50);

/// A flag that SIGTERM and SIGINT set; the second of them ends the process at once,
/// which a journal takes as well.
#[cfg(unix)]
pub(super) fn asked_to_end() -> Result<Arc<AtomicBool>, Stop> {
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
pub(super) fn asked_to_end() -> Result<Arc<AtomicBool>, Stop> {
    Ok(Arc::new(AtomicBool::new(false)))
}

/// A line of the log; the path of an issue also goes to standard output. Whether that
/// could be written, or nobody reads it.
pub(super) fn log(entry: &LogEntry, diagnostics: Diagnostics) -> bool {
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

/// A document of one value.
pub(super) fn json(value: &impl Serialize) -> Result<String, Stop> {
    let text = serde_json::to_string_pretty(value).map_err(Stop::data)?;
    Ok(text + "\n")
}
