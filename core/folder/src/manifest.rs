//! What is known of the records: one key each, to tell by a look whether a file changed.
//!
//! Writing it to a file and reading it back are in `manifest_file`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::Metadata;
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::PathBuf;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use crate::RecordPath;
use crate::entries::{Entries, Known};

/// What a version of a record is recognised by.
///
/// Times are only ever compared for being the same: a file may be given an older time, and a
/// clock may be set back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// The device it is on.
    pub device: u64,
    /// Its inode.
    pub inode: u64,
    /// Its size in bytes.
    pub size: u64,
    /// When its content was modified, in ns since 1970.
    pub mtime_ns: i64,
    /// When anything about it changed, in ns since 1970.
    pub ctime_ns: i64,
    /// BLAKE3 of its content.
    pub hash: [u8; 32],
}

/// The keys of all records of a shop folder, and what can't be read.
///
/// [`Folder::reconcile`](crate::Folder::reconcile) keeps it; a caller keeps it in a file between
/// runs. An empty one makes the next full scan read everything.
#[derive(Debug, Clone, Default)]
pub struct Manifest {
    /// A word of the caller's, kept in the file: which state of the index belongs to it.
    pub of: String,
    pub(crate) entries: Entries,
    /// Records that were found emptied a moment ago, and when that is believed.
    pub(crate) emptied: BTreeMap<RecordPath, Instant>,
    /// Records whose file has another name as well; found anew by each full scan.
    pub(crate) linked: BTreeSet<RecordPath>,
    /// Counts the changes of the entries.
    pub(crate) edits: u64,
    /// The number of the last scan, which [`Entry::seen`] is compared with.
    pub(crate) scan: u32,
}

/// What is known of one path.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    pub(crate) state: State,
    /// The last scan that came past it; what a scan did not come past is gone.
    pub(crate) seen: u32,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum State {
    Read {
        key: Key,
        /// The file had only just been changed when it was read, so that a further change might
        /// bear the same times: the key alone does not prove that the content is the same.
        fresh: bool,
    },
    Unreadable {
        why: Box<str>,
    },
}

/// What a look at a file tells without reading it: a [`Key`] without its hash.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stat {
    pub(crate) device: u64,
    pub(crate) inode: u64,
    pub(crate) size: u64,
    pub(crate) mtime_ns: i64,
    pub(crate) ctime_ns: i64,
}

impl Manifest {
    /// The key of a record.
    pub fn key(&self, path: &str) -> Option<Key> {
        self.entries.get(path)?.state.key()
    }

    /// The records that were read, sorted by path, with their keys.
    pub fn records(&self) -> impl Iterator<Item = (&str, Key)> {
        self.entries.iter().filter_map(|known| Some((known.path(), known.state().key()?)))
    }

    /// Changes whenever something is known otherwise than before, also where no content has changed.
    pub fn edits(&self) -> u64 {
        self.edits
    }

