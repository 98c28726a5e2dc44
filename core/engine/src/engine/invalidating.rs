//! What a change reaches: memos and advice that are right no more, and records to be examined again.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use taperbook_plugin::{Lasts, MemoKey, Read, Source as _};
use taperbook_record::Kind;

use super::Engine;
use crate::book::Book;
use crate::entry::{Entry, StoredCard};
use crate::graph;
use crate::memo::{Kept, Made};
use crate::snapshot::{touched, touched_in_place};

/// What reads differently after some changes.
pub(super) struct Changed {
    /// Unset where nothing was made of anything, as in a first look: then nobody asks what reads differently.
    is_asked: bool,
    pub(super) reads: Vec<Read>,
    /// The weights, in kg, that cards stated before and state now, by the cards' ids; none where it is not sure what was read of them before.
    weights: BTreeMap<Arc<str>, Option<[Option<f64>; 2]>>,
}

impl Changed {
    /// Begins with nothing; `is_asked` says whether there is anything that the changes could reach.
    pub(super) fn of(is_asked: bool) -> Self {
        Self { is_asked, reads: Vec::new(), weights: BTreeMap::new() }
    }

    /// Adds what reads differently when an entry comes or goes; the book is as before or after it.
    pub(super) fn touch(&mut self, book: &Book, entry: &Entry) {
        if self.is_asked {
            let blank = entry.blank.as_deref();
            self.reads.extend(touched(book, &entry.id, entry.kind(), blank));
        }
    }

    /// A record came or went: whoever asked about its weight asks again.
    pub(super) fn forget_weight(&mut self, entry: &Entry) {
        if matches!(entry.kind(), Kind::Blank | Kind::Offcut) {
            self.weights.insert(entry.id.clone(), None);
        }
    }

    /// Whether a node of the graph is a question that has the answer that it had.
    fn is_answered_as_before(&self, node: &str) -> bool {
        let known = graph::within_of(node).and_then(|within| {
            let [before, now] = self.weights.get(within.card.as_str()).copied()??;
            Some(within.holds(before) == within.holds(now))
        });
        known == Some(true)
    }
}

/// A memo that lasts, as it was before a change that reaches it.
struct Reached {
    key: MemoKey,
    before: Kept,
    lasts: &'static dyn Lasts,
}

/// When more memos that last are reached, none is made again to see whether it is the same: that would hold up a commit.
const MOST_MADE: usize = 4;

impl Engine {
    /// Whether nobody read a text that was not told, of which something may have been made.
    pub(super) fn is_sure(&self) -> bool {
        self.doubted.is_empty() && self.working.doubts.is_empty()
    }

    /// Whether anything was made that a change could reach: an examination, a memo, advice.
    pub(super) fn is_anything_made(&mut self) -> bool {
        if self.unread_graph.is_some() || !self.graph.is_empty() {
            return true;
        }
        self.part_from_last_snapshot();
        !self.graph.is_empty() || !self.working.memos.is_empty() || !self.working.advices.is_empty()
    }

    /// Who answers from the last snapshot adds nothing more to memos and advice from here on: what is made of the state
    /// before and not in the graph yet would be taken for right. Advice first, so that the memos in it are all there.
    fn part_from_last_snapshot(&mut self) {
        self.working.advices = Arc::new(self.working.advices.after(&[], &[]));
        self.working.memos = Arc::new(self.working.memos.without(std::iter::empty()));
        self.learn_memos();
    }

    /// Adds what an edit reaches of a record that was there before: of a card only what it says otherwise.
    pub(super) fn touched_in_place(
        &self,
        entry: &Entry,
        before: Option<StoredCard>,
        now: Option<StoredCard>,
        changed: &mut Changed,
    ) {
        if !changed.is_asked {
            return;
        }
        let (book, blank) = (&self.working.book, entry.blank.as_deref());
        let mut touched = touched_in_place(book, &entry.id, entry.kind(), blank);
        if let (Some(before), Some(now)) = (before, now) {
            touched.retain(|read| match read {
                Read::Shape(_) => before.shape != now.shape,
                Read::Weight(_) => before.weight != now.weight,
                _ => true,
            });
            let weights = changed.weights.entry(entry.id.clone());
            let weights = weights.or_insert(Some([before.weight, now.weight]));
            weights.iter_mut().for_each(|[_, last]| *last = now.weight);
        } else {
            changed.forget_weight(entry);
        }
        changed.reads.extend(touched);
    }

