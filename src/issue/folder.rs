//! The folder of an issue: its name, and how it is written, atomically.
//!
//! An issue is made in a hidden folder beside its place, its files and the folder
//! are written through to the disk, and then it is renamed. A name that is there
//! already is never written over. A hidden folder that a crash left does no harm: it
//! is no issue, and the next issue of that name takes it away.

use std::fs::{self, File};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};

use jiff::civil::DateTime;
use thiserror::Error;

use crate::forms::text::Bbb;
use crate::model::finding::shown_path;
use crate::model::{Form, Reach, Report, StationKind, When};

/// The longest identifier, characters.
pub const MAX_ID: usize = 64;

/// The file of the reason in the issue of a NIL that goes out despite a report.
pub const REASON: &str = "reason.txt";

/// The longest file of an issue that is read, octets.
pub const MAX_FILE: u64 = 64 << 20;

/// The most hidden folders of one name that are tried.
const MAX_TRIES: u32 = 1000;

/// Why there is no folder, or none can be read.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum FolderError {
    /// Nothing says which station it is.
    #[error(
        "the issue has no identifier: give station.wigos_id, or wmo_block and wmo_number of a land station, or call_sign, or flight.serial of a dropped sonde"
    )]
    NoId,
    /// An identifier that cannot be part of a name.
    #[error(
        "the identifier {0:?} cannot be part of a folder's name (1 to {MAX_ID} letters, figures, dashes, points and underscores, the first a letter or figure)"
    )]
    Id(String),
    /// Day and hour alone, or a year of other than four figures.
    #[error(
        "the report has no complete standard time of a year from 0 to 9999; give standard_time under [flight]"
    )]
    NoTime,
    /// The same identity was issued before.
    #[error(
        "{}: already issued, and not overwritten; issue a correction (CCA, CCB …), which has a folder of its own",
        shown_path(.0)
    )]
    Issued(PathBuf),
    /// NIL for a station and time whose report is out.
    #[error(
        "{}: a report of this station and time is issued, so NIL is not; give a reason to issue it nevertheless",
        .0.display()
    )]
    ReportOut(PathBuf),
    /// A file cannot be read or written.
    #[error("{}: {error}", shown_path(path))]
    Io {
        /// Which.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// A file of an earlier issue that cannot be understood.
    #[error("{}: {what}", shown_path(path))]
    Unread {
        /// Which.
        path: PathBuf,
        /// Why.
        what: String,
    },
}

pub(super) fn io_error(path: &Path, error: io::Error) -> FolderError {
    FolderError::Io {
        path: path.to_owned(),
        error,
    }
}

/// What is issued for a station and time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum IssueKind {
    /// The whole report.
    Whole,
    /// The early message: Parts A and B up to 100 hPa.
    Early,
    /// That there is no report.
    Nil,
}

/// The kinds of issue of each code form, and how names call them.
const KINDS: [(Form, IssueKind, &str); 7] = [
    (Form::Temp, IssueKind::Whole, "temp"),
    (Form::Temp, IssueKind::Early, "temp-to100"),
    (Form::Temp, IssueKind::Nil, "temp-nil"),
    (Form::Pilot, IssueKind::Whole, "pilot"),
    (Form::Pilot, IssueKind::Early, "pilot-to100"),
    (Form::Pilot, IssueKind::Nil, "pilot-nil"),
    (Form::Descent, IssueKind::Whole, "descent"),
];

/// The name of an issue's folder: `ID_YYYYMMDDHHMM_FORM[_BBB]`.
///
/// The time is the standard time, the form `temp`, `pilot` or `descent`, with
/// `-to100` for an early message and `-nil` for a NIL, which are issues of their own.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Name {
    id: String,
    stamp: String,
    form: Form,
    kind: IssueKind,
    bbb: Option<Bbb>,
}

impl Name {
    /// The name of a report under an identifier, for a correction with its letter.
    ///
    /// # Errors
    /// An identifier that cannot be part of a name, a report without full time.
    pub fn of(id: &str, report: &Report, bbb: Option<&Bbb>) -> Result<Self, FolderError> {
        if !is_id(id) {
            return Err(FolderError::Id(id.chars().take(MAX_ID + 1).collect()));
        }
        let When::Full { standard, .. } = report.when else {
            return Err(FolderError::NoTime);
        };
        let nil = !report.parts.is_empty() && report.parts.values().all(|kept| kept.nil);
        let kind = match (report.form, report.reach) {
            (Form::Descent, _) => IssueKind::Whole,
            _ if nil => IssueKind::Nil,
            (_, Reach::To100) => IssueKind::Early,
            (_, Reach::Whole) => IssueKind::Whole,
        };
        Ok(Self {
            id: id.to_owned(),
            stamp: stamp(standard).ok_or(FolderError::NoTime)?,
            form: report.form,
            kind,
            bbb: bbb.cloned(),
        })
    }

