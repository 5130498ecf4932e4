//! The inputs of a batch, one by one: files, the files of folders, the paths of a
//! list, the lines of files of flights.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::progress::Total;
use crate::app::cli::Stop;
use crate::app::cli::bounded::{MAX_INPUT, get};
use crate::app::cli::flight::{Named, ProfileFormat, sheet_files};
use crate::input;
use crate::input::{Format, jsonl};
use crate::model::finding::shown_path;

/// The longest path in a list, octets.
const MAX_PATH: usize = 1 << 16;

/// The longest record of a station file that is kept, octets.
const MAX_RECORD: usize = 4096;

/// The inputs as they were asked for.
pub(super) struct Inputs<'a> {
    pub(super) paths: &'a [PathBuf],
    pub(super) list: Option<&'a Path>,
    pub(super) from: Option<ProfileFormat>,
}

/// One flight to be coded.
pub(super) enum Item {
    /// A file, not read yet.
    File { path: PathBuf },
    /// What came from standard input, or one sounding of the file `of`.
    Octets {
        name: String,
        octets: Vec<u8>,
        of: Option<PathBuf>,
    },
    /// A line of a file of flights.
    Line {
        file: Arc<str>,
        number: usize,
        text: Vec<u8>,
    },
    /// What cannot be read.
    Unread { name: String, stop: Stop },
}

impl Item {
    /// What it is called in findings.
    pub(super) fn name(&self) -> String {
        match self {
            Self::File { path } => shown_path(path),
            Self::Octets { name, .. } | Self::Unread { name, .. } => name.clone(),
            Self::Line { file, number, .. } => format!("{file}:{number}"),
        }
    }

    /// The file it is from.
    pub(super) fn file(&self) -> String {
        match self {
            Self::Line { file, .. } => file.to_string(),
            Self::Octets { of: Some(of), .. } => shown_path(of),
            _ => self.name(),
        }
    }

    /// Octets of a line, or of a sounding.
    pub(super) fn octets(&self) -> u64 {
        let length = match self {
            Self::Line { text, .. } => text.len() + 1,
            Self::Octets { octets, .. } => octets.len(),
            _ => 0,
        };
        u64::try_from(length).unwrap_or(u64::MAX)
    }
}

/// Whether a file, or standard input, holds flights in JSON Lines. Nothing is taken
/// from standard input.
pub(super) fn is_jsonl(path: &Path, from: Option<ProfileFormat>) -> Result<bool, Stop> {
    Ok(format(path, from)? == Format::Jsonl)
}

/// The format of a file by its first octets, unless it is said.
fn format(path: &Path, from: Option<ProfileFormat>) -> Result<Format, Stop> {
    if let Some(from) = from {
        return Ok(from.into());
    }
    let mut start = Vec::new();
    if path == Path::new("-") {
        let mut input = io::stdin().lock();
        let begun = input.fill_buf().map_err(|e| Stop::io(path, &e))?;
        start.extend_from_slice(begun);
    } else if fs::metadata(path).is_ok_and(|about| !about.is_file()) {
        // Of a pipe nothing may be taken to look at.
        return Ok(Format::Text);
    } else {
        let file = File::open(path).map_err(|e| Stop::io(path, &e))?;
        let read = file.take(4096).read_to_end(&mut start);
        read.map_err(|e| Stop::io(path, &e))?;
    }
    Ok(input::detect(&start))
}

/// Reads a profile and, after the sheets that are given, the sheet beside it: `a.toml`
/// for `a.csv`.
pub(super) fn open(path: &Path, sheets: &[Named]) -> Result<(Vec<u8>, Vec<Named>), Stop> {
    Ok((get(path, MAX_INPUT)?, with_beside(path, sheets)?))
}

/// The sheets that are given and the one beside a file.
pub(super) fn with_beside(path: &Path, sheets: &[Named]) -> Result<Vec<Named>, Stop> {
    let mut sheets = sheets.to_vec();
    let beside = path.with_extension("toml");
    if beside.is_file() {
        sheets.extend(sheet_files(&[beside])?);
    }
    Ok(sheets)
}

