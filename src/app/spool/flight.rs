//! A file of the watched folder as an issue, or why there is none.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

use itertools::Itertools as _;
use sha2::{Digest as _, Sha256};

use super::book::Line;
use super::watch::Look;
use super::{Setup, SpoolError};
use crate::forms::text::Bbb;
use crate::input;
use crate::input::Format;
use crate::input::sheet;
use crate::input::sheet::{Continuity, Draft, Fault, MAX_SHEET_BYTES, SheetFault, Source};
use crate::issue;
use crate::issue::folder;
use crate::issue::folder::Name;
use crate::issue::outputs;
use crate::issue::outputs::{IssueError, Options, SHEET};
use crate::issue::report::NotReported;
use crate::issue::{Ascent, Flight, FlightError, Which, early, previous};
use crate::model::finding::{printable, shown_path};
use crate::model::{Form, Reach, Report, utc};
use crate::verify;

/// The word for a flight that is held because of its continuity.
pub(super) const HELD: &str = "continuity";

/// The largest profile that is taken, octets.
pub(super) const MAX_PROFILE: u64 = 256 << 20;

/// A file and its sheet, as they were read.
pub(super) struct InputFile {
    pub(super) name: String,
    /// The same as it is printed, in findings and in what goes out.
    shown: String,
    bytes: Vec<u8>,
    sheet: Option<(String, String)>,
    /// SHA-256 of both.
    pub(super) digest: String,
    /// SHA-256 of the profile alone.
    pub(super) alone: String,
}

/// Why a file is not read.
pub(super) enum Unread {
    /// It cannot be opened or read; later, perhaps.
    Io(io::Error),
    /// It is not to be read.
    Refused(String),
}

impl InputFile {
    /// Reads a file of a folder, and the sheet beside it.
    pub(super) fn read(folder: &Path, name: &str, sheet: Option<&str>) -> Result<Self, Unread> {
        let bytes = octets(&folder.join(name), MAX_PROFILE)?;
        let mut hash = Sha256::new();
        hash.update(&bytes);
        let alone = hex(hash.clone());
        let sheet = match sheet {
            None => None,
            Some(beside) => {
                let limit = u64::try_from(MAX_SHEET_BYTES).unwrap_or(u64::MAX);
                let octets = octets(&folder.join(beside), limit)?;
                hash.update(&octets);
                let text = String::from_utf8(octets).map_err(|_| {
                    Unread::Refused(format!("{}: not UTF-8 text", printable(beside)))
                })?;
                Some((printable(beside).into_owned(), text))
            }
        };
        Ok(Self {
            name: name.to_owned(),
            shown: printable(name).into_owned(),
            bytes,
            sheet,
            digest: hex(hash),
            alone,
        })
    }

    /// Leaves out what stands behind the last whole line of a text that is still
    /// being written.
    pub(super) fn without_torn_line(&mut self) {
        if input::detect(&self.bytes) == Format::Text {
            let end = self.bytes.iter().rposition(|&b| b == b'\n');
            self.bytes.truncate(end.map_or(0, |end| end + 1));
        }
    }
}

fn octets(path: &Path, limit: u64) -> Result<Vec<u8>, Unread> {
    // A link could lead anywhere.
    Look::at(path).map_err(Unread::Io)?;
    let mut octets = Vec::new();
    let file = File::open(path).map_err(Unread::Io)?;
    let read = file.take(limit + 1).read_to_end(&mut octets);
    read.map_err(Unread::Io)?;
    if u64::try_from(octets.len()).is_ok_and(|n| n > limit) {
        let what = format!("{}: more than {limit} octets", shown_path(path));
        return Err(Unread::Refused(what));
    }
    Ok(octets)
}

fn hex(hash: Sha256) -> String {
    hash.finalize().iter().map(|o| format!("{o:02x}")).collect()
}

/// The digest of the files of an issue.
pub(super) fn content(files: &[(String, Vec<u8>)]) -> String {
    let mut hash = Sha256::new();
    for (name, octets) in files {
        begin(
            &mut hash,
            name,
            u64::try_from(octets.len()).unwrap_or(u64::MAX),
        );
        hash.update(octets);
    }
    hex(hash)
}

