//! Changing one file of the shop folder without ever losing what somebody else wrote there.
//!
//! What is written is decided by the caller; where in the text it goes is the record crate's.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{MetadataExt, OpenOptionsExt, fchown};
use std::path::{Path, PathBuf};

use crate::EditFailure;

/// A file as it was read, to be replaced as a whole or not at all.
#[derive(Debug)]
pub(crate) struct Opened {
    /// Where it is, behind all links.
    path: PathBuf,
    /// As the builder named it.
    shown: String,
    bytes: Vec<u8>,
    metadata: Metadata,
}

/// Reads a file that is to be replaced.
///
/// # Errors
/// When it can't be read, is read-only, is no file, or a link leads out of the folder.
pub(crate) fn open(folder: &Path, relative: &str) -> Result<Opened, EditFailure> {
    let failed =
        |error: io::Error| EditFailure::new(format!("`{relative}` could not be read: {error}"));
    let root = fs::canonicalize(folder).map_err(failed)?;
    let path = fs::canonicalize(folder.join(relative)).map_err(failed)?;
    if !path.starts_with(&root) {
        return Err(EditFailure::new(format!(
            "`{relative}` is a link that leads out of the shop folder"
        )));
    }
    let metadata = fs::metadata(&path).map_err(failed)?;
    if !metadata.is_file() {
        return Err(EditFailure::new(format!("`{relative}` is not a file")));
    }
    // A rename asks the directory and not the file: what the builder locked stays locked.
    if metadata.permissions().readonly() {
        return Err(EditFailure::new(format!("`{relative}` is read-only"))
            .hint("make it writable and try again"));
    }
    let bytes = fs::read(&path).map_err(failed)?;
    Ok(Opened { path, shown: relative.to_owned(), bytes, metadata })
}

impl Opened {
    /// Gives the text.
    ///
    /// # Errors
    /// When it is not UTF-8.
    pub(crate) fn text(&self) -> Result<&str, EditFailure> {
        std::str::from_utf8(&self.bytes).map_err(|error| {
            let place = error.valid_up_to();
            EditFailure::new(format!(
                "`{}` is not UTF-8 at byte {place}: save it as UTF-8",
                self.shown
            ))
        })
    }

    /// Replaces the whole file and reads it back.
    ///
    /// The new text is written beside the old one, synced and renamed over it, with its permissions and its owner.
    /// Hard links to the old text keep the old text, and extended attributes are not carried over.
    ///
    /// # Errors
    /// When the file changed since it was read, or can't be written; the file is then as it was.
    pub(crate) fn replace(&self, text: &str) -> Result<(), EditFailure> {
        let beside = self.beside();
        let result = self.write_beside(&beside, text).and_then(|()| self.put(&beside));
        if result.is_err() {
            // The first error is the one that matters; a left-over is hidden and never read.
            let _ = fs::remove_file(&beside);
        }
        result?;
        match fs::read(&self.path) {
            Ok(bytes) if bytes == text.as_bytes() => Ok(()),
            Ok(_) => {
                Err(self
                    .failed("was changed by somebody else right after it was written: look at it"))
            }
            Err(error) => Err(self.failed(&format!("could not be read back: {error}"))),
        }
    }

    /// A hidden name in the same directory, which the daemon passes over.
    fn beside(&self) -> PathBuf {
        let name = self.path.file_name().unwrap_or_default().to_string_lossy();
        self.path.with_file_name(format!(".{name}.{}.tmp", std::process::id()))
    }

    fn write_beside(&self, beside: &Path, text: &str) -> Result<(), EditFailure> {
        let failed = |error: io::Error| self.failed(&format!("could not be written: {error}"));
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(beside)
            .map_err(failed)?;
        file.write_all(text.as_bytes()).map_err(failed)?;
        self.give_owner(&file)?;
        file.set_permissions(self.metadata.permissions()).map_err(failed)?;
        file.sync_all().map_err(failed)
    }

    fn give_owner(&self, file: &File) -> Result<(), EditFailure> {
        let made = file
            .metadata()
            .map_err(|error| self.failed(&format!("could not be written: {error}")))?;
        let (uid, gid) = (self.metadata.uid(), self.metadata.gid());
        if made.uid() == uid && made.gid() == gid {
            return Ok(());
        }
        fchown(file, Some(uid), Some(gid)).map_err(|_| {
            self.failed("belongs to somebody else, and writing it would make it yours")
                .hint("log it as its owner")
        })
    }

