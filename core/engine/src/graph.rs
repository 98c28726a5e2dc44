//! Who depends on whom: nodes are what can be read and what reads it.
//!
//! A node is named by a short text: what was read (`Read`), an examination of a record, or a memo.
//! A memo is a node of its own, so that a model with many builds costs the sum of their reads and not the product.
//!
//! Inside, a node is a number made of what it is and of the text behind the first colon, so that an id is kept once for
//! all nodes of its record. Most reads are packed, as entries are ([`crate::table`]), with what has changed beside them.

mod edges;
mod texts;

use std::collections::{BTreeSet, HashMap};
use std::io::{self, Write};
use std::sync::Arc;

use taperbook_plugin::{MemoKey, Read, Within};
use taperbook_record::Kind;

use self::edges::Edges;
use self::texts::Texts;
use crate::packed::Unpacker;

/// The reads of every examination and memo, and the way back.
#[derive(Debug, Clone, Default)]
pub(crate) struct Graph {
    /// What stands behind the colon.
    texts: Texts,
    /// What stands before it; a node is the number of its text times [`WHATS`], and of this.
    whats: Texts,
    /// What each node has read, and who has read it, when it was packed.
    reads: Edges,
    readers: Edges,
    /// The reads that are others now.
    changed: HashMap<u32, Box<[u32]>>,
    /// Readers besides those packed. Neither of the two forgets one that reads something else now: what a node reads
    /// is asked of the node.
    joined: HashMap<u32, Vec<u32>>,
}

/// How many things before the colon are told apart: those of [`Read`], examinations, and each sort of memo.
const WHATS: u32 = 64;
/// Changed reads are packed when they are more than this, and a fourth of all.
const LEAST_PACKED: usize = 4096;

