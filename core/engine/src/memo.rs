//! What is costly and shared by several examinations, worked out once per state of what it reads.

use std::any::Any;
use std::borrow::Cow;
use std::collections::{BTreeSet, HashMap};
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use taperbook_plugin::{Lasts, MemoKey, Read, Source, View};

/// The memos of one snapshot; taking a copy is cheap.
///
/// Only so many are kept, those asked for last: one that is dropped is worked out again when it is wanted.
#[derive(Default)]
pub(crate) struct Memos {
    cells: Mutex<imbl::HashMap<MemoKey, Arc<Cell>>>,
    /// What was worked out since somebody asked, so that the engine can learn who depends on whom.
    fresh: Mutex<Vec<Fresh>>,
    clock: AtomicU64,
    /// How many more can be made before it is looked whether there are too many: of those that last, and of the others.
    room: [AtomicUsize; 2],
}

type Reads = Arc<BTreeSet<Read>>;

/// Something that was worked out just now.
#[derive(Clone)]
pub(crate) struct Fresh {
    pub(crate) key: MemoKey,
    pub(crate) reads: Reads,
    /// What to keep of it on the disk.
    pub(crate) bytes: Option<Vec<u8>>,
}

/// A memo that somebody waits for.
pub(crate) enum Made {
    /// It was worked out, and this is to be kept of it on the disk.
    Now(Kept, Option<Vec<u8>>),
    /// It was worked out before, and is the same.
    Before(Kept),
}

