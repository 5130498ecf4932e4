//! Where a product goes: standard output, or a file that is there whole or not at
//! all.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::Stop;
#[cfg(any(feature = "desk", feature = "spool"))]
use crate::product::issue::Output;

/// Where a product goes piece by piece: standard output, or a file that is there
/// whole or not at all.
pub(super) struct Sink {
    path: PathBuf,
    to: To,
}

enum To {
    Standard(io::BufWriter<io::Stdout>),
    File(io::BufWriter<tempfile::NamedTempFile>),
    /// The reader of the pipe is gone.
    Closed,
}

impl Sink {
    pub(super) fn open(path: &Path) -> Result<Self, Stop> {
        let to = if path == Path::new("-") {
            To::Standard(io::BufWriter::new(io::stdout()))
        } else {
            let file = hidden(folder(path));
            To::File(io::BufWriter::new(file.map_err(|e| Stop::io(path, &e))?))
        };
        Ok(Self {
            path: path.to_owned(),
            to,
        })
    }

    pub(super) fn write(&mut self, text: &str) -> Result<(), Stop> {
        self.write_bytes(text.as_bytes())
    }

    pub(super) fn write_bytes(&mut self, octets: &[u8]) -> Result<(), Stop> {
        let written = match &mut self.to {
            To::Standard(out) => out.write_all(octets),
            To::File(out) => out.write_all(octets),
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
            To::File(_) | To::Closed => Ok(()),
        };
        self.quietly(flushed)
    }

    /// Whether nobody reads any more.
    pub(super) fn is_closed(&self) -> bool {
        matches!(self.to, To::Closed)
    }

    pub(super) fn close(mut self) -> Result<(), Stop> {
        match std::mem::replace(&mut self.to, To::Closed) {
            To::Standard(mut out) => {
                let flushed = out.flush();
                self.quietly(flushed)
            }
            To::File(out) => {
                let write = || -> io::Result<()> {
                    let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
                    file.as_file().sync_all()?;
                    file.persist(&self.path).map_err(|e| e.error)?;
                    Ok(())
                };
                write().map_err(|e| Stop::io(&self.path, &e))
            }
            To::Closed => Ok(()),
        }
    }
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

/// A form that is issued into a folder.
#[cfg(any(feature = "desk", feature = "spool"))]
#[derive(Clone, Copy, clap::ValueEnum)]
pub(super) enum IssuedForm {
    /// The symbolic code
    Text,
    /// The same under its headings
    Bulletin,
    /// A JSON document
    Json,
    /// BUFR edition 4
    Bufr,
    /// The review sheet
    Html,
}

#[cfg(any(feature = "desk", feature = "spool"))]
impl From<IssuedForm> for Output {
    fn from(form: IssuedForm) -> Self {
        match form {
            IssuedForm::Text => Self::Text,
            IssuedForm::Bulletin => Self::Bulletin,
            IssuedForm::Json => Self::Json,
            IssuedForm::Bufr => Self::Bufr,
            IssuedForm::Html => Self::Html,
        }
    }
}
