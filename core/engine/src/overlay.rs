//! A snapshot with one record read differently: a cut that is only tried, an editor's text that is not saved.

use std::any::Any;
use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use taperbook_plugin::{MemoKey, NumberSet, Read, Resolution, Source, View, Written};
use taperbook_record::{Content, Kind, Record, Shop};

use crate::examine::numbers_of;
use crate::memo::Kept;
use crate::snapshot::{Snapshot, touched};

/// A snapshot with one record read differently; the list of records is not copied.
pub struct Overlay<'a> {
    base: &'a Snapshot,
    record: Arc<Record>,
    /// What reads differently than in the base.
    touched: BTreeSet<Read>,
    memos: RefCell<HashMap<MemoKey, Kept>>,
}

impl Snapshot {
    /// Gives the same shop with one record read differently.
    pub fn with(&self, record: Arc<Record>) -> Overlay<'_> {
        let blank =
            record.build().and_then(|build| build.blank.as_ref()).map(|name| name.value.as_str());
        let mut changed: BTreeSet<Read> =
            touched(&self.book, &record.id, record.kind(), blank).into_iter().collect();
        changed.insert(Read::Numbers(record.id.clone()));
        if let Some(before) = self.book.get(&record.id) {
            changed.extend(touched(&self.book, &before.id, before.kind(), before.blank.as_deref()));
        }
        Overlay { base: self, record, touched: changed, memos: RefCell::default() }
    }
}

impl Overlay<'_> {
    /// The record that reads differently.
    pub fn record(&self) -> &Record {
        &self.record
    }

    /// Says whether anything among these reads is different here; memos are followed to what they read.
    fn differs(&self, reads: &BTreeSet<Read>) -> bool {
        reads.iter().any(|read| match read {
            Read::Memo(key) => match self.memos.borrow().get(key).cloned() {
                Some(_) => true,
                None => self.base.kept_memo(key).is_none_or(|kept| self.differs(&kept.reads)),
            },
            read => self.touched.contains(read),
        })
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
        if self.touched.contains(&Read::BuildsOf(blank.to_owned()))
            && let Some(name) = self.record.build().and_then(|build| build.blank.as_ref())
            && matches!(self.resolve(&name.value, Kind::Blank), Resolution::Found(card) if card.id == blank)
        {
            let at = builds.partition_point(|build| build.id < self.record.id);
            builds.insert(at, self.record.clone());
        }
        builds
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
            && !self.differs(&kept.reads)
        {
            return kept.value;
        }
        let kept = Kept::new(self, compute);
        self.memos.borrow_mut().insert(key.clone(), kept.clone());
        kept.value
    }

    fn lasting_memo(
        &self,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
        written: &Written,
    ) -> Arc<dyn Any + Send + Sync> {
        match self.base.kept_or_lasting(key, written) {
            Some(kept) if !self.memos.borrow().contains_key(key) && !self.differs(&kept.reads) => {
                kept.value
            }
            _ => self.memo(key, compute),
        }
    }
}
