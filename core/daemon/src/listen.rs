//! Who follows a look at the folder: the daemon at its first look, and at all later ones.

use std::ops::ControlFlow;
use std::time::{Duration, Instant};

use taperbook_engine::{Engine, EngineError};
use taperbook_folder::{Change, Watcher};

use crate::Progress;
use crate::board::Board;
use crate::event::Given;
use crate::inbox::Inbox;
use crate::keeper::{self, Listener};

/// Follows the daemon's first look, which takes a while where there is no index yet.
///
/// It commits now and then, so that questions whose answer can say that more is to come get what there is.
pub(crate) struct FirstLook<'a> {
    inbox: &'a mut Inbox,
    watcher: &'a Watcher,
    board: &'a Board,
    report: &'a dyn Fn(Progress),
    /// How many files there are to read, when the index was empty: what it has is right then as far as it goes.
    /// One of earlier may have stale records, so nobody is answered from it before the look is over.
    of: Option<usize>,
    n_found: usize,
    /// Where what it finds is written down: by a daemon that began anew, for which it is no first look.
    pub(crate) changed: Option<&'a mut Changed>,
    committed: Instant,
    /// Why a commit failed.
    pub(crate) failed: Option<EngineError>,
}

/// So often the first look commits…
const COMMIT_EVERY: Duration = Duration::from_secs(2);
/// …and so often when somebody asks.
const COMMIT_EVERY_ASKED: Duration = Duration::from_millis(300);

impl<'a> FirstLook<'a> {
    pub(crate) fn new(
        inbox: &'a mut Inbox,
        watcher: &'a Watcher,
        board: &'a Board,
        report: &'a dyn Fn(Progress),
        of: Option<usize>,
    ) -> Self {
        Self {
            inbox,
            watcher,
            board,
            report,
            of,
            n_found: 0,
            changed: None,
            committed: Instant::now(),
            failed: None,
        }
    }

    fn commit(&mut self, engine: &mut Engine, of: usize) -> Result<(), EngineError> {
        // At least one, also where files have come since they were counted.
        let n_unread = of.saturating_sub(self.n_found).max(1);
        let given = Given { snapshot: keeper::commit(engine)?, n_unread };
        self.board.show(given.clone());
        self.inbox.answer_content(&given);
        self.committed = Instant::now();
        Ok(())
    }
}

impl Listener for FirstLook<'_> {
    fn found(&mut self, change: &Change) {
        self.n_found += 1;
        if let Some(changed) = &mut self.changed {
            changed.add(change);
        }
    }

    fn handed(&mut self, engine: &mut Engine) -> ControlFlow<()> {
        (self.report)(Progress::Scanning { read: self.n_found, of: self.of });
        if !self.goes_on() {
            return ControlFlow::Break(());
        }
        self.inbox.raise(self.watcher);
        let every = if self.inbox.is_content() { COMMIT_EVERY_ASKED } else { COMMIT_EVERY };
        if let Some(of) = self.of
            && every < self.committed.elapsed()
            && let Err(error) = self.commit(engine, of)
        {
            self.failed = Some(error);
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    }

    fn goes_on(&mut self) -> bool {
        self.inbox.drain();
        !self.inbox.is_stopped()
    }
}

/// Follows a later look, and writes down what it finds.
pub(crate) struct LaterLook<'a> {
    pub(crate) inbox: &'a mut Inbox,
    pub(crate) changed: &'a mut Changed,
}

/// What later looks found since the last commit.
#[derive(Debug, Default)]
pub(crate) struct Changed {
    written: Vec<String>,
    removed: Vec<String>,
    unreadable: Vec<(String, String)>,
}

impl Changed {
    pub(crate) fn is_empty(&self) -> bool {
        self.written.is_empty() && self.removed.is_empty() && self.unreadable.is_empty()
    }

    fn add(&mut self, change: &Change) {
        match change {
            Change::Written { path, .. } => self.written.push(path.to_string()),
            Change::Removed { path } => self.removed.push(path.to_string()),
            Change::Unreadable { path, why } => {
                self.unreadable.push((path.to_string(), why.clone()))
            }
        }
    }

    /// Says it, with what the shop has of problems and flags now.
    pub(crate) fn progress(self, problems: usize, flags: usize) -> Progress {
        let Self { written, removed, unreadable } = self;
        Progress::Changed { written, removed, unreadable, problems, flags }
    }
}

impl Listener for LaterLook<'_> {
    fn found(&mut self, change: &Change) {
        self.changed.add(change);
    }

    fn goes_on(&mut self) -> bool {
        self.inbox.drain();
        !self.inbox.is_stopped()
    }

    fn handed(&mut self, _engine: &mut Engine) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Weak, mpsc};

    use taperbook_engine::{Answer, Request};
    use taperbook_folder::{Dirty, Folder, Settle};
    use tokio::sync::oneshot;

    use super::*;
    use crate::event::{Event, Waiter, Wants};
    use crate::keeper::{Keeper, Unfinished};
    use crate::place::Place;
    use crate::shop::shop_of;

    #[test]
    fn a_first_look_gives_what_it_has_to_those_who_are_content_with_it() {
        let (_home, shop) = shop_of(1200);
        let place = Place::of(&shop).unwrap();
        place.make().unwrap();
        let folder = Folder::open(&place.folder).unwrap();
        let (watcher, _from_watcher) =
            Watcher::start(&folder, place.dir(), Settle::default()).unwrap();
        let mut keeper = Keeper::open(&shop, &place).unwrap();

        let (events, inbox) = mpsc::channel();
        let (board, mut inbox) = (Board::default(), Inbox::new(inbox));
        let ask = |wants| {
            let (reply, given) = oneshot::channel();
            assert!(
                events.send(Event::Fence(Waiter { wants, reply, at_work: Weak::new() })).is_ok()
            );
            given
        };
        let (mut content, mut other) = (ask(Wants::Some), ask(Wants::All));
        let mut listener = FirstLook::new(&mut inbox, &watcher, &board, &|_| {}, Some(1200));
        listener.committed -= COMMIT_EVERY_ASKED;
        assert!(matches!(keeper.reconcile(&Dirty::Everything, &mut listener), Ok(1200)));

        let given = content.try_recv().unwrap().unwrap_or_else(|why| panic!("{why}"));
        assert_eq!(given.n_unread, 1200 - 256);
        let request = Request::Find { query: "whipping".into(), limit: 1 };
        let Answer::Find(found) = given.snapshot.answer(&request) else { panic!() };
        assert_eq!(found.total, 256);
        assert!(other.try_recv().is_err(), "the rest is waited for");

        // An index of earlier may have what is not so any more: nobody gets anything from it.
        let mut content = ask(Wants::Some);
        drop(keeper);
        let mut keeper = Keeper::open(&shop, &place).unwrap();
        let mut listener = FirstLook::new(&mut inbox, &watcher, &board, &|_| {}, None);
        listener.committed -= COMMIT_EVERY;
        assert!(keeper.reconcile(&Dirty::Everything, &mut listener).is_ok());
        assert!(content.try_recv().is_err());

        // And it ends where it is told to.
        assert!(events.send(Event::Stop).is_ok());
        drop(keeper);
        let mut keeper = Keeper::open(&shop, &place).unwrap();
        let mut listener = FirstLook::new(&mut inbox, &watcher, &board, &|_| {}, None);
        let ended = keeper.reconcile(&Dirty::Everything, &mut listener);
        assert!(matches!(ended, Err(Unfinished::Stopped)), "{ended:?}");
    }
}