    /// Renames the new file over the old one, if that is still the one that was read.
    fn put(&self, beside: &Path) -> Result<(), EditFailure> {
        let key = |m: &Metadata| {
            (m.dev(), m.ino(), m.size(), m.mtime(), m.mtime_nsec(), m.ctime(), m.ctime_nsec())
        };
        let is_same = fs::metadata(&self.path).is_ok_and(|now| key(&now) == key(&self.metadata))
            && fs::read(&self.path).is_ok_and(|bytes| bytes == self.bytes);
        if !is_same {
            let failure =
                self.failed("was changed by somebody else meanwhile, and nothing was written");
            return Err(failure.hint("look at it, then try again"));
        }
        fs::rename(beside, &self.path)
            .map_err(|error| self.failed(&format!("could not be written: {error}")))?;
        // The rename itself must outlast a power cut; a file system that can't sync a directory has done its best.
        if let Some(directory) = self.path.parent() {
            let _ = File::open(directory).and_then(|directory| directory.sync_all());
        }
        Ok(())
    }

    fn failed(&self, why: &str) -> EditFailure {
        EditFailure::new(format!("`{}` {why}", self.shown))
    }
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    fn folder(text: &str) -> tempfile::TempDir {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::create_dir(folder.path().join("builds")).expect("a directory");
        fs::write(folder.path().join("builds/ilse.md"), text).expect("a file");
        folder
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder.join("builds")).expect("a directory");
        entries
            .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect()
    }

    #[track_caller]
    fn refused<T: std::fmt::Debug>(result: Result<T, EditFailure>, part: &str) {
        let printed = result.unwrap_err().to_string();
        assert!(printed.contains(part), "{printed}");
    }

    #[test]
    fn a_file_is_replaced_as_a_whole_and_keeps_its_permissions() {
        let folder = folder("old");
        let path = folder.path().join("builds/ilse.md");
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("permissions");
        let opened = open(folder.path(), "builds/ilse.md").expect("it opens");
        assert_eq!(opened.text(), Ok("old"));
        opened.replace("new").expect("it is replaced");
        assert_eq!(fs::read_to_string(&path).expect("it reads"), "new");
        assert_eq!(fs::metadata(&path).expect("metadata").permissions().mode() & 0o777, 0o640);
        assert_eq!(names(folder.path()), ["ilse.md"]);
    }

    #[test]
    fn a_file_that_changed_underneath_is_left_alone() {
        let folder = folder("old");
        let path = folder.path().join("builds/ilse.md");
        let opened = open(folder.path(), "builds/ilse.md").expect("it opens");
        fs::write(&path, "theirs").expect("a write");
        refused(opened.replace("new"), "was changed by somebody else meanwhile");
        assert_eq!(fs::read_to_string(&path).expect("it reads"), "theirs");
        assert_eq!(names(folder.path()), ["ilse.md"]);
    }

    #[test]
    fn the_same_bytes_in_another_file_are_a_change_too() {
        let folder = folder("old");
        let path = folder.path().join("builds/ilse.md");
        let opened = open(folder.path(), "builds/ilse.md").expect("it opens");
        fs::write(folder.path().join("builds/other"), "old").expect("a write");
        fs::rename(folder.path().join("builds/other"), &path).expect("a rename");
        refused(opened.replace("new"), "was changed by somebody else meanwhile");
        assert_eq!(fs::read_to_string(&path).expect("it reads"), "old");
    }

    #[test]
    fn a_file_that_is_gone_is_not_made_again() {
        let folder = folder("old");
        let opened = open(folder.path(), "builds/ilse.md").expect("it opens");
        fs::remove_file(folder.path().join("builds/ilse.md")).expect("a removal");
        refused(opened.replace("new"), "was changed by somebody else meanwhile");
        assert!(names(folder.path()).is_empty());
    }

    #[test]
    fn a_link_stays_a_link_and_one_that_leads_out_is_refused() {
        let folder = folder("old");
        symlink("ilse.md", folder.path().join("builds/link.md")).expect("a link");
        open(folder.path(), "builds/link.md")
            .expect("it opens")
            .replace("new")
            .expect("it is replaced");
        assert!(folder.path().join("builds/link.md").is_symlink());
        assert_eq!(
            fs::read_to_string(folder.path().join("builds/ilse.md")).expect("it reads"),
            "new"
        );

        let outside = tempfile::NamedTempFile::new().expect("a file");
        symlink(outside.path(), folder.path().join("builds/out.md")).expect("a link");
        refused(open(folder.path(), "builds/out.md"), "leads out of the shop folder");
    }

    #[test]
    fn what_is_locked_or_no_text_is_refused() {
        let folder = folder("old");
        let path = folder.path().join("builds/ilse.md");
        fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).expect("permissions");
        refused(open(folder.path(), "builds/ilse.md"), "is read-only");
        refused(open(folder.path(), "builds"), "is not a file");
        refused(open(folder.path(), "builds/none.md"), "could not be read");
        fs::write(folder.path().join("builds/latin.md"), b"ab\xe9").expect("a write");
        let opened = open(folder.path(), "builds/latin.md").expect("it opens");
        refused(opened.text(), "is not UTF-8 at byte 2");
    }
}