impl Inputs<'_> {
    /// How much there is, as far as it can be known before.
    pub(super) fn total(&self) -> Total {
        if let ([only], None) = (self.paths, self.list)
            && !only.is_dir()
        {
            let about = fs::metadata(only).ok().filter(fs::Metadata::is_file);
            return about.map_or(Total::Unknown, |about| Total::Octets(about.len()));
        }
        let mut files = 0;
        for path in self.paths {
            files += match fs::read_dir(path) {
                Ok(_) => Found::of(path, self.from).map_or(1, |found| found.profiles.len()),
                Err(_) => 1,
            };
        }
        match self.list {
            None => Total::Files(files),
            Some(list) if list == Path::new("-") => Total::Unknown,
            Some(list) => match File::open(list) {
                Ok(file) => {
                    let lines = BufReader::new(file).split(b'\n').map_while(Result::ok);
                    let paths = lines.filter(|line| !line.trim_ascii().is_empty());
                    Total::Files(files + paths.count())
                }
                Err(_) => Total::Files(files),
            },
        }
    }

    /// The files of the folders that are no profiles.
    pub(super) fn others(&self) -> Vec<PathBuf> {
        let folders = self.paths.iter().filter(|path| path.is_dir());
        let found = folders.filter_map(|path| Found::of(path, self.from).ok());
        found.flat_map(|found| found.others).collect()
    }

    /// Gives every input, in order, until no more are wanted.
    pub(super) fn feed(&self, give: &mut dyn FnMut(Item) -> bool) {
        let fed = self.paths.iter().all(|path| self.path(path, give));
        if let (true, Some(list)) = (fed, self.list) {
            self.listed(list, give);
        }
    }

    /// The paths of a list, a line each; blank lines are passed over.
    fn listed(&self, list: &Path, give: &mut dyn FnMut(Item) -> bool) {
        let mut input: Box<dyn BufRead> = if list == Path::new("-") {
            Box::new(BufReader::new(io::stdin()))
        } else {
            match File::open(list) {
                Ok(file) => Box::new(BufReader::new(file)),
                Err(error) => {
                    give(unread(list, &error));
                    return;
                }
            }
        };
        let mut line = Vec::new();
        loop {
            match take_line(&mut *input, &mut line, MAX_PATH) {
                Ok(true) => {}
                Ok(false) => return,
                Err(error) => {
                    give(unread(list, &error));
                    return;
                }
            }
            let text = line.strip_suffix(b"\r").unwrap_or(&line);
            if text.trim_ascii().is_empty() {
                continue;
            }
            if !self.path(&path_of(text), give) {
                return;
            }
        }
    }

    /// A file, or those of a folder; false when no more are wanted.
    fn path(&self, path: &Path, give: &mut dyn FnMut(Item) -> bool) -> bool {
        if path.is_dir() {
            return match Found::of(path, self.from) {
                Ok(found) => found.profiles.into_iter().all(|path| self.file(path, give)),
                Err(error) => give(unread(path, &error)),
            };
        }
        self.file(path.to_owned(), give)
    }

    /// A file, or its lines.
    fn file(&self, path: PathBuf, give: &mut dyn FnMut(Item) -> bool) -> bool {
        match format(&path, self.from) {
            Ok(Format::Jsonl) => lines(&path, give),
            Ok(Format::Igra) if path != Path::new("-") => soundings(&path, give),
            Ok(_) if path == Path::new("-") => {
                let (name, of) = ("-".to_owned(), None);
                give(match get(&path, MAX_INPUT) {
                    Ok(octets) => Item::Octets { name, octets, of },
                    Err(stop) => Item::Unread { name, stop },
                })
            }
            Ok(_) => give(Item::File { path }),
            Err(stop) => give(Item::Unread {
                name: shown_path(&path),
                stop,
            }),
        }
    }
}

fn unread(path: &Path, error: &io::Error) -> Item {
    Item::Unread {
        name: shown_path(path),
        stop: Stop::io(path, error),
    }
}

#[cfg(unix)]
fn path_of(text: &[u8]) -> PathBuf {
    use std::os::unix::ffi::OsStrExt as _;
    std::ffi::OsStr::from_bytes(text).into()
}

#[cfg(not(unix))]
fn path_of(text: &[u8]) -> PathBuf {
    String::from_utf8_lossy(text).into_owned().into()
}

/// Endings of profiles in text; a file without an ending may be one too. The other formats
/// are detected from the content.
const TEXT_ENDINGS: [&str; 6] = ["csv", "tsv", "txt", "dat", "asc", "prn"];

