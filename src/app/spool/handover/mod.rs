//! Handing issues over to the service: every issue of a folder to every target of the
//! sheet, in order, each file exactly once as far as the target can say.
//!
//! The folder of issues is the queue: what lies in it and is not in the journal is new.
//! Its files are staged under the names that they keep, then stand in the journal; an
//! attempt is written down before it begins and when it has ended. An attempt without an
//! answer, after a kill for one, is looked up where the target can be asked; where it
//! cannot, the file is sent again under the same name, and the log says so. A target that
//! comes after another gets an issue when the other has it.

mod carrier;
#[cfg(feature = "https")]
mod https;
mod journal;
mod lane;
#[cfg(feature = "mqtt")]
mod mqtt;
mod notice;
mod sftp;
#[cfg(feature = "smtp")]
mod smtp;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use itertools::Itertools as _;
use thiserror::Error;

pub use journal::{Delivery, DeliveryState};

use super::alarm::{Alarm, Alarms};
use super::clock::{self, Clock};
use super::lock::{self, Lock};
use super::{LogEntry, SpoolError, alarm};
use crate::input::sheet;
use crate::input::sheet::{SheetError, Source};
use crate::issue::age::length;
use crate::issue::flat;
use crate::issue::flat::{FlatFile, Numbers};
use crate::issue::folder;
use crate::issue::folder::{FolderError, Name};
use crate::issue::outputs::{Output, Wanted};
use crate::model::finding::{Severity, counted, shown_path};
use crate::model::{Means, Sent, Target};
use crate::verify::month::{HandedOver, Period};
use carrier::{Carrier, Failure, Folder};
use journal::{Deliveries, Journal, Step, overdue};
use lane::{Job, Lane};
use notice::Notice;

/// The files of this room, in a folder of its own in the folder of issues.
const JOURNAL: &str = "journal.jsonl";
const LOCK: &str = "lock";
const STAGED: &str = "files";
const MARKED: &str = "marked";

/// What stands for the target of an issue that was handed over by other means where the
/// sheet names none; no target can be called so.
const OTHER_MEANS: &str = "other means";

/// An issue may come in the same moment in which the folder was looked through.
const SETTLED_S: u64 = 3;

