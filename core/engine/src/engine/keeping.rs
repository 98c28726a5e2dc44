//! What a commit tells the ledger, and what a good close leaves.

use std::sync::Arc;

use imbl::OrdMap;

use super::{Engine, EngineError, Lasting};
use crate::closed::Closed;
use crate::entry::{Details, Entry, Told};
use crate::graph::{self, Graph};
use crate::ledger::Line;
use crate::snapshot::Snapshot;

impl Engine {
    /// Gives the details of an entry; where they can't be read any more the next commit fails.
    pub(super) fn details(&mut self, entry: &Entry) -> Arc<Details> {
        match self.working.details(entry) {
            Ok(details) => details,
            Err(error) => {
                let path = self.ledger.as_ref().map(|ledger| ledger.path().to_owned());
                let path = path.unwrap_or_default();
                self.trouble.get_or_insert(EngineError::Ledger { path, error });
                Arc::default()
            }
        }
    }

    /// Gives the graph, read now if nobody wanted it since the engine was opened.
    pub(super) fn graph(&mut self) -> &mut Graph {
        if let Some(closed) = self.unread_graph.take() {
            let path = self.ledger.as_ref().map(|ledger| ledger.path().to_owned());
            match closed.graph() {
                Ok(graph) => self.graph = graph,
                Err(error) => {
                    // What is closed is not worth anything then; whoever opens it next reads the ledger.
                    closed.discard();
                    let path = path.unwrap_or_default();
                    self.trouble.get_or_insert(EngineError::Ledger { path, error });
                }
            }
        }
        &mut self.graph
    }

    /// Tells the ledger what changed since the last commit.
    pub(super) fn write_ledger(&mut self, generation: u64) -> Result<(), EngineError> {
        let nodes = std::mem::take(&mut self.unwritten_nodes);
        if !nodes.is_empty() {
            self.graph();
        }
        let Some(ledger) = &mut self.ledger else { return Ok(()) };
        let path = ledger.path().to_owned();
        let failed = |error| EngineError::Ledger { path: path.clone(), error };
        let mut told = Vec::new();
        for id in std::mem::take(&mut self.unwritten) {
            let line = match self.working.book.get(&id) {
                Some(entry) => match &entry.told {
                    Told::Held(details) => Line::Put(entry.clone(), details.clone()),
                    Told::At(_) => Line::Examined(id.clone(), entry.examined),
                },
                None => Line::Removed(id.clone()),
            };
            let at = ledger.add(&line).map_err(failed)?;
            if matches!(line, Line::Put(..)) {
                told.push((id, at));
            }
        }
        for node in nodes {
            let reads = self.graph.reads_of(&node);
            ledger.add(&Line::Reads(node, reads)).map_err(failed)?;
        }
        let mut kept = Vec::new();
        for (node, memo) in std::mem::take(&mut self.unwritten_memos) {
            let hash = graph::hash(&node);
            match memo {
                Some(Lasting { reads, bytes }) => {
                    let at = ledger.add(&Line::Memo(node, reads, bytes)).map_err(failed)?;
                    kept.push((hash, at));
                }
                None => drop(ledger.add(&Line::Forgotten(node)).map_err(failed)?),
            }
        }
        for (path, why) in std::mem::take(&mut self.unwritten_paths) {
            let line = match why {
                Some(why) => Line::Unreadable(path, why),
                None => Line::Readable(path),
            };
            ledger.add(&line).map_err(failed)?;
        }
        ledger.commit(generation).map_err(failed)?;
        told.into_iter().for_each(|(id, at)| self.working.book.is_told_at(&id, at));
        self.working.lasting.extend(kept);
        self.working.book.pack_if_much();
        Ok(())
    }