impl Graph {
    /// Says what a node has read, instead of what it read before, and whether that is something else.
    pub(crate) fn set<'a>(&mut self, node: &str, reads: impl Iterator<Item = &'a str>) -> bool {
        let node = self.number(node);
        let reads: BTreeSet<u32> = reads.map(|read| self.number(read)).collect();
        let reads: Box<[u32]> = reads.into_iter().collect();
        let before = self.reads_by_number(node);
        if *before == *reads {
            return false;
        }
        let new: Vec<u32> =
            reads.iter().filter(|read| before.binary_search(read).is_err()).copied().collect();
        for read in new {
            self.joined.entry(read).or_default().push(node);
        }
        self.changed.insert(node, reads);
        if LEAST_PACKED.max(self.reads.len() / 4) < self.changed.len() {
            self.pack();
        }
        true
    }

    /// Whether no node has ever read anything.
    pub(crate) fn is_empty(&self) -> bool {
        self.reads.len() == 0 && self.changed.is_empty()
    }

    /// Takes a node's reads away.
    pub(crate) fn remove(&mut self, node: &str) {
        self.set(node, std::iter::empty());
    }

    /// Gives what a node has read.
    pub(crate) fn reads_of(&self, node: &str) -> Vec<Arc<str>> {
        let Some(node) = self.known(node) else { return Vec::new() };
        self.reads_by_number(node).iter().map(|read| self.name(*read).into()).collect()
    }

    /// Gives every node that has read something, in order.
    pub(crate) fn nodes(&self) -> impl Iterator<Item = Arc<str>> {
        let nodes: BTreeSet<u32> = self.reads.nodes().chain(self.changed.keys().copied()).collect();
        let nodes = nodes.into_iter().filter(|node| !self.reads_by_number(*node).is_empty());
        nodes.map(|node| self.name(node).into())
    }

    /// Gives every node that has read one of these, or read something that did; the changed nodes are not among them
    /// unless they read one another. The nearest come first.
    pub(crate) fn dependents<'a>(&self, changed: impl Iterator<Item = &'a str>) -> Vec<Arc<str>> {
        self.dependents_but(changed, |_| false)
    }

    /// The same, but for those of which it is known that they are as before, and what depends on these alone.
    pub(crate) fn dependents_but<'a>(
        &self,
        changed: impl Iterator<Item = &'a str>,
        is_as_before: impl Fn(&str) -> bool,
    ) -> Vec<Arc<str>> {
        let mut queue: Vec<u32> = changed.filter_map(|name| self.known(name)).collect();
        let mut seen: BTreeSet<u32> = BTreeSet::new();
        let mut found = Vec::new();
        let mut at = 0;
        while at < queue.len() {
            let node = queue[at];
            let joined = self.joined.get(&node).map_or(&[][..], Vec::as_slice);
            for reader in self.readers.of(node).iter().chain(joined) {
                let reads = self.reads_by_number(*reader);
                if reads.binary_search(&node).is_ok() && seen.insert(*reader) {
                    let name = self.name(*reader);
                    if !is_as_before(&name) {
                        found.push(name.into());
                        queue.push(*reader);
                    }
                }
            }
            at += 1;
        }
        found
    }

    fn reads_by_number(&self, node: u32) -> &[u32] {
        match self.changed.get(&node) {
            Some(reads) => reads,
            None => self.reads.of(node),
        }
    }

    /// Packs what has changed.
    fn pack(&mut self) {
        self.reads = self.reads.with(&self.changed);
        self.readers = self.reads.reversed();
        self.changed = HashMap::new();
        self.joined = HashMap::new();
    }

    /// Writes all of it as packed.
    pub(crate) fn write(&self, out: &mut impl Write) -> io::Result<()> {
        self.texts.pack(out)?;
        self.whats.pack(out)?;
        if self.changed.is_empty() {
            self.reads.pack(out)?;
            return self.readers.pack(out);
        }
        let reads = self.reads.with(&self.changed);
        reads.pack(out)?;
        reads.reversed().pack(out)
    }

    /// Reads what [`Graph::write`] wrote, which `finish` then finds whole.
    ///
    /// # Errors
    /// When it is something else.
    pub(crate) fn read<R: io::Read>(
        mut from: Unpacker<R>,
        finish: impl FnOnce(Unpacker<R>) -> io::Result<()>,
    ) -> io::Result<Self> {
        let mut graph = Self {
            texts: Texts::unpack(&mut from)?,
            whats: Texts::unpack(&mut from)?,
            reads: Edges::unpack(&mut from)?,
            readers: Edges::unpack(&mut from)?,
            ..Self::default()
        };
        finish(from)?;
        graph.texts.enter_all();
        graph.whats.enter_all();
        Ok(graph)
    }

    fn number(&mut self, name: &str) -> u32 {
        let (what, text) = split(name);
        let mut what = self.whats.number(what);
        let mut text = text;
        if WHATS <= what + 1 {
            // More sorts than are told apart share the last one and keep their names whole.
            (what, text) = (WHATS - 1, name);
        }
        self.texts.number(text) * WHATS + what
    }

    fn known(&self, name: &str) -> Option<u32> {
        let (what, text) = split(name);
        let (what, text) = match self.whats.known(what) {
            Some(what) if what + 1 < WHATS => (what, text),
            _ => (WHATS - 1, name),
        };
        Some(self.texts.known(text)? * WHATS + what)
    }

    fn name(&self, node: u32) -> String {
        let (text, what) = (self.texts.get(node / WHATS), node % WHATS);
        if what + 1 == WHATS { text.to_owned() } else { format!("{}{text}", self.whats.get(what)) }
    }
}

/// Splits a node's name behind the colon that ends what it is; of a memo that is its second.
fn split(name: &str) -> (&str, &str) {
    let from = if name.starts_with(MEMO) { MEMO.len() } else { 0 };
    let end = name[from..].find(':').map_or(name.len(), |at| from + at + 1);
    name.split_at(end)
}

const MEMO: &str = "memo:";
const WITHIN: &str = "within:";
const CARDS: &str = "cards";

