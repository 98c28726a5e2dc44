//! Compares the disk with a manifest and tells what changed.
//!
//! One function serves events, scans and clients. It is idempotent: what it is told is only
//! where to look, so looking twice, or at too much, costs time and nothing else.
//!
//! Symbolic links are not followed, neither to files nor to folders. A link that bears a
//! record's name or leads to a folder is reported as unreadable. So no record is there twice,
//! nothing outside the shop folder is read, and a link that leads back up is harmless.

use std::fs::{FileType, Metadata};
use std::io;
use std::path::{Path, PathBuf};

use crate::manifest::{Entry, Stat, State};
use crate::path::{is_entered, is_hidden, is_record_name, is_visible, under};
use crate::read::{LINK, NOT_A_FILE, NOT_UTF8, Reading, read, too_large, why_unreadable};
use crate::{Change, Dirty, Folder, FolderError, LARGEST_RECORD, Manifest, RecordPath, is_record};

impl Folder {
    /// Looks where `dirty` says and gives `on_change` what differs from the manifest, which is
    /// brought up to date.
    ///
    /// A file is read only when its device, inode, size or times differ from its key, or when
    /// it had only just been changed when it was read last.
    /// One file is in memory at a time, and none larger than [`LARGEST_RECORD`].
    /// Marks that leave the folder or lead into something hidden are passed over.
    ///
    /// Of a record that was renamed, the new path is told as written before the old one is told
    /// as removed, when both were marked.
    ///
    /// # Errors
    /// When the shop folder itself is not there or can't be listed. Nothing is called removed
    /// then: a folder that is gone, such as a disk that is not plugged in, is not an empty one.
    pub fn reconcile(
        &self,
        manifest: &mut Manifest,
        dirty: &Dirty,
        on_change: impl FnMut(Change),
    ) -> Result<(), FolderError> {
        self.identity()?;
        let mut look = Look { folder: self, manifest, on_change };
        let paths = match dirty {
            Dirty::Everything => return look.tree(Path::new("")),
            Dirty::Paths(paths) => paths,
        };
        // The paths are sorted, so a folder comes before what is below it.
        let mut done: Option<&Path> = None;
        for path in paths.iter().filter(|path| is_visible(path)) {
            if done.is_some_and(|done| path.starts_with(done)) {
                continue;
            }
            if look.path(path)? == Looked::AtTree {
                done = Some(path);
            }
        }
        Ok(())
    }
}

/// One run of a reconcile.
struct Look<'a, F> {
    folder: &'a Folder,
    manifest: &'a mut Manifest,
    on_change: F,
}

#[derive(PartialEq, Eq)]
enum Looked {
    AtFile,
    AtTree,
}

