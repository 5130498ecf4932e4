//! The alarm: a program of the station's that is notified of every issue and refusal.
//!
//! Alarms are given beside the work, one after the other, by a thread of their own.
//! Each runs in a process group of its own, which ends as a whole when the limit is
//! reached or the spool ends. What was not given by then stays open in the journal and
//! is given by the next run: at least once.

use std::collections::{BTreeSet, VecDeque};
use std::ffi::OsString;
use std::io::{self, Write as _};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How long the program may take.
pub(super) const LIMIT: Duration = Duration::from_secs(30);

/// How long the end of the spool waits for the alarms that are still to be given.
const LAST: Duration = Duration::from_secs(2);

/// How often it is looked after.
const LOOK: Duration = Duration::from_millis(20);

/// An alarm of a case.
pub(super) struct Alarm {
    /// The number of the case.
    pub(super) no: u64,
    pub(super) event: &'static str,
    pub(super) path: String,
    /// What goes to the standard input of the program.
    pub(super) text: String,
}

/// The number of a case, and how its alarm ended, in words where it failed.
pub(super) type Given = (u64, Result<(), String>);

/// The alarms of a spool, given in their order.
pub(super) struct Alarms {
    to: Option<Sender<Alarm>>,
    given: Receiver<Given>,
    /// The cases whose alarms are not known to be given.
    asked: BTreeSet<u64>,
    end: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Alarms {
    /// Alarms by a program and its own arguments, each within a limit.
    ///
    /// # Errors
    /// There is no thread to be had.
    pub(super) fn new(argv: Vec<OsString>, limit: Duration) -> io::Result<Self> {
        let (to, jobs) = channel::<Alarm>();
        let (done, given) = channel();
        let end = Arc::new(AtomicBool::new(false));
        let ends = Arc::clone(&end);
        let work = move || {
            for alarm in jobs {
                match give(&argv, &alarm, limit, &ends) {
                    // Nobody listens once the spool has ended.
                    Some(result) => drop(done.send((alarm.no, result))),
                    None => return,
                }
            }
        };
        let thread = thread::Builder::new()
            .name("alarm".to_owned())
            .spawn(work)?;
        Ok(Self {
            to: Some(to),
            given,
            asked: BTreeSet::new(),
            end,
            thread: Some(thread),
        })
    }

    /// Asks for the alarm of a case, unless it has been asked for.
    pub(super) fn ask(&mut self, alarm: Alarm) {
        if let (true, Some(to)) = (self.asked.insert(alarm.no), &self.to) {
            // The thread ends after the spool alone.
            let _ = to.send(alarm);
        }
    }

    /// Whether the alarm of a case has been asked for and is not known to be given.
    pub(super) fn is_asked(&self, no: u64) -> bool {
        self.asked.contains(&no)
    }

    /// How many are not known to be given.
    pub(super) fn waiting(&self) -> usize {
        self.asked.len()
    }

    /// What has been given since the last time.
    pub(super) fn given(&mut self) -> VecDeque<Given> {
        let given: VecDeque<Given> = self.given.try_iter().collect();
        self.forget(given)
    }

    /// Waits a short time for the rest; what has been given meanwhile.
    pub(super) fn last(&mut self) -> VecDeque<Given> {
        let start = Instant::now();
        let mut given = VecDeque::new();
        while given.len() < self.asked.len() {
            match self
                .given
                .recv_timeout(LAST.saturating_sub(start.elapsed()))
            {
                Ok(one) => given.push_back(one),
                Err(_) => break,
            }
        }
        self.forget(given)
    }

    fn forget(&mut self, given: VecDeque<Given>) -> VecDeque<Given> {
        for (no, _) in &given {
            self.asked.remove(no);
        }
        given
    }
}

impl Drop for Alarms {
    /// Ends the alarm that is being given; those behind it are not begun.
    fn drop(&mut self) {
        self.end.store(true, Ordering::Relaxed);
        self.to = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Runs the program with its own arguments, then the event and the path; the text goes
/// to its standard input. No shell is involved. The error says in words that it cannot
/// be started, fails, or takes too long (and is ended then); `None`: the spool ends.
fn give(
    argv: &[OsString],
    alarm: &Alarm,
    limit: Duration,
    end: &AtomicBool,
) -> Option<Result<(), String>> {
    if end.load(Ordering::Relaxed) {
        return None;
    }
    let Some((program, own)) = argv.split_first() else {
        return Some(Ok(()));
    };
    let named = |what: String| format!("{}: {what}", program.to_string_lossy());
    let mut command = Command::new(program);
    command.args(own).arg(alarm.event).arg(&alarm.path);
    command.stdin(Stdio::piped()).stdout(Stdio::null());
    #[cfg(unix)]
    std::os::unix::process::CommandExt::process_group(&mut command, 0);
    let mut child = match command.spawn() {
        Ok(child) => child,
        Err(error) => return Some(Err(named(error.to_string()))),
    };
    if let Some(mut to) = child.stdin.take() {
        // One that does not read holds nobody up, and is none the worse.
        let text = alarm.text.clone();
        thread::spawn(move || to.write_all(text.as_bytes()));
    }
    Some(wait(&mut child, limit, end)?.map_err(named))
}

fn wait(child: &mut Child, limit: Duration, end: &AtomicBool) -> Option<Result<(), String>> {
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Err(error) => return Some(Err(error.to_string())),
            Ok(Some(status)) if status.success() => return Some(Ok(())),
            Ok(Some(status)) => return Some(Err(format!("it ended with {status}"))),
            Ok(None) if end.load(Ordering::Relaxed) => {
                kill(child);
                return None;
            }
            Ok(None) if start.elapsed() > limit => {
                kill(child);
                let what = format!("it took more than {} s and was ended", limit.as_secs());
                return Some(Err(what));
            }
            Ok(None) => thread::sleep(LOOK),
        }
    }
}

/// Ends a program and what it has started; gone already, or it cannot be helped.
pub(super) fn kill(child: &mut Child) {
    #[cfg(unix)]
    {
        use rustix::process::{Pid, Signal, kill_process_group};
        // It leads a group of its own, and its number is not free before it is waited for.
        if let Some(group) = i32::try_from(child.id()).ok().and_then(Pid::from_raw) {
            let _ = kill_process_group(group, Signal::KILL);
        }
    }
    let _ = child.kill();
    let _ = child.wait();
}

#[cfg(all(test, unix))]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

