//! The work as it is saved beside the issues at every step, atomically, and found again
//! after a restart.
//!
//! Each desk has a folder `.desk/N` of its own in the folder of issues, locked as long as
//! it runs: `session.json`, the profiles that it names, and `offered.json`, the work of
//! an earlier run that nobody has continued or discarded yet.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

use serde::{Deserialize, Serialize};

use super::profile::{MAX_PROFILE, Profile};
use crate::model::{Form, Reach};

/// Of the folders of desks, which are hidden.
const FOLDER: &str = ".desk";

/// The most desks over one folder of issues.
const MOST: usize = 20;

/// The longest file of a session that is read, bytes.
const MAX_SESSION: u64 = 4 << 20;

const SESSION: &str = "session.json";
const OFFERED: &str = "offered.json";
const LOCK: &str = "lock";
const PROFILE: &str = "profile-";

/// The work, and how its pages reach the desk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Saved {
    /// The run that saved it.
    pub(super) boot: String,
    pub(super) token: String,
    pub(super) port: u16,
    /// When, seconds since 1970.
    pub(super) at_s: i64,
    /// The revision that pages showed.
    pub(super) revision: usize,
    /// The sheet as it is printed.
    pub(super) sheet: String,
    pub(super) form: Option<Form>,
    pub(super) reach: Reach,
    pub(super) outputs: Vec<String>,
    pub(super) profile: Option<SavedProfile>,
    /// Whether there is anything to continue: it differs from the start, and is not what
    /// was issued last.
    pub(super) open: bool,
}

/// Where the profile of the work is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SavedProfile {
    pub(super) name: String,
    /// The file of the watched folder that it is from.
    pub(super) file: Option<PathBuf>,
    /// The hash of its bytes, which names the file beside the session.
    hash: String,
}

/// The profile as it is named in a session.
pub(super) fn saved_profile(profile: &Profile) -> SavedProfile {
    SavedProfile {
        name: profile.name.clone(),
        file: profile.file.clone(),
        hash: profile.hash.clone(),
    }
}

/// The folder of one desk.
pub(super) struct Store {
    folder: PathBuf,
    /// Held as long as the desk runs.
    _lock: File,
}

impl Store {
    /// The first folder that no other desk has.
    pub(super) fn open(out: &Path) -> io::Result<Self> {
        for number in 1..=MOST {
            let folder = out.join(FOLDER).join(number.to_string());
            create(&folder)?;
            let mut options = OpenOptions::new();
            let options = options.write(true).create(true).truncate(false);
            let lock = options.open(folder.join(LOCK))?;
            match lock.try_lock() {
                Ok(()) => {
                    return Ok(Self {
                        folder,
                        _lock: lock,
                    });
                }
                Err(fs::TryLockError::WouldBlock) => {}
                Err(fs::TryLockError::Error(error)) => return Err(error),
            }
        }
        Err(io::Error::other(format!(
            "{MOST} desks run over this folder of issues already"
        )))
    }

    /// The last session as it was saved, and the work that is offered: that of the last
    /// session where it was open, or of one before it.
    pub(super) fn find(&self) -> (Option<Saved>, Option<(Saved, Option<Profile>)>) {
        let last = self.read(SESSION);
        if last.as_ref().is_some_and(|last| last.open) {
            // Where that fails the work stays where it is, and is offered all the same.
            let _ = fs::rename(self.folder.join(SESSION), self.folder.join(OFFERED));
        }
        let offered = match &last {
            Some(last) if last.open => Some(last.clone()),
            _ => self.read(OFFERED),
        };
        let offered = offered.map(|saved| {
            let profile = saved.profile.as_ref().and_then(|one| self.profile(one));
            (saved, profile)
        });
        (last, offered)
    }

    fn read(&self, name: &str) -> Option<Saved> {
        let bytes = read(&self.folder.join(name), MAX_SESSION)?;
        serde_json::from_slice(&bytes).ok()
    }

