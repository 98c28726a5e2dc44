//! The engine: changes in, snapshots out.

mod examining;
mod invalidating;
mod keeping;
mod opening;

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;

use rayon::prelude::*;
use taperbook_index::{Index, IndexError};
use taperbook_plugin::{FlagSpec, NumberSpec, Plugin};
use taperbook_record::Record;

use crate::closed::{Closed, Left};
use crate::entry::{self, Details, Entry, id_of};
use crate::graph::{self, Graph};
use crate::ledger::Ledger;
use crate::snapshot::{Snapshot, Text};

use invalidating::Changed;

pub(crate) use examining::position;

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
    #[error("{}", ledger_words(path, error))]
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
    graph: Arc<Graph>,
    /// Where the graph is, as long as nobody wanted it.
    unread_graph: Option<Closed>,
    resting: Option<Resting>,
    /// The commit that the next start need not read from the ledger.
    closed_at: Option<u64>,
    /// Whether a commit was begun that did not come to its end.
    is_torn: bool,
    queue: VecDeque<Arc<str>>,
    queued: BTreeSet<Arc<str>>,
    /// Whether something was queued since the queue was put in order.
    is_unordered: bool,
    /// Changed records whose text is still at hand and which the index has not seen.
    fresh: BTreeMap<Arc<str>, Waiting>,
    /// What the ledger must still be told: entries by id, and nodes of the graph.
    unwritten: BTreeSet<Arc<str>>,
    unwritten_nodes: BTreeSet<Arc<str>>,
    unwritten_paths: BTreeMap<Arc<str>, Option<Arc<str>>>,
    /// Memos to be kept on the disk, by their nodes, and nothing where one is not right any more.
    unwritten_memos: BTreeMap<Arc<str>, Option<Lasting>>,
    made_by: String,
    /// Records that somebody read and found another text than their entries are of, see [`Engine::take_doubts`].
    doubted: BTreeSet<Arc<str>>,
    trouble: Option<EngineError>,
}

/// A rest that was begun.
struct Resting {
    /// At which commit.
    generation: u64,
    /// What is being written of it; nothing where there was nothing new, or it can't be written.
    writing: JoinHandle<Option<Left>>,
}

/// What is kept of a memo on the disk.
struct Lasting {
    reads: Vec<Arc<str>>,
    bytes: Vec<u8>,
}

/// A changed record that the index has not seen.
struct Waiting {
    record: Arc<Record>,
    text: Arc<Text>,
    /// The index has no record with this id.
    is_new: bool,
}

/// A file that was read, with the entry that it makes.
struct Incoming {
    fresh: Waiting,
    entry: Entry,
    details: Details,
}

impl Incoming {
    fn read(path: &str, bytes: Vec<u8>) -> Self {
        let parsed = entry::read(path, &bytes);
        let (entry, details) = Entry::new(&parsed, &bytes);
        let (record, text) = Text::of(parsed, bytes, entry.content);
        Self { fresh: Waiting { record, text, is_new: false }, entry, details }
    }
}

/// Records that are put in the index at once, since too many wait already.
type Overflow = BTreeMap<Arc<str>, Waiting>;

/// How many changed records may wait for their examination with their text in memory.
const FRESH_LIMIT: usize = 256;
/// How many records are examined between two looks at the queue.
const CHUNK: usize = 256;

impl Engine {
    /// Counts the commits; 0 when nothing usable was found.
    pub fn generation(&self) -> u64 {
        self.working.generation
    }

    /// Names the state of the last commit among those of all engines that were ever opened afresh, so that what is
    /// kept beside the engine's own files is not taken for that of another one; empty when nothing is on the disk.
    pub fn state(&self) -> String {
        let home = self.working.home.as_deref().and_then(|home| home.file_name());
        let name = home.map(|name| name.to_string_lossy().into_owned());
        name.map_or_else(String::new, |name| format!("{name} {}", self.generation()))
    }

    /// Says how many records wait for the plugins.
    pub fn pending(&self) -> usize {
        self.queue.len()
    }

    /// Gives the shop folder as it was at the last commit.
    pub fn snapshot(&self) -> Arc<Snapshot> {
        self.published.clone()
    }

