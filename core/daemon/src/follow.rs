//! What the engine's thread does while all is well: takes in what the watcher marks, examines, commits, answers fences.
//!
//! It blocks, on the disk and in the engine, so it is a thread and not a task.
//! Questions are not answered here but from a snapshot, so none of them holds this up.

use std::time::{Duration, Instant};

use taperbook_engine::{Answer, Request, Snapshot, StatusAnswer};
use taperbook_folder::{Dirty, ManifestError, Watcher};
use tracing::debug;

use crate::Progress;
use crate::board::{Board, State};
use crate::error::with_source;
use crate::event::{Given, Wants};
use crate::inbox::Inbox;
use crate::keeper::{Keeper, Unfinished};
use crate::listen::{Changed, FirstLook, LaterLook};
use crate::pace::{Backlog, RestPace, SavePace, Slice};
use crate::precedence::Precedence;
use crate::renewal::Renewal;

/// Follows with one engine, as long as that can be written.
pub(crate) struct Follow<'a> {
    keeper: Keeper,
    watcher: &'a Watcher,
    inbox: Inbox,
    board: &'a Board,
    begun: Begun<'a>,
    first: First,
    /// The index was empty at first.
    is_new: bool,
    /// Why the folder can't be looked at.
    gone: Option<String>,
    /// Records that were read while their files were changing.
    doubts: Dirty,
    /// How often such records were looked at again since somebody was answered.
    n_doubts: usize,
    backlog: Backlog,
    slice: Slice,
    precedence: Precedence,
    save: SavePace,
    rest: RestPace,
    /// Many records were read or examined since the engine let go of what that took.
    is_heavy: bool,
    renewal: Renewal,
    changed: Changed,
}

/// What stays the same when the index has to be opened again.
pub(crate) struct Begun<'a> {
    pub(crate) report: &'a dyn Fn(Progress),
    /// Whether the state directory is still where it was.
    pub(crate) is_ours: &'a dyn Fn() -> bool,
    /// Asks for the daemon to begin anew, where it may; and whether it is one that did.
    pub(crate) renew: Option<&'a dyn Fn()>,
    pub(crate) is_renewed: bool,
    pub(crate) started: Instant,
}

/// Somebody waits no longer than so many looks at records that keep changing while they are read.
const MOST_DOUBTS: usize = 3;
/// More changes than these are committed before they are examined, when they are what the first look found.
const MANY: usize = 256;
/// Between two looks at a record that was emptied a moment ago, while somebody waits for what it will be.
const EMPTIED_PAUSE: Duration = Duration::from_millis(10);

/// Between two looks at whether the manifest is written, or what a rest leaves.
const SAVING_PAUSE: Duration = Duration::from_millis(20);

/// How far the first look at the folder has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum First {
    Look,
    /// Everything was read; so many records were to be examined.
    Examination(usize),
    Done,
}

impl<'a> Follow<'a> {
    pub(crate) fn new(
        keeper: Keeper,
        watcher: &'a Watcher,
        inbox: Inbox,
        board: &'a Board,
        begun: Begun<'a>,
    ) -> Self {
        let is_new = keeper.is_new();
        let renewal = Renewal::new(begun.is_renewed);
        board.show(Given { snapshot: keeper.engine.snapshot(), n_unread: 1 });
        Self {
            keeper,
            watcher,
            inbox,
            board,
            begun,
            first: First::Look,
            is_new,
            gone: None,
            doubts: Dirty::default(),
            n_doubts: 0,
            backlog: Backlog::default(),
            slice: Slice::default(),
            precedence: Precedence::default(),
            save: SavePace::default(),
            rest: RestPace::default(),
            is_heavy: false,
            renewal,
            changed: Changed::default(),
        }
    }

    /// Goes on until it can't, and says why.
    pub(crate) fn until_halted(mut self) -> (Inbox, Halt) {
        loop {
            if let Err(halt) = self.turn() {
                return (self.inbox, halt);
            }
        }
    }

