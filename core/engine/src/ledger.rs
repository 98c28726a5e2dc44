//! The entries on disk, so that a restart reads no record that has not changed, and so that what is asked for now and
//! then (problems, flags, numbers) need not be in memory.
//!
//! An append-only file of frames; each commit ends with a frame that names its generation.
//! A commit is written here before it is written to the index, so after a kill between the two this file is ahead: it
//! is read up to the commit that the index has, and what follows is dropped.
//! Nothing is synced: a lost ledger is made again from the shop folder.

use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::os::unix::fs::{FileExt, MetadataExt};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::entry::{Details, Entry};

/// One thing that the ledger tells.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) enum Line {
    /// What the ledger was written by; the first line. A different one makes the ledger worthless.
    Made(String),
    /// An entry in place of the one with its id, with its details.
    Put(Arc<Entry>, Arc<Details>),
    /// Whether the plugins have seen a record as it now is; the rest of its entry stays.
    Examined(Arc<str>, bool),
    /// A record that is gone.
    Removed(Arc<str>),
    /// What a node of the graph has read.
    Reads(Arc<str>, Vec<Arc<str>>),
    /// What is kept of a memo: its node, what it has read, and its bytes.
    Memo(Arc<str>, Vec<Arc<str>>, Vec<u8>),
    /// A memo that is not right any more.
    Forgotten(Arc<str>),
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
    /// How long it is with what is still to be flushed.
    length: u64,
    pub(crate) n_lines: usize,
    pages: Arc<Pages>,
    /// What it looked like when it was written to last.
    stamp: Stamp,
}

/// What changes when a file is written to or another takes its place: inode, size, and when it was written and changed.
pub(crate) type Stamp = [u64; 6];

/// What can stand in one frame; a longer length is damage, not a record.
const FRAME_LIMIT: u32 = 64 << 20;

/// A ledger to look things up in, also after another took its place.
#[derive(Debug)]
pub(crate) struct Pages(File);

impl Pages {
    /// Reads the details of an entry at the place where [`Ledger::add`] put it.
    ///
    /// # Errors
    /// When the file can't be read, or has something else there.
    pub(crate) fn details(&self, id: &str, at: u64) -> io::Result<Arc<Details>> {
        match self.line(at)? {
            Line::Put(entry, details) if *entry.id == *id => Ok(details),
            _ => Err(damaged()),
        }
    }

    /// Reads what a memo has read, and its bytes.
    ///
    /// # Errors
    /// As [`Pages::details`].
    pub(crate) fn memo(&self, node: &str, at: u64) -> io::Result<(Vec<Arc<str>>, Vec<u8>)> {
        match self.line(at)? {
            Line::Memo(found, reads, bytes) if *found == *node => Ok((reads, bytes)),
            _ => Err(damaged()),
        }
    }

    /// Reads the line at a place.
    ///
    /// # Errors
    /// When the file can't be read, or no line is there.
    pub(crate) fn line(&self, at: u64) -> io::Result<Line> {
        let mut frame = vec![0; PAGE];
        let n_read = self.read_up_to(&mut frame, at)?;
        let head = frame.get(..HEAD).filter(|_| HEAD <= n_read);
        let head = head.ok_or(io::ErrorKind::UnexpectedEof)?;
        let size = size_of(head).ok_or_else(damaged)?;
        let sum = [head[4], head[5], head[6], head[7]];
        if n_read < HEAD + size {
            frame.resize(HEAD + size, 0);
            self.0.read_exact_at(&mut frame[n_read..], at + n_read as u64)?;
        }
        let bytes = &frame[HEAD..HEAD + size];
        if checksum(bytes) != sum {
            return Err(damaged());
        }
        postcard::from_bytes(bytes).map_err(|_| damaged())
    }

    fn read_up_to(&self, into: &mut [u8], at: u64) -> io::Result<usize> {
        let mut n_read = 0;
        while n_read < into.len() {
            match self.0.read_at(&mut into[n_read..], at + n_read as u64) {
                Ok(0) => break,
                Ok(n) => n_read += n,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(n_read)
    }
}

/// An entry with its details is mostly shorter.
const PAGE: usize = 2048;
/// How long a frame's size and checksum are.
const HEAD: usize = 8;

fn damaged() -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, "the ledger is damaged")
}

impl Ledger {
    /// Starts an empty ledger in place of what is there.
    pub(crate) fn create(path: &Path, made_by: &str) -> io::Result<Self> {
        let mut options = OpenOptions::new();
        let file = options.read(true).write(true).create(true).truncate(true).open(path)?;
        let mut ledger = Self::over(path, file, 0, 0)?;
        ledger.add(&Line::Made(made_by.to_owned()))?;
        ledger.flush()?;
        Ok(ledger)
    }

