//! Records in memory as a source: for tests and examples, and for anyone who has a few records and no engine.
//!
//! It keeps no account of what reads what, so a memo stays as it is; take a new shelf when a record changes.

use std::any::Any;
use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use taperbook_record::{Content, Kind, Record, Shop};

use crate::{MemoKey, NumberSet, Resolution, Source, View};

/// A few records in memory.
#[derive(Default)]
pub struct Shelf {
    records: BTreeMap<String, Arc<Record>>,
    memos: RefCell<HashMap<MemoKey, Arc<dyn Any + Send + Sync>>>,
}

impl Shelf {
    /// Puts a record on the shelf, in place of one with its id; what was worked out so far is forgotten.
    pub fn put(&mut self, record: Record) {
        self.memos.borrow_mut().clear();
        self.records.insert(record.id.clone(), Arc::new(record));
    }
}

impl Source for Shelf {
    fn record(&self, id: &str) -> Option<Arc<Record>> {
        self.records.get(id).cloned()
    }

    fn resolve(&self, name: &str, kind: Kind) -> Resolution {
        let is_meant = |record: &Record| {
            record.kind() == kind || (kind == Kind::Blank && record.kind() == Kind::Offcut)
        };
        if let Some(record) = self.records.get(name).filter(|record| is_meant(record)) {
            return Resolution::Found(record.clone());
        }
        let meant = self.records.values().filter(|record| is_meant(record));
        let named: Vec<&Arc<Record>> =
            meant.clone().filter(|record| record.stem() == name).collect();
        match named.as_slice() {
            [record] => Resolution::Found((*record).clone()),
            [] => {
                // Near enough without an engine: what begins alike.
                let near = meant.filter(|record| record.stem().get(..4) == name.get(..4));
                Resolution::Missing(near.map(|record| record.id.clone()).collect())
            }
            several => {
                Resolution::Ambiguous(several.iter().map(|record| record.id.clone()).collect())
            }
        }
    }

    fn builds_of(&self, blank: &str) -> Vec<Arc<Record>> {
        let is_of = |record: &&Arc<Record>| {
            let name = record.build().and_then(|build| build.blank.as_ref());
            name.is_some_and(|name| {
                matches!(self.resolve(&name.value, Kind::Blank), Resolution::Found(card) if card.id == blank)
            })
        };
        self.records.values().filter(is_of).cloned().collect()
    }

    fn all(&self, kind: Kind) -> Vec<Arc<Record>> {
        self.records.values().filter(|record| record.kind() == kind).cloned().collect()
    }

    fn shop(&self) -> Arc<Shop> {
        match self.records.get("shop.yaml").map(|record| &record.content) {
            Some(Content::Shop(shop)) => Arc::new((**shop).clone()),
            _ => Arc::default(),
        }
    }

    /// Gives none: the numbers of a record come from an engine.
    fn numbers(&self, _id: &str) -> Option<Arc<NumberSet>> {
        None
    }

    fn memo(
        &self,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Arc<dyn Any + Send + Sync> {
        if let Some(kept) = self.memos.borrow().get(key) {
            return kept.clone();
        }
        let value = compute(&View::new(self));
        self.memos.borrow_mut().insert(key.clone(), value.clone());
        value
    }
}
