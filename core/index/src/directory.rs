//! A directory of index files that are not forced to the disk.
//!
//! The index is derived from the shop folder and can be made again, so a save need not wait for the disk.
//! The price: after a power failure files may be cut short; [`crate::Index::verify`] finds that out.
//! All but writing is left to tantivy's own memory-mapped directory.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tantivy::directory::error::{
    DeleteError, LockError, OpenDirectoryError, OpenReadError, OpenWriteError,
};
use tantivy::directory::{
    AntiCallToken, Directory, DirectoryLock, FileHandle, Lock, MmapDirectory, TerminatingWrite,
    WatchCallback, WatchHandle, WritePtr,
};

/// A memory-mapped directory without fsync.
#[derive(Debug, Clone)]
pub(crate) struct UnsyncedDirectory {
    mapped: MmapDirectory,
    root: PathBuf,
}

impl UnsyncedDirectory {
    /// Opens a directory that exists.
    pub(crate) fn open(root: &Path) -> Result<Self, OpenDirectoryError> {
        Ok(Self { mapped: MmapDirectory::open(root)?, root: root.to_owned() })
    }
}

impl Directory for UnsyncedDirectory {
    fn get_file_handle(&self, path: &Path) -> Result<Arc<dyn FileHandle>, OpenReadError> {
        self.mapped.get_file_handle(path)
    }

    fn delete(&self, path: &Path) -> Result<(), DeleteError> {
        self.mapped.delete(path)
    }

    fn exists(&self, path: &Path) -> Result<bool, OpenReadError> {
        self.mapped.exists(path)
    }

    fn open_write(&self, path: &Path) -> Result<WritePtr, OpenWriteError> {
        match OpenOptions::new().write(true).create_new(true).open(self.root.join(path)) {
            Ok(file) => Ok(BufWriter::new(Box::new(UnsyncedFile(file)))),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                Err(OpenWriteError::FileAlreadyExists(path.to_owned()))
            }
            Err(error) => Err(OpenWriteError::wrap_io_error(error, path.to_owned())),
        }
    }

    fn atomic_read(&self, path: &Path) -> Result<Vec<u8>, OpenReadError> {
        self.mapped.atomic_read(path)
    }

    fn atomic_write(&self, path: &Path, data: &[u8]) -> io::Result<()> {
        let path = self.root.join(path);
        let mut fresh = path.clone().into_os_string();
        fresh.push(FRESH);
        fs::write(&fresh, data)?;
        fs::rename(&fresh, &path)
    }

    fn sync_directory(&self) -> io::Result<()> {
        Ok(())
    }

    fn acquire_lock(&self, lock: &Lock) -> Result<DirectoryLock, LockError> {
        self.mapped.acquire_lock(lock)
    }

    fn watch(&self, _callback: WatchCallback) -> tantivy::Result<WatchHandle> {
        // Nobody waits for changes here: the one who commits also reloads.
        Ok(WatchHandle::empty())
    }
}

/// What the name of a file ends with while it is written in full, before it takes the place of the old one.
const FRESH: &str = ".fresh";

struct UnsyncedFile(File);

impl Write for UnsyncedFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl TerminatingWrite for UnsyncedFile {
    fn terminate_ref(&mut self, _: AntiCallToken) -> io::Result<()> {
        self.0.flush()
    }
}

/// Makes the directory when it is missing, and deletes the files of an index that are in it; other files stay.
pub(crate) fn clear(root: &Path) -> io::Result<()> {
    fs::create_dir_all(root)?;
    for entry in fs::read_dir(root)? {
        let entry = entry?;
        if entry.file_name().to_str().is_some_and(is_index_file) {
            fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

/// Knows the names that tantivy gives to its files: a few fixed ones, and 32 hexadecimal digits with an ending.
fn is_index_file(name: &str) -> bool {
    let name = name.strip_suffix(FRESH).unwrap_or(name);
    let is_segment = name.split_once('.').is_some_and(|(stem, ending)| {
        stem.len() == 32 && stem.bytes().all(|byte| byte.is_ascii_hexdigit()) && !ending.is_empty()
    });
    is_segment
        || matches!(
            name,
            "meta.json" | ".managed.json" | ".tantivy-writer.lock" | ".tantivy-meta.lock"
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_index_files_are_cleared() {
        let dir = tempfile::tempdir().unwrap();
        let segment = "0123456789abcdef0123456789ABCDEF.store";
        let kept = ["notes.md", "0123.store", "meta.json.md", "0123456789abcdef0123456789abcdef"];
        for name in
            kept.into_iter().chain([segment, "meta.json", ".managed.json", "meta.json.fresh"])
        {
            fs::write(dir.path().join(name), "x").unwrap();
        }
        clear(dir.path()).unwrap();
        let mut left: Vec<String> = fs::read_dir(dir.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        left.sort_unstable();
        let mut kept = kept.map(str::to_owned);
        kept.sort_unstable();
        assert_eq!(left, kept);
        clear(&dir.path().join("a/b")).unwrap();
        assert!(dir.path().join("a/b").is_dir());
    }
}
