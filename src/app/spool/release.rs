//! Flights that are held because of their continuity, and how an operator releases them.
//!
//! The order is a file named after the digest of profile and sheet, so that it holds for
//! these octets alone and for a spool that runs as well as for the next. It is written
//! before the files go back into the watched folder; the spool puts it into the journal with
//! the flight, and takes it away when that is out.

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::disk::sync;
use super::flight::{HELD, InputFile, Unread};
use super::journal::{self, Input};
use super::moves::{is_gone, reason_of, rename};
use super::watch::{REFUSED, stem};
use super::{JOURNAL, SpoolError, clock, state_folder};

/// The folder of orders.
const RELEASED: &str = "released";

fn order_path(out: &Path, digest: &str) -> PathBuf {
    state_folder(out).join(RELEASED).join(digest)
}

/// When a flight was released, UTC; `None` where it was not.
pub(super) fn order(out: &Path, digest: &str) -> Option<String> {
    let text = fs::read_to_string(order_path(out, digest)).ok()?;
    Some(text.trim().to_owned())
}

/// The flight is out: its order is no longer needed, and does no harm where it stays.
pub(super) fn done(out: &Path, digest: &str) {
    let _ = fs::remove_file(order_path(out, digest));
}

/// Releases a flight that was held: it goes back into the watched folder, and the spool
/// issues it with the warnings. `name` is that of the profile in `refused/`; gives its path in
/// the watched folder.
///
/// # Errors
/// It was not held, has changed since, or a file cannot be written.
pub fn release(watched: &Path, out: &Path, name: &str, now_s: i64) -> Result<PathBuf, SpoolError> {
    let not_held = |why: String| SpoolError::NotHeld(name.to_owned(), why);
    let journal = state_folder(out).join(JOURNAL);
    if is_gone(&journal) {
        return Err(SpoolError::NoSpool(out.to_owned()));
    }
    let Some(meant) = journal::last_refusal(&journal, name)? else {
        return Err(not_held(
            "the journal has no refused file of that name; give its name in refused/".to_owned(),
        ));
    };
    if meant.line.refused != HELD {
        let why = &meant.line.refused;
        return Err(not_held(format!(
            "it was refused ({why}), not held; correct it and move it back into the watched folder"
        )));
    }
    let Some(input) = meant.input else {
        return Err(not_held("the journal names no file".to_owned()));
    };
    let folder = watched.join(REFUSED);
    let sheet = input.sheet.as_ref().map(|_| format!("{}.toml", stem(name)));
    let read = match InputFile::read(&folder, name, sheet.as_deref()) {
        Ok(read) => read,
        Err(Unread::Refused(why)) => return Err(not_held(why)),
        Err(Unread::Io(error)) => return Err(SpoolError::io(&folder.join(name), error)),
    };
    if read.digest != input.digest {
        return Err(not_held(
            "profile or sheet have changed since; move them back into the watched folder, and they are judged anew".to_owned(),
        ));
    }
    give_order(out, &input.digest, now_s)?;
    let to = watched.join(&input.profile);
    back(&folder, watched, name, &input).map_err(|error| SpoolError::io(&to, error))?;
    Ok(to)
}

/// Writes the order through to the disk.
fn give_order(out: &Path, digest: &str, now_s: i64) -> Result<(), SpoolError> {
    let path = order_path(out, digest);
    let new = path.with_extension("new");
    let write = || -> io::Result<()> {
        let folder = path.parent().unwrap_or(out);
        fs::create_dir_all(folder)?;
        let mut file = File::create(&new)?;
        writeln!(file, "{}", clock::shown(now_s))?;
        file.sync_all()?;
        fs::rename(&new, &path)?;
        sync(folder)
    };
    write().map_err(|error| SpoolError::io(&path, error))
}

/// Moves the sheet, then the profile, and takes the reason away.
fn back(folder: &Path, watched: &Path, name: &str, input: &Input) -> io::Result<()> {
    let profile = watched.join(&input.profile);
    if !is_gone(&profile) {
        return Err(io::Error::other(
            "there is a file of that name; move it away first",
        ));
    }
    if let Some(sheet) = &input.sheet {
        let (from, to) = (
            folder.join(format!("{}.toml", stem(name))),
            watched.join(sheet),
        );
        if is_gone(&to) {
            rename(&from, &to)?;
        } else if fs::read(&from)? == fs::read(&to)? {
            // Another profile has the same sheet.
            fs::remove_file(&from)?;
        } else {
            return Err(io::Error::other(
                "there is another sheet of that name; move it away first",
            ));
        }
    }
    rename(&folder.join(name), &profile)?;
    let reason = folder.join(reason_of(name));
    if !is_gone(&reason) {
        fs::remove_file(reason)?;
    }
    sync(folder)?;
    sync(watched)
}