    /// A profile, where its bytes are those that were saved.
    fn profile(&self, saved: &SavedProfile) -> Option<Profile> {
        let path = self.folder.join(format!("{PROFILE}{}", saved.hash));
        let bytes = read(&path, u64::try_from(MAX_PROFILE).ok()?)?;
        let profile = Profile::new(saved.name.clone(), bytes, saved.file.clone());
        (profile.hash == saved.hash).then_some(profile)
    }

    /// Nothing is offered any more.
    pub(super) fn forget(&self) {
        // What stays is offered once more.
        let _ = fs::remove_file(self.folder.join(OFFERED));
    }

    /// Saves the work, its profile first; at every moment one whole session is there.
    fn save(&self, saved: &Saved, profile: Option<&Profile>) -> io::Result<()> {
        if let Some((profile, named)) = profile.zip(saved.profile.as_ref()) {
            let path = self.folder.join(format!("{PROFILE}{}", named.hash));
            if fs::symlink_metadata(&path).is_err() {
                self.put(&path, &profile.bytes)?;
            }
        }
        let text = serde_json::to_vec(saved)?;
        self.put(&self.folder.join(SESSION), &text)?;
        self.sweep(saved.profile.as_ref());
        Ok(())
    }

    /// Writes a file through to the disk and puts it in its place.
    fn put(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        // Readable by its owner alone, as every such file is made.
        let mut file = tempfile::Builder::new()
            .prefix(".new-")
            .tempfile_in(&self.folder)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        if cfg!(unix) {
            File::open(&self.folder)?.sync_all()?;
        }
        Ok(())
    }