/// The profiles of a folder and the files that are none, each in the order of their names.
/// Hidden files and sheets are neither.
#[derive(Default)]
pub(super) struct Found {
    profiles: Vec<PathBuf>,
    pub(super) others: Vec<PathBuf>,
}

impl Found {
    pub(super) fn of(folder: &Path, from: Option<ProfileFormat>) -> io::Result<Self> {
        let mut found = Self::default();
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            let hidden = path
                .file_name()
                .is_some_and(|name| name.as_encoded_bytes().starts_with(b"."));
            let sheet = path.extension().is_some_and(|ending| ending == "toml");
            if hidden || sheet || !path.is_file() {
                continue;
            }
            if from.is_some() || is_profile(&path) {
                found.profiles.push(path);
            } else {
                found.others.push(path);
            }
        }
        found.profiles.sort();
        found.others.sort();
        Ok(found)
    }
}

/// Whether a file of a folder is a profile, by its content or its ending. One that cannot
/// be opened is: its error is reported later.
fn is_profile(path: &Path) -> bool {
    match format(path, None) {
        Ok(Format::Text) => path.extension().is_none_or(|ending| {
            let mut known = TEXT_ENDINGS.iter();
            known.any(|known| ending.eq_ignore_ascii_case(known))
        }),
        Ok(_) | Err(_) => true,
    }
}

/// The lines of a file of flights; false when no more are wanted.
fn lines(path: &Path, give: &mut dyn FnMut(Item) -> bool) -> bool {
    let file: Arc<str> = shown_path(path).into();
    let mut input: Box<dyn BufRead> = if path == Path::new("-") {
        Box::new(BufReader::new(io::stdin()))
    } else {
        match File::open(path) {
            Ok(file) => Box::new(BufReader::new(file)),
            Err(error) => return give(unread(path, &error)),
        }
    };
    let mut number = 0;
    loop {
        let mut text = Vec::new();
        match take_line(&mut *input, &mut text, jsonl::MAX_LINE + 1) {
            Ok(true) => {}
            Ok(false) => return true,
            Err(error) => return give(unread(path, &error)),
        }
        number += 1;
        if number == 1 && text.starts_with(b"\xef\xbb\xbf") {
            text.drain(..3);
        }
        if text.trim_ascii().is_empty() {
            continue;
        }
        let file = Arc::clone(&file);
        if !give(Item::Line { file, number, text }) {
            return false;
        }
    }
}

/// The soundings of a station file, each with its header; false when no more are
/// wanted. Only one is held at a time.
fn soundings(path: &Path, give: &mut dyn FnMut(Item) -> bool) -> bool {
    let mut input = match File::open(path) {
        Ok(file) => BufReader::new(file),
        Err(error) => return give(unread(path, &error)),
    };
    let name = shown_path(path);
    let sounding = |number: usize, octets: Vec<u8>| Item::Octets {
        name: format!("{name} (sounding {number})"),
        octets,
        of: Some(path.to_owned()),
    };
    let (mut number, mut octets, mut line) = (0, Vec::new(), Vec::new());
    loop {
        match take_line(&mut input, &mut line, MAX_RECORD) {
            Ok(true) => {}
            Ok(false) => return octets.is_empty() || give(sounding(number, octets)),
            Err(error) => return give(unread(path, &error)),
        }
        if line.starts_with(b"#") {
            if number > 0 && !give(sounding(number, std::mem::take(&mut octets))) {
                return false;
            }
            number += 1;
        }
        // A sounding over the limit is refused later: what follows is not needed.
        if octets.len() < MAX_INPUT {
            octets.extend_from_slice(&line);
            octets.push(b'\n');
        }
    }
}

/// Reads a line without its end; one that is too long only until that is known. False at
/// the end of the input.
fn take_line(input: &mut dyn BufRead, line: &mut Vec<u8>, limit: usize) -> io::Result<bool> {
    line.clear();
    let mut any = false;
    loop {
        let part = match input.fill_buf() {
            Ok(part) => part,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        if part.is_empty() {
            return Ok(any);
        }
        any = true;
        let end = part.iter().position(|&b| b == b'\n');
        let text = part.get(..end.unwrap_or(part.len())).unwrap_or_default();
        let room = limit.saturating_sub(line.len());
        line.extend_from_slice(text.get(..room.min(text.len())).unwrap_or_default());
        let used = end.map_or(part.len(), |end| end + 1);
        input.consume(used);
        if end.is_some() {
            return Ok(true);
        }
    }
}
