//! A directory of index files that are neither mapped into memory nor forced to the disk.
//!
//! The index is derived from the shop folder and can be made again, so a save need not wait for the disk.
//! The price: after a power failure files may be cut short; the seal (`seal.rs`) and [`crate::Index::verify`] find
//! that out.
//!
//! Files are read and not mapped, because a mapped file that somebody cuts short ends the process by a signal, and
//! one that is overwritten changes what was understood of it. What is read again and again (words, columns,
//! deletions, and every small file) is held whole; the rest is read piece by piece through an open file, and reading
//! behind its end is an error like any other.
//!
//! Tantivy keeps a list of its files and writes it anew for each one that comes or goes. Here the directory itself is
//! that list: a save would make twice as many files otherwise, and a file system is slow to make files where as many
//! have just been deleted.

use std::collections::HashMap;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, BufWriter, Write};
use std::ops::Range;
use std::os::unix::fs::{FileExt, MetadataExt};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError, Weak};

use tantivy::HasLen;
use tantivy::directory::error::{DeleteError, LockError, OpenReadError, OpenWriteError};
use tantivy::directory::{
    AntiCallToken, Directory, DirectoryLock, FileHandle, Lock, OwnedBytes, TerminatingWrite,
    WatchCallback, WatchHandle, WritePtr,
};

use crate::seal::SEAL;

/// Files up to this size in bytes are held in memory, whatever they are: those of a save are smaller.
const SMALL: u64 = 64 * 1024;

/// The endings of files that are held in memory at any size, because every query goes through them.
const HELD: [&str; 4] = [".term", ".fast", ".fieldnorm", ".del"];

/// The name of tantivy's list of its files.
const MANAGED: &str = ".managed.json";

/// A directory of plain files without fsync.
#[derive(Debug, Clone)]
pub(crate) struct PlainDirectory {
    root: PathBuf,
    /// What somebody still reads, by the name of the file: each file of a segment is written once, so a name
    /// stands for its content.
    opened: Arc<Mutex<HashMap<PathBuf, Weak<Opened>>>>,
}

/// A file that somebody reads.
#[derive(Debug)]
enum Opened {
    Held(OwnedBytes),
    Open { file: File, length: usize, stamp: Stamp },
}

/// What changes when a file is written to.
type Stamp = (u64, i64, i64);

impl PlainDirectory {
    /// Stands for a directory that exists, or will.
    pub(crate) fn at(root: &Path) -> Self {
        Self { root: root.to_owned(), opened: Arc::default() }
    }

    /// Where it is.
    pub(crate) fn root(&self) -> &Path {
        &self.root
    }

    /// Whether no file that is read piece by piece was written to since it was opened.
    ///
    /// One that was deleted or replaced is whole as far as its reader goes.
    pub(crate) fn is_intact(&self) -> bool {
        let mut opened = self.opened();
        opened.retain(|_, file| file.strong_count() != 0);
        opened.values().filter_map(Weak::upgrade).all(|file| match &*file {
            Opened::Held(_) => true,
            Opened::Open { file, stamp, .. } => stamp_of(file).is_ok_and(|now| now == *stamp),
        })
    }

    fn opened(&self) -> std::sync::MutexGuard<'_, HashMap<PathBuf, Weak<Opened>>> {
        // Nothing panics between two changes of the table.
        self.opened.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The names of the files that tantivy has made, as it would have written them down.
    fn listed(&self) -> io::Result<Vec<u8>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(&self.root)? {
            let name = entry?.file_name();
            // No name of these needs anything escaped.
            names
                .extend(name.to_str().filter(|name| is_made(name)).map(|name| format!("{name:?}")));
        }
        Ok(format!("[{}]", names.join(",")).into_bytes())
    }

    /// Whether the disk has room for all of its files once more; where that can't be found out it may have.
    pub(crate) fn has_room_for_a_copy(&self) -> bool {
        let Ok(entries) = fs::read_dir(&self.root) else { return true };
        let made =
            entries.flatten().filter(|entry| entry.file_name().to_str().is_some_and(is_made));
        // One that has gone meanwhile takes none.
        let size: u64 = made.map(|entry| entry.metadata().map_or(0, |data| data.len())).sum();
        let disk = rustix::fs::statvfs(&self.root);
        disk.map_or(true, |disk| size < disk.f_bavail.saturating_mul(disk.f_frsize))
    }

    fn open(&self, path: &Path) -> io::Result<Opened> {
        let file = File::open(self.root.join(path))?;
        let stamp = stamp_of(&file)?;
        let length = usize::try_from(stamp.0).map_err(io::Error::other)?;
        let is_held = path.to_str().is_some_and(|name| HELD.iter().any(|end| name.ends_with(end)));
        if stamp.0 <= SMALL || is_held {
            let mut bytes = vec![0; length];
            file.read_exact_at(&mut bytes, 0)?;
            return Ok(Opened::Held(OwnedBytes::new(bytes)));
        }
        Ok(Opened::Open { file, length, stamp })
    }
}

