//! The outputs of an issue as files that stand by themselves: their names, and how each
//! is written (WMO-No. 386 Att. II-15: under a name that ends in `.tmp`, then renamed).

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use jiff::civil::DateTime;

use super::folder::{FolderError, Name, io_error, sync_folder};
use super::output::Output;
use crate::forms::gts;
use crate::forms::gts::{Bulletin, LAST_NUMBER};
use crate::model::FileNames;

/// The file of the running numbers of a folder, and the one that locks it.
const NUMBERS: &str = ".running-number";
const LOCK: &str = ".running-number.lock";

/// A file that stands by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlatFile {
    /// Its name.
    pub name: String,
    /// Its octets.
    pub octets: Vec<u8>,
}

/// Whether an output has names by a convention: those of headings need a heading, a
/// running number stands for a file of messages.
#[must_use]
pub fn fits(output: Output, names: FileNames) -> bool {
    let bulletins = matches!(output, Output::Bulletin | Output::BufrBulletin);
    match names {
        FileNames::Gts => bulletins || output == Output::Gts,
        FileNames::Sequence => output == Output::Gts,
        FileNames::Issue => output == Output::Gts || output.file().is_some(),
    }
}

/// Bulletins of an issue as one file of messages with their lengths.
#[must_use]
pub fn gathered(bulletins: &[&[u8]]) -> Vec<u8> {
    let all = bulletins.iter().flat_map(|octets| gts::bulletins(octets));
    all.flat_map(|bulletin| gts::framed(&bulletin)).collect()
}

/// The name of an output by issue and output.
#[must_use]
pub fn own_name(issue: &Name, output: Output) -> String {
    format!("{issue}.{}", output.file_or_name())
}

/// The files of outputs under their names; `made` is the time in the names, UTC, and
/// `number` gives the next running number. An output without a bulletin in it, or one
/// that the convention has no name for, gives no file.
///
/// # Errors
/// There is no running number to be had.
pub fn files(
    issue: &Name,
    outputs: &[(Output, &[u8])],
    names: FileNames,
    made: DateTime,
    number: &mut dyn FnMut() -> Result<u32, FolderError>,
) -> Result<Vec<FlatFile>, FolderError> {
    let mut out = Vec::new();
    for (output, octets) in outputs.iter().filter(|(output, _)| fits(*output, names)) {
        let (framed, _) = gts::messages(octets);
        match names {
            FileNames::Issue => out.push(FlatFile {
                name: own_name(issue, *output),
                octets: octets.to_vec(),
            }),
            FileNames::Sequence => {
                let framed = framed.iter();
                let bulletins: Vec<Bulletin<'_>> = framed.filter_map(|f| f.bulletin()).collect();
                if let Some(first) = bulletins.first() {
                    out.push(FlatFile {
                        name: gts::running(&first.heading.centre, number()?, &bulletins),
                        octets: octets.to_vec(),
                    });
                }
            }
            FileNames::Gts if *output == Output::Gts => {
                for bulletin in framed.iter().filter_map(|framed| framed.bulletin()) {
                    out.push(FlatFile {
                        name: gts::general(&bulletin, made),
                        octets: gts::framed(&bulletin),
                    });
                }
            }
            FileNames::Gts => {
                for bulletin in gts::bulletins(octets) {
                    out.push(FlatFile {
                        name: gts::general(&bulletin, made),
                        octets: bulletin.octets.to_vec(),
                    });
                }
            }
        }
    }
    Ok(out)
}

/// Puts a file into a folder: under its name with `.tmp` at the end, written through to
/// the disk, then renamed. A file of that name with the same octets is left as it is.
///
/// # Errors
/// Another file of that name is there, or it cannot be written.
pub fn put(folder: &Path, file: &FlatFile) -> Result<PathBuf, FolderError> {
    let path = folder.join(&file.name);
    let temporary = folder.join(format!("{}.tmp", file.name));
    let fault = |error| io_error(&temporary, error);
    match fs::symlink_metadata(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Err(error) => return Err(io_error(&path, error)),
        Ok(_) if stands(&path, &file.octets)? => return Ok(path),
        Ok(_) => return Err(FolderError::Issued(path)),
    }
    let write = || -> io::Result<()> {
        let mut to = File::create(&temporary)?;
        to.write_all(&file.octets)?;
        to.sync_all()
    };
    if let Err(error) = write() {
        // Nothing more can be done if that fails; it says by its name that it is not whole.
        let _ = fs::remove_file(&temporary);
        return Err(fault(error));
    }
    fs::rename(&temporary, &path).map_err(fault)?;
    sync_folder(folder)?;
    Ok(path)
}

/// Whether a file is there as a whole with these octets.
///
/// # Errors
/// It cannot be read.
pub fn stands(path: &Path, octets: &[u8]) -> Result<bool, FolderError> {
    match fs::symlink_metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(error) => Err(io_error(path, error)),
        Ok(about) if !about.is_file() => Ok(false),
        Ok(about) if usize::try_from(about.len()).is_ok_and(|n| n != octets.len()) => Ok(false),
        Ok(_) => {
            let there = fs::read(path).map_err(|error| io_error(path, error))?;
            Ok(there == octets)
        }
    }
}

/// The running numbers of a folder: each is taken once, whenever the process ends. A new
/// folder begins with 0, which says that counting starts (WMO-No. 386 Att. II-15).
#[derive(Clone, Debug)]
pub struct Numbers {
    folder: PathBuf,
}