    /// Takes the profiles away that no session names, and what a crash left.
    fn sweep(&self, used: Option<&SavedProfile>) {
        let offered = self.read(OFFERED).and_then(|saved| saved.profile);
        let keeps = |name: &str| match name.strip_prefix(PROFILE) {
            Some(hash) => used.into_iter().chain(&offered).any(|one| one.hash == hash),
            None => !name.starts_with(".new-"),
        };
        for entry in fs::read_dir(&self.folder).into_iter().flatten().flatten() {
            if entry.file_name().to_str().is_some_and(|name| !keeps(name)) {
                // What cannot be taken away does no harm.
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}

/// A folder that its owner alone reads, as far as the system has such.
fn create(folder: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

/// A plain file that is not too long.
fn read(path: &Path, most: u64) -> Option<Vec<u8>> {
    let about = fs::symlink_metadata(path).ok()?;
    if !about.is_file() || about.len() > most {
        return None;
    }
    let mut bytes = Vec::new();
    let file = File::open(path).ok()?;
    file.take(most).read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

type Work = (Saved, Option<Arc<Profile>>);

/// Saves what it is given last, beside the answers to the pages.
pub(super) struct Saver {
    to: Option<Sender<Work>>,
    thread: Option<thread::JoinHandle<()>>,
    /// Why the last work is not saved.
    fault: Arc<Mutex<Option<String>>>,
}

impl Saver {
    pub(super) fn new(store: io::Result<Arc<Store>>) -> Self {
        let fault = Arc::new(Mutex::new(None));
        let (to, from) = channel();
        let thread = match store {
            Ok(store) => {
                let fault = Arc::clone(&fault);
                Some(thread::spawn(move || save_all(&store, &from, &fault)))
            }
            Err(error) => {
                set(&fault, Some(error.to_string()));
                None
            }
        };
        Self {
            to: thread.is_some().then_some(to),
            thread,
            fault,
        }
    }

    pub(super) fn save(&self, saved: Saved, profile: Option<Arc<Profile>>) {
        if let Some(to) = &self.to {
            // The thread ends with this sender.
            let _ = to.send((saved, profile));
        }
    }

    /// Why the work is not saved, where it is not.
    pub(super) fn fault(&self) -> Option<String> {
        let fault = self.fault.lock();
        fault.unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Waits until all is saved.
    pub(super) fn finish(&mut self) {
        self.to = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Drop for Saver {
    fn drop(&mut self) {
        self.finish();
    }
}

fn set(fault: &Mutex<Option<String>>, to: Option<String>) {
    *fault.lock().unwrap_or_else(PoisonError::into_inner) = to;
}

/// Saves until nothing more comes; what is older than the last is passed over.
fn save_all(store: &Store, from: &Receiver<Work>, fault: &Mutex<Option<String>>) {
    while let Ok(mut work) = from.recv() {
        while let Ok(newer) = from.try_recv() {
            work = newer;
        }
        let (saved, profile) = &work;
        let done = store.save(saved, profile.as_deref());
        set(fault, done.err().map(|error| error.to_string()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn saved(sheet: &str, profile: Option<&Profile>) -> Saved {
        Saved {
            boot: "b".to_owned(),
            token: "t".to_owned(),
            port: 1,
            at_s: 5,
            revision: 3,
            sheet: sheet.to_owned(),
            form: Some(Form::Pilot),
            reach: Reach::To100,
            outputs: vec!["text".to_owned()],
            profile: profile.map(saved_profile),
            open: true,
        }
    }

    fn profile(bytes: &[u8]) -> Profile {
        let file = Some(PathBuf::from("in/p.csv"));
        Profile::new("p.csv".to_owned(), bytes.to_vec(), file)
    }

    fn files(store: &Store) -> Vec<String> {
        let entries = fs::read_dir(&store.folder).unwrap();
        let name = |entry: io::Result<fs::DirEntry>| entry.unwrap().file_name().into_string();
        let mut names: Vec<String> = entries.map(|entry| name(entry).unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn work_is_found_again_until_it_is_forgotten() {
        let place = tempfile::tempdir().unwrap();
        let store = Store::open(place.path()).unwrap();
        assert_eq!(store.find(), (None, None));
        let (one, two) = (profile(b"rows"), profile(b"more rows"));
        let work = saved("a = 1", Some(&one));
        store.save(&work, Some(&one)).unwrap();
        drop(store);
        // After a restart it is offered, also where the new session was saved, and its
        // profile stays beside that of the new one.
        let store = Store::open(place.path()).unwrap();
        assert_eq!(store.find().1, Some((work.clone(), Some(one.clone()))));
        let mut new = saved("a = 2", Some(&two));
        new.open = false;
        store.save(&new, Some(&two)).unwrap();
        assert_eq!(
            store.find(),
            (Some(new.clone()), Some((work, Some(one.clone()))))
        );
        store.forget();
        assert_eq!(store.find(), (Some(new.clone()), None));
        store.save(&new, Some(&two)).unwrap();
        let two_file = format!("{PROFILE}{}", two.hash);
        assert_eq!(files(&store), [LOCK, &two_file, SESSION]);
        // A profile that is damaged is none; a session that is, too.
        new.open = true;
        store.save(&new, Some(&two)).unwrap();
        fs::write(store.folder.join(&two_file), "other rows").unwrap();
        assert_eq!(store.find().1, Some((new, None)));
        fs::write(store.folder.join(OFFERED), "{").unwrap();
        assert_eq!(store.find(), (None, None));
    }

    #[test]
    fn two_desks_have_a_folder_each() {
        let place = tempfile::tempdir().unwrap();
        let one = Store::open(place.path()).unwrap();
        let two = Store::open(place.path()).unwrap();
        assert_ne!(one.folder, two.folder);
        drop(one);
        let again = Store::open(place.path()).unwrap();
        assert!(again.folder.ends_with("1"));
    }

    #[test]
    fn the_last_work_is_saved_and_a_fault_is_reported() {
        let place = tempfile::tempdir().unwrap();
        let store = Arc::new(Store::open(place.path()).unwrap());
        let mut saver = Saver::new(Ok(Arc::clone(&store)));
        for number in 0..50 {
            saver.save(saved(&number.to_string(), None), None);
        }
        saver.finish();
        assert_eq!(saver.fault(), None);
        assert_eq!(store.read(SESSION).unwrap().sheet, "49");
        // A folder that is gone cannot be written, as a full disk cannot.
        let mut saver = Saver::new(Ok(Arc::clone(&store)));
        fs::remove_dir_all(&store.folder).unwrap();
        saver.save(saved("50", None), None);
        saver.finish();
        assert!(saver.fault().is_some());
        assert!(Saver::new(Err(io::Error::other("full"))).fault().is_some());
    }
}
