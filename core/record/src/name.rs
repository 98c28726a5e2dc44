//! What a file's path says: the record's id, its stem, and whether a sync tool left it.

/// A path taken apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Name {
    pub(crate) id: String,
    pub(crate) stem: String,
    pub(crate) is_shop: bool,
    pub(crate) conflict_copy: bool,
}

impl Name {
    pub(crate) fn new(path: &str) -> Self {
        let path = path.trim_start_matches("./");
        let id = match path.len().checked_sub(3) {
            Some(at) if path.is_char_boundary(at) && path[at..].eq_ignore_ascii_case(".md") => {
                &path[..at]
            }
            _ => path,
        };
        let stem = id.rsplit('/').next().unwrap_or(id);
        Self {
            id: id.to_owned(),
            stem: stem.to_owned(),
            is_shop: path == "shop.yaml",
            conflict_copy: is_conflict_copy(stem),
        }
    }
}

/// Tells whether a file's stem is one that sync tools give to the copy they could not merge:
/// `ilse (conflicted copy 2026-03-14)`, `ilse.sync-conflict-20260314-101500-ABCDEFG`.
pub fn is_conflict_copy(stem: &str) -> bool {
    let stem = stem.to_lowercase();
    ["conflicted copy", ".sync-conflict-", "(case conflict"].iter().any(|mark| stem.contains(mark))
}
