//! The engine: changes in, snapshots out.

use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;
use taperbook_index::{Document, Index, IndexError};
use taperbook_plugin::{Finding, FlagSpec, NumberSpec, Plugin, Read, Source};
use taperbook_record::{Kind, Parsed, Record};

use crate::book::{Book, Named};
use crate::entry::{Entry, StoredFlag, id_of, path_of, store_numbers};
use crate::examine::{self, ENGINE_FLAGS};
use crate::graph::{self, Graph};
use crate::ledger::{Ledger, Line};
use crate::memo::Memos;
use crate::snapshot::{RecordCache, Snapshot, touched};

/// Where the text of a record is read again when it is wanted.
pub trait Files: Send + Sync {
    /// Reads a file whole.
    ///
    /// # Errors
    /// When it cannot be read; `path` is relative to the shop folder, with `/` between names.
    fn read(&self, path: &str) -> io::Result<Vec<u8>>;
}

/// What an engine is made of.
pub struct Setup {
    /// Where the index and the ledger live; in memory when there is none.
    pub state_dir: Option<PathBuf>,
    /// The plugins, in the order in which they are asked.
    pub plugins: Vec<Box<dyn Plugin>>,
    /// Where files are read again.
    pub files: Arc<dyn Files>,
}

/// One change of the shop folder; paths are relative to it, with `/` between names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// A file is new or reads differently.
    Written {
        /// Its path.
        path: String,
        /// What it holds.
        bytes: Vec<u8>,
    },
    /// A file is gone.
    Removed {
        /// Its path.
        path: String,
    },
    /// A file is there but could not be read; what was known of it is dropped.
    Unreadable {
        /// Its path.
        path: String,
        /// Why.
        why: String,
    },
}

/// Why the engine could not go on.
#[derive(Debug, thiserror::Error)]
pub enum EngineError {
    /// The index refused.
    #[error("the index could not be written")]
    Index(#[source] IndexError),
    /// The ledger refused.
    #[error("`{path}` could not be written")]
    Ledger {
        /// The file.
        path: PathBuf,
        /// Why.
        #[source]
        error: io::Error,
    },
}

/// What the plugins can give.
#[derive(Debug)]
pub(crate) struct Catalogue {
    pub(crate) numbers: Vec<NumberSpec>,
    pub(crate) flags: Vec<FlagSpec>,
}

/// Applies changes, runs the plugins, publishes snapshots.
pub struct Engine {
    working: Snapshot,
    published: Arc<Snapshot>,
    index: Index,
    ledger: Option<Ledger>,
    graph: Graph,
    queue: VecDeque<Arc<str>>,
    queued: BTreeSet<Arc<str>>,
    /// Changed records whose text is still at hand and which the index has not seen.
    fresh: HashMap<Arc<str>, Fresh>,
    /// What the ledger must still be told: entries by id, and nodes of the graph.
    unwritten: BTreeSet<Arc<str>>,
    unwritten_nodes: BTreeSet<Arc<str>>,
    unwritten_paths: BTreeMap<Arc<str>, Option<Arc<str>>>,
    made_by: String,
    trouble: Option<EngineError>,
}

struct Fresh {
    parsed: Parsed,
    bytes: Vec<u8>,
}

/// How many changed records may wait for their examination with their text in memory.
const FRESH_LIMIT: usize = 2048;
/// How many records are examined between two looks at the queue.
const CHUNK: usize = 256;

impl Engine {
    /// Opens what an earlier engine left, or starts empty when it left nothing usable.
    ///
    /// An index and a ledger that don't agree, or that another build of the program wrote, count as nothing.
    ///
    /// # Errors
    /// When the state directory can't be written.
    pub fn open(setup: Setup) -> Result<Self, EngineError> {
        let plugins: Arc<[Box<dyn Plugin>]> = setup.plugins.into();
        let catalogue = Arc::new(Catalogue::of(&plugins));
        let made_by = made_by(&plugins, &catalogue);
        let index_dir = setup.state_dir.as_ref().map(|dir| dir.join("index"));
        let ledger_path = setup.state_dir.as_ref().map(|dir| dir.join("ledger"));

        if let Some((ledger, lines, generation, index)) =
            reopen(ledger_path.as_deref(), index_dir.as_deref(), &catalogue, &made_by)
        {
            let mut engine = Self::with(
                index,
                Some(ledger),
                plugins,
                catalogue,
                setup.files,
                setup.state_dir,
                made_by,
                generation,
            );
            engine.load(lines);
            return Ok(engine);
        }
        let index = Index::create(index_dir.as_deref(), catalogue.for_index())
            .map_err(EngineError::Index)?;
        let ledger = match &ledger_path {
            Some(path) => Some(
                Ledger::create(path, &made_by)
                    .map_err(|error| EngineError::Ledger { path: path.clone(), error })?,
            ),
            None => None,
        };
        Ok(Self::with(index, ledger, plugins, catalogue, setup.files, setup.state_dir, made_by, 0))
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "called twice, right above; a struct of its own would say less"
    )]
    fn with(
        index: Index,
        ledger: Option<Ledger>,
        plugins: Arc<[Box<dyn Plugin>]>,
        catalogue: Arc<Catalogue>,
        files: Arc<dyn Files>,
        state_dir: Option<PathBuf>,
        made_by: String,
        generation: u64,
    ) -> Self {
        let working = Snapshot {
            book: Book::default(),
            searcher: index.searcher(),
            memos: Arc::new(Memos::default()),
            files,
            plugins,
            catalogue,
            cache: Arc::new(RecordCache::default()),
            generation,
            state_dir,
        };
        Self {
            published: Arc::new(working.clone()),
            working,
            index,
            ledger,
            graph: Graph::default(),
            queue: VecDeque::new(),
            queued: BTreeSet::new(),
            fresh: HashMap::new(),
            unwritten: BTreeSet::new(),
            unwritten_nodes: BTreeSet::new(),
            unwritten_paths: BTreeMap::new(),
            made_by,
            trouble: None,
        }
    }

