//! Where questions come in, from the beginning of a daemon to its end: the socket, and the page where one is served.
//!
//! Before a daemon begins anew it takes no more questions, and answers those that it has; who comes meanwhile waits at
//! the listeners, which the next one takes over.

use std::io;
use std::net::TcpListener;
use std::pin::pin;
use std::sync::Arc;
use std::sync::mpsc::Sender;
use std::time::{Duration, Instant};

use tokio::net::UnixListener;
use tokio::sync::{Notify, oneshot, watch};
use tokio::time::timeout;

use crate::board::Board;
use crate::desk::Desk;
use crate::event::Event;
use crate::follower::Ended;
use crate::page::{self, Written};
use crate::serve::serve;
use crate::stop::Stop;
use crate::{DaemonError, Progress};

/// What they need.
pub(crate) struct Doors {
    pub(crate) listener: std::os::unix::net::UnixListener,
    pub(crate) page: Option<page::Open>,
    pub(crate) desk: Desk,
    /// The engine's thread asks for the daemon to begin anew.
    pub(crate) renew: Arc<Notify>,
    /// How the engine's thread ended.
    pub(crate) end: oneshot::Receiver<Result<Ended, DaemonError>>,
    pub(crate) events: Sender<Event>,
    /// The daemon has begun anew, and opens them when it is where the one before was.
    pub(crate) is_renewed: bool,
}

/// The listeners of a daemon that begins anew, and what is to be known of its page.
pub(crate) struct Passed {
    pub(crate) listener: std::os::unix::net::UnixListener,
    pub(crate) page: Option<(TcpListener, (String, Written))>,
}

/// Answers that are being worked on before a daemon begins anew get this long, in which nobody else is let in…
const DRAIN: Duration = Duration::from_millis(500);
/// …and where that is too short, it is not tried again before so long.
const NEXT_TRY: Duration = Duration::from_secs(10);
/// One that began anew is where it was after a fraction of a second, unless much has happened meanwhile.
const BEGINNING: Duration = Duration::from_secs(3);

impl Doors {
    /// Answers until somebody says stop or the daemon is to begin anew, and then ends the engine's thread; or until
    /// that ends by itself.
    ///
    /// # Errors
    /// What the engine's thread ended with.
    pub(crate) async fn attend(
        self,
        stop: &Arc<Stop>,
        report: &(dyn Fn(Progress) + Send + Sync),
    ) -> Result<(Ended, Option<Passed>), DaemonError> {
        let Self { listener, page, desk, renew, mut end, events, mut is_renewed } = self;
        let kept = listener.try_clone().map_err(DaemonError::Start)?;
        let listener = UnixListener::from_std(listener).map_err(DaemonError::Start)?;
        let mut next_try = Instant::now();
        let mut passed = loop {
            let (close, closing) = watch::channel(false);
            let served = async {
                if let Some(page) = &page {
                    page.serve(desk.clone(), closing.clone()).await;
                }
            };
            let asked = serve(&listener, desk.clone(), stop.clone(), closing.clone());
            let mut serving = pin!(async {
                if std::mem::take(&mut is_renewed) {
                    let _ = timeout(BEGINNING, ready(&desk.board)).await;
                }
                tokio::join!(asked, served)
            });
            tokio::select! {
                biased;
                () = stop.told() => break None,
                outcome = &mut end => return Ok((ended(outcome)?, None)),
                // That has no end before it is closed.
                _ = &mut serving => {}
                () = notified_after(&renew, next_try) => {}
            }
            close.send_replace(true);
            tokio::select! {
                biased;
                () = stop.told() => break None,
                outcome = &mut end => return Ok((ended(outcome)?, None)),
                drained = timeout(DRAIN, serving) => {
                    if drained.is_ok() && let Ok(passed) = pass(&kept, page.as_ref()) {
                        break Some(passed);
                    }
                }
            }
            next_try = Instant::now() + NEXT_TRY;
        };
        if passed.is_none() {
            report(Progress::Stopping);
        }
        // It may have ended by itself in this moment.
        let _ = events.send(Event::Stop);
        let ended = ended(end.await)?;
        if passed.is_some() && stop.is_told() {
            report(Progress::Stopping);
            passed = None;
        }
        Ok((ended, passed))
    }
}

/// Waits until the first look is done.
async fn ready(board: &Board) {
    let mut changes = board.changes();
    while board.shown().state.is_scanning() && changes.changed().await.is_ok() {}
}

/// Waits until it is told something after that time.
async fn notified_after(told: &Notify, earliest: Instant) {
    loop {
        told.notified().await;
        if earliest <= Instant::now() {
            return;
        }
    }
}

fn pass(
    listener: &std::os::unix::net::UnixListener,
    page: Option<&page::Open>,
) -> io::Result<Passed> {
    let page = page.map(page::Open::standing).transpose()?;
    Ok(Passed { listener: listener.try_clone()?, page })
}

fn ended(
    outcome: Result<Result<Ended, DaemonError>, oneshot::error::RecvError>,
) -> Result<Ended, DaemonError> {
    outcome.unwrap_or(Err(DaemonError::Broken))
}
