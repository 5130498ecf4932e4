//! The journal: what the spool means to do, and what it has done, a line each.
//!
//! A line is written before anything is issued or moved, and written through to
//! the disk; what a restart finds open it finishes, and what it finds done it never
//! does again. Lines are only ever added. A last line that a power cut tore is taken
//! away; any other that cannot be read is an error, since guessing would risk a
//! second issue.
//!
//! A long journal is made shorter at the start of the spool. Of cases that are finished
//! and entered in the book it then keeps what no second issue depends on: the name of
//! every issue, and the digest of the files that it was made from. Every line of the
//! other cases is kept as it is. The shorter journal is written beside the old one,
//! written through to the disk, and renamed over it: at any moment one of them is there
//! as a whole.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufRead, BufReader, BufWriter, Read as _, Seek as _, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::book::Line;
use super::{SpoolError, disk};
use crate::forms::text::Bbb;
use crate::issue::folder::Name;

#[cfg(test)]
mod tests;

/// The version of the lines; 1 had no [`Step::Known`] and [`Step::Next`].
const VERSION: u32 = 2;

/// The longest line that is read, octets.
const MAX_LINE: u64 = 64 << 20;

/// How many lines of finished cases there are at least when they are summarised.
const LONG: usize = 10_000;

/// Issues in one line of a summary.
const TOGETHER: usize = 1000;

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

    /// The kind of a word.
    pub(super) fn of_word(word: &str) -> Option<Self> {
        let mut all = [
            Self::Flight,
            Self::Early,
            Self::Correction,
            Self::Nil,
            Self::Refused,
            Self::Same,
        ]
        .into_iter();
        all.find(|kind| kind.word() == word)
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
    /// What went out in cases that are finished: names of issues, and digests of the
    /// files they were made from, empty where there were none.
    Known {
        /// Name and digest.
        issues: Vec<(String, String)>,
    },
    /// The number of the next case; those before it that are not in the journal are
    /// finished.
    Next {
        /// From 1.
        next: u64,
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
    #[serde(rename = "told")]
    Alarmed,
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

/// The case of a line.
#[derive(Deserialize)]
struct Number {
    no: u64,
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
    pub(super) alarmed: bool,
}

impl Case {
    fn of(meant: Meant) -> Self {
        Self {
            decided: !meant.kind.issues(),
            moved: meant.input.is_none(),
            alarmed: !meant.alarm,
            meant,
        }
    }

    fn is_finished(&self) -> bool {
        self.decided && self.moved && self.alarmed
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
    /// The cases that are not finished, or were not in the book at the start.
    pub(super) cases: BTreeMap<u64, Case>,
    /// The last case that was in the book at the start.
    booked: u64,
    /// Lines that were read, and those of them that sum up what went out.
    read: (usize, usize),
    /// How a long journal was made shorter, in words, or why not.
    pub(super) shortened: Option<Result<String, SpoolError>>,
    /// What went out, by the digest of its files.
    out: HashMap<String, String>,
    /// The names of all that went out.
    issues: HashSet<String>,
    /// Octets of a torn line that were taken away.
    pub(super) torn: u64,
}

impl Journal {
    /// Opens the journal of a folder, or begins one; the book has the cases up to
    /// `booked`.
    pub(super) fn open(path: PathBuf, now_s: i64, booked: u64) -> Result<Self, SpoolError> {
        let mut options = OpenOptions::new();
        let opened = options.read(true).write(true).create(true).truncate(false);
        let file = opened.open(&path);
        let mut journal = Self {
            file: file.map_err(|error| SpoolError::io(&path, error))?,
            length: 0,
            next: 1,
            begun_s: now_s,
            last_s: i64::MIN,
            cases: BTreeMap::new(),
            booked,
            read: (0, 0),
            shortened: None,
            out: HashMap::new(),
            issues: HashSet::new(),
            torn: 0,
            path,
        };
        journal.replay()?;
        if journal.length == 0 {
            journal.add(0, now_s, Step::Begun { version: VERSION })?;
        }
        let (lines, known) = journal.read;
        // The beginning, and at most four lines for a case.
        let kept = known + 4 * journal.cases.len() + 2;
        if lines.saturating_sub(kept) >= LONG.max(lines / 2) {
            let shorter = journal.shorten();
            journal.shortened = Some(shorter.map(|()| {
                format!(
                    "{lines} lines were summed up; the names of {} issues are kept",
                    journal.issues.len()
                )
            }));
        }
        Ok(journal)
    }

    fn replay(&mut self) -> Result<(), SpoolError> {
        let mut input = self.reader()?;
        let mut line = Vec::new();
        while self.line(&mut input, &mut line)? {
            let number = self.read.0 + 1;
            let is_last = input
                .fill_buf()
                .map_err(|e| SpoolError::io(&self.path, e))?;
            let is_last = is_last.is_empty();
            let read = serde_json::from_slice::<Entry>(&line).map_err(|e| e.to_string());
            match read {
                Ok(entry) if line.ends_with(b"\n") => {
                    let what = self.take(entry);
                    what.map_err(|what| self.fault(number, what))?;
                    self.length += len(&line);
                    self.read.0 = number;
                }
                // Torn: nothing that was never whole can have been acted upon.
                _ if is_last => {
                    self.torn = len(&line);
                    self.cut()?;
                }
                Err(what) => return Err(self.fault(number, what)),
                Ok(_) => return Err(self.fault(number, "the line does not end".to_owned())),
            }
        }
        Ok(())
    }

    /// The file from its beginning.
    fn reader(&self) -> Result<BufReader<File>, SpoolError> {
        let file = File::open(&self.path);
        Ok(BufReader::new(
            file.map_err(|e| SpoolError::io(&self.path, e))?,
        ))
    }

    /// Reads a line with its end; false at the end of the file.
    fn line(&self, input: &mut impl BufRead, line: &mut Vec<u8>) -> Result<bool, SpoolError> {
        line.clear();
        let read = input.by_ref().take(MAX_LINE).read_until(b'\n', line);
        Ok(read.map_err(|error| SpoolError::io(&self.path, error))? > 0)
    }

    /// Writes the journal anew without the cases that are finished and in the book, and
    /// goes on with that.
    fn shorten(&mut self) -> Result<(), SpoolError> {
        let new = self.path.with_extension("new");
        let file = self.write_shorter(&new);
        let put = file.and_then(|file| {
            fs::rename(&new, &self.path).map_err(|error| SpoolError::io(&new, error))?;
            Ok(file)
        });
        match put {
            Ok((file, length)) => (self.file, self.length) = (file, length),
            Err(error) => {
                // It does no harm, and the next start writes it anew.
                let _ = fs::remove_file(&new);
                return Err(error);
            }
        }
        let folder = self.path.parent().unwrap_or(Path::new("."));
        disk::sync(folder).map_err(|error| SpoolError::io(folder, error))
    }

    /// Writes the shorter journal through to the disk; the file and its length.
    fn write_shorter(&self, new: &Path) -> Result<(File, u64), SpoolError> {
        let fault = |error: io::Error| SpoolError::io(new, error);
        let mut options = OpenOptions::new();
        let opened = options.read(true).write(true).create(true).truncate(true);
        let mut out = BufWriter::new(opened.open(new).map_err(fault)?);
        let mut put = |at_s, step| -> Result<(), SpoolError> {
            let entry = Entry { no: 0, at_s, step };
            serde_json::to_writer(&mut out, &entry).map_err(|e| fault(e.into()))?;
            out.write_all(b"\n").map_err(fault)
        };
        put(self.begun_s, Step::Begun { version: VERSION })?;
        let of_files: HashSet<&String> = self.out.values().collect();
        let others = self.issues.iter().filter(|name| !of_files.contains(name));
        let mut issues: Vec<(String, String)> = (self.out.iter())
            .map(|(digest, name)| (name.clone(), digest.clone()))
            .chain(others.map(|name| (name.clone(), String::new())))
            .collect();
        issues.sort_unstable();
        for issues in issues.chunks(TOGETHER) {
            let issues = issues.to_vec();
            put(self.begun_s, Step::Known { issues })?;
        }
        let mut input = self.reader()?;
        let mut line = Vec::new();
        while self.line(&mut input, &mut line)? {
            let number = serde_json::from_slice::<Number>(&line).map_err(|e| fault(e.into()))?;
            if self.cases.contains_key(&number.no) {
                out.write_all(&line).map_err(fault)?;
            }
        }
        let next = Entry {
            no: 0,
            at_s: self.last_s,
            step: Step::Next { next: self.next },
        };
        serde_json::to_writer(&mut out, &next).map_err(|e| fault(e.into()))?;
        out.write_all(b"\n").map_err(fault)?;
        let file = out.into_inner().map_err(|e| fault(e.into_error()))?;
        file.sync_all().map_err(fault)?;
        let length = file.metadata().map_err(fault)?.len();
        Ok((file, length))
    }

    fn fault(&self, line: usize, what: String) -> SpoolError {
        let path = self.path.clone();
        SpoolError::Journal { path, line, what }
    }

    /// Takes a line that was read.
    fn take(&mut self, entry: Entry) -> Result<(), String> {
        self.last_s = self.last_s.max(entry.at_s);
        match entry.step {
            Step::Begun {
                version: 1 | VERSION,
            } => self.begun_s = entry.at_s,
            Step::Begun { version } => {
                return Err(format!("version {version}; this is version {VERSION}"));
            }
            Step::Known { issues } => {
                self.read.1 += 1;
                for (name, digest) in issues {
                    if !digest.is_empty() {
                        self.out.insert(digest, name.clone());
                    }
                    self.issues.insert(name);
                }
            }
            Step::Next { next } => self.next = self.next.max(next),
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
            Step::Alarmed => case.alarmed = true,
            Step::Begun { .. } | Step::Known { .. } | Step::Next { .. } | Step::Meant(_) => {}
        }
        let case = self.cases.get(&no);
        if no <= self.booked && case.is_some_and(Case::is_finished) {
            self.cases.remove(&no);
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

/// The last case in which a file went to the refused ones under that name; a last line that
/// is being written is passed over, and what cannot be read is left to the spool.
pub(super) fn last_refusal(path: &Path, name: &str) -> Result<Option<Meant>, SpoolError> {
    let fault = |error| SpoolError::io(path, error);
    let mut input = BufReader::new(File::open(path).map_err(fault)?);
    let (mut line, mut found) = (Vec::new(), None);
    loop {
        line.clear();
        let read = input.by_ref().take(MAX_LINE).read_until(b'\n', &mut line);
        if read.map_err(fault)? == 0 {
            return Ok(found);
        }
        let Ok(entry) = serde_json::from_slice::<Entry>(&line) else {
            continue;
        };
        if let Step::Meant(meant) = entry.step {
            let own = meant.kind == Kind::Refused;
            let moved = meant.input.as_ref().is_some_and(|input| input.name == name);
            if own && moved {
                found = Some(*meant);
            }
        }
    }
}

fn len(octets: &[u8]) -> u64 {
    u64::try_from(octets.len()).unwrap_or(u64::MAX)
}
