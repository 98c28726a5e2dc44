//! Which files of the shop folder are records, and how their paths are written.
//!
//! It looks at names only, never at the disk.

use std::borrow::Borrow;
use std::ffi::OsStr;
use std::fmt;
use std::fmt::Write as _;
use std::os::unix::ffi::OsStrExt;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// The one record that is not a `.md` file: it marks the root of a shop folder.
pub(crate) const SHOP: &str = "shop.yaml";

const ENDING: &[u8] = b".md";

/// The path of a record inside the shop folder, in UTF-8 with `/` between its parts.
///
/// It is what a record is keyed by and what a person is shown.
/// Copies share their text.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RecordPath(Arc<str>);

impl RecordPath {
    /// Makes one from a relative path, or `None` when the path is empty, leaves the folder
    /// (`..`, a leading `/`) or is not UTF-8.
    pub fn new(relative: impl AsRef<Path>) -> Option<Self> {
        let relative = relative.as_ref();
        is_inside(relative).then_some(())?;
        Some(Self(relative.to_str().filter(|text| !text.is_empty())?.into()))
    }

    /// Names a file or folder whose own name is not UTF-8, so that it can be reported.
    ///
    /// The wrong bytes are written `\xE9` and the text ends in `(not UTF-8)`: it can't be taken
    /// for a record, whose path ends in `.md`.
    pub(crate) fn stand_in(relative: &Path) -> Self {
        let parent = relative.parent().unwrap_or(Path::new(""));
        let name = relative.file_name().unwrap_or_default();
        let mut shown = String::new();
        for chunk in name.as_bytes().utf8_chunks() {
            // A backslash is doubled so that two different names never get the same text.
            shown.push_str(&chunk.valid().replace('\\', r"\\"));
            for byte in chunk.invalid() {
                // Writing to a `String` can't fail.
                let _ = write!(shown, r"\x{byte:02X}");
            }
        }
        shown.push_str(" (not UTF-8)");
        // A folder on the way has a good name, or the scan would not have entered it.
        Self(parent.join(shown).to_string_lossy().into())
    }

    /// The path as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The identity of the record: its path without `.md`.
    pub fn identity(&self) -> &str {
        self.0.strip_suffix(".md").unwrap_or(&self.0)
    }

    /// Whether a sync tool made this file because two machines changed the same record.
    pub fn is_conflict_copy(&self) -> bool {
        is_conflict_copy(self.as_path())
    }

    /// The path, relative to the shop folder.
    pub fn as_path(&self) -> &Path {
        Path::new(&*self.0)
    }
}

