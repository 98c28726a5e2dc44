//! `unknown-blank`: `blank:` names no blank card, or more than one.
//!
//! A build without `blank:` is a problem in how it is written, not a flag.

use taperbook_plugin::{FlagSpec, Resolution};

use crate::case::Case;
use crate::words::{joined, shortened};
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
    let written = shortened(&name.value);
    let quoted = |ids: &[String], and| {
        let ids: Vec<String> = ids.iter().map(|id| format!("`{id}`")).collect();
        joined(&ids, and)
    };
    let message = match blank {
        Resolution::Found(_) => return Vec::new(),
        Resolution::Ambiguous(ids) => format!(
            "`{written}` names {} blank cards: write the path of one, {}",
            ids.len(),
            quoted(ids, "or")
        ),
        Resolution::Missing(near) if near.is_empty() => format!(
            "`{written}` names no blank card: make one with `taperbook new blank {written}`, or name one that is there"
        ),
        Resolution::Missing(near) => {
            format!("`{written}` names no blank card: did you mean {}?", quoted(near, "or"))
        }
    };
    vec![Fault { message, span: name.span.clone() }]
}
