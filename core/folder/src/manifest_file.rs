//! The manifest as a file: a compact format of our own, sealed with a checksum.
//!
//! It is the entries as they are packed (see `packed`) and BLAKE3 of all that (32 bytes).
//!
//! Nothing here repairs a file: one that is not whole is an error, and the caller then starts
//! from an empty manifest and reads everything.

use std::fs::File;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::Manifest;
use crate::entries::Entries;
use crate::packed::{FORMAT, Fault, Packed};

const HASH_LEN: usize = 32;

/// Why a manifest could not be read or written; the answer to each when reading is to start from
/// an empty one, which reads all records again.
#[derive(Debug, thiserror::Error)]
pub enum ManifestError {
    /// The system refused.
    #[error("can't use the manifest `{}`", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The file is not what was written.
    #[error("the manifest `{}` is damaged: {why}; the records have to be read again", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: &'static str,
    },
    /// Another version of the program wrote it.
    #[error("the manifest `{}` has format {found}, not {FORMAT}; the records have to be read again", .path.display())]
    OtherFormat {
        /// The file.
        path: PathBuf,
        /// The format number in it.
        found: u32,
    },
}

impl Manifest {
    /// Writes it to a file, by a temporary file beside it and a rename.
    ///
    /// It is not forced to the disk: after a crash the checksum tells, and all records can be
    /// read again.
    ///
    /// # Errors
    /// When the system refuses; the file that was there before is then unharmed.
    pub fn write(&mut self, path: &Path) -> Result<(), ManifestError> {
        self.writing(path).finish()
    }

    /// Makes ready what [`Manifest::write`] writes, so that the rest of it may be done beside other work; of two for
    /// the same file one has to be finished before the other.
    #[must_use]
    pub fn writing(&mut self, path: &Path) -> Writing {
        Writing { path: path.to_path_buf(), packed: self.entries.pack(&self.of) }
    }

    /// Reads it from a file.
    ///
    /// # Errors
    /// When the file is not there, or is not whole and unchanged.
    pub fn read(path: &Path) -> Result<Self, ManifestError> {
        let path = || path.to_path_buf();
        let bytes =
            std::fs::read(path()).map_err(|source| ManifestError::Io { path: path(), source })?;
        Self::from_bytes(bytes).map_err(|fault| match fault {
            Fault::Damaged(why) => ManifestError::Damaged { path: path(), why },
            Fault::OtherFormat(found) => ManifestError::OtherFormat { path: path(), found },
        })
    }

    fn from_bytes(mut bytes: Vec<u8>) -> Result<Self, Fault> {
        let at = bytes.len().checked_sub(HASH_LEN);
        let at = at.ok_or(Fault::Damaged("it ends too early"))?;
        let (body, hash) = bytes.split_at(at);
        Packed::check_head(body)?;
        if blake3::hash(body).as_bytes() != hash {
            return Err(Fault::Damaged("its checksum is wrong"));
        }
        bytes.truncate(at);
        let (packed, of) = Packed::from_bytes(bytes)?;
        Ok(Self { of, entries: Entries::of(packed), ..Self::default() })
    }
}

/// A manifest that is about to be written.
#[derive(Debug)]
pub struct Writing {
    path: PathBuf,
    packed: Arc<Packed>,
}