impl fmt::Display for RecordPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Borrow<str> for RecordPath {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl AsRef<Path> for RecordPath {
    fn as_ref(&self) -> &Path {
        self.as_path()
    }
}

/// Whether the file at a path relative to the shop folder is a record by its name.
///
/// Records are the files that end in `.md`, in small letters or not, and the `shop.yaml` at the root.
/// Never a record: anything hidden or inside a hidden folder, and what an editor or a sync tool
/// leaves behind.
/// Most of that has another ending (`note.md~`, `4913`, `.note.md.swp`, `note.md.tmp`); what is
/// left are names such as `~$note.md` and `~sync~note.md`.
/// A conflict copy is a record, see [`is_conflict_copy`].
pub fn is_record(relative: impl AsRef<Path>) -> bool {
    let relative = relative.as_ref();
    let Some(name) = relative.file_name() else { return false };
    let is_at_root = relative.as_os_str() == name;
    is_visible(relative) && is_record_name(name, is_at_root)
}

/// Whether a file of this name is a record, in a folder that is not hidden.
pub(crate) fn is_record_name(name: &OsStr, is_at_root: bool) -> bool {
    let bytes = name.as_bytes();
    let is_note = stem(bytes).is_some() && !is_left_behind(bytes) && !is_hidden(name);
    is_note || (is_at_root && name == SHOP)
}

/// Whether a name has a second ending in capitals before its own, as `a.MD.md` has.
///
/// The record of such a file would have the name of `a.MD`.
pub(crate) fn has_two_endings(name: &OsStr) -> bool {
    let rest = name.as_bytes().strip_suffix(ENDING);
    rest.is_some_and(|rest| stem(rest).is_some() && !rest.ends_with(ENDING))
}

/// A name without its ending `.md`, if it has one.
fn stem(name: &[u8]) -> Option<&[u8]> {
    let at = name.len().checked_sub(ENDING.len())?;
    name[at..].eq_ignore_ascii_case(ENDING).then(|| &name[..at])
}

/// Whether this is the file that makes a folder inside a shop folder a shop folder of its own; gives that folder.
pub(crate) fn nested_shop(relative: &Path) -> Option<&Path> {
    let parent = relative.parent().filter(|parent| !parent.as_os_str().is_empty())?;
    (relative.file_name()? == SHOP).then_some(parent)
}

/// Whether a name says that a sync tool made the file because two machines changed one record.
///
/// Such names hold, by common habit of sync tools: `conflicted copy`, `case conflict` or
/// `conflict` in brackets, or `.sync-conflict-`.
pub fn is_conflict_copy(relative: impl AsRef<Path>) -> bool {
    let Some(name) = relative.as_ref().file_name() else { return false };
    let name = name.to_string_lossy().to_lowercase();
    name.contains(".sync-conflict-")
        || name.split(['(', '[']).skip(1).any(|bracket| {
            let bracket = bracket.split([')', ']']).next().unwrap_or_default();
            bracket.contains("conflicted copy")
                || bracket.contains("case conflict")
                || bracket == "conflict"
                || bracket == "conflicted"
        })
}

/// Whether a path is relative and stays inside the folder it is relative to.
pub(crate) fn is_inside(relative: &Path) -> bool {
    relative.components().all(|part| matches!(part, Component::Normal(_)))
}

/// Whether a path stays inside the folder and no part of it is hidden.
pub(crate) fn is_visible(relative: &Path) -> bool {
    is_inside(relative) && relative.iter().all(|part| !is_hidden(part))
}

/// Whether a file or folder of this name is hidden.
pub(crate) fn is_hidden(name: &OsStr) -> bool {
    name.as_bytes().starts_with(b".")
}

/// Whether the scan and the watcher go into a folder of this name.
///
/// A folder whose name is not UTF-8 is reported as a whole and not entered, so that everything
/// below a folder that is entered can be named.
pub(crate) fn is_entered(name: &OsStr) -> bool {
    !is_hidden(name) && name.to_str().is_some()
}

/// A path relative to the shop folder as text for a person, the root as `.`.
pub(crate) fn shown(relative: &Path) -> String {
    if relative.as_os_str().is_empty() { ".".to_owned() } else { relative.display().to_string() }
}

/// Joins a path relative to the root; unlike `Path::join` it adds no `/` at the end for the root.
pub(crate) fn under(root: &Path, relative: &Path) -> PathBuf {
    if relative.as_os_str().is_empty() { root.to_path_buf() } else { root.join(relative) }
}

fn is_left_behind(name: &[u8]) -> bool {
    name.strip_prefix(b"~").is_some_and(|rest| rest.starts_with(b"$") || rest.contains(&b'~'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(path: &str, record: bool) {
        assert_eq!(is_record(path), record, "{path}");
    }

    #[test]
    fn markdown_files_and_the_shop_file_are_records() {
        check("heron-704.md", true);
        check("builds/2026/ilse heron.md", true);
        check("shop.yaml", true);
        check("#12 from the drawer.md", true);
        check("~5 in off.md", true);
        check("4913.md", true);
        check("line\nbreak.md", true);
        check("builds/shop.yaml", false);
        check("shop.yml", false);
        check("photo.jpg", false);
        check("README", false);
        check("note.MD", true);
        check("note.Md", true);
        check("", false);
    }

    #[test]
    fn what_an_editor_or_a_sync_tool_leaves_behind_is_no_record() {
        check(".#heron-704.md", false);
        check("#heron-704.md#", false);
        check("heron-704.md~", false);
        check("4913", false);
        check(".heron-704.md.swp", false);
        check("heron-704.md.swp", false);
        check("heron-704.md.tmp", false);
        check("heron-704.md.part", false);
        check("~$heron-704.md", false);
        check("~sync~heron-704.md", false);
        check("~$heron-704.MD", false);
        check(".hidden.md", false);
        check(".md", false);
        check(".trash/heron-704.md", false);
        check("builds/.stversions/heron-704.md", false);
        check(".shop.yaml", false);
    }

    #[test]
    fn a_path_that_leaves_the_folder_is_no_record() {
        check("../elsewhere.md", false);
        check("builds/../../elsewhere.md", false);
        check("/tmp/elsewhere.md", false);
        assert_eq!(RecordPath::new("../elsewhere.md"), None);
        assert_eq!(RecordPath::new("/elsewhere.md"), None);
        assert_eq!(RecordPath::new(""), None);
    }

    #[test]
    fn conflict_copies_are_records_and_are_known() {
        for name in [
            "heron (conflicted copy 2026-01-01).md",
            "heron (Ilse's conflicted copy 2026-01-01).md",
            "builds/heron (Case Conflict).md",
            "heron.sync-conflict-20260101-120000-ABCDEFG.md",
            "heron (conflict).md",
            "heron [conflicted].md",
        ] {
            assert!(is_record(name) && is_conflict_copy(name), "{name}");
        }
        for name in ["conflict of aims.md", "heron (no conflict here).md", "conflicted copy/a.md"] {
            assert!(is_record(name) && !is_conflict_copy(name), "{name}");
        }
    }

    #[test]
    fn the_stand_in_for_a_bad_name_is_unlike_every_record() {
        let stand_in = |bytes: &[u8]| RecordPath::stand_in(Path::new(OsStr::from_bytes(bytes)));
        assert_eq!(stand_in(b"caf\xE9.md").as_str(), r"caf\xE9.md (not UTF-8)");
        assert!(!is_record(stand_in(b"caf\xE9.md").as_str()));
        assert_ne!(stand_in(b"\xE9\\xE9.md"), stand_in(b"\xE9\xE9.md"));
    }

    #[test]
    fn two_endings_and_nested_shops_are_known_by_their_names() {
        let has_two = |name: &str| has_two_endings(OsStr::new(name));
        assert!(has_two("a.MD.md"));
        assert!(!has_two("a.md.md") && !has_two("a.MD") && !has_two("a.md") && !has_two("md.md"));
        let nested = |path| nested_shop(Path::new(path)).map(Path::to_path_buf);
        assert_eq!(nested("old/shop.yaml"), Some("old".into()));
        assert_eq!(nested("shop.yaml"), None);
        assert_eq!(nested("old/a.md"), None);
    }

    #[test]
    fn the_identity_drops_the_ending() {
        assert_eq!(RecordPath::new("builds/ilse.md").unwrap().identity(), "builds/ilse");
        assert_eq!(RecordPath::new("shop.yaml").unwrap().identity(), "shop.yaml");
    }
}
