//! What a good close leaves: entries and graph as they are in memory, so that the next start need not read the ledger.
//!
//! It counts only where the ledger looks as it did then, and the index has the same commit; like the seal of the index
//! it proves nothing about a disk that fails silently. The graph is read when it is wanted.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Read, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use imbl::OrdMap;

use crate::book::Book;
use crate::graph::Graph;
use crate::ledger::{Ledger, Stamp, stamp_of};
use crate::packed::{Unpacker, put_block};
use crate::table::Table;

/// What was left, its graph still unread.
pub(crate) struct Closed {
    file: File,
    path: PathBuf,
    graph_at: u64,
}

/// What is to be left: how things are at one commit, whatever comes later, so that it may be written beside other work.
pub(crate) struct Leaving {
    pub(crate) path: PathBuf,
    pub(crate) made_by: String,
    pub(crate) generation: u64,
    /// The ledger as it is at this commit.
    pub(crate) stamp: Stamp,
    pub(crate) n_lines: usize,
    pub(crate) book: Book,
    pub(crate) lasting: OrdMap<u64, u64>,
    pub(crate) graph: Arc<Graph>,
}

/// What was left just now, and the book as whoever opens it next has it.
pub(crate) struct Left {
    pub(crate) closed: Closed,
    pub(crate) book: Book,
}

const MAGIC: &[u8; 8] = b"TBCLOSE3";
/// The hash of a part, and how long the part is.
const HEAD: usize = 32 + 8;

impl Leaving {
    /// Writes it, by a temporary file beside it and a rename; gives it as [`Closed::read`] would.
    ///
    /// # Errors
    /// When it can't be written, or something is not in the ledger.
    pub(crate) fn write(mut self) -> io::Result<Left> {
        self.book.pack();
        let mut graph_at = 0;
        let file = replace_with(&self.path, |file| {
            graph_at = write_part(file, 0, |out| self.write_entries(out))?;
            write_part(file, graph_at, |out| self.graph.write(out)).map(drop)
        })?;
        Ok(Left { closed: Closed { file, path: self.path, graph_at }, book: self.book })
    }

    fn write_entries(&self, out: &mut impl Write) -> io::Result<()> {
        let table = self.book.packed().ok_or(io::ErrorKind::InvalidInput)?;
        out.write_all(MAGIC)?;
        put_block(out, self.made_by.as_bytes())?;
        let mut put = |number: u64| out.write_all(&number.to_le_bytes());
        put(self.generation)?;
        self.stamp.into_iter().try_for_each(&mut put)?;
        put(self.n_lines as u64)?;
        table.pack(out)?;
        out.write_all(&(self.book.unreadable.len() as u64).to_le_bytes())?;
        for (path, why) in &self.book.unreadable {
            put_block(out, path.as_bytes())?;
            put_block(out, why.as_bytes())?;
        }
        out.write_all(&(self.lasting.len() as u64).to_le_bytes())?;
        for number in self.lasting.iter().flat_map(|(hash, at)| [*hash, *at]) {
            out.write_all(&number.to_le_bytes())?;
        }
        Ok(())
    }
}

impl Closed {
    /// Reads the entries, if they are those of this ledger at this commit, and opens the ledger.
    ///
    /// # Errors
    /// When there is none, or it is of another state, or not whole.
    pub(crate) fn read(
        path: &Path,
        made_by: &str,
        generation: u64,
        ledger: &Path,
    ) -> io::Result<(Self, Ledger, Book, OrdMap<u64, u64>)> {
        let file = File::open(path)?;
        let (mut from, hash, graph_at) = part(&file, 0)?;
        let other = || io::Error::new(io::ErrorKind::InvalidData, "it is of another state");
        if from.array()? != *MAGIC || from.block()? != made_by.as_bytes() {
            return Err(other());
        }
        if from.u64()? != generation {
            return Err(other());
        }
        let mut stamp: Stamp = Stamp::default();
        for number in &mut stamp {
            *number = from.u64()?;
        }
        if stamp_of(&std::fs::metadata(ledger)?) != stamp {
            return Err(other());
        }
        let n_lines = usize::try_from(from.u64()?).map_err(io::Error::other)?;
        let table = Table::unpack(&mut from)?;
        let mut unreadable = OrdMap::new();
        for _ in 0..from.u64()? {
            unreadable.insert(from.text()?.into(), from.text()?.into());
        }
        let mut lasting = OrdMap::new();
        for _ in 0..from.u64()? {
            lasting.insert(from.u64()?, from.u64()?);
        }
        from.finish(hash)?;
        // Nothing is made of it before it is known to be whole.
        let mut book = Book::of(table);
        book.unreadable = unreadable;
        let ledger = Ledger::reopen(ledger, n_lines)?;
        Ok((Self { file, path: path.to_owned(), graph_at }, ledger, book, lasting))
    }

