//! Sharing through WIS2: the file and its notification side by side in a folder,
//! then, only when a broker is named, the notification to that broker.

#[cfg(test)]
mod tests;

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::DateTime;

use super::Stop;
use super::flight::put;
use super::output::hidden;
use crate::forms::wis2;
use crate::forms::wis2::Publication;
use crate::model::finding::shown_path;
use crate::model::{Report, utc};

/// What sharing needs besides the sheet.
#[derive(Args, Default)]
#[command(next_help_heading = "WIS2")]
pub(super) struct ShareArgs {
    /// Time of publication in the WIS2 notification, UTC, such as
    /// 2031-01-15T13:05:00Z
    #[arg(long, value_name = "TIME", value_parser = pubtime)]
    pubtime: Option<DateTime>,
    /// Publish the notification to this broker, and to no other:
    /// mqtts://[USER@]HOST[:PORT] or mqtt://[USER@]HOST[:PORT]
    #[arg(long, value_name = "BROKER")]
    #[cfg_attr(not(feature = "mqtt"), arg(hide = true))]
    publish: Option<String>,
    /// File that holds the password of the broker's user
    #[arg(long, value_name = "FILE", requires = "publish")]
    #[cfg_attr(not(feature = "mqtt"), arg(hide = true))]
    password_file: Option<PathBuf>,
    /// File of certificates (PEM), the only ones trusted to sign the broker's (default:
    /// those of the operating system)
    #[arg(long, value_name = "FILE", requires = "publish")]
    #[cfg_attr(not(feature = "mqtt"), arg(hide = true))]
    ca_file: Option<PathBuf>,
}

impl ShareArgs {
    /// Refuses what only `--to wis2` takes where something else is written.
    pub(super) fn only_with(&self, wis2: bool) -> Result<(), Stop> {
        let given = [
            (self.pubtime.is_some(), "--pubtime"),
            (self.publish.is_some(), "--publish"),
        ];
        match given.into_iter().find(|(given, _)| *given && !wis2) {
            Some((_, name)) => Err(Stop::usage(format!("{name} is for --to wis2"))),
            None => Ok(()),
        }
    }
}

fn pubtime(text: &str) -> Result<DateTime, String> {
    utc::parse(text).ok_or_else(|| "a time in UTC such as 2031-01-15T13:05:00Z is expected".into())
}

/// Writes a BUFR file and its notification into a folder, prints the topic and
/// the notification's path on one line, and publishes when a broker is named.
///
/// The notification comes last, so that nothing tells of a file that is not
/// there. Neither takes the place of another file; the same octets under the same
/// name are left, so that a run that could not publish can be repeated.
pub(super) fn share(
    report: &Report,
    bufr: &[u8],
    args: &ShareArgs,
    folder: &Path,
) -> Result<(), Stop> {
    let Some(pubtime) = args.pubtime else {
        return Err(Stop::usage(
            "--pubtime: a notification needs its time of publication, such as --pubtime 2031-01-15T13:05:00Z",
        ));
    };
    if folder == Path::new("-") {
        return Err(Stop::usage(
            "--output: file and notification are two files; name a folder for them",
        ));
    }
    // What cannot be published is said before anything is written.
    let outlet = Outlet::of(args)?;
    let publication = Publication {
        pubtime,
        update: report.context.bufr.update.unwrap_or(0),
    };
    let share = wis2::share(report, bufr, &publication).map_err(Stop::data)?;
    let notification = share.notification.to_string();
    let path = folder.join(format!("{}.json", share.stem));
    place(&[
        (folder.join(share.file_name()), bufr),
        (path.clone(), notification.as_bytes()),
    ])?;
    put(
        Path::new("-"),
        format!("{} {}\n", share.topic, path.display()).as_bytes(),
    )?;
    outlet.publish(&share)
}

/// Puts files where they belong, in their order, each written atomically.
///
/// When one cannot be put, those put before it are taken away again.
fn place(files: &[(PathBuf, &[u8])]) -> Result<(), Stop> {
    let mut staged = Vec::new();
    for (path, octets) in files {
        if !stands(path, octets)? {
            let file = stage(path, octets).map_err(|e| Stop::io(path, &e))?;
            staged.push((path, file));
        }
    }
    let mut placed: Vec<&Path> = Vec::new();
    for (path, file) in staged {
        if let Err(error) = file.persist_noclobber(path) {
            for path in placed {
                // Nothing more can be done if that fails.
                let _ = std::fs::remove_file(path);
            }
            return Err(match error.error.kind() {
                io::ErrorKind::AlreadyExists => other_content(path),
                _ => Stop::io(path, &error.error),
            });
        }
        placed.push(path);
    }
    Ok(())
}