    /// Counts the commits; 0 when nothing usable was found.
    pub fn generation(&self) -> u64 {
        self.working.generation
    }

    /// Says how many records wait for the plugins.
    pub fn pending(&self) -> usize {
        self.queue.len()
    }

    /// Gives the shop folder as it was at the last commit.
    pub fn snapshot(&self) -> Arc<Snapshot> {
        self.published.clone()
    }

    /// Takes changes in; no plugin runs. What was edited is examined first.
    pub fn apply(&mut self, changes: Vec<Change>) {
        self.learn_memos();
        let read: Vec<(Change, Option<Fresh>)> = changes
            .into_par_iter()
            .map(|change| match change {
                Change::Written { path, bytes } => {
                    let parsed = taperbook_record::read(&path, &bytes);
                    (Change::Written { path, bytes: Vec::new() }, Some(Fresh { parsed, bytes }))
                }
                other => (other, None),
            })
            .collect();
        let mut changed: Vec<Read> = Vec::new();
        let mut edited: Vec<Arc<str>> = Vec::new();
        for (change, fresh) in read {
            match (change, fresh) {
                (Change::Written { path, .. }, Some(fresh)) => {
                    self.readable(&path);
                    self.written(fresh, &mut changed, &mut edited);
                }
                (Change::Unreadable { path, why }, _) => {
                    self.removed(id_of(&path), &mut changed);
                    let (path, why): (Arc<str>, Arc<str>) = (path.into(), why.into());
                    self.unwritten_paths.insert(path.clone(), Some(why.clone()));
                    self.working.book.unreadable.insert(path, why);
                }
                (Change::Removed { path } | Change::Written { path, .. }, _) => {
                    self.readable(&path);
                    self.removed(id_of(&path), &mut changed);
                }
            }
        }
        self.invalidate(&changed, edited);
    }

    /// Runs the plugins on at most so many of the records that wait; gives how many still do.
    pub fn examine(&mut self, at_most: usize) -> usize {
        let mut left = at_most;
        while 0 < left && !self.queue.is_empty() {
            let chunk: Vec<Arc<str>> =
                self.queue.drain(..self.queue.len().min(CHUNK).min(left)).collect();
            left -= chunk.len();
            for id in &chunk {
                self.queued.remove(id);
            }
            self.examine_chunk(chunk);
        }
        self.queue.len()
    }

    /// Writes what changed and publishes it as a snapshot of this generation.
    ///
    /// # Errors
    /// When the index or the ledger can't be written; the last snapshot stays.
    pub fn commit(&mut self, generation: u64) -> Result<Arc<Snapshot>, EngineError> {
        self.learn_memos();
        for (id, fresh) in std::mem::take(&mut self.fresh) {
            self.put_in_index(&id, &fresh.parsed);
        }
        if let Some(trouble) = self.trouble.take() {
            return Err(trouble);
        }
        self.working.searcher =
            self.index.commit(&generation.to_string()).map_err(EngineError::Index)?;
        self.write_ledger(generation)?;
        self.working.generation = generation;
        self.published = Arc::new(self.working.clone());
        Ok(self.published.clone())
    }

