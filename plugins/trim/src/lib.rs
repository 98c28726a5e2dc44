//! What the cuts of a build did, and what further cuts will do.
//!
//! A pure function of the view: the mechanics and its fit come from `bench`, the words about a change from here.
//! It raises no flag and suggests nothing.

mod bent;
mod marks;
mod numbers;
mod target;
mod tried;
mod walked;
mod words;

use taperbook_bench::Cuts;
use taperbook_plugin::{Advice, Lasts, Manifest, Number, NumberSpec, Plugin, Question, View};
use taperbook_record::{Measure, Record};
use taperbook_units::Dimension;

/// Gives the plugin.
pub fn plugin() -> Box<dyn Plugin> {
    Box::new(Trim)
}

struct Trim;

impl Plugin for Trim {
    fn manifest(&self) -> Manifest {
        Manifest {
            name: "trim",
            version: env!("CARGO_PKG_VERSION"),
            numbers: specs(),
            flags: Vec::new(),
        }
    }

    fn lasting(&self) -> Vec<&'static dyn Lasts> {
        vec![taperbook_bench::lasting()]
    }

    fn numbers(&self, record: &Record, view: &View) -> Vec<(String, Number)> {
        numbers::numbers(record, view)
    }

    fn advise(&self, question: &Question, view: &View) -> Option<Result<Advice, String>> {
        match question {
            Question::Try { record, target, held_at } => Some(
                tried::try_cut(view, record, *target, *held_at)
                    .map(|advice| Advice::Try(Box::new(advice))),
            ),
            Question::Marks { record, cut, held_at } => Some(
                marks::marks(view, record, *cut, *held_at)
                    .map(|advice| Advice::Marks(Box::new(advice))),
            ),
            Question::Bend { record, tip, butt, held_at } => Some(
                bent::bend(view, record, Cuts { tip: *tip, butt: *butt }, *held_at)
                    .map(|advice| Advice::Bend(Box::new(advice))),
            ),
            Question::Walk { record } => Some(walked::walk_of(view, record).map(Advice::Walk)),
            _ => None,
        }
    }
}

fn specs() -> Vec<NumberSpec> {
    let mut specs = Vec::new();
    for measure in Measure::ALL {
        specs.push(NumberSpec {
            key: measure.key().to_owned(),
            dimension: measure.dimension(),
            meaning: format!("{} of the piece as it now is", measure.words()),
        });
    }
    for measure in Measure::ALL {
        specs.push(NumberSpec {
            key: format!("uncut_{}", measure.key()),
            dimension: measure.dimension(),
            meaning: format!("{} of the piece before any cut", measure.words()),
        });
    }
    for (key, meaning) in [
        ("tip_cut", "all that was cut off the tip"),
        ("butt_cut", "all that was cut off the butt"),
        ("cut", "all that was cut off both ends"),
    ] {
        specs.push(NumberSpec {
            key: key.to_owned(),
            dimension: Dimension::Length,
            meaning: meaning.to_owned(),
        });
    }
    specs
}
