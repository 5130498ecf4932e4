//! The watched folder: which files are profiles, and which are finished.
//!
//! A file is finished when its length and time of change have stayed the same for a
//! while by the steady clock, whatever the clock on the wall says meanwhile.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;
use std::time::{Duration, SystemTime};

/// The folder of files that were issued.
pub(super) const DONE: &str = "done";
/// The folder of files that were refused.
pub(super) const REFUSED: &str = "refused";

/// Endings of files that are still being written.
const UNFINISHED: [&str; 3] = ["part", "tmp", "new"];

/// How a file looks from outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Look {
    pub(super) length: u64,
    changed: Option<SystemTime>,
}

impl Look {
    pub(super) fn at(path: &Path) -> io::Result<Self> {
        let about = fs::symlink_metadata(path)?;
        if !about.is_file() {
            return Err(io::Error::other("it is no plain file"));
        }
        Ok(Self {
            length: about.len(),
            changed: about.modified().ok(),
        })
    }
}

/// A profile in the folder.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    pub(super) look: Look,
    /// The sheet beside it.
    pub(super) sheet: Option<(String, Look)>,
    /// Since when it has looked like this, by the steady clock.
    since: Duration,
    /// Since when its sheet has.
    sheet_since: Duration,
    /// Whether it was seen to grow.
    grew: bool,
    /// The length for which an early message was tried.
    pub(super) tried: Option<u64>,
    /// What it waits for, when it was looked into and is not to be taken.
    pub(super) waits: Option<String>,
}

/// The watched folder.
#[derive(Debug, Default)]
pub(super) struct Watched {
    pub(super) files: BTreeMap<String, Seen>,
    /// Things that are passed over, reported once.
    strange: BTreeMap<String, &'static str>,
}

impl Watched {
    /// Looks through the folder; names of things that are passed over for the first
    /// time, and why.
    pub(super) fn look(
        &mut self,
        folder: &Path,
        only: &[String],
        now: Duration,
    ) -> io::Result<Vec<(String, &'static str)>> {
        let mut looks = BTreeMap::new();
        let mut sheets = BTreeMap::new();
        let mut strange = BTreeMap::new();
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let Ok(name) = entry.file_name().into_string() else {
                let name = entry.file_name().to_string_lossy().into_owned();
                strange.insert(name, "its name is not UTF-8 text");
                continue;
            };
            if is_passed_over(&name) {
                continue;
            }
            // The sheet beside a profile has another ending.
            let wanted = name.ends_with(".toml") || only.iter().any(|one| fits(one, &name));
            if !only.is_empty() && !wanted {
                continue;
            }
            let Ok(about) = fs::symlink_metadata(entry.path()) else {
                continue; // it is gone
            };
            if about.is_dir() {
                continue;
            }
            if !about.is_file() {
                strange.insert(name, "it is no plain file");
                continue;
            }
            let look = Look {
                length: about.len(),
                changed: about.modified().ok(),
            };
            match name.strip_suffix(".toml") {
                Some(stem) => sheets.insert(stem.to_owned(), look),
                None => looks.insert(name, look),
            };
        }
        self.files.retain(|name, _| looks.contains_key(name));
        for (name, look) in looks {
            let stem = stem(&name);
            let sheet = sheets.get(stem).map(|look| (format!("{stem}.toml"), *look));
            match self.files.get_mut(&name) {
                Some(seen) if seen.look == look && seen.sheet == sheet => {}
                Some(seen) => {
                    seen.grew |= look.length > seen.look.length;
                    if seen.sheet != sheet {
                        seen.sheet_since = now;
                    }
                    (seen.look, seen.sheet) = (look, sheet);
                    (seen.since, seen.waits) = (now, None);
                }
                None => {
                    let seen = Seen {
                        look,
                        sheet,
                        since: now,
                        sheet_since: now,
                        grew: false,
                        tried: None,
                        waits: None,
                    };
                    self.files.insert(name, seen);
                }
            }
        }
        let known = std::mem::replace(&mut self.strange, strange);
        let new = self.strange.iter();
        let new = new.filter(|(name, _)| !known.contains_key(*name));
        Ok(new.map(|(name, why)| (name.clone(), *why)).collect())
    }

    /// The files that are finished, the oldest first.
    pub(super) fn finished(&self, now: Duration, settle: Duration) -> Vec<String> {
        let files = self.files.iter();
        let ready = files
            .filter(|(_, seen)| seen.waits.is_none() && now.saturating_sub(seen.since) >= settle);
        let mut ready: Vec<_> = ready.map(|(name, s)| (s.look.changed, name)).collect();
        ready.sort();
        ready.into_iter().map(|(_, name)| name.clone()).collect()
    }

    /// The files that were seen to grow, whose sheet is finished, and of which an early
    /// message was not tried at this length.
    pub(super) fn growing(&self, now: Duration, settle: Duration) -> Vec<String> {
        let files = self.files.iter();
        let growing = files.filter(|(_, seen)| {
            seen.grew
                && seen.tried != Some(seen.look.length)
                && now.saturating_sub(seen.sheet_since) >= settle
        });
        growing.map(|(name, _)| name.clone()).collect()
    }
}

