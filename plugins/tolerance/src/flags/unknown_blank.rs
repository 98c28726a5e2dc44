//! `unknown-blank`: `blank:` names no blank card, or more than one.
//!
//! A build without `blank:` is a problem in how it is written, not a flag.

use taperbook_plugin::FlagSpec;

use crate::case::Case;
use crate::unresolved::unresolved;
use crate::{Fault, Flag};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "unknown-blank",
        finds: "a build whose `blank` names no blank card of the shop folder, or a name that several cards share",
        why: "without its card nothing is known of the blank's diameters, and none of the shop's other builds of the model can help",
        example: "`blank: heron-74` when the card is `blanks/heron-704.md`: write `blank: heron-704`; when two folders have a `heron-704.md`, write the path, `blank: blanks/heron-704`",
    },
    find,
};

fn find(case: &Case) -> Vec<Fault> {
    let (Some(name), Some(blank)) = (&case.build.blank, &case.blank) else { return Vec::new() };
    unresolved(name, blank, "blank card", "taperbook new blank").into_iter().collect()
}
