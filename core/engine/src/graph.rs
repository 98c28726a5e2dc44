//! Who depends on whom: nodes are what can be read and what reads it.
//!
//! A node is named by a short text: what was read (`Read`), an examination of a record, or a memo.
//! A memo is a node of its own, so that a model with many builds costs the sum of their reads and not the product.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use taperbook_plugin::{MemoKey, Read};
use taperbook_record::Kind;

/// The reads of every examination and memo, and the way back.
#[derive(Debug, Default)]
pub(crate) struct Graph {
    names: Vec<Arc<str>>,
    numbered: HashMap<Arc<str>, u32>,
    reads: HashMap<u32, Box<[u32]>>,
    readers: HashMap<u32, Vec<u32>>,
}

impl Graph {
    /// Says what a node has read, instead of what it read before.
    pub(crate) fn set<'a>(&mut self, node: &str, reads: impl Iterator<Item = &'a str>) {
        let node = self.number(node);
        self.forget(node);
        let reads: BTreeSet<u32> = reads.map(|read| self.number(read)).collect();
        for read in &reads {
            self.readers.entry(*read).or_default().push(node);
        }
        self.reads.insert(node, reads.into_iter().collect());
    }

    /// Takes a node's reads away.
    pub(crate) fn remove(&mut self, node: &str) {
        if let Some(node) = self.numbered.get(node).copied() {
            self.forget(node);
        }
    }

    /// Gives what a node has read.
    pub(crate) fn reads_of(&self, node: &str) -> Vec<Arc<str>> {
        let reads = self.numbered.get(node).and_then(|node| self.reads.get(node));
        reads.into_iter().flatten().map(|read| self.names[*read as usize].clone()).collect()
    }

    /// Gives every node that has read something.
    pub(crate) fn nodes(&self) -> impl Iterator<Item = Arc<str>> {
        let mut nodes: Vec<u32> = self.reads.keys().copied().collect();
        nodes.sort_unstable();
        nodes.into_iter().map(|node| self.names[node as usize].clone())
    }

    /// Gives every node that has read one of these, or read something that did; the changed nodes are not among them
    /// unless they read one another. The nearest come first.
    pub(crate) fn dependents<'a>(&self, changed: impl Iterator<Item = &'a str>) -> Vec<Arc<str>> {
        let mut queue: Vec<u32> =
            changed.filter_map(|name| self.numbered.get(name).copied()).collect();
        let mut seen: BTreeSet<u32> = BTreeSet::new();
        let mut found = Vec::new();
        let mut at = 0;
        while at < queue.len() {
            for reader in self.readers.get(&queue[at]).into_iter().flatten() {
                if seen.insert(*reader) {
                    found.push(self.names[*reader as usize].clone());
                    queue.push(*reader);
                }
            }
            at += 1;
        }
        found
    }

    fn forget(&mut self, node: u32) {
        for read in self.reads.remove(&node).into_iter().flatten() {
            if let Some(readers) = self.readers.get_mut(&read) {
                readers.retain(|reader| *reader != node);
            }
        }
    }

    fn number(&mut self, name: &str) -> u32 {
        if let Some(number) = self.numbered.get(name) {
            return *number;
        }
        let number = u32::try_from(self.names.len()).unwrap_or(u32::MAX);
        let name: Arc<str> = name.into();
        self.names.push(name.clone());
        self.numbered.insert(name, number);
        number
    }
}

/// Names the node of something read.
pub(crate) fn read_node(read: &Read) -> String {
    match read {
        Read::Record(id) => format!("record:{id}"),
        Read::Name(name) => format!("name:{name}"),
        Read::BuildsOf(id) => format!("builds-of:{id}"),
        Read::All(kind) => all_node(*kind),
        Read::Shop => "shop".to_owned(),
        Read::Numbers(id) => format!("numbers:{id}"),
        Read::Memo(key) => memo_node(key),
    }
}

/// Names the node of all records of a kind.
pub(crate) fn all_node(kind: Kind) -> String {
    format!("all:{}", kind.word())
}

/// Names the node of a memo.
pub(crate) fn memo_node(key: &MemoKey) -> String {
    format!("memo:{}:{}", key.what, key.of)
}

/// Gives the key of a memo's node.
pub(crate) fn memo_of(node: &str) -> Option<MemoKey> {
    let (what, of) = node.strip_prefix("memo:")?.split_once(':')?;
    Some(MemoKey { what: what.to_owned().into(), of: of.to_owned() })
}

/// Names the node of a record's examination.
pub(crate) fn examination_node(id: &str) -> String {
    format!("examination:{id}")
}

/// Gives the record of an examination's node.
pub(crate) fn examined_of(node: &str) -> Option<&str> {
    node.strip_prefix("examination:")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(graph: &Graph, changed: &str, expected: &[&str]) {
        let found = graph.dependents([changed].into_iter());
        assert_eq!(found.iter().map(|node| &**node).collect::<Vec<_>>(), expected);
    }

    #[test]
    fn a_change_reaches_readers_of_readers_once() {
        let mut graph = Graph::default();
        graph.set("memo:model:m", ["record:m", "memo:piece:a", "memo:piece:b"].into_iter());
        graph.set("memo:piece:a", ["record:a"].into_iter());
        graph.set("examination:a", ["memo:model:m", "record:a"].into_iter());
        graph.set("examination:b", ["memo:model:m"].into_iter());
        check(
            &graph,
            "record:a",
            &["memo:piece:a", "examination:a", "memo:model:m", "examination:b"],
        );
        check(&graph, "record:m", &["memo:model:m", "examination:a", "examination:b"]);
        check(&graph, "record:unheard-of", &[]);
    }

    #[test]
    fn new_reads_take_the_place_of_the_old() {
        let mut graph = Graph::default();
        graph.set("examination:a", ["name:heron"].into_iter());
        graph.set("examination:a", ["name:crake"].into_iter());
        check(&graph, "name:heron", &[]);
        check(&graph, "name:crake", &["examination:a"]);
        graph.remove("examination:a");
        check(&graph, "name:crake", &[]);
    }
}
