//! The lock of one shop folder's index: whoever has it is the only one who opens the engine.
//!
//! It is the system's own lock on an open file, so it ends with its process, however that ended.
//! What is written in the file is a hint for people and for choosing what to wait for; the lock alone is the truth.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read as _, Write as _};
use std::os::unix::fs::MetadataExt as _;
use std::time::Duration;

use crate::StateError;
use crate::place::{Place, unusable};

/// What the holder of the lock does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// It is a daemon, which answers on a socket.
    Watch,
    /// It answers one question and lets go.
    Ask,
}

/// Who holds the lock, as far as the file says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Holder {
    pub(crate) role: Role,
    pub(crate) pid: u32,
}

/// The lock, held until it is dropped.
#[derive(Debug)]
pub(crate) struct Lock {
    file: File,
    /// The file goes on to hold the lock elsewhere.
    is_left: bool,
}

impl Lock {
    /// Takes the lock if nobody has it.
    pub(crate) fn try_take(place: &Place, role: Role) -> Result<Option<Self>, StateError> {
        let path = place.lock();
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(unusable(&path))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(None),
            Err(TryLockError::Error(error)) => return Err(unusable(&path)(error)),
        }
        let name = match role {
            Role::Watch => "watch",
            Role::Ask => "ask",
        };
        // On a full disk the hint is missing, and the lock holds all the same.
        let _ = file.set_len(0).and_then(|()| writeln!(file, "{name} {}", std::process::id()));
        Ok(Some(Self { file, is_left: false }))
    }

    /// Takes up a lock that is held by this file.
    pub(crate) fn resume(file: File) -> Self {
        Self { file, is_left: false }
    }

    /// Gives the file that holds the lock from now on.
    ///
    /// # Errors
    /// When the system has no more descriptors; nothing holds the lock any more then.
    pub(crate) fn leave(mut self) -> io::Result<File> {
        let file = self.file.try_clone()?;
        self.is_left = true;
        Ok(file)
    }

    /// Whether somebody has it.
    pub(crate) fn is_held(place: &Place) -> Result<bool, StateError> {
        let path = place.lock();
        let file = match File::open(&path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(false),
            file => file.map_err(unusable(&path))?,
        };
        match file.try_lock_shared() {
            Ok(()) => Ok(false),
            Err(TryLockError::WouldBlock) => Ok(true),
            Err(TryLockError::Error(error)) => Err(unusable(&path)(error)),
        }
    }

    /// Whether the file that is locked is still the one that others find.
    ///
    /// Where the state directory was moved or deleted it is not, and somebody else may have the lock that counts.
    pub(crate) fn is_in_place(&self, place: &Place) -> bool {
        let at = |metadata: std::fs::Metadata| (metadata.dev(), metadata.ino());
        match (self.file.metadata(), std::fs::metadata(place.lock())) {
            (Ok(ours), Ok(there)) => at(ours) == at(there),
            _ => false,
        }
    }

    /// Reads who has it; `None` when that is not written there, as in the moment of taking it.
    pub(crate) fn holder(place: &Place) -> Option<Holder> {
        let mut text = String::new();
        File::open(place.lock()).ok()?.take(64).read_to_string(&mut text).ok()?;
        let (role, pid) = text.strip_suffix('\n')?.split_once(' ')?;
        let role = match role {
            "watch" => Role::Watch,
            "ask" => Role::Ask,
            _ => return None,
        };
        Some(Holder { role, pid: pid.parse().ok()? })
    }
}

/// A daemon's turn: while it is held, no question takes the lock.
///
/// Questions that follow each other closely would leave a daemon no moment to take it.
#[derive(Debug)]
pub(crate) struct Turn {
    _file: File,
}

impl Turn {
    /// Takes the turn; gives nothing when another daemon has it.
    pub(crate) fn take(place: &Place) -> Result<Option<Self>, StateError> {
        let path = place.turn();
        let mut options = OpenOptions::new();
        let file = options.write(true).create(true).truncate(false).open(&path);
        let file = file.map_err(unusable(&path))?;
        // A question that looks has it for a moment as well.
        for _ in 0..TRIES {
            match file.try_lock() {
                Ok(()) => return Ok(Some(Self { _file: file })),
                Err(TryLockError::WouldBlock) => std::thread::sleep(BETWEEN_TRIES),
                Err(TryLockError::Error(error)) => return Err(unusable(&path)(error)),
            }
        }
        Ok(None)
    }

    /// Whether a daemon has it.
    pub(crate) fn is_taken(place: &Place) -> bool {
        // Where there is no such file no daemon ever waited; what can't be told keeps nobody from asking.
        File::open(place.turn())
            .is_ok_and(|file| matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)))
    }
}

const TRIES: usize = 50;
const BETWEEN_TRIES: Duration = Duration::from_millis(1);

impl Drop for Lock {
    fn drop(&mut self) {
        // An empty file keeps the next holder from being taken for this one; closing the file unlocks it.
        if !self.is_left {
            let _ = self.file.set_len(0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::shop_of;

    #[test]
    fn one_holder_at_a_time_who_says_who_it_is() {
        let (home, shop) = shop_of(0);
        let place = Place::of(&shop).unwrap();
        assert!(!Lock::is_held(&place).unwrap(), "there is no such file yet");
        place.make().unwrap();
        let lock = Lock::try_take(&place, Role::Watch).unwrap().unwrap();
        assert!(Lock::is_held(&place).unwrap());
        assert!(Lock::try_take(&place, Role::Ask).unwrap().is_none());
        let holder = Holder { role: Role::Watch, pid: std::process::id() };
        assert_eq!(Lock::holder(&place), Some(holder));
        assert!(lock.is_in_place(&place));
        drop(lock);
        assert_eq!(Lock::holder(&place), None);
        let lock = Lock::try_take(&place, Role::Ask).unwrap().unwrap();

        let away = home.path().join("away");
        std::fs::rename(place.dir(), &away).unwrap();
        assert!(!lock.is_in_place(&place));
        place.make().unwrap();
        let _other = Lock::try_take(&place, Role::Ask).unwrap().unwrap();

        assert!(!Turn::is_taken(&place));
        let turn = Turn::take(&place).unwrap().unwrap();
        assert!(Turn::is_taken(&place));
        assert!(Turn::take(&place).unwrap().is_none());
        drop(turn);
        assert!(!Turn::is_taken(&place));
        assert!(!lock.is_in_place(&place), "another one is there");
    }
}
