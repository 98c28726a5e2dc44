//! Flags: what is wrong with a build, with its limits, its bench or its readings.
//!
//! Each flag is one file in `flags/`, named after the fault, and one line in the list below.
//! What several flags need has modules of its own: `case` is what a flag may look at, `standing` what a number is and
//! how it is known, `crossing` when a limit is passed and by which cut, `words` how all of it is said.
//! A flag names a fault; it cures nothing and suggests nothing.
//!
//! ```
//! let plugin = taperbook_tolerance::plugin();
//! let manifest = plugin.manifest();
//! let flag = manifest.flags.iter().find(|flag| flag.name == "below-shortest-length");
//! assert!(flag.is_some_and(|flag| flag.why.contains("cut off")));
//! ```

mod case;
mod crossing;
mod slips;
mod standing;
#[cfg(test)]
mod tests;
mod unknown_build;
mod unresolved;
mod words;

use taperbook_plugin::{Finding, FlagSpec, Manifest, Plugin, View};
use taperbook_record::{Content, Record, Span};

use crate::case::Case;

/// Declares the files of the flags and lists what they hold.
macro_rules! flags {
    ($($flag:ident,)+) => {
        mod flags {
            $(pub(crate) mod $flag;)+
        }
        const FLAGS: &[Flag] = &[$(flags::$flag::FLAG,)+];
    };
}

// A new flag is its file in `flags/` and its line here. The formatter does not look into this list, so `flags/*.rs` are
// formatted by name.
flags! {
    above_limit,
    above_longest_length,
    above_most_butt_od,
    above_most_power,
    above_most_recovery,
    above_most_tip_angle,
    above_most_tip_od,
    above_most_weight,
    below_least_butt_od,
    below_least_power,
    below_least_recovery,
    below_least_tip_angle,
    below_least_tip_od,
    below_least_weight,
    below_limit,
    below_shortest_length,
    cut_into_joint,
    cut_into_solid_tip,
    lengths_disagree,
    planned_cut_past_limit,
    reading_contradicts_physics,
    settled_end_cut,
    unknown_blank,
}

/// Gives the plugin.
pub fn plugin() -> Box<dyn Plugin> {
    Box::new(Tolerance)
}

struct Tolerance;

impl Plugin for Tolerance {
    fn manifest(&self) -> Manifest {
        Manifest {
            name: "tolerance",
            version: env!("CARGO_PKG_VERSION"),
            numbers: Vec::new(),
            flags: FLAGS
                .iter()
                .map(|flag| flag.spec.clone())
                .chain([unknown_build::SPEC])
                .collect(),
        }
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        if let Content::Offcut(offcut) = &record.content {
            let fault = unknown_build::find(offcut, view);
            return fault.map(|fault| fault.found(unknown_build::SPEC.name)).into_iter().collect();
        }
        let Some(case) = Case::new(record, view) else { return Vec::new() };
        let mut findings = Vec::new();
        for flag in FLAGS {
            let faults = (flag.find)(&case).into_iter().take(MOST_FAULTS);
            findings.extend(faults.map(|fault| fault.found(flag.spec.name)));
        }
        findings
    }
}

/// More faults of one kind in one record are one fault of the record.
const MOST_FAULTS: usize = 20;

/// A flag: what `explain` says of it, and how it is found.
struct Flag {
    spec: FlagSpec,
    find: fn(&Case) -> Vec<Fault>,
}

/// What a flag has found, and where.
struct Fault {
    message: String,
    span: Span,
}

impl Fault {
    fn found(self, flag: &str) -> Finding {
        Finding { flag: flag.to_owned(), message: self.message, span: Some(self.span) }
    }
}
