//! Files that were dealt with leave the watched folder.

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::SpoolError;
use super::disk::sync;
use super::flight::InputFile;
use super::journal::Input;
use super::watch::{Look, REFUSED, is_passed_over, stem};

/// The most files of one name that are distinguished.
const MAX_SAME: u32 = 100_000;

/// A name in a folder that nothing has yet: `a.csv`, or else `a-2.csv` and so on. What
/// would stand beside it is free as well.
pub(super) fn free(folder: &Path, name: &str, reserved: &[&str]) -> io::Result<String> {
    let name = &shortened(name);
    let (stem, ending) = (stem(name), name.get(stem(name).len()..).unwrap_or_default());
    for number in 1..=MAX_SAME {
        let stem = match number {
            1 => stem.to_owned(),
            _ => format!("{stem}-{number}"),
        };
        let name = format!("{stem}{ending}");
        let taken = |name: &str| fs::symlink_metadata(folder.join(name)).is_ok();
        let reserved = reserved.contains(&self::stem(&name));
        if !reserved
            && !taken(&name)
            && !taken(&format!("{stem}.toml"))
            && !taken(&reason_of(&name))
        {
            return Ok(name);
        }
    }
    Err(io::Error::other(format!(
        "too many files are called {name}"
    )))
}

/// A name that leaves room for what is added to it.
fn shortened(name: &str) -> String {
    if name.len() <= MAX_NAME {
        return name.to_owned();
    }
    let ending = name.get(stem(name).len()..).filter(|e| e.len() <= 20);
    let kept = name
        .char_indices()
        .take_while(|(at, _)| *at < MAX_NAME - 40);
    let kept: String = kept.map(|(_, c)| c).collect();
    kept + ending.unwrap_or_default()
}

/// The file that says why a file was refused.
pub(super) fn reason_of(name: &str) -> String {
    format!("{name}.reason.txt")
}

/// The longest name that is kept whole, octets.
const MAX_NAME: usize = 200;

/// How a move ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Move {
    /// The files are where they belong.
    Done,
    /// They are not the files that were looked at.
    Changed,
}

/// Moves the files of a case: the reason first, the profile last, so that a profile is
/// never there without what belongs to it. What was moved before stays.
pub(super) fn go(watched: &Path, input: &Input, reason: Option<&str>) -> Result<Move, SpoolError> {
    let folder = watched.join(&input.folder);
    let from = watched.join(&input.profile);
    let to = folder.join(&input.name);
    let fault = |path: &Path| {
        let path = path.to_owned();
        move |error| SpoolError::io(&path, error)
    };
    let sheet = input.sheet.as_ref().map(|sheet| {
        let there = format!("{}.toml", stem(&input.name));
        (sheet, watched.join(sheet), folder.join(there))
    });
    if is_gone(&from) {
        // Moved before the step was written down, or taken away by someone.
        return Ok(Move::Done);
    }
    let sheet_here = sheet.as_ref().filter(|(_, from, _)| !is_gone(from));
    let now = InputFile::read(
        watched,
        &input.profile,
        sheet_here.map(|(name, ..)| name.as_str()),
    );
    match now {
        // A sheet that has gone ahead is known; what it was is in the whole digest.
        Ok(now) if now.alone != input.alone => return Ok(Move::Changed),
        Ok(now) if sheet_here.is_some() && now.digest != input.digest => return Ok(Move::Changed),
        Ok(_) | Err(super::flight::Unread::Refused(_)) => {}
        Err(super::flight::Unread::Io(error)) => return Err(fault(&from)(error)),
    }
    fs::create_dir_all(&folder).map_err(fault(&folder))?;
    if let Some(reason) = reason {
        let path = folder.join(reason_of(&input.name));
        write(&path, reason).map_err(fault(&path))?;
    }
    if let Some((_, from, to)) = sheet_here {
        if shares(watched, &input.profile) {
            fs::copy(from, to).map_err(fault(to))?;
        } else {
            rename(from, to).map_err(fault(to))?;
        }
    }
    rename(&from, &to).map_err(fault(&to))?;
    for folder in [&folder, watched] {
        sync(folder).map_err(fault(folder))?;
    }
    Ok(Move::Done)
}

pub(super) fn is_gone(path: &Path) -> bool {
    fs::symlink_metadata(path).is_err_and(|error| error.kind() == io::ErrorKind::NotFound)
}

/// Whether another profile has the same sheet beside it.
fn shares(watched: &Path, profile: &str) -> bool {
    let entries = fs::read_dir(watched).into_iter().flatten().flatten();
    let mut names = entries.filter_map(|entry| entry.file_name().into_string().ok());
    names.any(|name| {
        let other = name != profile && !name.ends_with(".toml") && !is_passed_over(&name);
        other && stem(&name) == stem(profile) && Look::at(&watched.join(&name)).is_ok()
    })
}

/// Renames, but over nothing.
pub(super) fn rename(from: &Path, to: &Path) -> io::Result<()> {
    if is_gone(to) {
        return fs::rename(from, to);
    }
    Err(io::Error::other("there is a file of that name"))
}

fn write(path: &Path, text: &str) -> io::Result<()> {
    // A link in its place is not followed.
    if !is_gone(path) {
        fs::remove_file(path)?;
    }
    let mut file = File::create_new(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// How many refused files wait to be looked at.
pub(super) fn refused(watched: &Path) -> usize {
    let entries = fs::read_dir(watched.join(REFUSED))
        .into_iter()
        .flatten()
        .flatten();
    let reasons = entries.filter(|entry| {
        let name: PathBuf = entry.file_name().into();
        name.to_string_lossy().ends_with(".reason.txt")
    });
    reasons.count()
}
