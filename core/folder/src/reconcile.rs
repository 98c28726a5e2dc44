//! Compares the disk with a manifest and tells what changed.
//!
//! One function serves events, scans and clients. It is idempotent: what it is told is only
//! where to look, so looking twice, or at too much, costs time and nothing else.
//!
//! A record that was emptied within the last two seconds keeps its last good version: most
//! programs that save by emptying a file fill it in the next moment, and an empty record is a
//! build without its limits. Of half-written files only the empty one can be told from its look:
//! one that was closed half-way counts as saved, and another save follows if it was not.
//!
//! A folder with a `shop.yaml` inside a shop folder is a shop of its own: what its records say is
//! read beside its own boards and saws, so it is reported and not entered.
//!
//! Symbolic links are not followed, neither to files nor to folders. A link that bears a
//! record's name or leads to a folder is reported as unreadable. So no record is there twice,
//! nothing outside the shop folder is read, and a link that leads back up is harmless.

use std::fs::{FileType, Metadata};
use std::io;
use std::os::unix::fs::MetadataExt as _;
use std::path::Path;
use std::time::{Instant, SystemTime};

use crate::manifest::{Stat, State};
use crate::path::{has_two_endings, is_visible, under};
use crate::read::{
    LINK, NESTED, NOT_A_FILE, NOT_UTF8, Reading, TWO_ENDINGS, read, too_large, why_unreadable,
};
use crate::scout::{self, Found, Ways};
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
        self.reconcile_while(manifest, dirty, || true, on_change).map(|_| ())
    }

    /// Does the same for as long as `goes_on` says so, and tells whether it came to the end.
    ///
    /// It is asked every few files. A look that is broken off has brought the manifest up to date
    /// with what it told and calls nothing removed that it did not come to; what it did not look
    /// at is still to be looked at.
    ///
    /// # Errors
    /// As [`Self::reconcile`].
    pub fn reconcile_while(
        &self,
        manifest: &mut Manifest,
        dirty: &Dirty,
        goes_on: impl FnMut() -> bool,
        on_change: impl FnMut(Change),
    ) -> Result<bool, FolderError> {
        self.identity()?;
        let mut look = Look {
            folder: self,
            manifest,
            on_change,
            goes_on,
            is_broken_off: false,
            n_seen: 0,
            has_new_link: false,
        };
        look.dirty(dirty)?;
        Ok(!look.is_broken_off)
    }
}

/// One run of a reconcile.
struct Look<'a, F, G> {
    folder: &'a Folder,
    manifest: &'a mut Manifest,
    on_change: F,
    goes_on: G,
    is_broken_off: bool,
    n_seen: usize,
    /// Whether a record was found to have another name that was not known to have one.
    has_new_link: bool,
}

#[derive(PartialEq, Eq)]
enum Looked {
    AtFile,
    AtTree,
}

/// After so many files it is asked whether the look goes on.
const BETWEEN: usize = 64;