    /// The name that a folder has; `None` where it is none of an issue.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        let (rest, last) = name.rsplit_once('_')?;
        let bbb = Bbb::new(last);
        let (rest, form) = match bbb {
            Some(_) => rest.rsplit_once('_')?,
            None => (rest, last),
        };
        let (form, kind, _) = KINDS.into_iter().find(|&(_, _, known)| known == form)?;
        let (id, stamp) = rest.rsplit_once('_')?;
        let figures = stamp.len() == 12 && stamp.bytes().all(|b| b.is_ascii_digit());
        (is_id(id) && figures).then(|| Self {
            id: id.to_owned(),
            stamp: stamp.to_owned(),
            form,
            kind,
            bbb,
        })
    }

    /// The name of a whole report without a letter; `None` of a year of other than four
    /// figures.
    #[must_use]
    pub fn whole(id: &str, standard: DateTime, form: Form) -> Option<Self> {
        Some(Self {
            id: id.to_owned(),
            stamp: stamp(standard)?,
            form,
            kind: IssueKind::Whole,
            bbb: None,
        })
    }

    /// The same with another letter, or without.
    #[must_use]
    pub fn with(&self, bbb: Option<Bbb>) -> Self {
        Self {
            bbb,
            ..self.clone()
        }
    }

    /// The same of another standard time; `None` of a year of other than four figures.
    #[must_use]
    pub fn at(&self, standard: DateTime) -> Option<Self> {
        Some(Self {
            stamp: stamp(standard)?,
            ..self.clone()
        })
    }

    /// The early message of a whole report; `None` of what is no whole TEMP or PILOT.
    #[must_use]
    pub fn early(&self) -> Option<Self> {
        let mut kin = self.kin();
        let early = kin.find(|kin| kin.kind == IssueKind::Early);
        early.filter(|_| self.kind == IssueKind::Whole)
    }

    /// Whether it is that of a NIL.
    #[must_use]
    pub fn is_nil(&self) -> bool {
        self.kind == IssueKind::Nil
    }

    /// Every name, without letter, of issues of the same station, time and code form.
    pub(super) fn kin(&self) -> impl Iterator<Item = Self> {
        self.of_the_same_time().filter(|kin| kin.form == self.form)
    }

    /// Every name, without letter, of issues of the same station and time.
    pub fn of_the_same_time(&self) -> impl Iterator<Item = Self> {
        KINDS.into_iter().map(|(form, kind, _)| Self {
            form,
            kind,
            ..self.with(None)
        })
    }

    /// The identifier.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The code form.
    #[must_use]
    pub fn form(&self) -> Form {
        self.form
    }

    /// What is issued.
    #[must_use]
    pub fn kind(&self) -> IssueKind {
        self.kind
    }

    /// Form and kind as the name has them: the form, with `-to100` or `-nil`.
    #[must_use]
    pub fn label(&self) -> &'static str {
        let mut kinds = KINDS.into_iter();
        let own = kinds.find(|&(form, kind, _)| (form, kind) == (self.form, self.kind));
        own.map_or("", |(_, _, label)| label)
    }

    /// BBB.
    #[must_use]
    pub fn bbb(&self) -> Option<&Bbb> {
        self.bbb.as_ref()
    }

    /// The standard time, UTC; `None` when the figures are no time.
    #[must_use]
    pub fn standard(&self) -> Option<DateTime> {
        let part = |from: usize, to: usize| self.stamp.get(from..to)?.parse::<i16>().ok();
        let small = |from: usize, to: usize| i8::try_from(part(from, to)?).ok();
        let date = (part(0, 4)?, small(4, 6)?, small(6, 8)?);
        DateTime::new(date.0, date.1, date.2, small(8, 10)?, small(10, 12)?, 0, 0).ok()
    }
}

impl std::fmt::Display for Name {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}_{}_{}", self.id, self.stamp, self.label())?;
        match &self.bbb {
            Some(bbb) => write!(f, "_{}", bbb.as_str()),
            None => Ok(()),
        }
    }
}

/// Year to minute in twelve figures.
fn stamp(standard: DateTime) -> Option<String> {
    (0..=9999).contains(&standard.year()).then(|| {
        format!(
            "{:04}{:02}{:02}{:02}{:02}",
            standard.year(),
            standard.month(),
            standard.day(),
            standard.hour(),
            standard.minute()
        )
    })
}