    /// Reads the graph.
    ///
    /// # Errors
    /// When it can't be read, or is not whole.
    pub(crate) fn graph(&self) -> io::Result<Graph> {
        let (from, hash, _) = part(&self.file, self.graph_at)?;
        Graph::read(from, |from| from.finish(hash))
    }

    /// Takes it away.
    pub(crate) fn discard(&self) {
        discard(&self.path);
    }
}

/// Writes a file in place of the one that may be there, which stays until the other is whole; gives it to read.
pub(crate) fn replace(path: &Path, bytes: &[u8]) -> io::Result<File> {
    replace_with(path, |file| file.write_all(bytes))
}

fn replace_with(path: &Path, write: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<File> {
    let fresh = path.with_extension("fresh");
    let mut options = OpenOptions::new();
    let made = options.read(true).write(true).create(true).truncate(true).open(&fresh);
    let written = made.and_then(|mut file| {
        write(&mut file)?;
        std::fs::rename(&fresh, path)?;
        Ok(file)
    });
    if written.is_err() {
        // What is half-written only takes room, on a disk that may be full.
        let _ = std::fs::remove_file(&fresh);
    }
    written
}

/// Takes away what a close has left, so that the next start reads the ledger.
pub(crate) fn discard(path: &Path) {
    let _ = std::fs::remove_file(path);
}

/// Writes a part at a place, where the file ends, with its head before it; gives where it ends.
fn write_part(
    file: &mut File,
    at: u64,
    write: impl FnOnce(&mut BufWriter<Part>) -> io::Result<()>,
) -> io::Result<u64> {
    file.write_all(&[0; HEAD])?;
    let part = Part { file, hash: blake3::Hasher::new(), length: 0 };
    let mut out = BufWriter::with_capacity(1 << 16, part);
    write(&mut out)?;
    let Part { file, hash, length } = out.into_inner().map_err(io::IntoInnerError::into_error)?;
    file.write_all_at(hash.finalize().as_bytes(), at)?;
    file.write_all_at(&length.to_le_bytes(), at + 32)?;
    Ok(at + HEAD as u64 + length)
}

/// A part that is being written.
struct Part<'a> {
    file: &'a mut File,
    hash: blake3::Hasher,
    length: u64,
}

impl Write for Part<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n_written = self.file.write(bytes)?;
        self.hash.update(&bytes[..n_written]);
        self.length += n_written as u64;
        Ok(n_written)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Begins to read the part at a place: gives it with its hash, and where it ends.
fn part(file: &File, at: u64) -> io::Result<(Unpacker<At<'_>>, [u8; 32], u64)> {
    let mut from = At { file, at };
    let (mut hash, mut length) = ([0; 32], [0; 8]);
    from.read_exact(&mut hash)?;
    from.read_exact(&mut length)?;
    let length = u64::from_le_bytes(length);
    let end =
        from.at.checked_add(length).filter(|end| file.metadata().is_ok_and(|it| *end <= it.len()));
    let end = end.ok_or(io::ErrorKind::UnexpectedEof)?;
    Ok((Unpacker::of(from, length), hash, end))
}

/// A file from a place on, whatever else reads it.
struct At<'a> {
    file: &'a File,
    at: u64,
}

impl Read for At<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n_read = self.file.read_at(into, self.at)?;
        self.at += n_read as u64;
        Ok(n_read)
    }
}
