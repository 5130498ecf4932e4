//! Unattended export: finished profiles in a folder become issues, each exactly once.
//!
//! The spool has no rules of its own: what it issues, [`crate::product`] makes. It
//! polls a folder, waits until a profile is finished, issues every output that is
//! wanted, and moves the profile away. Each step stands in a [journal](journal) before
//! or after it, so that a restart at any moment neither loses nor repeats an issue:
//!
//! 1. what is meant: files, digest, name of the issue, digest of its octets;
//! 2. the issue, put into its place by one rename, over nothing ([`folder::place`]);
//! 3. issued; then the files move, the book gets its line, the alarm is given.
//!
//! A case that is open at the start is judged by what lies in the folder of issues: the
//! octets meant are there, or nothing was issued.

mod alarm;
mod book;
mod clock;
mod flight;
mod journal;
mod lock;
mod moves;
mod nil;
mod status;
mod watch;

#[cfg(test)]
mod tests;

use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde::Serialize;
use thiserror::Error;

pub use book::{Line, Share, Summary, summary};
pub use clock::{Clock, Machine, Now};
pub use status::{Health, Status, Waiting, status};

use crate::code::Bbb;
use crate::finding::Severity;
use crate::product::Keep;
use crate::product::folder::{self, FolderError, Name};
use crate::product::issue::Wanted;
use crate::sheet::{self, Schedule, SheetError, Source};
use crate::sounding::{Form, Reach};
use book::Book;
use flight::{Issue, Outcome, Refusal, Taken, Unread};
use journal::{Input, Journal, Kind, Meant, Step};
use moves::{DONE, Move, REFUSED};
use watch::{Look, Watched};

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
    /// The levels of JSON and BUFR; `None`: as [`crate::product::issue::Manner`] has it.
    pub keep: Option<Keep>,
    /// How long a file must stay the same to be finished.
    pub settle: Duration,
    /// A program and its arguments, told of every issue and refusal; may be empty.
    pub alarm: Vec<OsString>,
}

/// Why there is no spool.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum SpoolError {
    /// The sheets have faults, a line each.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Sheets(Vec<SheetError>),
    /// Another process works on the folder.
    #[error("{}: another spool works on this folder; end it first", .0.display())]
    Running(PathBuf),
    /// One folder is, or is in, the other.
    #[error(
        "{} and {}: profiles and issues need folders of their own, neither inside the other",
        .0.display(),
        .1.display()
    )]
    Folders(PathBuf, PathBuf),
    /// The journal cannot be understood.
    #[error(
        "{}:{line}: {what}; nothing is issued while the journal cannot be read: put the line right, or move the journal away once it is certain what was issued",
        path.display()
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
    #[error("{}:{line}: {what}; put the line right, or move the book away", path.display())]
    Book {
        /// Which.
        path: PathBuf,
        /// From 1.
        line: u64,
        /// Why.
        what: String,
    },
    /// No month.
    #[error("{0:?} is no month; write 2031-01")]
    Month(String),
    /// A file cannot be read or written.
    #[error("{}: {error}", path.display())]
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

/// Something that was done or found, for the log.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Said {
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
    /// Whether something failed and is tried again.
    pub failed: bool,
}

