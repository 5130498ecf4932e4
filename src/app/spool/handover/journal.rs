//! The journal of handing over: a line for what is queued, for each attempt, and for how
//! it ended. A line is written through to the disk before anything follows from it; a
//! last line that a power cut tore is taken away. What was settled long ago goes when the
//! journal is opened.

use std::collections::{HashMap, HashSet};
use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::HandoverError;
use crate::app::spool::clock;
use crate::issue::age::length;
use crate::issue::folder::sync_folder;

/// The largest journal that is read, octets.
const MAX_JOURNAL: u64 = 1 << 30;

/// How long the journal has what no target waits for, days: thirteen months, so that a
/// month can be compared with the same of the year before.
const RETENTION_DAYS: i64 = 400;
const DAY_S: i64 = 86_400;

/// The first pause after a failed attempt, and the longest, s: each is twice the one
/// before.
const FIRST_PAUSE_S: i64 = 10;
const LONGEST_PAUSE_S: i64 = 600;

/// Where an issue is on its way to a target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DeliveryState {
    /// Not every file is accepted.
    Waiting,
    /// The target has every file.
    Accepted,
    /// The issue has nothing that the target gets.
    Nothing,
    /// It became too old.
    GivenUp,
    /// It was marked as handed over by other means.
    Marked,
}

/// An issue on its way to a target.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Delivery {
    /// The name of the issue.
    pub issue: String,
    /// The name of the target.
    pub target: String,
    /// Where it is.
    pub state: DeliveryState,
    /// The names of its files.
    pub files: Vec<String>,
    /// How many of them the target has accepted.
    pub accepted: usize,
    /// Attempts for the file that is next.
    pub tries: u32,
    /// When it was issued, seconds since 1970.
    pub issued_s: i64,
    /// By when it is to be accepted, seconds since 1970.
    pub due_s: i64,
    /// The last line about it, seconds since 1970.
    pub at_s: i64,
    /// The target that must have accepted the issue before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<String>,
    /// Whether the alarm was given because it was late.
    pub late: bool,
    /// Why the last attempt failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub problem: Option<String>,
    /// Whether the target may have the file of the last attempt although it failed, or
    /// was cut off before its answer.
    #[serde(skip)]
    pub(super) unanswered: bool,
}

impl Delivery {
    /// The file that is next; `None` where none is.
    pub(super) fn next_file(&self) -> Option<&str> {
        let waits = self.state == DeliveryState::Waiting;
        self.files
            .get(self.accepted)
            .filter(|_| waits)
            .map(String::as_str)
    }

    /// Seconds from the last attempt to the next.
    pub(super) fn pause_s(&self) -> i64 {
        let doublings = self.tries.saturating_sub(1).min(10);
        (FIRST_PAUSE_S << doublings).min(LONGEST_PAUSE_S)
    }

    /// Whether it was accepted by the time it was due.
    #[must_use]
    pub fn is_in_time(&self) -> bool {
        self.state == DeliveryState::Accepted && self.at_s <= self.due_s
    }
}

impl fmt::Display for Delivery {
    /// In words, the target first.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let at = clock::shown(self.at_s);
        write!(f, "{}: ", self.target)?;
        match self.state {
            DeliveryState::Accepted => write!(f, "handed over at {at}"),
            DeliveryState::Nothing => f.write_str("nothing to hand over"),
            DeliveryState::Marked => write!(f, "marked as handed over at {at}"),
            DeliveryState::GivenUp => write!(f, "given up at {at}"),
            DeliveryState::Waiting if self.tries == 0 => match &self.after {
                Some(after) if self.accepted == 0 => write!(f, "waiting for {after}"),
                _ => f.write_str("waiting"),
            },
            DeliveryState::Waiting => {
                let attempts = if self.tries == 1 {
                    "attempt"
                } else {
                    "attempts"
                };
                write!(f, "not handed over after {} {attempts}", self.tries)
            }
        }?;
        match &self.problem {
            Some(problem) if self.state != DeliveryState::Accepted => write!(f, ": {problem}"),
            _ => Ok(()),
        }
    }
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "step", rename_all = "kebab-case")]
pub(super) enum Step {
    /// The files of an issue are ready; there may be none.
    Queued {
        files: Vec<String>,
        issued_s: i64,
        due_s: i64,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        after: Option<String>,
    },
    /// An attempt begins.
    Attempt { file: String },
    /// The target has the file; `found`: by its own word, when it was asked.
    Accepted { file: String, found: bool },
    /// The attempt failed; `certain`: the target does not have the file.
    Failed {
        file: String,
        what: String,
        certain: bool,
    },
    /// The alarm was given: it is late.
    Late,
    /// It is too old.
    GivenUp,
    /// The operator handed it over by other means.
    Marked { issued_s: i64 },
    /// What was settled before that moment is no longer there; no issue, no target.
    Shortened { before_s: i64 },
}