/// Whether a file is there already with these octets; with others it is an error.
fn stands(path: &Path, octets: &[u8]) -> Result<bool, Stop> {
    match std::fs::symlink_metadata(path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(e) => Err(Stop::io(path, &e)),
        Ok(found) if !found.is_file() => Err(other_content(path)),
        Ok(found) if usize::try_from(found.len()).is_ok_and(|n| n != octets.len()) => {
            Err(other_content(path))
        }
        Ok(_) => match std::fs::read(path) {
            Ok(found) if found == octets => Ok(true),
            Ok(_) => Err(other_content(path)),
            Err(e) => Err(Stop::io(path, &e)),
        },
    }
}

fn other_content(path: &Path) -> Stop {
    Stop::data(format!(
        "{}: there already, and not the same; nothing shared is written over: a correction has the next bufr.update",
        shown_path(path)
    ))
}

/// A hidden file beside the place where it will stand.
fn stage(path: &Path, octets: &[u8]) -> io::Result<tempfile::NamedTempFile> {
    let mut file = hidden(path.parent().unwrap_or(Path::new(".")))?;
    file.write_all(octets)?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// Where notifications go: nowhere, or to the broker that was named.
#[cfg(not(feature = "mqtt"))]
struct Outlet;

#[cfg(not(feature = "mqtt"))]
impl Outlet {
    fn of(args: &ShareArgs) -> Result<Self, Stop> {
        if args.publish.is_some() {
            return Err(Stop::usage(
                "--publish: this build cannot publish; build with `--features mqtt`, or give the file to your node's own means",
            ));
        }
        Ok(Self)
    }

    fn publish(&self, _: &wis2::Share) -> Result<(), Stop> {
        Ok(())
    }
}

/// Where notifications go: nowhere, or to the broker that was named.
#[cfg(feature = "mqtt")]
struct Outlet(Option<Named>);

/// A broker, and what it asks for.
#[cfg(feature = "mqtt")]
struct Named {
    broker: wis2::publish::Broker,
    password: Option<String>,
    ca_pem: Option<Vec<u8>>,
}

#[cfg(feature = "mqtt")]
impl Outlet {
    fn of(args: &ShareArgs) -> Result<Self, Stop> {
        let Some(url) = &args.publish else {
            return Ok(Self(None));
        };
        let broker = wis2::publish::Broker::parse(url);
        let broker = broker.map_err(|e| Stop::usage(format!("--publish: {e}")))?;
        let password = args.password_file.as_deref().map(password).transpose()?;
        if password.is_some() && broker.is_open() {
            let what = format!("{broker}: the password is sent unencrypted; mqtts:// encrypts it");
            super::Line::new(crate::model::finding::Severity::Warning, &what).print();
        }
        let ca_pem = args.ca_file.as_deref();
        let ca_pem = ca_pem.map(|path| super::bounded::get(path, super::bounded::MAX_SMALL));
        let ca_pem = ca_pem.transpose()?;
        let named = Named {
            broker,
            password,
            ca_pem,
        };
        named.access().check(&named.broker).map_err(Stop::usage)?;
        Ok(Self(Some(named)))
    }

    fn publish(&self, share: &wis2::Share) -> Result<(), Stop> {
        let Some(named) = &self.0 else {
            return Ok(());
        };
        wis2::publish::publish(&named.broker, &named.access(), share).map_err(|error| Stop {
            code: 3,
            lines: vec![
                error.to_string(),
                "not published; both files are in place: the same command tries again".to_owned(),
            ],
        })
    }
}

#[cfg(feature = "mqtt")]
impl Named {
    fn access(&self) -> wis2::publish::Access<'_> {
        wis2::publish::Access {
            password: self.password.as_deref(),
            ca_pem: self.ca_pem.as_deref(),
        }
    }
}

/// The password in a file: its one line.
#[cfg(feature = "mqtt")]
fn password(path: &Path) -> Result<String, Stop> {
    let name = shown_path(path);
    let text = super::bounded::text(path, super::bounded::MAX_SMALL)?;
    let line = text.strip_suffix('\n').unwrap_or(&text);
    let line = line.strip_suffix('\r').unwrap_or(line);
    if line.is_empty() || line.contains(['\n', '\r']) {
        return Err(Stop::data(format!(
            "{name}: a password file is one line that is not empty"
        )));
    }
    Ok(line.to_owned())
}