/// Gives what is asked of the weight of a card, if a node is such a question; the node of that weight is what it reads.
pub(crate) fn within_of(node: &str) -> Option<Within> {
    match node.starts_with(WITHIN).then(|| read_of(node))? {
        Some(Read::WeightWithin(within)) => Some(within),
        _ => None,
    }
}

/// The hash that a node is found by where its name is not kept; the same in every process.
pub(crate) fn hash(node: &str) -> u64 {
    let mut hash = [0; 8];
    hash.copy_from_slice(&blake3::hash(node.as_bytes()).as_bytes()[..8]);
    u64::from_le_bytes(hash)
}

/// Names the node of something read.
pub(crate) fn read_node(read: &Read) -> String {
    match read {
        Read::Record(id) => format!("record:{id}"),
        Read::Cards => CARDS.to_owned(),
        Read::Shape(id) => format!("shape:{id}"),
        Read::Weight(id) => format!("weight:{id}"),
        Read::WeightWithin(Within { card, bounds: [low, high] }) => {
            format!("{WITHIN}{low:016x}{high:016x}{card}")
        }
        Read::Name(name) => format!("name:{name}"),
        Read::BuildsOf(id) => format!("builds-of:{id}"),
        Read::All(kind) => all_node(*kind),
        Read::Shop => "shop".to_owned(),
        Read::BuildIdsOf(id) => format!("build-ids-of:{id}"),
        Read::Numbers(id) => format!("numbers:{id}"),
        Read::Memo(key) => memo_node(key),
    }
}

