//! Where a product goes: standard output, a file that is replaced as a whole, or what is
//! no regular file (a device, a named pipe), which is written through.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};

use super::Stop;
use crate::issue::outputs::Output;

/// The most links that are followed from a path; Linux follows as many (path_resolution(7)).
const MAX_LINKS: usize = 40;

/// Where a product goes piece by piece.
pub(super) struct Sink {
    path: PathBuf,
    to: To,
}

enum To {
    Standard(io::BufWriter<io::Stdout>),
    /// A file that stands beside its place until it is complete, and the place.
    File(io::BufWriter<tempfile::NamedTempFile>, PathBuf),
    /// A device or a named pipe.
    Through(io::BufWriter<File>),
    /// The reader of the pipe is gone.
    Closed,
}

impl Sink {
    pub(super) fn open(path: &Path) -> Result<Self, Stop> {
        let to = match place(path) {
            Ok(Place::Standard) => Ok(To::Standard(io::BufWriter::new(io::stdout()))),
            Ok(Place::File(place)) => {
                let file = hidden(folder(&place));
                file.map(|file| To::File(io::BufWriter::new(file), place))
            }
            Ok(Place::Through) => {
                // Another descriptor of this process may stand in a file already.
                let mut options = OpenOptions::new();
                let opened = match fs::metadata(path).is_ok_and(|about| about.is_file()) {
                    true => options.append(true).open(path),
                    false => options.write(true).open(path),
                };
                opened.map(|file| To::Through(io::BufWriter::new(file)))
            }
            Err(error) => Err(error),
        };
        Ok(Self {
            path: path.to_owned(),
            to: to.map_err(|error| Stop::io(path, &error))?,
        })
    }

    pub(super) fn write(&mut self, text: &str) -> Result<(), Stop> {
        self.write_bytes(text.as_bytes())
    }

    pub(super) fn write_bytes(&mut self, octets: &[u8]) -> Result<(), Stop> {
        let written = match &mut self.to {
            To::Standard(out) => out.write_all(octets),
            To::File(out, _) => out.write_all(octets),
            To::Through(out) => out.write_all(octets),
            To::Closed => Ok(()),
        };
        self.quietly(written)
    }

    /// A closed pipe ends quietly.
    fn quietly(&mut self, result: io::Result<()>) -> Result<(), Stop> {
        match result {
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => {
                self.to = To::Closed;
                Ok(())
            }
            Err(e) => Err(Stop::io(&self.path, &e)),
            Ok(()) => Ok(()),
        }
    }

    /// What is held back goes out.
    pub(super) fn flush(&mut self) -> Result<(), Stop> {
        let flushed = match &mut self.to {
            To::Standard(out) => out.flush(),
            To::Through(out) => out.flush(),
            To::File(..) | To::Closed => Ok(()),
        };
        self.quietly(flushed)
    }

    /// Whether nobody reads any more.
    pub(super) fn is_closed(&self) -> bool {
        matches!(self.to, To::Closed)
    }

    pub(super) fn close(mut self) -> Result<(), Stop> {
        if let To::Standard(_) | To::Through(_) = &self.to {
            return self.flush();
        }
        if let To::File(out, place) = std::mem::replace(&mut self.to, To::Closed) {
            let write = || -> io::Result<()> {
                let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
                file.as_file().sync_all()?;
                file.persist(&place).map_err(|e| e.error)?;
                Ok(())
            };
            write().map_err(|e| Stop::io(&self.path, &e))?;
        }
        Ok(())
    }
}

/// Writes a file that does not exist yet, atomically; standard output for `-`.
pub(super) fn create(path: &Path, text: &str) -> Result<(), Stop> {
    if path == Path::new("-") {
        return super::put(path, text.as_bytes());
    }
    let write = || -> io::Result<()> {
        let mut file = hidden(folder(path))?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist_noclobber(path).map_err(|e| e.error)?;
        Ok(())
    };
    write().map_err(|error| Stop::io(path, &error))
}

/// What a path leads to.
#[derive(Debug, PartialEq)]
enum Place {
    Standard,
    /// A regular file, or none yet, with the links on the way to it followed: the file
    /// is replaced, not the link.
    File(PathBuf),
    /// Anything else, which is opened and written.
    Through,
}

/// Finds what a path leads to, through links that lead nowhere yet as well.
fn place(path: &Path) -> io::Result<Place> {
    if path == Path::new("-") {
        return Ok(Place::Standard);
    }
    let mut at = path.to_owned();
    for _ in 0..MAX_LINKS {
        // Links into the descriptors of a process (proc(5)) lead to open files.
        if ["/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"]
            .map(Path::new)
            .contains(&&*at)
        {
            return Ok(Place::Standard);
        }
        let about = match fs::symlink_metadata(&at) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Place::File(at)),
            about => about?,
        };
        if about.is_dir() {
            let what = "it is a folder; name a file in it";
            return Err(io::Error::new(io::ErrorKind::IsADirectory, what));
        }
        if !about.is_symlink() {
            return Ok(match about.is_file() {
                true => Place::File(at),
                false => Place::Through,
            });
        }
        if at.starts_with("/proc") || at.starts_with("/dev/fd") {
            return Ok(Place::Through);
        }
        at = folder(&at).join(fs::read_link(&at)?);
    }
    Err(io::Error::other("too many links one after the other"))
}

/// A hidden file in the folder where it will stand, for all whom the umask lets.
pub(super) fn hidden(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".fivefig-");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// The folder of a path.
fn folder(path: &Path) -> &Path {
    path.parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// Reads the name of an output that is allowed here.
pub(super) fn outputs(allowed: impl Fn(Output) -> bool) -> impl TypedValueParser<Value = Output> {
    let outputs = Output::ALL.iter().filter(|output| allowed(**output));
    let names = outputs.map(|output| PossibleValue::new(output.name()).help(output.help()));
    let names = PossibleValuesParser::new(names);
    // Every name that the parser lets through is that of an output.
    names.map(|name| Output::from_name(&name).unwrap_or(Output::Text))
}
