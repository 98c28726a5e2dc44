//! Where everything about one shop folder is kept: never in the folder itself, and only for its owner to read.
//!
//! The directory is named after the folder's canonical path. Device and inode are left out on purpose: they
//! change with a reboot on some file systems and with a fresh copy of the same folder, and each time an index
//! would be left behind. They are in the manifest's keys, which is where a replaced folder shows: its records
//! are read again, under the same lock as before.

use std::fs::DirBuilder;
use std::io;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use crate::{Shop, StateError};

/// The directory of one shop folder in the state directory.
#[derive(Debug, Clone)]
pub(crate) struct Place {
    /// The shop folder, canonical.
    pub(crate) folder: PathBuf,
    dir: PathBuf,
}

/// Enough digits that two folders never meet, few enough for the path of a socket.
const DIGITS: usize = 24;

impl Place {
    /// Finds the directory of a shop folder; nothing is made yet.
    ///
    /// A folder that is gone for the moment has the same place as before, so that its daemon can still be asked.
    pub(crate) fn of(shop: &Shop) -> Result<Self, StateError> {
        let folder = canonical(&shop.folder).map_err(unusable(&shop.folder))?;
        let base = match &shop.state_dir {
            Some(dir) => std::path::absolute(dir).map_err(unusable(dir))?,
            None => platform_state()?,
        };
        let dir = base.join(digits(folder.as_os_str().as_bytes()));
        if canonical(&dir).map_err(unusable(&dir))?.starts_with(&folder) {
            return Err(StateError::InsideFolder { dir: base, folder });
        }
        Ok(Self { folder, dir })
    }

    /// Makes the directory, or makes sure that nobody else may enter it.
    pub(crate) fn make(&self) -> Result<(), StateError> {
        private_dir(&self.dir)?;
        // Which folder this is, for somebody who finds the directory and wonders; nothing depends on it.
        let (path, name) = (self.dir.join("folder"), self.folder.as_os_str().as_bytes());
        if !std::fs::read(&path).is_ok_and(|there| there == name) {
            let _ = std::fs::write(&path, name);
        }
        Ok(())
    }

    /// The file that is locked by whoever has the index open.
    pub(crate) fn lock(&self) -> PathBuf {
        self.dir.join("lock")
    }

    /// The file that is locked by a daemon that waits for the lock.
    pub(crate) fn turn(&self) -> PathBuf {
        self.dir.join("turn")
    }

    /// The engine's own directory: index and ledger.
    pub(crate) fn engine(&self) -> PathBuf {
        self.dir.join("engine")
    }

    /// The keys of all files that the index has taken in.
    pub(crate) fn manifest(&self) -> PathBuf {
        self.dir.join("manifest")
    }

    /// The directory itself, in which the watcher makes its fences.
    pub(crate) fn dir(&self) -> &Path {
        &self.dir
    }

    /// The socket, where its path is short enough.
    pub(crate) fn socket(&self) -> PathBuf {
        self.dir.join("socket")
    }

    /// The file that says where the socket is.
    pub(crate) fn socket_at(&self) -> PathBuf {
        self.dir.join("socket-at")
    }

    /// A name for this place that fits where its path does not.
    pub(crate) fn short_name(&self) -> String {
        digits(self.dir.as_os_str().as_bytes())
    }
}

/// Makes a directory that only its owner may enter, or narrows one that is there.
pub(crate) fn private_dir(dir: &Path) -> Result<(), StateError> {
    DirBuilder::new().recursive(true).mode(0o700).create(dir).map_err(unusable(dir))?;
    let metadata = dir.metadata().map_err(unusable(dir))?;
    if metadata.mode() & 0o077 != 0 {
        std::fs::set_permissions(dir, PermissionsExt::from_mode(0o700)).map_err(unusable(dir))?;
    }
    Ok(())
}

/// Turns what the system said about a path into an error.
pub(crate) fn unusable(path: &Path) -> impl FnOnce(io::Error) -> StateError + use<'_> {
    |source| StateError::Unusable { path: path.to_owned(), source }
}

fn platform_state() -> Result<PathBuf, StateError> {
    let strategy = etcetera::choose_base_strategy().map_err(|_no_home| StateError::NoHome)?;
    let state = strategy.state_dir().unwrap_or_else(|| strategy.data_dir());
    Ok(state.join("taperbook"))
}

/// Resolves the links of a path as far as it exists.
fn canonical(path: &Path) -> io::Result<PathBuf> {
    let path = std::path::absolute(path)?;
    match path.canonicalize() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            match (path.parent(), path.file_name()) {
                (Some(parent), Some(name)) => Ok(canonical(parent)?.join(name)),
                _ => Err(error),
            }
        }
        canonical => canonical,
    }
}

fn digits(bytes: &[u8]) -> String {
    blake3::hash(bytes).to_hex()[..DIGITS].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shop(folder: &Path, state: &Path) -> Shop {
        Shop { folder: folder.to_owned(), state_dir: Some(state.to_owned()), plugins: Vec::new }
    }

    #[test]
    fn one_folder_has_one_place_whatever_it_is_called() {
        let home = tempfile::tempdir().unwrap();
        let (folder, state) = (home.path().join("shop"), home.path().join("state"));
        std::fs::create_dir(&folder).unwrap();
        std::os::unix::fs::symlink(&folder, home.path().join("link")).unwrap();
        let place = Place::of(&shop(&folder, &state)).unwrap();
        for other in ["link", "shop/.", "shop/../shop"] {
            assert_eq!(
                Place::of(&shop(&home.path().join(other), &state)).unwrap().dir,
                place.dir,
                "{other}"
            );
        }
        std::fs::remove_dir(&folder).unwrap();
        assert_eq!(
            Place::of(&shop(&folder, &state)).unwrap().dir,
            place.dir,
            "gone for the moment"
        );
        assert_ne!(Place::of(&shop(&home.path().join("shop2"), &state)).unwrap().dir, place.dir);
    }

    #[test]
    fn nobody_else_may_enter() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("shop");
        std::fs::create_dir(&folder).unwrap();
        let place = Place::of(&shop(&folder, &home.path().join("a/b/state"))).unwrap();
        assert!(!home.path().join("a").exists(), "nothing is made before it is needed");
        place.make().unwrap();
        std::fs::set_permissions(&place.dir, PermissionsExt::from_mode(0o755)).unwrap();
        place.make().unwrap();
        assert_eq!(place.dir.metadata().unwrap().mode() & 0o777, 0o700);
    }

    #[test]
    fn the_shop_folder_stays_clean() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("shop");
        std::fs::create_dir(&folder).unwrap();
        std::os::unix::fs::symlink(&folder, home.path().join("link")).unwrap();
        for inside in ["shop/state", "shop", "link/state"] {
            let state = home.path().join(inside);
            let error = Place::of(&shop(&folder, &state)).unwrap_err();
            assert!(error.to_string().starts_with("the index would lie in `"), "{inside}: {error}");
        }
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
    }
}
