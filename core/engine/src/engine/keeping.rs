//! What a commit tells the ledger, and what a good close leaves.

use std::sync::Arc;

use imbl::OrdMap;

use super::{Engine, EngineError, Lasting, Resting};
use crate::closed::{Leaving, Left};
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
    pub(super) fn graph(&mut self) -> &Graph {
        if let Some(closed) = self.unread_graph.take() {
            let path = self.ledger.as_ref().map(|ledger| ledger.path().to_owned());
            match closed.graph() {
                Ok(graph) => self.graph = Arc::new(graph),
                Err(error) => {
                    // What is closed is not worth anything then; whoever opens it next reads the ledger.
                    closed.discard();
                    let path = path.unwrap_or_default();
                    self.trouble.get_or_insert(EngineError::Ledger { path, error });
                }
            }
        }
        &self.graph
    }

    /// Gives the same to be changed: what is being written of it stays as it is.
    pub(super) fn graph_to_change(&mut self) -> &mut Graph {
        self.graph();
        Arc::make_mut(&mut self.graph)
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
        self.begin_to_rest()?;
        self.end_rest()?;
        Ok(self.published.clone())
    }

    /// Begins what [`Engine::rest`] does and does not wait for it: what the next start is to read is written on a
    /// thread of its own, while changes are taken in as ever. Gives the snapshot, as [`Engine::refresh`] does.
    ///
    /// # Errors
    /// When the index can't be read.
    pub fn begin_to_rest(&mut self) -> Result<Arc<Snapshot>, EngineError> {
        self.refresh()?;
        if self.resting.is_none() && self.is_all_done() {
            let leaving = self.leaving();
            // Where it can't be written the next start reads the ledger.
            let write = move || leaving.and_then(|leaving| leaving.write().ok());
            let writing = std::thread::spawn(write);
            self.resting = Some(Resting { generation: self.working.generation, writing });
        }
        Ok(self.published.clone())
    }

    /// Whether a rest was begun, and whether [`Engine::end_rest`] would wait for nothing.
    #[must_use]
    pub fn resting(&self) -> Option<bool> {
        self.resting.as_ref().map(|resting| resting.writing.is_finished())
    }

    /// Ends a rest that was begun, when all is written; gives the snapshot as it is held now, or nothing where
    /// something has changed meanwhile, so that all is held as before.
    ///
    /// # Errors
    /// When the index can't be read.
    pub fn end_rest(&mut self) -> Result<Option<Arc<Snapshot>>, EngineError> {
        let Some(left) = self.take_left().filter(|_| self.is_all_done()) else { return Ok(None) };
        if let Some(Left { closed, book }) = left {
            self.working.book = book;
            self.graph = Arc::default();
            self.unread_graph = Some(closed);
        }
        // Together, since advice is made of memos and what is not in the graph yet must not be kept anywhere.
        self.working.advices = Arc::default();
        self.working.memos = Arc::default();
        self.working.cache = Arc::default();
        self.index.compact().map_err(EngineError::Index)?;
        self.published = Arc::new(self.working.clone());
        Ok(Some(self.published.clone()))
    }

    /// Waits for what is being written at a rest that was begun at the last commit, and gives what there is of it;
    /// `None` where none was.
    ///
    /// What was written at another commit names that one, and the ledger as it was then: nobody takes it for more.
    fn take_left(&mut self) -> Option<Option<Left>> {
        let Resting { generation, writing } = self.resting.take()?;
        let left = writing.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        if generation != self.working.generation {
            return None;
        }
        if left.is_some() {
            self.closed_at = Some(generation);
        }
        Some(left)
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

    /// Whether what [`Engine::rest`] has begun to merge is merged and taken up, if nothing was committed since.
    #[must_use]
    pub fn is_merged(&self) -> bool {
        self.index.n_segments() <= 1
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

    /// Whether it has, and nothing is to be examined.
    fn is_all_done(&self) -> bool {
        self.is_all_told() && self.queue.is_empty()
    }

    /// Gives what the next start need not read from the ledger, where all is committed and something has changed.
    fn leaving(&mut self) -> Option<Leaving> {
        let is_new = self.closed_at != Some(self.working.generation);
        if !self.is_all_told() || !is_new || self.working.generation == 0 {
            return None;
        }
        self.graph();
        if self.trouble.is_some() {
            // The graph could not be read, and none is not the same as an empty one.
            return None;
        }
        let ledger = self.ledger.as_ref()?;
        Some(Leaving {
            path: self.working.closed_path.clone()?,
            made_by: self.made_by.clone(),
            generation: self.working.generation,
            stamp: ledger.stamp(),
            n_lines: ledger.n_lines,
            book: self.working.book.clone(),
            lasting: self.working.lasting.clone(),
            graph: self.graph.clone(),
        })
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        // One at a time, and one that is being written may be of this very commit.
        let _left = self.take_left();
        if let Some(leaving) = self.leaving() {
            let _written = leaving.write();
        }
    }
}
