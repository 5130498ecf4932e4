//! The OpenSSH client of the machine, in batch mode: no password is asked for, the key
//! and the keys of hosts are those of the sheet, and no other host is trusted.

use std::io::{Read as _, Write as _};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use super::carrier::{Carrier, Failure, LIMIT, Presence, small};
use crate::app::spool::alarm::kill;
use crate::issue::flat::FlatFile;
use crate::model::Means;

/// How often the client is looked after.
const LOOK: Duration = Duration::from_millis(20);

/// The most octets that are kept of what the client prints.
const MOST: u64 = 1 << 16;

/// How many of its last lines say why it failed.
const SHOWN: usize = 3;

/// Exit code of the client when there is no connection; 1 when a command failed.
const NO_CONNECTION: i32 = 255;

struct Sftp {
    arguments: Vec<String>,
    /// What stands before the name of a file there.
    folder: String,
}

/// The way to a target of that kind.
pub(super) fn carrier(means: &Means) -> Result<Box<dyn Carrier>, String> {
    let Means::Sftp {
        host,
        port,
        user,
        key_file,
        known_hosts_file,
        folder,
    } = means
    else {
        return Err("it is not of kind sftp".to_owned());
    };
    for path in [key_file, known_hosts_file] {
        small(path)?;
    }
    let mut arguments: Vec<String> = ["-b", "-"].map(str::to_owned).into();
    let options = [
        "BatchMode=yes".to_owned(),
        "IdentitiesOnly=yes".to_owned(),
        "StrictHostKeyChecking=yes".to_owned(),
        "GlobalKnownHostsFile=/dev/null".to_owned(),
        "ConnectTimeout=15".to_owned(),
        "ServerAliveInterval=10".to_owned(),
        "ServerAliveCountMax=3".to_owned(),
        format!("IdentityFile={}", quoted(key_file)),
        format!("UserKnownHostsFile={}", quoted(known_hosts_file)),
        format!("User={user}"),
    ];
    // The client's own settings hold nothing that the sheet does not say.
    arguments.extend(["-F".to_owned(), "/dev/null".to_owned()]);
    for option in options {
        arguments.extend(["-o".to_owned(), option]);
    }
    if let Some(port) = port {
        arguments.extend(["-P".to_owned(), port.to_string()]);
    }
    let is_address = host.contains(':');
    let host = if is_address {
        format!("[{host}]")
    } else {
        host.clone()
    };
    arguments.extend(["--".to_owned(), host]);
    let folder = match folder {
        Some(folder) => format!("{}/", folder.trim_end_matches('/')),
        None => String::new(),
    };
    Ok(Box::new(Sftp { arguments, folder }))
}

/// A path as a value of an option: blanks in it separate no values, and a percent sign
/// begins nothing.
fn quoted(path: &str) -> String {
    format!("\"{}\"", path.replace('%', "%%"))
}

impl Sftp {
    /// Runs commands; what was printed, or why not.
    fn run(
        &self,
        commands: &str,
        folder: &std::path::Path,
        end: &AtomicBool,
    ) -> Result<Ran, String> {
        let mut command = Command::new("sftp");
        command.args(&self.arguments).current_dir(folder);
        command.stdin(Stdio::piped());
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn().map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => {
                "the program sftp is not there; install the OpenSSH client".to_owned()
            }
            _ => format!("sftp: {error}"),
        })?;
        if let Some(mut to) = child.stdin.take() {
            // One that ends before it has read says why by its exit code.
            let _ = to.write_all(commands.as_bytes());
        }
        let printed = [child.stdout.take().map(read), child.stderr.take().map(read)];
        let status = wait(&mut child, end)?;
        let [out, errors] = printed.map(|text| {
            let text = text.and_then(|thread| thread.join().ok());
            text.unwrap_or_default()
        });
        let lines = errors.lines().map(str::trim);
        let lines: Vec<&str> = lines.filter(|line| !line.is_empty()).collect();
        let last = lines.get(lines.len().saturating_sub(SHOWN)..);
        Ok(Ran {
            code: status.code(),
            out,
            last: match last {
                None | Some([]) => "sftp gave no reason".to_owned(),
                Some(lines) => lines.join("; "),
            },
        })
    }
}

/// What a run of the client gave.
struct Ran {
    code: Option<i32>,
    out: String,
    /// The last lines of its errors.
    last: String,
}

impl Ran {
    /// Why it failed, and what to look at.
    fn failure(&self) -> Failure {
        let advice = match self.code {
            Some(NO_CONNECTION) => "check host, port, user, key_file and known_hosts_file",
            _ => "check folder, and the room and rights there",
        };
        Failure::unsure(format!("{}; {advice}", self.last))
    }
}

fn read(from: impl std::io::Read + Send + 'static) -> thread::JoinHandle<String> {
    thread::spawn(move || {
        let mut octets = Vec::new();
        // What cannot be read is not shown.
        let _ = from.take(MOST).read_to_end(&mut octets);
        String::from_utf8_lossy(&octets).into_owned()
    })
}

fn wait(child: &mut Child, end: &AtomicBool) -> Result<ExitStatus, String> {
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Err(error) => return Err(format!("sftp: {error}")),
            Ok(Some(status)) => return Ok(status),
            Ok(None) if end.load(Ordering::Relaxed) => {
                kill(child);
                return Err("the process ends".to_owned());
            }
            Ok(None) if start.elapsed() > LIMIT => {
                kill(child);
                let limit = LIMIT.as_secs();
                return Err(format!("it took more than {limit} s and was ended"));
            }
            Ok(None) => thread::sleep(LOOK),
        }
    }
}

impl Carrier for Sftp {
    fn send(&self, file: &FlatFile, end: &AtomicBool) -> Result<(), Failure> {
        let staged = tempfile::tempdir().map_err(Failure::certain)?;
        let name = &file.name;
        std::fs::write(staged.path().join(name), &file.octets).map_err(Failure::certain)?;
        let folder = &self.folder;
        let commands = format!(
            "put \"{name}\" \"{folder}{name}.tmp\"\nrename \"{folder}{name}.tmp\" \"{folder}{name}\"\n"
        );
        let ran = self.run(&commands, staged.path(), end);
        match ran.map_err(Failure::unsure)? {
            Ran { code: Some(0), .. } => Ok(()),
            ran => Err(ran.failure()),
        }
    }

    fn look(&self, file: &FlatFile, end: &AtomicBool) -> Result<Presence, Failure> {
        let commands = format!("ls -ln \"{}{}\"\n", self.folder, file.name);
        let ran = self.run(&commands, std::path::Path::new("/"), end);
        let ran = ran.map_err(Failure::unsure)?;
        match ran.code {
            Some(0) => {
                // Mode, links, owner, group, length, as ls(1) has them.
                let lines = ran.out.lines().filter(|line| line.starts_with('-'));
                let length = lines
                    .filter_map(|line| line.split_whitespace().nth(4))
                    .next_back();
                let length = length.and_then(|length| length.parse::<usize>().ok());
                Ok(match length == Some(file.octets.len()) {
                    true => Presence::There,
                    false => Presence::Absent,
                })
            }
            Some(NO_CONNECTION) | None => Err(ran.failure()),
            Some(_) => Ok(Presence::Absent),
        }
    }
}
