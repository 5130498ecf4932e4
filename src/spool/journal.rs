//! The journal: what the spool means to do, and what it has done, a line each.
//!
//! A line is written before anything is issued or moved, and written through to
//! the disk; what a restart finds open it finishes, and what it finds done it never
//! does again. Lines are only ever added. A last line that a power cut tore is taken
//! away; any other that cannot be read is an error, since guessing would risk a
//! second issue.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs::{File, OpenOptions};
use std::io::{self, Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::SpoolError;
use super::book::Line;
use crate::code::Bbb;
use crate::product::folder::Name;

#[cfg(test)]
mod tests;

/// The version of the lines.
const VERSION: u32 = 1;

/// The largest journal that is read, octets: some hundred thousand flights.
const MAX_JOURNAL: u64 = 1 << 30;

/// What a case is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Kind {
    /// A whole flight goes out.
    Flight,
    /// The early message of an ascent that goes on.
    Early,
    /// The correction of an early message goes out, before the rest of the flight.
    Correction,
    /// NIL goes out.
    Nil,
    /// A flight is refused.
    Refused,
    /// A file with the octets of a flight that is out already.
    Same,
}

impl Kind {
    /// Its word, in the book and the log.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Flight => "flight",
            Self::Early => "early",
            Self::Correction => "correction",
            Self::Nil => "nil",
            Self::Refused => "refused",
            Self::Same => "same",
        }
    }

    /// Whether something goes out.
    pub(super) fn issues(self) -> bool {
        matches!(
            self,
            Self::Flight | Self::Early | Self::Correction | Self::Nil
        )
    }
}

/// The files of a case, and where they go.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Input {
    /// The profile, in the watched folder.
    pub(super) profile: String,
    /// The sheet beside it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) sheet: Option<String>,
    /// SHA-256 of profile and sheet.
    pub(super) digest: String,
    /// SHA-256 of the profile alone.
    pub(super) alone: String,
    /// Where they are moved: folder and name without ending.
    pub(super) folder: String,
    /// The name of the profile there; the sheet takes its stem.
    pub(super) name: String,
}

/// What the spool means to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Meant {
    pub(super) kind: Kind,
    /// The files that are moved; an early message and NIL move none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) input: Option<Input>,
    /// The name of the issue.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) issue: Option<String>,
    /// SHA-256 of its files.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) content: Option<String>,
    /// Why a flight is refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) reason: Option<String>,
    /// Whether the alarm is to be given.
    pub(super) alarm: bool,
    /// The line of the book.
    pub(super) line: Line,
}

/// A step of a case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "step", rename_all = "lowercase")]
pub(super) enum Step {
    /// The journal begins.
    Begun {
        /// Of its lines.
        version: u32,
    },
    /// What is about to be done.
    Meant(Box<Meant>),
    /// The issue is in its place.
    Issued,
    /// Nothing was issued.
    Void,
    /// The files are where they belong.
    Moved,
    /// The files have changed meanwhile and stay.
    Left,
    /// The alarm has been given.
    Told,
}

/// A line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Entry {
    /// The case, from 1.
    no: u64,
    /// When, seconds since 1970.
    at_s: i64,
    #[serde(flatten)]
    step: Step,
}

/// A case that is not closed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Case {
    pub(super) meant: Meant,
    /// Out, or in no need of it.
    pub(super) decided: bool,
    /// Files moved, or none to move.
    pub(super) moved: bool,
    /// Alarm given, or none asked for.
    pub(super) told: bool,
}

impl Case {
    fn of(meant: Meant) -> Self {
        Self {
            decided: !meant.kind.issues(),
            moved: meant.input.is_none(),
            told: !meant.alarm,
            meant,
        }
    }
}

/// The open journal.
pub(super) struct Journal {
    path: PathBuf,
    file: File,
    /// Octets that are whole lines.
    length: u64,
    next: u64,
    /// When it began, seconds since 1970.
    pub(super) begun_s: i64,
    /// Its last line.
    pub(super) last_s: i64,
    /// The cases that are not closed; at the start every case.
    pub(super) cases: BTreeMap<u64, Case>,
    /// What went out, by the digest of its files.
    out: HashMap<String, String>,
    /// The names of all that went out.
    issues: HashSet<String>,
    /// Octets of a torn line that were taken away.
    pub(super) torn: u64,
}

impl Journal {
    /// Opens the journal of a folder, or begins one.
    pub(super) fn open(path: PathBuf, now_s: i64) -> Result<Self, SpoolError> {
        let fault = |error| SpoolError::io(&path, error);
        let mut options = OpenOptions::new();
        let opened = options.read(true).write(true).create(true).truncate(false);
        let mut file = opened.open(&path).map_err(fault)?;
        let mut octets = Vec::new();
        let read = (&mut file).take(MAX_JOURNAL + 1).read_to_end(&mut octets);
        read.map_err(fault)?;
        if u64::try_from(octets.len()).is_ok_and(|n| n > MAX_JOURNAL) {
            let what =
                format!("more than {MAX_JOURNAL} octets; put it aside when the spool is idle");
            return Err(SpoolError::Journal {
                path,
                line: 0,
                what,
            });
        }
        let mut journal = Self {
            file,
            length: 0,
            next: 1,
            begun_s: now_s,
            last_s: i64::MIN,
            cases: BTreeMap::new(),
            out: HashMap::new(),
            issues: HashSet::new(),
            torn: 0,
            path,
        };
        journal.replay(&octets)?;
        if journal.length == 0 {
            journal.add(0, now_s, Step::Begun { version: VERSION })?;
        }
        Ok(journal)
    }