    fn over(path: &Path, file: File, length: u64, n_lines: usize) -> io::Result<Self> {
        // The very file, also where another has its name by now.
        let pages = Arc::new(Pages(file.try_clone()?));
        let stamp = stamp_of(&file.metadata()?);
        let (path, file) = (path.to_owned(), BufWriter::new(file));
        Ok(Self { path, file, length, n_lines, pages, stamp })
    }

    /// Puts a ledger that holds these lines as one commit in the place of this one, which stays until the other is whole.
    ///
    /// Each line is told with the place that it got.
    pub(crate) fn replace(
        &mut self,
        made_by: &str,
        lines: impl Iterator<Item = io::Result<Line>>,
        mut placed: impl FnMut(&Line, u64),
        generation: u64,
    ) -> io::Result<()> {
        let fresh = self.path.with_extension("fresh");
        let mut ledger = Self::create(&fresh, made_by)?;
        for line in lines {
            let line = line?;
            let at = ledger.add(&line)?;
            placed(&line, at);
        }
        ledger.commit(generation)?;
        std::fs::rename(&fresh, &self.path)?;
        ledger.stamp = stamp_of(&ledger.file.get_ref().metadata()?);
        *self = Self { path: std::mem::take(&mut self.path), ..ledger };
        Ok(())
    }

    /// Reads what is there up to a commit, hands it over line by line with the place of each, and stays open for adding.
    ///
    /// Gives `None` when there is no ledger, or none that the same program has written, or none with that commit; what
    /// was handed over is worth nothing then.
    pub(crate) fn open(
        path: &Path,
        made_by: &str,
        generation: u64,
        mut see: impl FnMut(Line, u64),
    ) -> io::Result<Option<Self>> {
        let file = match File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        let mut reader = BufReader::with_capacity(1 << 16, file);
        let (mut n_lines, mut length) = (0, 0);
        let mut frame = Vec::new();
        loop {
            let at = length;
            match next(&mut reader, &mut frame, &mut length) {
                None => return Ok(None),
                Some(Line::Made(by)) if by != made_by => return Ok(None),
                Some(Line::Committed(found)) if found == generation => break,
                Some(line) => see(line, at),
            }
            n_lines += 1;
        }
        let file = OpenOptions::new().read(true).append(true).open(path)?;
        // A file that stays as it is keeps its times too.
        if file.metadata()?.len() != length {
            file.set_len(length)?;
        }
        Self::over(path, file, length, n_lines).map(Some)
    }

    /// Opens one that is known to be whole, without reading it.
    pub(crate) fn reopen(path: &Path, n_lines: usize) -> io::Result<Self> {
        let file = OpenOptions::new().read(true).append(true).open(path)?;
        let length = file.metadata()?.len();
        Self::over(path, file, length, n_lines)
    }

    /// Adds a line, which counts from the next commit on; gives its place.
    pub(crate) fn add(&mut self, line: &Line) -> io::Result<u64> {
        let bytes = postcard::to_stdvec(line).map_err(io::Error::other)?;
        let size = u32::try_from(bytes.len()).map_err(io::Error::other)?;
        self.file.write_all(&size.to_le_bytes())?;
        self.file.write_all(&checksum(&bytes))?;
        self.file.write_all(&bytes)?;
        self.n_lines += 1;
        let at = self.length;
        self.length += HEAD as u64 + u64::from(size);
        Ok(at)
    }

