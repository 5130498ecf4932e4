//! Unattended export: finished profiles in a folder become issues, each exactly once.
//!
//! The spool has no rules of its own: what it issues, [`crate::issue`] makes. It
//! polls a folder, waits until a profile is finished, issues every output that is
//! wanted, and moves the profile away. Each step stands in a journal before
//! or after it, so that a restart at any moment neither loses nor repeats an issue:
//!
//! 1. what is meant: files, digest, name of the issue, digest of its octets;
//! 2. the issue, put into its place by one rename, over nothing ([`crate::issue::folder::place`]);
//! 3. issued; then the files move, the book gets its line, the alarm is given beside
//!    the work.
//!
//! A case that is open at the start is judged by what lies in the folder of issues: the
//! octets meant are there, or nothing was issued.

mod alarm;
mod book;
mod case;
mod clock;
mod disk;
mod flight;
pub mod handover;
mod journal;
mod lock;
mod month;
mod moves;
mod next;
mod nil;
mod release;
mod status;
mod take;
mod watch;

#[cfg(test)]
mod tests;

use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use itertools::Itertools as _;
use serde::Serialize;
use thiserror::Error;

pub use book::Line;
pub use clock::{Clock, Machine, Now};
pub use month::month;
pub use next::Expected;
pub use release::release;
pub use status::{Health, State, Status, Waiting, status};

use crate::input::sheet;
use crate::input::sheet::{Schedule, SheetError, Source};
use crate::issue::LevelContent;
use crate::issue::age::length;
use crate::issue::folder::Name;
use crate::issue::outputs::Wanted;
use crate::model::Form;
use crate::model::finding::{Severity, printable, shown_path};
use alarm::Alarms;
use book::Book;
use journal::Journal;
use lock::Lock;
use watch::{DONE, REFUSED, Watched};

/// The files of the spool, in its own folder in the folder of issues.
const JOURNAL: &str = "journal.jsonl";
const BOOK: &str = "book.csv";
const STATUS: &str = "status.json";
const LOCK: &str = "lock";

/// How long files may be dealt with before deadlines are looked at.
const BACKLOG: Duration = Duration::from_secs(60);

/// The most problems that are remembered.
const MAX_PROBLEMS: usize = 20;

/// The folder of the spool's own files in a folder of issues.
#[must_use]
pub fn state_folder(out: &Path) -> PathBuf {
    out.join("spool")
}

/// What the spool works with.
#[derive(Clone, Debug)]
pub struct Setup {
    /// The folder into which profiles come.
    pub watched: PathBuf,
    /// The folder that issues go into.
    pub out: PathBuf,
    /// Names and texts of the station's sheets; the one beside a profile comes last.
    pub sheets: Vec<(String, String)>,
    /// The outputs of an issue.
    pub wanted: Wanted,
    /// The form; `None`: that of a BUFR message, or TEMP.
    pub form: Option<Form>,
    /// The levels of JSON and BUFR; `None`: as [`crate::issue::outputs::Options`] has it.
    pub levels: Option<LevelContent>,
    /// How long a file must stay the same to be finished.
    pub settle: Duration,
    /// Patterns of names (`*` for any characters, `?` for one); a file that fits none of
    /// them is left alone. Empty: every file is taken.
    pub only: Vec<String>,
    /// A program and its arguments, run at every issue and refusal; may be empty.
    pub alarm: Vec<OsString>,
}

