//! The two stages of an examination, and what is kept of them.

use std::collections::BTreeSet;
use std::sync::Arc;

use rayon::prelude::*;
use taperbook_index::Document;
use taperbook_plugin::{Finding, Read, Source};
use taperbook_record::{Kind, Parsed, Record};

use super::{Engine, EngineError, Lasting};
use crate::book::Named;
use crate::entry::{Details, StoredFlag, path_of, store_numbers};
use crate::examine;
use crate::graph;
use crate::memo::Fresh;

impl Engine {
    pub(super) fn examine_chunk(&mut self, chunk: Vec<Arc<str>>) {
        let source = &self.working;
        let fresh = &self.fresh;
        let record_of = |id: &Arc<str>| -> Option<Arc<Record>> {
            match fresh.get(id) {
                Some(fresh) => Some(Arc::new(fresh.parsed.record.clone())),
                None => source.record(id),
            }
        };
        let read: Vec<_> = chunk.into_par_iter().map(|id| (record_of(&id), id)).collect();
        let (there, gone): (Vec<_>, Vec<_>) =
            read.into_iter().partition(|(record, _)| record.is_some());
        let first: Vec<_> = there
            .into_par_iter()
            .filter_map(|(record, id)| {
                let record = record?;
                let numbers = examine::numbers(&source.plugins, &record, source);
                Some((id, record, numbers))
            })
            .collect();
        for (_, id) in gone {
            self.pass_over(&id);
        }

        let mut changed: Vec<Read> = Vec::new();
        for (id, _, numbers) in &first {
            let Some(entry) = self.working.book.get(id) else { continue };
            let stored = store_numbers(&numbers.numbers, &self.working.catalogue.numbers);
            let details = self.details(&entry);
            if details.numbers != stored {
                let details = Details { numbers: stored, ..Arc::unwrap_or_clone(details) };
                self.working.book.put(Arc::unwrap_or_clone(entry).telling(details));
                changed.push(Read::Numbers(id.to_string()));
            }
        }

        let source = &self.working;
        let fresh = &self.fresh;
        // What the index is told of a record that was read long ago is read again, here because here all cores read.
        let read_again = |id: &Arc<str>| {
            let path = path_of(id);
            (!fresh.contains_key(id))
                .then(|| source.files.read(&path).map(|bytes| super::Fresh::read(&path, bytes)))
        };
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
                let again = read_again(&id);
                (id, found, reads, again)
            })
            .collect();
        for (id, found, reads, again) in second {
            let node: Arc<str> = graph::examination_node(&id).into();
            let nodes: Vec<String> = reads.iter().map(graph::read_node).collect();
            if self.graph().set(&node, nodes.iter().map(String::as_str)) {
                self.unwritten_nodes.insert(node);
            }
            match (self.fresh.remove(&id), again) {
                (Some(fresh), _) | (None, Some(Ok(fresh))) => self.finish(&id, &found, fresh),
                (None, _) => self.pass_over(&id),
            }
        }
        // Before the memos that it is made of are learned, so that none of them is missing in the graph.
        let advices = self.working.advices.without(&BTreeSet::new());
        self.learn_memos();
        let nodes: Vec<String> = changed.iter().map(graph::read_node).collect();
        let dependents = self.graph().dependents(nodes.iter().map(String::as_str));
        if !nodes.is_empty() {
            let different =
                nodes.iter().map(String::as_str).chain(dependents.iter().map(|node| &**node));
            self.working.advices = Arc::new(advices.without(&different.collect()));
        }
        for node in dependents {
            if let Some(id) = graph::examined_of(&node) {
                self.enqueue(id.into());
            }
        }
    }

    /// Keeps what an examination found and puts the record in the index.
    fn finish(&mut self, id: &Arc<str>, found: &[Finding], fresh: super::Fresh) {
        let Some(entry) = self.working.book.get(id) else { return };
        if fresh.content != entry.content {
            // It has changed since. What is there now is the watcher's to tell; the index keeps what it was told.
            self.working.doubts.add(id, Some(fresh.content));
            return;
        }
        let flags: Box<[StoredFlag]> =
            found.iter().map(|finding| stored(finding, &fresh.bytes)).collect();
        let details = self.details(&entry);
        let mut entry = Arc::unwrap_or_clone(entry);
        if details.flags != flags {
            entry = entry.telling(Details { flags, ..Arc::unwrap_or_clone(details) });
        }
        entry.examined = true;
        self.working.cache.put(&entry, Arc::new(fresh.parsed.record.clone()));
        self.working.book.put(entry);
        self.unwritten.insert(id.clone());
        self.put_in_index(id, &fresh.parsed);
    }

    /// Leaves a record whose file can't be read at its turn as it was: that it is gone or changed is the watcher's to
    /// tell, and until then it does not wait for anything.
    fn pass_over(&mut self, id: &Arc<str>) {
        self.working.doubts.add(id, None);
        let Some(entry) = self.working.book.get(id) else { return };
        let mut entry = Arc::unwrap_or_clone(entry);
        entry.examined = true;
        self.working.book.put(entry);
        self.unwritten.insert(id.clone());
    }

    pub(super) fn put_in_index(&mut self, id: &str, parsed: &Parsed) {
        let Some(entry) = self.working.book.get(id) else { return };
        let blank = entry.blank.as_deref().and_then(|name| {
            match self.working.book.resolve(name, Kind::Blank) {
                Named::One(card) => Some(card.id.to_string()),
                _ => None,
            }
        });
        let details = self.details(&entry);
        let mut flags: Vec<String> =
            details.flags.iter().map(|flag| flag.flag.to_string()).collect();
        flags.dedup();
        let put = self.index.put(&Document {
            record: &parsed.record,
            fields: &parsed.fields,
            body: &parsed.body,
            numbers: &details.number_set(&self.working.catalogue.numbers),
            flags: &flags,
            blank: blank.as_deref(),
        });
        if let Err(error) = put {
            self.trouble.get_or_insert(EngineError::Index(error));
        }
    }

    /// Puts the memos that were worked out since the last call into the graph.
    pub(super) fn learn_memos(&mut self) {
        // What may be made of a text that nobody told is not to outlast the finding out.
        let is_sure = self.doubted.is_empty() && self.working.doubts.is_empty();
        for Fresh { key, reads, bytes } in self.working.memos.take_fresh() {
            let node: Arc<str> = graph::memo_node(&key).into();
            let nodes: Vec<String> = reads.iter().map(graph::read_node).collect();
            if self.graph().set(&node, nodes.iter().map(String::as_str)) {
                self.unwritten_nodes.insert(node.clone());
            }
            if let Some(bytes) = bytes.filter(|_| is_sure && self.ledger.is_some()) {
                let reads = nodes.iter().map(|node| node.as_str().into()).collect();
                self.unwritten_memos.insert(node, Some(Lasting { reads, bytes }));
            }
        }
    }
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
