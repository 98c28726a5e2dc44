//! The shop folder as it was at one commit: it never changes and answers every request.

use std::any::Any;
use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use taperbook_index::Searcher;
use taperbook_plugin::{MemoKey, NumberSet, Plugin, Read, Resolution, Source, View};
use taperbook_record::{Content, Kind, Record, Shop};

use crate::book::{Book, Named};
use crate::engine::{Catalogue, Files};
use crate::entry::{self, Entry, SHOP_FILE, content_of, path_of, stem};
use crate::memo::{Kept, Memos};

/// The shop folder as it was at one commit.
#[derive(Clone)]
pub struct Snapshot {
    pub(crate) book: Book,
    pub(crate) searcher: Searcher,
    pub(crate) memos: Arc<Memos>,
    pub(crate) files: Arc<dyn Files>,
    pub(crate) plugins: Arc<[Box<dyn Plugin>]>,
    pub(crate) catalogue: Arc<Catalogue>,
    pub(crate) cache: Arc<RecordCache>,
    pub(crate) doubts: Arc<Doubts>,
    pub(crate) generation: u64,
    pub(crate) state_dir: Option<PathBuf>,
}

/// Records whose files had another text than their entries are of when somebody read them; with the hash of that
/// text, or none where there was no file.
#[derive(Default)]
pub(crate) struct Doubts(Mutex<BTreeMap<Arc<str>, Option<[u8; 32]>>>);

impl Doubts {
    pub(crate) fn add(&self, id: &Arc<str>, found: Option<[u8; 32]>) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(id.clone(), found);
    }

    pub(crate) fn take(&self) -> BTreeMap<Arc<str>, Option<[u8; 32]>> {
        std::mem::take(&mut *self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// Parsed records by id, each with the fingerprint of its entry.
#[derive(Default)]
pub(crate) struct RecordCache(Mutex<HashMap<Arc<str>, Remembered>>);

/// A parsed record with the fingerprint of the entry that it belongs to.
type Remembered = ([u8; 16], Arc<Record>);

/// How many parsed records are kept; about 10 MB of records of ordinary make.
const CACHE_SIZE: usize = 2048;

impl RecordCache {
    pub(crate) fn get(&self, entry: &Entry) -> Option<Arc<Record>> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.get(&entry.id)
            .filter(|(fingerprint, _)| *fingerprint == entry.fingerprint)
            .map(|(_, record)| record.clone())
    }

    pub(crate) fn put(&self, entry: &Entry, record: Arc<Record>) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if CACHE_SIZE <= kept.len() && !kept.contains_key(&entry.id) {
            kept.clear();
        }
        kept.insert(entry.id.clone(), (entry.fingerprint, record));
    }
}

impl Snapshot {
    /// Counts the commits.
    pub fn generation(&self) -> u64 {
        self.generation
    }

    /// Reads a record again, or takes it from those kept.
    pub(crate) fn load(&self, entry: &Entry) -> Option<Arc<Record>> {
        if let Some(record) = self.cache.get(entry) {
            return Some(record);
        }
        let path = path_of(&entry.id);
        let bytes =
            self.files.read(&path).inspect_err(|_| self.doubts.add(&entry.id, None)).ok()?;
        let record = Arc::new(entry::read(&path, &bytes).record);
        let content = content_of(&bytes);
        // A file that has changed since is told to the engine by the watcher; until then it is not kept.
        if content == entry.content {
            self.cache.put(entry, record.clone());
        } else {
            self.doubts.add(&entry.id, Some(content));
        }
        Some(record)
    }

    pub(crate) fn kept_memo(&self, key: &MemoKey) -> Option<Kept> {
        self.memos.kept(key)
    }
}

impl Source for Snapshot {
    fn record(&self, id: &str) -> Option<Arc<Record>> {
        self.book.get(id).and_then(|entry| self.load(entry))
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
        self.book.builds_of(blank).iter().filter_map(|entry| self.load(entry)).collect()
    }

    fn all(&self, kind: Kind) -> Vec<Arc<Record>> {
        self.book.of_kind(kind).filter_map(|entry| self.load(entry)).collect()
    }

    fn shop(&self) -> Arc<Shop> {
        let record = self.record(SHOP_FILE);
        match record.as_deref().map(|record| &record.content) {
            Some(Content::Shop(shop)) => Arc::new((**shop).clone()),
            _ => Arc::default(),
        }
    }

    fn numbers(&self, id: &str) -> Option<Arc<NumberSet>> {
        self.book.get(id).map(|entry| Arc::new(entry.number_set(&self.catalogue.numbers)))
    }

    fn memo(
        &self,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Arc<dyn Any + Send + Sync> {
        self.memos.get(self, key, compute).value
    }
}

/// Says what reads differently when this record appears, changes or goes.
pub(crate) fn touched(book: &Book, id: &str, kind: Kind, blank: Option<&str>) -> Vec<Read> {
    let mut touched = vec![
        Read::Record(id.to_owned()),
        Read::Name(id.to_owned()),
        Read::Name(stem(id).to_owned()),
        Read::All(kind),
    ];
    match kind {
        Kind::Shop => touched.push(Read::Shop),
        // A second card of the same stem makes the name ambiguous, so the builds of the first change too.
        Kind::Blank | Kind::Offcut => {
            touched
                .extend(book.with_stem(stem(id)).map(|entry| Read::BuildsOf(entry.id.to_string())));
            touched.push(Read::BuildsOf(id.to_owned()));
        }
        _ => {}
    }
    if let Some(blank) = blank
        && let Named::One(card) = book.resolve(blank, Kind::Blank)
    {
        touched.push(Read::BuildsOf(card.id.to_string()));
    }
    touched
}