impl Turn {
    /// Whether nothing was done and nothing will be unless a file comes or changes.
    #[must_use]
    pub fn is_idle(self) -> bool {
        self.done == 0 && self.waiting == self.without_sheet && !self.failed
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
    status: Status,
    /// Standard times that need no more thought: they have a report, or no NIL of them
    /// can be made.
    settled: BTreeSet<i64>,
    /// What failed in this turn.
    failures: Vec<String>,
    say: &'a mut dyn FnMut(&Said),
    _locks: [File; 2],
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
        say: &'a mut dyn FnMut(&Said),
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
        }
        let locks = [
            lock::take(setup.watched.join(lock::WATCHED))?,
            lock::take(state.join(LOCK))?,
        ];
        let now_s = clock.now().wall_s;
        let journal = Journal::open(state.join(JOURNAL), now_s)?;
        let book = Book::open(state.join(BOOK))?;
        let mut spool = Self {
            status: status::begun(&setup.watched, now_s),
            setup,
            schedule,
            clock,
            journal,
            book,
            watched: Watched::default(),
            watch: clock::Watch::default(),
            settled: BTreeSet::new(),
            failures: Vec::new(),
            say,
            _locks: locks,
        };
        if spool.journal.torn > 0 {
            let (torn, path) = (spool.journal.torn, spool.journal.path().display());
            let what = format!("{path}: a torn last line ({torn} octets) was taken away");
            spool.tell(Severity::Warning, "journal-torn", what, None, None);
        }
        spool.recover()?;
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
        let said = Said {
            at: clock::shown(self.clock.now().wall_s),
            severity,
            event,
            text,
            input: input.map(str::to_owned),
            issue,
        };
        (self.say)(&said);
    }

    /// A failure that is tried again: told when it is new, shown in the status.
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

    /// Judges what an earlier run meant and did not write down as done.
    fn recover(&mut self) -> Result<(), SpoolError> {
        for no in self.journal.undecided() {
            let meant = self.journal.cases.get(&no).map(|case| case.meant.clone());
            let Some(meant) = meant else { continue };
            let text = match self.judge(no, &meant)? {
                true => "was issued when the spool ended; the rest follows",
                false => "was not issued when the spool ended; it is tried again",
            };
            let input = meant.input.map(|input| input.profile);
            let text = format!("{}: {text}", meant.issue.unwrap_or_default());
            self.tell(Severity::Warning, "recovered", text, input.as_deref(), None);
        }
        Ok(())
    }

    /// Whether what was meant is out: its octets lie in the folder of issues, or nothing
    /// of it was issued. Written down either way.
    fn judge(&mut self, no: u64, meant: &Meant) -> Result<bool, SpoolError> {
        let out = &self.setup.out;
        let name = meant.issue.as_deref().and_then(Name::parse);
        let there = match &name {
            Some(name) => flight::content_of(out, name)?,
            None => None,
        };
        let ours = there.is_some() && there == meant.content;
        if let (false, Some(name)) = (ours, &name) {
            folder::sweep(out, &name.to_string());
        }
        let step = if ours { Step::Issued } else { Step::Void };
        self.journal.step(no, self.clock.now().wall_s, step)?;
        Ok(ours)
    }

    /// One look at the folder, and everything that follows from it; stops between two
    /// files when `stop` says so.
    pub fn turn(&mut self, stop: &dyn Fn() -> bool) -> Turn {
        let mut turn = Turn::default();
        self.failures.clear();
        self.look_at_clock();
        self.finish_open_cases();
        self.look();
        let begun = self.clock.now().steady;
        for name in self.watched.finished(begun, self.setup.settle) {
            if stop() {
                break;
            }
            self.take(&name, &mut turn);
            self.look_at_clock();
            // What has come in time goes first, but many old files hold no NIL up.
            if self.clock.now().steady.saturating_sub(begun) > BACKLOG {
                self.nil(&mut turn);
            }
            self.heartbeat();
        }
        if self.schedule.two_messages {
            for name in self.watched.growing() {
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
        turn.failed = !self.failures.is_empty();
        self.status.problems = self.failures.clone();
        self.write_status(&turn);
        turn
    }

    /// Looks at the clock, and tells of a jump.
    fn look_at_clock(&mut self) {
        let known = self.journal.last_s;
        let text = match self.watch.look(self.clock.now(), known) {
            clock::Found::Nothing => return,
            clock::Found::Jumped(s) => format!(
                "the clock was moved by {s} s; no NIL for 5 minutes, until it is known to stay"
            ),
            clock::Found::Behind(s) => format!(
                "the clock is {s} s behind the journal's last line; no NIL until it has caught up"
            ),
        };
        self.tell(Severity::Warning, "clock", text, None, None);
    }

    /// Looks through the watched folder.
    fn look(&mut self) {
        let now = self.clock.now().steady;
        match self.watched.look(&self.setup.watched, now) {
            Ok(strange) => {
                for (name, why) in strange {
                    let text = format!("{name}: passed over: {why}");
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

    /// Takes a finished file.
    fn take(&mut self, name: &str, turn: &mut Turn) {
        let Some(seen) = self.watched.files.get(name) else {
            return;
        };
        let (look, sheet) = (seen.look, seen.sheet.clone());
        let beside = sheet.as_ref().map(|(name, _)| name.as_str());
        let taken = match Taken::read(&self.setup.watched, name, beside) {
            Ok(taken) => taken,
            Err(Unread::Refused(why)) => {
                // Its octets are not known, and need not be.
                let refusal = Refusal::new("file", why);
                return self.refuse(name, beside, String::new(), refusal, turn);
            }
            Err(Unread::Io(error)) => {
                let path = self.setup.watched.join(name);
                return self.failed(SpoolError::io(&path, error));
            }
        };
        if let Some(before) = self.journal.out(&taken.digest).map(str::to_owned) {
            return self.same(&taken, beside, before, turn);
        }
        let outcome = self.code(&taken, Reach::Whole);
        if Look::at(&self.setup.watched.join(name)).ok() != Some(look) {
            return; // it grows again
        }
        match outcome {
            Outcome::Issue(issue) => {
                let input = self.input(&taken.name, beside, taken.digest, DONE);
                if input.is_some() {
                    self.issue(Kind::Flight, input, *issue, turn);
                }
            }
            Outcome::NoSheet | Outcome::NotYet => {
                let what = "says nothing of station and flight and waits for a sheet beside it";
                let text = format!("{name}: {what}");
                self.tell(Severity::Warning, "waits", text, Some(name), None);
                if let Some(seen) = self.watched.files.get_mut(name) {
                    seen.waits = Some("a sheet beside it".to_owned());
                }
            }
            Outcome::Refused(refusal) => {
                self.refuse(name, beside, taken.digest, *refusal, turn);
            }
        }
    }

    fn code(&self, taken: &Taken, reach: Reach) -> Outcome {
        flight::code(&self.setup, taken, reach, |name| self.late(name))
    }

    /// The letter of a report that is late: NIL is out for it, or the limit has passed.
    fn late(&self, name: &Name) -> Result<Option<Bbb>, String> {
        let now = self.clock.now();
        let nil = name.nil();
        let nil_is_out = nil.is_some_and(|nil| folder::first(&self.setup.out, &nil).is_some());
        let standard = name.standard().and_then(clock::seconds);
        let limit = self
            .schedule
            .limit_min
            .map(|minutes| i64::from(minutes) * 60);
        let passed = standard
            .zip(limit)
            .is_some_and(|(standard, limit)| now.wall_s > standard.saturating_add(limit));
        if !nil_is_out && !(passed && self.watch.is_trusted(now)) {
            return Ok(None);
        }
        match folder::late(&self.setup.out, name) {
            Some(letter) => Ok(Some(letter)),
            None => Err("RRX is out already: there is no letter left".to_owned()),
        }
    }

    fn input(
        &mut self,
        name: &str,
        sheet: Option<&str>,
        digest: String,
        folder: &str,
    ) -> Option<Input> {
        match moves::free(&self.setup.watched.join(folder), name) {
            Ok(free) => Some(Input {
                profile: name.to_owned(),
                sheet: sheet.map(str::to_owned),
                digest,
                folder: folder.to_owned(),
                name: free,
            }),
            Err(error) => {
                self.failed(error);
                None
            }
        }
    }

    /// Writes down what is meant, puts the issue into its place, and finishes the case.
    fn issue(&mut self, kind: Kind, input: Option<Input>, issue: Issue, turn: &mut Turn) {
        if self.is_stuck() {
            return;
        }
        let Issue { name, files, line } = issue;
        let content = flight::content(&files);
        let named = name.to_string();
        let meant = self.meant(kind, input, line, Some((named, content)), None);
        let now_s = self.clock.now().wall_s;
        let no = match self.journal.mean(now_s, meant) {
            Ok(no) => no,
            Err(error) => return self.failed(error),
        };
        let files: Vec<(&str, &[u8])> = files
            .iter()
            .map(|(name, octets)| (name.as_str(), octets.as_slice()))
            .collect();
        if let Err(error) = folder::place(&self.setup.out, &name, &files) {
            // Issued by another hand just now: the next turn refuses it by name.
            if !matches!(error, FolderError::Issued(_)) {
                self.failed(error);
            }
            if let Err(error) = self.journal.step(no, now_s, Step::Void) {
                self.failed(error);
            }
            return;
        }
        turn.done += 1;
        self.status.issued += 1;
        match self.journal.step(no, now_s, Step::Issued) {
            Ok(()) => self.finish(no),
            Err(error) => self.failed(error),
        }
    }

    /// Whether it is not known of a case if it is out; nothing new is begun then.
    fn is_stuck(&self) -> bool {
        !self.journal.undecided().is_empty()
    }

    /// A file that is refused.
    fn refuse(
        &mut self,
        name: &str,
        sheet: Option<&str>,
        digest: String,
        refusal: Refusal,
        turn: &mut Turn,
    ) {
        let Some(input) = self.input(name, sheet, digest, REFUSED) else {
            return;
        };
        let mut line = refusal.line;
        refusal.word.clone_into(&mut line.refused);
        let first = refusal.why.lines().next().unwrap_or_default();
        line.why = first.chars().take(300).collect();
        let meant = self.meant(Kind::Refused, Some(input), line, None, Some(refusal.why));
        if self.begin(meant, turn) {
            turn.refused += 1;
            self.status.refused += 1;
        }
    }

    /// A file with the octets of one that is out.
    fn same(&mut self, taken: &Taken, sheet: Option<&str>, before: String, turn: &mut Turn) {
        let Some(input) = self.input(&taken.name, sheet, taken.digest.clone(), DONE) else {
            return;
        };
        let why = format!("the same octets are out as {before}");
        let line = Line {
            why,
            ..Line::default()
        };
        let meant = self.meant(Kind::Same, Some(input), line, None, None);
        self.begin(meant, turn);
    }

    /// Begins a case that issues nothing.
    fn begin(&mut self, meant: Meant, turn: &mut Turn) -> bool {
        if self.is_stuck() {
            return false;
        }
        match self.journal.mean(self.clock.now().wall_s, meant) {
            Ok(no) => {
                turn.done += 1;
                self.finish(no);
                true
            }
            Err(error) => {
                self.failed(error);
                false
            }
        }
    }

    fn meant(
        &self,
        kind: Kind,
        input: Option<Input>,
        mut line: Line,
        issue: Option<(String, String)>,
        reason: Option<String>,
    ) -> Meant {
        line.at(self.clock.now().wall_s, &self.schedule);
        line.event = kind.word().to_owned();
        if let Some(input) = &input {
            line.input.clone_from(&input.profile);
        }
        let (issue, content) = issue.unzip();
        Meant {
            kind,
            input,
            issue,
            content,
            reason,
            line,
        }
    }

    /// The early message of an ascent that goes on.
    fn early(&mut self, name: &str, turn: &mut Turn) {
        let Some(seen) = self.watched.files.get_mut(name) else {
            return;
        };
        seen.tried = Some(seen.look.length);
        let beside = seen.sheet.as_ref().map(|(name, _)| name.clone());
        let Ok(mut taken) = Taken::read(&self.setup.watched, name, beside.as_deref()) else {
            return; // the whole flight will tell
        };
        taken.without_torn_line();
        if let Outcome::Issue(mut issue) = self.code(&taken, Reach::To100) {
            name.clone_into(&mut issue.line.input);
            self.issue(Kind::Early, None, *issue, turn);
        }
    }

    /// What open cases wait for is tried again.
    fn finish_open_cases(&mut self) {
        let open: Vec<u64> = self.journal.cases.keys().copied().collect();
        for no in open {
            self.finish(no);
        }
    }

    /// Everything that follows an issue or a refusal; what fails stays for the next
    /// turn.
    fn finish(&mut self, no: u64) {
        let now_s = self.clock.now().wall_s;
        let Some(case) = self.journal.cases.get(&no) else {
            return;
        };
        let (meant, told) = (case.meant.clone(), case.told);
        let result = self.finish_case(no, now_s, &meant);
        match result {
            Ok(()) if told || self.setup.alarm.is_empty() => self.journal.close(no),
            Ok(()) => self.give_alarm(no, now_s, &meant),
            Err(error) => self.failed(error),
        }
    }

    fn finish_case(&mut self, no: u64, now_s: i64, meant: &Meant) -> Result<(), SpoolError> {
        let state = |journal: &Journal| journal.cases.get(&no).map(|c| (c.decided, c.moved));
        let (decided, moved) = state(&self.journal).unwrap_or((true, true));
        if !decided && !self.judge(no, meant)? {
            return Ok(());
        }
        self.enter(no)?;
        if let (false, Some(input)) = (moved, &meant.input) {
            let reason = meant.reason.as_deref().map(|why| reason(why, input));
            let moved = moves::go(&self.setup.watched, input, reason.as_deref())?;
            let step = match moved {
                Move::Done => Step::Moved,
                Move::Changed => Step::Left,
            };
            self.journal.step(no, now_s, step)?;
            self.watched.files.remove(&input.profile);
            if moved == Move::Changed {
                let text = format!("{}: it has changed meanwhile and stays", input.profile);
                let input = Some(input.profile.as_str());
                self.tell(Severity::Warning, "grew", text, input, None);
            }
        }
        Ok(())
    }

    /// Enters cases up to that number into the book, in their order.
    fn enter(&mut self, no: u64) -> Result<(), SpoolError> {
        let after = self.book.last.saturating_add(1);
        if after > no {
            return Ok(());
        }
        let due = self.journal.cases.range(after..=no);
        let due: Vec<(u64, Meant)> = due
            .filter(|(_, case)| case.decided)
            .map(|(no, case)| (*no, case.meant.clone()))
            .collect();
        for (no, meant) in due {
            self.book.add(no, &meant.line)?;
            self.log(&meant);
        }
        Ok(())
    }

    /// Where a case has led to.
    fn path(&self, meant: &Meant) -> PathBuf {
        match (&meant.issue, &meant.input) {
            (Some(issue), _) => self.setup.out.join(issue),
            (None, Some(input)) => {
                let folder = self.setup.watched.join(&input.folder);
                folder.join(&input.name)
            }
            (None, None) => self.setup.watched.clone(),
        }
    }

    fn log(&mut self, meant: &Meant) {
        let line = &meant.line;
        let issue = meant.issue.as_ref();
        let path = self.path(meant).display().to_string();
        let (severity, text) = match meant.kind {
            Kind::Refused => {
                let why = meant.reason.as_deref().unwrap_or_default();
                (Severity::Error, format!("{}: refused: {why}", line.input))
            }
            Kind::Same => {
                let text = format!("{}: not issued again: {}", line.input, line.why);
                (Severity::Info, text)
            }
            Kind::Flight | Kind::Early | Kind::Nil => {
                let after = line.after_min.unwrap_or_default();
                let side = if after < 0 { "before" } else { "after" };
                let after = after.abs();
                let mut text = format!("{path}: issued {after} min {side} the standard time");
                if !line.input.is_empty() {
                    text = format!("{}: {text}", line.input);
                }
                if let Some(warnings) = line.warnings.filter(|&n| n > 0) {
                    text.push_str(&format!(", {warnings} warnings"));
                }
                self.status.last_issue = Some(format!("{} at {}", line.issue, line.at));
                (Severity::Info, text)
            }
        };
        let issue = issue.map(|_| path);
        let input = Some(line.input.as_str()).filter(|name| !name.is_empty());
        self.tell(severity, meant.kind.word(), text, input, issue);
    }

    fn give_alarm(&mut self, no: u64, now_s: i64, meant: &Meant) {
        let path = self.path(meant).display().to_string();
        let text = serde_json::json!({
            "event": meant.kind.word(),
            "path": path,
            "reason": meant.reason,
            "line": meant.line,
        });
        let text = format!("{text}\n");
        let given = alarm::give(&self.setup.alarm, meant.kind.word(), &path, &text);
        if let Err(what) = given {
            // Once: an alarm that cannot be given must not hold up the next flight.
            let text = format!("the alarm could not be given: {what}");
            self.tell(Severity::Error, "alarm", text, None, None);
        }
        match self.journal.step(no, now_s, Step::Told) {
            Ok(()) => self.journal.close(no),
            Err(error) => self.failed(error),
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
            && self.status.state == "running"
            && before == (self.watched.files.len(), to_look_at)
            && self.status.files == files
            && (0..status::HEARTBEAT_S).contains(&now_s.saturating_sub(self.status.at_s));
        if quiet {
            return;
        }
        self.status.waiting = self.watched.files.len();
        self.status.files = files;
        self.status.to_look_at = to_look_at;
        self.status.at_s = now_s;
        self.status.at = clock::shown(now_s);
        if let Err(error) = self.status.write(&self.setup.out) {
            self.failed(error);
        }
    }

    /// Ends, in the status too.
    pub fn end(mut self) {
        self.status.state = "stopped".to_owned();
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

/// What is written beside a refused profile.
fn reason(why: &str, input: &Input) -> String {
    format!(
        "{}\n\n{} was refused. Put right what is said above (in the profile, or in a\nsheet {}.toml beside it) and move it back into the watched folder.\n",
        why,
        input.profile,
        watch::stem(&input.profile),
    )
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
