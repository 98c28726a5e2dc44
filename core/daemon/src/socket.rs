//! Where the daemon's socket is and how it is reached; what is said over it is in `wire`.
//!
//! A socket's path may have 107 bytes only. It lies in the place of the shop folder where that fits; else
//! in a directory of its own with a short path: in the user's runtime directory, or where there is none in the
//! directory for temporary files, in which anybody may write, so there the directory must be ours alone.
//! The two sides may see different environments (a service, a terminal, a timer), so the daemon writes down
//! where the socket is, and clients read that rather than work it out again.

use std::ffi::OsStr;
use std::io;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::MetadataExt;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};

use crate::StateError;
use crate::place::{Place, private_dir, unusable};

/// What `sun_path` of Linux holds beside its closing zero; other systems hold 103.
const LONGEST: usize = if cfg!(target_os = "linux") { 107 } else { 103 };

/// The daemon's socket; its file is removed when it is dropped.
#[derive(Debug)]
pub(crate) struct Socket {
    path: PathBuf,
    at: PathBuf,
    /// Device and inode of the socket, by which ours is told from another daemon's.
    identity: (u64, u64),
    /// Its listener goes on elsewhere.
    is_left: bool,
}

impl Socket {
    /// Binds the socket in place of one that a killed daemon left behind.
    ///
    /// The caller holds the lock, so nobody listens on what is there.
    pub(crate) fn bind(place: &Place) -> Result<(Self, UnixListener), StateError> {
        let at = place.socket_at();
        // A killed daemon may have had its socket elsewhere.
        if let Ok(left) = read_path(&at) {
            remove(&left)?;
        }
        let path = short_path(place)?;
        remove(&path)?;
        let listener = UnixListener::bind(&path).map_err(unusable(&path))?;
        let identity = identity(&path).map_err(unusable(&path))?;
        let socket = Self { path, at, identity, is_left: false };
        listener.set_nonblocking(true).map_err(unusable(&socket.path))?;
        let fresh = socket.at.with_extension("new");
        std::fs::write(&fresh, socket.path.as_os_str().as_bytes()).map_err(unusable(&fresh))?;
        std::fs::rename(&fresh, &socket.at).map_err(unusable(&socket.at))?;
        Ok((socket, listener))
    }
}

impl Socket {
    /// Takes up the socket of this device and inode, whose listener was handed over.
    pub(crate) fn resume(place: &Place, identity: (u64, u64)) -> Result<Self, StateError> {
        Ok(Self { path: short_path(place)?, at: place.socket_at(), identity, is_left: false })
    }

    /// Leaves its file, and gives device and inode.
    pub(crate) fn leave(mut self) -> (u64, u64) {
        self.is_left = true;
        self.identity
    }

    /// Whether clients still find it.
    pub(crate) fn is_in_place(&self) -> bool {
        let is_named = || read_path(&self.at).is_ok_and(|path| path == self.path);
        identity(&self.path).ok() == Some(self.identity) && is_named()
    }
}

