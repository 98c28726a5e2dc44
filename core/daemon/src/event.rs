//! Everything that the thread which owns the engine can be told: one closed list.

use std::sync::Arc;

use taperbook_engine::Snapshot;
use tokio::sync::oneshot;

/// What the engine's thread is told.
pub(crate) enum Event {
    /// The watcher saw something.
    Folder(taperbook_folder::Event),
    /// Somebody asks for everything that was written before now.
    Fence(Waiter),
    /// Finish and end.
    Stop,
}

/// Somebody who waits for a snapshot.
pub(crate) struct Waiter {
    /// How much the snapshot must know.
    pub(crate) wants: Wants,
    /// Where it is wanted; an error is a lower-case fragment that says why there is none.
    pub(crate) reply: oneshot::Sender<Result<Given, String>>,
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