impl Kept {
    /// Works a memo out.
    pub(crate) fn new(
        source: &dyn Source,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Self {
        let view = View::new(source);
        let value = compute(&view);
        Self { value, reads: Arc::new(view.into_reads()) }
    }

    /// Works one out that lasts.
    pub(crate) fn lasting(source: &dyn Source, key: &MemoKey, lasts: &'static dyn Lasts) -> Self {
        Self::new(source, &|view| lasts.compute(view, &key.of))
    }
}

/// A memo, perhaps still being worked out.
#[derive(Default)]
struct Cell {
    kept: OnceLock<Kept>,
    /// When it was asked for last, counted in questions.
    asked: AtomicU64,
    /// It is kept on the disk too, as only what is small is.
    lasts: AtomicBool,
}

/// A memo with what it was worked out from.
#[derive(Clone)]
pub(crate) struct Kept {
    pub(crate) value: Arc<dyn Any + Send + Sync>,
    pub(crate) reads: Reads,
}

/// How many memos are kept; a fitted piece is some tens of kilobytes. The pieces of a model are examined one after the
/// other, so some hundreds are enough for what is worked on at a time.
const MOST_KEPT: usize = 768;
/// How many are kept of those that last, a kilobyte or so each: the lessons of a model are added up anew with each reading
/// of one of its pieces.
const MOST_LASTING: usize = 4096;
/// Of a name that so few memos have, none is dropped: such a one is made of many others, as what the models of a material teach.
const FEW_OF_A_NAME: usize = 16;

impl Memos {
    /// Gives a memo, made now if it is not there.
    ///
    /// Another thread that asks at the same time waits, so `make` must not hand work to a thread pool.
    pub(crate) fn get(&self, key: &MemoKey, make: impl FnOnce() -> Made) -> Kept {
        let cell = lock(&self.cells).entry(key.clone()).or_default().clone();
        cell.asked.store(self.clock.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
        let mut is_made = false;
        let kept = cell
            .kept
            .get_or_init(|| {
                is_made = true;
                match make() {
                    Made::Before(kept) => {
                        cell.lasts.store(true, Ordering::Relaxed);
                        kept
                    }
                    Made::Now(kept, bytes) => {
                        cell.lasts.store(bytes.is_some(), Ordering::Relaxed);
                        // Before anybody sees the memo: a copy taken in between would have it, and nobody would ever know
                        // what it depends on.
                        let (key, reads) = (key.clone(), kept.reads.clone());
                        lock(&self.fresh).push(Fresh { key, reads, bytes });
                        kept
                    }
                }
            })
            .clone();
        if is_made {
            // What it was made of was asked for after it, so that it may have been dropped as the oldest while it was made.
            cell.asked.store(self.clock.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
            let lasts = cell.lasts.load(Ordering::Relaxed);
            lock(&self.cells).insert(key.clone(), cell);
            self.drop_the_oldest(lasts);
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
        // One that somebody is just working out sees the old state: it stays behind. Cells first, since what is kept is in
        // `fresh` before it is seen.
        let mut cells = lock(&self.cells).clone();
        cells.retain(|_, cell| cell.kept.get().is_some());
        let fresh = Mutex::new(lock(&self.fresh).clone());
        for key in keys {
            cells.remove(key);
        }
        let clock = AtomicU64::new(self.clock.load(Ordering::Relaxed));
        Self { cells: Mutex::new(cells), fresh, clock, room: Default::default() }
    }

    /// Whether there is none, also none that is being worked out.
    pub(crate) fn is_empty(&self) -> bool {
        lock(&self.cells).is_empty()
    }

    /// Gives what was worked out since the last call.
    pub(crate) fn take_fresh(&self) -> Vec<Fresh> {
        std::mem::take(&mut *lock(&self.fresh))
    }

    /// Drops a quarter of the memos that last, or of the others, when there are too many: those that nobody asked for the
    /// longest.
    fn drop_the_oldest(&self, lasts: bool) {
        let room = &self.room[usize::from(lasts)];
        let one_less = |room: usize| room.checked_sub(1);
        if room.fetch_update(Ordering::Relaxed, Ordering::Relaxed, one_less).is_ok() {
            return;
        }
        let most = if lasts { MOST_LASTING } else { MOST_KEPT };
        let mut cells = lock(&self.cells);
        drop_the_oldest_of(&mut cells, lasts, most);
        let n_left = cells.values().filter(|cell| cell.lasts.load(Ordering::Relaxed) == lasts);
        room.store(most.saturating_sub(n_left.count()), Ordering::Relaxed);
    }
}

fn drop_the_oldest_of(cells: &mut imbl::HashMap<MemoKey, Arc<Cell>>, lasts: bool, most: usize) {
    if cells.len() <= most {
        return;
    }
    let mut n_of: HashMap<Cow<'static, str>, usize> = HashMap::new();
    cells.keys().for_each(|key| *n_of.entry(key.what.clone()).or_default() += 1);
    let may_go = |key: &MemoKey, cell: &Cell| {
        cell.lasts.load(Ordering::Relaxed) == lasts && FEW_OF_A_NAME < n_of[&key.what]
    };
    let many = cells.iter().filter(|(key, cell)| may_go(key, cell));
    let mut asked: Vec<u64> = many.map(|(_, cell)| cell.asked.load(Ordering::Relaxed)).collect();
    if asked.len() <= most {
        return;
    }
    let quarter = asked.len() / 4;
    let (_, oldest, _) = asked.select_nth_unstable(quarter);
    let oldest = *oldest;
    cells.retain(|key, cell| !may_go(key, cell) || oldest <= cell.asked.load(Ordering::Relaxed));
}

/// Locks, also after a plugin's panic: the table itself is never left half changed.
fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use std::thread;

    use taperbook_plugin::Shelf;

    use super::*;

    /// What is made of more memos than are kept outlives them, or whoever asks next would make it again.
    #[test]
    fn a_memo_outlives_the_many_that_it_was_made_of() {
        let (memos, shelf) = (Memos::default(), Shelf::default());
        let key = |of: String| MemoKey { what: "of a test".into(), of };
        memos.get(&key("whole".to_owned()), || {
            for part in 0..MOST_KEPT + 100 {
                let make = || Made::Now(Kept::new(&shelf, &|_| Arc::new(part)), None);
                memos.get(&key(part.to_string()), make);
            }
            Made::Now(Kept::new(&shelf, &|_| Arc::new(0_u8)), None)
        });
        assert!(memos.kept(&key("whole".to_owned())).is_some());
        assert!(memos.kept(&key("0".to_owned())).is_none(), "the oldest parts are gone");
    }

    /// A copy that had the memo alone would keep it whatever changes, since nobody would know what it was made of.
    #[test]
    fn a_copy_that_has_a_memo_also_has_what_it_was_made_of() {
        let key = MemoKey { what: "of a test".into(), of: String::new() };
        for _ in 0..300 {
            let memos = Memos::default();
            let copy = thread::scope(|scope| {
                scope.spawn(|| {
                    let kept = || Kept::new(&Shelf::default(), &|_| Arc::new(0_u8));
                    memos.get(&key, || Made::Now(kept(), None))
                });
                loop {
                    let copy = memos.without(std::iter::empty());
                    if !copy.is_empty() {
                        break copy;
                    }
                }
            });
            assert_eq!(copy.take_fresh().len(), 1);
        }
    }

    #[test]
    fn a_memo_of_which_there_are_few_is_not_dropped_for_many_others() {
        let (memos, shelf) = (Memos::default(), Shelf::default());
        let made = |what: &'static str, of: usize| {
            let key = MemoKey { what: what.into(), of: of.to_string() };
            memos.get(&key, || Made::Now(Kept::new(&shelf, &|_| Arc::new(of)), None));
            key
        };
        let few: Vec<MemoKey> = (0..FEW_OF_A_NAME).map(|of| made("few", of)).collect();
        let some: Vec<MemoKey> = (0..=FEW_OF_A_NAME).map(|of| made("some", of)).collect();
        (0..2 * MOST_KEPT).for_each(|of| drop(made("many", of)));
        assert!(few.iter().all(|key| memos.kept(key).is_some()));
        assert!(some.iter().all(|key| memos.kept(key).is_none()));
        assert!(lock(&memos.cells).len() <= FEW_OF_A_NAME + MOST_KEPT);
    }

    #[test]
    fn what_is_small_does_not_make_room_for_what_is_large() {
        let (memos, shelf) = (Memos::default(), Shelf::default());
        let made = |what: &'static str, of: usize, bytes: Option<Vec<u8>>| {
            let key = MemoKey { what: what.into(), of: of.to_string() };
            memos.get(&key, || Made::Now(Kept::new(&shelf, &|_| Arc::new(of)), bytes));
        };
        (0..MOST_LASTING).for_each(|of| made("lasts", of, Some(Vec::new())));
        (0..2 * MOST_KEPT).for_each(|of| made("large", of, None));
        let count = |what| lock(&memos.cells).keys().filter(|key| key.what == what).count();
        assert_eq!(count("lasts"), MOST_LASTING);
        assert!(count("large") <= MOST_KEPT);
        made("lasts", MOST_LASTING, Some(Vec::new()));
        assert!(count("lasts") < MOST_LASTING);
    }
}