/// Why nothing is handed over.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum HandoverError {
    /// The sheets have faults, a line each.
    #[error("{}", .0.faults().iter().join("\n"))]
    Sheets(SheetError),
    /// No targets.
    #[error("the sheet names no target; write a table such as [handover.hub]")]
    NoTarget,
    /// A target that cannot be worked for.
    #[error("handover.{target}: {what}")]
    Target {
        /// Its name.
        target: String,
        /// Why.
        what: String,
    },
    /// Another process hands over.
    #[error("{}: another process hands over the issues of this folder; end it first", shown_path(.0))]
    Running(PathBuf),
    /// The journal cannot be understood.
    #[error(
        "{}:{line}: {what}; nothing is handed over while the journal cannot be read: correct the line, or move the journal away once it is certain what was handed over",
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
    /// A file cannot be read or written.
    #[error("{}: {error}", shown_path(path))]
    Io {
        /// Which.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// Files of an issue cannot be made ready.
    #[error(transparent)]
    Folder(#[from] FolderError),
}

impl HandoverError {
    fn io(path: &Path, error: io::Error) -> Self {
        let path = path.to_owned();
        Self::Io { path, error }
    }
}

/// The folder of this room's own files in a folder of issues.
#[must_use]
pub fn state_folder(out: &Path) -> PathBuf {
    out.join("handover")
}

/// What changes in that folder whenever the state of an issue does.
#[must_use]
pub fn state_files(out: &Path) -> [PathBuf; 2] {
    [JOURNAL, MARKED].map(|name| state_folder(out).join(name))
}

/// Every issue on its way to every target, in the order in which they were queued; none
/// where nothing was ever handed over.
///
/// # Errors
/// The journal cannot be read or understood.
pub fn deliveries(out: &Path) -> Result<Vec<Delivery>, HandoverError> {
    let (found, _) = Deliveries::read(&state_folder(out).join(JOURNAL))?;
    Ok(found.into_all())
}

/// One issue on its way to every target.
///
/// # Errors
/// The journal cannot be read or understood.
pub fn deliveries_of(out: &Path, issue: &Name) -> Result<Vec<Delivery>, HandoverError> {
    let mut found = deliveries(out)?;
    let issue = issue.to_string();
    found.retain(|one| one.issue == issue);
    Ok(found)
}

/// Marks an issue as handed over by other means, for every target that does not have it.
/// A process that hands over at the same time takes the mark up at its next look.
///
/// # Errors
/// The sheets have faults; the journal cannot be read or written.
pub fn mark(
    out: &Path,
    issue: &Name,
    sources: &[Source<'_>],
    clock: &dyn Clock,
) -> Result<(), HandoverError> {
    let targets = sheet::targets(sources).map_err(HandoverError::Sheets)?;
    let targets: Vec<&str> = targets.iter().map(|target| target.name.as_str()).collect();
    let state = state_folder(out);
    let marked = state.join(MARKED);
    let path = marked.join(issue.to_string());
    let write = || {
        fs::create_dir_all(&marked)?;
        fs::File::create(&path)?.sync_all()
    };
    write().map_err(|error| HandoverError::io(&path, error))?;
    let _lock = match lock::take(state.join(LOCK)) {
        Err(SpoolError::Running(_)) => return Ok(()),
        taken => taken.map_err(|error| not_locked(&state, error))?,
    };
    let mut journal = Journal::open(state.join(JOURNAL))?;
    take_marks(out, &mut journal, &targets, &[], clock.now().wall_s)
}

/// Whether an issue is marked and no process has taken that up yet.
#[must_use]
pub fn is_being_marked(out: &Path, issue: &Name) -> bool {
    let path = state_folder(out).join(MARKED).join(issue.to_string());
    path.is_file()
}

/// Writes down the issues that are marked, but for those that are on their way.
fn take_marks(
    out: &Path,
    journal: &mut Journal,
    targets: &[&str],
    busy: &[&str],
    now_s: i64,
) -> Result<(), HandoverError> {
    let marked = state_folder(out).join(MARKED);
    let Ok(entries) = fs::read_dir(&marked) else {
        return Ok(()); // nothing was ever marked
    };
    for entry in entries.flatten() {
        let issue = entry.file_name();
        let issue = issue.to_str().and_then(Name::parse);
        let issue = issue.map(|name| name.to_string()).unwrap_or_default();
        if busy.contains(&issue.as_str()) {
            continue;
        }
        let about = fs::metadata(out.join(&issue)).and_then(|about| about.modified());
        if let (false, Ok(at)) = (issue.is_empty(), about) {
            mark_in(journal, &issue, seconds(at), targets, now_s)?;
        }
        let path = entry.path();
        fs::remove_file(&path).map_err(|error| HandoverError::io(&path, error))?;
    }
    Ok(())
}

/// Writes down that an issue was handed over by other means, for each target that does not
/// have it; how many.
fn mark_in(
    journal: &mut Journal,
    issue: &str,
    issued_s: i64,
    targets: &[&str],
    now_s: i64,
) -> Result<usize, HandoverError> {
    let all = journal.deliveries.all().iter();
    let own: Vec<Delivery> = all.filter(|one| one.issue == issue).cloned().collect();
    let waiting = own.iter().filter(|one| one.state == DeliveryState::Waiting);
    let mut wanted: BTreeSet<&str> = waiting.map(|one| one.target.as_str()).collect();
    let is_new = |target: &&str| own.iter().all(|one| one.target != *target);
    wanted.extend(targets.iter().copied().filter(is_new));
    if own.is_empty() && wanted.is_empty() {
        wanted.insert(OTHER_MEANS);
    }
    for target in &wanted {
        journal.add(now_s, target, issue, Step::Marked { issued_s })?;
    }
    Ok(wanted.len())
}

fn not_locked(state: &Path, error: SpoolError) -> HandoverError {
    match error {
        SpoolError::Running(path) => HandoverError::Running(path),
        SpoolError::Io { path, error } => HandoverError::Io { path, error },
        other => HandoverError::io(state, io::Error::other(other)),
    }
}

/// Seconds since 1970.
fn seconds(at: SystemTime) -> i64 {
    let since = at.duration_since(UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_secs()).unwrap_or(i64::MAX)
}

/// Whether a process hands the issues of a folder over.
#[must_use]
pub fn is_running(out: &Path) -> bool {
    lock::is_locked(&state_folder(out).join(LOCK))
}

/// What was handed over in a month, by target.
#[must_use]
pub fn month(deliveries: &[Delivery], month: Period) -> BTreeMap<String, HandedOver> {
    let mut targets: BTreeMap<String, HandedOver> = BTreeMap::new();
    let wanted = |delivery: &&Delivery| {
        let standard = Name::parse(&delivery.issue).and_then(|name| name.standard());
        let counts = !matches!(
            delivery.state,
            DeliveryState::Nothing | DeliveryState::Marked
        );
        standard.is_some_and(|standard| month.has(standard)) && counts
    };
    for delivery in deliveries.iter().filter(wanted) {
        let handed = targets.entry(delivery.target.clone()).or_default();
        handed.of += 1;
        handed.accepted += usize::from(delivery.state == DeliveryState::Accepted);
        handed.in_time += usize::from(delivery.is_in_time());
    }
    targets
}

/// What a turn left.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// Issues that wait for a target, each counted for each.
    pub waiting: usize,
    /// Whether every target has everything, or was tried since the start and refused.
    pub is_tried: bool,
    /// Whether files of this machine could not be read or written.
    pub failed: bool,
}

/// What hands issues over.
pub struct Handover<'a> {
    out: PathBuf,
    state: PathBuf,
    lanes: Vec<Lane>,
    /// Minutes after the standard time by which a report is due, by the schedule.
    schedule_limit_min: Option<u16>,
    clock: &'a dyn Clock,
    journal: Journal,
    alarms: Alarms,
    /// The alarms that are being given: their number, target and issue.
    asked: Vec<(u64, String, String)>,
    /// The issues of the folder with the moment of each, as they were last found.
    found: Vec<(SystemTime, Name)>,
    /// When the folder had changed as it was last looked through.
    looked: Option<SystemTime>,
    /// What failed, so that it is reported once.
    failures: BTreeSet<String>,
    say: &'a dyn Fn(&LogEntry),
    lock: Lock,
}

