//! A snapshot with one record read differently: a cut that is only tried, an editor's text that is not saved.

use std::any::Any;
use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use taperbook_plugin::{Lasts, MemoKey, NumberSet, Read, Resolution, Source, View};
use taperbook_record::{Content, Kind, Record, Shop};

use crate::examine::numbers_of;
use crate::memo::Kept;
use crate::snapshot::{Snapshot, touched, touched_in_place};

/// A snapshot with one record read differently; the list of records is not copied.
pub struct Overlay<'a> {
    base: &'a Snapshot,
    record: Arc<Record>,
    /// What reads differently than in the base.
    touched: BTreeSet<Read>,
    memos: RefCell<HashMap<MemoKey, Kept>>,
    /// Whether a memo of the base is another here, of those that somebody asked that of.
    differing: RefCell<HashMap<MemoKey, bool>>,
}

impl Snapshot {
    /// Gives the same shop with one record read differently.
    pub fn with(&self, record: Arc<Record>) -> Overlay<'_> {
        let blank =
            record.build().and_then(|build| build.blank.as_ref()).map(|name| name.value.as_str());
        let (book, id, kind) = (&self.book, &record.id, record.kind());
        let mut changed: BTreeSet<Read> = match book.get(id) {
            Some(before) if before.kind() == kind && before.blank.as_deref() == blank => {
                touched_in_place(book, id, kind, blank).into_iter().collect()
            }
            Some(before) => touched(book, id, kind, blank)
                .into_iter()
                .chain(touched(book, id, before.kind(), before.blank.as_deref()))
                .collect(),
            None => touched(book, id, kind, blank).into_iter().collect(),
        };
        changed.insert(Read::Numbers(record.id.clone()));
        let (memos, differing) = (RefCell::default(), RefCell::default());
        Overlay { base: self, record, touched: changed, memos, differing }
    }
}

impl Overlay<'_> {
    /// The record that reads differently.
    pub fn record(&self) -> &Record {
        &self.record
    }

    /// Whether the record that reads differently is a build of this blank.
    fn is_of(&self, blank: &str) -> bool {
        let name = self.record.build().and_then(|build| build.blank.as_ref());
        name.is_some_and(|name| {
            matches!(self.resolve(&name.value, Kind::Blank), Resolution::Found(card) if card.id == blank)
        })
    }

    /// Says whether anything among these reads is different here.
    fn differs(&self, reads: &BTreeSet<Read>) -> bool {
        reads.iter().any(|read| match read {
            Read::Memo(key) => self.memo_differs(key),
            Read::WeightWithin(within) => self.touched.contains(&Read::Weight(within.card.clone())),
            read => self.touched.contains(read),
        })
    }

    /// Says whether a memo is different here; it is followed to what it has read, and one that lasts is made again then,
    /// since it may come out the same: a cut teaches nothing of a model.
    fn memo_differs(&self, key: &MemoKey) -> bool {
        if let Some(differs) = self.differing.borrow().get(key) {
            return *differs;
        }
        let Some(before) = self.base.kept_memo(key) else { return true };
        let differs = self.differs(&before.reads)
            && self.base.lasts(key).is_none_or(|lasts| self.made_again(key, &before, lasts).1);
        self.differing.borrow_mut().insert(key.clone(), differs);
        differs
    }

    /// Makes a memo of the base again, and says whether it is another.
    fn made_again(&self, key: &MemoKey, before: &Kept, lasts: &'static dyn Lasts) -> (Kept, bool) {
        let kept = Kept::lasting(self, key, lasts);
        let bytes = lasts.written(&*kept.value);
        let differs = bytes.is_none() || bytes != lasts.written(&*before.value);
        self.differing.borrow_mut().insert(key.clone(), differs);
        self.memos.borrow_mut().insert(key.clone(), kept.clone());
        (kept, differs)
    }
}

impl Source for Overlay<'_> {
    fn record(&self, id: &str) -> Option<Arc<Record>> {
        if id == self.record.id { Some(self.record.clone()) } else { self.base.record(id) }
    }

    fn resolve(&self, name: &str, kind: Kind) -> Resolution {
        match self.base.resolve(name, kind) {
            Resolution::Found(record) if record.id == self.record.id => {
                Resolution::Found(self.record.clone())
            }
            other => other,
        }
    }

    fn builds_of(&self, blank: &str) -> Vec<Arc<Record>> {
        let mut builds = self.base.builds_of(blank);
        builds.retain(|build| build.id != self.record.id);
        if self.is_of(blank) {
            let at = builds.partition_point(|build| build.id < self.record.id);
            builds.insert(at, self.record.clone());
        }
        builds
    }

    fn build_ids_of(&self, blank: &str) -> Vec<String> {
        let mut ids = self.base.build_ids_of(blank);
        ids.retain(|id| *id != self.record.id);
        if self.is_of(blank) {
            let at = ids.partition_point(|id| *id < self.record.id);
            ids.insert(at, self.record.id.clone());
        }
        ids
    }

    fn card_ids(&self) -> Vec<String> {
        let mut ids = self.base.card_ids();
        ids.retain(|id| *id != self.record.id);
        if self.record.kind() == Kind::Blank {
            let at = ids.partition_point(|id| *id < self.record.id);
            ids.insert(at, self.record.id.clone());
        }
        ids
    }

    fn all(&self, kind: Kind) -> Vec<Arc<Record>> {
        let mut records = self.base.all(kind);
        records.retain(|record| record.id != self.record.id);
        if self.record.kind() == kind {
            let at = records.partition_point(|record| record.id < self.record.id);
            records.insert(at, self.record.clone());
        }
        records
    }

    fn shop(&self) -> Arc<Shop> {
        match &self.record.content {
            Content::Shop(shop) => Arc::new((**shop).clone()),
            _ => self.base.shop(),
        }
    }

    fn numbers(&self, id: &str) -> Option<Arc<NumberSet>> {
        if id != self.record.id {
            return self.base.numbers(id);
        }
        Some(Arc::new(numbers_of(&self.base.plugins, &self.record, &View::new(self))))
    }

    fn memo(
        &self,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Arc<dyn Any + Send + Sync> {
        if let Some(kept) = self.memos.borrow().get(key) {
            return kept.value.clone();
        }
        if let Some(kept) = self.base.kept_memo(key)
            && !self.memo_differs(key)
        {
            return kept.value;
        }
        let kept = Kept::new(self, compute);
        self.memos.borrow_mut().insert(key.clone(), kept.clone());
        kept.value
    }

    fn lasting_memo(&self, key: &MemoKey, lasts: &'static dyn Lasts) -> Arc<dyn Any + Send + Sync> {
        if let Some(kept) = self.memos.borrow().get(key) {
            return kept.value.clone();
        }
        match self.base.kept_or_lasting(key, lasts) {
            Some(before) if self.differs(&before.reads) => {
                self.made_again(key, &before, lasts).0.value
            }
            Some(before) => before.value,
            None => self.memo(key, &|view| lasts.compute(view, &key.of)),
        }
    }
}
