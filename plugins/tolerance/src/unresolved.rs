//! Names that lead nowhere, or to several records, in words.

use taperbook_plugin::Resolution;
use taperbook_record::Spanned;

use crate::Fault;
use crate::words::{joined, shortened};

/// Says that a name leads to no record, or to several, of which `what` is one and `make` makes one; nothing where it
/// leads to one.
pub(crate) fn unresolved<T>(
    name: &Spanned<String>,
    found: &Resolution<T>,
    what: &str,
    make: &str,
) -> Option<Fault> {
    let written = shortened(&name.value);
    let quoted = |ids: &[String], and| {
        let ids: Vec<String> = ids.iter().map(|id| format!("`{id}`")).collect();
        joined(&ids, and)
    };
    let message = match found {
        Resolution::Found(_) => return None,
        Resolution::Ambiguous(ids) => format!(
            "`{written}` names {} {what}s: write the path of one, {}",
            ids.len(),
            quoted(ids, "or")
        ),
        Resolution::Missing(near) if near.is_empty() => format!(
            "`{written}` names no {what}: make one with `{make} {written}`, or name one that is there"
        ),
        Resolution::Missing(near) => {
            format!("`{written}` names no {what}: did you mean {}?", quoted(near, "or"))
        }
    };
    Some(Fault { message, span: name.span.clone() })
}
