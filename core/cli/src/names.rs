//! `names`: what the completions of a shell offer for a record.

use taperbook_engine::{Answer, Request};

use crate::failure::Failure;
use crate::run::{Context, Done};
use crate::style::clean;

/// Lists the records that begin so: by stem where only one has it, else by path.
pub(crate) fn names(context: &Context, begins: &str) -> Result<Done, Failure> {
    let Answer::Names(answer) = context.ask(&Request::Names {})? else {
        return Err(Failure::new("the daemon answered another question"));
    };
    let ids: Vec<&str> = answer.records.iter().map(|name| name.record.as_str()).collect();
    let mut names = called(&ids);
    names.retain(|name| name.starts_with(begins));
    context
        .print(&names, |names| names.iter().map(|name| format!("{}\n", clean(name))).collect())?;
    Ok(Done::Well)
}

/// The shortest name of each record, in their order.
fn called<'a>(ids: &[&'a str]) -> Vec<&'a str> {
    let stem = |id: &'a str| id.rsplit('/').next().unwrap_or(id);
    let mut n_of: std::collections::BTreeMap<&str, usize> = std::collections::BTreeMap::new();
    ids.iter().for_each(|id| *n_of.entry(stem(id)).or_default() += 1);
    let mut names: Vec<&str> =
        ids.iter().map(|id| if n_of[stem(id)] == 1 { stem(id) } else { id }).collect();
    names.sort_unstable();
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stem_that_two_records_share_is_told_by_path() {
        let ids = ["builds/ilse", "builds/heron", "blanks/heron", "a"];
        assert_eq!(called(&ids), ["a", "blanks/heron", "builds/heron", "ilse"]);
    }
}