/// Why there is no spool.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum SpoolError {
    /// The sheets have faults, a line each.
    #[error("{}", .0.faults().iter().join("\n"))]
    Sheets(SheetError),
    /// Another process works on the folder.
    #[error("{}: another spool works on this folder; end it first", shown_path(.0))]
    Running(PathBuf),
    /// One folder is, or is in, the other.
    #[error(
        "{} and {}: profiles and issues need folders of their own, neither inside the other",
        shown_path(.0),
        shown_path(.1)
    )]
    Folders(PathBuf, PathBuf),
    /// The journal cannot be understood.
    #[error(
        "{}:{line}: {what}; nothing is issued while the journal cannot be read: correct the line, or move the journal away once it is certain what was issued",
        shown_path(path)
    )]
    Journal {
        /// Which.
        path: PathBuf,
        /// From 1; 0: as a whole.
        line: usize,
        /// Why.
        what: String,
    },
    /// The flight book cannot be understood.
    #[error(
        "{}:{line}: {what}; correct the line, or move the book away",
        shown_path(path)
    )]
    Book {
        /// Which.
        path: PathBuf,
        /// From 1.
        line: u64,
        /// Why.
        what: String,
    },
    /// No spool has worked on the folder of issues.
    #[error("{}: no spool has issued into this folder yet, so it has no state", shown_path(.0))]
    NoSpool(PathBuf),
    /// Neither a flight book nor an issue.
    #[error(
        "{}: there is neither a flight book (spool/book.csv) nor an issue here; give the folder of issues",
        shown_path(.0)
    )]
    NoRecords(PathBuf),
    /// A flight that is not held.
    #[error("{}: {}", printable(.0), .1)]
    NotHeld(String, String),
    /// No month.
    #[error("{0:?} is not a month; write it as 2031-01")]
    Month(String),
    /// A file cannot be read or written.
    #[error("{}: {error}", shown_path(path))]
    Io {
        /// Which.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
}

impl SpoolError {
    fn io(path: &Path, error: io::Error) -> Self {
        let path = path.to_owned();
        Self::Io { path, error }
    }
}

/// An entry of the log: something that was done or found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LogEntry {
    /// When, UTC.
    pub at: String,
    /// How much it weighs.
    pub severity: Severity,
    /// A word for it.
    pub event: &'static str,
    /// The same in words.
    pub text: String,
    /// The profile.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input: Option<String>,
    /// The path of the issue.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub issue: Option<String>,
}

/// What a turn left.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Turn {
    /// Files that were dealt with, and NIL.
    pub done: usize,
    /// Those of them that were refused.
    pub refused: usize,
    /// Files that are there: not finished, or waiting for a sheet.
    pub waiting: usize,
    /// Those of them that wait for a sheet.
    pub without_sheet: usize,
    /// Alarms that are still to be given.
    pub alarms: usize,
    /// Whether something failed and is tried again.
    pub failed: bool,
}

impl Turn {
    /// Whether nothing was done and nothing will be unless a file comes or changes.
    #[must_use]
    pub fn is_idle(self) -> bool {
        self.done == 0 && self.waiting == self.without_sheet && self.alarms == 0 && !self.failed
    }
}

/// The spool.
pub struct Spool<'a> {
    setup: Setup,
    schedule: Schedule,
    clock: &'a dyn Clock,
    journal: Journal,
    book: Book,
    watched: Watched,
    watch: clock::Watch,
    alarms: Alarms,
    status: Status,
    /// Standard times that need no more thought: they have a report, or no NIL of them
    /// can be made.
    settled: BTreeSet<i64>,
    /// NIL that could not be made.
    no_nil: Vec<String>,
    /// The name of an issue of the station, whatever its time; `None` where its sheets
    /// do not say which station it is.
    station: Option<Name>,
    /// What failed in this turn.
    failures: Vec<String>,
    say: &'a mut dyn FnMut(&LogEntry),
    locks: [Lock; 2],
}

