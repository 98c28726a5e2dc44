//! The thread that owns the engine: takes in what the watcher marks, examines, commits, answers fences.
//!
//! It blocks, on the disk and in the engine, so it is a thread and not a task.
//! Questions are not answered here but from a snapshot, so none of them holds this up.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};
use std::time::{Duration, Instant};

use taperbook_engine::{Answer, EngineError, Request, Snapshot, StatusAnswer};
use taperbook_folder::{Dirty, Folder, Settle, Watcher};

use crate::board::{Board, State};
use crate::event::{Event, Given, Wants};
use crate::inbox::Inbox;
use crate::keeper::{Keeper, Unfinished};
use crate::listen::{Changed, FirstLook};
use crate::pace::{Backlog, SavePace, Slice};
use crate::place::Place;
use crate::{DaemonError, Progress, Shop};

/// What the thread is given.
pub(crate) struct Follower {
    pub(crate) shop: Shop,
    pub(crate) place: Place,
    pub(crate) settle: Settle,
    pub(crate) events: Receiver<Event>,
    /// Where the watcher's events are put.
    pub(crate) inlet: Sender<Event>,
    pub(crate) board: Arc<Board>,
    pub(crate) report: Arc<dyn Fn(Progress) + Send + Sync>,
}

/// After this long the index is opened anew when it could not be written, as on a full disk.
const RETRY: Duration = Duration::from_secs(5);

impl Follower {
    /// Follows the folder until it is told to stop.
    ///
    /// # Errors
    /// When the folder can't be watched or the index can't be opened to begin with.
    pub(crate) fn run(self) -> Result<(), DaemonError> {
        let Self { shop, place, settle, events, inlet, board, report } = self;
        let started = Instant::now();
        let folder = Folder::open(&place.folder)?;
        // Watched first and scanned afterwards, so that no change falls between the two.
        let (watcher, from_watcher) =
            Watcher::start(&folder, place.dir(), settle).map_err(DaemonError::Watch)?;
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

        let mut keeper = Keeper::open(&shop, &place)?;
        let mut inbox = Inbox::new(events);
        loop {
            let follow = Follow::new(keeper, &watcher, inbox, &board, &*report, started);
            let broken;
            (inbox, broken) = follow.until_stopped();
            let Some(error) = broken else { return Ok(()) };
            match reopen(&shop, &place, &mut inbox, &board, &*report, &error) {
                Some(opened) => keeper = opened,
                None => return Ok(()),
            }
        }
    }
}

/// Opens the index again once that works; gives nothing when it is told to stop before.
fn reopen(
    shop: &Shop,
    place: &Place,
    inbox: &mut Inbox,
    board: &Board,
    report: &dyn Fn(Progress),
    error: &EngineError,
) -> Option<Keeper> {
    let mut why = with_source(error);
    loop {
        let message = format!("the index can't be written: {why}");
        if board.show_state(State::broken(message.clone())) {
            report(Progress::Trouble(message.clone()));
        }
        let until = Instant::now() + RETRY;
        while Instant::now() < until {
            if inbox.is_stopped() {
                return None;
            }
            inbox.refuse_all(&message);
            inbox.wait(Some(until.saturating_duration_since(Instant::now())));
        }
        match Keeper::open(shop, place) {
            Ok(keeper) => {
                inbox.mark(Dirty::Everything);
                return Some(keeper);
            }
            Err(error) => why = with_source(&DaemonError::from(error)),
        }
    }
}

/// Follows with one engine, as long as that can be written.
struct Follow<'a> {
    keeper: Keeper,
    watcher: &'a Watcher,
    inbox: Inbox,
    board: &'a Board,
    report: &'a dyn Fn(Progress),
    started: Instant,
    first: First,
    /// The index was empty at first.
    is_new: bool,
    /// Why the folder can't be looked at.
    gone: Option<String>,
    backlog: Backlog,
    slice: Slice,
    save: SavePace,
    changed: Changed,
}

/// How far the first look at the folder has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum First {
    Look,
    /// Everything was read; so many records were to be examined.
    Examination(usize),
    Done,
}

