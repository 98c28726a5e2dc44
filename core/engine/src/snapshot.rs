//! The shop folder as it was at one commit: it never changes and answers every request.

use std::any::Any;
use std::collections::{BTreeMap, HashMap};
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::thread;

use imbl::OrdMap;
use taperbook_index::Searcher;
use taperbook_plugin::{Lasts, MemoKey, NumberSet, Plugin, Read, Resolution, Source, View};
use taperbook_record::{Content, Field, Kind, Parsed, Record, Shop};

use crate::advices::Advices;
use crate::book::{Book, Named, names};
use crate::closed;
use crate::engine::{Catalogue, Files};
use crate::entry::{self, Details, Entry, SHOP_FILE, Told, content_of, path_of, stem};
use crate::graph;
use crate::ledger::Pages;
use crate::memo::{Kept, Made, Memos};

/// The shop folder as it was at one commit.
#[derive(Clone)]
pub struct Snapshot {
    pub(crate) book: Book,
    pub(crate) searcher: Searcher,
    pub(crate) memos: Arc<Memos>,
    pub(crate) advices: Arc<Advices>,
    pub(crate) files: Arc<dyn Files>,
    pub(crate) plugins: Arc<[Box<dyn Plugin>]>,
    pub(crate) catalogue: Arc<Catalogue>,
    pub(crate) cache: Arc<RecordCache>,
    /// Where the details of entries are looked up, unless all is in memory.
    pub(crate) pages: Option<Arc<Pages>>,
    /// Where the ledger has memos that are right, by the hash of their nodes' names.
    pub(crate) lasting: OrdMap<u64, u64>,
    pub(crate) doubts: Arc<Doubts>,
    pub(crate) generation: u64,
    /// The directory of index and ledger, unless both are in memory.
    pub(crate) home: Option<PathBuf>,
    /// What a good close leaves, see [`crate::closed`].
    pub(crate) closed_path: Option<PathBuf>,
}

/// Records whose files had another text than their entries are of when somebody read them; with the hash of that
/// text, or none where there was no file.
#[derive(Default)]
pub(crate) struct Doubts(Mutex<BTreeMap<Arc<str>, Option<[u8; 32]>>>);

impl Doubts {
    pub(crate) fn add(&self, id: &Arc<str>, found: Option<[u8; 32]>) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(id.clone(), found);
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).is_empty()
    }

    pub(crate) fn take(&self) -> BTreeMap<Arc<str>, Option<[u8; 32]>> {
        std::mem::take(&mut *self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A text that was read, and what the index wants of it besides its record.
pub(crate) struct Text {
    pub(crate) bytes: Vec<u8>,
    /// Its hash, as in the entry that it belongs to.
    pub(crate) content: [u8; 32],
    pub(crate) fields: Vec<Field>,
    pub(crate) body: String,
}

impl Text {
    /// Takes apart what was read of a text.
    pub(crate) fn of(
        parsed: Parsed,
        bytes: Vec<u8>,
        content: [u8; 32],
    ) -> (Arc<Record>, Arc<Self>) {
        let Parsed { record, fields, body, .. } = parsed;
        (Arc::new(record), Arc::new(Self { bytes, content, fields, body }))
    }
}

/// Parsed records by id.
#[derive(Default)]
pub(crate) struct RecordCache(Mutex<HashMap<Arc<str>, Remembered>>);

/// A parsed record with the fingerprint of the entry that it belongs to, and with its text, since an edit of a card has its builds put in
/// the index again.
struct Remembered {
    fingerprint: [u8; 16],
    record: Arc<Record>,
    /// Unless it is a long one, or was not examined yet.
    text: Option<Arc<Text>>,
}

/// How many parsed records are kept; about 15 MB of records of ordinary make.
const CACHE_SIZE: usize = 2048;
/// Longer texts are read again.
const LONGEST_KEPT: usize = 4096;

impl RecordCache {
    pub(crate) fn get(&self, entry: &Entry) -> Option<Arc<Record>> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.get(&entry.id)
            .filter(|kept| kept.fingerprint == entry.fingerprint)
            .map(|kept| kept.record.clone())
    }

    /// Gives a record with its text, where both are those of an entry.
    pub(crate) fn whole(&self, entry: &Entry) -> Option<(Arc<Record>, Arc<Text>)> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let kept = kept.get(&entry.id)?;
        let text = kept.text.as_ref().filter(|text| text.content == entry.content)?;
        Some((kept.record.clone(), text.clone()))
    }

    pub(crate) fn put(&self, entry: &Entry, record: Arc<Record>, text: Option<Arc<Text>>) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if CACHE_SIZE <= kept.len() && !kept.contains_key(&entry.id) {
            kept.clear();
        }
        let text = text.filter(|text| text.bytes.len() <= LONGEST_KEPT);
        kept.insert(entry.id.clone(), Remembered { fingerprint: entry.fingerprint, record, text });
    }
}

