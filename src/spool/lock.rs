//! One spool for a folder: a lock that ends with the process, however it ends.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

use super::SpoolError;

/// The file in the watched folder.
pub(super) const WATCHED: &str = ".fivefig-spool.lock";

/// Takes the lock of a file, which is made when it is not there.
pub(super) fn take(path: PathBuf) -> Result<File, SpoolError> {
    let mut options = OpenOptions::new();
    let opened = options.write(true).create(true).truncate(false).open(&path);
    let file = opened.map_err(|error| SpoolError::io(&path, error))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(SpoolError::Running(path)),
        Err(TryLockError::Error(error)) => Err(SpoolError::io(&path, error)),
    }
}

/// Whether a process has the lock of a file.
pub(super) fn is_taken(path: &Path) -> bool {
    let Ok(file) = OpenOptions::new().write(true).open(path) else {
        return false;
    };
    matches!(file.try_lock(), Err(TryLockError::WouldBlock))
}