impl Writing {
    /// Writes it, as [`Manifest::write`] does.
    ///
    /// # Errors
    /// As there.
    pub fn finish(self) -> Result<(), ManifestError> {
        let Self { path, packed } = self;
        let hash = blake3::hash(packed.bytes());
        let mut temporary = path.as_os_str().to_owned();
        temporary.push(".tmp");
        let written = File::create(&temporary)
            .and_then(|mut file| {
                file.write_all(packed.bytes())?;
                file.write_all(hash.as_bytes())
            })
            .and_then(|()| std::fs::rename(&temporary, &path));
        if written.is_err() {
            // What is half-written only takes room, on a disk that may be full.
            let _ = std::fs::remove_file(&temporary);
        }
        written.map_err(|source| ManifestError::Io { path, source })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::manifest::{Entry, State};
    use crate::{Key, RecordPath};

    fn example() -> Manifest {
        let mut manifest = Manifest { of: "the seventh".to_owned(), ..Manifest::default() };
        let key = Key {
            device: 1,
            inode: u64::MAX,
            size: 46,
            mtime_ns: -5,
            ctime_ns: i64::MAX,
            hash: [9; 32],
        };
        for (path, state) in [
            ("builds/heron-704.md", State::Read { key, fresh: true }),
            ("builds/heron-705.md", State::Read { key, fresh: false }),
            ("größe\n.md", State::Unreadable { why: "it is too large".into() }),
        ] {
            manifest.entries.put(RecordPath::new(path).unwrap(), Entry { state, seen: 0 });
        }
        manifest
    }

    fn states(manifest: &Manifest) -> Vec<(String, State)> {
        manifest.entries.iter().map(|known| (known.path().to_owned(), known.state())).collect()
    }

    /// A file as it is written.
    fn file() -> Vec<u8> {
        let mut manifest = example();
        let packed = manifest.entries.pack(&manifest.of);
        [packed.bytes(), blake3::hash(packed.bytes()).as_bytes()].concat()
    }

    #[test]
    fn what_is_written_is_read_back() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("manifest");
        let mut written = example();
        let expected = states(&written);
        written.write(&path).unwrap();
        assert_eq!(states(&written), expected, "it is as before");
        let mut read = Manifest::read(&path).unwrap();
        assert_eq!(read.of, "the seventh");
        assert_eq!(states(&read), expected);
        let again = home.path().join("again");
        read.write(&again).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), std::fs::read(&again).unwrap());
        let names: Vec<_> = std::fs::read_dir(home.path()).unwrap().collect();
        assert_eq!(names.len(), 2, "only the manifests are left: {names:?}");
    }

    #[test]
    fn every_flipped_byte_and_every_cut_is_noticed() {
        let whole = file();
        assert!(Manifest::from_bytes(whole.clone()).is_ok());
        for at in 0..whole.len() {
            let mut flipped = whole.clone();
            flipped[at] ^= 0x10;
            assert!(Manifest::from_bytes(flipped.clone()).is_err(), "byte {at} flipped");
            assert!(Manifest::from_bytes(whole[..at].to_vec()).is_err(), "cut at {at}");
            // Also where the checksum is that of the damage, nothing of it leads anywhere.
            for mut bytes in [flipped, whole[..at].to_vec()] {
                bytes.truncate(at.max(whole.len() - HASH_LEN));
                if let Ok((packed, of)) = Packed::from_bytes(bytes) {
                    let entries = Entries::of(packed);
                    let manifest = Manifest { of, entries, ..Manifest::default() };
                    assert!(states(&manifest).len() <= 3);
                }
            }
        }
        let mut longer = whole;
        longer.push(0);
        assert!(Manifest::from_bytes(longer).is_err());
    }

    #[test]
    fn the_error_says_what_follows_from_it() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("manifest");
        let mut bytes = file();
        let check = |bytes: &[u8], message: &str| {
            std::fs::write(&path, bytes).unwrap();
            let error = Manifest::read(&path).unwrap_err().to_string();
            assert_eq!(error, message.replace("PATH", &path.display().to_string()));
        };
        check(
            &bytes[..9],
            "the manifest `PATH` is damaged: it ends too early; the records have to be read again",
        );
        bytes[50] ^= 1;
        check(
            &bytes,
            "the manifest `PATH` is damaged: its checksum is wrong; the records have to be read again",
        );
        bytes[4] = 9;
        check(&bytes, "the manifest `PATH` has format 9, not 3; the records have to be read again");
    }
}
