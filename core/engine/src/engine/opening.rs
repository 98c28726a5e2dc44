//! Opening: what an earlier engine left is taken up, or everything starts empty.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use taperbook_index::Index;
use taperbook_plugin::Plugin;

use super::{Catalogue, Engine, EngineError, Files, Setup};
use crate::book::Book;
use crate::examine::ENGINE_FLAGS;
use crate::graph::Graph;
use crate::ledger::{Ledger, Line};
use crate::memo::Memos;
use crate::snapshot::{RecordCache, Snapshot};

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
            doubts: Arc::default(),
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
            is_unordered: true,
            fresh: BTreeMap::new(),
            unwritten: BTreeSet::new(),
            unwritten_nodes: BTreeSet::new(),
            unwritten_paths: BTreeMap::new(),
            made_by,
            doubted: BTreeSet::new(),
            trouble: None,
        }
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

/// Opens the index, and the ledger up to the generation that the index has.
fn reopen(
    ledger: Option<&Path>,
    index_dir: Option<&Path>,
    catalogue: &Catalogue,
    made_by: &str,
) -> Option<(Ledger, Vec<Line>, u64, Index)> {
    let index = Index::open(Some(index_dir?), catalogue.for_index()).ok()?;
    let generation = index.payload().parse().ok()?;
    let (ledger, lines) = Ledger::open(ledger?, made_by, generation).ok()??;
    Some((ledger, lines, generation, index))
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
