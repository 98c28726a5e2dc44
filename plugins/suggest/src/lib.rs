//! The next cut, from physics and from the shop's past builds.
//!
//! A pure function of the view: the fit of a piece, its limits and its history come from `bench`; what is decided here is
//! how much is sure enough to be needed that it may come off now, when to stop, and what to measure first.
//! It raises no flag and adds no number.
//!
//! The work goes in steps, because material can't be put back:
//! 1. `brief` reads what is asked for, and how far each end may be cut at all;
//! 2. `guard` looks whether the readings can be trusted;
//! 3. `problem` says what each cut costs, and `target` finds the cuts that best meet the aims inside the limits, at what
//!    is most likely;
//! 4. `need` says how sure they are, and `step` takes the part that is at least 95 % sure to be needed and keeps every
//!    limit;
//! 5. `decide` and `weigh` ask these in order, and choose between cutting, measuring (`ask`) and stopping (`ending`).
//!
//! ```
//! let manifest = taperbook_suggest::plugin().manifest();
//! assert_eq!(manifest.name, "suggest");
//! assert!(manifest.flags.is_empty() && manifest.numbers.is_empty());
//! ```

mod apart;
mod ask;
mod boards;
mod brief;
mod case;
mod choose;
mod decide;
mod disagree;
mod doubt;
mod ending;
mod evidence;
mod explain;
mod finish;
mod guard;
mod history;
mod learned;
mod need;
mod problem;
mod reach;
mod say;
mod step;
mod suggested;
mod target;
mod taste;
mod weigh;
mod words;
mod worth;

use taperbook_plugin::{Advice, Manifest, Plugin, Question, View};
use taperbook_record::Kind;

/// Gives the plugin.
pub fn plugin() -> Box<dyn Plugin> {
    Box::new(Suggest)
}

struct Suggest;

impl Plugin for Suggest {
    fn manifest(&self) -> Manifest {
        Manifest {
            name: "suggest",
            version: env!("CARGO_PKG_VERSION"),
            numbers: Vec::new(),
            flags: Vec::new(),
        }
    }

    fn advise(&self, question: &Question, view: &View) -> Option<Result<Advice, String>> {
        match question {
            Question::Suggest { record, held_at } => Some(
                suggested::suggest(view, record, *held_at)
                    .map(|advice| Advice::Suggest(Box::new(advice))),
            ),
            Question::Explain { record, number: None, .. } => {
                let is_shop = view.record(record).is_some_and(|record| record.kind() == Kind::Shop);
                Some(match is_shop {
                    true => Ok(Advice::Explain(boards::explain(view, record))),
                    false => explain::explain(view, record).map(Advice::Explain),
                })
            }
            Question::Explain { record, number: Some(measure), held_at } => {
                Some(apart::taken_apart(view, record, *measure, *held_at).map(Advice::Explain))
            }
            Question::Choose(wanted) => {
                Some(choose::choose(view, wanted).map(|advice| Advice::Choose(Box::new(advice))))
            }
            Question::Reach { record, wanted } => Some(
                choose::reach::reach(view, record, wanted)
                    .map(|advice| Advice::Reach(Box::new(advice))),
            ),
            _ => None,
        }
    }
}