    fn load(&mut self, lines: Vec<Line>) {
        for line in lines {
            match line {
                Line::Put(entry) => {
                    if !entry.examined && self.queued.insert(entry.id.clone()) {
                        self.queue.push_back(entry.id.clone());
                    }
                    self.working.book.put(Arc::unwrap_or_clone(entry));
                }
                Line::Removed(id) => {
                    self.working.book.remove(&id);
                }
                Line::Reads(node, reads) => self.graph.set(&node, reads.iter().map(|read| &**read)),
                Line::Unreadable(path, why) => {
                    self.working.book.unreadable.insert(path, why);
                }
                Line::Readable(path) => {
                    self.working.book.unreadable.remove(&path);
                }
                Line::Made(_) | Line::Committed(_) => {}
            }
        }
        let book = &self.working.book;
        self.queue.retain(|id| book.get(id).is_some_and(|entry| !entry.examined));
        self.queued = self.queue.iter().cloned().collect();
        self.published = Arc::new(self.working.clone());
    }

    fn written(&mut self, fresh: Fresh, changed: &mut Vec<Read>, edited: &mut Vec<Arc<str>>) {
        let mut entry = Entry::new(&fresh.parsed.record, &fresh.parsed.problems);
        let id = entry.id.clone();
        let before = self.working.book.get(&id).cloned();
        match &before {
            Some(before) if before.fingerprint == entry.fingerprint && before.examined => {
                entry.flags = before.flags.clone();
                entry.numbers = before.numbers.clone();
                entry.examined = true;
                self.working.book.put(entry);
            }
            _ => {
                if let Some(before) = &before {
                    changed.extend(self.touched(before));
                    entry.numbers = before.numbers.clone();
                    entry.flags = before.flags.clone();
                }
                self.working.book.put(entry.clone());
                changed.extend(self.touched(&entry));
                edited.push(id.clone());
            }
        }
        self.unwritten.insert(id.clone());
        if self.fresh.len() < FRESH_LIMIT {
            self.fresh.insert(id, fresh);
        } else {
            // Searchable by its words at once; the plugins read the file again when its turn comes.
            self.fresh.remove(&id);
            self.put_in_index(&id, &fresh.parsed);
        }
    }

    fn removed(&mut self, id: &str, changed: &mut Vec<Read>) {
        let Some(entry) = self.working.book.get(id).cloned() else { return };
        changed.extend(self.touched(&entry));
        self.working.book.remove(id);
        changed.extend(self.touched(&entry));
        self.fresh.remove(id);
        if let Err(error) = self.index.remove(id) {
            self.trouble.get_or_insert(EngineError::Index(error));
        }
        let node: Arc<str> = graph::examination_node(id).into();
        self.graph.remove(&node);
        self.unwritten_nodes.insert(node);
        self.unwritten.insert(entry.id.clone());
        if self.queued.remove(id) {
            self.queue.retain(|queued| &**queued != id);
        }
    }

    fn readable(&mut self, path: &str) {
        if self.working.book.unreadable.remove(path).is_some() {
            self.unwritten_paths.insert(path.into(), None);
        }
    }

    fn touched(&self, entry: &Entry) -> Vec<Read> {
        touched(&self.working.book, &entry.id, entry.kind(), entry.blank.as_deref())
    }

    /// Queues what was edited, then all that depends on what changed, and forgets the memos that do.
    fn invalidate(&mut self, changed: &[Read], edited: Vec<Arc<str>>) {
        let nodes: Vec<String> = changed.iter().map(graph::read_node).collect();
        let dependents = self.graph.dependents(nodes.iter().map(String::as_str));
        let memos: Vec<_> = dependents.iter().filter_map(|node| graph::memo_of(node)).collect();
        if !memos.is_empty() {
            self.working.memos = Arc::new(self.working.memos.without(memos.iter()));
        }
        let depending =
            dependents.iter().filter_map(|node| graph::examined_of(node)).map(Arc::from);
        for id in edited.into_iter().chain(depending).collect::<Vec<Arc<str>>>() {
            self.enqueue(id);
        }
    }

    fn enqueue(&mut self, id: Arc<str>) {
        let Some(entry) = self.working.book.get(&id).cloned() else { return };
        if entry.examined {
            let mut entry = Arc::unwrap_or_clone(entry);
            entry.examined = false;
            self.working.book.put(entry);
            self.unwritten.insert(id.clone());
        }
        if self.queued.insert(id.clone()) {
            self.queue.push_back(id);
        }
    }