    /// Gives the path of every record with the hash of the text that the index has of it, in the order of their ids.
    pub fn contents(&self) -> impl Iterator<Item = (String, [u8; 32])> {
        self.working.book.iter().map(|entry| (entry.path(), entry.content))
    }

    /// Gives every path that could not be read, with the reason, in order.
    pub fn unreadable(&self) -> impl Iterator<Item = (&str, &str)> {
        self.working.book.unreadable.iter().map(|(path, why)| (&**path, &**why))
    }

    /// Whether nobody else has written to the files of the index and the ledger that are read.
    #[must_use]
    pub fn is_intact(&self) -> bool {
        self.index.is_intact() && self.ledger.as_ref().is_none_or(Ledger::is_intact)
    }

    /// Gives the paths of records that were read again, by an examination or a question, and had another text than
    /// the one that was applied, or none at all; each is given once.
    ///
    /// Such a file has changed since, and the change is usually on its way. But it may change back before anybody
    /// looks, and then what was worked out from the text in between would stay. So the caller looks at these paths
    /// again and applies what is there, also when it is what was applied before.
    pub fn take_doubts(&mut self) -> Vec<String> {
        let mut paths = Vec::new();
        for (id, found) in self.working.doubts.take() {
            let Some(entry) = self.working.book.get(&id) else { continue };
            // Somebody with an older snapshot may have read what is known by now.
            if found != Some(entry.content) && self.doubted.insert(id) {
                paths.push(entry.path());
            }
        }
        paths
    }

    /// Takes changes in; no plugin runs. What was edited is examined first.
    pub fn apply(&mut self, changes: Vec<Change>) {
        let is_sure = self.is_sure();
        self.learn_memos();
        let read: Vec<(Change, Option<Incoming>)> = changes
            .into_par_iter()
            .map(|change| match change {
                Change::Written { path, bytes } => {
                    let incoming = Incoming::read(&path, bytes);
                    (Change::Written { path, bytes: Vec::new() }, Some(incoming))
                }
                other => (other, None),
            })
            .collect();
        let mut changed = Changed::of(self.is_anything_made());
        let mut edited: Vec<Arc<str>> = Vec::new();
        let mut overflow = Overflow::new();
        for (change, incoming) in read {
            match (change, incoming) {
                (Change::Written { path, .. }, Some(incoming)) => {
                    self.readable(&path);
                    self.written(incoming, &mut changed, &mut edited, &mut overflow);
                }
                (Change::Unreadable { path, why }, _) => {
                    overflow.remove(id_of(&path));
                    self.removed(id_of(&path), &mut changed);
                    let (path, why): (Arc<str>, Arc<str>) = (path.into(), why.into());
                    self.unwritten_paths.insert(path.clone(), Some(why.clone()));
                    self.working.book.unreadable.insert(path, why);
                }
                (Change::Removed { path } | Change::Written { path, .. }, _) => {
                    self.readable(&path);
                    overflow.remove(id_of(&path));
                    self.removed(id_of(&path), &mut changed);
                }
            }
        }
        // Searchable by their words at once; the plugins read these files again when their turn comes.
        self.put_in_index(overflow);
        self.invalidate(&changed, edited, is_sure);
    }

