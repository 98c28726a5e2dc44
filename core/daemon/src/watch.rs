//! The daemon as a whole: lock, socket, the engine's thread, and the end of all of them in order.

use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

use taperbook_folder::{Folder, Settle};
use tokio::sync::oneshot;
use tracing::debug;

use crate::board::Board;
use crate::desk::{Desk, FENCE_TIMEOUT};
use crate::error::with_source;
use crate::event::Event;
use crate::follower::{Ended, Follower};
use crate::lock::{Lock, Role, Turn};
use crate::page;
use crate::place::Place;
use crate::serve::serve;
use crate::socket::Socket;
use crate::stop::{Signals, Stop};
use crate::{DaemonError, Progress, Shop, socket};

/// So many questions are worked on at once.
const ANSWERING_THREADS: usize = 8;
/// Answers that are being worked on when the daemon stops get this long.
const LAST_ANSWERS: Duration = Duration::from_secs(1);
/// So long the lock may be held by somebody who says to be a daemon and can't be reached: one that is just
/// starting or stopping, or the line of a killed one while a question holds the lock.
const PATIENCE: Duration = Duration::from_secs(3);
const PAUSE: Duration = Duration::from_millis(10);
/// A daemon whose state directory was moved or deleted tries so often to begin anew.
const MOST_TRIES: usize = 200;

