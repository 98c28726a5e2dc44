//! What a commit tells the ledger.

use super::{Engine, EngineError};
use crate::ledger::Line;

impl Engine {
    /// Tells the ledger what changed since the last commit.
    pub(super) fn write_ledger(&mut self, generation: u64) -> Result<(), EngineError> {
        let Some(ledger) = &mut self.ledger else { return Ok(()) };
        let path = ledger.path().to_owned();
        let failed = |error| EngineError::Ledger { path: path.clone(), error };
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

    /// Drops the old lines of the ledger once they outnumber by far what is alive.
    ///
    /// It comes after the index was committed: until the new ledger is whole the old one agrees with it.
    pub(super) fn tidy_ledger(&mut self, generation: u64) -> Result<(), EngineError> {
        let Some(ledger) = &mut self.ledger else { return Ok(()) };
        let alive = 3 * self.working.book.len() + 1024;
        if ledger.n_lines <= 4 * alive {
            return Ok(());
        }
        let (book, graph) = (&self.working.book, &self.graph);
        let entries = book.iter().map(|entry| Line::Put(entry.clone()));
        let reads = graph.nodes().map(|node| {
            let reads = graph.reads_of(&node);
            Line::Reads(node, reads)
        });
        let unreadable =
            book.unreadable.iter().map(|(path, why)| Line::Unreadable(path.clone(), why.clone()));
        let path = ledger.path().to_owned();
        ledger
            .replace(&self.made_by, entries.chain(reads).chain(unreadable), generation)
            .map_err(|error| EngineError::Ledger { path, error })
    }
}
