//! Everything that the thread which owns the engine can be told: one closed list.

use std::sync::mpsc::Sender;
use std::sync::{Arc, Weak};

use taperbook_engine::Snapshot;
use tokio::sync::oneshot;

/// What the engine's thread is told.
pub(crate) enum Event {
    /// The watcher saw something.
    Folder(taperbook_folder::Event),
    /// Somebody asks for everything that was written before now.
    Fence(Waiter),
    /// Somebody who was [`AtWork`] has his answer.
    Answered,
    /// Finish and end.
    Stop,
}

/// Somebody who waits for a snapshot.
pub(crate) struct Waiter {
    /// How much the snapshot must know.
    pub(crate) wants: Wants,
    /// Where it is wanted; an error is a lower-case fragment that says why there is none.
    pub(crate) reply: oneshot::Sender<Result<Given, String>>,
    /// Kept by whoever will work out the answer, until that is done; none where that does not matter.
    pub(crate) at_work: Weak<AtWork>,
}

/// Somebody works out an answer; the engine's thread hears of its end, also where it is given up.
pub(crate) struct AtWork(Sender<Event>);

impl AtWork {
    pub(crate) fn new(events: Sender<Event>) -> Self {
        Self(events)
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        // Where nobody listens any more nobody wants to know.
        let _ = self.0.send(Event::Answered);
    }
}

/// What somebody waited for.
#[derive(Clone)]
pub(crate) struct Given {
    pub(crate) snapshot: Arc<Snapshot>,
    /// Files that are still to be read, about; while it is not 0 an answer must say that more is to come.
    pub(crate) n_unread: usize,
}

/// How much a snapshot must know, beside what was written before the question.
///
/// While a large folder is taken in for the first time, there may be files that nobody has read; afterwards everything written before
/// the question is in it, whatever was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wants {
    /// What there is: the answer says how many records are still to come.
    Some,
    /// All records, but not what follows from them: the answer works out what it needs by itself.
    Records,
    /// Everything: the answer has no place to say that something is missing.
    All,
}

impl Waiter {
    /// Hands over what was waited for; somebody who went away needs nothing.
    pub(crate) fn answer(self, answer: Result<Given, String>) {
        let _ = self.reply.send(answer);
    }
}