    /// Makes the manifest of an index that has these contents, by path, and knows of these paths that they can't be
    /// read, each with its reason.
    ///
    /// This manifest may be of another commit, or empty: where its key is of the same content it is kept, since a
    /// file that has this key now has this content, whenever it was looked at. Of all other records only the content
    /// is known, so that they are read at the next look, and told only where they differ.
    #[must_use]
    pub fn of_contents<'a>(
        self,
        contents: impl Iterator<Item = (String, [u8; 32])>,
        unreadable: impl Iterator<Item = (&'a str, &'a str)>,
    ) -> Self {
        let mut entries = Entries::default();
        for (path, hash) in contents {
            let kept = self.entries.get(&path).map(|entry| entry.state);
            let is_of =
                |state: &State| matches!(state, State::Read { key, .. } if key.hash == hash);
            let state = kept.filter(is_of).unwrap_or_else(|| State::unseen(hash));
            if let Some(path) = RecordPath::new(&path) {
                entries.put(path, Entry { state, seen: 0 });
            }
        }
        for (path, why) in unreadable {
            let state = State::Unreadable { why: why.into() };
            if let Some(path) = RecordPath::new(path) {
                entries.put(path, Entry { state, seen: 0 });
            }
        }
        Self { entries, scan: 0, edits: self.edits + 1, ..self }
    }

    /// Forgets what is known of a record but for its being there: the next look at it reads it and tells it, also
    /// where it is as it was.
    pub fn forget(&mut self, path: &str) {
        if let Some(entry) = self.entries.get(path)
            && let Some(path) = RecordPath::new(path)
        {
            self.entries.put(path, Entry { state: State::unseen([0; 32]), ..entry });
            self.edits += 1;
        }
    }

    /// The records that were found emptied a moment ago and keep their last good version for the time being.
    ///
    /// Most programs that save by emptying a file fill it in the next moment.
    /// Whoever needs to know what is there now looks at them again, at the latest at [`Self::emptied_until`].
    pub fn emptied(&self) -> impl Iterator<Item = &RecordPath> {
        self.emptied.keys()
    }

    /// When the first of [`Self::emptied`] is believed to be empty.
    pub fn emptied_until(&self) -> Option<Instant> {
        self.emptied.values().min().copied()
    }

    /// The records whose file has another name as well, by a hard link.
    ///
    /// What is written through that name has no event here, so whoever needs to know what is there now looks at them
    /// again. A name that a file gets outside of the shop folder has no event either: such a record is among these
    /// from the next full scan on.
    pub fn linked(&self) -> impl Iterator<Item = &RecordPath> {
        self.linked.iter()
    }

    /// Puts what is known of a path now and gives what was known before.
    pub(crate) fn put(&mut self, path: &RecordPath, state: State) -> Option<State> {
        let before = self.entries.get(path.as_str()).map(|entry| entry.state);
        if before.as_ref() == Some(&state) {
            self.entries.see(path.as_str(), self.scan);
        } else {
            self.edits += 1;
            self.entries.put(path.clone(), Entry { state, seen: self.scan });
        }
        before
    }

    /// Says of each of these files, which are in order, whether it is a record that is known under its stat beyond
    /// doubt; it then counts as seen.
    pub(crate) fn stand(&mut self, files: &[(PathBuf, io::Result<Metadata>)]) -> Vec<bool> {
        let files = files.iter().map(|(path, metadata)| path.to_str().zip(metadata.as_ref().ok()));
        self.entries.stand(files, self.scan)
    }

    pub(crate) fn remove(&mut self, path: &RecordPath) {
        self.edits += 1;
        self.entries.remove(path);
        self.emptied.remove(path);
        self.linked.remove(path);
    }

    /// What is at a path and below it and the current scan did not come past.
    pub(crate) fn unseen_below(&self, path: &str) -> Vec<RecordPath> {
        let is_unseen = |known: &Known| known.seen() != self.scan;
        let path_of = |known: Known| RecordPath::new(known.path());
        if path.is_empty() {
            return self.entries.iter().filter(is_unseen).filter_map(path_of).collect();
        }
        let itself = self.entries.get(path).filter(|entry| entry.seen != self.scan);
        let itself = itself.and_then(|_| RecordPath::new(path));
        let below = self.entries.below(path).filter(is_unseen).filter_map(path_of);
        itself.into_iter().chain(below).collect()
    }
}

impl Entry {
    /// Whether it is of a regular file that looks like this, beyond doubt; it then counts as seen by this scan.
    pub(crate) fn stands(&mut self, metadata: &Metadata, scan: u32) -> bool {
        let stands = metadata.is_file()
            && matches!(&self.state, State::Read { key, fresh: false } if key.stat() == Stat::new(metadata));
        if stands {
            self.seen = scan;
        }
        stands
    }
}

impl State {
    fn key(&self) -> Option<Key> {
        match self {
            Self::Read { key, .. } => Some(*key),
            Self::Unreadable { .. } => None,
        }
    }

    /// A record of this content whose file was not looked at.
    fn unseen(hash: [u8; 32]) -> Self {
        let key = Key { device: 0, inode: 0, size: 0, mtime_ns: 0, ctime_ns: 0, hash };
        Self::Read { key, fresh: true }
    }
}

impl Key {
    pub(crate) fn stat(&self) -> Stat {
        let &Self { device, inode, size, mtime_ns, ctime_ns, .. } = self;
        Stat { device, inode, size, mtime_ns, ctime_ns }
    }
}

impl Stat {
    pub(crate) fn new(metadata: &Metadata) -> Self {
        let ns = |s: i64, ns: i64| s.saturating_mul(1_000_000_000).saturating_add(ns);
        Self {
            device: metadata.dev(),
            inode: metadata.ino(),
            size: metadata.size(),
            mtime_ns: ns(metadata.mtime(), metadata.mtime_nsec()),
            ctime_ns: ns(metadata.ctime(), metadata.ctime_nsec()),
        }
    }

    /// How long ago the content was modified; nothing where that is more than `at_most` off, or lies ahead.
    pub(crate) fn age(&self, now: SystemTime, at_most: Duration) -> Option<Duration> {
        let at = Duration::from_nanos(u64::try_from(self.mtime_ns).ok()?);
        let age = now.duration_since(UNIX_EPOCH + at).ok()?;
        (age < at_most).then_some(age)
    }