impl<F: FnMut(Change)> Look<'_, F> {
    /// Looks at one path, whatever is there now.
    fn path(&mut self, relative: &Path) -> Result<Looked, FolderError> {
        // Where a scan would not get as far as the path, the answer must be that of a scan.
        if let Some(parent) = self.blocked_at(relative) {
            self.path_itself(parent)?;
            return Ok(Looked::AtFile);
        }
        self.path_itself(relative)
    }

    /// The first folder on the way to a path that a scan would not enter, or could not list.
    fn blocked_at<'p>(&self, relative: &'p Path) -> Option<&'p Path> {
        let mut parents: Vec<&Path> = relative.ancestors().skip(1).collect();
        parents.pop();
        parents.into_iter().rev().find(|parent| {
            let Some(text) = parent.to_str() else { return true };
            let metadata = self.folder.root().join(parent).symlink_metadata();
            !metadata.is_ok_and(|metadata| metadata.is_dir()) || self.is_unreadable(text)
        })
    }

    fn is_unreadable(&self, path: &str) -> bool {
        let entry = self.manifest.entries.get(path);
        entry.is_some_and(|entry| matches!(entry.state, State::Unreadable { .. }))
    }

    fn path_itself(&mut self, relative: &Path) -> Result<Looked, FolderError> {
        let metadata = self.lstat(relative);
        let is_root = relative.as_os_str().is_empty();
        if is_root || relative.to_str().is_some() && metadata.as_ref().is_ok_and(Metadata::is_dir) {
            self.tree(relative)?;
            return Ok(Looked::AtTree);
        }
        self.begin();
        self.file(relative, metadata);
        self.sweep(relative);
        Ok(Looked::AtFile)
    }

    /// Scans a folder with all that is below it.
    fn tree(&mut self, top: &Path) -> Result<(), FolderError> {
        loop {
            self.begin();
            let identity = self.folder.identity()?;
            let mut folders = vec![top.to_path_buf()];
            while let Some(relative) = folders.pop() {
                if let Err(error) = self.list(&relative, &mut folders) {
                    self.folder_failed(&relative, error)?;
                }
            }
            // Nothing may be called removed because the root went away in the middle of a scan.
            if self.folder.identity()? == identity {
                self.sweep(top);
                return Ok(());
            }
        }
    }

    /// Begins a pass after which all that it did not come past is gone.
    fn begin(&mut self) {
        self.manifest.scan = self.manifest.scan.wrapping_add(1);
    }

    /// Looks at what is in one folder and adds the folders in it to those to scan.
    fn list(&mut self, relative: &Path, folders: &mut Vec<PathBuf>) -> io::Result<()> {
        for entry in std::fs::read_dir(under(self.folder.root(), relative))? {
            let entry = entry?;
            let name = entry.file_name();
            if is_hidden(&name) {
                continue;
            }
            let path = relative.join(&name);
            let is = |kind: fn(&FileType) -> bool| entry.file_type().is_ok_and(|it| kind(&it));
            let is_record = is_record_name(&name, relative.as_os_str().is_empty());
            if is(FileType::is_dir) && is_entered(&name) {
                folders.push(path);
            } else if is(FileType::is_dir) || is(FileType::is_symlink) || is_record {
                let metadata = entry.metadata();
                // Most records of a large folder end here, so this comes before all else.
                let is_known = metadata.as_ref().is_ok_and(|metadata| {
                    metadata.is_file() && self.is_unchanged(&path, &Stat::new(metadata))
                });
                if !is_known {
                    self.file(&path, metadata);
                }
            }
        }
        Ok(())
    }

    fn folder_failed(&mut self, relative: &Path, source: io::Error) -> Result<(), FolderError> {
        if relative.as_os_str().is_empty() {
            let path = self.folder.root().to_path_buf();
            return Err(FolderError::Unreadable { path, source });
        }
        // A folder that went away is left to the sweep.
        if let Some(why) = why_unreadable(&source) {
            self.unreadable(relative, why);
        }
        Ok(())
    }

    /// Looks at what is not a folder that is entered.
    fn file(&mut self, relative: &Path, metadata: io::Result<Metadata>) {
        match metadata {
            Ok(metadata) => match self.verdict(relative, metadata.file_type()) {
                Verdict::Ignore => {}
                Verdict::Refuse(why) => self.unreadable(relative, why.to_owned()),
                Verdict::Read => self.record(relative, &metadata),
            },
            Err(error) => {
                if let Some(why) = why_unreadable(&error).filter(|_| is_record(relative)) {
                    self.unreadable(relative, why);
                }
            }
        }
    }

    fn verdict(&self, relative: &Path, file_type: FileType) -> Verdict {
        let is_record = is_record(relative);
        if relative.to_str().is_none() {
            let counts = is_record || file_type.is_dir();
            return if counts { Verdict::Refuse(NOT_UTF8) } else { Verdict::Ignore };
        }
        if file_type.is_symlink() {
            let counts = is_record || self.folder.root().join(relative).is_dir();
            return if counts { Verdict::Refuse(LINK) } else { Verdict::Ignore };
        }
        match (is_record, file_type.is_file()) {
            (false, _) => Verdict::Ignore,
            (true, false) => Verdict::Refuse(NOT_A_FILE),
            (true, true) => Verdict::Read,
        }
    }

    /// Compares a regular file that bears a record's name with its key.
    fn record(&mut self, relative: &Path, metadata: &Metadata) {
        let stat = Stat::new(metadata);
        if self.is_unchanged(relative, &stat) {
            return;
        }
        let Some(path) = RecordPath::new(relative) else { return };
        let known_hash = self.manifest.key(path.as_str()).map(|key| key.hash);
        if LARGEST_RECORD < stat.size {
            return self.unreadable(relative, too_large(stat.size));
        }
        match read(&self.folder.root().join(relative)) {
            Reading::Gone => {}
            Reading::Unreadable(why) => self.unreadable(relative, why),
            Reading::Read { stat, fresh, bytes } => {
                let hash = *blake3::hash(&bytes).as_bytes();
                let key = stat.with_hash(hash);
                let entry = Entry { state: State::Read { key, fresh }, seen: self.manifest.scan };
                self.manifest.entries.insert(path.clone(), entry);
                if known_hash != Some(hash) {
                    let conflict_copy = path.is_conflict_copy();
                    (self.on_change)(Change::Written { path, key, bytes, conflict_copy });
                }
            }
        }
    }

    /// Whether a record is known under this stat beyond doubt; it then counts as seen.
    fn is_unchanged(&mut self, relative: &Path, stat: &Stat) -> bool {
        let seen = self.manifest.scan;
        let entry = relative.to_str().and_then(|text| self.manifest.entries.get_mut(text));
        entry.is_some_and(|entry| match &entry.state {
            State::Read { key, fresh: false } if key.stat() == *stat => {
                entry.seen = seen;
                true
            }
            _ => false,
        })
    }

    fn unreadable(&mut self, relative: &Path, why: String) {
        let path = RecordPath::new(relative).unwrap_or_else(|| RecordPath::stand_in(relative));
        let state = State::Unreadable { why: why.as_str().into() };
        let entry = Entry { state: state.clone(), seen: self.manifest.scan };
        let before = self.manifest.entries.insert(path.clone(), entry);
        if before.is_none_or(|before| before.state != state) {
            (self.on_change)(Change::Unreadable { path, why });
        }
    }

    /// Takes out what is at a path or below it and this pass did not come past.
    fn sweep(&mut self, relative: &Path) {
        let text = match relative.to_str() {
            Some(text) => text.to_owned(),
            None => RecordPath::stand_in(relative).to_string(),
        };
        for path in self.manifest.unseen_below(&text) {
            // A file that is renamed while its folder is listed may be missed by the listing,
            // so each one gets a second look.
            let metadata = self.lstat(path.as_path());
            if metadata.as_ref().is_ok_and(Metadata::is_file)
                && self.blocked_at(path.as_path()).is_none()
            {
                self.file(path.as_path(), metadata);
            }
            let scan = self.manifest.scan;
            if self.manifest.entries.get(&path).is_some_and(|entry| entry.seen != scan) {
                self.manifest.entries.remove(&path);
                (self.on_change)(Change::Removed { path });
            }
        }
    }

    fn lstat(&self, relative: &Path) -> io::Result<Metadata> {
        under(self.folder.root(), relative).symlink_metadata()
    }
}

