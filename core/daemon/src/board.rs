//! What the engine's thread shows to those who answer: the last snapshot, and how it is going.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use taperbook_engine::Snapshot;
use taperbook_folder::Mode;
use tokio::sync::watch;

use crate::event::Given;

/// Shared by the thread that owns the engine and the tasks that answer.
#[derive(Default)]
pub(crate) struct Board {
    shown: Mutex<Shown>,
    /// Counts the commits that were shown, for those who want to hear of each.
    count: watch::Sender<u64>,
}

/// What is on the board.
#[derive(Clone)]
pub(crate) struct Shown {
    /// The last commit; `None` until the engine is open.
    pub(crate) given: Option<Given>,
    /// How the folder is followed.
    pub(crate) state: State,
    /// Since when the last commit lacks something that is known of.
    pub(crate) behind_since: Option<Instant>,
}

/// How the daemon follows the folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct State {
    pub(crate) name: &'static str,
    pub(crate) why: Option<String>,
}

const SCANNING: &str = "scanning";

impl Board {
    /// A board on which so many commits were shown already.
    pub(crate) fn after(n_changes: u64) -> Self {
        Self { count: watch::Sender::new(n_changes), ..Self::default() }
    }

    /// How many commits were shown.
    pub(crate) fn n_changes(&self) -> u64 {
        *self.count.borrow()
    }

    pub(crate) fn shown(&self) -> Shown {
        self.with(|shown| shown.clone())
    }

    pub(crate) fn show(&self, given: Given) {
        self.with(|shown| shown.given = Some(given));
        self.count.send_modify(|count| *count += 1);
    }

    /// Shows a snapshot that answers as the one that is shown, so that nobody need hear of it.
    pub(crate) fn show_alike(&self, snapshot: Arc<Snapshot>) {
        self.with(|shown| {
            if let Some(given) = &mut shown.given {
                given.snapshot = snapshot;
            }
        });
    }

    /// Hears of every commit from now on.
    pub(crate) fn changes(&self) -> watch::Receiver<u64> {
        self.count.subscribe()
    }

    /// Says whether the state is another one than before.
    pub(crate) fn show_state(&self, state: State) -> bool {
        self.with(|shown| std::mem::replace(&mut shown.state, state.clone()) != state)
    }

    /// Says whether the last commit lacks something.
    pub(crate) fn show_behind(&self, is_behind: bool) {
        self.with(|shown| match is_behind {
            true => drop(shown.behind_since.get_or_insert_with(Instant::now)),
            false => shown.behind_since = None,
        });
    }

    fn with<T>(&self, look: impl FnOnce(&mut Shown) -> T) -> T {
        // Nothing can panic between two writes of it, so a poisoned board is whole.
        look(&mut self.shown.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Default for Shown {
    /// Nothing is taken in at the beginning.
    fn default() -> Self {
        Self { given: None, state: State::default(), behind_since: Some(Instant::now()) }
    }
}

impl State {
    /// The folder is being looked through for the first time.
    pub(crate) fn scanning(why: &str) -> Self {
        Self { name: SCANNING, why: Some(why.to_owned()) }
    }

    /// Whether the first look is not done.
    pub(crate) fn is_scanning(&self) -> bool {
        self.name == SCANNING
    }

    /// The index or the folder can't be used for the time being.
    pub(crate) fn broken(why: String) -> Self {
        Self { name: "degraded", why: Some(why) }
    }
}

impl Default for State {
    fn default() -> Self {
        Self::scanning("the index is being opened")
    }
}

impl From<Mode> for State {
    fn from(mode: Mode) -> Self {
        let words = mode.to_string();
        let why = words.split_once(": ").map(|(_, why)| why.to_owned());
        match mode {
            Mode::Live => Self { name: "live", why: None },
            Mode::Polling { .. } => Self { name: "polling", why },
            Mode::Degraded { .. } => Self { name: "degraded", why },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_state_says_why() {
        assert_eq!(State::from(Mode::Live), State { name: "live", why: None });
        let polling = State::from(Mode::Polling { why: "the disk tells: nothing".into() });
        assert_eq!(polling, State { name: "polling", why: Some("the disk tells: nothing".into()) });
        let directories = vec!["builds".to_owned()];
        let degraded =
            State::from(Mode::Degraded { why: "the limit is reached".into(), directories });
        assert_eq!(degraded.why.as_deref(), Some("the limit is reached: `builds`"));
    }

    #[test]
    fn what_lacks_longest_counts() {
        let board = Board::default();
        let first = board.shown().behind_since;
        assert!(first.is_some());
        board.show_behind(true);
        assert_eq!(board.shown().behind_since, first);
        board.show_behind(false);
        assert_eq!(board.shown().behind_since, None);
        board.show_behind(true);
        assert!(first < board.shown().behind_since);
    }

    #[test]
    fn only_another_state_is_told() {
        let board = Board::default();
        assert!(board.show_state(Mode::Live.into()));
        assert!(!board.show_state(Mode::Live.into()));
        assert_eq!(board.shown().state.name, "live");
    }
}