impl Drop for Socket {
    fn drop(&mut self) {
        // Where the state directory was moved away, what is there now may be of another daemon.
        if self.is_left || identity(&self.path).ok() != Some(self.identity) {
            return;
        }
        // A socket that stays behind is replaced by the next daemon, and refuses clients until then.
        let _ = std::fs::remove_file(&self.at);
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Reaches the daemon, or says that none listens by `None`.
pub(crate) fn connect(place: &Place) -> Result<Option<UnixStream>, StateError> {
    use io::ErrorKind::{ConnectionRefused, NotFound};
    let reach = || UnixStream::connect(read_path(&place.socket_at())?);
    match reach() {
        Ok(stream) => Ok(Some(stream)),
        Err(error) if matches!(error.kind(), NotFound | ConnectionRefused) => Ok(None),
        Err(error) => Err(unusable(&place.socket())(error)),
    }
}

fn identity(path: &Path) -> io::Result<(u64, u64)> {
    path.symlink_metadata().map(|metadata| (metadata.dev(), metadata.ino()))
}

fn read_path(at: &Path) -> io::Result<PathBuf> {
    Ok(PathBuf::from(OsStr::from_bytes(&std::fs::read(at)?)))
}

fn short_path(place: &Place) -> Result<PathBuf, StateError> {
    let fits = |path: &Path| path.as_os_str().len() <= LONGEST;
    let path = place.socket();
    if fits(&path) {
        return Ok(path);
    }
    let runtime = std::env::var_os("XDG_RUNTIME_DIR")
        .map(PathBuf::from)
        .filter(|dir| dir.is_absolute() && dir.is_dir());
    let dir = runtime
        .unwrap_or_else(std::env::temp_dir)
        .join(format!("taperbook-{}", place.short_name()));
    let path = dir.join("socket");
    if !fits(&path) {
        return Err(StateError::PathTooLong { path });
    }
    own_dir(&dir)?;
    Ok(path)
}

/// Makes a directory where others may write too, and refuses one that somebody else has made.
fn own_dir(dir: &Path) -> Result<(), StateError> {
    let us = rustix::process::geteuid().as_raw();
    match dir.symlink_metadata() {
        Ok(metadata) if metadata.is_dir() && metadata.uid() == us => private_dir(dir),
        Ok(_) => Err(StateError::NotOurs { path: dir.to_owned() }),
        Err(_missing) => {
            use std::os::unix::fs::DirBuilderExt;
            // Not recursive, so that it fails where somebody was quicker.
            std::fs::DirBuilder::new().mode(0o700).create(dir).map_err(unusable(dir))
        }
    }
}

fn remove(path: &Path) -> Result<(), StateError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(unusable(path)(error)),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Shop;

    fn place(home: &Path, state: &str) -> Place {
        let folder = home.join("shop");
        std::fs::create_dir_all(&folder).unwrap();
        let shop = Shop { folder, state_dir: Some(home.join(state)), plugins: Vec::new };
        let place = Place::of(&shop).unwrap();
        assert!(connect(&place).unwrap().is_none(), "there is no such directory yet");
        place.make().unwrap();
        place
    }

    #[test]
    fn a_socket_is_reached_until_it_is_gone() {
        let home = tempfile::tempdir().unwrap();
        let place = place(home.path(), "state");
        assert!(connect(&place).unwrap().is_none());
        let (socket, listener) = Socket::bind(&place).unwrap();
        assert!(connect(&place).unwrap().is_some());
        assert!(socket.is_in_place());
        std::fs::rename(place.socket_at(), home.path().join("at")).unwrap();
        assert!(!socket.is_in_place());
        std::fs::rename(home.path().join("at"), place.socket_at()).unwrap();
        std::fs::rename(place.socket(), home.path().join("socket")).unwrap();
        assert!(!socket.is_in_place());
        std::fs::rename(home.path().join("socket"), place.socket()).unwrap();
        drop((socket, listener));
        assert!(connect(&place).unwrap().is_none());
        assert!(!place.socket().exists() && !place.socket_at().exists());
    }

    #[test]
    fn a_socket_left_behind_is_replaced() {
        let home = tempfile::tempdir().unwrap();
        let place = place(home.path(), "state");
        let (socket, listener) = Socket::bind(&place).unwrap();
        std::mem::forget(socket);
        drop(listener);
        assert!(place.socket().exists());
        assert!(connect(&place).unwrap().is_none(), "nobody listens");
        let (_socket, _listener) = Socket::bind(&place).unwrap();
        assert!(connect(&place).unwrap().is_some());
    }

    #[test]
    fn a_socket_of_somebody_else_is_left() {
        let home = tempfile::tempdir().unwrap();
        let place = place(home.path(), "state");
        let (ours, _listener) = Socket::bind(&place).unwrap();
        std::fs::rename(place.dir(), home.path().join("away")).unwrap();
        place.make().unwrap();
        let (_theirs, _listener) = Socket::bind(&place).unwrap();
        drop(ours);
        assert!(connect(&place).unwrap().is_some());
    }

    #[test]
    fn a_long_path_gets_a_short_socket() {
        let home = tempfile::tempdir().unwrap();
        let place = place(home.path(), &"long/".repeat(30));
        let (socket, _listener) = Socket::bind(&place).unwrap();
        assert_ne!(socket.path, place.socket());
        assert_eq!(socket.path.parent().unwrap().metadata().unwrap().mode() & 0o777, 0o700);
        assert!(connect(&place).unwrap().is_some());
        let dir = socket.path.parent().unwrap().to_owned();
        drop(socket);
        std::fs::remove_dir(dir).unwrap();
    }

    #[test]
    fn a_directory_of_somebody_else_is_refused() {
        let home = tempfile::tempdir().unwrap();
        let link = home.path().join("link");
        std::os::unix::fs::symlink(home.path(), &link).unwrap();
        assert!(
            matches!(own_dir(&link), Err(StateError::NotOurs { .. })),
            "a link may lead anywhere"
        );
        own_dir(&home.path().join("new")).unwrap();
        own_dir(&home.path().join("new")).unwrap();
    }
}
