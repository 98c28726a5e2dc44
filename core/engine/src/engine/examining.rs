//! The two stages of an examination, and what is kept of them.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;
use taperbook_index::{Document, Ready};
use taperbook_plugin::{Finding, Read, Source};
use taperbook_record::Record;

use super::{Engine, EngineError, Lasting, Waiting};
use crate::entry::{Details, Entry, StoredFlag, store_numbers};
use crate::examine;
use crate::graph;
use crate::memo::Fresh;
use crate::snapshot::Snapshot;

/// The text of a record that was examined.
enum Found {
    /// It waits in memory since it was applied.
    Waits,
    /// It was read for the examination or again.
    Read(Waiting),
    Gone,
}

impl Snapshot {
    fn text_again(&self, id: &str) -> Found {
        let kept = self.book.get(id).and_then(|entry| self.cache.whole(&entry));
        let read = kept.or_else(|| self.read_again(id));
        read.map_or(Found::Gone, |(record, text)| {
            Found::Read(Waiting { record, text, is_new: false })
        })
    }
}

impl Engine {
    pub(super) fn examine_chunk(&mut self, chunk: Vec<Arc<str>>) {
        let source = &self.working;
        let fresh = &self.fresh;
        let record_of = |id: &Arc<str>| -> Option<Arc<Record>> {
            match fresh.get(id) {
                Some(fresh) => Some(fresh.record.clone()),
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

        let (source, fresh) = (&self.working, &self.fresh);
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
                let text =
                    if fresh.contains_key(&id) { Found::Waits } else { source.text_again(&id) };
                (id, found, reads, text)
            })
            .collect();
        let mut examined = BTreeMap::new();
        for (id, found, reads, text) in second {
            if let Some(fresh) = self.finish(&id, &found, &reads, text) {
                examined.insert(id, fresh);
            }
        }
        self.put_in_index(examined);
        // Before the memos that it is made of are learned, so that none of them is missing in the graph.
        let advices = self.working.advices.after(&[], &[]);
        self.learn_memos();
        let nodes: Vec<String> = changed.iter().map(graph::read_node).collect();
        let dependents = self.graph().dependents(nodes.iter().map(String::as_str));
        if !nodes.is_empty() {
            self.working.advices = Arc::new(advices.after(&nodes, &dependents));
        }
        for node in dependents {
            if let Some(id) = graph::examined_of(&node) {
                self.enqueue(id.into());
            }
        }
    }

    /// Keeps what an examination found, and gives what is to be put in the index.
    fn finish(
        &mut self,
        id: &Arc<str>,
        found: &[Finding],
        reads: &BTreeSet<Read>,
        text: Found,
    ) -> Option<Waiting> {
        self.learn_reads(&graph::examination_node(id).into(), reads);
        let fresh = match text {
            Found::Waits => self.fresh.remove(id),
            Found::Read(fresh) => Some(fresh),
            Found::Gone => None,
        };
        let Some(fresh) = fresh else {
            self.pass_over(id);
            return None;
        };
        let entry = self.working.book.get(id)?;
        let content = fresh.text.content;
        if content != entry.content {
            // It has changed since. What is there now is the watcher's to tell; the index keeps what it was told.
            self.working.doubts.add(id, Some(content));
            return None;
        }
        let flags: Box<[StoredFlag]> =
            found.iter().map(|finding| stored(finding, &fresh.text.bytes)).collect();
        let details = self.details(&entry);
        let mut entry = Arc::unwrap_or_clone(entry);
        if details.flags != flags {
            entry = entry.telling(Details { flags, ..Arc::unwrap_or_clone(details) });
        }
        entry.examined = true;
        let text = Some(fresh.text.clone());
        self.working.cache.put(&entry, fresh.record.clone(), text);
        self.working.book.put(entry);
        self.unwritten.insert(id.clone());
        Some(fresh)
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

    /// Puts records in the index, each with what is known of it.
    pub(super) fn put_in_index(&mut self, records: BTreeMap<Arc<str>, Waiting>) {
        let entries: Vec<_> = records
            .into_iter()
            .filter_map(|(id, fresh)| {
                let entry = self.working.book.get(&id)?;
                let details = self.details(&entry);
                Some((entry, details, fresh))
            })
            .collect();
        let cards = self.cards_of(entries.iter().map(|(entry, ..)| &**entry));
        let ready = |(entry, details, fresh): (Arc<Entry>, Arc<Details>, Waiting)| {
            let card = entry.blank.as_ref().and_then(|name| cards.get(name)?.as_deref());
            (self.ready(&details, &fresh, card), fresh.is_new)
        };
        let made: Vec<(Ready, bool)> = entries.into_par_iter().map(ready).collect();
        for (ready, is_new) in made {
            let put =
                if is_new { self.index.add_ready(ready) } else { self.index.put_ready(ready) };
            if let Err(error) = put {
                self.trouble.get_or_insert(EngineError::Index(error));
            }
        }
    }

    /// Gives the card that each name of a blank among some entries leads to, which many builds have in common.
    fn cards_of<'a>(
        &self,
        entries: impl Iterator<Item = &'a Entry>,
    ) -> BTreeMap<Box<str>, Option<Arc<str>>> {
        let names: BTreeSet<&str> = entries.filter_map(|entry| entry.blank.as_deref()).collect();
        let card = |name: &str| self.working.book.card(name).map(|card| card.id.clone());
        names.into_iter().map(|name| (name.into(), card(name))).collect()
    }

    fn ready(&self, details: &Details, fresh: &Waiting, card: Option<&str>) -> Ready {
        let mut flags: Vec<String> =
            details.flags.iter().map(|flag| flag.flag.to_string()).collect();
        flags.dedup();
        self.index.ready(&Document {
            record: &fresh.record,
            fields: &fresh.text.fields,
            body: &fresh.text.body,
            numbers: &details.number_set(&self.working.catalogue.numbers),
            flags: &flags,
            blank: card,
        })
    }

    /// Puts what a node has read into the graph, and gives the names of that.
    fn learn_reads(&mut self, node: &Arc<str>, reads: &BTreeSet<Read>) -> Vec<String> {
        let nodes: Vec<String> = reads.iter().map(graph::read_node).collect();
        if self.graph_to_change().set(node, nodes.iter().map(String::as_str)) {
            self.unwritten_nodes.insert(node.clone());
            for (question, read) in nodes.iter().zip(reads) {
                let Read::WeightWithin(within) = read else { continue };
                let weight = graph::read_node(&Read::Weight(within.card.clone()));
                if self.graph_to_change().set(question, [weight.as_str()].into_iter()) {
                    self.unwritten_nodes.insert(question.as_str().into());
                }
            }
        }
        nodes
    }

    /// Puts the memos that were worked out since the last call into the graph.
    pub(super) fn learn_memos(&mut self) {
        // What may be made of a text that nobody told is not to outlast the finding out.
        let is_sure = self.is_sure();
        for Fresh { key, reads, bytes } in self.working.memos.take_fresh() {
            let node: Arc<str> = graph::memo_node(&key).into();
            let nodes = self.learn_reads(&node, &reads);
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
