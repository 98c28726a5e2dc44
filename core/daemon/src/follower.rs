//! The thread that owns the engine, from its beginning to its end: it watches, opens the index, and opens it again
//! when it can't be used any more. What it does while all is well is in `follow`.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};
use std::time::Instant;

use taperbook_folder::{Folder, Settle, Watcher};

use tokio::sync::Notify;

use crate::board::Board;
use crate::event::Event;
use crate::follow::{Begun, Follow, Halt};
use crate::inbox::Inbox;
use crate::keeper::{Keeper, both};
use crate::lock::Lock;
use crate::place::Place;
use crate::reopen::{Reopened, reopen};
use crate::socket::Socket;
use crate::{DaemonError, Progress, Shop};

/// What the thread is given.
pub(crate) struct Follower {
    pub(crate) shop: Shop,
    pub(crate) place: Place,
    pub(crate) lock: Arc<Lock>,
    pub(crate) socket: Arc<Socket>,
    pub(crate) settle: Settle,
    pub(crate) events: Receiver<Event>,
    /// Where the watcher's events are put.
    pub(crate) inlet: Sender<Event>,
    pub(crate) board: Arc<Board>,
    pub(crate) report: Arc<dyn Fn(Progress) + Send + Sync>,
    /// Told when the daemon should begin anew, where it may.
    pub(crate) renew: Option<Arc<Notify>>,
    pub(crate) is_renewed: bool,
}

/// Why the thread ended without an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ended {
    /// It was told to.
    Stopped,
    /// The state directory was moved or deleted, or its socket: what is at its path now, if anything, is not ours to
    /// write to.
    Displaced,
}

impl Follower {
    /// Follows the folder until it is told to stop.
    ///
    /// # Errors
    /// When the folder can't be watched or the index can't be opened to begin with.
    pub(crate) fn run(self) -> Result<Ended, DaemonError> {
        let Self { shop, place, lock, socket, settle, events, inlet, board, .. } = self;
        let (report, is_renewed) = (self.report, self.is_renewed);
        let started = Instant::now();
        let folder = Folder::open(&place.folder)?;
        // Watched first and scanned afterwards, so that no change falls between the two; the index is no part of that.
        let (keeper, watched) = both(
            || Keeper::open(&shop, &place),
            || Watcher::start(&folder, place.dir(), settle).map_err(DaemonError::Watch),
        );
        let (watcher, from_watcher) = watched?;
        let forward = move || {
            for event in from_watcher {
                if inlet.send(Event::Folder(event)).is_err() {
                    return;
                }
            }
        };
        std::thread::Builder::new()
            .name("forward-events".to_owned())
            .spawn(forward)
            .map_err(DaemonError::Start)?;

        let mut keeper = keeper?;
        let mut inbox = Inbox::new(events);
        let is_ours = || lock.is_in_place(&place) && socket.is_in_place();
        let renew = self.renew.map(|renew| move || renew.notify_one());
        let renew = renew.as_ref().map(|renew| renew as &dyn Fn());
        let mut reopened = None;
        loop {
            let begun = Begun { report: &*report, is_ours: &is_ours, renew, is_renewed, started };
            let halt;
            (inbox, halt) = Follow::new(keeper, &watcher, inbox, &board, begun).until_halted();
            let why = match halt {
                Halt::Stopped => return Ok(Ended::Stopped),
                Halt::Displaced => return Ok(Ended::Displaced),
                Halt::Broken(why) => why,
            };
            let last = reopened.replace(Instant::now());
            let open = || Keeper::open(&shop, &place);
            match reopen(open, &is_ours, &mut inbox, &board, &*report, why, last) {
                Reopened::Keeper(opened) => keeper = *opened,
                Reopened::Not(ended) => return Ok(ended),
            }
        }
    }
}
