//! A profile in memory, and the file it is from.

use std::fs::{self, File};
use std::io::Read as _;
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

/// The longest profile that is taken, bytes.
pub(super) const MAX_PROFILE: usize = 64 << 20;

/// A profile in memory.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Profile {
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
    /// The hash of the bytes, so that they are hashed once.
    pub(super) hash: String,
    /// The file of the watched folder that it is from.
    pub(super) file: Option<PathBuf>,
}

impl Profile {
    pub(super) fn new(name: String, bytes: Vec<u8>, file: Option<PathBuf>) -> Self {
        let hash = Sha256::digest(&bytes);
        let hash = hash.iter().map(|byte| format!("{byte:02x}")).collect();
        Self {
            name,
            bytes,
            hash,
            file,
        }
    }

    /// Whether its file still holds what was loaded of it.
    pub(super) fn is_current(&self) -> Result<(), String> {
        let Some(path) = &self.file else {
            return Ok(());
        };
        let name = &self.name;
        match read_file(path) {
            Ok(now) if now == self.bytes => Ok(()),
            Ok(now) => Err(format!(
                "{name} has changed since it was loaded ({} bytes then, {} now); load it again",
                self.bytes.len(),
                now.len()
            )),
            Err(why) => Err(format!(
                "{name} can no longer be read in the watched folder ({why}); load it again"
            )),
        }
    }
}

/// A file of at most [`MAX_PROFILE`] bytes, no link.
pub(super) fn read_file(path: &Path) -> Result<Vec<u8>, String> {
    let about = fs::symlink_metadata(path).map_err(|e| e.to_string())?;
    if !about.is_file() {
        return Err("no plain file".to_owned());
    }
    let mut bytes = Vec::new();
    let limit = u64::try_from(MAX_PROFILE).unwrap_or(u64::MAX);
    let read = File::open(path).and_then(|f| f.take(limit + 1).read_to_end(&mut bytes));
    read.map_err(|e| e.to_string())?;
    if bytes.len() > MAX_PROFILE {
        return Err(format!("more than {MAX_PROFILE} bytes"));
    }
    Ok(bytes)
}
