//! What passes between the watcher, the folder and the caller: where to look, and what changed.

use std::collections::BTreeSet;
use std::path::PathBuf;

use crate::{Key, RecordPath};

/// Where to look: everything, or some paths relative to the shop folder.
///
/// A path means what is at it and, where that is a folder, all that is below it.
/// The caller need not know which of both it is, nor whether it is still there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Dirty {
    /// The whole shop folder.
    Everything,
    /// These paths, relative to the shop folder, with all that is below them.
    Paths(BTreeSet<PathBuf>),
}

impl Dirty {
    /// Marks one path, relative to the shop folder.
    pub fn path(relative: impl Into<PathBuf>) -> Self {
        Self::Paths(BTreeSet::from([relative.into()]))
    }

    /// Whether there is nothing to look at.
    pub fn is_empty(&self) -> bool {
        matches!(self, Self::Paths(paths) if paths.is_empty())
    }

    /// Takes in the marks of another.
    pub fn merge(&mut self, other: Self) {
        match (&mut *self, other) {
            (Self::Everything, _) => {}
            (_, Self::Everything) => *self = Self::Everything,
            (Self::Paths(mine), Self::Paths(theirs)) => mine.extend(theirs),
        }
    }
}

impl Default for Dirty {
    /// Nothing is dirty.
    fn default() -> Self {
        Self::Paths(BTreeSet::new())
    }
}

/// What a look at the disk found to be new.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// A record is there with a content that was not known.
    Written {
        /// Where it is.
        path: RecordPath,
        /// What it will be recognised by.
        key: Key,
        /// Its whole content.
        bytes: Vec<u8>,
        /// Whether a sync tool made it because two machines changed one record.
        conflict_copy: bool,
    },
    /// Nothing is at this path any more, neither a record nor something that can't be read.
    Removed {
        /// Where it was.
        path: RecordPath,
    },
    /// Something is there that should be read and can't be.
    ///
    /// It is a record or a folder; what was known of a record at this path no longer holds.
    /// It is told once for each reason, and a later [`Written`](Self::Written) or
    /// [`Removed`](Self::Removed) of the same path ends it.
    Unreadable {
        /// Where it is; a name that is not UTF-8 is written with its wrong bytes as `\xE9`.
        path: RecordPath,
        /// Why, and what to do about it, in words for the builder.
        why: String,
    },
}

impl Change {
    /// The path that changed.
    pub fn path(&self) -> &RecordPath {
        match self {
            Self::Written { path, .. } | Self::Removed { path } | Self::Unreadable { path, .. } => {
                path
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_swallows_paths() {
        let mut dirty = Dirty::default();
        assert!(dirty.is_empty());
        dirty.merge(Dirty::path("a.md"));
        dirty.merge(Dirty::path("b.md"));
        assert_eq!(dirty, Dirty::Paths(BTreeSet::from(["a.md".into(), "b.md".into()])));
        dirty.merge(Dirty::Everything);
        dirty.merge(Dirty::path("c.md"));
        assert_eq!(dirty, Dirty::Everything);
    }
}