/// Whether a text can be an identifier: nothing that could lead out of a folder,
/// hide it, or not be typed.
#[must_use]
pub fn is_id(text: &str) -> bool {
    (1..=MAX_ID).contains(&text.len())
        && text.starts_with(|c: char| c.is_ascii_alphanumeric())
        && text
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b"-._".contains(&b))
}

/// The identifier of a report: the WIGOS identifier, or the one that stations with a
/// WMO number have, or the call sign; of a dropped sonde without any its serial
/// number after `drop-`.
///
/// # Errors
/// None of these is there.
pub fn id(report: &Report) -> Result<String, FolderError> {
    let (station, flight) = (&report.context.station, &report.context.flight);
    match crate::forms::wis2::names::station_id(station) {
        Ok(id) => Ok(id),
        Err(_) => (flight.serial.as_ref())
            .filter(|serial| station.kind == StationKind::Drop && !serial.is_empty())
            .map(|serial| format!("drop-{serial}"))
            .ok_or(FolderError::NoId),
    }
}

/// Puts an issue into a folder that is there, atomically; gives its path.
///
/// # Errors
/// Something of that name is there, or a file or folder cannot be written; then
/// nothing is left behind.
pub fn place(out: &Path, name: &Name, files: &[(&str, &[u8])]) -> Result<PathBuf, FolderError> {
    let name = name.to_string();
    let path = out.join(&name);
    refuse_existing(&path)?;
    let hidden = hidden(out, &name)?;
    let staged = stage(&hidden, files).and_then(|()| {
        // Only an empty folder gives way to a renamed one, and no issue is empty.
        fs::rename(&hidden, &path).map_err(|error| io_error(&path, error))
    });
    if let Err(error) = staged {
        // Nothing more can be done if that fails.
        let _ = fs::remove_dir_all(&hidden);
        refuse_existing(&path)?;
        return Err(error);
    }
    sync_folder(out)?;
    sweep(out, &name);
    Ok(path)
}

fn refuse_existing(path: &Path) -> Result<(), FolderError> {
    match fs::symlink_metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(io_error(path, error)),
        Ok(_) => Err(FolderError::Issued(path.to_owned())),
    }
}

/// A new hidden folder beside the place of an issue.
fn hidden(out: &Path, name: &str) -> Result<PathBuf, FolderError> {
    for number in 0..MAX_TRIES {
        let path = out.join(format!("{}{number}", hidden_prefix(name)));
        match fs::create_dir(&path) {
            Ok(()) => return Ok(path),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(io_error(out, error)),
        }
    }
    let error = io::Error::other("too many hidden folders of this name");
    Err(io_error(out, error))
}

fn hidden_prefix(name: &str) -> String {
    format!(".{name}.part")
}

fn stage(hidden: &Path, files: &[(&str, &[u8])]) -> Result<(), FolderError> {
    for (name, octets) in files {
        let path = hidden.join(name);
        let write = || -> io::Result<()> {
            let mut file = File::create_new(&path)?;
            file.write_all(octets)?;
            file.sync_all()
        };
        write().map_err(|error| io_error(&path, error))?;
    }
    sync_folder(hidden)
}

/// Writes the entries of a folder through to the disk, where a folder can be opened.
pub(crate) fn sync_folder(path: &Path) -> Result<(), FolderError> {
    if cfg!(unix) {
        let sync = || File::open(path)?.sync_all();
        sync().map_err(|error| io_error(path, error))?;
    }
    Ok(())
}