    use super::{Alarm, Alarms, Given, LIMIT};
    use std::fs;
    use std::path::Path;
    use std::time::Duration;

    /// Alarms by a script of the shell.
    fn script(text: &str, limit: Duration) -> Alarms {
        let argv = ["/bin/sh", "-c", text, "sh", "own"];
        Alarms::new(argv.map(Into::into).into(), limit).unwrap()
    }

    fn alarm(no: u64, path: &str, text: &str) -> Alarm {
        Alarm {
            no,
            event: "issued",
            path: path.to_owned(),
            text: text.to_owned(),
        }
    }

    /// Waits for everything that was asked for.
    fn all(alarms: &mut Alarms) -> Vec<Given> {
        let mut given = Vec::new();
        while alarms.waiting() > 0 {
            given.extend(alarms.last());
        }
        given
    }

    fn lines(path: &Path) -> Vec<String> {
        let text = fs::read_to_string(path).unwrap_or_default();
        text.lines().map(str::to_owned).collect()
    }

    /// Whether a process is there, and is more than the entry that its parent has not
    /// asked for yet (state Z of proc(5)).
    fn lives(process: &str) -> bool {
        let stat = fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
        let state = stat
            .rsplit_once(") ")
            .map(|(_, rest)| rest.starts_with('Z'));
        state == Some(false)
    }

    /// Waits until a test holds; the harness ends a test that never gets there.
    fn until(holds: impl Fn() -> bool) {
        while !holds() {
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    #[test]
    fn arguments_are_passed_as_they_are_and_alarms_keep_their_order() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("told");
        let mut alarms = script(
            &format!("cat >> {0}; echo \"$1|$2|$3\" >> {0}", out.display()),
            LIMIT,
        );
        let path = "a b; touch x $(touch y) 'z";
        for no in 1..=3 {
            alarms.ask(alarm(no, path, &format!("text {no}\n")));
            // Asked for again, it is given once.
            alarms.ask(alarm(no, path, "again\n"));
            assert!(alarms.is_asked(no));
        }
        assert_eq!(all(&mut alarms), [(1, Ok(())), (2, Ok(())), (3, Ok(()))]);
        let expected: Vec<String> = (1..=3)
            .flat_map(|no| [format!("text {no}"), format!("own|issued|{path}")])
            .collect();
        assert_eq!(lines(&out), expected);
    }

    #[test]
    fn one_that_does_not_read_holds_nothing_up() {
        let mut alarms = script("exec sleep 0.05", LIMIT);
        alarms.ask(alarm(1, "p", &"x".repeat(1 << 20)));
        assert_eq!(all(&mut alarms), [(1, Ok(()))]);
    }

    #[test]
    fn what_fails_is_reported() {
        let mut alarms = script("exit 3", LIMIT);
        alarms.ask(alarm(1, "p", ""));
        let (_, stated) = all(&mut alarms).pop().unwrap();
        assert!(stated.unwrap_err().contains("/bin/sh: it ended with"));
        let mut alarms = Alarms::new(vec!["/no/such/program".into()], LIMIT).unwrap();
        alarms.ask(alarm(1, "p", ""));
        let (_, stated) = all(&mut alarms).pop().unwrap();
        assert!(stated.unwrap_err().starts_with("/no/such/program: "));
    }

    /// One that hangs, with a child of its own that hangs as well.
    const HANGS: &str = "sleep 1000 & echo $$ $! >> FILE; sleep 1000";

    #[test]
    fn at_its_limit_an_alarm_ends_with_everything_it_has_started() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("processes");
        let text = HANGS.replace("FILE", &file.display().to_string());
        let mut alarms = script(&text, Duration::from_millis(300));
        alarms.ask(alarm(1, "p", ""));
        alarms.ask(alarm(2, "p", ""));
        let given = all(&mut alarms);
        assert_eq!(given.len(), 2);
        for (_, result) in given {
            assert!(result.unwrap_err().contains("was ended"));
        }
        let reported = lines(&file);
        assert_eq!(reported.len(), 2);
        for process in reported.iter().flat_map(|line| line.split(' ')) {
            until(|| !lives(process));
        }
    }

    #[test]
    fn the_end_of_the_spool_ends_the_alarm_and_begins_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("processes");
        let text = HANGS.replace("FILE", &file.display().to_string());
        let mut alarms = script(&text, LIMIT);
        alarms.ask(alarm(1, "p", ""));
        alarms.ask(alarm(2, "p", ""));
        until(|| lines(&file).len() == 1);
        assert!(alarms.last().is_empty());
        assert_eq!(alarms.waiting(), 2);
        drop(alarms);
        let reported = lines(&file);
        assert_eq!(reported.len(), 1);
        for process in reported.iter().flat_map(|line| line.split(' ')) {
            until(|| !lives(process));
        }
    }
}