    /// Ends a commit.
    pub(crate) fn commit(&mut self, generation: u64) -> io::Result<()> {
        self.add(&Line::Committed(generation))?;
        self.flush()
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()?;
        self.stamp = stamp_of(&self.file.get_ref().metadata()?);
        Ok(())
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Where what was committed can be looked up.
    pub(crate) fn pages(&self) -> Arc<Pages> {
        self.pages.clone()
    }

    /// What it looks like since it was written to last.
    pub(crate) fn stamp(&self) -> Stamp {
        self.stamp
    }

    /// Whether nobody else has written to it.
    pub(crate) fn is_intact(&self) -> bool {
        let now = self.file.get_ref().metadata();
        // Its being deleted or replaced changes only the last of the numbers, and nothing for who has it open.
        now.is_ok_and(|now| stamp_of(&now)[..4] == self.stamp[..4])
    }
}

/// What a file looks like.
pub(crate) fn stamp_of(metadata: &std::fs::Metadata) -> Stamp {
    let bits = i64::cast_unsigned;
    [
        metadata.ino(),
        metadata.size(),
        bits(metadata.mtime()),
        bits(metadata.mtime_nsec()),
        bits(metadata.ctime()),
        bits(metadata.ctime_nsec()),
    ]
}

/// Reads one frame; `None` at the end or at the first damage.
fn next(reader: &mut impl Read, frame: &mut Vec<u8>, length: &mut u64) -> Option<Line> {
    let mut head = [0; HEAD];
    reader.read_exact(&mut head).ok()?;
    let size = size_of(&head)?;
    frame.clear();
    reader.take(size as u64).read_to_end(frame).ok()?;
    if frame.len() != size || checksum(frame) != head[4..] {
        return None;
    }
    *length += (HEAD + size) as u64;
    postcard::from_bytes(frame).ok()
}

/// The size that the head of a frame tells, if it can be one.
fn size_of(head: &[u8]) -> Option<usize> {
    let size = u32::from_le_bytes([head[0], head[1], head[2], head[3]]);
    (size <= FRAME_LIMIT).then_some(size as usize)
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

    /// How many records are told to be gone up to a commit.
    fn removed(path: &Path, made_by: &str, generation: u64) -> Option<usize> {
        let mut n_removed = 0;
        let see = |line, _| n_removed += usize::from(matches!(line, Line::Removed(_)));
        let opened = Ledger::open(path, made_by, generation, see).unwrap();
        opened.map(|_| n_removed)
    }

    #[test]
    fn details_are_looked_up_where_they_were_put() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        let mut ledger = Ledger::create(&path, "me").unwrap();
        let mut put = |id: &str, message: &str| {
            let mut parsed = crate::entry::read(&format!("{id}.md"), b"text");
            parsed.record.id = id.to_owned();
            let (entry, mut details) = Entry::new(&parsed, b"text");
            details.flags = [crate::entry::StoredFlag {
                line: 1,
                column: 1,
                flag: "f".into(),
                message: message.into(),
            }]
            .into();
            ledger.add(&Line::Put(Arc::new(entry), Arc::new(details))).unwrap()
        };
        let long = "long ".repeat(5000);
        let places = [("a", put("a", "short")), ("b", put("b", &long)), ("c", put("c", ""))];
        ledger.commit(1).unwrap();
        let pages = ledger.pages();
        let message = |id: &str, at| {
            pages.details(id, at).map(|details| details.flags[0].message.to_string())
        };
        assert_eq!(message("a", places[0].1).unwrap(), "short");
        assert_eq!(message("b", places[1].1).unwrap(), long);
        assert_eq!(message("c", places[2].1).unwrap(), "");
        assert!(message("a", places[1].1).is_err(), "of another record");
        assert!(message("a", places[1].1 + 3).is_err(), "no frame begins there");
        assert!(message("a", 1 << 40).is_err(), "behind the end");
        assert!(ledger.is_intact());
        let mut bytes = std::fs::read(&path).unwrap();
        let last = bytes.len() - 40;
        bytes[usize::try_from(places[1].1).unwrap() + 100] ^= 1;
        bytes.truncate(last);
        std::fs::write(&path, bytes).unwrap();
        assert!(message("b", places[1].1).is_err(), "damaged");
        assert!(message("c", places[2].1).is_err(), "cut short");
        assert!(!ledger.is_intact());
    }

    #[test]
    fn what_was_committed_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        assert_eq!(removed(&path, "me", 2), Some(2), "what no commit ended is dropped");
        assert_eq!(removed(&path, "me", 3), None);
        // An index that is behind by a commit takes this one back with it.
        assert_eq!(removed(&path, "me", 1), Some(1));
        assert_eq!(removed(&path, "me", 2), None);
    }

    #[test]
    fn another_ledger_takes_its_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        let mut ledger = Ledger::open(&path, "me", 2, |_, _| {}).unwrap().unwrap();
        let lines = [Ok(Line::Removed("c".into()))].into_iter();
        ledger.replace("me", lines, |_, _| {}, 2).unwrap();
        assert!(ledger.is_intact());
        ledger.add(&Line::Removed("d".into())).unwrap();
        ledger.commit(3).unwrap();
        assert_eq!(removed(&path, "me", 3), Some(2));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn another_program_s_ledger_is_worthless() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        assert_eq!(removed(&path, "somebody else", 2), None);
    }

    #[test]
    fn damage_costs_what_follows_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger");
        written(&path);
        let whole = std::fs::read(&path).unwrap();
        for cut in 0..whole.len() {
            std::fs::write(&path, &whole[..cut]).unwrap();
            assert!(removed(&path, "me", 2).is_none_or(|n_removed| n_removed == 2));
            std::fs::write(&path, &whole[..cut]).unwrap();
            assert!(removed(&path, "me", 1).is_none_or(|n_removed| n_removed == 1));
            let mut flipped = whole.clone();
            flipped[cut] ^= 0x40;
            std::fs::write(&path, &flipped).unwrap();
            let _ = removed(&path, "me", 2);
        }
    }
}
