//! One spool for a folder: a lock that ends with the process, however it ends.

use std::fs::{self, File, Metadata, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use super::SpoolError;

/// The file in the watched folder.
pub(super) const WATCHED: &str = ".fivefig-spool.lock";

/// How often, and how far apart, a lock is tried that a look at the status may have.
const TRIES: u32 = 20;
const APART: Duration = Duration::from_millis(10);

/// Takes the lock of a file, which is made when it is not there.
pub(super) fn take(path: PathBuf) -> Result<Lock, SpoolError> {
    let fault = |error| SpoolError::io(&path, error);
    if fs::symlink_metadata(&path).is_ok_and(|about| !about.is_file()) {
        return Err(fault(io::Error::other("it is no plain file")));
    }
    let mut options = OpenOptions::new();
    let opened = options.write(true).create(true).truncate(false).open(&path);
    let file = opened.map_err(fault)?;
    for _ in 0..TRIES {
        match file.try_lock() {
            Ok(()) => return Ok(Lock { path, file }),
            Err(TryLockError::WouldBlock) => thread::sleep(APART),
            Err(TryLockError::Error(error)) => return Err(fault(error)),
        }
    }
    Err(SpoolError::Running(path))
}

/// A lock that is held.
pub(super) struct Lock {
    path: PathBuf,
    file: File,
}

impl Lock {
    /// Whether the file is still the one at its place: another spool could take a new
    /// one.
    pub(super) fn stands(&self) -> Result<(), SpoolError> {
        let fault = |error| SpoolError::io(&self.path, error);
        let there = fs::symlink_metadata(&self.path).map_err(fault)?;
        let held = self.file.metadata().map_err(fault)?;
        if is_same(&there, &held) {
            return Ok(());
        }
        let what = "this lock was taken away; end the spool and start it again";
        Err(fault(io::Error::other(what)))
    }
}

#[cfg(unix)]
fn is_same(one: &Metadata, other: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    (one.dev(), one.ino()) == (other.dev(), other.ino())
}

#[cfg(not(unix))]
fn is_same(_: &Metadata, _: &Metadata) -> bool {
    true
}

/// Whether a process has the lock of a file.
pub(super) fn is_locked(path: &Path) -> bool {
    let Ok(file) = OpenOptions::new().write(true).open(path) else {
        return false;
    };
    matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock))
}
