//! Advice that was given, kept as long as nothing that it was made of changes: a page that is looked at again, or
//! fetched anew since another record changed, asks for the same once more.
//!
//! It differs from a memo in that nothing else is made of it, so that no node of the graph is spent on it.

use std::collections::{BTreeSet, HashMap};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use taperbook_plugin::{Advice, Question};

use crate::ask::Refusal;

/// How many pieces of advice are kept, those asked for last. Most have a few kilobytes; the rods that a blank could be
/// have a hundred.
const MOST_KEPT: usize = 128;

/// The advice that was given on one state of what it reads.
#[derive(Default)]
pub(crate) struct Advices {
    cells: Mutex<HashMap<String, Arc<Cell>>>,
    clock: AtomicU64,
}

/// Advice that somebody waits for.
#[derive(Default)]
struct Cell {
    given: OnceLock<Given>,
    /// When it was asked for last, counted in questions.
    asked: AtomicU64,
}

/// What a question was answered with, and the nodes that the answer was made of.
#[derive(Clone)]
pub(crate) struct Given {
    pub(crate) advice: Result<Advice, Refusal>,
    pub(crate) reads: BTreeSet<String>,
}

impl Advices {
    /// Gives the advice on a question, made now if it is not there; another who asks at the same time waits.
    pub(crate) fn get(
        &self,
        question: &Question,
        make: impl FnOnce() -> Given,
    ) -> Result<Advice, Refusal> {
        let cell = {
            let mut cells = self.lock();
            let cell = cells.entry(format!("{question:?}")).or_default().clone();
            cell.asked.store(self.clock.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
            while MOST_KEPT < cells.len() {
                let asked = |cell: &Arc<Cell>| cell.asked.load(Ordering::Relaxed);
                let oldest = cells.values().map(asked).min();
                cells.retain(|_, cell| Some(asked(cell)) != oldest);
            }
            cell
        };
        cell.given.get_or_init(make).advice.clone()
    }

    /// Gives a copy without what was made of what changed, or of what depends on it.
    ///
    /// What somebody is just working out is made of the old state and stays behind.
    pub(crate) fn after(&self, changed: &[String], dependents: &[Arc<str>]) -> Self {
        let changed = changed.iter().map(String::as_str);
        let nodes: BTreeSet<&str> = changed.chain(dependents.iter().map(|node| &**node)).collect();
        let is_right = |cell: &Arc<Cell>| {
            let given = cell.given.get();
            given.is_some_and(|given| !given.reads.iter().any(|read| nodes.contains(&**read)))
        };
        let mut cells = self.lock().clone();
        cells.retain(|_, cell| is_right(cell));
        Self { cells: Mutex::new(cells), clock: AtomicU64::new(self.clock.load(Ordering::Relaxed)) }
    }

    /// Whether there is none, also none that is being worked out.
    pub(crate) fn is_empty(&self) -> bool {
        self.lock().is_empty()
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<String, Arc<Cell>>> {
        // Nothing can panic while it is half changed.
        self.cells.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn walk(of: usize) -> Question {
        Question::Walk { record: of.to_string() }
    }

    fn given(read: &str) -> Given {
        Given { advice: Ok(Advice::Walk(Vec::new())), reads: BTreeSet::from([read.to_owned()]) }
    }

    fn is_kept(advices: &Advices, question: &Question) -> bool {
        let mut is_kept = true;
        let made = advices.get(question, || {
            is_kept = false;
            given("record:other")
        });
        assert!(made.is_ok());
        is_kept
    }

    #[test]
    fn advice_is_kept_until_something_changes_that_it_was_made_of() {
        let advices = Advices::default();
        for (of, read) in ["record:a", "record:b"].into_iter().enumerate() {
            assert!(advices.get(&walk(of), || given(read)).is_ok());
        }
        let after = advices.after(&["record:a".to_owned()], &[]);
        assert!(!is_kept(&after, &walk(0)) && is_kept(&after, &walk(1)));
        // Whoever holds the state before still has both.
        assert!(is_kept(&advices, &walk(0)) && is_kept(&advices, &walk(1)));
    }

    #[test]
    fn what_nobody_asked_for_the_longest_makes_room() {
        let advices = Advices::default();
        for of in 0..MOST_KEPT {
            assert!(!is_kept(&advices, &walk(of)));
        }
        assert!(is_kept(&advices, &walk(0)));
        assert!(!is_kept(&advices, &walk(MOST_KEPT)));
        assert!(is_kept(&advices, &walk(0)) && is_kept(&advices, &walk(MOST_KEPT)));
        assert!(!is_kept(&advices, &walk(1)));
        assert_eq!(advices.lock().len(), MOST_KEPT);
    }
}