/// Gives what was read of the name of its node.
pub(crate) fn read_of(node: &str) -> Option<Read> {
    if let Some(key) = memo_of(node) {
        return Some(Read::Memo(key));
    }
    if node == "shop" {
        return Some(Read::Shop);
    }
    if node == CARDS {
        return Some(Read::Cards);
    }
    let (what, of) = node.split_once(':')?;
    let owned = of.to_owned();
    Some(match what {
        "record" => Read::Record(owned),
        "shape" => Read::Shape(owned),
        "weight" => Read::Weight(owned),
        "within" => {
            let bits = |from: usize| u64::from_str_radix(of.get(from..from + 16)?, 16).ok();
            let card = of.get(32..)?.to_owned();
            Read::WeightWithin(Within { card, bounds: [bits(0)?, bits(16)?] })
        }
        "name" => Read::Name(owned),
        "builds-of" => Read::BuildsOf(owned),
        "build-ids-of" => Read::BuildIdsOf(owned),
        "numbers" => Read::Numbers(owned),
        "all" => Read::All(Kind::ALL.into_iter().find(|kind| kind.word() == of)?),
        _ => return None,
    })
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
    let (what, of) = node.strip_prefix(MEMO)?.split_once(':')?;
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
    fn a_change_goes_no_further_where_something_stays_the_same() {
        let mut graph = Graph::default();
        graph.set("memo:lesson:a", ["record:a"].into_iter());
        graph.set("memo:model:m", ["memo:lesson:a", "build-ids-of:m"].into_iter());
        graph.set("examination:a", ["memo:model:m", "record:a"].into_iter());
        graph.set("examination:b", ["memo:model:m"].into_iter());
        let found = |changed: &[&str]| {
            let same = |node: &str| node == "memo:lesson:a";
            let found = graph.dependents_but(changed.iter().copied(), same);
            found.iter().map(|node| node.to_string()).collect::<Vec<_>>()
        };
        assert_eq!(found(&["record:a"]), ["examination:a"]);
        let all = ["examination:a", "memo:model:m", "examination:b"];
        assert_eq!(found(&["record:a", "build-ids-of:m"]), all);
    }

    /// What a graph answers, packed or not, and read back.
    #[test]
    fn a_graph_answers_alike_whether_it_is_packed_or_not() {
        let steps: [(&str, &[&str]); 9] = [
            ("memo:piece:a", &["record:a", "name:heron", "shop"]),
            ("memo:model:heron", &["memo:piece:a", "builds-of:heron"]),
            ("examination:a", &["memo:piece:a", "all:fitting"]),
            ("memo:piece:b", &["record:b", "name:heron", "shop"]),
            ("memo:piece:a", &["record:a", "name:crake"]),
            ("examination:b", &["memo:piece:b", "memo:model:heron"]),
            ("memo:piece:a", &["record:a", "name:heron", "shop"]),
            ("examination:a", &[]),
            ("memo:model:heron", &["memo:piece:b"]),
        ];
        let mut graphs = [Graph::default(), Graph::default(), Graph::default()];
        let all = |graph: &Graph| {
            let nodes: BTreeSet<Arc<str>> = graph.nodes().collect();
            let mut text = String::new();
            for node in &nodes {
                let reads: BTreeSet<Arc<str>> = graph.reads_of(node).into_iter().collect();
                text += &format!("{node} {reads:?}\n");
            }
            for read in ["record:a", "record:b", "name:heron", "shop", "builds-of:heron", "x:y"] {
                let found: BTreeSet<_> = graph.dependents([read].into_iter()).into_iter().collect();
                text += &format!("{read} {found:?}\n");
            }
            text
        };
        for (at, (node, reads)) in (1..).zip(steps) {
            for (graph, every) in graphs.iter_mut().zip([100, 1, 3]) {
                assert!(graph.set(node, reads.iter().copied()), "{node} at {at}");
                assert!(!graph.set(node, reads.iter().copied()), "the same again");
                if at % every == 0 {
                    graph.pack();
                }
            }
            assert_eq!(all(&graphs[1]), all(&graphs[0]), "after step {at}");
            assert_eq!(all(&graphs[2]), all(&graphs[0]), "after step {at}");
        }
        // What has changed since it was packed is written too.
        graphs[2].set("memo:model:crake", ["memo:piece:a"].into_iter());
        graphs[0].set("memo:model:crake", ["memo:piece:a"].into_iter());
        let mut bytes = Vec::new();
        graphs[2].write(&mut bytes).unwrap();
        let read_back = |bytes: &[u8]| {
            let length = bytes.len() as u64;
            Graph::read(Unpacker::of(bytes, length), |from| {
                from.finish(*blake3::hash(bytes).as_bytes())
            })
        };
        let mut read = read_back(&bytes).unwrap();
        assert_eq!(all(&read), all(&graphs[0]));
        assert!(read.set("examination:a", ["record:a"].into_iter()));
        for cut in 0..bytes.len() {
            assert!(read_back(&bytes[..cut]).is_err());
        }
    }

    #[test]
    fn more_sorts_of_memos_than_are_told_apart_are_told_apart() {
        let mut graph = Graph::default();
        for sort in 0..100 {
            graph.set(&format!("memo:sort-{sort}:a"), [&*format!("record:{sort}")].into_iter());
        }
        for sort in 0..100 {
            check(&graph, &format!("record:{sort}"), &[&format!("memo:sort-{sort}:a")]);
        }
    }

    #[test]
    fn a_node_s_name_tells_what_was_read() {
        let key = |of: &str| MemoKey { what: "piece".into(), of: of.to_owned() };
        let of = || "builds/a:b".to_owned();
        let mut reads = vec![
            Read::Record(of()),
            Read::Cards,
            Read::Shape(of()),
            Read::Weight(of()),
            Read::WeightWithin(Within { card: of(), bounds: [0.03_f64.to_bits(), 7] }),
            Read::Name(of()),
            Read::BuildsOf(of()),
            Read::BuildIdsOf(of()),
            Read::Numbers(of()),
            Read::Shop,
            Read::Memo(key("builds/a:b")),
        ];
        reads.extend(Kind::ALL.map(Read::All));
        for read in reads {
            assert_eq!(read_of(&read_node(&read)), Some(read));
        }
        assert_eq!(read_of("examination:a"), None);
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