    fn examine_chunk(&mut self, chunk: Vec<Arc<str>>) {
        let source = &self.working;
        let fresh = &self.fresh;
        let record_of = |id: &Arc<str>| -> Option<Arc<Record>> {
            match fresh.get(id) {
                Some(fresh) => Some(Arc::new(fresh.parsed.record.clone())),
                None => source.record(id),
            }
        };
        let first: Vec<_> = chunk
            .into_par_iter()
            .filter_map(|id| {
                let record = record_of(&id)?;
                let numbers = examine::numbers(&source.plugins, &record, source);
                Some((id, record, numbers))
            })
            .collect();

        let mut changed: Vec<Read> = Vec::new();
        for (id, _, numbers) in &first {
            let Some(entry) = self.working.book.get(id) else { continue };
            let stored = store_numbers(&numbers.numbers, &self.working.catalogue.numbers);
            if entry.numbers != stored {
                let mut entry = Entry::clone(entry);
                entry.numbers = stored;
                self.working.book.put(entry);
                changed.push(Read::Numbers(id.to_string()));
            }
        }

        let source = &self.working;
        let second: Vec<_> = first
            .into_par_iter()
            .map(|(id, record, numbers)| {
                let (mut found, mut reads) = examine::flags(&source.plugins, &record, source);
                found.extend(numbers.failed);
                reads.extend(numbers.reads);
                // The second stage may read the record's own numbers; they are new by then.
                reads.remove(&Read::Numbers(id.to_string()));
                if let Some(name) = record.build().and_then(|build| build.blank.as_ref()) {
                    reads.insert(Read::Name(name.value.clone()));
                }
                (id, found, reads)
            })
            .collect();
        for (id, found, reads) in second {
            self.finish(&id, &found, &reads);
        }
        self.learn_memos();
        let nodes: Vec<String> = changed.iter().map(graph::read_node).collect();
        for node in self.graph.dependents(nodes.iter().map(String::as_str)) {
            if let Some(id) = graph::examined_of(&node) {
                self.enqueue(id.into());
            }
        }
    }

    /// Keeps what an examination found and puts the record in the index.
    fn finish(&mut self, id: &Arc<str>, found: &[Finding], reads: &BTreeSet<Read>) {
        let node: Arc<str> = graph::examination_node(id).into();
        let nodes: Vec<String> = reads.iter().map(graph::read_node).collect();
        self.graph.set(&node, nodes.iter().map(String::as_str));
        self.unwritten_nodes.insert(node);
        let fresh = match self.fresh.remove(id) {
            Some(fresh) => fresh,
            None => {
                let path = path_of(id);
                // A file that vanished meanwhile is the watcher's to tell.
                let Ok(bytes) = self.working.files.read(&path) else { return };
                Fresh { parsed: taperbook_record::read(&path, &bytes), bytes }
            }
        };
        let Some(entry) = self.working.book.get(id) else { return };
        let mut entry = Entry::clone(entry);
        entry.flags = found.iter().map(|finding| stored(finding, &fresh.bytes)).collect();
        entry.examined = true;
        self.working.cache.put(&entry, Arc::new(fresh.parsed.record.clone()));
        self.working.book.put(entry);
        self.unwritten.insert(id.clone());
        self.put_in_index(id, &fresh.parsed);
    }

    fn put_in_index(&mut self, id: &str, parsed: &Parsed) {
        let Some(entry) = self.working.book.get(id) else { return };
        let blank = entry.blank.as_deref().and_then(|name| {
            match self.working.book.resolve(name, Kind::Blank) {
                Named::One(card) => Some(card.id.to_string()),
                _ => None,
            }
        });
        let mut flags: Vec<String> = entry.flags.iter().map(|flag| flag.flag.to_string()).collect();
        flags.dedup();
        let put = self.index.put(&Document {
            record: &parsed.record,
            fields: &parsed.fields,
            body: &parsed.body,
            numbers: &entry.number_set(&self.working.catalogue.numbers),
            flags: &flags,
            blank: blank.as_deref(),
        });
        if let Err(error) = put {
            self.trouble.get_or_insert(EngineError::Index(error));
        }
    }

    /// Puts the memos that were worked out since the last call into the graph.
    fn learn_memos(&mut self) {
        for (key, kept) in self.working.memos.take_fresh() {
            let node: Arc<str> = graph::memo_node(&key).into();
            let nodes: Vec<String> = kept.reads.iter().map(graph::read_node).collect();
            self.graph.set(&node, nodes.iter().map(String::as_str));
            self.unwritten_nodes.insert(node);
        }
    }