impl Numbers {
    /// Those of a folder.
    #[must_use]
    pub fn of(folder: &Path) -> Self {
        Self {
            folder: folder.to_owned(),
        }
    }

    /// Takes the next number; it is written down before it is given out, so that a kill
    /// may leave a number out and never gives one twice.
    ///
    /// # Errors
    /// The file of the last number cannot be read, understood or written.
    pub fn take(&self) -> Result<u32, FolderError> {
        let path = self.folder.join(NUMBERS);
        let lock = self.folder.join(LOCK);
        let locked = File::create(&lock).and_then(|file| file.lock().map(|()| file));
        let _lock = locked.map_err(|error| io_error(&lock, error))?;
        let next = match fs::read_to_string(&path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => 0,
            Err(error) => return Err(io_error(&path, error)),
            Ok(text) => match text.trim().parse::<u32>() {
                Ok(last) if last <= LAST_NUMBER => gts::next_number(last),
                _ => {
                    let what = "one running number from 0 to 99999999 is expected; write the last that was used".to_owned();
                    return Err(FolderError::Unread { path, what });
                }
            },
        };
        let new = self.folder.join(format!("{NUMBERS}.new"));
        let write = || -> io::Result<()> {
            let mut to = File::create(&new)?;
            to.write_all(format!("{next}\n").as_bytes())?;
            to.sync_all()?;
            fs::rename(&new, &path)
        };
        write().map_err(|error| io_error(&path, error))?;
        sync_folder(&self.folder)?;
        Ok(next)
    }
}

#[cfg(test)]
mod tests {
    #![allow(
        clippy::unwrap_used,
        clippy::indexing_slicing,
        reason = "a test stops at the first fault"
    )]

    use super::*;
    use jiff::civil::date;

    const TEXT: &[u8] =
        b"USXX01 ABCD 151200\r\r\nTTAA 65121 99011 NIL=\r\r\nUKXX01 ABCD 151200\r\r\nTTBB 65128 99011 NIL=\r\r\n";

    fn named(output: Output, octets: &[u8], names: FileNames) -> Vec<FlatFile> {
        let issue = Name::parse("0-20000-0-99011_203101151200_temp-nil").unwrap();
        let made = date(2031, 1, 15).at(14, 30, 0, 0);
        files(&issue, &[(output, octets)], names, made, &mut || Ok(41)).unwrap()
    }

    #[test]
    fn each_convention_has_its_files() {
        let framed = gathered(&[TEXT]);
        let files = named(Output::Bulletin, TEXT, FileNames::Gts);
        let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
        assert_eq!(
            names,
            [
                "A_USXX01ABCD151200_C_ABCD_20310115143000.txt",
                "A_UKXX01ABCD151200_C_ABCD_20310115143000.txt"
            ]
        );
        let both: Vec<u8> = files.into_iter().flat_map(|file| file.octets).collect();
        assert_eq!(both, TEXT);
        let files = named(Output::Gts, &framed, FileNames::Gts);
        assert_eq!(files.len(), 2);
        let both: Vec<u8> = files.into_iter().flat_map(|file| file.octets).collect();
        assert_eq!(both, framed);
        let files = named(Output::Gts, &framed, FileNames::Sequence);
        assert_eq!(
            files,
            [FlatFile {
                name: "ABCD00000041.a".to_owned(),
                octets: framed.clone()
            }]
        );
        let files = named(Output::Bulletin, TEXT, FileNames::Issue);
        assert_eq!(
            files[0].name,
            "0-20000-0-99011_203101151200_temp-nil.bulletin.txt"
        );
        assert!(named(Output::Bulletin, TEXT, FileNames::Sequence).is_empty());
    }

    #[test]
    fn a_file_is_put_once() {
        let folder = tempfile::tempdir().unwrap();
        let mut file = FlatFile {
            name: "a.txt".to_owned(),
            octets: b"1".to_vec(),
        };
        // What an attempt that was cut left is written anew.
        fs::write(folder.path().join("a.txt.tmp"), "half of").unwrap();
        let path = put(folder.path(), &file).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"1");
        assert_eq!(put(folder.path(), &file).unwrap(), path);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        file.octets = b"2".to_vec();
        assert!(matches!(
            put(folder.path(), &file),
            Err(FolderError::Issued(_))
        ));
        assert_eq!(fs::read(&path).unwrap(), b"1");
    }

    #[test]
    fn a_running_number_is_taken_once() {
        let folder = tempfile::tempdir().unwrap();
        let numbers = || Numbers::of(folder.path()).take();
        assert_eq!([numbers().unwrap(), numbers().unwrap()], [0, 1]);
        // Killed while the next was being written down.
        fs::write(folder.path().join(".running-number.new"), "").unwrap();
        assert_eq!(numbers().unwrap(), 2);
        // Several at a time.
        let mut all: Vec<u32> = std::thread::scope(|scope| {
            let threads: Vec<_> = (0..8)
                .map(|_| scope.spawn(|| [(); 5].map(|()| numbers().unwrap())))
                .collect();
            threads
                .into_iter()
                .flat_map(|t| t.join().unwrap())
                .collect()
        });
        all.sort_unstable();
        assert_eq!(all, (3..43).collect::<Vec<_>>());
        let path = folder.path().join(".running-number");
        fs::write(&path, "99999999").unwrap();
        assert_eq!(numbers().unwrap(), 1);
        fs::write(&path, "many").unwrap();
        let error = numbers().unwrap_err().to_string();
        assert!(error.contains("write the last that was used"), "{error}");
    }
}
