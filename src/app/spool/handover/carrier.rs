//! What carries a file to a target, and how it is asked what it has.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use crate::issue::flat;
use crate::issue::flat::FlatFile;
use crate::issue::folder::FolderError;
use crate::model::finding::shown_path;

/// How long an attempt for one file may take.
pub(super) const LIMIT: Duration = Duration::from_secs(60);

/// Why a file was not carried.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Failure {
    /// In words.
    pub(super) what: String,
    /// Whether the target certainly does not have it.
    pub(super) certain: bool,
}

impl Failure {
    /// The target does not have it.
    pub(super) fn certain(what: impl ToString) -> Self {
        Self {
            what: what.to_string(),
            certain: true,
        }
    }

    /// The target may have it.
    pub(super) fn unsure(what: impl ToString) -> Self {
        Self {
            what: what.to_string(),
            certain: false,
        }
    }
}

/// What a target says of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Presence {
    /// It has it, whole.
    There,
    /// It does not have it.
    Absent,
    /// It cannot be asked.
    Unknown,
}

/// A way to a target.
pub(super) trait Carrier: Send {
    /// Carries a file; when that is done the target has it, whole and under its name.
    fn send(&self, file: &FlatFile, end: &AtomicBool) -> Result<(), Failure>;

    /// Asks the target for a file of that name and length.
    fn look(&self, file: &FlatFile, end: &AtomicBool) -> Result<Presence, Failure>;
}

/// The one line of a file of a password or token.
#[cfg(any(feature = "https", feature = "smtp", feature = "mqtt"))]
pub(super) fn secret(path: &str) -> Result<String, String> {
    let text = small(path)?;
    let text = String::from_utf8(text).map_err(|_| format!("{path}: not UTF-8 text"))?;
    let line = text.strip_suffix('\n').unwrap_or(&text);
    let line = line.strip_suffix('\r').unwrap_or(line);
    match line.is_empty() || line.contains(|c: char| c.is_control()) {
        true => Err(format!("{path}: one line that is not empty is expected")),
        false => Ok(line.to_owned()),
    }
}

/// A small file.
pub(super) fn small(path: &str) -> Result<Vec<u8>, String> {
    use std::io::Read as _;
    const MOST: u64 = 1 << 20;
    let mut octets = Vec::new();
    let read = fs::File::open(path).and_then(|file| file.take(MOST).read_to_end(&mut octets));
    read.map_err(|error| format!("{}: {error}", shown_path(Path::new(path))))?;
    Ok(octets)
}

/// A folder of the machine.
pub(super) struct Folder(pub(super) PathBuf);

impl Carrier for Folder {
    fn send(&self, file: &FlatFile, _: &AtomicBool) -> Result<(), Failure> {
        match flat::put(&self.0, file) {
            Ok(_) => Ok(()),
            Err(FolderError::Issued(path)) => Err(Failure::certain(format!(
                "{}: another file of that name is there; move it away",
                shown_path(&path)
            ))),
            Err(error) => Err(Failure::certain(error)),
        }
    }

    fn look(&self, file: &FlatFile, _: &AtomicBool) -> Result<Presence, Failure> {
        let there = flat::stands(&self.0.join(&file.name), &file.octets);
        if there.map_err(Failure::certain)? {
            return Ok(Presence::There);
        }
        // A receiver may have taken it already, unless it was never whole.
        let begun = fs::symlink_metadata(self.0.join(format!("{}.tmp", file.name))).is_ok();
        Ok(match begun {
            true => Presence::Absent,
            false => Presence::Unknown,
        })
    }
}
