//! The manifest as a file: a compact format of our own, sealed with a checksum.
//!
//! Layout, all numbers little-endian: `TBMF`, format number (4 bytes), the length of the caller's
//! word (4) and the word, number of entries (8), the entries sorted by path, and BLAKE3 of all that (32).
//! An entry is: how many bytes its path shares with the one before (2), how many follow (2),
//! those bytes, its kind (1), and either device, inode, size, mtime, ctime (8 each) and hash
//! (32), or the length of a reason (4) and the reason.
//!
//! Nothing here repairs a file: one that is not whole is an error, and the caller then starts
//! from an empty manifest and reads everything.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

use crate::manifest::{Entry, State};
use crate::{Key, Manifest, RecordPath};

const MAGIC: &[u8; 4] = b"TBMF";
const FORMAT: u32 = 2;
const HASH_LEN: usize = 32;

const READ: u8 = 0;
const READ_FRESH: u8 = 1;
const UNREADABLE: u8 = 2;

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
    pub fn write(&self, path: &Path) -> Result<(), ManifestError> {
        self.writing(path).finish()
    }

    /// Makes ready what [`Manifest::write`] writes, so that the rest of it may be done beside other work; of two for
    /// the same file one has to be finished before the other.
    #[must_use]
    pub fn writing(&self, path: &Path) -> Writing {
        Writing { path: path.to_path_buf(), bytes: self.to_bytes() }
    }

    /// Reads it from a file.
    ///
    /// # Errors
    /// When the file is not there, or is not whole and unchanged.
    pub fn read(path: &Path) -> Result<Self, ManifestError> {
        let path = || path.to_path_buf();
        let bytes =
            std::fs::read(path()).map_err(|source| ManifestError::Io { path: path(), source })?;
        Self::from_bytes(&bytes).map_err(|fault| match fault {
            Fault::Damaged(why) => ManifestError::Damaged { path: path(), why },
            Fault::OtherFormat(found) => ManifestError::OtherFormat { path: path(), found },
        })
    }

    /// All of it but the checksum.
    fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(64 + self.entries.len() * 110);
        bytes.extend(MAGIC);
        bytes.extend(FORMAT.to_le_bytes());
        bytes.extend(u32::try_from(self.of.len()).unwrap_or(u32::MAX).to_le_bytes());
        bytes.extend(self.of.as_bytes());
        bytes.extend((self.entries.len() as u64).to_le_bytes());
        let mut before: &[u8] = &[];
        for (path, Entry { state, .. }) in &self.entries {
            let path = path.as_str().as_bytes();
            // Paths are far shorter than 64 KiB: Linux allows 4 KiB.
            let n_shared = before.iter().zip(path).take_while(|(a, b)| a == b).count();
            let n_shared = u16::try_from(n_shared).unwrap_or(u16::MAX);
            let rest = &path[usize::from(n_shared)..];
            let rest = &rest[..rest.len().min(usize::from(u16::MAX))];
            bytes.extend(n_shared.to_le_bytes());
            bytes.extend(u16::try_from(rest.len()).unwrap_or(u16::MAX).to_le_bytes());
            bytes.extend(rest);
            match state {
                State::Read { key, fresh } => {
                    bytes.push(if *fresh { READ_FRESH } else { READ });
                    for number in [key.device, key.inode, key.size] {
                        bytes.extend(number.to_le_bytes());
                    }
                    for time in [key.mtime_ns, key.ctime_ns] {
                        bytes.extend(time.to_le_bytes());
                    }
                    bytes.extend(key.hash);
                }
                State::Unreadable { why } => {
                    bytes.push(UNREADABLE);
                    bytes.extend(u32::try_from(why.len()).unwrap_or(u32::MAX).to_le_bytes());
                    bytes.extend(why.as_bytes());
                }
            }
            before = path;
        }
        bytes
    }

    fn from_bytes(bytes: &[u8]) -> Result<Self, Fault> {
        let end = Fault::Damaged("it ends too early");
        let (body, hash) =
            bytes.len().checked_sub(HASH_LEN).map(|at| bytes.split_at(at)).ok_or(end)?;
        let mut reader = Reader { rest: body };
        if &reader.array::<4>()? != MAGIC {
            return Err(Fault::Damaged("it does not begin as a manifest does"));
        }
        let format = u32::from_le_bytes(reader.array()?);
        if format != FORMAT {
            return Err(Fault::OtherFormat(format));
        }
        if blake3::hash(body).as_bytes() != hash {
            return Err(Fault::Damaged("its checksum is wrong"));
        }
        let of = reader.text()?;
        let n_entries = reader.u64()?;
        let mut before = Vec::new();
        // They are sorted, so that the tree is built in one go.
        let entries: BTreeMap<RecordPath, Entry> = (0..n_entries)
            .map(|_| {
                reader.entry(&mut before).map(|(path, state)| (path, Entry { state, seen: 0 }))
            })
            .collect::<Result<_, Fault>>()?;
        if !reader.rest.is_empty() {
            return Err(Fault::Damaged("something follows its last entry"));
        }
        Ok(Self { of, entries, ..Self::default() })
    }
}

