//! Fittings: which tip-top, butt ferrule and reel seat of the shop's drawers go on a blank, as it is and as it would be, and
//! where its guides go.
//!
//! A cut that leaves no tip-top to fit is as spoiled as one too long, so how far each end may be cut before nothing fits is
//! worked out like a customer's limit, and what can no longer be met is a flag before the saw.
//! Each flag is one file in `flags/`, named after the fault. Of a build that is done nothing is said: its fittings are on it,
//! and the drawers of today are others.
//!
//! ```
//! let manifest = taperbook_fittings::plugin().manifest();
//! assert!(manifest.flags.iter().any(|flag| flag.name == "no-tip-top-fits"));
//! ```

mod advise;
mod case;
mod drawer;
mod ends;
mod fit;
mod guides;
mod flags {
    pub(crate) mod butt_too_large;
    pub(crate) mod no_seat_fits;
    pub(crate) mod no_tip_top_fits;
}
#[cfg(test)]
mod tests;

use taperbook_plugin::{Advice, Finding, FlagSpec, Manifest, Plugin, Question, View};
use taperbook_record::{Record, Span};

use crate::case::Case;

/// Gives the plugin.
pub fn plugin() -> Box<dyn Plugin> {
    Box::new(Fittings)
}

/// A flag: what `explain` says of it, and how it is found.
struct Flag {
    spec: FlagSpec,
    find: fn(&Case) -> Option<(String, Span)>,
}

const FLAGS: [Flag; 3] =
    [flags::no_tip_top_fits::FLAG, flags::butt_too_large::FLAG, flags::no_seat_fits::FLAG];

struct Fittings;

impl Plugin for Fittings {
    fn manifest(&self) -> Manifest {
        Manifest {
            name: "fittings",
            version: env!("CARGO_PKG_VERSION"),
            numbers: Vec::new(),
            flags: FLAGS.iter().map(|flag| flag.spec.clone()).collect(),
        }
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        let Some(case) = Case::new(record, view) else { return Vec::new() };
        let found = FLAGS.iter().filter_map(|flag| {
            let (message, span) = (flag.find)(&case)?;
            Some(Finding { flag: flag.spec.name.to_owned(), message, span: Some(span) })
        });
        found.collect()
    }

    fn advise(&self, question: &Question, view: &View) -> Option<Result<Advice, String>> {
        match question {
            Question::Fittings { record, states } => Some(
                advise::fittings(view, record, states)
                    .map(|advice| Advice::Fittings(Box::new(advice))),
            ),
            Question::Guides { record, cut, side, count, load, held_at } => {
                let asked = guides::Asked {
                    cut: *cut,
                    side: *side,
                    count: *count,
                    load: *load,
                    held_at: *held_at,
                };
                Some(
                    guides::guides(view, record, asked)
                        .map(|advice| Advice::Guides(Box::new(advice))),
                )
            }
            _ => None,
        }
    }
}