/// What stands before the octets of a file.
fn begin(hash: &mut Sha256, name: &str, length: u64) {
    hash.update(name.as_bytes());
    hash.update([0]);
    hash.update(length.to_be_bytes());
}

/// Takes octets into a digest.
struct Hashing<'a>(&'a mut Sha256);

impl io::Write for Hashing<'_> {
    fn write(&mut self, octets: &[u8]) -> io::Result<usize> {
        self.0.update(octets);
        Ok(octets.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The same of an issue that lies in its folder; `None` when there is none.
pub(super) fn content_of(out: &Path, name: &Name) -> Result<Option<String>, SpoolError> {
    let folder = out.join(name.to_string());
    let fault = |error| SpoolError::io(&folder, error);
    let entries = match std::fs::read_dir(&folder) {
        Err(error)
            if [io::ErrorKind::NotFound, io::ErrorKind::NotADirectory].contains(&error.kind()) =>
        {
            return Ok(None);
        }
        entries => entries.map_err(fault)?,
    };
    let mut files = Vec::new();
    for entry in entries {
        let path = entry.map_err(fault)?.path();
        let about = std::fs::symlink_metadata(&path).map_err(fault)?;
        let file = path.file_name().and_then(|file| file.to_str());
        match file.filter(|_| about.is_file()) {
            Some(file) => files.push((file.to_owned(), about.len())),
            // Nothing of ours.
            None => return Ok(None),
        }
    }
    files.sort();
    let mut hash = Sha256::new();
    for (file, length) in files {
        begin(&mut hash, &file, length);
        let mut from = File::open(folder.join(&file)).map_err(fault)?;
        io::copy(&mut from, &mut Hashing(&mut hash)).map_err(fault)?;
    }
    Ok(Some(hex(hash)))
}

/// Something to be issued.
pub(super) struct Issue {
    pub(super) name: Name,
    /// In the order of their names.
    pub(super) files: Vec<(String, Vec<u8>)>,
    pub(super) line: Line,
}

/// Why there is no issue.
pub(super) struct Refusal {
    /// In a word, for the book.
    pub(super) word: &'static str,
    /// In lines.
    pub(super) why: String,
    /// What is known of the flight.
    pub(super) line: Line,
}

impl Refusal {
    pub(super) fn new(word: &'static str, why: impl ToString) -> Self {
        Self {
            word,
            why: why.to_string(),
            line: Line::default(),
        }
    }
}

/// What a file has become.
pub(super) enum Outcome {
    Issue(Box<Issue>),
    /// What still goes out after an early message: its correction, where there is one,
    /// before the rest.
    Remaining {
        correction: Option<Box<Issue>>,
        rest: Option<Box<Issue>>,
        /// The early message.
        early: String,
    },
    /// Nothing says whose flight it is; a sheet may come.
    NoSheet,
    /// The ascent has not come to 100 hPa.
    NotYet,
    /// It cannot be judged now, and why.
    Wait(String),
    Refused(Box<Refusal>),
}

/// Why a report that could be coded does not go out.
pub(super) enum NotIssued {
    /// In a word and in words.
    Refused(&'static str, String),
    /// Until something else is known.
    Waits(String),
}

impl Outcome {
    /// The lines of the book that come of it.
    pub(super) fn lines(&mut self) -> Vec<&mut Line> {
        match self {
            Self::Issue(issue) => vec![&mut issue.line],
            Self::Remaining {
                correction, rest, ..
            } => {
                let issues = [correction, rest].into_iter().flatten();
                issues.map(|issue| &mut issue.line).collect()
            }
            Self::Refused(refusal) => vec![&mut refusal.line],
            Self::NoSheet | Self::NotYet | Self::Wait(_) => Vec::new(),
        }
    }
}

impl From<Refusal> for Outcome {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(Box::new(refusal))
    }
}

/// Codes a file; `letter` says which letter a report has, or why it does not go out.
pub(super) fn code(
    setup: &Setup,
    taken: &InputFile,
    reach: Reach,
    continuity: Continuity,
    letter: impl FnOnce(&Report, &Name) -> Result<Option<Bbb>, NotIssued>,
) -> Outcome {
    let mut sheets = setup.sources();
    if let Some((name, text)) = &taken.sheet {
        sheets.push(Source { name, text });
    }
    let mut outcome = judged(setup, taken, reach, continuity, &sheets, letter);
    // The ground check is kept with a flight that is not issued as well.
    if let Ok(Some((check, flight))) = sheet::ground_check(&sheets) {
        for line in outcome.lines() {
            line.ground_check(&check, &flight);
        }
    }
    outcome
}

fn judged(
    setup: &Setup,
    taken: &InputFile,
    reach: Reach,
    continuity: Continuity,
    sheets: &[Source<'_>],
    letter: impl FnOnce(&Report, &Name) -> Result<Option<Bbb>, NotIssued>,
) -> Outcome {
    let mut flight = match coded(setup, taken, reach, sheets) {
        Ok(flight) => flight,
        Err(error) if taken.sheet.is_none() && lacks_a_sheet(&error) => return Outcome::NoSheet,
        Err(FlightError::Refused {
            why: issue::Refused::NotYet,
            ..
        }) => return Outcome::NotYet,
        Err(error) => {
            let mut refusal = Refusal::new(word(&error), &error);
            if let FlightError::Refused {
                why: issue::Refused::Stopped(findings),
                ..
            } = &error
            {
                refusal.line.found(findings);
            }
            return refusal.into();
        }
    };
    let name = folder::id(&flight.report).and_then(|id| Name::of(&id, &flight.report, None));
    let name = match name {
        Ok(name) => name,
        Err(error) => return Refusal::new("identity", error).into(),
    };
    let line = Line::of(&flight, &name);
    let refused = |word, why: String| {
        Outcome::from(Refusal {
            line: Line {
                issue: String::new(),
                ..line.clone()
            },
            ..Refusal::new(word, why)
        })
    };
    let name = match letter(&flight.report, &name) {
        Ok(letter) => name.with(letter),
        Err(NotIssued::Refused(word, why)) => return refused(word, why),
        Err(NotIssued::Waits(why)) => return Outcome::Wait(why),
    };
    let jumps = match continuity {
        Continuity::Ignore => Vec::new(),
        Continuity::Warn | Continuity::Hold => {
            let previous = previous::in_folder(&setup.out, &name.with(None));
            verify::continuity::check(&flight.report, &previous)
        }
    };
    if continuity == Continuity::Hold && !jumps.is_empty() {
        let all = jumps.iter().map(ToString::to_string).join("\n");
        let mut held = refused(HELD, all);
        for line in held.lines() {
            line.found(&jumps);
        }
        return held;
    }
    flight.findings.extend(jumps);
    match remaining(setup, taken, &flight, &name, sheets) {
        Ok(None) => {}
        Ok(Some(outcome)) => return outcome,
        Err(why) => return refused("output", why),
    }
    match outputs(setup, taken, &flight, &name, sheets) {
        Ok(files) => Outcome::Issue(Box::new(Issue {
            line: Line::of(&flight, &name),
            files,
            name,
        })),
        Err(why) => refused("output", why),
    }
}

fn coded(
    setup: &Setup,
    taken: &InputFile,
    reach: Reach,
    sheets: &[Source<'_>],
) -> Result<Flight, FlightError> {
    let loaded = Ascent::read(&taken.bytes, &taken.shown, Which::default(), sheets)?;
    let form = loaded.form(setup.form);
    loaded.code(form, reach)
}

/// Whether a sheet beside the file could say what is missing.
fn lacks_a_sheet(error: &FlightError) -> bool {
    match error {
        FlightError::NoSheet { .. } => true,
        FlightError::Sheets(error) => {
            let missing = |fault: &SheetFault| matches!(fault.fault, Fault::Missing { .. });
            error.faults().iter().all(missing)
        }
        FlightError::Refused { why, .. } => *why == issue::Refused::Report(NotReported::NoRelease),
        _ => false,
    }
}

/// The kinds of refusal that the book counts.
fn word(error: &FlightError) -> &'static str {
    match error {
        FlightError::Sheets(_) | FlightError::NoSheet { .. } => "sheet",
        FlightError::Source(_) => "file",
        FlightError::Profile(_) => "profile",
        FlightError::Refused { why, .. } => match why {
            issue::Refused::NoTemperature
            | issue::Refused::NoPressure
            | issue::Refused::NoWind
            | issue::Refused::NoDescentTemperature
            | issue::Refused::NoDescentPressure => "element-missing",
            issue::Refused::Stopped(_) => "check",
            issue::Refused::Report(_) => "sheet",
            _ => "form",
        },
    }
}

/// What still goes out of a whole flight whose early message is out.
fn remaining(
    setup: &Setup,
    taken: &InputFile,
    flight: &Flight,
    name: &Name,
    sheets: &[Source<'_>],
) -> Result<Option<Outcome>, String> {
    let (options, own) = (setup.options(name), name.with(None));
    let found = early::remaining(flight, &setup.out, &own, &setup.wanted, &options);
    let Some(remaining) = found.map_err(|e| e.to_string())? else {
        return Ok(None);
    };
    let issue = |(name, made): (Name, outputs::Outputs)| -> Result<Box<Issue>, String> {
        Ok(Box::new(Issue {
            line: Line::of(&remaining.flight, &name),
            files: files(made, sheets, Some(&taken.name))?,
            name,
        }))
    };
    let rest = remaining.rest.map(|made| (name.clone(), made));
    Ok(Some(Outcome::Remaining {
        correction: remaining.correction.map(issue).transpose()?,
        rest: rest.map(issue).transpose()?,
        early: own
            .early()
            .map_or_else(String::new, |name| name.to_string()),
    }))
}

fn outputs(
    setup: &Setup,
    taken: &InputFile,
    flight: &Flight,
    name: &Name,
    sheets: &[Source<'_>],
) -> Result<Vec<(String, Vec<u8>)>, String> {
    let options = setup.options(name);
    let made = outputs::make(flight, &setup.wanted, &options, None).map_err(|e| e.to_string())?;
    files(made, sheets, Some(&taken.shown))
}

fn files(
    made: outputs::Outputs,
    sheets: &[Source<'_>],
    profile: Option<&str>,
) -> Result<Vec<(String, Vec<u8>)>, String> {
    let draft = Draft::merged(sheets).map_err(|error| error.faults().iter().join("\n"))?;
    let files = made.files();
    let mut files: Vec<_> = files
        .map(|(name, octets)| (name.to_owned(), octets.to_owned()))
        .collect();
    let sheet = outputs::sheet_text(&draft, profile);
    files.push((SHEET.to_owned(), sheet.into_bytes()));
    files.sort();
    Ok(files)
}

/// NIL for a standard time.
pub(super) fn nil(setup: &Setup, standard: jiff::civil::DateTime) -> Result<Issue, String> {
    let time = utc::print(standard);
    let own = format!("[flight]\nstandard_time = \"{time}\"\n");
    let mut sheets = setup.sources();
    let name = "schedule";
    sheets.push(Source { name, text: &own });
    let (sheet, findings) =
        sheet::read(&sheets).map_err(|error| error.faults().iter().join("; "))?;
    let form = setup.form.filter(|&form| form != Form::Descent);
    let (report, message) =
        issue::nil(form.unwrap_or_default(), &sheet.context).map_err(|e| e.to_string())?;
    let name = folder::id(&report).and_then(|id| Name::of(&id, &report, None));
    let name = name.map_err(|e| e.to_string())?;
    let options = setup.options(&name);
    let made = outputs::make_nil(&report, &message, &findings, &setup.wanted, &options);
    let made = made.map_err(|error: IssueError| error.to_string())?;
    Ok(Issue {
        line: Line::named(&name),
        files: files(made, &sheets, None)?,
        name,
    })
}

impl Setup {
    fn sources(&self) -> Vec<Source<'_>> {
        let sheets = self.sheets.iter();
        sheets.map(|(name, text)| Source { name, text }).collect()
    }

    fn options(&self, name: &Name) -> Options {
        Options {
            levels: self.levels,
            bbb: name.bbb().cloned(),
            ..Options::default()
        }
    }
}