/// A manifest that is about to be written.
#[derive(Debug)]
pub struct Writing {
    path: PathBuf,
    bytes: Vec<u8>,
}

impl Writing {
    /// Writes it, as [`Manifest::write`] does.
    ///
    /// # Errors
    /// As there.
    pub fn finish(self) -> Result<(), ManifestError> {
        let Self { path, mut bytes } = self;
        let hash = blake3::hash(&bytes);
        bytes.extend(hash.as_bytes());
        let mut temporary = path.as_os_str().to_owned();
        temporary.push(".tmp");
        let written =
            std::fs::write(&temporary, bytes).and_then(|()| std::fs::rename(&temporary, &path));
        if written.is_err() {
            // What is half-written only takes room, on a disk that may be full.
            let _ = std::fs::remove_file(&temporary);
        }
        written.map_err(|source| ManifestError::Io { path, source })
    }
}

enum Fault {
    Damaged(&'static str),
    OtherFormat(u32),
}

struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    fn bytes(&mut self, len: usize) -> Result<&'a [u8], Fault> {
        let (bytes, rest) =
            self.rest.split_at_checked(len).ok_or(Fault::Damaged("it ends too early"))?;
        self.rest = rest;
        Ok(bytes)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Fault> {
        let mut array = [0; N];
        array.copy_from_slice(self.bytes(N)?);
        Ok(array)
    }

    fn u64(&mut self) -> Result<u64, Fault> {
        Ok(u64::from_le_bytes(self.array()?))
    }

    fn i64(&mut self) -> Result<i64, Fault> {
        Ok(i64::from_le_bytes(self.array()?))
    }

    /// Reads a text behind its length.
    fn text(&mut self) -> Result<String, Fault> {
        let len = u32::from_le_bytes(self.array()?);
        let text = self.bytes(usize::try_from(len).unwrap_or(usize::MAX))?;
        Ok(String::from_utf8_lossy(text).into_owned())
    }

    /// Reads an entry; `before` holds the bytes of the path before it, then those of its own.
    fn entry(&mut self, before: &mut Vec<u8>) -> Result<(RecordPath, State), Fault> {
        let bad_path = || Fault::Damaged("it holds a path that is none");
        let n_shared = u16::from_le_bytes(self.array()?).into();
        let n_rest = u16::from_le_bytes(self.array()?).into();
        if before.len() < n_shared {
            return Err(bad_path());
        }
        before.truncate(n_shared);
        before.extend(self.bytes(n_rest)?);
        let path = std::str::from_utf8(before).ok().and_then(RecordPath::new);
        let state = match self.array::<1>()? {
            [kind @ (READ | READ_FRESH)] => {
                let key = Key {
                    device: self.u64()?,
                    inode: self.u64()?,
                    size: self.u64()?,
                    mtime_ns: self.i64()?,
                    ctime_ns: self.i64()?,
                    hash: self.array()?,
                };
                State::Read { key, fresh: kind == READ_FRESH }
            }
            [UNREADABLE] => State::Unreadable { why: self.text()?.into() },
            _ => return Err(Fault::Damaged("it holds an entry of an unknown kind")),
        };
        Ok((path.ok_or_else(bad_path)?, state))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
            manifest.entries.insert(RecordPath::new(path).unwrap(), Entry { state, seen: 0 });
        }
        manifest
    }

    #[test]
    fn what_is_written_is_read_back() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("manifest");
        let written = example();
        written.write(&path).unwrap();
        let read = Manifest::read(&path).unwrap();
        assert_eq!(read.of, "the seventh");
        assert_eq!(read.to_bytes(), written.to_bytes());
        let states = |manifest: &Manifest| -> Vec<_> {
            manifest
                .entries
                .iter()
                .map(|(path, entry)| (path.clone(), entry.state.clone()))
                .collect()
        };
        assert_eq!(states(&read), states(&written));
        let names: Vec<_> = std::fs::read_dir(home.path()).unwrap().collect();
        assert_eq!(names.len(), 1, "only the manifest is left: {names:?}");
    }

    #[test]
    fn every_flipped_byte_and_every_cut_is_noticed() {
        let whole = example().to_bytes();
        for at in 0..whole.len() {
            let mut flipped = whole.clone();
            flipped[at] ^= 0x10;
            assert!(Manifest::from_bytes(&flipped).is_err(), "byte {at} flipped");
            assert!(Manifest::from_bytes(&whole[..at]).is_err(), "cut at {at}");
        }
        let mut longer = whole;
        longer.push(0);
        assert!(Manifest::from_bytes(&longer).is_err());
    }

    #[test]
    fn the_error_says_what_follows_from_it() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("manifest");
        let mut bytes = example().to_bytes();
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
        check(&bytes, "the manifest `PATH` has format 9, not 2; the records have to be read again");
    }
}
