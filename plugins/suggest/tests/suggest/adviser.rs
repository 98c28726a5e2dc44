//! The plugin as the adviser of a simulated shop, in process.

use std::any::Any;
use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::Arc;

use taperbook_plugin::{
    Advice, MemoKey, NumberSet, Question, Resolution, Shelf, Source, SuggestAdvice, View,
};
use taperbook_record::{Kind, Measure, Record, Shop};
use taperbook_testkit::shop;

/// A shop folder in memory, and what the plugin says of it.
#[derive(Default)]
pub(crate) struct InProcess {
    shelf: Shelf,
    /// What was learned of each finished build: an answer about another build leaves it as it is.
    lessons: RefCell<HashMap<MemoKey, Arc<dyn Any + Send + Sync>>>,
}

impl InProcess {
    /// What the plugin answers.
    pub(crate) fn suggest(&self, record: &str) -> SuggestAdvice {
        let question = Question::Suggest { record: record.to_owned(), held_at: None };
        match taperbook_suggest::plugin().advise(&question, &View::new(self)) {
            Some(Ok(Advice::Suggest(advice))) => *advice,
            other => panic!("{record}: {other:?}"),
        }
    }
}

impl shop::Adviser for InProcess {
    fn write(&mut self, path: &str, text: &str) {
        let parsed = taperbook_record::read(path, text.as_bytes());
        assert!(parsed.problems.is_empty(), "{path}: {:?}\n{text}", parsed.problems);
        match path.starts_with("builds/") {
            true => self.lessons.borrow_mut().retain(|key, _| !path.starts_with(&key.of)),
            // A card or the shop bears on what every build teaches.
            false => self.lessons.borrow_mut().clear(),
        }
        self.shelf.put(parsed.record);
    }

    fn ask(&mut self, record: &str) -> shop::Advice {
        told(&self.suggest(record))
    }
}

/// What a builder takes from an answer.
pub(crate) fn told(advice: &SuggestAdvice) -> shop::Advice {
    let known = |measure: Measure| {
        let (value, low, high) = advice.expected.get(measure)?.known()?;
        Some([value, low, high])
    };
    shop::Advice {
        next_cut: advice.next_cut.map(|cut| [cut.tip_mm, cut.butt_mm]),
        remaining: [advice.remaining.tip_mm, advice.remaining.butt_mm],
        why_stop: advice.why_stop.clone(),
        measure_next: advice.measure_next.clone(),
        power: known(Measure::Power),
        length: known(Measure::Length),
    }
}

impl Source for InProcess {
    fn record(&self, id: &str) -> Option<Arc<Record>> {
        self.shelf.record(id)
    }

    fn resolve(&self, name: &str, kind: Kind) -> Resolution {
        self.shelf.resolve(name, kind)
    }

    fn builds_of(&self, blank: &str) -> Vec<Arc<Record>> {
        self.shelf.builds_of(blank)
    }

    fn all(&self, kind: Kind) -> Vec<Arc<Record>> {
        self.shelf.all(kind)
    }

    fn shop(&self) -> Arc<Shop> {
        self.shelf.shop()
    }

    fn numbers(&self, id: &str) -> Option<Arc<NumberSet>> {
        self.shelf.numbers(id)
    }

    fn memo(
        &self,
        key: &MemoKey,
        compute: &dyn Fn(&View) -> Arc<dyn Any + Send + Sync>,
    ) -> Arc<dyn Any + Send + Sync> {
        let is_kept = match &*key.what {
            "lesson" | "own-fit" => true,
            // How far a past build was missed is evidence: it decides nothing, and costs more than all that does.
            "piece" | "last-forecast" => key.of.contains("past"),
            _ => false,
        };
        if !is_kept {
            return self.shelf.memo(key, &|_| compute(&View::new(self)));
        }
        if let Some(kept) = self.lessons.borrow().get(key) {
            return kept.clone();
        }
        let value = compute(&View::new(self));
        self.lessons.borrow_mut().insert(key.clone(), value.clone());
        value
    }
}
