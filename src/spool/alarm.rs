//! The alarm: a program of the station's that is told of every issue and refusal.

use std::ffi::OsString;
use std::io::Write as _;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// How long the program may take.
const LIMIT: Duration = Duration::from_secs(30);

/// How often it is looked after.
const LOOK: Duration = Duration::from_millis(20);

/// Runs the program with its own arguments, then the event and the path; the text goes
/// to its standard input. No shell is involved.
///
/// # Errors
/// In words: it cannot be started, fails, or takes too long (and is ended then).
pub(super) fn give(argv: &[OsString], event: &str, path: &str, text: &str) -> Result<(), String> {
    let Some((program, own)) = argv.split_first() else {
        return Ok(());
    };
    let named = program.to_string_lossy();
    let mut command = Command::new(program);
    command.args(own).arg(event).arg(path);
    command.stdin(Stdio::piped()).stdout(Stdio::null());
    let mut child = command
        .spawn()
        .map_err(|error| format!("{named}: {error}"))?;
    if let Some(mut to) = child.stdin.take() {
        // One that does not read holds nobody up, and is none the worse.
        let text = text.to_owned();
        thread::spawn(move || to.write_all(text.as_bytes()));
    }
    wait(&mut child).map_err(|what| format!("{named}: {what}"))
}

fn wait(child: &mut Child) -> Result<(), String> {
    let start = Instant::now();
    loop {
        match child.try_wait().map_err(|error| error.to_string())? {
            Some(status) if status.success() => return Ok(()),
            Some(status) => return Err(format!("it ended with {status}")),
            None if start.elapsed() > LIMIT => {
                // Gone already, or it cannot be helped.
                let _ = child.kill();
                let _ = child.wait();
                return Err(format!("ended after {} s", LIMIT.as_secs()));
            }
            None => thread::sleep(LOOK),
        }
    }
}

#[cfg(all(test, unix))]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

    use super::give;
    use std::ffi::OsString;

    fn argv(words: &[&str]) -> Vec<OsString> {
        words.iter().map(OsString::from).collect()
    }

    #[test]
    fn arguments_are_passed_as_they_are() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("told");
        let script = format!("cat > {0}; echo \"$1|$2|$3\" >> {0}", out.display());
        let path = "a b; touch x $(touch y) 'z";
        let program = argv(&["/bin/sh", "-c", &script, "sh", "own"]);
        give(&program, "issued", path, "text\n").unwrap();
        let told = std::fs::read_to_string(out).unwrap();
        assert_eq!(told, format!("text\nown|issued|{path}\n"));
    }

    #[test]
    fn one_that_does_not_read_holds_nothing_up() {
        let text = "x".repeat(1 << 20);
        let program = argv(&["/bin/sh", "-c", "exec sleep 0.05"]);
        assert_eq!(give(&program, "e", "p", &text), Ok(()));
    }

    #[test]
    fn what_fails_is_told() {
        let said = give(&argv(&["/bin/sh", "-c", "exit 3"]), "e", "p", "").unwrap_err();
        assert!(said.contains("/bin/sh: it ended with"), "{said}");
        let said = give(&argv(&["/no/such/program"]), "e", "p", "").unwrap_err();
        assert!(said.starts_with("/no/such/program: "), "{said}");
        assert_eq!(give(&[], "e", "p", ""), Ok(()));
    }
}