fn stamp_of(file: &File) -> io::Result<Stamp> {
    let metadata = file.metadata()?;
    Ok((metadata.size(), metadata.mtime(), metadata.mtime_nsec()))
}

impl HasLen for Opened {
    fn len(&self) -> usize {
        match self {
            Opened::Held(bytes) => bytes.len(),
            Opened::Open { length, .. } => *length,
        }
    }
}

impl FileHandle for Opened {
    fn read_bytes(&self, range: Range<usize>) -> io::Result<OwnedBytes> {
        match self {
            Opened::Held(bytes) if range.end <= bytes.len() => Ok(bytes.slice(range)),
            Opened::Held(_) => Err(io::ErrorKind::UnexpectedEof.into()),
            Opened::Open { file, .. } => {
                let mut bytes = vec![0; range.len()];
                file.read_exact_at(&mut bytes, range.start as u64)?;
                Ok(OwnedBytes::new(bytes))
            }
        }
    }
}

impl Directory for PlainDirectory {
    fn get_file_handle(&self, path: &Path) -> Result<Arc<dyn FileHandle>, OpenReadError> {
        if let Some(opened) = self.opened().get(path).and_then(Weak::upgrade) {
            return Ok(opened);
        }
        let opened = self.open(path).map_err(|error| read_error(error, path))?;
        let opened = Arc::new(opened);
        self.opened().insert(path.to_owned(), Arc::downgrade(&opened));
        Ok(opened)
    }

    fn delete(&self, path: &Path) -> Result<(), DeleteError> {
        self.opened().remove(path);
        fs::remove_file(self.root.join(path)).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => DeleteError::FileDoesNotExist(path.to_owned()),
            _ => DeleteError::IoError { io_error: Arc::new(error), filepath: path.to_owned() },
        })
    }

    fn exists(&self, path: &Path) -> Result<bool, OpenReadError> {
        self.root.join(path).try_exists().map_err(|error| read_error(error, path))
    }

    fn open_write(&self, path: &Path) -> Result<WritePtr, OpenWriteError> {
        match OpenOptions::new().write(true).create_new(true).open(self.root.join(path)) {
            Ok(file) => Ok(BufWriter::new(Box::new(PlainFile(file)))),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                Err(OpenWriteError::FileAlreadyExists(path.to_owned()))
            }
            Err(error) => Err(OpenWriteError::wrap_io_error(error, path.to_owned())),
        }
    }

    fn atomic_read(&self, path: &Path) -> Result<Vec<u8>, OpenReadError> {
        if path == Path::new(MANAGED) {
            return self.listed().map_err(|error| read_error(error, path));
        }
        fs::read(self.root.join(path)).map_err(|error| read_error(error, path))
    }

    fn atomic_write(&self, path: &Path, data: &[u8]) -> io::Result<()> {
        if path == Path::new(MANAGED) {
            return Ok(());
        }
        let path = self.root.join(path);
        let mut fresh = path.clone().into_os_string();
        fresh.push(FRESH);
        fs::write(&fresh, data)?;
        fs::rename(&fresh, &path)
    }

    fn sync_directory(&self) -> io::Result<()> {
        Ok(())
    }

    /// The system's own lock on an open file, so that it ends with its process, however that ended.
    fn acquire_lock(&self, lock: &Lock) -> Result<DirectoryLock, LockError> {
        let path = self.root.join(&lock.filepath);
        let mut options = OpenOptions::new();
        let file = options.write(true).create(true).truncate(false).open(path);
        let file = file.map_err(LockError::wrap_io_error)?;
        if lock.is_blocking {
            file.lock().map_err(LockError::wrap_io_error)?;
        } else {
            file.try_lock().map_err(|error| match error {
                TryLockError::WouldBlock => LockError::LockBusy,
                TryLockError::Error(error) => LockError::wrap_io_error(error),
            })?;
        }
        Ok(DirectoryLock::from(Box::new(file)))
    }

    fn watch(&self, _callback: WatchCallback) -> tantivy::Result<WatchHandle> {
        // Nobody waits for changes here: the one who commits also reloads.
        Ok(WatchHandle::empty())
    }
}