    fn write_ledger(&mut self, generation: u64) -> Result<(), EngineError> {
        let Some(ledger) = &mut self.ledger else { return Ok(()) };
        let path = ledger.path().to_owned();
        let failed = |error| EngineError::Ledger { path: path.clone(), error };
        // Old lines are dropped once they outnumber by far what is alive; the rest stays one appended tail a commit.
        let alive = 3 * self.working.book.len() + 1024;
        if 4 * alive < ledger.n_lines {
            *ledger = Ledger::create(&path, &self.made_by).map_err(failed)?;
            self.unwritten = self.working.book.iter().map(|entry| entry.id.clone()).collect();
            self.unwritten_nodes = self.graph.nodes().collect();
            self.unwritten_paths = self
                .working
                .book
                .unreadable
                .iter()
                .map(|(path, why)| (path.clone(), Some(why.clone())))
                .collect();
        }
        for id in std::mem::take(&mut self.unwritten) {
            let line = match self.working.book.get(&id) {
                Some(entry) => Line::Put(entry.clone()),
                None => Line::Removed(id),
            };
            ledger.add(&line).map_err(failed)?;
        }
        for node in std::mem::take(&mut self.unwritten_nodes) {
            let reads = self.graph.reads_of(&node);
            ledger.add(&Line::Reads(node, reads)).map_err(failed)?;
        }
        for (path, why) in std::mem::take(&mut self.unwritten_paths) {
            let line = match why {
                Some(why) => Line::Unreadable(path, why),
                None => Line::Readable(path),
            };
            ledger.add(&line).map_err(failed)?;
        }
        ledger.commit(generation).map_err(failed)
    }
}

impl Catalogue {
    fn of(plugins: &[Box<dyn Plugin>]) -> Self {
        let manifests: Vec<_> = plugins.iter().map(|plugin| plugin.manifest()).collect();
        Self {
            numbers: manifests.iter().flat_map(|manifest| manifest.numbers.clone()).collect(),
            flags: ENGINE_FLAGS
                .into_iter()
                .chain(manifests.into_iter().flat_map(|manifest| manifest.flags))
                .collect(),
        }
    }

    fn for_index(&self) -> taperbook_index::Catalogue {
        taperbook_index::Catalogue {
            numbers: self.numbers.clone(),
            flags: self.flags.iter().map(|flag| flag.name.to_owned()).collect(),
        }
    }
}

/// Opens ledger and index when both are there and tell of the same generation.
fn reopen(
    ledger: Option<&Path>,
    index_dir: Option<&Path>,
    catalogue: &Catalogue,
    made_by: &str,
) -> Option<(Ledger, Vec<Line>, u64, Index)> {
    let (ledger, lines, generation) = Ledger::open(ledger?, made_by).ok()??;
    let index = Index::open(index_dir, catalogue.for_index()).ok()?;
    (index.payload() == generation.to_string()).then_some((ledger, lines, generation, index))
}

/// Names the program that writes the state: version, plugins, and the very executable, since a number may be worked
/// out differently by the next build of it.
fn made_by(plugins: &[Box<dyn Plugin>], catalogue: &Catalogue) -> String {
    let mut text = format!("taperbook {} {:?}", env!("CARGO_PKG_VERSION"), catalogue.numbers);
    for plugin in plugins {
        let manifest = plugin.manifest();
        text.push_str(&format!(" {} {}", manifest.name, manifest.version));
    }
    if let Ok(metadata) = std::env::current_exe().and_then(std::fs::metadata) {
        text.push_str(&format!(" {} {:?}", metadata.len(), metadata.modified().ok()));
    }
    blake3::hash(text.as_bytes()).to_hex().to_string()
}

/// Gives a finding its line and column.
fn stored(finding: &Finding, bytes: &[u8]) -> StoredFlag {
    let start = finding.span.as_ref().map_or(0, |span| span.start);
    let (line, column) = position(bytes, start);
    StoredFlag {
        line,
        column,
        flag: finding.flag.as_str().into(),
        message: finding.message.as_str().into(),
    }
}

/// The line and column of a byte, both from 1, the column in characters.
pub(crate) fn position(bytes: &[u8], at: usize) -> (u32, u32) {
    let before = &bytes[..at.min(bytes.len())];
    let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
    let from = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |newline| newline + 1);
    let column = String::from_utf8_lossy(&before[from..]).chars().count() + 1;
    (u32::try_from(line).unwrap_or(u32::MAX), u32::try_from(column).unwrap_or(u32::MAX))
}