impl<'a> Follow<'a> {
    fn new(
        keeper: Keeper,
        watcher: &'a Watcher,
        inbox: Inbox,
        board: &'a Board,
        report: &'a dyn Fn(Progress),
        started: Instant,
    ) -> Self {
        let is_new = keeper.is_new();
        board.show(Given { snapshot: keeper.engine.snapshot(), n_unread: 1 });
        Self {
            keeper,
            watcher,
            inbox,
            board,
            report,
            started,
            first: First::Look,
            is_new,
            gone: None,
            backlog: Backlog::default(),
            slice: Slice::default(),
            save: SavePace::default(),
            changed: Changed::default(),
        }
    }

    /// Goes on until it is told to stop, or the engine can't be written, which it then says.
    fn until_stopped(mut self) -> (Inbox, Option<EngineError>) {
        loop {
            match self.turn() {
                Ok(()) => {}
                Err(Halt::Stopped) => return (self.inbox, None),
                Err(Halt::Broken(error)) => return (self.inbox, Some(error)),
            }
        }
    }

    fn turn(&mut self) -> Result<(), Halt> {
        self.tell();
        self.inbox.wait(self.wait());
        if self.inbox.is_stopped() {
            self.finish()?;
            return Err(Halt::Stopped);
        }
        self.inbox.raise(self.watcher);
        if self.inbox.is_due() && !self.is_held_back() {
            if self.gone.is_some() {
                // It may be back, and the marks that could not be looked at are lost.
                self.inbox.mark(Dirty::Everything);
            }
            self.take_in()?;
        }
        self.examine();
        self.settle_up()
    }

    /// Whether somebody waits for the examination of what was taken in.
    ///
    /// What was written after the question is not looked at until it is answered: under steady writing there
    /// would always be something left to examine.
    fn is_held_back(&mut self) -> bool {
        self.first == First::Done
            && 0 < self.keeper.engine.pending()
            && self.inbox.is_ripe(|_| true)
    }

    /// How long nothing need be done.
    fn wait(&self) -> Option<Duration> {
        if self.inbox.is_due() || 0 < self.keeper.engine.pending() {
            return Some(Duration::ZERO);
        }
        let due = [self.backlog.due(0), self.save.due().filter(|_| self.backlog.is_empty())];
        let due = due.into_iter().flatten().min()?;
        Some(due.saturating_duration_since(Instant::now()))
    }

    /// Looks where the folder is dirty.
    fn take_in(&mut self) -> Result<(), Halt> {
        let dirty = self.inbox.take_dirty();
        let is_first = self.first == First::Look;
        let looked = if is_first {
            let of = self.is_new.then(|| self.keeper.count_records());
            let mut listener =
                FirstLook::new(&mut self.inbox, self.watcher, self.board, self.report, of);
            let looked = self.keeper.reconcile(&dirty, &mut listener);
            if let Some(error) = listener.failed {
                return Err(Halt::Broken(error));
            }
            looked
        } else {
            self.keeper.reconcile(&dirty, &mut self.changed)
        };
        let n_changes = match looked {
            Ok(n_changes) => {
                self.gone = None;
                if is_first && dirty == Dirty::Everything {
                    self.first = First::Examination(self.keeper.engine.pending());
                }
                n_changes
            }
            Err(Unfinished::Folder(error, n_changes)) => {
                self.gone = Some(with_source(&error));
                n_changes
            }
            // What is on the disk is whole, the index with its manifest.
            Err(Unfinished::Stopped) => return Err(Halt::Stopped),
        };
        if 0 < n_changes {
            self.backlog.add(Instant::now());
        }
        Ok(())
    }

    /// Examines for a moment, so that an edit never waits long behind many records.
    fn examine(&mut self) {
        if self.keeper.engine.pending() == 0 {
            return;
        }
        let begun = Instant::now();
        let left = self.keeper.engine.examine(self.slice.at_most());
        self.slice.took(begun.elapsed());
        self.backlog.examined(Instant::now());
        if let First::Examination(of) = self.first {
            (self.report)(Progress::Examining { left, of: of.max(left) });
        }
    }