/// Whether a file counts, by its name and kind.
enum Verdict {
    Read,
    Refuse(&'static str),
    Ignore,
}

#[cfg(test)]
mod tests {
    use std::fs::{self, File};
    use std::time::{Duration, UNIX_EPOCH};

    use super::*;

    /// Scans a folder with the record `a.md`, changes the manifest and then the disk, and gives
    /// the number of changes that a second scan finds.
    #[track_caller]
    fn check(
        change_state: impl Fn(&mut State),
        change_disk: impl Fn(&Path),
        expected_n_changes: usize,
    ) {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("a.md");
        fs::write(&path, "cut 1 in").unwrap();
        set_mtime(&path);
        let folder = Folder::open(home.path()).unwrap();
        let (mut manifest, mut n_changes) = (Manifest::default(), 0);
        folder.reconcile(&mut manifest, &Dirty::Everything, |_| {}).unwrap();
        change_state(&mut manifest.entries.get_mut("a.md").unwrap().state);
        change_disk(&path);
        folder.reconcile(&mut manifest, &Dirty::Everything, |_| n_changes += 1).unwrap();
        assert_eq!(n_changes, expected_n_changes);
    }

    fn set_mtime(path: &Path) {
        File::open(path).unwrap().set_modified(UNIX_EPOCH + Duration::from_secs(1)).unwrap();
    }

    /// As if the record had been read long after it was written.
    fn rested(state: &mut State) {
        let State::Read { fresh, .. } = state else { panic!("{state:?}") };
        assert!(*fresh, "it was written a moment ago");
        *fresh = false;
    }

    fn with_another_hash(state: &mut State) {
        let State::Read { key, .. } = state else { panic!("{state:?}") };
        key.hash[0] ^= 1;
    }

    #[test]
    fn a_key_that_rested_is_trusted_and_a_fresh_one_is_not() {
        let both = |state: &mut State| {
            rested(state);
            with_another_hash(state);
        };
        check(both, |_| {}, 0);
        check(with_another_hash, |_| {}, 1);
    }

    #[test]
    fn the_same_size_with_the_time_set_back_differs_in_its_key() {
        let written_in_place = |path: &Path| {
            fs::write(path, "cut 2 in").unwrap();
            set_mtime(path);
        };
        check(rested, written_in_place, 1);
        let another_file = |path: &Path| {
            let other = path.with_extension("tmp");
            fs::write(&other, "cut 2 in").unwrap();
            set_mtime(&other);
            fs::rename(&other, path).unwrap();
        };
        check(rested, another_file, 1);
    }
}