impl<'a> Spool<'a> {
    /// Opens the folders, which no other spool may have, and finishes what an earlier
    /// run left open. `say` gets every line of the log.
    ///
    /// # Errors
    /// See [`SpoolError`].
    pub fn open(
        setup: Setup,
        clock: &'a dyn Clock,
        say: &'a mut dyn FnMut(&LogEntry),
    ) -> Result<Self, SpoolError> {
        let sources = setup.sheets.iter();
        let sources: Vec<Source<'_>> = sources.map(|(name, text)| Source { name, text }).collect();
        let schedule = sheet::schedule(&sources).map_err(SpoolError::Sheets)?;
        apart(&setup.watched, &setup.out)?;
        let state = state_folder(&setup.out);
        for folder in [
            &state,
            &setup.watched.join(DONE),
            &setup.watched.join(REFUSED),
        ] {
            fs::create_dir_all(folder).map_err(|error| SpoolError::io(folder, error))?;
            if fs::symlink_metadata(folder).is_ok_and(|about| about.is_symlink()) {
                let error = io::Error::other("it is a link; a folder of its own is wanted");
                return Err(SpoolError::io(folder, error));
            }
        }
        let locks = [
            lock::take(setup.watched.join(lock::WATCHED))?,
            lock::take(state.join(LOCK))?,
        ];
        let now_s = clock.now().wall_s;
        let book = Book::open(state.join(BOOK))?;
        let mut journal = Journal::open(state.join(JOURNAL), now_s, book.last)?;
        journal.count_after(book.last);
        let alarms = Alarms::new(setup.alarm.clone(), alarm::LIMIT);
        let mut spool = Self {
            alarms: alarms.map_err(|error| SpoolError::io(Path::new("alarm"), error))?,
            status: status::begun(&setup.watched, now_s),
            setup,
            schedule,
            clock,
            journal,
            book,
            watched: Watched::default(),
            watch: clock::Watch::default(),
            settled: BTreeSet::new(),
            no_nil: Vec::new(),
            station: None,
            failures: Vec::new(),
            say,
            locks,
        };
        if spool.journal.torn > 0 {
            let (torn, path) = (spool.journal.torn, shown_path(spool.journal.path()));
            let what = format!("{path}: a torn last line ({torn} octets) was taken away");
            spool.tell(Severity::Warning, "journal-torn", what, None, None);
        }
        match spool.journal.shortened.take() {
            Some(Ok(what)) => {
                let text = format!("{}: {what}", shown_path(spool.journal.path()));
                spool.tell(Severity::Info, "journal-shortened", text, None, None);
            }
            Some(Err(error)) => {
                let text = format!("the journal could not be made shorter: {error}");
                spool.tell(Severity::Warning, "journal-long", text, None, None);
            }
            None => {}
        }
        spool.recover()?;
        spool.station = clock::civil(now_s)
            .and_then(|time| flight::nil(&spool.setup, time).ok())
            .map(|issue| issue.name);
        // Who asks how it is, at an alarm for one, finds it.
        spool.write_status(&Turn::default());
        Ok(spool)
    }

    fn tell(
        &mut self,
        severity: Severity,
        event: &'static str,
        text: String,
        input: Option<&str>,
        issue: Option<String>,
    ) {
        let entry = LogEntry {
            at: clock::shown(self.clock.now().wall_s),
            severity,
            event,
            text,
            input: input.map(str::to_owned),
            issue,
        };
        (self.say)(&entry);
    }

    /// A failure that is tried again: reported when it is new, shown in the status.
    fn failed(&mut self, error: impl ToString) {
        let what = error.to_string();
        if !self.failures.contains(&what) {
            if !self.status.problems.contains(&what) {
                self.tell(Severity::Error, "failed", what.clone(), None, None);
            }
            if self.failures.len() < MAX_PROBLEMS {
                self.failures.push(what);
            }
        }
    }

    /// One look at the folder, and everything that follows from it; stops between two
    /// files when `stop` says so.
    pub fn turn(&mut self, stop: &dyn Fn() -> bool) -> Turn {
        let mut turn = Turn::default();
        self.failures.clear();
        let given = self.alarms.given();
        self.hear_alarms(given);
        self.look_at_clock();
        let gone = self.locks.iter().find_map(|lock| lock.stands().err());
        if let Some(error) = gone {
            // Another spool may be at work: nothing more is done here.
            self.failed(error);
            turn.failed = true;
            self.status.problems = self.failures.clone();
            self.write_status(&turn);
            return turn;
        }
        self.finish_open_cases();
        self.look();
        let begun = self.clock.now().steady;
        for name in self.watched.finished(begun, self.setup.settle) {
            if stop() {
                break;
            }
            self.take(&name, &mut turn);
            let given = self.alarms.given();
            self.hear_alarms(given);
            self.look_at_clock();
            // What has come in time goes first, but many old files hold no NIL up.
            if self.clock.now().steady.saturating_sub(begun) > BACKLOG {
                self.nil(&mut turn);
            }
            self.heartbeat();
        }
        if self.schedule.two_messages {
            let now = self.clock.now().steady;
            for name in self.watched.growing(now, self.setup.settle) {
                if stop() {
                    break;
                }
                self.early(&name, &mut turn);
            }
        }
        self.nil(&mut turn);
        let files = &self.watched.files;
        turn.waiting = files.len();
        turn.without_sheet = files.values().filter(|seen| seen.waits.is_some()).count();
        turn.alarms = self.alarms.waiting();
        turn.failed = !self.failures.is_empty();
        self.status.problems = self.failures.clone();
        self.status.problems.extend(self.standing());
        self.write_status(&turn);
        turn
    }