    /// Drops the old lines of the ledger once they outnumber by far what is alive.
    ///
    /// It comes after the index was committed: until the new ledger is whole the old one agrees with it.
    pub(super) fn tidy_ledger(&mut self, generation: u64) -> Result<(), EngineError> {
        let alive = 3 * self.working.book.len() + 1024;
        if self.ledger.as_ref().is_none_or(|ledger| ledger.n_lines <= 4 * alive) {
            return Ok(());
        }
        self.graph();
        let Some(ledger) = &mut self.ledger else { return Ok(()) };
        let (working, graph) = (&self.working, &self.graph);
        let entries = working.book.iter().map(|entry| {
            let details = working.details(&entry)?;
            Ok(Line::Put(entry, details))
        });
        let reads = graph.nodes().map(|node| {
            let reads = graph.reads_of(&node);
            Ok(Line::Reads(node, reads))
        });
        let memos = working.lasting.values().filter_map(|at| {
            // One that can't be read any more is worked out again.
            working.pages.as_ref()?.line(*at).ok().map(Ok)
        });
        let unreadable = &working.book.unreadable;
        let unreadable =
            unreadable.iter().map(|(path, why)| Ok(Line::Unreadable(path.clone(), why.clone())));
        let path = ledger.path().to_owned();
        let (mut told, mut kept) = (Vec::new(), OrdMap::new());
        let placed = |line: &Line, at| match line {
            Line::Put(entry, _) => told.push((entry.clone(), at)),
            Line::Memo(node, ..) => drop(kept.insert(graph::hash(node), at)),
            _ => {}
        };
        let lines = entries.chain(reads).chain(memos).chain(unreadable);
        ledger
            .replace(&self.made_by, lines, placed, generation)
            .map_err(|error| EngineError::Ledger { path, error })?;
        self.working.pages = Some(ledger.pages());
        self.working.lasting = kept;
        for (entry, at) in told {
            let entry = Arc::unwrap_or_clone(entry);
            self.working.book.put(Entry { told: Told::At(at), ..entry });
        }
        self.working.book.pack();
        Ok(())
    }

    /// Lets go of what was worked with, where all is committed: what is held then is what the next start would hold.
    ///
    /// That is for after a first look and its examination; what is wanted again is read or worked out again. The index,
    /// in which each record was put twice, is merged into one segment in the background, see [`Engine::refresh`]. Gives
    /// the snapshot as it is held now, which answers as the one before.
    ///
    /// # Errors
    /// When the index can't be read.
    pub fn rest(&mut self) -> Result<Arc<Snapshot>, EngineError> {
        self.refresh()?;
        if !self.is_all_told() || !self.queue.is_empty() {
            return Ok(self.published.clone());
        }
        if let Some(closed) = self.close() {
            self.graph = Graph::default();
            self.unread_graph = Some(closed);
        }
        // Together, since advice is made of memos and what is not in the graph yet must not be kept anywhere.
        self.working.advices = Arc::default();
        self.working.memos = Arc::default();
        self.working.cache = Arc::default();
        self.index.compact().map_err(EngineError::Index)?;
        self.published = Arc::new(self.working.clone());
        Ok(self.published.clone())
    }

    /// Takes up what the index has merged since the last commit; gives the snapshot, which answers as the one before.
    ///
    /// # Errors
    /// When the index can't be read.
    pub fn refresh(&mut self) -> Result<Arc<Snapshot>, EngineError> {
        if let Some(searcher) = self.index.refresh().map_err(EngineError::Index)? {
            self.working.searcher = searcher.clone();
            self.published = Arc::new(Snapshot { searcher, ..(*self.published).clone() });
        }
        Ok(self.published.clone())
    }

    /// Whether the last commit has all that is known.
    fn is_all_told(&self) -> bool {
        self.unwritten.is_empty()
            && self.unwritten_nodes.is_empty()
            && self.unwritten_paths.is_empty()
            && self.unwritten_memos.is_empty()
            && self.fresh.is_empty()
            && self.trouble.is_none()
            && !self.is_torn
    }

    /// Leaves what the next start need not read from the ledger, where all is committed and something has changed.
    fn close(&mut self) -> Option<Closed> {
        let is_new = self.closed_at != Some(self.working.generation);
        if !self.is_all_told() || !is_new || self.working.generation == 0 {
            return None;
        }
        self.graph();
        if self.trouble.is_some() {
            // The graph could not be read, and none is not the same as an empty one.
            return None;
        }
        self.working.book.pack();
        let (ledger, path) = (self.ledger.as_ref()?, self.working.closed_path.as_ref()?);
        // Without it the next start reads the ledger.
        let closed = Closed::write(
            path,
            &self.made_by,
            self.working.generation,
            ledger,
            (&self.working.book, &self.working.lasting),
            &mut self.graph,
        );
        let closed = closed.ok()?;
        self.closed_at = Some(self.working.generation);
        Some(closed)
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        let _closed = self.close();
    }
}
