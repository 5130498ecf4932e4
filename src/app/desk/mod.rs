//! The desk: a page on this machine for preparing a report by hand.
//!
//! The desk edits the sheet and has no rules of its own: what it issues,
//! `fivefig encode` issues from the saved sheet and the profile, octet for octet.
//! It listens on the loopback address alone, knows one operator by an access token, and
//! takes no path from the page: files are chosen by their number in a list of its own.
//! What is typed is saved at every step (`saved`), and every page that is open follows
//! (`parts`, `events`). Token and port are taken up again after a restart within a day,
//! so that open pages find the desk.

mod actions;
mod events;
mod fields;
mod growth;
mod guard;
mod handover;
mod issuing;
mod labels;
mod memo;
mod page;
mod parts;
mod profile;
mod saved;
mod session;
mod steps;
mod typing;
mod view;

#[cfg(test)]
mod tests;

use std::fmt::Write as _;
use std::io;
use std::net::Ipv4Addr;
use std::path::PathBuf;
use std::pin::pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use itertools::Itertools as _;
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinSet;

use crate::input::sheet::SheetError;
use crate::issue::outputs::Wanted;
use session::Session;

/// How long open connections may last when the desk ends.
const LAST: Duration = Duration::from_secs(2);

/// How long the head of a request may take to arrive, and then the whole of it; a
/// connection without a request stays open for as long.
const ARRIVES: Duration = Duration::from_secs(20);

/// How often the folders are looked at.
const LOOKS: Duration = Duration::from_secs(2);

/// How long the desk waits when the system gives no further connection.
const PAUSE: Duration = Duration::from_millis(100);

/// What the desk works with.
#[derive(Clone, Debug)]
pub struct Setup {
    /// Names and texts of sheets, later ones having the last word.
    pub sheets: Vec<(String, String)>,
    /// The folder that issues go into; it is there.
    pub out: PathBuf,
    /// A folder whose profiles are offered.
    pub watched: Option<PathBuf>,
    /// The outputs that are issued unless the operator chooses otherwise.
    pub wanted: Wanted,
    /// The port; 0 for a free one.
    pub port: u16,
}

/// Why there is no desk.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum DeskError {
    /// The sheets have faults, a line each.
    #[error("{}", .0.faults().iter().join("\n"))]
    Sheets(SheetError),
    /// The port cannot be had.
    #[error("cannot listen on 127.0.0.1:{port}: {error}; --port 0 takes a free port")]
    Port {
        /// Which.
        port: u16,
        /// Why.
        error: io::Error,
    },
    /// The system gives no random octets, or no runtime.
    #[error("cannot start: {0}")]
    Start(io::Error),
}

/// What every request is answered from.
pub(crate) struct Desk {
    token: String,
    port: u16,
    session: Mutex<Session>,
    /// The number of the last change, or [`events::END`].
    changes: watch::Sender<u64>,
    /// [`ARRIVES`], or less in a test.
    arrives: Duration,
}

impl Desk {
    fn session(&self) -> MutexGuard<'_, Session> {
        self.session.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells every page of what has changed.
    fn announce(&self, session: &Session) {
        let now = session.parts.now();
        self.changes.send_if_modified(|last| {
            let newer = *last < now;
            *last = (*last).max(now);
            newer
        });
    }

    /// Looks at the folders as long as a page does.
    async fn follow(&self) {
        let mut often = tokio::time::interval(LOOKS);
        loop {
            often.tick().await;
            if self.changes.receiver_count() > 0 {
                let mut session = self.session();
                if session.look() {
                    session.refresh(false);
                    self.announce(&session);
                }
            }
        }
    }
}

/// Seconds since 1970 by the system clock, for lateness on the page alone.
fn now_s() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |s| i64::try_from(s.as_secs()).unwrap_or(i64::MAX))
}

/// A word of a number of random bytes.
fn random(bytes: usize) -> io::Result<String> {
    let mut octets = vec![0_u8; bytes];
    getrandom::fill(&mut octets).map_err(io::Error::other)?;
    let mut word = String::with_capacity(2 * bytes);
    for octet in octets {
        // Writing to a string does not fail.
        let _ = write!(word, "{octet:02x}");
    }
    Ok(word)
}