impl Snapshot {
    /// Counts the commits.
    pub fn generation(&self) -> u64 {
        self.generation
    }

    /// How many records the plugins have not looked at since something changed.
    pub fn pending(&self) -> usize {
        self.book.n_unexamined
    }

    /// Reads a record again, or takes it from those kept.
    pub(crate) fn load(&self, entry: &Entry) -> Option<Arc<Record>> {
        if let Some(record) = self.cache.get(entry) {
            return Some(record);
        }
        let Some((record, text)) = self.read_again(&entry.id) else {
            self.doubts.add(&entry.id, None);
            return None;
        };
        // A file that has changed since is told to the engine by the watcher; until then it is not kept.
        if text.content == entry.content {
            self.cache.put(entry, record.clone(), Some(text));
        } else {
            self.doubts.add(&entry.id, Some(text.content));
        }
        Some(record)
    }

    /// Reads the file of a record as it is now; `None` where that can't be done.
    pub(crate) fn read_again(&self, id: &str) -> Option<(Arc<Record>, Arc<Text>)> {
        let path = path_of(id);
        let bytes = self.files.read(&path).ok()?;
        let content = content_of(&bytes);
        Some(Text::of(entry::read(&path, &bytes), bytes, content))
    }

    /// The same of many, on all cores.
    fn load_all(&self, entries: &[Arc<Entry>]) -> Vec<Arc<Record>> {
        let kept = |entry: &Arc<Entry>| self.cache.get(entry).map(OnceLock::from);
        let loaded: Vec<OnceLock<Arc<Record>>> =
            entries.iter().map(|entry| kept(entry).unwrap_or_default()).collect();
        let missing: Vec<_> =
            entries.iter().zip(&loaded).filter(|(_, loaded)| loaded.get().is_none()).collect();
        if WORTH_A_THREAD <= missing.len() {
            on_all_cores(&missing, |(entry, loaded)| {
                self.load(entry).into_iter().for_each(|record| drop(loaded.set(record)));
            });
        }
        let loaded = entries.iter().zip(loaded);
        loaded
            .filter_map(|(entry, loaded)| loaded.into_inner().or_else(|| self.load(entry)))
            .collect()
    }

    /// Gives the details of an entry.
    ///
    /// # Errors
    /// When the ledger can't be read any more. The next start reads all of it then, and finds out.
    pub(crate) fn details(&self, entry: &Entry) -> io::Result<Arc<Details>> {
        let at = match &entry.told {
            Told::Held(details) => return Ok(details.clone()),
            Told::At(at) => *at,
        };
        let pages = self.pages.as_ref().ok_or(io::ErrorKind::NotFound)?;
        pages.details(&entry.id, at).inspect_err(|_| {
            if let Some(path) = &self.closed_path {
                closed::discard(path);
            }
        })
    }

    /// Gives a memo that was worked out before and is still right, read from the disk.
    fn lasting(&self, key: &MemoKey, lasts: &'static dyn Lasts) -> Option<Kept> {
        let node = graph::memo_node(key);
        let at = self.lasting.get(&graph::hash(&node))?;
        let (reads, bytes) = self.pages.as_ref()?.memo(&node, *at).ok()?;
        let reads = reads.iter().map(|read| graph::read_of(read)).collect::<Option<_>>()?;
        Some(Kept { value: lasts.read(&bytes)?, reads: Arc::new(reads) })
    }

    /// The same, from memory if it is there.
    pub(crate) fn kept_or_lasting(&self, key: &MemoKey, lasts: &'static dyn Lasts) -> Option<Kept> {
        self.kept_memo(key).or_else(|| self.lasting(key, lasts))
    }

    /// How a memo is made, if it is one that lasts.
    pub(crate) fn lasts(&self, key: &MemoKey) -> Option<&'static dyn Lasts> {
        let mut lasting = self.plugins.iter().flat_map(|plugin| plugin.lasting());
        lasting.find(|lasts| lasts.what() == key.what)
    }

    pub(crate) fn kept_memo(&self, key: &MemoKey) -> Option<Kept> {
        self.memos.kept(key)
    }
}

impl Source for Snapshot {
    fn record(&self, id: &str) -> Option<Arc<Record>> {
        self.book.get(id).and_then(|entry| self.load(&entry))
    }

    fn resolve(&self, name: &str, kind: Kind) -> Resolution {
        match self.book.resolve(name, kind) {
            Named::One(entry) => match self.load(&entry) {
                Some(record) => Resolution::Found(record),
                None => Resolution::Missing(Vec::new()),
            },
            Named::Several(ids) => Resolution::Ambiguous(ids),
            Named::None(near) => Resolution::Missing(near),
        }
    }

    fn builds_of(&self, blank: &str) -> Vec<Arc<Record>> {
        self.load_all(&self.book.builds_of(blank))
    }

    fn build_ids_of(&self, blank: &str) -> Vec<String> {
        self.book.builds_of(blank).iter().map(|entry| entry.id.to_string()).collect()
    }