    fn turn(&mut self) -> Result<(), Halt> {
        self.tell();
        let wait = self.wait();
        self.inbox.wait(wait);
        if !(self.begun.is_ours)() {
            return Err(Halt::Displaced);
        }
        if self.inbox.is_stopped() {
            self.finish()?;
            return Err(Halt::Stopped);
        }
        self.inbox.raise(self.watcher);
        let again = self.take_again();
        if self.inbox.is_due() && !self.is_held_back() {
            self.inbox.mark(again);
            if self.inbox.is_asked() {
                self.inbox.mark(self.keeper.linked());
            }
            if self.gone.is_some() {
                // It may be back, and the marks that could not be looked at are lost.
                self.inbox.mark(Dirty::Everything);
            }
            let dirty = self.inbox.take_dirty();
            self.look(&dirty)?;
        } else if !again.is_empty() {
            self.look(&again)?;
        }
        if !self.gives_way() {
            self.examine();
        }
        self.settle_up()
    }

    /// Whether somebody who waits for no examination is answered now, or works on what was handed over.
    fn gives_way(&mut self) -> bool {
        if self.gives_way_until(Instant::now()).is_some() {
            return true;
        }
        let is_answered_now = self.first != First::Look
            && self.gone.is_none()
            && self.doubts.is_empty()
            && self.keeper.emptied_until().is_none();
        let gives_way = 0 < self.keeper.engine.pending()
            && is_answered_now
            && self.precedence.is_free()
            && self.inbox.is_ripe(|wants| wants == Wants::Records);
        if gives_way {
            self.precedence.gave_way();
        }
        gives_way
    }

    /// Until when examinations give way to an answer that is being worked out; never while somebody waits for them.
    fn gives_way_until(&mut self, now: Instant) -> Option<Instant> {
        let until = self.precedence.until(now)?;
        (!self.inbox.is_ripe(|wants| wants == Wants::All)).then_some(until)
    }

    /// Whether somebody waits for what was taken in to be worked out, or for an emptied record to be filled.
    ///
    /// What was written after the question is not looked at until it is answered: under steady writing there
    /// would always be something left to do.
    fn is_held_back(&mut self) -> bool {
        let is_busy = 0 < self.keeper.engine.pending() || self.keeper.emptied_until().is_some();
        self.first == First::Done && is_busy && self.inbox.is_ripe(|_| true)
    }

    /// Takes what must be looked at whether anybody is held back or not: records that were read while they were
    /// changing, and those that were emptied a moment ago.
    fn take_again(&mut self) -> Dirty {
        let mut again = std::mem::take(&mut self.doubts);
        if let Some(until) = self.keeper.emptied_until()
            && (until <= Instant::now() || self.is_held_back())
        {
            again.merge(self.keeper.emptied());
        }
        again
    }

    /// How long nothing need be done.
    fn wait(&mut self) -> Option<Duration> {
        let pending = self.keeper.engine.pending();
        let is_held_back = self.is_held_back();
        let now = Instant::now();
        let gives_way = self.gives_way_until(now).filter(|_| 0 < pending);
        if (0 < pending && gives_way.is_none())
            || !self.doubts.is_empty()
            || self.inbox.is_new()
            || (self.inbox.is_due() && !is_held_back)
        {
            return Some(Duration::ZERO);
        }
        let due = [
            gives_way,
            self.backlog.due(pending),
            self.save.due().filter(|_| self.backlog.is_empty()),
            self.rest.due().filter(|_| self.may_rest() && self.keeper.engine.resting().is_none()),
            self.keeper.engine.resting().map(|_| now + SAVING_PAUSE),
            self.keeper.saving().map(|_| now + SAVING_PAUSE),
            self.keeper.emptied_until(),
            is_held_back.then_some(now + EMPTIED_PAUSE),
            self.inbox.overdue(),
        ];
        let due = due.into_iter().flatten().min()?;
        Some(due.saturating_duration_since(now))
    }