/// A name without its last ending.
pub(super) fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// Files that are hidden, that say of themselves that they are not finished, or that
/// stand where a folder of ours belongs.
pub(super) fn is_passed_over(name: &str) -> bool {
    let ending = name.rsplit_once('.').map(|(_, ending)| ending);
    name.starts_with('.')
        || [DONE, REFUSED].contains(&name)
        || name.ends_with('~')
        || ending.is_some_and(|ending| UNFINISHED.contains(&ending))
}

/// Whether a name fits a pattern: `*` stands for any characters, `?` for one.
pub(super) fn fits(pattern: &str, name: &str) -> bool {
    let [pattern, name] = [pattern, name].map(|text| text.chars().collect::<Vec<char>>());
    let (mut at, mut here) = (0, 0);
    // The last `*`, and where what it stands for ends so far.
    let mut star: Option<(usize, usize)> = None;
    while let Some(found) = name.get(here) {
        match pattern.get(at) {
            Some('*') => {
                star = Some((at, here));
                at += 1;
            }
            Some(wanted) if *wanted == '?' || wanted == found => {
                at += 1;
                here += 1;
            }
            _ => {
                let Some((before, end)) = star else {
                    return false;
                };
                star = Some((before, end + 1));
                (at, here) = (before + 1, end + 1);
            }
        }
    }
    pattern.iter().skip(at).all(|&wanted| wanted == '*')
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

    use super::{Watched, fits};
    use std::fs;
    use std::time::Duration;

    const SETTLE: Duration = Duration::from_secs(5);

    fn at(s: u64) -> Duration {
        Duration::from_secs(s)
    }

    #[test]
    fn a_file_is_finished_when_it_has_stayed_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        let mut watched = Watched::default();
        fs::write(&path, "1").unwrap();
        watched.look(folder.path(), &[], at(0)).unwrap();
        watched.look(folder.path(), &[], at(4)).unwrap();
        assert!(watched.finished(at(4), SETTLE).is_empty());
        fs::write(&path, "12").unwrap();
        watched.look(folder.path(), &[], at(5)).unwrap();
        assert!(watched.finished(at(9), SETTLE).is_empty());
        assert_eq!(watched.finished(at(10), SETTLE), ["a.csv"]);
        // The sheet counts too.
        fs::write(folder.path().join("a.toml"), "").unwrap();
        watched.look(folder.path(), &[], at(11)).unwrap();
        assert!(watched.finished(at(15), SETTLE).is_empty());
        assert_eq!(watched.finished(at(16), SETTLE), ["a.csv"]);
    }

    /// By hand, after the notation of file names in POSIX.1-2017, 2.13.
    #[test]
    fn a_pattern_is_for_whole_names() {
        for (pattern, name, fitting) in [
            ("*.csv", "a.csv", true),
            ("*.csv", ".csv", true),
            ("*.csv", "a.csv.bak", false),
            ("*.csv", "a.CSV", false),
            ("a?.t*t", "ab.text", true),
            ("a?.t*t", "a.text", false),
            ("*", "", true),
            ("**", "é", true),
            ("?", "é", true),
            ("", "a", false),
        ] {
            assert_eq!(fits(pattern, name), fitting, "{pattern} {name}");
        }
    }

    #[test]
    fn a_file_that_is_not_asked_for_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["a.csv", "a.toml", "a.log", "b.txt"] {
            fs::write(folder.path().join(name), "x").unwrap();
        }
        let mut watched = Watched::default();
        let only = ["*.csv".to_owned(), "*.txt".to_owned()];
        let strange = watched.look(folder.path(), &only, at(0)).unwrap();
        assert!(strange.is_empty());
        assert_eq!(watched.finished(at(9), SETTLE), ["a.csv", "b.txt"]);
    }

    #[test]
    fn what_is_no_finished_profile_is_passed_over() {
        let folder = tempfile::tempdir().unwrap();
        for name in [".a.csv", "b.csv.part", "c.tmp", "d~", "e.toml", "f.csv.new"] {
            fs::write(folder.path().join(name), "x").unwrap();
        }
        fs::create_dir(folder.path().join("done")).unwrap();
        #[cfg(unix)]
        std::os::unix::fs::symlink("e.toml", folder.path().join("g.csv")).unwrap();
        let mut watched = Watched::default();
        let strange = watched.look(folder.path(), &[], at(0)).unwrap();
        assert!(watched.finished(at(9), SETTLE).is_empty());
        if cfg!(unix) {
            assert_eq!(strange, [("g.csv".to_owned(), "it is no plain file")]);
            assert!(watched.look(folder.path(), &[], at(1)).unwrap().is_empty());
        }
    }
}
