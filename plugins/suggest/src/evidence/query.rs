//! The query of `find` that opens the past builds of an answer.

use taperbook_plugin::Evidence;

/// A query may be no longer; it is well below what `find` reads.
const MOST_BYTES: usize = 3500;

/// Gives the query that finds these builds and no other record.
///
/// `None` without builds, and where one is called so that no query can name it: with a quote in its path.
pub(crate) fn query(evidence: &[Evidence]) -> Option<String> {
    let names: Option<Vec<String>> = evidence.iter().map(|build| named(&build.record)).collect();
    let query = names.filter(|names| !names.is_empty())?.join(" or ");
    (query.len() <= MOST_BYTES).then_some(query)
}

fn named(id: &str) -> Option<String> {
    // Without the slash the name of a file at the top of the folder is that of any file called so.
    let slash = if id.contains('/') { "" } else { "/" };
    // One ending is taken off whatever is asked for.
    let ending = if id.ends_with(".md") { ".md" } else { "" };
    let name = format!("{slash}{id}{ending}");
    let plain = |char: char| char.is_alphanumeric() || matches!(char, '/' | '-' | '_');
    if name.chars().all(plain) {
        return Some(format!("record:{name}"));
    }
    let quoted = |char: char| matches!(char, '"' | '“' | '”' | '„' | '‟' | '«' | '»');
    let is_lost = name.trim() != name || name.chars().any(|char| quoted(char) || char.is_control());
    (!is_lost).then(|| format!("record:\"{name}\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_written_so_that_a_query_reads_them_whole() {
        assert_eq!(named("builds/ada-heron").as_deref(), Some("record:builds/ada-heron"));
        assert_eq!(named("ada").as_deref(), Some("record:/ada"));
        assert_eq!(
            named("builds/ada (2) or so").as_deref(),
            Some("record:\"builds/ada (2) or so\"")
        );
        assert_eq!(named("builds/a.md").as_deref(), Some("record:\"builds/a.md.md\""));
        assert_eq!(named("builds/\"ada\""), None);
    }
}