/// A line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Entry {
    at_s: i64,
    target: String,
    issue: String,
    #[serde(flatten)]
    step: Step,
}

/// What the journal says, in the order in which issues were queued.
#[derive(Debug, Default)]
pub(super) struct Deliveries {
    all: Vec<Delivery>,
    at: HashMap<(String, String), usize>,
    /// What was settled before that moment may be missing, seconds since 1970.
    pub(super) before_s: i64,
}

impl Deliveries {
    /// Those of a journal; its length up to the last whole line.
    pub(super) fn read(path: &Path) -> Result<(Self, u64), HandoverError> {
        let octets = octets(path)?;
        let mut whole = 0;
        let found = Self::parsed(path, &octets, |line, _| whole += line.len())?;
        Ok((found, u64::try_from(whole).unwrap_or(u64::MAX)))
    }

    /// Those of the octets of a journal; `each` gets every line and its entry.
    fn parsed(
        path: &Path,
        octets: &[u8],
        mut each: impl FnMut(&[u8], &Entry),
    ) -> Result<Self, HandoverError> {
        let mut found = Self::default();
        for (number, line) in (1..).zip(octets.split_inclusive(|&b| b == b'\n')) {
            if !line.ends_with(b"\n") {
                break; // torn
            }
            let entry = serde_json::from_slice::<Entry>(line).map_err(|error| error.to_string());
            let taken = entry.and_then(|entry| {
                found.take(entry.clone())?;
                Ok(entry)
            });
            let entry = taken.map_err(|what| HandoverError::Journal {
                path: path.to_owned(),
                line: number,
                what,
            })?;
            each(line, &entry);
        }
        Ok(found)
    }

    pub(super) fn all(&self) -> &[Delivery] {
        &self.all
    }

    pub(super) fn into_all(self) -> Vec<Delivery> {
        self.all
    }

    /// An issue on its way to a target.
    pub(super) fn of(&self, target: &str, issue: &str) -> Option<&Delivery> {
        let at = self.at.get(&(target.to_owned(), issue.to_owned()))?;
        self.all.get(*at)
    }

    /// The first that waits for a target.
    pub(super) fn first(&self, target: &str) -> Option<&Delivery> {
        let mut of = self.all.iter().filter(|one| one.target == target);
        of.find(|one| one.state == DeliveryState::Waiting)
    }

    fn take(&mut self, entry: Entry) -> Result<(), String> {
        if let Step::Shortened { before_s } = entry.step {
            self.before_s = self.before_s.max(before_s);
            return Ok(());
        }
        let key = (entry.target.clone(), entry.issue.clone());
        let begins = match &entry.step {
            Step::Queued {
                files,
                issued_s,
                due_s,
                after,
            } => Some((files.clone(), *issued_s, *due_s, after.clone())),
            Step::Marked { issued_s } if !self.at.contains_key(&key) => {
                Some((Vec::new(), *issued_s, *issued_s, None))
            }
            _ => None,
        };
        if let Some((files, issued_s, due_s, after)) = begins {
            if self.at.contains_key(&key) {
                return Err(format!("{} is queued twice for {}", key.1, key.0));
            }
            let state = match (&entry.step, files.is_empty()) {
                (Step::Marked { .. }, _) => DeliveryState::Marked,
                (_, true) => DeliveryState::Nothing,
                (_, false) => DeliveryState::Waiting,
            };
            self.at.insert(key, self.all.len());
            self.all.push(Delivery {
                issue: entry.issue,
                target: entry.target,
                state,
                files,
                accepted: 0,
                tries: 0,
                issued_s,
                due_s,
                at_s: entry.at_s,
                after,
                late: false,
                problem: None,
                unanswered: false,
            });
            return Ok(());
        }
        let one = self.at.get(&key).and_then(|&at| self.all.get_mut(at));
        let one = one.ok_or_else(|| format!("{} is not queued for {}", key.1, key.0))?;
        match entry.step {
            Step::Attempt { .. } => {
                one.tries = one.tries.saturating_add(1);
                one.unanswered = true;
            }
            Step::Accepted { file, .. } => {
                if one.next_file() != Some(file.as_str()) {
                    return Err(format!("{file} is not the next file"));
                }
                one.accepted += 1;
                one.tries = 0;
                one.unanswered = false;
                one.problem = None;
                if one.accepted == one.files.len() {
                    one.state = DeliveryState::Accepted;
                }
            }
            Step::Failed { what, certain, .. } => {
                one.problem = Some(what);
                one.unanswered = !certain;
            }
            Step::Late => {
                one.late = true;
                return Ok(()); // no attempt, and the pause goes on
            }
            Step::GivenUp => one.state = DeliveryState::GivenUp,
            Step::Marked { .. } => one.state = DeliveryState::Marked,
            Step::Queued { .. } | Step::Shortened { .. } => {}
        }
        one.at_s = entry.at_s;
        Ok(())
    }
}

