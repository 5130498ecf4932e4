//! What journal and moves both need of the disk.

use std::fs::File;
use std::io;
use std::path::Path;

/// Writes the entries of a folder through to the disk, where a folder can be opened.
pub(super) fn sync(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}