    /// What stands in the way and is not tried again by itself.
    fn standing(&self) -> Vec<String> {
        let mut standing = self.no_nil.clone();
        if self.schedule.nil && self.watch.is_behind() {
            standing.push("the clock is behind the journal: no NIL goes out".to_owned());
        }
        standing
    }

    /// Looks at the clock, and tells of a jump.
    fn look_at_clock(&mut self) {
        let known = self.journal.last_s;
        let text = match self.watch.look(self.clock.now(), known) {
            clock::Found::Nothing => return,
            clock::Found::Jumped(s) => format!(
                "the clock was moved {} by {}; no NIL for 5 minutes, until it is known to stay",
                if s < 0 { "back" } else { "forward" },
                length(s)
            ),
            clock::Found::Behind(s) => format!(
                "the clock is {} behind the journal's last line; no NIL until it has caught up",
                length(s)
            ),
        };
        self.tell(Severity::Warning, "clock", text, None, None);
    }

    /// Looks through the watched folder.
    fn look(&mut self) {
        let now = self.clock.now().steady;
        match self
            .watched
            .look(&self.setup.watched, &self.setup.only, now)
        {
            Ok(strange) => {
                for (name, why) in strange {
                    let text = format!("{}: passed over: {why}", printable(&name));
                    self.tell(Severity::Warning, "passed-over", text, Some(&name), None);
                }
            }
            Err(error) => self.failed(SpoolError::io(&self.setup.watched, error)),
        }
        // Files of open cases wait for their move.
        for case in self.journal.cases.values() {
            if let Some(input) = &case.meant.input {
                self.watched.files.remove(&input.profile);
            }
        }
    }

    fn heartbeat(&mut self) {
        if self.clock.now().wall_s.saturating_sub(self.status.at_s) >= status::HEARTBEAT_S {
            self.write_status(&Turn::default());
        }
    }

    fn write_status(&mut self, turn: &Turn) {
        let now_s = self.clock.now().wall_s;
        let waiting = self.watched.files.iter().map(|(name, seen)| Waiting {
            input: name.clone(),
            what: seen
                .waits
                .clone()
                .unwrap_or_else(|| "it is not finished".to_owned()),
        });
        let files: Vec<Waiting> = waiting.take(status::MAX_LISTED).collect();
        let to_look_at = moves::refused(&self.setup.watched);
        let before = (self.status.waiting, self.status.to_look_at);
        let quiet = turn.done == 0
            && self.status.state == State::Running
            && before == (self.watched.files.len(), to_look_at)
            && self.status.files == files
            && (0..status::HEARTBEAT_S).contains(&now_s.saturating_sub(self.status.at_s));
        if quiet {
            return;
        }
        self.status.waiting = self.watched.files.len();
        self.status.files = files;
        self.status.expected_next = self.expected_next();
        self.status.to_look_at = to_look_at;
        self.status.at_s = now_s;
        self.status.at = clock::shown(now_s);
        if let Err(error) = self.status.write(&self.setup.out) {
            self.failed(error);
        }
    }

    /// Ends, in the status too. Alarms that are not given within 2 s are left to the next
    /// run.
    pub fn end(mut self) {
        let given = self.alarms.last();
        self.hear_alarms(given);
        self.status.state = State::Stopped;
        self.write_status(&Turn::default());
        self.tell(
            Severity::Info,
            "stopped",
            "the spool ends".to_owned(),
            None,
            None,
        );
    }
}

/// Refuses folders one of which holds the other's files.
fn apart(watched: &Path, out: &Path) -> Result<(), SpoolError> {
    let real = |path: &Path| {
        fs::create_dir_all(path)
            .and_then(|()| path.canonicalize())
            .map_err(|error| SpoolError::io(path, error))
    };
    let (a, b) = (real(watched)?, real(out)?);
    if a.starts_with(&b) || b.starts_with(&a) {
        return Err(SpoolError::Folders(watched.to_owned(), out.to_owned()));
    }
    Ok(())
}