/// Serves the desk until the process is asked to end (SIGINT, SIGTERM); `reported` is
/// called once with the address to open.
///
/// # Errors
/// See [`DeskError`].
pub fn serve(setup: Setup, reported: impl FnOnce(&str)) -> Result<(), DeskError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(DeskError::Start)?;
    let mut session = Session::new(setup.clone(), now_s).map_err(DeskError::Sheets)?;
    runtime.block_on(async {
        let (last_token, last_port) = session.access.clone();
        let listener = listen(setup.port, last_port).await?;
        let asked = setup.port;
        let bound = listener.local_addr();
        let port = |error| DeskError::Port { port: asked, error };
        let bound = bound.map_err(port)?.port();
        session.boot = random(8).map_err(DeskError::Start)?;
        let token = match last_token.is_empty() {
            true => random(32).map_err(DeskError::Start)?,
            false => last_token,
        };
        session.access = (token.clone(), bound);
        session.refresh(false);
        let desk = Arc::new(Desk {
            token,
            port: bound,
            session: Mutex::new(session),
            changes: watch::Sender::new(0),
            arrives: ARRIVES,
        });
        let asked_to_end = asked_to_end().map_err(DeskError::Start)?;
        reported(&format!("http://127.0.0.1:{bound}/?token={}", desk.token));
        let mut open = tokio::select! {
            open = answer(listener, &desk, asked_to_end) => open,
            () = desk.follow() => JoinSet::new(),
        };
        desk.changes.send_replace(events::END);
        desk.session().finish();
        // What is still open after that is closed.
        let rest = async { while open.join_next().await.is_some() {} };
        let _ = tokio::time::timeout(LAST, rest).await;
        Ok(())
    })
}

/// Listens on the port that is asked for; for any, on that of the last run where it is
/// free, so that its pages find the desk.
async fn listen(asked: u16, last: u16) -> Result<TcpListener, DeskError> {
    if asked == 0
        && last != 0
        && let Ok(listener) = TcpListener::bind((Ipv4Addr::LOCALHOST, last)).await
    {
        return Ok(listener);
    }
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, asked)).await;
    listener.map_err(|error| DeskError::Port { port: asked, error })
}

/// Answers until the desk is to end; the connections that are open then.
async fn answer(
    listener: TcpListener,
    desk: &Arc<Desk>,
    end: impl Future<Output = ()>,
) -> JoinSet<()> {
    let router = actions::router(Arc::clone(desk));
    let mut server = http1::Builder::new();
    let server = server.timer(TokioTimer::new());
    let server = server.header_read_timeout(desk.arrives);
    let mut open = JoinSet::new();
    let (ends, ended) = watch::channel(());
    let mut end = pin!(end);
    loop {
        let stream = tokio::select! {
            () = &mut end => break,
            // Those that have closed are forgotten.
            Some(_) = open.join_next() => continue,
            accepted = listener.accept() => match accepted {
                Ok((stream, _)) => stream,
                Err(_) => {
                    tokio::time::sleep(PAUSE).await;
                    continue;
                }
            },
        };
        let service = TowerToHyperService::new(router.clone());
        let connection = server.serve_connection(TokioIo::new(stream), service);
        let mut ended = ended.clone();
        open.spawn(async move {
            let mut connection = pin!(connection);
            tokio::select! {
                // A connection that fails is the browser's affair.
                _ = connection.as_mut() => return,
                _ = ended.changed() => connection.as_mut().graceful_shutdown(),
            }
            let _ = connection.await;
        });
    }
    let _ = ends.send(());
    open
}

/// Waits until the process is asked to end.
fn asked_to_end() -> io::Result<impl Future<Output = ()>> {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let mut interrupt = signal(SignalKind::interrupt())?;
        let mut terminate = signal(SignalKind::terminate())?;
        Ok(async move {
            tokio::select! {
                _ = interrupt.recv() => {}
                _ = terminate.recv() => {}
            }
        })
    }
    #[cfg(not(unix))]
    Ok(async {
        // Without a signal the process is ended from outside.
        let _ = tokio::signal::ctrl_c().await;
    })
}