    /// Commits, answers and saves what is due.
    fn settle_up(&mut self) -> Result<(), Halt> {
        let pending = self.keeper.engine.pending();
        let is_examining = matches!(self.first, First::Examination(_));
        let content = |wants| pending == 0 || (is_examining && wants == Wants::Some);
        let is_ripe = self.inbox.is_ripe(content);
        let is_due = self.backlog.due(pending).is_some_and(|due| due <= Instant::now());
        if is_due || (is_ripe && !self.backlog.is_empty()) {
            self.commit()?;
        }
        if is_examining && pending == 0 && self.backlog.is_empty() {
            self.ready();
        }
        // The state is another one before anybody is answered, so that what they ask next agrees.
        self.tell();
        match &self.gone {
            Some(why) => self.inbox.refuse_ripe(why),
            None if is_ripe => self.inbox.answer_ripe(&self.keeper.engine.snapshot(), content),
            None => {}
        }
        self.save_if_due();
        Ok(())
    }

    /// Says that the first look is done.
    fn ready(&mut self) {
        self.first = First::Done;
        self.tell();
        let snapshot = self.keeper.engine.snapshot();
        let status = status(&snapshot);
        // Where nothing had changed, what was shown at the beginning turns out to be all.
        self.board.show(Given { snapshot, n_unread: 0 });
        (self.report)(Progress::Ready {
            records: status.records,
            problems: status.problems,
            flags: status.flags,
            took: self.started.elapsed(),
        });
    }

    fn commit(&mut self) -> Result<(), Halt> {
        let snapshot = self.keeper.commit().map_err(Halt::Broken)?;
        let n_unread = usize::from(self.first == First::Look);
        self.board.show(Given { snapshot: snapshot.clone(), n_unread });
        self.backlog = Backlog::default();
        self.save.committed(Instant::now());
        let changed = std::mem::take(&mut self.changed);
        if !changed.is_empty() {
            let status = status(&snapshot);
            (self.report)(changed.progress(status.problems, status.flags));
        }
        Ok(())
    }

    fn save_if_due(&mut self) {
        // A manifest of the middle of the first look would pass for one of the whole folder.
        let is_due = self.save.due().is_some_and(|due| due <= Instant::now());
        if is_due && self.backlog.is_empty() && self.first != First::Look {
            self.save();
        }
    }

    fn save(&mut self) {
        let begun = Instant::now();
        let saved = self.keeper.save();
        self.save.saved(begun, Instant::now());
        if let Err(error) = saved {
            (self.report)(Progress::Trouble(with_source(&error)));
        }
    }

    /// Commits what was taken in; what is not examined yet is examined after the next start.
    fn finish(&mut self) -> Result<(), Halt> {
        if self.first == First::Look {
            return Ok(());
        }
        if !self.backlog.is_empty() {
            self.commit()?;
        }
        self.save();
        Ok(())
    }

    /// Tells what the watcher has to say.
    fn tell(&mut self) {
        for trouble in self.inbox.take_troubles() {
            (self.report)(Progress::Trouble(trouble));
        }
        let state = match &self.gone {
            Some(why) => State::broken(why.clone()),
            None if self.first == First::Look => {
                State::scanning("the folder is being looked through")
            }
            None => self.watcher.mode().into(),
        };
        if self.board.show_state(state.clone()) {
            (self.report)(Progress::State { state: state.name.to_owned(), why: state.why });
        }
    }
}

/// Why it goes no further.
enum Halt {
    Stopped,
    /// The engine can't be written.
    Broken(EngineError),
}

/// Counts what a snapshot has.
fn status(snapshot: &Snapshot) -> StatusAnswer {
    match snapshot.answer(&Request::Status {}) {
        Answer::Status(status) => status,
        _ => StatusAnswer::default(),
    }
}

/// Says an error with its causes on one line.
pub(crate) fn with_source(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        text.push_str(": ");
        text.push_str(&cause.to_string());
        source = cause.source();
    }
    text
}
