//! What a good close leaves: entries and graph as they are in memory, so that the next start need not read the ledger.
//!
//! It counts only where the ledger looks as it did then, and the index has the same commit; like the seal of the index
//! it proves nothing about a disk that fails silently. The graph is read when it is wanted.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

use imbl::OrdMap;

use crate::book::Book;
use crate::graph::Graph;
use crate::ledger::{Ledger, Stamp, stamp_of};
use crate::packed::{Unpacker, put_block, put_numbers};
use crate::table::Table;

/// What was left, its graph still unread.
pub(crate) struct Closed {
    file: File,
    path: PathBuf,
    graph_at: u64,
}

const MAGIC: &[u8; 8] = b"TBCLOSE2";
/// The hash of a part, and how long the part is.
const HEAD: usize = 32 + 8;

impl Closed {
    /// Writes it, by a temporary file beside it and a rename, and gives it as [`Closed::read`] would.
    ///
    /// # Errors
    /// When it can't be written, or something is not in the ledger.
    pub(crate) fn write(
        path: &Path,
        made_by: &str,
        generation: u64,
        ledger: &Ledger,
        (book, lasting): (&Book, &OrdMap<u64, u64>),
        graph: &mut Graph,
    ) -> io::Result<Self> {
        let table = book.packed().ok_or(io::ErrorKind::InvalidInput)?;
        let mut first = MAGIC.to_vec();
        put_block(&mut first, made_by.as_bytes());
        first.extend(generation.to_le_bytes());
        ledger.stamp().iter().for_each(|number| first.extend(number.to_le_bytes()));
        first.extend((ledger.n_lines as u64).to_le_bytes());
        table.pack(&mut first);
        put_numbers(&mut first, &[u32::try_from(book.unreadable.len()).unwrap_or(u32::MAX)]);
        for (path, why) in &book.unreadable {
            put_block(&mut first, path.as_bytes());
            put_block(&mut first, why.as_bytes());
        }
        let pairs = lasting.iter().flat_map(|(hash, at)| [*hash, *at]);
        put_block(&mut first, &pairs.flat_map(u64::to_le_bytes).collect::<Vec<u8>>());
        let mut second = Vec::new();
        graph.write(&mut second);
        let graph_at = (HEAD + first.len()) as u64;
        let mut bytes = Vec::with_capacity(2 * HEAD + first.len() + second.len());
        for part in [first, second] {
            bytes.extend(blake3::hash(&part).as_bytes());
            put_block(&mut bytes, &part);
        }
        let written = replace(path, &bytes);
        written.map(|file| Self { file, path: path.to_owned(), graph_at })
    }

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
        let mut file = File::open(path)?;
        let part = next_part(&mut file)?;
        let graph_at = (HEAD + part.len()) as u64;
        let other = || io::Error::new(io::ErrorKind::InvalidData, "it is of another state");
        let mut from = Unpacker::of(&part);
        if from.bytes(MAGIC.len())? != MAGIC || from.block()? != made_by.as_bytes() {
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
        let mut book = Book::of(Table::unpack(&mut from)?);
        for _ in 0..from.numbers()?.first().copied().unwrap_or_default() {
            let path = from.text()?.into();
            book.unreadable.insert(path, from.text()?.into());
        }
        let mut pairs = Unpacker::of(from.block()?);
        let lasting = std::iter::from_fn(|| Some((pairs.u64().ok()?, pairs.u64().ok()?))).collect();
        let ledger = Ledger::reopen(ledger, n_lines)?;
        Ok((Self { file, path: path.to_owned(), graph_at }, ledger, book, lasting))
    }

    /// Reads the graph.
    ///
    /// # Errors
    /// When it can't be read, or is not whole.
    pub(crate) fn graph(&self) -> io::Result<Graph> {
        let mut from = At { file: &self.file, at: self.graph_at };
        let part = next_part(&mut from)?;
        Graph::read(&mut Unpacker::of(&part))
    }

    /// Takes it away.
    pub(crate) fn discard(&self) {
        discard(&self.path);
    }
}

/// Writes a file in place of the one that may be there, which stays until the other is whole; gives it to read.
pub(crate) fn replace(path: &Path, bytes: &[u8]) -> io::Result<File> {
    let fresh = path.with_extension("fresh");
    let written = std::fs::write(&fresh, bytes)
        .and_then(|()| File::open(&fresh))
        .and_then(|file| std::fs::rename(&fresh, path).map(|()| file));
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

/// Reads a part behind its head.
fn next_part(from: &mut impl Read) -> io::Result<Vec<u8>> {
    let mut head = [0; HEAD];
    from.read_exact(&mut head)?;
    let (hash, mut length) = (&head[..32], [0; 8]);
    length.copy_from_slice(&head[32..]);
    let length = u64::from_le_bytes(length);
    let mut part = Vec::new();
    from.take(length).read_to_end(&mut part)?;
    if part.len() as u64 != length || blake3::hash(&part).as_bytes() != hash {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "it is damaged"));
    }
    Ok(part)
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
