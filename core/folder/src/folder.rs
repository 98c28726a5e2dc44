//! The shop folder as a place on the disk: opening it and telling whether it is still there.

use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A shop folder on the disk.
///
/// It is a path, not a handle: when the folder is moved away and another one is put in its place,
/// the new one is read.
#[derive(Debug, Clone)]
pub struct Folder {
    root: PathBuf,
    /// How long a record that was emptied keeps its last good version.
    pub(crate) emptied: Duration,
}

/// A save by emptying and writing is over long before; a builder who means an empty file hardly notices.
const EMPTIED: Duration = Duration::from_secs(2);

/// Why a shop folder can't be used at all.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// Nothing is there.
    #[error("there is no folder at `{}`; give the path of the shop folder, or make it first", .path.display())]
    NotThere {
        /// The path that was given.
        path: PathBuf,
    },
    /// A file is there.
    #[error("`{}` is not a folder; give the folder that holds the records", .path.display())]
    NotAFolder {
        /// The path that was given.
        path: PathBuf,
    },
    /// It is there and can't be listed.
    #[error("can't read the folder `{}`; check its permissions", .path.display())]
    Unreadable {
        /// The path that was given.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Device and inode of a folder: two folders that follow each other at one path differ in them.
pub(crate) type Identity = (u64, u64);

impl Folder {
    /// Opens the shop folder at a path, absolute or relative to the working directory.
    ///
    /// The path itself may be a symbolic link.
    ///
    /// # Errors
    /// When no folder is there, or it can't be listed.
    pub fn open(root: &Path) -> Result<Self, FolderError> {
        let unreadable = |source| FolderError::Unreadable { path: root.to_path_buf(), source };
        // An absolute path keeps the folder when the working directory changes.
        let root_path = std::path::absolute(root).map_err(unreadable)?;
        let folder = Self { root: root_path, emptied: EMPTIED };
        folder.identity()?;
        std::fs::read_dir(&folder.root).map_err(unreadable)?;
        Ok(folder)
    }

    /// Lets a record that was emptied keep its last good version for another time than two seconds.
    #[must_use]
    pub fn holding_emptied_for(self, emptied: Duration) -> Self {
        Self { emptied, ..self }
    }

    /// The absolute path of the folder.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Tells which folder is at the path now.
    pub(crate) fn identity(&self) -> Result<Identity, FolderError> {
        let path = || self.root.clone();
        match std::fs::metadata(&self.root) {
            Ok(metadata) if metadata.is_dir() => Ok((metadata.dev(), metadata.ino())),
            Ok(_) => Err(FolderError::NotAFolder { path: path() }),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                Err(FolderError::NotThere { path: path() })
            }
            Err(source) => Err(FolderError::Unreadable { path: path(), source }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn opening_says_what_to_do() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("heron-704.md");
        std::fs::write(&file, "").unwrap();
        assert_eq!(
            Folder::open(&file).unwrap_err().to_string(),
            format!("`{}` is not a folder; give the folder that holds the records", file.display())
        );
        let missing = home.path().join("shpo");
        assert_eq!(
            Folder::open(&missing).unwrap_err().to_string(),
            format!(
                "there is no folder at `{}`; give the path of the shop folder, or make it first",
                missing.display()
            )
        );
        assert_eq!(Folder::open(home.path()).unwrap().root(), home.path());
    }
}
