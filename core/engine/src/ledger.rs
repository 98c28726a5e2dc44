//! The entries on disk, so that a restart reads no record that has not changed.
//!
//! An append-only file of frames; each commit ends with a frame that names its generation.
//! A commit is written here before it is written to the index, so after a kill between the two this file is ahead: it
//! is read up to the commit that the index has, and what follows is dropped.
//! Nothing is synced: a lost ledger is made again from the shop folder.

use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::entry::Entry;

/// One thing that the ledger tells.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) enum Line {
    /// What the ledger was written by; the first line. A different one makes the ledger worthless.
    Made(String),
    /// An entry in place of the one with its id.
    Put(Arc<Entry>),
    /// A record that is gone.
    Removed(Arc<str>),
    /// What a node of the graph has read.
    Reads(Arc<str>, Vec<Arc<str>>),
    /// A path that could not be read.
    Unreadable(Arc<str>, Arc<str>),
    /// A path that could not be read, and can be or is gone.
    Readable(Arc<str>),
    /// The end of a commit.
    Committed(u64),
}

/// The ledger, open for adding.
pub(crate) struct Ledger {
    path: PathBuf,
    file: BufWriter<File>,
    pub(crate) n_lines: usize,
}

/// What can stand in one frame; a longer length is damage, not a record.
const FRAME_LIMIT: u32 = 64 << 20;

impl Ledger {
    /// Starts an empty ledger in place of what is there.
    pub(crate) fn create(path: &Path, made_by: &str) -> io::Result<Self> {
        let mut ledger =
            Self { path: path.to_owned(), file: BufWriter::new(File::create(path)?), n_lines: 0 };
        ledger.add(&Line::Made(made_by.to_owned()))?;
        ledger.file.flush()?;
        Ok(ledger)
    }

    /// Puts a ledger that holds these lines as one commit in the place of this one, which stays until the other is whole.
    pub(crate) fn replace(
        &mut self,
        made_by: &str,
        lines: impl Iterator<Item = Line>,
        generation: u64,
    ) -> io::Result<()> {
        let fresh = self.path.with_extension("fresh");
        let mut ledger = Self::create(&fresh, made_by)?;
        for line in lines {
            ledger.add(&line)?;
        }
        ledger.commit(generation)?;
        std::fs::rename(&fresh, &self.path)?;
        *self = Self { path: std::mem::take(&mut self.path), ..ledger };
        Ok(())
    }

    /// Reads what is there up to a commit, hands it over line by line, and stays open for adding.
    ///
    /// Gives `None` when there is no ledger, or none that the same program has written, or none with that commit.
    pub(crate) fn open(
        path: &Path,
        made_by: &str,
        generation: u64,
    ) -> io::Result<Option<(Self, Vec<Line>)>> {
        let file = match File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        let mut reader = BufReader::with_capacity(1 << 16, file);
        let mut lines = Vec::new();
        let mut committed = None;
        let mut length = 0;
        let mut frame = Vec::new();
        while let Some(line) = next(&mut reader, &mut frame, &mut length) {
            match line {
                Line::Made(by) if by != made_by => return Ok(None),
                Line::Committed(found) if found == generation => {
                    committed = Some((lines.len(), length));
                }
                Line::Committed(_) => {}
                Line::Made(_) => {}
                line => lines.push(line),
            }
        }
        let Some((n_lines, length)) = committed else { return Ok(None) };
        lines.truncate(n_lines);
        let file = OpenOptions::new().append(true).open(path)?;
        file.set_len(length)?;
        Ok(Some((Self { path: path.to_owned(), file: BufWriter::new(file), n_lines }, lines)))
    }

    /// Adds a line; it counts from the next commit on.
    pub(crate) fn add(&mut self, line: &Line) -> io::Result<()> {
        let bytes = postcard::to_stdvec(line).map_err(io::Error::other)?;
        let length = u32::try_from(bytes.len()).map_err(io::Error::other)?;
        self.file.write_all(&length.to_le_bytes())?;
        self.file.write_all(&checksum(&bytes))?;
        self.file.write_all(&bytes)?;
        self.n_lines += 1;
        Ok(())
    }

    /// Ends a commit.
    pub(crate) fn commit(&mut self, generation: u64) -> io::Result<()> {
        self.add(&Line::Committed(generation))?;
        self.file.flush()
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }
}

/// Reads one frame; `None` at the end or at the first damage.
fn next(reader: &mut impl Read, frame: &mut Vec<u8>, length: &mut u64) -> Option<Line> {
    let mut head = [0; 8];
    reader.read_exact(&mut head).ok()?;
    let size = u32::from_le_bytes([head[0], head[1], head[2], head[3]]);
    if FRAME_LIMIT < size {
        return None;
    }
    frame.clear();
    reader.take(u64::from(size)).read_to_end(frame).ok()?;
    if frame.len() != usize::try_from(size).ok()? || checksum(frame) != head[4..] {
        return None;
    }
    *length += 8 + u64::from(size);
    postcard::from_bytes(frame).ok()
}

fn checksum(bytes: &[u8]) -> [u8; 4] {
    let mut sum = [0; 4];
    sum.copy_from_slice(&blake3::hash(bytes).as_bytes()[..4]);
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(path: &Path) {
        let mut ledger = Ledger::create(path, "me").unwrap();
        ledger.add(&Line::Removed("a".into())).unwrap();
        ledger.commit(1).unwrap();
        ledger.add(&Line::Removed("b".into())).unwrap();
        ledger.commit(2).unwrap();
        ledger.add(&Line::Removed("never committed".into())).unwrap();
    }

    #[test]
    fn what_was_committed_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        let (_, lines) = Ledger::open(&path, "me", 2).unwrap().unwrap();
        assert_eq!(lines.len(), 2, "what no commit ended is dropped");
        assert!(Ledger::open(&path, "me", 3).unwrap().is_none());
        // An index that is behind by a commit takes this one back with it.
        let (_, lines) = Ledger::open(&path, "me", 1).unwrap().unwrap();
        assert_eq!(lines.len(), 1);
        assert!(Ledger::open(&path, "me", 2).unwrap().is_none());
    }

    #[test]
    fn another_ledger_takes_its_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        let (mut ledger, _) = Ledger::open(&path, "me", 2).unwrap().unwrap();
        ledger.replace("me", [Line::Removed("c".into())].into_iter(), 2).unwrap();
        ledger.add(&Line::Removed("d".into())).unwrap();
        ledger.commit(3).unwrap();
        let (_, lines) = Ledger::open(&path, "me", 3).unwrap().unwrap();
        assert_eq!(lines.len(), 2);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn another_program_s_ledger_is_worthless() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        assert!(Ledger::open(&path, "somebody else", 2).unwrap().is_none());
    }

    #[test]
    fn damage_costs_what_follows_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        let whole = std::fs::read(&path).unwrap();
        for cut in 0..whole.len() {
            std::fs::write(&path, &whole[..cut]).unwrap();
            let of_both = Ledger::open(&path, "me", 2).unwrap().map(|(_, lines)| lines.len());
            assert!(of_both.is_none_or(|n_lines| n_lines == 2));
            std::fs::write(&path, &whole[..cut]).unwrap();
            let of_first = Ledger::open(&path, "me", 1).unwrap().map(|(_, lines)| lines.len());
            assert!(of_first.is_none_or(|n_lines| n_lines == 1));
            let mut flipped = whole.clone();
            flipped[cut] ^= 0x40;
            std::fs::write(&path, &flipped).unwrap();
            let _ = Ledger::open(&path, "me", 2).unwrap();
        }
    }
}