    fn card_ids(&self) -> Vec<String> {
        self.book.of_kind(Kind::Blank).iter().map(|entry| entry.id.to_string()).collect()
    }

    fn all(&self, kind: Kind) -> Vec<Arc<Record>> {
        self.load_all(&self.book.of_kind(kind))
    }

    fn shop(&self) -> Arc<Shop> {
        let record = self.record(SHOP_FILE);
        match record.as_deref().map(|record| &record.content) {
            Some(Content::Shop(shop)) => Arc::new((**shop).clone()),
            _ => Arc::default(),
        }
    }

    fn numbers(&self, id: &str) -> Option<Arc<NumberSet>> {
        let entry = self.book.get(id)?;
        let details = self.details(&entry).ok()?;
        Some(Arc::new(details.number_set(&self.catalogue.numbers)))
    }

    fn memo(
        &self,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Arc<dyn Any + Send + Sync> {
        self.memos.get(key, || Made::Now(Kept::new(self, compute), None)).value
    }

    fn lasting_memo(&self, key: &MemoKey, lasts: &'static dyn Lasts) -> Arc<dyn Any + Send + Sync> {
        let make = || match self.lasting(key, lasts) {
            Some(kept) => Made::Before(kept),
            None => {
                let kept = Kept::lasting(self, key, lasts);
                let bytes = lasts.written(&*kept.value);
                Made::Now(kept, bytes)
            }
        };
        self.memos.get(key, make).value
    }

    fn memos(
        &self,
        keys: &[MemoKey],
        compute: &(dyn Fn(&View, &str) -> Arc<dyn Any + Send + Sync> + Sync),
    ) {
        let wanted: Vec<&MemoKey> =
            keys.iter().filter(|key| self.memos.kept(key).is_none()).collect();
        if 1 < wanted.len() {
            on_all_cores(&wanted, |key| drop(self.memo(key, &|view| compute(view, &key.of))));
        }
    }

    fn lasting_memos(&self, keys: &[MemoKey], lasts: &'static dyn Lasts) {
        let wanted: Vec<&MemoKey> =
            keys.iter().filter(|key| self.memos.kept(key).is_none()).collect();
        if WORTH_A_THREAD <= wanted.len() {
            on_all_cores(&wanted, |key| drop(self.lasting_memo(key, lasts)));
        }
    }
}

/// Fewer memos than this that may only have to be read are read one after the other, and fewer records too.
const WORTH_A_THREAD: usize = 16;

/// Does some work of each of these. What panics is passed over: whoever asks for it by itself meets its panic.
///
/// On threads of its own: one of a pool could take up work that waits for the very memo that this is for.
fn on_all_cores<T: Sync>(items: &[T], work: impl Fn(&T) + Sync) {
    let n_threads = thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let work_on = || {
        while let Some(item) = items.get(next.fetch_add(1, Ordering::Relaxed)) {
            let _ = catch_unwind(AssertUnwindSafe(|| work(item)));
        }
    };
    thread::scope(|scope| {
        (0..n_threads).for_each(|_| drop(scope.spawn(work_on)));
    });
}

/// Says what reads differently when this record appears, changes or goes.
pub(crate) fn touched(book: &Book, id: &str, kind: Kind, blank: Option<&str>) -> Vec<Read> {
    let mut touched = vec![Read::Record(id.to_owned()), Read::All(kind)];
    touched.extend(names(id).into_iter().map(|name| Read::Name(name.to_owned())));
    match kind {
        Kind::Shop => touched.push(Read::Shop),
        Kind::Blank => touched.push(Read::Cards),
        _ => {}
    }
    let mut builds_of = |id: &str| {
        touched.extend([Read::BuildsOf(id.to_owned()), Read::BuildIdsOf(id.to_owned())]);
    };
    if matches!(kind, Kind::Blank | Kind::Offcut) {
        // A second card of the same stem makes the name ambiguous, so the builds of the first change too.
        book.with_stem(stem(id)).iter().for_each(|entry| builds_of(&entry.id));
        builds_of(id);
    }
    if let Some(blank) = blank
        && let Some(card) = book.card(blank)
    {
        builds_of(&card.id);
    }
    if matches!(kind, Kind::Blank | Kind::Offcut) {
        touched.extend([Read::Shape(id.to_owned()), Read::Weight(id.to_owned())]);
    }
    touched
}

/// The same where a record of this kind and of this blank was there before: no name leads elsewhere then, and a card has the builds that
/// it had.
pub(crate) fn touched_in_place(
    book: &Book,
    id: &str,
    kind: Kind,
    blank: Option<&str>,
) -> Vec<Read> {
    let mut touched = touched(book, id, kind, blank);
    touched.retain(|read| match read {
        Read::Name(_) | Read::Cards | Read::BuildIdsOf(_) => false,
        Read::BuildsOf(_) => blank.is_some(),
        _ => true,
    });
    touched
}