/// Takes hidden folders of a name away that is issued: what a crash left, or what
/// another process can no longer issue.
pub(crate) fn sweep(out: &Path, name: &str) {
    let prefix = hidden_prefix(name);
    let Ok(entries) = fs::read_dir(out) else {
        return;
    };
    for entry in entries.flatten() {
        let left = entry.file_name();
        let left = left.to_str().and_then(|text| text.strip_prefix(&prefix));
        if left.is_some_and(|number| !number.is_empty() && number.parse::<u32>().is_ok()) {
            // What cannot be taken away does no harm.
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

/// The octets of a file in an issue; `None` when the issue has no such file.
///
/// # Errors
/// The file cannot be read, or is longer than [`MAX_FILE`].
pub fn file(out: &Path, name: &Name, file: &str) -> Result<Option<Vec<u8>>, FolderError> {
    let path = out.join(name.to_string()).join(file);
    let opened = match File::open(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        opened => opened.map_err(|error| io_error(&path, error))?,
    };
    let mut octets = Vec::new();
    let read = opened.take(MAX_FILE + 1).read_to_end(&mut octets);
    read.map_err(|error| io_error(&path, error))?;
    if u64::try_from(octets.len()).is_ok_and(|n| n > MAX_FILE) {
        let what = format!("more than {MAX_FILE} octets");
        return Err(FolderError::Unread { path, what });
    }
    Ok(Some(octets))
}

/// Whether an issue has a file.
#[cfg(feature = "desk")]
pub(crate) fn has(out: &Path, name: &Name, file: &str) -> bool {
    out.join(name.to_string()).join(file).is_file()
}

/// Whether a name is issued.
#[must_use]
pub fn is_issued(out: &Path, name: &Name) -> bool {
    // Whatever stands there, nothing is put over it.
    fs::symlink_metadata(out.join(name.to_string())).is_ok()
}

/// The issue of a name that is no correction: the name without letter, or the one
/// that went out late (RRA to RRX). `None` when neither is there.
#[must_use]
pub fn first(out: &Path, name: &Name) -> Option<Name> {
    let late = letters("RRA").map(|letter| name.with(Some(letter)));
    std::iter::once(name.with(None))
        .chain(late)
        .find(|name| is_issued(out, name))
}

/// BBB of a report that goes out late: the letter after the last that was used for
/// the same station and time, whatever of it went out late (the early message, the
/// whole one); `None` after RRX.
#[must_use]
pub fn late(out: &Path, name: &Name) -> Option<Bbb> {
    let kin: Vec<Name> = name.kin().collect();
    let used = |letter: &Bbb| {
        let mut names = kin.iter().map(|name| name.with(Some(letter.clone())));
        names.any(|name| is_issued(out, &name))
    };
    match letters("RRA").filter(used).last() {
        Some(last) => last.next(),
        None => Bbb::new("RRA"),
    }
}

/// Whether NIL went out for the station and time of a name: what comes after it is late.
#[must_use]
pub fn nil_is_out(out: &Path, name: &Name) -> bool {
    let nil = name.kin().find(Name::is_nil);
    nil.is_some_and(|nil| first(out, &nil).is_some())
}

/// What stands in [`REASON`] of a NIL that goes out although a report of the same
/// station and time is out; `None` where none is.
///
/// # Errors
/// A report is out, and there is no reason but blanks.
pub fn nil_despite_report(
    out: &Path,
    name: &Name,
    reason: Option<&str>,
) -> Result<Option<String>, FolderError> {
    let Some(report) = report_is_out(out, name) else {
        return Ok(None);
    };
    let words: Vec<&str> = reason.unwrap_or_default().split_whitespace().collect();
    if words.is_empty() {
        return Err(FolderError::ReportOut(out.join(report.to_string())));
    }
    Ok(Some(format!(
        "NIL although {report} is out: {}\n",
        words.join(" ")
    )))
}

/// Whether the whole report of a name's station, time and family is out.
#[must_use]
pub fn whole_is_out(out: &Path, name: &Name) -> bool {
    let whole = name.kin().find(|kin| kin.kind == IssueKind::Whole);
    whole.is_some_and(|whole| first(out, &whole).is_some())
}

/// A letter and those after it.
pub(super) fn letters(from: &str) -> impl Iterator<Item = Bbb> {
    std::iter::successors(Bbb::new(from), Bbb::next)
}

/// The report, no NIL, that is out for the station and standard time of a name in any
/// form: after it no NIL goes out.
#[must_use]
pub fn report_is_out(out: &Path, name: &Name) -> Option<Name> {
    let mut reports = name.of_the_same_time().filter(|name| !name.is_nil());
    reports.find_map(|name| first(out, &name))
}

/// An issue that lies in a folder.
#[derive(Clone, Debug, PartialEq)]
pub struct Issued {
    /// Its name.
    pub name: Name,
    /// When it was put there, seconds since 1970, as far as the file system says it.
    pub at_s: Option<i64>,
}

/// The issues of a folder, the newest first, at most `most`.
///
/// # Errors
/// The folder cannot be read.
pub fn issued(out: &Path, most: usize) -> Result<Vec<Issued>, FolderError> {
    let entries = fs::read_dir(out).map_err(|error| io_error(out, error))?;
    let mut all: Vec<Issued> = entries
        .flatten()
        .filter_map(|entry| {
            let name = Name::parse(entry.file_name().to_str()?)?;
            let about = fs::symlink_metadata(entry.path()).ok()?;
            let at = about.modified().ok();
            let since = at.and_then(|at| at.duration_since(std::time::UNIX_EPOCH).ok());
            let at_s = since.and_then(|since| i64::try_from(since.as_secs()).ok());
            about.is_dir().then_some(Issued { name, at_s })
        })
        .collect();
    all.sort_by(|a, b| (b.at_s, &a.name).cmp(&(a.at_s, &b.name)));
    all.truncate(most);
    Ok(all)
}