/// The octets of a journal; none where there is none.
fn octets(path: &Path) -> Result<Vec<u8>, HandoverError> {
    let mut octets = Vec::new();
    match File::open(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        opened => {
            let read = opened.and_then(|file| file.take(MAX_JOURNAL).read_to_end(&mut octets));
            read.map_err(|error| HandoverError::io(path, error))?;
        }
    }
    Ok(octets)
}

/// Takes the lines out of a journal whose issues no target waits for and that are older
/// than [`RETENTION_DAYS`]. The new journal takes the place of the old one when it is
/// written through to the disk, so that a kill leaves one of the two.
pub(super) fn shorten(path: &Path, now_s: i64) -> Result<(), HandoverError> {
    let octets = octets(path)?;
    let before_s = now_s.saturating_sub(RETENTION_DAYS * DAY_S);
    let deliveries = Deliveries::parsed(path, &octets, |_, _| {})?;
    let mut last_s: HashMap<&str, i64> = HashMap::new();
    for one in &deliveries.all {
        let at_s = match one.state {
            DeliveryState::Waiting => i64::MAX,
            _ => one.at_s,
        };
        let last = last_s.entry(&one.issue).or_insert(at_s);
        *last = at_s.max(*last);
    }
    let settled = last_s.into_iter().filter(|(_, at_s)| *at_s < before_s);
    let settled: HashSet<&str> = settled.map(|(issue, _)| issue).collect();
    if settled.is_empty() {
        return Ok(());
    }
    let first = Entry {
        at_s: now_s,
        target: String::new(),
        issue: String::new(),
        step: Step::Shortened {
            before_s: before_s.max(deliveries.before_s),
        },
    };
    let fault = |error| HandoverError::io(path, error);
    let mut shorter = serde_json::to_vec(&first).map_err(|error| fault(error.into()))?;
    shorter.push(b'\n');
    Deliveries::parsed(path, &octets, |line, entry| {
        let is_first = matches!(entry.step, Step::Shortened { .. });
        if !is_first && !settled.contains(entry.issue.as_str()) {
            shorter.extend_from_slice(line);
        }
    })?;
    let new = path.with_extension("new");
    let write = || {
        let mut file = File::create(&new)?;
        file.write_all(&shorter)?;
        file.sync_all()?;
        fs::rename(&new, path)
    };
    write().map_err(fault)?;
    Ok(sync_folder(path.parent().unwrap_or(Path::new(".")))?)
}

/// The open journal.
pub(super) struct Journal {
    path: PathBuf,
    file: File,
    /// Octets that are whole lines.
    length: u64,
    pub(super) deliveries: Deliveries,
}

impl Journal {
    /// Opens the journal of a folder, or begins one.
    pub(super) fn open(path: PathBuf) -> Result<Self, HandoverError> {
        let mut options = OpenOptions::new();
        let opened = options.write(true).create(true).truncate(false).open(&path);
        let file = opened.map_err(|error| HandoverError::io(&path, error))?;
        let (deliveries, length) = Deliveries::read(&path)?;
        Ok(Self {
            path,
            file,
            length,
            deliveries,
        })
    }

    /// Adds a line, written through to the disk; where that fails nothing has been added.
    pub(super) fn add(
        &mut self,
        at_s: i64,
        target: &str,
        issue: &str,
        step: Step,
    ) -> Result<(), HandoverError> {
        let entry = Entry {
            at_s,
            target: target.to_owned(),
            issue: issue.to_owned(),
            step,
        };
        let write = |file: &mut File| -> io::Result<u64> {
            let mut line = serde_json::to_vec(&entry)?;
            line.push(b'\n');
            // What a failed attempt left goes first.
            file.set_len(self.length)?;
            file.seek(io::SeekFrom::Start(self.length))?;
            file.write_all(&line)?;
            file.sync_data()?;
            Ok(u64::try_from(line.len()).unwrap_or(u64::MAX))
        };
        let written = write(&mut self.file);
        self.length += written.map_err(|error| HandoverError::io(&self.path, error))?;
        let taken = self.deliveries.take(entry);
        taken.map_err(|what| HandoverError::Journal {
            path: self.path.clone(),
            line: 0,
            what,
        })
    }
}

/// How long ago it was due, in words.
pub(super) fn overdue(delivery: &Delivery, now_s: i64) -> String {
    length(now_s.saturating_sub(delivery.issued_s))
}
