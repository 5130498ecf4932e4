//! The work for one target, beside that for the others: one file at a time.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use super::carrier::{Carrier, Failure, Presence};
use crate::issue::flat::FlatFile;
use crate::model::Target;

/// How long the end waits for an attempt to be broken off.
const LAST: Duration = Duration::from_secs(2);

/// A file to carry.
pub(super) struct Job {
    pub(super) file: FlatFile,
    /// Whether the target is to be asked first, since it may have it.
    pub(super) ask: bool,
}

/// How a file was carried.
#[derive(Clone)]
pub(super) struct Done {
    /// Whether the target had it already, or why it was not carried.
    pub(super) result: Result<bool, Failure>,
    /// Whether the target may now have it twice, since it could not be asked.
    pub(super) doubt: bool,
}

/// A target and what works for it.
pub(super) struct Lane {
    pub(super) target: Target,
    /// The issue and the file that are on their way.
    pub(super) busy: Option<(String, String)>,
    /// How it was carried, until the journal has it.
    done: Option<Done>,
    /// Whether something was tried since the start.
    pub(super) tried: bool,
    to: Option<Sender<Job>>,
    from: Receiver<Done>,
    end: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Lane {
    pub(super) fn new(target: Target, carrier: Box<dyn Carrier>) -> io::Result<Self> {
        let (to, jobs) = channel::<Job>();
        let (done, from) = channel();
        let end = Arc::new(AtomicBool::new(false));
        let ends = Arc::clone(&end);
        let work = move || {
            for job in jobs {
                if ends.load(Ordering::Relaxed) || done.send(carry(&*carrier, &job, &ends)).is_err()
                {
                    return;
                }
            }
        };
        let thread = thread::Builder::new()
            .name(format!("to {}", target.name))
            .spawn(work)?;
        Ok(Self {
            target,
            busy: None,
            done: None,
            tried: false,
            to: Some(to),
            from,
            end,
            thread: Some(thread),
        })
    }

    /// The target that must have accepted an issue before this one gets it.
    pub(super) fn after(&self) -> Option<&str> {
        self.target.means.after()
    }

    /// Begins to carry a file.
    pub(super) fn begin(&mut self, issue: &str, job: Job) {
        self.busy = Some((issue.to_owned(), job.file.name.clone()));
        self.tried = true;
        if let Some(to) = &self.to {
            // The thread ends after the lane alone.
            let _ = to.send(job);
        }
    }

    /// What has been carried: issue, file, and how; the same until it is written down.
    pub(super) fn done(&mut self) -> Option<(String, String, Done)> {
        if self.done.is_none() {
            self.done = self.from.try_recv().ok();
        }
        let (issue, file) = self.busy.clone()?;
        Some((issue, file, self.done.clone()?))
    }

    /// What has been carried is written down.
    pub(super) fn written(&mut self) {
        (self.busy, self.done) = (None, None);
    }
}

impl Drop for Lane {
    /// Breaks off what is being carried, as far as its means can.
    fn drop(&mut self) {
        self.end.store(true, Ordering::Relaxed);
        self.to = None;
        let start = Instant::now();
        if let Some(thread) = self.thread.take() {
            while !thread.is_finished() && start.elapsed() < LAST {
                thread::sleep(Duration::from_millis(10));
            }
        }
    }
}

fn carry(carrier: &dyn Carrier, job: &Job, end: &AtomicBool) -> Done {
    let mut doubt = false;
    if job.ask {
        match carrier.look(&job.file, end) {
            Ok(Presence::There) => {
                let result = Ok(true);
                return Done { result, doubt };
            }
            Ok(Presence::Absent) => {}
            Ok(Presence::Unknown) => doubt = true,
            // Asked again the next time.
            Err(failure) => {
                let certain = false;
                let result = Err(Failure { certain, ..failure });
                return Done { result, doubt };
            }
        }
    }
    let result = carrier.send(&job.file, end).map(|()| false);
    Done { result, doubt }
}
