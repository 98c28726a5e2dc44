//! Tests of the crate: a shop folder of a few texts, and what the areas share.

// Lengths that don't add up.
mod gap;
// How surely limits are kept, and how much may still come off.
mod limits;
// A piece with its card, its readings and its model.
mod piece;
// The bench as states of the piece.
mod walk;

use std::any::Any;
use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use taperbook_plugin::{MemoKey, NumberSet, Resolution, Source, View};
use taperbook_record::{Build, Content, Kind, Record, Shop};
use taperbook_units::Length;

/// A shop folder of texts.
#[derive(Default)]
struct Texts {
    records: BTreeMap<String, Arc<Record>>,
    memos: RefCell<HashMap<MemoKey, Arc<dyn Any + Send + Sync>>>,
}

impl Texts {
    /// Adds a file; a record that has a problem is a slip of the test.
    #[track_caller]
    fn with(mut self, path: &str, text: &str) -> Self {
        let parsed = taperbook_record::read(path, text.as_bytes());
        assert!(parsed.problems.is_empty(), "{path}: {:?}", parsed.problems);
        self.records.insert(parsed.record.id.clone(), Arc::new(parsed.record));
        self
    }

    fn is(record: &Record, kind: Kind) -> bool {
        record.kind() == kind || (kind == Kind::Blank && record.kind() == Kind::Offcut)
    }
}

impl Source for Texts {
    fn record(&self, id: &str) -> Option<Arc<Record>> {
        self.records.get(id).cloned()
    }

    fn resolve(&self, name: &str, kind: Kind) -> Resolution {
        let named = self.records.values().filter(|record| Self::is(record, kind));
        let named: Vec<_> =
            named.filter(|record| record.id == name || record.stem() == name).collect();
        match named.as_slice() {
            [] => Resolution::Missing(Vec::new()),
            [record] => Resolution::Found((*record).clone()),
            several => {
                Resolution::Ambiguous(several.iter().map(|record| record.id.clone()).collect())
            }
        }
    }

    fn builds_of(&self, blank: &str) -> Vec<Arc<Record>> {
        let names = |record: &&Arc<Record>| {
            let name = record.build().and_then(|build| build.blank.as_ref());
            name.is_some_and(|name| {
                matches!(self.resolve(&name.value, Kind::Blank), Resolution::Found(card) if card.id == blank)
            })
        };
        self.records.values().filter(names).cloned().collect()
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

/// A straight taper of which all is stated, so that the mechanics has nothing to guess: 10 mm to 2 mm over 2 m.
const STATED: &str = "---
kind: blank
length: 2 m
material: carbon
modulus: 90 GPa
density: 1550 kg/m3
calipers:
  - { at: 0 mm, od: 10 mm, wall: 0.8 mm }
  - { at: 2000 mm, od: 2 mm, wall: 0.4 mm }
---
";

/// Reads the items of a bench, one a line without its dash.
#[track_caller]
fn build(items: &str) -> Build {
    let parsed = read_bench(items);
    assert!(parsed.problems.is_empty(), "{:?}", parsed.problems);
    parsed.record.build().expect("it is a build").clone()
}

fn read_bench(items: &str) -> taperbook_record::Parsed {
    taperbook_record::read("builds/x.md", bench_text("", items).as_bytes())
}

fn bench_text(more: &str, items: &str) -> String {
    let items: String = items.lines().map(|item| format!("  - {}\n", item.trim())).collect();
    format!("---\nkind: build\nblank: stated\n{more}bench:\n{items}---\n")
}

/// Lengths that are the same but for the rounding of arithmetic.
#[track_caller]
fn near(found: Length, inches: f64) {
    assert!((found.inches() - inches).abs() < 1e-9, "{} in, not {inches} in", found.inches());
}