    fn replay(&mut self, octets: &[u8]) -> Result<(), SpoolError> {
        let mut number = 0;
        let mut rest = octets;
        while !rest.is_empty() {
            number += 1;
            let end = rest.iter().position(|&b| b == b'\n').map(|end| end + 1);
            let line = rest.get(..end.unwrap_or(rest.len())).unwrap_or_default();
            let after = rest.get(line.len()..).unwrap_or_default();
            let read = serde_json::from_slice::<Entry>(line).map_err(|e| e.to_string());
            match (read, end) {
                (Ok(entry), Some(_)) => {
                    let what = self.take(entry);
                    what.map_err(|what| self.fault(number, what))?;
                    self.length += len(line);
                }
                // Torn: nothing that was never whole can have been acted upon.
                _ if after.is_empty() => {
                    self.torn = len(line);
                    self.cut()?;
                }
                (Err(what), _) => return Err(self.fault(number, what)),
                (Ok(_), None) => {}
            }
            rest = after;
        }
        Ok(())
    }

    fn fault(&self, line: usize, what: String) -> SpoolError {
        let path = self.path.clone();
        SpoolError::Journal { path, line, what }
    }

    /// Takes a line that was read.
    fn take(&mut self, entry: Entry) -> Result<(), String> {
        self.last_s = self.last_s.max(entry.at_s);
        match entry.step {
            Step::Begun { version: VERSION } => self.begun_s = entry.at_s,
            Step::Begun { version } => {
                return Err(format!("version {version}; this is version {VERSION}"));
            }
            step => self.follow(entry.no, step)?,
        }
        Ok(())
    }

    fn follow(&mut self, no: u64, step: Step) -> Result<(), String> {
        if let Step::Meant(meant) = step {
            if no < self.next {
                return Err(format!("case {no} comes twice"));
            }
            self.next = no + 1;
            self.cases.insert(no, Case::of(*meant));
            return Ok(());
        }
        let Some(case) = self.cases.get_mut(&no) else {
            return Err(format!("there is no case {no}"));
        };
        match step {
            Step::Issued => {
                case.decided = true;
                self.issues.extend(case.meant.issue.clone());
                let digest = case.meant.input.as_ref().map(|input| &input.digest);
                if let (Some(digest), Some(issue)) = (digest, &case.meant.issue) {
                    self.out.insert(digest.clone(), issue.clone());
                }
            }
            Step::Void => {
                self.cases.remove(&no);
            }
            Step::Moved | Step::Left => case.moved = true,
            Step::Told => case.told = true,
            Step::Begun { .. } | Step::Meant(_) => {}
        }
        Ok(())
    }

    /// Adds a case; its number.
    pub(super) fn mean(&mut self, now_s: i64, meant: Meant) -> Result<u64, SpoolError> {
        let no = self.next;
        self.add(no, now_s, Step::Meant(Box::new(meant)))?;
        Ok(no)
    }

    /// Adds a step of a case, written through to the disk; where that fails nothing
    /// has been added.
    pub(super) fn step(&mut self, no: u64, now_s: i64, step: Step) -> Result<(), SpoolError> {
        self.add(no, now_s, step)
    }

    fn add(&mut self, no: u64, at_s: i64, step: Step) -> Result<(), SpoolError> {
        let entry = Entry { no, at_s, step };
        let mut line = serde_json::to_vec(&entry).map_err(|e| self.fault(0, e.to_string()))?;
        line.push(b'\n');
        // What a failed attempt left goes first.
        self.cut()?;
        let written = self
            .file
            .write_all(&line)
            .and_then(|()| self.file.sync_data());
        if let Err(error) = written {
            // Tried again before the next line, if it fails now.
            let _ = self.cut();
            return Err(SpoolError::io(&self.path, error));
        }
        self.length += len(&line);
        let what = self.take(entry);
        what.map_err(|what| self.fault(0, what))
    }

    /// Takes away what is behind the last whole line.
    fn cut(&mut self) -> Result<(), SpoolError> {
        let cut = || -> io::Result<()> {
            let mut file = &self.file;
            if file.metadata()?.len() != self.length {
                file.set_len(self.length)?;
            }
            file.seek(io::SeekFrom::Start(self.length))?;
            Ok(())
        };
        cut().map_err(|error| SpoolError::io(&self.path, error))
    }

    /// What went out from files of that digest.
    pub(super) fn out(&self, digest: &str) -> Option<&str> {
        self.out.get(digest).map(String::as_str)
    }

    /// Whether a name, or the same with the letter of a late report, went out.
    pub(super) fn has(&self, name: &Name) -> bool {
        let late = std::iter::successors(Bbb::new("RRA"), Bbb::next);
        let mut names = std::iter::once(None).chain(late.map(Some));
        names.any(|letter| self.issues.contains(&name.with(letter).to_string()))
    }

    /// Goes on counting after that number.
    pub(super) fn count_after(&mut self, last: u64) {
        self.next = self.next.max(last.saturating_add(1));
    }

    /// The cases of which it is not known whether they are out.
    pub(super) fn undecided(&self) -> Vec<u64> {
        let open = self.cases.iter().filter(|(_, case)| !case.decided);
        open.map(|(no, _)| *no).collect()
    }

    /// Forgets a case that is closed.
    pub(super) fn close(&mut self, no: u64) {
        self.cases.remove(&no);
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }
}

fn len(octets: &[u8]) -> u64 {
    u64::try_from(octets.len()).unwrap_or(u64::MAX)
}