impl<F: FnMut(Change), G: FnMut() -> bool> Look<'_, F, G> {
    fn dirty(&mut self, dirty: &Dirty) -> Result<(), FolderError> {
        let paths = match dirty {
            Dirty::Everything => return self.tree(Path::new("")),
            Dirty::Paths(paths) => paths,
        };
        // The paths are sorted, so a folder comes before what is below it.
        let mut done: Option<&Path> = None;
        for path in paths.iter().filter(|path| is_visible(path)) {
            if done.is_some_and(|done| path.starts_with(done)) {
                continue;
            }
            if self.is_over() {
                break;
            }
            if self.path(path)? == Looked::AtTree {
                done = Some(path);
            }
        }
        // The other name of a file may be of this folder too, and has no event by which it would be found.
        if self.has_new_link { self.tree(Path::new("")) } else { Ok(()) }
    }

    /// Whether the look is broken off; asked once for each file.
    fn is_over(&mut self) -> bool {
        self.n_seen += 1;
        if self.n_seen.is_multiple_of(BETWEEN) && !self.is_broken_off {
            self.is_broken_off = !(self.goes_on)();
        }
        self.is_broken_off
    }

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
            let ways = Ways::from(self.folder.root(), top);
            std::thread::scope(|scope| {
                for found in scout::ahead(scope, &ways) {
                    self.compare(found)?;
                    if self.is_broken_off {
                        break;
                    }
                }
                Ok(())
            })?;
            if self.is_broken_off {
                return Ok(());
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

    /// Compares what a scout found.
    fn compare(&mut self, found: Found) -> Result<(), FolderError> {
        let files = match found {
            Found::Files(files) => files,
            Found::Shop(folder) => {
                self.unreadable(&folder, NESTED.to_owned());
                return Ok(());
            }
            Found::Failed(folder, error) => return self.folder_failed(&folder, error),
        };
        // Most records of a large folder end here, so this comes before all else.
        let stands = self.manifest.stand(&files);
        for ((path, metadata), stands) in files.into_iter().zip(stands) {
            if self.is_over() {
                break;
            }
            match metadata {
                Ok(metadata) if stands => self.stands(&path, &metadata),
                metadata => self.file(&path, metadata),
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
            (true, _) if relative.file_name().is_some_and(has_two_endings) => {
                Verdict::Refuse(TWO_ENDINGS)
            }
            (true, false) => Verdict::Refuse(NOT_A_FILE),
            (true, true) => Verdict::Read,
        }
    }

    /// Compares a regular file that bears a record's name with its key.
    fn record(&mut self, relative: &Path, metadata: &Metadata) {
        if self.is_unchanged(relative, metadata) {
            return;
        }
        let stat = Stat::new(metadata);
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
                if bytes.is_empty() && self.keeps_last_version(&path, &stat, known_hash) {
                    return;
                }
                self.manifest.emptied.remove(&path);
                let key = stat.with_hash(hash);
                self.manifest.put(&path, State::Read { key, fresh });
                if known_hash != Some(hash) {
                    let conflict_copy = path.is_conflict_copy();
                    (self.on_change)(Change::Written { path, key, bytes, conflict_copy });
                }
            }
        }
    }

    /// Whether a record that is empty now is not believed to be yet; it then counts as seen.
    fn keeps_last_version(
        &mut self,
        path: &RecordPath,
        stat: &Stat,
        known_hash: Option<[u8; 32]>,
    ) -> bool {
        let patience = self.folder.emptied;
        let was_empty = known_hash.is_none_or(|hash| hash == *blake3::hash(b"").as_bytes());
        let age = stat.age(SystemTime::now(), patience).filter(|_| !was_empty);
        let Some(age) = age else { return false };
        let now = Instant::now();
        // The first look decides until when: a file that is emptied over and over is believed in the end.
        let until = *self.manifest.emptied.entry(path.clone()).or_insert(now + (patience - age));
        if until <= now {
            return false;
        }
        self.manifest.entries.see(path.as_str(), self.manifest.scan);
        true
    }

    /// Whether a record is known under this stat beyond doubt; it then counts as seen.
    fn is_unchanged(&mut self, relative: &Path, metadata: &Metadata) -> bool {
        let Some(text) = relative.to_str() else { return false };
        let scan = self.manifest.scan;
        let file = std::iter::once(Some((text, metadata)));
        if self.manifest.entries.stand(file, scan) == [true] {
            self.stands(relative, metadata);
            return true;
        }
        self.links(relative, metadata);
        false
    }

    /// Looks at a record that is as it was.
    fn stands(&mut self, relative: &Path, metadata: &Metadata) {
        self.links(relative, metadata);
        if let Some(text) = relative.to_str() {
            self.manifest.emptied.remove(text);
        }
    }

    /// Notes whether a record's file has another name.
    fn links(&mut self, relative: &Path, metadata: &Metadata) {
        if 1 < metadata.nlink() {
            let path = RecordPath::new(relative).filter(|_| is_record(relative));
            self.has_new_link |= path.is_some_and(|path| self.manifest.linked.insert(path));
        } else if let Some(text) = relative.to_str() {
            self.manifest.linked.remove(text);
        }
    }

    fn unreadable(&mut self, relative: &Path, why: String) {
        let path = RecordPath::new(relative).unwrap_or_else(|| RecordPath::stand_in(relative));
        let state = State::Unreadable { why: why.as_str().into() };
        let before = self.manifest.put(&path, state.clone());
        self.manifest.emptied.remove(&path);
        if before.is_none_or(|before| before != state) {
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
            if self.manifest.entries.get(path.as_str()).is_some_and(|entry| entry.seen != scan) {
                self.manifest.remove(&path);
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