    /// Queues what was edited, then all that depends on what changed, and forgets the memos that do.
    ///
    /// `is_sure` says whether nothing was made of a text that was not told before this change.
    pub(super) fn invalidate(&mut self, changed: &Changed, edited: Vec<Arc<str>>, is_sure: bool) {
        let dependents =
            if changed.reads.is_empty() { Vec::new() } else { self.forget(changed, is_sure) };
        let depending =
            dependents.iter().filter_map(|node| graph::examined_of(node)).map(Arc::from);
        for id in edited.into_iter().chain(depending).collect::<Vec<Arc<str>>>() {
            self.enqueue(id);
        }
    }

    /// Forgets the memos and the advice that were made of what changed; gives the nodes that depend on it.
    ///
    /// Where one of few memos that last is made again and has the bytes that it had, whoever has read it is as right as
    /// before: a cut or a note of one build teaches nothing of its model, and none of its siblings is examined again.
    fn forget(&mut self, changed: &Changed, is_sure: bool) -> Vec<Arc<str>> {
        self.part_from_last_snapshot();
        let nodes: Vec<String> = changed.reads.iter().map(graph::read_node).collect();
        let changed_nodes = || nodes.iter().map(String::as_str);
        let is_as_before = |node: &str| changed.is_answered_as_before(node);
        let mut dependents = self.graph().dependents_but(changed_nodes(), is_as_before);
        // A list of builds that is another reaches the model anyhow.
        let may_stop = is_sure
            && self.is_sure()
            && !changed.reads.iter().any(|read| matches!(read, Read::BuildIdsOf(_)));
        let reached = if may_stop { self.few_that_last(&dependents) } else { Vec::new() };
        let before = self.working.memos.clone();
        self.forget_memos(&dependents);
        let same = self.made_the_same(&reached);
        if !same.is_empty() {
            let made: Vec<_> = reached
                .into_iter()
                .filter_map(|reached| Some((self.working.memos.kept(&reached.key)?, reached.key)))
                .collect();
            dependents = self.graph().dependents_but(changed_nodes(), |node| {
                is_as_before(node) || same.iter().any(|same| **same == *node)
            });
            let wrong = memos_of(&dependents);
            let memos = before.without(wrong.iter().chain(made.iter().map(|(_, key)| key)));
            for (kept, key) in made {
                memos.get(&key, || Made::Before(kept));
            }
            self.working.memos = Arc::new(memos);
        }
        self.working.advices = Arc::new(self.working.advices.after(&nodes, &dependents));
        dependents
    }

    /// Gives the memos among these that last, when all can be made again and they are few; else none.
    fn few_that_last(&self, dependents: &[Arc<str>]) -> Vec<Reached> {
        let mut reached = Vec::new();
        for node in dependents {
            let Some(key) = graph::memo_of(node) else { continue };
            let lasts = self.working.lasts(&key);
            let before = lasts.and_then(|lasts| self.working.kept_or_lasting(&key, lasts));
            match (before, lasts) {
                (Some(before), Some(lasts)) => reached.push(Reached { key, before, lasts }),
                _ if self.is_on_the_disk(node) => return Vec::new(),
                _ => {}
            }
            if MOST_MADE < reached.len() {
                return Vec::new();
            }
        }
        reached
    }

    fn is_on_the_disk(&self, node: &Arc<str>) -> bool {
        self.working.lasting.contains_key(&graph::hash(node))
            || self.unwritten_memos.get(node).is_some_and(Option::is_some)
    }

    /// Forgets the memos among some nodes, in memory and on the disk.
    fn forget_memos(&mut self, nodes: &[Arc<str>]) {
        for node in nodes.iter().filter(|node| graph::memo_of(node).is_some()) {
            // One that was worked out and not written yet is forgotten as well.
            let is_known = self.working.lasting.remove(&graph::hash(node)).is_some();
            if is_known || self.unwritten_memos.contains_key(node) {
                self.unwritten_memos.insert(node.clone(), None);
            }
        }
        self.working.memos = Arc::new(self.working.memos.without(memos_of(nodes).iter()));
    }

    /// Makes memos again, and gives the nodes of those that came out as they were.
    fn made_the_same(&mut self, reached: &[Reached]) -> Vec<Arc<str>> {
        let is_same = |reached: &&Reached| {
            let Reached { key, before, lasts } = reached;
            // Whoever asks for one that can't be worked out meets its panic; here it is another than before.
            let made = catch_unwind(AssertUnwindSafe(|| self.working.lasting_memo(key, *lasts)));
            let bytes = made.ok().and_then(|made| lasts.written(&*made));
            bytes.is_some() && bytes == lasts.written(&*before.value)
        };
        let same = reached.iter().filter(is_same);
        let same = same.map(|reached| graph::memo_node(&reached.key).into()).collect();
        // What they were made of is in the graph before anybody goes by it.
        self.learn_memos();
        same
    }
}

fn memos_of(nodes: &[Arc<str>]) -> Vec<MemoKey> {
    nodes.iter().filter_map(|node| graph::memo_of(node)).collect()
}
