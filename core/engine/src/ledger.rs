//! The entries on disk, so that a restart reads no record that has not changed.
//!
//! An append-only file of frames; each commit ends with a frame that names its generation.
//! What follows the last whole commit is dropped. Nothing is synced: a lost ledger is made again from the shop folder.

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

    /// Reads what is there up to the last commit, hands it over line by line, and stays open for adding.
    ///
    /// Gives `None` when there is no ledger, or none that the same program has written.
    pub(crate) fn open(path: &Path, made_by: &str) -> io::Result<Option<(Self, Vec<Line>, u64)>> {
        let file = match File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        let mut reader = BufReader::with_capacity(1 << 16, file);
        let mut lines = Vec::new();
        let mut committed = (0, 0, 0);
        let mut length = 0;
        let mut frame = Vec::new();
        while let Some(line) = next(&mut reader, &mut frame, &mut length) {
            match line {
                Line::Made(by) if by != made_by => return Ok(None),
                Line::Committed(generation) => committed = (lines.len(), length, generation),
                Line::Made(_) => {}
                line => lines.push(line),
            }
        }
        let (n_lines, length, generation) = committed;
        if generation == 0 {
            return Ok(None);
        }
        lines.truncate(n_lines);
        let file = OpenOptions::new().append(true).open(path)?;
        file.set_len(length)?;
        Ok(Some((
            Self { path: path.to_owned(), file: BufWriter::new(file), n_lines },
            lines,
            generation,
        )))
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
        let (_, lines, generation) = Ledger::open(&path, "me").unwrap().unwrap();
        assert_eq!((lines.len(), generation), (2, 2), "what no commit ended is dropped");
    }

    #[test]
    fn another_program_s_ledger_is_worthless() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        assert!(Ledger::open(&path, "somebody else").unwrap().is_none());
    }

    #[test]
    fn damage_costs_what_follows_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        let whole = std::fs::read(&path).unwrap();
        for cut in 0..whole.len() {
            std::fs::write(&path, &whole[..cut]).unwrap();
            if let Some((_, _, generation)) = Ledger::open(&path, "me").unwrap() {
                assert!(generation == 1 || generation == 2);
            }
            let mut flipped = whole.clone();
            flipped[cut] ^= 0x40;
            std::fs::write(&path, &flipped).unwrap();
            let _ = Ledger::open(&path, "me").unwrap();
        }
    }
}
