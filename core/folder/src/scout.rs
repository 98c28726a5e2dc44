//! Lists folders and looks at their files ahead of who compares them, on threads of its own.
//!
//! Most of a look at a large folder is the system's time for a look at each file. Here nothing is compared, read or
//! decided but which folders are entered.

use std::fs::{DirEntry, FileType, Metadata};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{Scope, available_parallelism};

use crate::path::{SHOP, is_entered, is_hidden, is_record_name, under};

/// What a scout found.
pub(crate) enum Found {
    /// What may be a record or is said to be none, with what a look at it gave: its path and that. All are of one
    /// folder and in the order of their names.
    Files(Vec<(PathBuf, io::Result<Metadata>)>),
    /// A folder that is a shop of its own.
    Shop(PathBuf),
    /// A folder that could not be listed to its end.
    Failed(PathBuf, io::Error),
}

/// So many files are told at once…
const PART: usize = 512;
/// …and so many parts wait to be compared.
const PARTS: usize = 16;
/// More threads than these don't make a disk faster.
const MOST_SCOUTS: usize = 4;

/// Begins to list a folder with all that is below it.
///
/// The scouts end when all is told, or when nobody listens any more.
pub(crate) fn ahead<'scope, 'env: 'scope>(
    scope: &'scope Scope<'scope, 'env>,
    ways: &'env Ways,
) -> Receiver<Found> {
    let (told, found) = sync_channel(PARTS);
    let n_scouts = available_parallelism().map_or(1, usize::from).min(MOST_SCOUTS);
    for _ in 0..n_scouts {
        let told = told.clone();
        scope.spawn(move || ways.walk(&told));
    }
    found
}

/// The folders that are still to be listed.
pub(crate) struct Ways {
    root: PathBuf,
    left: Mutex<Left>,
    changed: Condvar,
}

struct Left {
    folders: Vec<PathBuf>,
    /// How many scouts list a folder, and may find others in it.
    n_busy: usize,
}

impl Ways {
    /// Begins at a path below a shop folder.
    pub(crate) fn from(root: &Path, top: &Path) -> Self {
        let left = Mutex::new(Left { folders: vec![top.to_path_buf()], n_busy: 0 });
        Self { root: root.to_path_buf(), left, changed: Condvar::new() }
    }

    fn walk(&self, told: &SyncSender<Found>) {
        while let Some(folder) = self.next() {
            let mut inside = Vec::new();
            let is_heard = self.list(&folder, told, &mut inside);
            let mut left = self.lock();
            left.n_busy -= 1;
            if is_heard {
                left.folders.append(&mut inside);
            } else {
                left.folders.clear();
            }
            self.changed.notify_all();
        }
    }

    fn next(&self) -> Option<PathBuf> {
        let mut left = self.lock();
        loop {
            if let Some(folder) = left.folders.pop() {
                left.n_busy += 1;
                return Some(folder);
            }
            if left.n_busy == 0 {
                return None;
            }
            left = self.changed.wait(left).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn lock(&self) -> MutexGuard<'_, Left> {
        self.left.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells what is in one folder; gives whether somebody still listens.
    fn list(&self, folder: &Path, told: &SyncSender<Found>, inside: &mut Vec<PathBuf>) -> bool {
        let mut files = Vec::new();
        let listed = self.files_of(folder, inside, |file| {
            files.push(file);
            files.len() < PART || told.send(Found::Files(std::mem::take(&mut files))).is_ok()
        });
        let is_heard = match listed {
            Ok(Listed::ToItsEnd) => true,
            Ok(Listed::UntilUnheard) => false,
            Ok(Listed::NotAtAll) => return told.send(Found::Shop(folder.to_path_buf())).is_ok(),
            Err(error) => told.send(Found::Failed(folder.to_path_buf(), error)).is_ok(),
        };
        is_heard && (files.is_empty() || told.send(Found::Files(files)).is_ok())
    }

    fn files_of(
        &self,
        folder: &Path,
        inside: &mut Vec<PathBuf>,
        mut tell: impl FnMut((PathBuf, io::Result<Metadata>)) -> bool,
    ) -> io::Result<Listed> {
        let is_root = folder.as_os_str().is_empty();
        let entries = std::fs::read_dir(under(&self.root, folder))?;
        if !is_root && under(&self.root, &folder.join(SHOP)).symlink_metadata().is_ok() {
            return Ok(Listed::NotAtAll);
        }
        let mut listed = Vec::new();
        let mut failed = Ok(Listed::ToItsEnd);
        for entry in entries {
            match entry {
                Ok(entry) => listed.push((entry.file_name(), entry)),
                Err(error) => {
                    failed = Err(error);
                    break;
                }
            }
        }
        listed.sort_unstable_by(|(one, _), (other, _)| one.cmp(other));
        for (name, entry) in listed {
            if is_hidden(&name) {
                continue;
            }
            let is = |kind: fn(&FileType) -> bool| entry.file_type().is_ok_and(|it| kind(&it));
            let is_folder = is(FileType::is_dir);
            if is_folder && is_entered(&name) {
                inside.push(folder.join(&name));
            } else if (is_folder || is(FileType::is_symlink) || is_record_name(&name, is_root))
                && !tell((folder.join(&name), DirEntry::metadata(&entry)))
            {
                return Ok(Listed::UntilUnheard);
            }
        }
        failed
    }
}

/// How far a folder was listed.
enum Listed {
    ToItsEnd,
    UntilUnheard,
    NotAtAll,
}
