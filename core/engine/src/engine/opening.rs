//! Opening: what an earlier engine left is taken up, or everything starts empty.
//!
//! Index and ledger lie in a directory of their own whose name no other engine ever has, and a file says which it is.
//! Files are written by their paths: where the state directory was deleted or moved and another engine has made its own
//! there, one that has not noticed yet finds its directory gone, and can't mix its files with the other's.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use imbl::OrdMap;
use taperbook_index::Index;
use taperbook_plugin::Plugin;

use super::{Catalogue, Engine, EngineError, Setup};
use crate::book::Book;
use crate::closed::{self, Closed};
use crate::entry::{Entry, Told};
use crate::examine::ENGINE_FLAGS;
use crate::graph::{self, Graph};
use crate::ledger::{Ledger, Line};
use crate::memo::Memos;
use crate::snapshot::{RecordCache, Snapshot};

/// What is known of records.
#[derive(Default)]
struct Taken {
    book: Book,
    graph: Graph,
    /// Where the ledger has memos, see [`Snapshot::lasting`].
    lasting: OrdMap<u64, u64>,
}

/// What an earlier engine left on the disk.
struct Left {
    index: Index,
    ledger: Ledger,
    generation: u64,
    taken: Taken,
    /// Where the graph is, when it was not read yet.
    unread_graph: Option<Closed>,
}

