//! The fence: a way to be sure that everything written before now was seen.
//!
//! A fence is an empty file in a directory of our own, outside the shop folder, that is watched
//! like the directories of the shop folder. Its name is its number.
//!
//! Why it works: one source is one inotify instance, and that has one queue. The kernel puts an
//! event into it before the call that caused it returns, so what was written before the fence
//! was made has its event before the fence's. The library reads the queue in order on one
//! thread and the inlet keeps the order. What was written into a directory before its watch was
//! set has no event, but the directory has one in its parent, earlier than the fence's; at that
//! event the directory is covered and marked dirty as a whole.
//! What this can't see is what the system gives no event for: a write through a memory map, which
//! a full scan finds, and a write through another hard link of a record, for which the caller
//! looks at those that have one, see [`Manifest::linked`](crate::Manifest::linked).
//!
//! Several numbers have several files because the kernel may merge equal events that follow each
//! other in the queue: a count of events would then be short.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// Wakes the watcher of another process that has its fences in this state directory, so that whoever follows it
/// looks at how things are.
///
/// # Errors
/// When there are no fences in it, or nothing can be written there.
pub fn knock(state: &Path) -> io::Result<()> {
    // No fence of the watcher's own has this number.
    std::fs::File::create(state.join(DIRECTORY).join("0")).map(drop)
}

/// The name of the directory in the state directory.
const DIRECTORY: &str = "fence";

/// The directory of the fences and the number of the next.
#[derive(Debug)]
pub(crate) struct Fences {
    directory: PathBuf,
    next: AtomicU64,
}

impl Fences {
    /// Makes the directory `fence` in the state directory, and clears what an earlier process
    /// left in it.
    pub(crate) fn open(state: &Path) -> io::Result<Self> {
        let directory = std::path::absolute(state)?.join(DIRECTORY);
        let fences = Self { directory, next: AtomicU64::new(1) };
        fences.make_directory()?;
        for number in fences.standing() {
            fences.lower(number);
        }
        Ok(fences)
    }

    pub(crate) fn make_directory(&self) -> io::Result<()> {
        std::fs::create_dir_all(&self.directory)
    }

    pub(crate) fn directory(&self) -> &Path {
        &self.directory
    }

    /// Makes a new fence and gives its number; the file may have failed, as on a full disk.
    pub(crate) fn raise(&self) -> (u64, io::Result<()>) {
        let number = self.next.fetch_add(1, Ordering::SeqCst);
        (number, std::fs::File::create_new(self.file(number)).map(drop))
    }

    /// Takes a fence down and tells whether it still stood.
    ///
    /// An error other than that the file is gone counts as standing: answering twice is harmless,
    /// not answering is not.
    pub(crate) fn lower(&self, number: u64) -> bool {
        let removed = std::fs::remove_file(self.file(number));
        !removed.is_err_and(|error| error.kind() == io::ErrorKind::NotFound)
    }

    /// The numbers of the fences that stand.
    pub(crate) fn standing(&self) -> Vec<u64> {
        // A directory that can't be listed has no fences: raising one failed as well.
        let entries = std::fs::read_dir(&self.directory).into_iter().flatten();
        let mut numbers: Vec<_> =
            entries.flatten().filter_map(|entry| self.number(&entry.path())).collect();
        numbers.sort_unstable();
        numbers
    }

    /// The number of the fence that has this file.
    pub(crate) fn number(&self, path: &Path) -> Option<u64> {
        path.strip_prefix(&self.directory).ok()?.to_str()?.parse().ok()
    }

    fn file(&self, number: u64) -> PathBuf {
        self.directory.join(number.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fence_is_answered_once() {
        let state = tempfile::tempdir().unwrap();
        let fences = Fences::open(state.path()).unwrap();
        let (first, made) = fences.raise();
        made.unwrap();
        let (second, made) = fences.raise();
        made.unwrap();
        assert!(first < second);
        assert_eq!(fences.standing(), [first, second]);
        assert_eq!(fences.number(&fences.file(second)), Some(second));
        assert_eq!(fences.number(&state.path().join("7")), None);
        assert!(fences.lower(first));
        assert!(!fences.lower(first));

        let again = Fences::open(state.path()).unwrap();
        assert!(again.standing().is_empty(), "what an earlier process left is cleared");
    }
}