fn read_error(error: io::Error, path: &Path) -> OpenReadError {
    match error.kind() {
        io::ErrorKind::NotFound => OpenReadError::FileDoesNotExist(path.to_owned()),
        _ => OpenReadError::wrap_io_error(error, path.to_owned()),
    }
}

/// What the name of a file ends with while it is written in full, before it takes the place of the old one.
const FRESH: &str = ".fresh";

struct PlainFile(File);

impl Write for PlainFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl TerminatingWrite for PlainFile {
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

/// Knows the names of all files of an index.
fn is_index_file(name: &str) -> bool {
    let name = name.strip_suffix(FRESH).unwrap_or(name);
    is_made(name) || matches!(name, MANAGED | ".tantivy-writer.lock" | ".tantivy-meta.lock" | SEAL)
}

/// Knows the names of what tantivy lists: one that is fixed, and 32 hexadecimal digits with an ending.
fn is_made(name: &str) -> bool {
    let is_segment = name.split_once('.').is_some_and(|(stem, ending)| {
        stem.len() == 32 && stem.bytes().all(|byte| byte.is_ascii_hexdigit()) && !ending.is_empty()
    });
    is_segment || name == "meta.json"
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
            kept.into_iter().chain([segment, "meta.json", ".managed.json", "meta.json.fresh", SEAL])
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

    #[test]
    fn a_file_is_read_whole_or_in_pieces_and_damage_is_told() {
        let dir = tempfile::tempdir().unwrap();
        let bytes: Vec<u8> = (0..=255).cycle().take(100_000).collect();
        let directory = PlainDirectory::at(dir.path());
        for (name, is_held) in [("small.pos", true), ("large.term", true), ("large.pos", false)] {
            let path = Path::new(name);
            let length = if name.starts_with("small") { 1000 } else { bytes.len() };
            fs::write(dir.path().join(path), &bytes[..length]).unwrap();
            let handle = directory.get_file_handle(path).unwrap();
            assert_eq!(handle.len(), length);
            assert_eq!(handle.read_bytes(300..900).unwrap().as_slice(), &bytes[300..900]);
            assert!(handle.read_bytes(length - 1..length + 1).is_err(), "{name}: behind its end");
            assert!(directory.is_intact());

            // Cut short in place: what is held is as it was; what is not is an error, and no signal.
            File::options().write(true).open(dir.path().join(path)).unwrap().set_len(500).unwrap();
            assert_eq!(handle.read_bytes(300..900).is_ok(), is_held, "{name}");
            assert_eq!(directory.is_intact(), is_held, "{name}");
            drop(handle);
            assert!(directory.is_intact(), "{name}: nobody reads it any more");
        }
    }

    #[test]
    fn a_deleted_file_is_read_to_the_end_by_who_has_it_open() {
        let dir = tempfile::tempdir().unwrap();
        let (directory, path) = (PlainDirectory::at(dir.path()), Path::new("large.pos"));
        fs::write(dir.path().join(path), vec![7; 100_000]).unwrap();
        let handle = directory.get_file_handle(path).unwrap();
        directory.delete(path).unwrap();
        assert_eq!(handle.read_bytes(0..100_000).unwrap().as_slice(), &[7; 100_000]);
        assert!(directory.is_intact());
        assert!(directory.get_file_handle(path).is_err());
    }

    #[test]
    fn a_lock_is_held_by_one() {
        let dir = tempfile::tempdir().unwrap();
        let directory = PlainDirectory::at(dir.path());
        let lock = Lock { filepath: ".tantivy-writer.lock".into(), is_blocking: false };
        let held = directory.acquire_lock(&lock).unwrap();
        assert!(matches!(directory.acquire_lock(&lock), Err(LockError::LockBusy)));
        drop(held);
        directory.acquire_lock(&lock).unwrap();
    }
}