impl Engine {
    /// Opens what an earlier engine left, or starts empty when it left nothing usable.
    ///
    /// An index and a ledger that don't agree, or that another build of the program wrote, count as nothing.
    ///
    /// # Errors
    /// When the state directory can't be written.
    pub fn open(setup: Setup) -> Result<Self, EngineError> {
        let Setup { state_dir, plugins, files } = setup;
        let plugins: Arc<[Box<dyn Plugin>]> = plugins.into();
        let catalogue = Arc::new(Catalogue::of(&plugins));
        let made_by = made_by(&plugins, &catalogue);
        let home = state_dir.as_deref().and_then(current);
        let left = home.as_deref().and_then(|home| reopen(home, &catalogue, &made_by));
        let is_closed = left.as_ref().is_some_and(|left| left.unread_graph.is_some());
        let (home, index, ledger, generation, taken, unread_graph) = match left {
            Some(left) => {
                let Left { index, ledger, generation, taken, unread_graph } = left;
                (home, index, Some(ledger), generation, taken, unread_graph)
            }
            None => {
                let home = state_dir.as_deref().map(make_home).transpose()?;
                let (index, ledger) = afresh(home.as_deref(), &catalogue, &made_by)?;
                if let (Some(dir), Some(home)) = (&state_dir, &home) {
                    point_at(dir, home)?;
                }
                (home, index, ledger, 0, Taken::default(), None)
            }
        };
        let Taken { book, graph, lasting } = taken;
        let queue: VecDeque<Arc<str>> = book.unexamined().into();
        let working = Snapshot {
            book,
            searcher: index.searcher(),
            memos: Arc::new(Memos::default()),
            advices: Arc::default(),
            files,
            plugins,
            catalogue,
            cache: Arc::new(RecordCache::default()),
            pages: ledger.as_ref().map(Ledger::pages),
            lasting,
            doubts: Arc::default(),
            generation,
            closed_path: home.as_deref().map(|home| home.join(CLOSED)),
            home,
        };
        Ok(Self {
            published: Arc::new(working.clone()),
            working,
            index,
            ledger,
            graph: Arc::new(graph),
            unread_graph,
            resting: None,
            closed_at: is_closed.then_some(generation),
            is_torn: false,
            queued: queue.iter().cloned().collect(),
            queue,
            is_unordered: true,
            fresh: BTreeMap::new(),
            unwritten: BTreeSet::new(),
            unwritten_nodes: BTreeSet::new(),
            unwritten_paths: BTreeMap::new(),
            unwritten_memos: BTreeMap::new(),
            made_by,
            doubted: BTreeSet::new(),
            trouble: None,
        })
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

const INDEX: &str = "index";
const LEDGER: &str = "ledger";
const CLOSED: &str = "closed";

/// The file that names the directory of index and ledger.
const CURRENT: &str = "current";
/// What the names of such directories begin with.
const HOME: &str = "made-";

/// Finds the directory of index and ledger.
fn current(dir: &Path) -> Option<PathBuf> {
    let name = std::fs::read_to_string(dir.join(CURRENT)).ok()?;
    // Whatever else is written there leads nowhere.
    let is_name = name.starts_with(HOME) && !name.contains(['/', '\0']);
    is_name.then(|| dir.join(name))
}

/// Makes a directory for index and ledger under a new name, and deletes those that were made before.
fn make_home(dir: &Path) -> Result<PathBuf, EngineError> {
    // First, since on a disk that is full their room is wanted.
    for entry in std::fs::read_dir(dir).into_iter().flatten().flatten() {
        if entry.file_name().to_str().is_some_and(|name| name.starts_with(HOME)) {
            // One that stays only takes room.
            let _ = std::fs::remove_dir_all(entry.path());
        }
    }
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    let home = dir.join(format!("{HOME}{:x}-{:x}", since.as_nanos(), std::process::id()));
    // The directory itself must be new: nobody else's files are in it.
    let made = std::fs::create_dir_all(dir).and_then(|()| std::fs::create_dir(&home));
    made.map_err(|error| failed(&home, error))?;
    Ok(home)
}

/// Says that this is the directory of index and ledger.
fn point_at(dir: &Path, home: &Path) -> Result<(), EngineError> {
    let path = dir.join(CURRENT);
    let name = home.file_name().unwrap_or_default();
    let written = closed::replace(&path, name.as_encoded_bytes());
    written.map(drop).map_err(|error| failed(&path, error))
}

fn failed(path: &Path, error: io::Error) -> EngineError {
    EngineError::Ledger { path: path.to_owned(), error }
}

/// Makes an empty index and ledger.
fn afresh(
    home: Option<&Path>,
    catalogue: &Catalogue,
    made_by: &str,
) -> Result<(Index, Option<Ledger>), EngineError> {
    let index = Index::create(home.map(|home| home.join(INDEX)).as_deref(), catalogue.for_index())
        .map_err(EngineError::Index)?;
    let Some(home) = home else { return Ok((index, None)) };
    let path = home.join(LEDGER);
    let ledger = Ledger::create(&path, made_by);
    Ok((index, Some(ledger.map_err(|error| failed(&path, error))?)))
}

/// Opens the index, and entries and graph as they were at the generation that the index has.
fn reopen(home: &Path, catalogue: &Catalogue, made_by: &str) -> Option<Left> {
    let index = Index::open(Some(&home.join(INDEX)), catalogue.for_index()).ok()?;
    let generation = index.payload().parse().ok()?;
    let path = home.join(LEDGER);
    if let Ok((closed, ledger, book, lasting)) =
        Closed::read(&home.join(CLOSED), made_by, generation, &path)
    {
        let taken = Taken { book, lasting, graph: Graph::default() };
        return Some(Left { index, ledger, generation, taken, unread_graph: Some(closed) });
    }
    let mut taken = Taken::default();
    let ledger =
        Ledger::open(&path, made_by, generation, |line, at| taken.take(line, at)).ok()??;
    Some(Left { index, ledger, generation, taken, unread_graph: None })
}

impl Taken {
    /// Takes up a line of the ledger, with its place.
    fn take(&mut self, line: Line, at: u64) {
        let Self { book, graph, lasting } = self;
        match line {
            Line::Put(entry, _) => {
                let entry = Arc::unwrap_or_clone(entry);
                book.put(Entry { told: Told::At(at), ..entry });
                book.pack_if_much();
            }
            Line::Examined(id, examined) => {
                if let Some(entry) = book.get(&id) {
                    book.put(Entry { examined, ..Arc::unwrap_or_clone(entry) });
                }
            }
            Line::Removed(id) => drop(book.remove(&id)),
            Line::Reads(node, reads) => {
                graph.set(&node, reads.iter().map(|read| &**read));
            }
            Line::Memo(node, ..) => drop(lasting.insert(graph::hash(&node), at)),
            Line::Forgotten(node) => drop(lasting.remove(&graph::hash(&node))),
            Line::Unreadable(path, why) => {
                book.unreadable.insert(path, why);
            }
            Line::Readable(path) => drop(book.unreadable.remove(&path)),
            Line::Made(_) | Line::Committed(_) => {}
        }
    }
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
