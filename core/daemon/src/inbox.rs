//! What came in for the engine's thread and is not done yet: where to look, and who waits for what.

use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant};

use taperbook_engine::Snapshot;
use taperbook_folder::{Dirty, Watcher};

use crate::event::{AtWork, Event, Given, Waiter, Wants};

/// The events of the engine's thread, sorted.
pub(crate) struct Inbox {
    events: Receiver<Event>,
    /// Where the folder may differ from what the engine knows.
    dirty: Dirty,
    /// Those who asked and for whom no fence was raised yet.
    asked: Vec<Waiter>,
    /// Those whose fence was raised and not seen yet, the earliest first.
    raised: Vec<Raised>,
    /// Those whose fence was seen: all that they wrote is marked dirty, or was taken in.
    seen: Vec<Waiter>,
    /// Those all of whose marks the engine's thread has taken to look at.
    ripe: Vec<Waiter>,
    troubles: Vec<String>,
    is_stopped: bool,
}

/// Somebody whose fence was raised.
struct Raised {
    number: u64,
    /// When it was raised, or the watcher was told that it is overdue.
    at: Instant,
    waiter: Waiter,
}

/// An event comes within milliseconds; a fence that has none for so long has lost it.
const OVERDUE: Duration = Duration::from_secs(5);

impl Inbox {
    pub(crate) fn new(events: Receiver<Event>) -> Self {
        Self {
            events,
            dirty: Dirty::default(),
            asked: Vec::new(),
            raised: Vec::new(),
            seen: Vec::new(),
            ripe: Vec::new(),
            troubles: Vec::new(),
            is_stopped: false,
        }
    }

    /// Waits for an event, no longer than `at_most`, and takes in all that are there.
    pub(crate) fn wait(&mut self, at_most: Option<Duration>) {
        let first = match at_most {
            None => self.events.recv().map_err(|_| RecvTimeoutError::Disconnected),
            Some(at_most) => self.events.recv_timeout(at_most),
        };
        match first {
            Ok(event) => self.sort(event),
            Err(RecvTimeoutError::Timeout) => return,
            // Nobody is left who could say anything.
            Err(RecvTimeoutError::Disconnected) => self.is_stopped = true,
        }
        self.drain();
    }

    /// Takes in all events that are there.
    pub(crate) fn drain(&mut self) {
        while let Ok(event) = self.events.try_recv() {
            self.sort(event);
        }
    }

    /// Raises one fence for all who asked since the last, and sees to one whose event did not come.
    pub(crate) fn raise(&mut self, watcher: &Watcher) {
        let now = Instant::now();
        let late = self.raised.iter_mut().filter(|raised| raised.at + OVERDUE <= now);
        if let Some(number) = late.map(|raised| (raised.at = now, raised.number).1).max() {
            watcher.overdue(number);
        }
        if self.asked.is_empty() {
            return;
        }
        match watcher.fence() {
            Ok(number) => {
                let raised = self.asked.drain(..).map(|waiter| Raised { number, at: now, waiter });
                self.raised.extend(raised);
            }
            Err(error) => {
                let why = error.to_string();
                self.asked.drain(..).for_each(|waiter| waiter.answer(Err(why.clone())));
            }
        }
    }

    /// When the event of a fence will be overdue, if one is waited for.
    pub(crate) fn overdue(&self) -> Option<Instant> {
        self.raised.iter().map(|raised| raised.at + OVERDUE).min()
    }

    pub(crate) fn is_stopped(&self) -> bool {
        self.is_stopped
    }

    /// Whether something came in, perhaps in the middle of a look, for which there is no further event to wait for:
    /// somebody asked and has no fence yet, or it is told to stop.
    pub(crate) fn is_new(&self) -> bool {
        self.is_stopped || !self.asked.is_empty()
    }

    /// Whether there is something to look at, or somebody to be sure that there is nothing.
    pub(crate) fn is_due(&self) -> bool {
        !self.dirty.is_empty() || !self.seen.is_empty()
    }

    /// Whether there is something to look at.
    pub(crate) fn is_marked(&self) -> bool {
        !self.dirty.is_empty()
    }