    /// Runs the plugins on at most so many of the records that wait; gives how many still do.
    pub fn examine(&mut self, at_most: usize) -> usize {
        let mut left = at_most;
        while 0 < left && !self.queue.is_empty() {
            self.put_in_order();
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
        self.is_torn = true;
        self.learn_memos();
        let fresh = std::mem::take(&mut self.fresh);
        self.put_in_index(fresh);
        if let Some(trouble) = self.trouble.take() {
            return Err(trouble);
        }
        self.write_ledger(generation)?;
        self.working.searcher =
            self.index.commit(&generation.to_string()).map_err(EngineError::Index)?;
        self.tidy_ledger(generation)?;
        self.working.generation = generation;
        self.published = Arc::new(self.working.clone());
        self.is_torn = false;
        Ok(self.published.clone())
    }

    fn written(
        &mut self,
        incoming: Incoming,
        changed: &mut Changed,
        edited: &mut Vec<Arc<str>>,
        overflow: &mut Overflow,
    ) {
        let Incoming { mut fresh, mut entry, details: read } = incoming;
        let id = entry.id.clone();
        // Others may have read what stood there in between.
        let was_doubted = self.doubted.remove(&id);
        let before = self.working.book.get(&id);
        let (mut card_before, card) = (None, read.card);
        let details = match &before {
            Some(before) => {
                let known = Arc::unwrap_or_clone(self.details(before));
                card_before = known.card;
                Details { flags: known.flags, numbers: known.numbers, ..read }
            }
            None => read,
        };
        entry = entry.telling(details);
        match &before {
            Some(before)
                if before.fingerprint == entry.fingerprint && before.examined && !was_doubted =>
            {
                entry.examined = true;
                self.working.book.put(entry);
            }
            _ => {
                let stays = before.as_ref().is_some_and(|before| {
                    before.kind == entry.kind && before.blank == entry.blank && !was_doubted
                });
                if stays {
                    self.working.book.put(entry.clone());
                    self.touched_in_place(&entry, card_before, card, changed);
                } else {
                    if let Some(before) = &before {
                        changed.touch(&self.working.book, before);
                    }
                    self.working.book.put(entry.clone());
                    changed.touch(&self.working.book, &entry);
                    changed.forget_weight(&entry);
                }
                edited.push(id.clone());
            }
        }
        self.unwritten.insert(id.clone());
        let before_it = [self.fresh.remove(&id), overflow.remove(&id)].into_iter().flatten().next();
        fresh.is_new = before_it.map_or(before.is_none(), |before_it| before_it.is_new);
        if self.fresh.len() < FRESH_LIMIT {
            // Whoever depends on it reads this text, also when the file is another one by then.
            if let Some(entry) = self.working.book.get(&id) {
                self.working.cache.put(&entry, fresh.record.clone(), None);
            }
            self.fresh.insert(id, fresh);
        } else {
            overflow.insert(id, fresh);
        }
    }

    fn removed(&mut self, id: &str, changed: &mut Changed) {
        self.doubted.remove(id);
        let Some(entry) = self.working.book.get(id) else { return };
        changed.touch(&self.working.book, &entry);
        self.working.book.remove(id);
        changed.touch(&self.working.book, &entry);
        changed.forget_weight(&entry);
        self.fresh.remove(id);
        if let Err(error) = self.index.remove(id) {
            self.trouble.get_or_insert(EngineError::Index(error));
        }
        let node: Arc<str> = graph::examination_node(id).into();
        self.graph_to_change().remove(&node);
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

    fn enqueue(&mut self, id: Arc<str>) {
        let Some(entry) = self.working.book.get(&id) else { return };
        if entry.examined {
            let mut entry = Arc::unwrap_or_clone(entry);
            entry.examined = false;
            self.working.book.put(entry);
            self.unwritten.insert(id.clone());
        }
        if self.queued.insert(id.clone()) {
            self.queue.push_back(id);
            self.is_unordered = true;
        }
    }

    /// Puts the pieces of a model beside each other and beside its card, where many records wait.
    ///
    /// What they share is then worked out once and at hand, while only so many memos and records are kept. Few
    /// records stay in the order in which they were edited.
    fn put_in_order(&mut self) {
        if !std::mem::take(&mut self.is_unordered) || self.queue.len() <= CHUNK {
            return;
        }
        let book = &self.working.book;
        let model = |id: &Arc<str>| -> Arc<str> {
            let entry = book.get(id);
            match entry.as_ref().and_then(|entry| entry.blank.as_deref()) {
                Some(blank) => entry::stem(blank).into(),
                None => entry::stem(id).into(),
            }
        };
        self.queue.make_contiguous().sort_by_cached_key(model);
    }
}

/// Says why the ledger could not be written, and what to do where that is known.
fn ledger_words(path: &std::path::Path, error: &io::Error) -> String {
    let path = path.display();
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            format!("the disk that holds the index is full: free some space for `{path}`")
        }
        _ => format!("`{path}` could not be written"),
    }
}