    /// Looks where the folder may differ.
    fn look(&mut self, dirty: &Dirty) -> Result<(), Halt> {
        let is_first = self.first == First::Look;
        let begun = Instant::now();
        let looked = if is_first {
            let of = self.is_new.then(|| self.keeper.count_records());
            let mut listener =
                FirstLook::new(&mut self.inbox, self.watcher, self.board, self.begun.report, of);
            let tells = self.begun.is_renewed && !self.is_new;
            listener.changed = tells.then_some(&mut self.changed);
            let looked = self.keeper.reconcile(dirty, &mut listener);
            if let Some(error) = listener.failed {
                return Err(Halt::Broken(with_source(&error)));
            }
            looked
        } else {
            let (inbox, changed) = (&mut self.inbox, &mut self.changed);
            self.keeper.reconcile(dirty, &mut LaterLook { inbox, changed })
        };
        let n_changes = match looked {
            Ok(n_changes) => {
                self.gone = None;
                if is_first && *dirty == Dirty::Everything {
                    let pending = self.keeper.engine.pending();
                    self.first = First::Examination(pending);
                    self.renewal.worked(pending, true);
                }
                n_changes
            }
            Err(Unfinished::Folder(error, n_changes)) => {
                self.gone = Some(with_source(&error));
                n_changes
            }
            Err(Unfinished::Stopped) => {
                self.backlog.add(Instant::now());
                self.finish()?;
                return Err(Halt::Stopped);
            }
        };
        let now = Instant::now();
        debug!(n_changes, took = ?now - begun, "looked");
        self.is_heavy |= MANY < n_changes;
        self.renewal.worked(n_changes, is_first);
        if is_first && MANY < n_changes {
            // Words and fields are found before the plugins have seen all of it, which may take minutes.
            self.commit()?;
        } else if 0 < n_changes {
            self.backlog.add(now);
        } else if !self.keeper.is_saved() {
            self.save.edited(now);
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
        self.precedence.examined();
        self.backlog.examined(Instant::now());
        if let First::Examination(of) = self.first {
            self.is_heavy |= MANY < left;
            (self.begun.report)(Progress::Examining { left, of: of.max(left) });
        }
    }

    /// Commits, answers and saves what is due.
    fn settle_up(&mut self) -> Result<(), Halt> {
        let pending = self.keeper.engine.pending();
        let is_examining = matches!(self.first, First::Examination(_));
        self.doubts.merge(self.keeper.take_doubts());
        let is_doubtful = !self.doubts.is_empty() && self.n_doubts < MOST_DOUBTS;
        self.n_doubts += usize::from(is_doubtful);
        let is_settled = !is_doubtful && self.keeper.emptied_until().is_none();
        let is_looked = !matches!(self.first, First::Look);
        let content = |wants| {
            let is_enough = match wants {
                Wants::Some => is_examining,
                Wants::Records => is_looked,
                Wants::All => false,
            };
            is_settled && (pending == 0 || is_enough)
        };
        let is_ripe = self.inbox.is_ripe(content);
        let is_due = self.backlog.due(pending).is_some_and(|due| due <= Instant::now());
        if is_due || (is_ripe && !self.backlog.is_empty()) {
            self.commit()?;
        }
        if is_ripe && !self.keeper.engine.is_intact() {
            return Err(Halt::Broken("somebody else has written to its files".to_owned()));
        }
        if is_examining && pending == 0 && self.backlog.is_empty() {
            self.ready();
        }
        // The state is another one before anybody is answered, so that what they ask next agrees.
        self.tell();
        match &self.gone {
            Some(why) => self.inbox.refuse_ripe(why),
            None if is_ripe => {
                self.n_doubts = 0;
                let at_work = self.inbox.answer_ripe(&self.keeper.engine.snapshot(), content);
                if 0 < pending {
                    self.precedence.begun(at_work, Instant::now());
                }
            }
            None => {}
        }
        self.save_if_due();
        self.rest_if_due()
    }

    /// Says that the first look is done.
    fn ready(&mut self) {
        self.first = First::Done;
        self.tell();
        let snapshot = self.keeper.engine.snapshot();
        let status = status(&snapshot);
        // Where nothing had changed, what was shown at the beginning turns out to be all.
        self.board.show(Given { snapshot, n_unread: 0 });
        if !self.keeper.is_saved() {
            self.save.edited(Instant::now());
        }
        (self.begun.report)(Progress::Ready {
            records: status.records,
            problems: status.problems,
            flags: status.flags,
            took: self.begun.started.elapsed(),
        });
    }

    fn commit(&mut self) -> Result<(), Halt> {
        let begun = Instant::now();
        let committed = self.keeper.commit();
        let snapshot = committed.map_err(|error| Halt::Broken(with_source(&error)))?;
        debug!(generation = self.keeper.engine.generation(), took = ?begun.elapsed(), "committed");
        let n_unread = usize::from(self.first == First::Look);
        self.board.show(Given { snapshot: snapshot.clone(), n_unread });
        self.backlog.committed(begun, Instant::now());
        self.save.edited(Instant::now());
        self.rest.worked(Instant::now());
        let changed = std::mem::take(&mut self.changed);
        if !changed.is_empty() {
            let status = status(&snapshot);
            (self.begun.report)(changed.progress(status.problems, status.flags));
        }
        Ok(())
    }

    fn save_if_due(&mut self) {
        if self.keeper.saving() == Some(true) {
            let saved = self.keeper.end_saving();
            self.tell_if_failed(saved);
        }
        let is_due = self.save.due().is_some_and(|due| due <= Instant::now());
        if is_due && self.backlog.is_empty() && self.keeper.saving().is_none() {
            let begun = Instant::now();
            let begins = self.keeper.begin_to_save();
            self.save.saved(begun, Instant::now());
            debug!(took = ?begun.elapsed(), "the keys of the files are being written");
            self.tell_if_failed(begins);
        }
    }

    fn tell_if_failed(&self, saved: Result<(), ManifestError>) {
        if let Err(error) = saved {
            (self.begun.report)(Progress::Trouble(with_source(&error)));
        }
    }

    /// Lets go of what is not needed any more, once nothing has come for a while.
    fn rest_if_due(&mut self) -> Result<(), Halt> {
        let begun = Instant::now();
        if let Some(is_over) = self.keeper.engine.resting() {
            return if is_over { self.end_rest() } else { Ok(()) };
        }
        let is_due = self.rest.due().is_some_and(|due| due <= begun);
        if !is_due || !self.may_rest() {
            return Ok(());
        }
        let engine = &mut self.keeper.engine;
        let snapshot = if self.is_heavy { engine.begin_to_rest() } else { engine.refresh() };
        let snapshot = snapshot.map_err(|error| Halt::Broken(with_source(&error)))?;
        self.board.show_alike(snapshot);
        self.rest.rested(Instant::now());
        debug!(is_heavy = self.is_heavy, took = ?begun.elapsed(), "rested");
        if !self.is_heavy {
            self.renew_if_due();
        }
        Ok(())
    }

    /// Lets go of what a rest has written, unless something came meanwhile.
    fn end_rest(&mut self) -> Result<(), Halt> {
        let begun = Instant::now();
        let ended = self.keeper.engine.end_rest();
        match ended.map_err(|error| Halt::Broken(with_source(&error)))? {
            Some(snapshot) => {
                self.is_heavy = false;
                self.rest.was_quiet(Instant::now());
                self.board.show_alike(snapshot);
            }
            None => self.rest.was_disturbed(),
        }
        debug!(is_heavy = self.is_heavy, took = ?begun.elapsed(), "a rest has ended");
        Ok(())
    }

    fn renew_if_due(&mut self) {
        let Some(renew) = self.begun.renew else { return };
        let engine = &self.keeper.engine;
        if self.renewal.is_due(status(&engine.snapshot()).records, engine.is_merged()) {
            renew();
        }
        if self.renewal.waits() {
            self.rest.worked(Instant::now());
        }
    }

    /// Commits what was taken in; what is not examined yet is examined after the next start.
    fn finish(&mut self) -> Result<(), Halt> {
        if !self.backlog.is_empty() {
            self.commit()?;
        }
        let saved = self.keeper.save();
        self.tell_if_failed(saved);
        Ok(())
    }

    /// Whether nothing is left to do, so that what that took may go.
    fn may_rest(&self) -> bool {
        self.first == First::Done && !self.is_behind()
    }

    /// Whether something is known of that the last commit lacks.
    fn is_behind(&self) -> bool {
        self.first == First::Look
            || self.gone.is_some()
            || self.inbox.is_marked()
            || !self.backlog.is_empty()
            || 0 < self.keeper.engine.pending()
    }

    /// Tells what the watcher has to say, and how far behind the index is.
    fn tell(&mut self) {
        for trouble in self.inbox.take_troubles() {
            (self.begun.report)(Progress::Trouble(trouble));
        }
        let state = match &self.gone {
            Some(why) => State::broken(why.clone()),
            None if self.first == First::Look => {
                State::scanning("the folder is being looked through")
            }
            None => self.watcher.mode().into(),
        };
        self.board.show_behind(self.is_behind());
        if self.board.show_state(state.clone()) {
            (self.begun.report)(Progress::State { state: state.name.to_owned(), why: state.why });
        }
    }
}

/// Why it goes no further.
pub(crate) enum Halt {
    Stopped,
    /// The state directory is somewhere else.
    Displaced,
    /// The index can't be written or read, and why.
    Broken(String),
}

/// Counts what a snapshot has.
pub(crate) fn status(snapshot: &Snapshot) -> StatusAnswer {
    match snapshot.answer(&Request::Status {}) {
        Answer::Status(status) => status,
        _ => StatusAnswer::default(),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Weak;
    use std::sync::mpsc::channel;

    use taperbook_folder::{Folder, Settle};
    use tokio::sync::oneshot;

    use super::*;
    use crate::event::{Event, Waiter};
    use crate::place::Place;
    use crate::shop::shop_of;

    /// In the middle of a look everything that came is taken in, and no event may follow by which it would be noticed.
    #[test]
    fn somebody_who_asks_in_the_middle_of_a_look_is_answered_though_nothing_follows() {
        let (_home, shop) = shop_of(100);
        let place = Place::of(&shop).unwrap();
        place.make().unwrap();
        // The second time there is nothing to take in, to examine, to commit or to save.
        for round in ["an empty index", "one that is up to date"] {
            let (watcher, from_watcher) = {
                let folder = Folder::open(&place.folder).unwrap();
                Watcher::start(&folder, place.dir(), Settle::default()).unwrap()
            };
            let (events, inbox) = channel();
            let inlet = events.clone();
            std::thread::spawn(move || {
                from_watcher.iter().all(|event| inlet.send(Event::Folder(event)).is_ok())
            });
            let (reply, given) = oneshot::channel();
            let waiter = std::cell::Cell::new(Some(reply));
            // It is asked for in each turn, after what came was taken in and before the look.
            let is_ours = || {
                if let Some(reply) = waiter.take() {
                    let waiter = Waiter { wants: Wants::All, reply, at_work: Weak::new() };
                    assert!(events.send(Event::Fence(waiter)).is_ok());
                }
                true
            };
            let board = Board::default();
            std::thread::scope(|scope| {
                let answered = scope.spawn(|| {
                    let given = tokio::runtime::Builder::new_current_thread()
                        .enable_time()
                        .build()
                        .unwrap()
                        .block_on(async {
                            tokio::time::timeout(Duration::from_secs(60), given).await
                        });
                    drop(events.send(Event::Stop));
                    given.is_ok_and(|given| given.is_ok_and(|given| given.is_ok()))
                });
                let keeper = Keeper::open(&shop, &place).unwrap();
                let begun = Begun {
                    report: &|_| {},
                    is_ours: &is_ours,
                    renew: None,
                    is_renewed: false,
                    started: Instant::now(),
                };
                let inbox = Inbox::new(inbox);
                let (_, halt) = Follow::new(keeper, &watcher, inbox, &board, begun).until_halted();
                assert!(matches!(halt, Halt::Stopped));
                assert!(answered.join().unwrap(), "{round}");
            });
        }
    }
}