    pub(crate) fn with_hash(self, hash: [u8; 32]) -> Key {
        let Self { device, inode, size, mtime_ns, ctime_ns } = self;
        Key { device, inode, size, mtime_ns, ctime_ns, hash }
    }

    /// Whether a further change could still be given the same times as this one.
    ///
    /// File systems round times, the coarsest in use (FAT) to 2 s. A time after `now` is fresh
    /// as well: the clock was set back, and will come past that time once more.
    pub(crate) fn is_fresh(&self, now: SystemTime) -> bool {
        const COARSEST_NS: i64 = 2_000_000_000;
        let now = now.duration_since(UNIX_EPOCH).map_or(0, |since| since.as_nanos());
        let now = i64::try_from(now).unwrap_or(i64::MAX);
        now.saturating_sub(COARSEST_NS) <= self.mtime_ns.max(self.ctime_ns)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stat_is_fresh_until_two_seconds_have_passed() {
        let at = |s: u64| UNIX_EPOCH + Duration::from_secs(s);
        let stat = |mtime_s: i64, ctime_s: i64| Stat {
            device: 1,
            inode: 2,
            size: 3,
            mtime_ns: mtime_s * 1_000_000_000,
            ctime_ns: ctime_s * 1_000_000_000,
        };
        assert!(stat(100, 100).is_fresh(at(100)));
        assert!(stat(100, 100).is_fresh(at(102)));
        assert!(!stat(100, 100).is_fresh(at(103)));
        // The time of the content was set back, which the other time gives away.
        assert!(stat(5, 100).is_fresh(at(101)));
        // The clock was set back a day.
        assert!(stat(86_500, 86_500).is_fresh(at(100)));
    }

    #[test]
    fn what_is_below_a_folder_leaves_out_its_neighbours() {
        let mut manifest = Manifest::default();
        for path in ["a.md", "a/b.md", "a/c/d.md", "a-b.md", "a0.md", "b.md"] {
            let state = State::Unreadable { why: "test".into() };
            let path = RecordPath::new(path).unwrap();
            manifest.entries.put(path, Entry { state, seen: 1 });
        }
        let below = |manifest: &Manifest, path| -> Vec<String> {
            manifest.unseen_below(path).iter().map(ToString::to_string).collect()
        };
        assert_eq!(below(&manifest, "a"), ["a/b.md", "a/c/d.md"]);
        assert_eq!(below(&manifest, "a.md"), ["a.md"]);
        assert_eq!(below(&manifest, "").len(), 6);
        manifest.scan = 1;
        assert_eq!(below(&manifest, "").len(), 0);
    }

    #[test]
    fn what_stands_is_found_in_the_order_of_the_names_also_around_folders() {
        let home = tempfile::tempdir().unwrap();
        let mut manifest = Manifest { scan: 7, ..Manifest::default() };
        let mut expected = Vec::new();
        let mut files = Vec::new();
        // Between `b.md` and `d.md` stand more entries of a folder than are passed over one by one.
        let below = (0..20).map(|n| format!("c/{n:02}.md"));
        for path in ["a.md", "b.md", "d.md", "e.md"].into_iter().map(str::to_owned).chain(below) {
            std::fs::write(home.path().join("file"), &path).unwrap();
            let metadata = home.path().join("file").metadata().unwrap();
            let (key, is_at_top) = (Stat::new(&metadata).with_hash([0; 32]), !path.contains('/'));
            let fresh = path == "e.md";
            let entry = Entry { state: State::Read { key, fresh }, seen: 1 };
            manifest.entries.put(RecordPath::new(&path).unwrap(), entry);
            if is_at_top {
                expected.push(!fresh);
                files.push((PathBuf::from(path), Ok(metadata)));
            }
        }
        let missing = || Err(io::Error::from(io::ErrorKind::NotFound));
        files.insert(2, (PathBuf::from("b0.md"), missing()));
        expected.insert(2, false);
        let other = home.path().metadata().unwrap();
        files.push((PathBuf::from("f.md"), Ok(other)));
        expected.push(false);
        let mut packed = manifest.clone();
        packed.entries.pack("");
        for mut manifest in [manifest, packed] {
            assert_eq!(manifest.stand(&files), expected);
            let seen = |path: &str| manifest.entries.get(path).map(|entry| entry.seen);
            assert_eq!(["a.md", "d.md", "e.md", "c/03.md"].map(seen), [7, 7, 1, 1].map(Some));
        }
    }
}
