//! What is costly and shared by several examinations, worked out once per state of what it reads.

use std::any::Any;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use taperbook_plugin::{MemoKey, Read, Source, View};

/// The memos of one snapshot; taking a copy is cheap.
///
/// Only so many are kept, those asked for last: one that is dropped is worked out again when it is wanted.
#[derive(Default)]
pub(crate) struct Memos {
    cells: Mutex<imbl::HashMap<MemoKey, Arc<Cell>>>,
    /// What was worked out since somebody asked, with what it read, so that the engine can learn who depends on whom.
    fresh: Mutex<Vec<(MemoKey, Reads)>>,
    clock: AtomicU64,
}

type Reads = Arc<BTreeSet<Read>>;

/// A memo, perhaps still being worked out.
#[derive(Default)]
struct Cell {
    kept: OnceLock<Kept>,
    /// When it was asked for last, counted in questions.
    asked: AtomicU64,
}

/// A memo with what it was worked out from.
#[derive(Clone)]
pub(crate) struct Kept {
    pub(crate) value: Arc<dyn Any + Send + Sync>,
    pub(crate) reads: Reads,
}

/// How many memos are kept; a fitted piece is about ten kilobytes. The pieces of a model are examined one after the
/// other, so a thousand are enough for what is worked on at a time.
const MOST_KEPT: usize = 2048;

impl Memos {
    /// Gives a memo, worked out now if it is not there.
    ///
    /// Another thread that asks at the same time waits, so `compute` must not hand work to a thread pool.
    pub(crate) fn get(
        &self,
        source: &dyn Source,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Kept {
        let cell = lock(&self.cells).entry(key.clone()).or_default().clone();
        cell.asked.store(self.clock.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
        let mut is_new = false;
        let kept = cell
            .kept
            .get_or_init(|| {
                is_new = true;
                let view = View::new(source);
                let value = compute(&view);
                Kept { value, reads: Arc::new(view.into_reads()) }
            })
            .clone();
        if is_new {
            // What it was made of was asked for after it, so that it may have been dropped as the oldest while it was made.
            cell.asked.store(self.clock.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
            lock(&self.cells).insert(key.clone(), cell);
            lock(&self.fresh).push((key.clone(), kept.reads.clone()));
            self.drop_the_oldest();
        }
        kept
    }

    /// Gives a memo if it is kept.
    pub(crate) fn kept(&self, key: &MemoKey) -> Option<Kept> {
        let cell = lock(&self.cells).get(key)?.clone();
        cell.kept.get().cloned()
    }

    /// Gives a copy without these.
    pub(crate) fn without<'a>(&self, keys: impl Iterator<Item = &'a MemoKey>) -> Self {
        // One that somebody is just working out sees the old state and is not in `fresh` yet: it stays behind.
        let mut cells = lock(&self.cells).clone();
        cells.retain(|_, cell| cell.kept.get().is_some());
        let fresh = Mutex::new(lock(&self.fresh).clone());
        for key in keys {
            cells.remove(key);
        }
        let clock = AtomicU64::new(self.clock.load(Ordering::Relaxed));
        Self { cells: Mutex::new(cells), fresh, clock }
    }

    /// Gives what was worked out since the last call, with what it read.
    pub(crate) fn take_fresh(&self) -> Vec<(MemoKey, Reads)> {
        std::mem::take(&mut *lock(&self.fresh))
    }

    /// Drops a quarter of the memos when there are too many, those that nobody asked for the longest.
    fn drop_the_oldest(&self) {
        let mut cells = lock(&self.cells);
        if cells.len() <= MOST_KEPT {
            return;
        }
        let mut asked: Vec<u64> =
            cells.values().map(|cell| cell.asked.load(Ordering::Relaxed)).collect();
        let quarter = asked.len() / 4;
        let (_, oldest, _) = asked.select_nth_unstable(quarter);
        let oldest = *oldest;
        cells.retain(|_, cell| oldest <= cell.asked.load(Ordering::Relaxed));
    }
}

/// Locks, also after a plugin's panic: the table itself is never left half changed.
fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use taperbook_plugin::Shelf;

    use super::*;

    /// What is made of more memos than are kept outlives them, or whoever asks next would make it again.
    #[test]
    fn a_memo_outlives_the_many_that_it_was_made_of() {
        let (memos, shelf) = (Memos::default(), Shelf::default());
        let key = |of: String| MemoKey { what: "of a test".into(), of };
        memos.get(&shelf, &key("whole".to_owned()), &|_| {
            for part in 0..MOST_KEPT + 100 {
                memos.get(&shelf, &key(part.to_string()), &|_| Arc::new(part));
            }
            Arc::new(0_u8)
        });
        assert!(memos.kept(&key("whole".to_owned())).is_some());
        assert!(memos.kept(&key("0".to_owned())).is_none(), "the oldest parts are gone");
    }
}