/// Follows a shop folder until it is told to stop.
pub(crate) fn watch(
    shop: &Shop,
    settle: Settle,
    page: Option<u16>,
    report: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<(), DaemonError> {
    let report: Arc<dyn Fn(Progress) + Send + Sync> = Arc::new(move |progress: Progress| {
        progress.log();
        report(progress);
    });
    let stop = Arc::new(Stop::default());
    let _signals = Signals::listen(stop.clone()).map_err(DaemonError::Start)?;
    // How often it may fail to begin anew; a first beginning that fails is told at once.
    let mut n_tries = 0;
    loop {
        match watch_in_place(shop, settle.clone(), page, &stop, &report) {
            Ok(Ended::Stopped) => return Ok(()),
            // Whatever the reason is for which it would begin anew, it is to end.
            Ok(Ended::Displaced) if stop.is_told() => return Ok(()),
            Err(_) if 0 < n_tries && stop.is_told() => return Ok(()),
            // A state directory that was moved away or deleted took lock, socket and index with it.
            Ok(Ended::Displaced) => {
                n_tries = MOST_TRIES;
                report(Progress::Trouble(
                    "the state directory or its socket was moved or deleted; the daemon begins anew"
                        .to_owned(),
                ));
            }
            // Whoever moves or deletes it may do so again while the daemon begins in another one.
            Err(error) if 0 < n_tries && is_of_the_place(&error) => {
                n_tries -= 1;
                debug!(error = with_source(&error), n_tries, "it can't begin anew yet");
            }
            Err(error) => return Err(error),
        }
        std::thread::sleep(PAUSE);
    }
}

/// Whether it is an error of the state directory, and not of the shop folder, of a page or of the system.
fn is_of_the_place(error: &DaemonError) -> bool {
    matches!(error, DaemonError::State(_) | DaemonError::Engine(_) | DaemonError::Watch(_))
}

/// Follows a shop folder until it is told to stop or its state directory is another one.
fn watch_in_place(
    shop: &Shop,
    settle: Settle,
    page: Option<u16>,
    stop: &Arc<Stop>,
    report: &Arc<dyn Fn(Progress) + Send + Sync>,
) -> Result<Ended, DaemonError> {
    // A folder that is not there is told before anything is made for it.
    Folder::open(&shop.folder)?;
    let place = Place::of(shop)?;
    place.make()?;
    let Some(lock) = take_lock(&place, stop, &**report)? else { return Ok(Ended::Stopped) };
    let lock = Arc::new(lock);
    // The socket is there before the engine is open, so that `status` can tell what is going on.
    let (socket, listener) = Socket::bind(&place)?;
    let socket = Arc::new(socket);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(ANSWERING_THREADS)
        .build()
        .map_err(DaemonError::Start)?;

    let board = Arc::new(Board::default());
    let (events, inbox) = mpsc::channel();
    let desk = Desk {
        folder: place.folder.clone(),
        board: board.clone(),
        events: events.clone(),
        fence_timeout: FENCE_TIMEOUT,
    };
    let (ended, mut end) = oneshot::channel();
    let follower = Follower {
        shop: shop.clone(),
        place: place.clone(),
        lock: lock.clone(),
        socket: socket.clone(),
        settle,
        events: inbox,
        inlet: events.clone(),
        board,
        report: report.clone(),
    };
    let thread = std::thread::Builder::new()
        .name("engine".to_owned())
        .spawn(move || {
            // It is heard, or the daemon is ending anyway.
            let _ = ended.send(follower.run());
        })
        .map_err(DaemonError::Start)?;

    let outcome = runtime.block_on(async {
        let listener = tokio::net::UnixListener::from_std(listener).map_err(DaemonError::Start)?;
        let served = page::serve(page, desk.clone(), &**report);
        tokio::select! {
            outcome = served => outcome?,
            () = serve(listener, desk, stop.clone()) => {}
            () = stop.told() => {}
            outcome = &mut end => return outcome.unwrap_or(Err(DaemonError::Broken)),
        }
        report(Progress::Stopping);
        // It may have ended by itself in this moment.
        let _ = events.send(Event::Stop);
        end.await.unwrap_or(Err(DaemonError::Broken))
    });
    // Where the block above failed early, the engine's thread is still there.
    let _ = events.send(Event::Stop);
    // Its panic is known by now, as `Broken`.
    let _ = thread.join();
    runtime.shutdown_timeout(LAST_ANSWERS);
    // Whatever went wrong in a directory that is somewhere else by now, it is no reason to end.
    let is_displaced = outcome.as_ref().is_err_and(is_of_the_place)
        && !(lock.is_in_place(&place) && socket.is_in_place());
    // The socket goes before the lock: the next daemon makes its own.
    drop(socket);
    drop(lock);
    if is_displaced { Ok(Ended::Displaced) } else { outcome }
}

/// Takes the lock from a question that holds it for a moment; a daemon that holds it is an error.
///
/// Gives nothing when it is told to stop before.
fn take_lock(
    place: &Place,
    stop: &Stop,
    report: &(dyn Fn(Progress) + Send + Sync),
) -> Result<Option<Lock>, DaemonError> {
    let _turn = Turn::take(place)?;
    let mut since = Instant::now();
    let mut is_told = false;
    loop {
        if let Some(lock) = Lock::try_take(place, Role::Watch)? {
            return Ok(Some(lock));
        }
        if stop.is_told() {
            return Ok(None);
        }
        let holder = Lock::holder(place);
        let pid = holder.map(|holder| holder.pid);
        if holder.is_some_and(|holder| holder.role == Role::Ask) {
            since = Instant::now();
            if !is_told {
                report(Progress::Waiting { pid });
                is_told = true;
            }
        } else if socket::connect(place)?.is_some() || PATIENCE < since.elapsed() {
            return Err(DaemonError::AlreadyRunning { pid });
        }
        std::thread::sleep(PAUSE);
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use taperbook_engine::{Answer, Request};

    use super::*;

    #[test]
    fn a_folder_without_events_is_polled_and_answers_no_less() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("shop");
        std::fs::create_dir(&folder).unwrap();
        let shop = Shop { folder, state_dir: Some(home.path().join("state")), plugins: Vec::new };
        // No poll comes by itself while the test runs: what is answered is found at the fence.
        let hour = Duration::from_secs(3600);
        let settle = Settle { force_polling: true, poll_every: hour, ..Settle::default() };
        let (sender, progress) = mpsc::channel();
        std::thread::scope(|scope| {
            let daemon = scope
                .spawn(|| watch(&shop, settle, None, move |progress| drop(sender.send(progress))));
            let ready = |progress: &Progress| matches!(progress, Progress::Ready { .. });
            assert!(progress.iter().any(|progress| ready(&progress)));
            for round in 0..5 {
                std::fs::write(shop.folder.join("log.md"), format!("round{round}\n")).unwrap();
                let request = Request::Find { query: format!("round{round}"), limit: 1 };
                let Ok(Answer::Find(found)) = crate::ask(&shop, &request, |_| {}) else { panic!() };
                assert_eq!(found.total, 1);
            }
            let status = crate::status(&shop, false).unwrap();
            assert_eq!(status.state, "polling");
            assert!(status.why.is_some(), "{status:?}");
            assert!(crate::stop(&shop).unwrap());
            daemon.join().unwrap().unwrap();
        });
    }
}
