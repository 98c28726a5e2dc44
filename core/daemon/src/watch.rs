//! The daemon as a whole: lock, socket, the engine's thread, and the end of all of them in order.

use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

use taperbook_folder::{Folder, Settle};
use tokio::sync::{Notify, oneshot};
use tracing::debug;

use crate::board::Board;
use crate::desk::{Desk, FENCE_TIMEOUT};
use crate::doors::{Doors, Passed};
use crate::error::with_source;
use crate::event::Event;
use crate::follow::status;
use crate::follower::{Ended, Follower};
use crate::lock::{Lock, Role, Turn};
use crate::page;
use crate::place::Place;
use crate::quiet::quiet;
use crate::socket::Socket;
use crate::standing::{Ear, Standing, Words};
use crate::stop::{self, Stop};
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

/// How a daemon is to be.
#[derive(Default)]
pub(crate) struct Setting {
    pub(crate) settle: Settle,
    pub(crate) page: Option<u16>,
    /// Whether it may begin anew as another program.
    pub(crate) may_renew: bool,
    /// What a program before this one has left.
    pub(crate) standing: Option<Standing>,
}

/// Follows a shop folder until it is told to stop, or until it is to begin anew with what it gives.
pub(crate) fn watch(
    shop: &Shop,
    mut setting: Setting,
    report: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<Option<Standing>, DaemonError> {
    let report: Arc<dyn Fn(Progress) + Send + Sync> = Arc::new(move |progress: Progress| {
        progress.log();
        report(progress);
    });
    let mut standing = setting.standing.take();
    let ear = standing.as_mut().and_then(|standing| standing.ear.take());
    let ear = ear.map_or_else(Ear::new, Ok).map_err(DaemonError::Start)?;
    let stop = &ear.stop;
    // How often it may fail to begin anew; a first beginning that fails is told at once.
    let mut n_tries = if standing.is_some() { MOST_TRIES } else { 0 };
    loop {
        match watch_in_place(shop, &setting, standing.take(), stop, &report) {
            Ok(Left::Nothing(Ended::Stopped)) => return Ok(None),
            Ok(Left::Standing(mut standing)) => {
                standing.ear = Some(ear);
                return Ok(Some(*standing));
            }
            // Whatever the reason is for which it would begin anew, it is to end.
            Ok(Left::Nothing(Ended::Displaced)) if stop.is_told() => return Ok(None),
            Err(_) if 0 < n_tries && stop.is_told() => return Ok(None),
            // A state directory that was moved away or deleted took lock, socket and index with it.
            Ok(Left::Nothing(Ended::Displaced)) => {
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

/// What there is after a daemon.
enum Left {
    Nothing(Ended),
    Standing(Box<Standing>),
}

/// Follows a shop folder until it is told to stop, or its state directory is another one, or it is to begin anew.
fn watch_in_place(
    shop: &Shop,
    setting: &Setting,
    standing: Option<Standing>,
    stop: &Arc<Stop>,
    report: &Arc<dyn Fn(Progress) + Send + Sync>,
) -> Result<Left, DaemonError> {
    // A folder that is not there is told before anything is made for it.
    Folder::open(&shop.folder)?;
    let place = Place::of(shop)?;
    place.make()?;
    let is_renewed = standing.is_some();
    let is_kept = standing.as_ref().is_some_and(|standing| standing.is_kept);
    let may_renew = setting.may_renew && !is_kept;
    let report = match &standing {
        Some(standing) => quiet(report.clone(), standing.words.state.clone()),
        None => report.clone(),
    };
    let report = &report;
    let (lock, socket, listener, n_changes, page) = match standing {
        None => {
            let Some(lock) = take_lock(&place, stop, &**report)? else {
                return Ok(Left::Nothing(Ended::Stopped));
            };
            // The socket is there before the engine is open, so that `status` can tell what is going on.
            let (socket, listener) = Socket::bind(&place)?;
            (lock, socket, listener, 0, None)
        }
        Some(Standing { lock, listener, page, words, .. }) => {
            let (lock, socket) = (Lock::resume(lock), Socket::resume(&place, words.socket)?);
            if !lock.is_in_place(&place) || !socket.is_in_place() {
                // What is there now may be somebody else's, whose lock is another one.
                return Ok(Left::Nothing(Ended::Displaced));
            }
            (lock, socket, listener, words.n_changes, page.zip(words.page))
        }
    };
    let (lock, socket) = (Arc::new(lock), Arc::new(socket));
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(ANSWERING_THREADS)
        .build()
        .map_err(DaemonError::Start)?;

    let board = Arc::new(Board::after(n_changes));
    let (events, inbox) = mpsc::channel();
    let desk = Desk {
        folder: place.folder.clone(),
        board: board.clone(),
        events: events.clone(),
        fence_timeout: FENCE_TIMEOUT,
    };
    let (ended, end) = oneshot::channel();
    let renew = Arc::new(Notify::new());
    let follower = Follower {
        shop: shop.clone(),
        place: place.clone(),
        lock: lock.clone(),
        socket: socket.clone(),
        settle: setting.settle.clone(),
        events: inbox,
        inlet: events.clone(),
        board: board.clone(),
        report: report.clone(),
        renew: may_renew.then(|| renew.clone()),
        is_renewed,
    };
    let thread = std::thread::Builder::new()
        .name("engine".to_owned())
        .spawn(move || {
            // It is heard, or the daemon is ending anyway.
            let _ = ended.send(follower.run());
        })
        .map_err(DaemonError::Start)?;

    let outcome = runtime.block_on(async {
        if is_kept {
            stop::outlive_pipes().map_err(DaemonError::Start)?;
        }
        let page = match setting.page {
            Some(port) => Some(page::Open::new(port, page, &**report).await?),
            None => None,
        };
        let doors = Doors { listener, page, desk, renew, end, events: events.clone(), is_renewed };
        doors.attend(stop, &**report).await
    });
    // Where the block above failed early, the engine's thread is still there.
    let _ = events.send(Event::Stop);
    // Its panic is known by now, as `Broken`.
    let _ = thread.join();
    runtime.shutdown_timeout(LAST_ANSWERS);
    let is_in_place = lock.is_in_place(&place) && socket.is_in_place();
    let ended = match outcome {
        Ok((ended, None)) => Ok(ended),
        Ok((Ended::Stopped, Some(passed))) if is_in_place => {
            // Nobody else has them by now.
            if let (Some(lock), Some(socket)) = (Arc::into_inner(lock), Arc::into_inner(socket)) {
                return leave(lock, socket, passed, &board)
                    .map(|standing| Left::Standing(Box::new(standing)));
            }
            return Err(DaemonError::Broken);
        }
        Ok((_, Some(_))) => Ok(Ended::Displaced),
        // Whatever went wrong in a directory that is somewhere else by now, it is no reason to end.
        Err(error) if is_of_the_place(&error) && !is_in_place => Ok(Ended::Displaced),
        Err(error) => Err(error),
    };
    // The socket goes before the lock: the next daemon makes its own.
    drop(socket);
    drop(lock);
    ended.map(Left::Nothing)
}

/// Gives what stays open while the daemon begins anew.
fn leave(
    lock: Lock,
    socket: Socket,
    passed: Passed,
    board: &Board,
) -> Result<Standing, DaemonError> {
    let (listener, (page, page_words)) = (passed.listener, passed.page.unzip());
    let (n_changes, shown) = (board.n_changes(), board.shown());
    let state = shown.state.name.to_owned();
    let status = shown.given.map(|given| status(&given.snapshot)).unwrap_or_default();
    let counts = (status.problems, status.flags);
    let lock = lock.leave().map_err(DaemonError::Start)?;
    let words = Words { socket: socket.leave(), n_changes, state, counts, page: page_words };
    Ok(Standing::new(lock, listener, page, words))
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
    use crate::shop::shop_of;

    #[test]
    fn a_folder_without_events_is_polled_and_answers_no_less() {
        let (_home, shop) = shop_of(0);
        // No poll comes by itself while the test runs: what is answered is found at the fence.
        let hour = Duration::from_secs(3600);
        let settle = Settle { force_polling: true, poll_every: hour, ..Settle::default() };
        let setting = Setting { settle, ..Setting::default() };
        let (sender, progress) = mpsc::channel();
        std::thread::scope(|scope| {
            let daemon =
                scope.spawn(|| watch(&shop, setting, move |progress| drop(sender.send(progress))));
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

    /// What is left is handed over by its descriptors: what is at its paths may be somebody else's by then.
    #[test]
    fn what_was_left_in_a_state_directory_that_was_moved_is_not_gone_on_with() {
        let (home, shop) = shop_of(1);
        let place = Place::of(&shop).unwrap();
        place.make().unwrap();
        let lock = Lock::try_take(&place, Role::Watch).unwrap().unwrap();
        let (socket, listener) = Socket::bind(&place).unwrap();
        let words = Words { socket: socket.leave(), ..Words::default() };
        let standing = Standing::new(lock.leave().unwrap(), listener, None, words);

        std::fs::rename(place.dir(), home.path().join("away")).unwrap();
        place.make().unwrap();
        let _theirs = Lock::try_take(&place, Role::Ask).unwrap().unwrap();
        let stop = Arc::new(Stop::default());
        let report: Arc<dyn Fn(Progress) + Send + Sync> = Arc::new(|_progress| {});
        let left =
            watch_in_place(&shop, &Setting::default(), Some(standing), &stop, &report).unwrap();
        assert!(matches!(left, Left::Nothing(Ended::Displaced)));
        assert!(!place.engine().exists(), "only who has the lock opens the engine");
    }
}
