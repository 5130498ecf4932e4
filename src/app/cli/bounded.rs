//! What is read whole, and how much of it at most.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use super::Stop;
use crate::input::sheet::MAX_SHEET_BYTES;
use crate::model::finding::shown_path;

/// Profiles and messages, octets. Readers have bounds of their own below this one.
pub(super) const MAX_INPUT: usize = 1 << 30;
/// Sheets, tolerances, words, octets.
pub(super) const MAX_SMALL: usize = MAX_SHEET_BYTES;
/// Tables, octets.
pub(super) const MAX_TABLE: usize = 64 << 20;

/// Reads a file, or standard input for `-`.
pub(super) fn get(path: &Path, limit: usize) -> Result<Vec<u8>, Stop> {
    if path == Path::new("-") {
        return all(&mut io::stdin().lock(), path, limit);
    }
    let mut file = File::open(path).map_err(|e| Stop::io(path, &e))?;
    let size = file.metadata().map_or(0, |metadata| metadata.len());
    let size = usize::try_from(size).map_or(limit, |size| size.min(limit));
    let mut octets = Vec::new();
    // One more, so that the end is found without growing. A size may be wrong.
    let _ = octets.try_reserve_exact(size.saturating_add(1));
    read(&mut file, octets, path, limit)
}

/// The same as text.
pub(super) fn text(path: &Path, limit: usize) -> Result<String, Stop> {
    String::from_utf8(get(path, limit)?)
        .map_err(|_| Stop::data(format!("{}: not UTF-8 text", shown_path(path))))
}

/// Reads to the end, which must come before the limit; a longer file is refused.
pub(super) fn all(from: &mut dyn Read, path: &Path, limit: usize) -> Result<Vec<u8>, Stop> {
    read(from, Vec::new(), path, limit)
}

fn read(
    from: &mut dyn Read,
    mut octets: Vec<u8>,
    path: &Path,
    limit: usize,
) -> Result<Vec<u8>, Stop> {
    let most = u64::try_from(limit).unwrap_or(u64::MAX).saturating_add(1);
    let read = from.take(most).read_to_end(&mut octets);
    read.map_err(|e| Stop::io(path, &e))?;
    if octets.len() > limit {
        return Err(Stop::data(format!(
            "{}: the file has more than {limit} bytes, which is the most that is read",
            shown_path(path)
        )));
    }
    Ok(octets)
}