    /// Whether somebody asked for what is there now, and has not been looked for yet.
    pub(crate) fn is_asked(&self) -> bool {
        !self.seen.is_empty()
    }

    pub(crate) fn mark(&mut self, dirty: Dirty) {
        self.dirty.merge(dirty);
    }

    /// Takes all marks; once they are looked at, everybody whose fence was seen before can be answered.
    pub(crate) fn take_dirty(&mut self) -> Dirty {
        self.ripe.append(&mut self.seen);
        std::mem::take(&mut self.dirty)
    }

    pub(crate) fn take_troubles(&mut self) -> Vec<String> {
        std::mem::take(&mut self.troubles)
    }

    /// Whether somebody can be answered who is content with this much; those who went away count no more.
    pub(crate) fn is_ripe(&mut self, content: impl Fn(Wants) -> bool) -> bool {
        self.ripe.retain(|waiter| !waiter.reply.is_closed());
        self.ripe.iter().any(|waiter| content(waiter.wants))
    }

    /// Whether somebody waits, fence or not, who is content with what there is.
    pub(crate) fn is_content(&self) -> bool {
        let raised = self.raised.iter().map(|raised| &raised.waiter);
        self.asked.iter().chain(&self.seen).chain(&self.ripe).chain(raised).any(is_content)
    }

    /// Answers those whose marks were looked at and who are content with this much; gives who of them works on.
    pub(crate) fn answer_ripe(
        &mut self,
        snapshot: &Arc<Snapshot>,
        content: impl Fn(Wants) -> bool,
    ) -> Vec<Weak<AtWork>> {
        let content = self.ripe.extract_if(.., |waiter| content(waiter.wants));
        let answered = content.map(|waiter| {
            let at_work = waiter.at_work.clone();
            waiter.answer(Ok(Given { snapshot: snapshot.clone(), n_unread: 0 }));
            at_work
        });
        answered.filter(|at_work| 0 < at_work.strong_count()).collect()
    }

    /// Answers all who are content with what there is, whether their fence was seen or not.
    pub(crate) fn answer_content(&mut self, given: &Given) {
        let raised = self.raised.extract_if(.., |raised| is_content(&raised.waiter));
        let raised = raised.map(|raised| raised.waiter);
        let lists = [&mut self.asked, &mut self.seen, &mut self.ripe].into_iter();
        let others = lists.flat_map(|list| list.extract_if(.., |waiter| is_content(waiter)));
        for waiter in others.chain(raised) {
            waiter.answer(Ok(given.clone()));
        }
    }

    /// Tells those whose marks were looked at that there is no answer.
    pub(crate) fn refuse_ripe(&mut self, why: &str) {
        self.ripe.drain(..).for_each(|waiter| waiter.answer(Err(why.to_owned())));
    }

    /// Tells all who wait that there is no answer.
    pub(crate) fn refuse_all(&mut self, why: &str) {
        let raised = self.raised.drain(..).map(|raised| raised.waiter);
        let others = self.asked.drain(..).chain(self.seen.drain(..)).chain(self.ripe.drain(..));
        others.chain(raised).for_each(|waiter| waiter.answer(Err(why.to_owned())));
    }

    fn sort(&mut self, event: Event) {
        match event {
            Event::Folder(taperbook_folder::Event::Dirty(dirty)) => self.dirty.merge(dirty),
            Event::Folder(taperbook_folder::Event::Fence(number)) => {
                // An earlier fence was raised earlier, so what it stands for was seen as well.
                let seen = self.raised.extract_if(.., |raised| raised.number <= number);
                self.seen.extend(seen.map(|raised| raised.waiter));
            }
            Event::Folder(taperbook_folder::Event::Trouble(trouble)) => self.troubles.push(trouble),
            // Nobody waits any more where the other end is closed.
            Event::Fence(waiter) if waiter.reply.is_closed() => {}
            Event::Fence(waiter) => self.asked.push(waiter),
            // That it came is all.
            Event::Answered => {}
            Event::Stop => self.is_stopped = true,
        }
    }
}

fn is_content(waiter: &Waiter) -> bool {
    waiter.wants == Wants::Some
}