/// The outputs that the targets of sheets get, as files of an issue.
///
/// # Errors
/// The faults of the sheets.
pub fn wanted(sources: &[Source<'_>]) -> Result<Wanted, HandoverError> {
    let targets = sheet::targets(sources).map_err(HandoverError::Sheets)?;
    let sent = targets.iter().flat_map(|target| &target.send);
    Ok(sent.flat_map(|&sent| outputs(sent)).copied().collect())
}

/// The files of an issue that something is sent from.
fn outputs(sent: Sent) -> &'static [Output] {
    match sent {
        Sent::Text => &[Output::Text],
        Sent::Bulletin => &[Output::Bulletin],
        Sent::Json => &[Output::Json],
        Sent::Bufr => &[Output::Bufr],
        Sent::BufrBulletin => &[Output::BufrBulletin],
        Sent::Gts => &[Output::Bulletin, Output::BufrBulletin],
    }
}

impl<'a> Handover<'a> {
    /// Opens the folder of issues, which no other process may hand over; `None` where the
    /// sheets name no target. `say` gets every line of the log.
    ///
    /// # Errors
    /// See [`HandoverError`]; a target whose means are not built in, or whose files cannot
    /// be read.
    pub fn open(
        out: &Path,
        sources: &[Source<'_>],
        alarm: Vec<OsString>,
        clock: &'a dyn Clock,
        say: &'a dyn Fn(&LogEntry),
    ) -> Result<Option<Self>, HandoverError> {
        let targets = sheet::targets(sources).map_err(HandoverError::Sheets)?;
        if targets.is_empty() {
            return Ok(None);
        }
        let schedule = sheet::schedule(sources).map_err(HandoverError::Sheets)?;
        // A folder that is not there is a slip in its name.
        fs::read_dir(out).map_err(|error| HandoverError::io(out, error))?;
        let state = state_folder(out);
        let mut lanes = Vec::new();
        for target in targets {
            let staged = state.join(STAGED).join(&target.name);
            fs::create_dir_all(&staged).map_err(|error| HandoverError::io(&staged, error))?;
            let carrier = carrier(&target)?;
            let lane = Lane::new(target, carrier);
            lanes.push(lane.map_err(|error| HandoverError::io(&staged, error))?);
        }
        let lock = lock::take(state.join(LOCK)).map_err(|error| not_locked(&state, error))?;
        let path = state.join(JOURNAL);
        journal::shorten(&path, clock.now().wall_s)?;
        let journal = Journal::open(path)?;
        let alarms = Alarms::new(alarm, alarm::LIMIT);
        let handover = Self {
            out: out.to_owned(),
            lanes,
            schedule_limit_min: schedule.limit_min,
            clock,
            journal,
            alarms: alarms.map_err(|error| HandoverError::io(Path::new("alarm"), error))?,
            asked: Vec::new(),
            found: Vec::new(),
            looked: None,
            failures: BTreeSet::new(),
            say,
            lock,
            state,
        };
        handover.sweep();
        Ok(Some(handover))
    }

    /// Takes staged files away that no delivery waits with.
    fn sweep(&self) {
        let waiting = self.journal.deliveries.all().iter();
        let waiting = waiting.filter(|one| one.state == DeliveryState::Waiting);
        let needed: BTreeSet<(&str, &str)> = waiting
            .flat_map(|one| {
                one.files
                    .iter()
                    .map(|file| (one.target.as_str(), file.as_str()))
            })
            .collect();
        for lane in &self.lanes {
            let target = lane.target.name.as_str();
            let entries = fs::read_dir(self.staged(target));
            for entry in entries.into_iter().flatten().flatten() {
                let name = entry.file_name();
                let name = name.to_str().unwrap_or_default();
                if !name.starts_with('.') && !needed.contains(&(target, name)) {
                    // What cannot be taken away does no harm.
                    let _ = fs::remove_file(entry.path());
                }
            }
        }
    }

    fn staged(&self, target: &str) -> PathBuf {
        self.state.join(STAGED).join(target)
    }

    fn tell(&self, severity: Severity, event: &'static str, text: String) {
        (self.say)(&LogEntry {
            at: clock::shown(self.clock.now().wall_s),
            severity,
            event,
            text,
            input: None,
            issue: None,
        });
    }

    /// A failure of this machine: reported once, tried again.
    fn failed(&mut self, error: &HandoverError) {
        let what = error.to_string();
        if self.failures.insert(what.clone()) {
            self.tell(Severity::Error, "failed", what);
        }
    }

    /// Looks for new issues, takes what was carried, and begins what is due.
    pub fn turn(&mut self, once: bool) -> Progress {
        let mut failed = false;
        let mut note = |this: &mut Self, result: Result<(), HandoverError>| {
            if let Err(error) = result {
                this.failed(&error);
                failed = true;
            }
        };
        if let Err(error) = self.lock.stands() {
            let error = io::Error::other(error);
            let error = HandoverError::io(&self.state, error);
            note(self, Err(error));
            return Progress {
                failed: true,
                is_tried: true,
                ..Progress::default()
            };
        }
        let result = self.hear();
        note(self, result);
        let result = self.take_marks();
        note(self, result);
        let result = self.queue();
        note(self, result);
        let result = self.begin(once);
        note(self, result);
        let result = self.look_at_limits();
        note(self, result);
        if !failed {
            self.failures.clear();
        }
        let deliveries = &self.journal.deliveries;
        let refused = |lane: &Lane| {
            let first = deliveries.first(&lane.target.name);
            first.is_some_and(|one| lane.tried && one.problem.is_some())
        };
        // What comes after a target that refused waits as long as that does.
        let has_time = |lane: &Lane| {
            let Some(first) = deliveries.first(&lane.target.name) else {
                return true;
            };
            let mut others = self.lanes.iter();
            let before = others.find(|other| Some(other.target.name.as_str()) == lane.after());
            let is_held = !self.is_ready(lane, &first.issue)
                && before.is_some_and(|before| before.busy.is_none() && refused(before));
            refused(lane) || is_held
        };
        Progress {
            waiting: (deliveries.all().iter())
                .filter(|one| one.state == DeliveryState::Waiting)
                .count(),
            is_tried: (self.lanes.iter()).all(|lane| lane.busy.is_none() && has_time(lane))
                && self.alarms.waiting() == 0,
            failed,
        }
    }

    /// Takes up what was marked as handed over by other means.
    fn take_marks(&mut self) -> Result<(), HandoverError> {
        let targets = self.lanes.iter().map(|lane| lane.target.name.as_str());
        let targets: Vec<&str> = targets.collect();
        let busy = self.lanes.iter().filter_map(|lane| lane.busy.as_ref());
        let busy: Vec<&str> = busy.map(|(issue, _)| issue.as_str()).collect();
        let now_s = self.clock.now().wall_s;
        take_marks(&self.out, &mut self.journal, &targets, &busy, now_s)
    }

    /// Whether the target that a target comes after has an issue.
    fn is_ready(&self, lane: &Lane, issue: &str) -> bool {
        lane.after().is_none_or(|after| {
            let before = self.journal.deliveries.of(after, issue);
            before.is_some_and(|one| {
                matches!(one.state, DeliveryState::Accepted | DeliveryState::Marked)
            })
        })
    }

    /// Queues the issues that are new for a target.
    fn queue(&mut self) -> Result<(), HandoverError> {
        let fault = |error| HandoverError::io(&self.out, error);
        let changed = fs::metadata(&self.out).and_then(|about| about.modified());
        let changed = changed.map_err(fault)?;
        let recent = SystemTime::now()
            .duration_since(changed)
            .map_or(true, |age| age.as_secs() < SETTLED_S);
        if self.looked != Some(changed) || recent {
            self.found = issues(&self.out)?;
            self.looked = Some(changed);
        }
        let now_s = self.clock.now().wall_s;
        let mut new = Vec::new();
        for (at, name) in &self.found {
            let issued_s = seconds(*at);
            let age_s = now_s.saturating_sub(issued_s);
            // What the journal may have had before it was shortened is not new.
            let standard_s = name.standard().and_then(clock::seconds);
            if standard_s.is_some_and(|at_s| at_s < self.journal.deliveries.before_s) {
                continue;
            }
            for (number, lane) in self.lanes.iter().enumerate() {
                let target = &lane.target;
                let is_young = age_s <= i64::from(target.max_age_h) * 3600;
                let known = || {
                    let issue = name.to_string();
                    let has = |target: &str| self.journal.deliveries.of(target, &issue).is_some();
                    has(&target.name) || has(OTHER_MEANS)
                };
                if is_young && !known() {
                    new.push((number, name.clone(), issued_s));
                }
            }
        }
        // What cannot be made ready holds up what follows for the same target alone.
        let mut held = BTreeMap::new();
        for (number, name, issued_s) in new {
            if held.contains_key(&number) {
                continue;
            }
            if let Err(error) = self.queue_for(number, &name, issued_s) {
                held.insert(number, error);
            }
        }
        held.into_values().next().map_or(Ok(()), Err)
    }

    /// Queues an issue for a target.
    fn queue_for(
        &mut self,
        number: usize,
        name: &Name,
        issued_s: i64,
    ) -> Result<(), HandoverError> {
        let Some(lane) = self.lanes.get(number) else {
            return Ok(());
        };
        let target = &lane.target;
        let files = match lane.after() {
            None => self.stage(target, name)?,
            Some(_) => self.announced(target, name)?,
        };
        let step = Step::Queued {
            files,
            issued_s,
            due_s: self.due_s(target, name, issued_s),
            after: lane.after().map(str::to_owned),
        };
        let now_s = self.clock.now().wall_s;
        self.journal
            .add(now_s, &target.name, &name.to_string(), step)
    }

    /// The name of the notification of an issue, which is written when the file is where
    /// it says; none where nothing is published.
    fn announced(&self, target: &Target, name: &Name) -> Result<Vec<String>, HandoverError> {
        let now = clock::civil(self.clock.now().wall_s).unwrap_or_default();
        match notice::of(&self.out, name, &target.means, now)? {
            Notice::Nothing(why) => {
                let text = format!("{}: {name} is not published: {why}", target.name);
                self.tell(Severity::Warning, "nothing", text);
                Ok(Vec::new())
            }
            Notice::Ready(_) | Notice::Unwritten(_) => Ok(vec![notice::file_name(name)]),
        }
    }

    /// Writes the notification of an issue unless it is written; why it cannot be.
    fn announce(&self, target: &Target, issue: &str) -> Result<Option<String>, HandoverError> {
        let Some(name) = Name::parse(issue) else {
            return Ok(None);
        };
        let folder = self.staged(&target.name);
        if folder.join(notice::file_name(&name)).is_file() {
            return Ok(None);
        }
        let now = clock::civil(self.clock.now().wall_s).unwrap_or_default();
        match notice::of(&self.out, &name, &target.means, now)? {
            Notice::Ready(file) => {
                flat::put(&folder, &file)?;
                Ok(None)
            }
            Notice::Nothing(why) => Ok(Some(why)),
            Notice::Unwritten(error) => Ok(Some(error.to_string())),
        }
    }

    /// By when an issue is to be accepted: after the minutes of the target, or at the
    /// limit of the schedule where that comes before and was not over when it was issued.
    fn due_s(&self, target: &Target, name: &Name, issued_s: i64) -> i64 {
        let due_s = issued_s.saturating_add(i64::from(target.limit_min) * 60);
        let limit = self.schedule_limit_min.zip(name.standard());
        let limit_s = limit.and_then(|(min, standard)| {
            Some(clock::seconds(standard)?.saturating_add(i64::from(min) * 60))
        });
        match limit_s {
            Some(limit_s) if limit_s > issued_s => due_s.min(limit_s),
            _ => due_s,
        }
    }

    /// Makes the files of an issue ready for a target; their names.
    fn stage(&self, target: &Target, name: &Name) -> Result<Vec<String>, HandoverError> {
        let folder = self.staged(&target.name);
        let numbers = Numbers::of(&folder);
        let mut contents = Vec::new();
        for &sent in &target.send {
            let mut parts = Vec::new();
            for &output in outputs(sent) {
                if let Some(file) = output.file() {
                    parts.extend(
                        folder::file(&self.out, name, file)?.map(|octets| (output, octets)),
                    );
                }
            }
            if sent == Sent::Gts && !parts.is_empty() {
                let octets: Vec<&[u8]> = parts.iter().map(|(_, octets)| &octets[..]).collect();
                parts = vec![(Output::Gts, flat::gathered(&octets))];
            }
            contents.append(&mut parts);
        }
        let contents: Vec<(Output, &[u8])> = contents
            .iter()
            .map(|(output, octets)| (*output, octets.as_slice()))
            .collect();
        let made = clock::civil(self.clock.now().wall_s).unwrap_or_default();
        let files = flat::files(name, &contents, target.names, made, &mut || numbers.take())?;
        for file in &files {
            flat::put(&folder, file)?;
        }
        Ok(files.into_iter().map(|file| file.name).collect())
    }

    /// Begins to carry the next file to each target that has time for it.
    fn begin(&mut self, once: bool) -> Result<(), HandoverError> {
        let mut result = Ok(());
        for number in 0..self.lanes.len() {
            let begun = self.begin_for(number, once);
            result = result.and(begun);
        }
        result
    }

    /// The same to one target.
    fn begin_for(&mut self, number: usize, once: bool) -> Result<(), HandoverError> {
        let now_s = self.clock.now().wall_s;
        let Some(lane) = self.lanes.get(number).filter(|lane| lane.busy.is_none()) else {
            return Ok(());
        };
        let target = lane.target.name.clone();
        let Some(one) = self.journal.deliveries.first(&target) else {
            return Ok(());
        };
        let age_s = now_s.saturating_sub(one.issued_s);
        let issue = one.issue.clone();
        if age_s > i64::from(lane.target.max_age_h) * 3600 {
            let text = format!(
                "{target}: {issue} is given up after {}; hand it over by other means if it is still wanted",
                length(age_s)
            );
            self.journal.add(now_s, &target, &issue, Step::GivenUp)?;
            self.tell(Severity::Error, "given-up", text);
            return Ok(());
        }
        // A clock that was set back holds nothing up.
        let since = now_s.saturating_sub(one.at_s);
        let pauses = one.problem.is_some() && (0..one.pause_s()).contains(&since);
        let Some(file) = one.next_file().map(str::to_owned) else {
            return Ok(());
        };
        if pauses && (lane.tried || !once) || !self.is_ready(lane, &issue) {
            return Ok(());
        }
        let ask = one.unanswered;
        if lane.after().is_some()
            && let Some(what) = self.announce(&lane.target, &issue)?
        {
            let attempt = Step::Attempt { file: file.clone() };
            self.journal.add(now_s, &target, &issue, attempt)?;
            let failure = Failure::certain(what);
            if let Some(lane) = self.lanes.get_mut(number) {
                lane.tried = true;
            }
            return self.refused(&target, &issue, &file, &failure);
        }
        let path = self.staged(&target).join(&file);
        let octets = fs::read(&path).map_err(|error| HandoverError::io(&path, error))?;
        let step = Step::Attempt { file: file.clone() };
        self.journal.add(now_s, &target, &issue, step)?;
        let file = FlatFile { name: file, octets };
        if let Some(lane) = self.lanes.get_mut(number) {
            lane.begin(&issue, Job { file, ask });
        }
        Ok(())
    }

    /// Takes what was carried.
    fn hear(&mut self) -> Result<(), HandoverError> {
        let mut result = Ok(());
        for number in 0..self.lanes.len() {
            let heard = self.hear_of(number);
            result = result.and(heard);
        }
        result
    }

    /// The same of one target.
    fn hear_of(&mut self, number: usize) -> Result<(), HandoverError> {
        let now_s = self.clock.now().wall_s;
        let Some(lane) = self.lanes.get_mut(number) else {
            return Ok(());
        };
        let target = lane.target.name.clone();
        let Some((issue, file, done)) = lane.done() else {
            return Ok(());
        };
        let found = match &done.result {
            Ok(found) => *found,
            Err(failure) => {
                self.refused(&target, &issue, &file, failure)?;
                if let Some(lane) = self.lanes.get_mut(number) {
                    lane.written();
                }
                return Ok(());
            }
        };
        let step = Step::Accepted {
            file: file.clone(),
            found,
        };
        self.journal.add(now_s, &target, &issue, step)?;
        if let Some(lane) = self.lanes.get_mut(number) {
            lane.written();
        }
        if done.doubt && !found {
            let text = format!(
                "{target}: {file} was sent again, since the target cannot be asked whether it came the first time"
            );
            self.tell(Severity::Warning, "sent-again", text);
        }
        let Some(one) = self.journal.deliveries.of(&target, &issue) else {
            return Ok(());
        };
        // The journal has it; what stays is swept at the next start.
        let _ = fs::remove_file(self.staged(&target).join(&file));
        if one.next_file().is_none() {
            let after = length(now_s.saturating_sub(one.issued_s));
            let files = counted(one.files.len(), "file");
            let text = format!("{target}: {issue} handed over, {files}, {after} after its issue");
            self.tell(Severity::Info, "handed-over", text);
        }
        Ok(())
    }

    /// Writes down that an attempt failed.
    fn refused(
        &mut self,
        target: &str,
        issue: &str,
        file: &str,
        failure: &Failure,
    ) -> Result<(), HandoverError> {
        let now_s = self.clock.now().wall_s;
        let what = failure.what.trim();
        let step = Step::Failed {
            file: file.to_owned(),
            what: what.to_owned(),
            certain: failure.certain,
        };
        self.journal.add(now_s, target, issue, step)?;
        if let Some(one) = self.journal.deliveries.of(target, issue) {
            let pause = match one.pause_s() {
                pause_s @ 0..60 => format!("{pause_s} s"),
                pause_s => length(pause_s),
            };
            let text = format!("{target}: {issue} not handed over: {what}; tried again in {pause}");
            self.tell(Severity::Warning, "not-handed-over", text);
        }
        Ok(())
    }

    /// Gives the alarm for what is not accepted by its limit.
    fn look_at_limits(&mut self) -> Result<(), HandoverError> {
        let now_s = self.clock.now().wall_s;
        for (no, result) in self.alarms.given() {
            if let Err(what) = result {
                let text = format!("the alarm could not be given: {what}");
                self.tell(Severity::Error, "alarm", text);
            }
            let at = self.asked.iter().position(|(asked, ..)| *asked == no);
            if let Some((_, target, issue)) = at.map(|at| self.asked.remove(at)) {
                self.journal.add(now_s, &target, &issue, Step::Late)?;
            }
        }
        let known = self.lanes.iter().map(|lane| lane.target.name.as_str());
        let known: BTreeSet<&str> = known.collect();
        let is_late =
            |one: &&Delivery| one.state == DeliveryState::Waiting && !one.late && now_s > one.due_s;
        let late = self.journal.deliveries.all().iter().filter(is_late);
        let late = late.filter(|one| known.contains(one.target.as_str()));
        let is_asked = |one: &&Delivery| {
            let mut asked = self.asked.iter();
            asked.any(|(_, target, issue)| (target, issue) == (&one.target, &one.issue))
        };
        let late: Vec<Delivery> = late.filter(|one| !is_asked(one)).cloned().collect();
        for one in late {
            let waits = one
                .after
                .as_ref()
                .map(|after| format!("it waits for {after}"));
            let waits = waits.filter(|_| one.tries == 0);
            let why = one.problem.as_deref().or(waits.as_deref());
            let why = why.unwrap_or("no attempt has ended");
            let text = format!(
                "{}: {} is not handed over, {} after its issue: {why}",
                one.target,
                one.issue,
                overdue(&one, now_s)
            );
            self.tell(Severity::Error, "late", text);
            let no = self.asked.iter().map(|(no, ..)| no + 1).max().unwrap_or(1);
            let path = self.out.join(&one.issue).display().to_string();
            let text = serde_json::json!({
                "event": "late",
                "path": path,
                "target": one.target,
                "reason": why,
            });
            self.alarms.ask(Alarm {
                no,
                event: "late",
                path,
                text: format!("{text}\n"),
            });
            self.asked.push((no, one.target, one.issue));
        }
        Ok(())
    }

    /// Marks every issue that waits, or is new, as handed over by other means; how many.
    ///
    /// # Errors
    /// The journal cannot be written.
    pub fn mark(&mut self) -> Result<usize, HandoverError> {
        let now_s = self.clock.now().wall_s;
        let targets = self.lanes.iter().map(|lane| lane.target.name.as_str());
        let targets: Vec<&str> = targets.collect();
        let mut marked = 0;
        for (at, name) in issues(&self.out)? {
            let issue = name.to_string();
            marked += mark_in(&mut self.journal, &issue, seconds(at), &targets, now_s)?;
        }
        self.sweep();
        Ok(marked)
    }
}

/// The issues of a folder with the moment of each, the oldest first.
fn issues(out: &Path) -> Result<Vec<(SystemTime, Name)>, HandoverError> {
    let entries = fs::read_dir(out).map_err(|error| HandoverError::io(out, error))?;
    let mut found = Vec::new();
    for entry in entries.flatten() {
        let name = entry.file_name();
        let Some(name) = name.to_str().and_then(Name::parse) else {
            continue;
        };
        let about = fs::symlink_metadata(entry.path()).ok();
        if let Some(about) = about.filter(|about| about.is_dir()) {
            found.push((about.modified().unwrap_or(UNIX_EPOCH), name));
        }
    }
    found.sort();
    Ok(found)
}

/// The way to a target, with the files that it needs.
fn carrier(target: &Target) -> Result<Box<dyn Carrier>, HandoverError> {
    let fault = |what: String| HandoverError::Target {
        target: target.name.clone(),
        what,
    };
    match &target.means {
        Means::Folder { folder } => Ok(Box::new(Folder(folder.into()))),
        Means::Sftp { .. } => sftp::carrier(&target.means).map_err(fault),
        #[cfg(feature = "https")]
        Means::Https { .. } => https::carrier(&target.means).map_err(fault),
        #[cfg(feature = "smtp")]
        Means::Smtp { .. } => smtp::carrier(&target.means).map_err(fault),
        #[cfg(feature = "mqtt")]
        Means::Mqtt { .. } => mqtt::carrier(&target.means).map_err(fault),
        #[allow(
            unreachable_patterns,
            reason = "a build with every feature has none left"
        )]
        other => Err(fault(format!(
            "this build cannot hand over by {kind}; use a build with the feature `{kind}`",
            kind = other.kind().word()
        ))),
    }
}
