//! What a commit tells the ledger.

use super::{Engine, EngineError};
use crate::ledger::{Ledger, Line};

impl Engine {
    /// Tells the ledger what changed since the last commit.
    pub(super) fn write_ledger(&mut self, generation: u64) -> Result<(), EngineError> {
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
