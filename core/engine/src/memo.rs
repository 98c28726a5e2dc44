//! What is costly and shared by several examinations, worked out once per state of what it reads.

use std::any::Any;
use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use taperbook_plugin::{MemoKey, Read, Source, View};

/// The memos of one snapshot; taking a copy is cheap.
#[derive(Default)]
pub(crate) struct Memos {
    cells: Mutex<imbl::HashMap<MemoKey, Arc<OnceLock<Kept>>>>,
    /// Those worked out since somebody asked, so that the engine can learn what they read.
    fresh: Mutex<Vec<MemoKey>>,
}

/// A memo with what it was worked out from.
#[derive(Clone)]
pub(crate) struct Kept {
    pub(crate) value: Arc<dyn Any + Send + Sync>,
    pub(crate) reads: Arc<BTreeSet<Read>>,
}

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
        cell.get_or_init(|| {
            let view = View::new(source);
            let value = compute(&view);
            lock(&self.fresh).push(key.clone());
            Kept { value, reads: Arc::new(view.into_reads()) }
        })
        .clone()
    }

    /// Gives a memo if it was worked out.
    pub(crate) fn kept(&self, key: &MemoKey) -> Option<Kept> {
        let cell = lock(&self.cells).get(key)?.clone();
        cell.get().cloned()
    }

    /// Gives a copy without these.
    pub(crate) fn without<'a>(&self, keys: impl Iterator<Item = &'a MemoKey>) -> Self {
        let mut cells = lock(&self.cells).clone();
        for key in keys {
            cells.remove(key);
        }
        Self { cells: Mutex::new(cells), fresh: Mutex::default() }
    }

    /// Gives what was worked out since the last call, with what it read.
    pub(crate) fn take_fresh(&self) -> Vec<(MemoKey, Kept)> {
        let keys = std::mem::take(&mut *lock(&self.fresh));
        keys.into_iter().filter_map(|key| self.kept(&key).map(|kept| (key, kept))).collect()
    }
}

/// Locks, also after a plugin's panic: the table itself is never left half changed.
fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
