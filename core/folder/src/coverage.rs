//! Which directories of the shop folder are watched, and which can't be.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

use crate::filesystem::{counts_folders, without_events};
use crate::path::{is_entered, under};
use crate::read::why_unreadable;
use crate::source::{Link, NotWatched, Source};

/// The directories of a shop folder as paths relative to its root, which is the empty path.
#[derive(Debug)]
pub(crate) struct Coverage {
    root: PathBuf,
    watched: BTreeSet<PathBuf>,
    /// Those whose events are not all seen, with the reason; they may be watched nevertheless.
    unwatched: BTreeMap<PathBuf, String>,
}

impl Coverage {
    pub(crate) fn new(root: &Path) -> Self {
        let root = root.to_path_buf();
        Self { root, watched: BTreeSet::new(), unwatched: BTreeMap::new() }
    }

    /// Watches a directory and all below it.
    ///
    /// Each directory is watched before it is listed: one that appears meanwhile is either in
    /// the list or has an event. When this returns, the caller marks the directory dirty, and so
    /// the records that were written into it before its watch was set are found as well.
    pub(crate) fn cover(&mut self, source: &mut dyn Source, top: &Path) {
        // Watches of an earlier directory at the same path must not be taken for those of this.
        self.forget(source, top);
        let root_device = self.root.metadata().map(|metadata| metadata.dev()).ok();
        let counts_folders = counts_folders(&self.root);
        let mut directories = vec![top.to_path_buf()];
        while let Some(directory) = directories.pop() {
            let path = under(&self.root, &directory);
            let is_root = directory.as_os_str().is_empty();
            let metadata = if is_root { path.metadata() } else { path.symlink_metadata() };
            let Ok(metadata) = metadata else { continue };
            if !metadata.is_dir() {
                continue;
            }
            // The root's own kind concerns the whole folder and is asked for by the loop.
            let is_mounted_here = !is_root && Some(metadata.dev()) != root_device;
            if let Some(kind) = is_mounted_here.then(|| without_events(&path)).flatten() {
                self.unwatched.insert(directory.clone(), no_events(kind));
            }
            match source.watch(&path, if is_root { Link::Follow } else { Link::DontFollow }) {
                Ok(()) => {
                    self.watched.insert(directory.clone());
                    // Asked after the watch is set, as the list would be, which costs as much as the files that it has.
                    if counts_folders && !is_mounted_here && has_no_folder(&path) {
                        continue;
                    }
                }
                Err(NotWatched::Gone) => continue,
                Err(NotWatched::Because(why)) => {
                    self.unwatched.insert(directory.clone(), why);
                }
            }
            if let Err(error) = self.list(&directory, &mut directories)
                && let Some(why) = why_unreadable(&error)
            {
                self.unwatched.entry(directory).or_insert(why);
            }
        }
    }

    /// Stops watching a directory and all below it.
    pub(crate) fn forget(&mut self, source: &mut dyn Source, top: &Path) {
        let below = self.watched.range(top.to_path_buf()..);
        let below: Vec<_> = below.take_while(|path| path.starts_with(top)).cloned().collect();
        for directory in below {
            source.unwatch(&under(&self.root, &directory));
            self.watched.remove(&directory);
        }
        self.unwatched.retain(|path, _| !path.starts_with(top));
    }

    /// Whether a path is a directory that is watched or should be.
    pub(crate) fn knows(&self, directory: &Path) -> bool {
        self.watched.contains(directory) || self.unwatched.contains_key(directory)
    }

    /// The directories that have to be polled, with the reasons.
    pub(crate) fn unwatched(&self) -> &BTreeMap<PathBuf, String> {
        &self.unwatched
    }

    /// The same without those that are below another one.
    pub(crate) fn unwatched_tops(&self) -> BTreeSet<PathBuf> {
        let mut tops: BTreeSet<PathBuf> = BTreeSet::new();
        for path in self.unwatched.keys() {
            // Paths are sorted, so the top of a path is the last one taken, if any is.
            if tops.last().is_none_or(|top| !path.starts_with(top)) {
                tops.insert(path.clone());
            }
        }
        tops
    }

    fn list(&self, directory: &Path, directories: &mut Vec<PathBuf>) -> io::Result<()> {
        for entry in std::fs::read_dir(under(&self.root, directory))? {
            let entry = entry?;
            let name = entry.file_name();
            if is_entered(&name) && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                directories.push(directory.join(name));
            }
        }
        Ok(())
    }
}

/// Whether a directory has no directory in it, on a file system that counts them: each is one more name of it, beside
/// its own two.
fn has_no_folder(path: &Path) -> bool {
    path.metadata().is_ok_and(|metadata| metadata.nlink() == 2)
}

/// Says that a file system of this kind does not tell all changes.
pub(crate) fn no_events(kind: &str) -> String {
    format!("`{kind}` does not tell of changes made elsewhere")
}
