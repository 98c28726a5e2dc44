//! The entries of a manifest, packed into bytes as they are in its file: in the order of their paths, never changed.
//!
//! Layout, all numbers little-endian: `TBMF`, format number (4 bytes), the length of the caller's word (8) and the
//! word, number of entries (8), a row for each, and the texts of all rows one behind the other.
//! A row is: where its texts end among all (8), its kind (1), device, inode, size, mtime, ctime (8 each) and hash (32).
//! The text of a record is its path. That of what can't be read is its path and the reason, and its device is the
//! length of the path, all other numbers being 0.

use std::fs::Metadata;
use std::ops::Range;

use crate::Key;
use crate::manifest::{Stat, State};

const MAGIC: &[u8; 4] = b"TBMF";
pub(crate) const FORMAT: u32 = 3;
/// How long the head is with no word in it.
const HEAD: usize = 4 + 4 + 8 + 8;

const ROW: usize = 8 + 1 + 5 * 8 + 32;
/// Where in a row its kind is, and what follows.
const KIND: usize = 8;
const NUMBERS: usize = 9;
const HASH: usize = NUMBERS + 5 * 8;

const READ: u8 = 0;
const READ_FRESH: u8 = 1;
const UNREADABLE: u8 = 2;

/// Entries in the order of their paths.
#[derive(Debug)]
pub(crate) struct Packed {
    bytes: Vec<u8>,
    rows_at: usize,
    n_rows: usize,
    texts_at: usize,
}

/// Why bytes are no entries.
pub(crate) enum Fault {
    Damaged(&'static str),
    OtherFormat(u32),
}

impl Packed {
    /// Packs entries that come in the order of their paths, with the caller's word; `n_rows` and `n_bytes` say how many
    /// there are at most, and how long their texts are about.
    pub(crate) fn of<'a>(
        word: &str,
        (n_rows, n_bytes): (usize, usize),
        entries: impl Iterator<Item = (&'a str, State)>,
    ) -> Self {
        let mut bytes = Vec::with_capacity(HEAD + word.len() + n_rows * ROW + n_bytes);
        bytes.extend(MAGIC);
        bytes.extend(FORMAT.to_le_bytes());
        bytes.extend((word.len() as u64).to_le_bytes());
        bytes.extend(word.as_bytes());
        let count_at = bytes.len();
        bytes.extend([0; 8]);
        let rows_at = bytes.len();
        let mut texts = Vec::with_capacity(n_bytes);
        for (path, state) in entries {
            push_row(&mut bytes, &mut texts, path, &state);
        }
        let texts_at = bytes.len();
        let n_rows = (texts_at - rows_at) / ROW;
        bytes[count_at..rows_at].copy_from_slice(&(n_rows as u64).to_le_bytes());
        bytes.extend(texts);
        Self { bytes, rows_at, n_rows, texts_at }
    }

    /// Takes bytes that were packed, whose checksum was compared; gives the caller's word too.
    pub(crate) fn from_bytes(bytes: Vec<u8>) -> Result<(Self, String), Fault> {
        let end = || Fault::Damaged("it ends too early");
        let number = |at: usize| Some(u64::from_le_bytes(*bytes.get(at..)?.first_chunk()?));
        let length = |at: usize| number(at).and_then(|number| usize::try_from(number).ok());
        let word_at = HEAD - 8;
        let word =
            length(8).and_then(|length| bytes.get(word_at..)?.get(..length)).ok_or_else(end)?;
        let rows_at = HEAD + word.len();
        let n_rows = length(rows_at - 8).ok_or_else(end)?;
        let texts_at = n_rows.checked_mul(ROW).and_then(|rows| rows.checked_add(rows_at));
        let texts_at = texts_at.filter(|at| *at <= bytes.len()).ok_or_else(end)?;
        let word = String::from_utf8_lossy(word).into_owned();
        let packed = Self { rows_at, n_rows, texts_at, bytes };
        packed.check()?;
        Ok((packed, word))
    }

    /// Finds out whether the rows lead to texts.
    fn check(&self) -> Result<(), Fault> {
        let bad = |what| Err(Fault::Damaged(what));
        let Ok(texts) = std::str::from_utf8(&self.bytes[self.texts_at..]) else {
            return bad("it holds a path that is none");
        };
        let mut before = 0;
        for row in 0..self.n_rows {
            let end = self.end(row);
            if end < before || !texts.is_char_boundary(end) {
                return bad("it holds a path that is none");
            }
            let is_good = match self.kind(row) {
                READ | READ_FRESH => true,
                UNREADABLE => {
                    let path_end = usize::try_from(self.number(row, 0)).ok();
                    let path_end = path_end.and_then(|length| before.checked_add(length));
                    path_end.is_some_and(|at| at <= end && texts.is_char_boundary(at))
                }
                _ => return bad("it holds an entry of an unknown kind"),
            };
            if !is_good {
                return bad("it holds a path that is none");
            }
            before = end;
        }
        if before != texts.len() {
            return bad("something follows its last entry");
        }
        Ok(())
    }

    /// Looks at the head of what may be packed.
    pub(crate) fn check_head(bytes: &[u8]) -> Result<(), Fault> {
        let Some((magic, rest)) = bytes.split_first_chunk::<4>() else {
            return Err(Fault::Damaged("it ends too early"));
        };
        if magic != MAGIC {
            return Err(Fault::Damaged("it does not begin as a manifest does"));
        }
        match rest.first_chunk().map(|format| u32::from_le_bytes(*format)) {
            None => Err(Fault::Damaged("it ends too early")),
            Some(FORMAT) => Ok(()),
            Some(format) => Err(Fault::OtherFormat(format)),
        }
    }

    pub(crate) fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    pub(crate) fn len(&self) -> usize {
        self.n_rows
    }

    /// How long the texts of all rows are.
    pub(crate) fn n_text_bytes(&self) -> usize {
        self.bytes.len() - self.texts_at
    }

    /// The first row whose path is not less than this one, at or behind a row.
    pub(crate) fn seek(&self, path: &str, from: usize) -> usize {
        let (mut from, mut to) = (from, self.n_rows);
        while from < to {
            let middle = from.midpoint(to);
            if self.path(middle) < path {
                from = middle + 1;
            } else {
                to = middle;
            }
        }
        from
    }

    /// The row of a path.
    pub(crate) fn row(&self, path: &str) -> Option<usize> {
        let row = self.seek(path, 0);
        (row < self.n_rows && self.path(row) == path).then_some(row)
    }

    pub(crate) fn path(&self, row: usize) -> &str {
        let Range { start, end } = self.range(row);
        let end = match self.kind(row) {
            UNREADABLE => usize::try_from(self.number(row, 0)).map_or(end, |length| start + length),
            _ => end,
        };
        self.text(start..end)
    }

    pub(crate) fn state(&self, row: usize) -> State {
        match self.kind(row) {
            UNREADABLE => {
                let why_at = self.range(row).start + self.path(row).len();
                State::Unreadable { why: self.text(why_at..self.end(row)).into() }
            }
            kind => {
                let Stat { device, inode, size, mtime_ns, ctime_ns } = self.stat(row);
                let hash = self.array(row, HASH);
                let key = Key { device, inode, size, mtime_ns, ctime_ns, hash };
                State::Read { key, fresh: kind == READ_FRESH }
            }
        }
    }

    /// Whether a row is of a regular file that looks like this, beyond doubt.
    pub(crate) fn stands(&self, row: usize, metadata: &Metadata) -> bool {
        metadata.is_file() && self.kind(row) == READ && self.stat(row) == Stat::new(metadata)
    }

    fn stat(&self, row: usize) -> Stat {
        Stat {
            device: self.number(row, 0),
            inode: self.number(row, 1),
            size: self.number(row, 2),
            mtime_ns: self.number(row, 3).cast_signed(),
            ctime_ns: self.number(row, 4).cast_signed(),
        }
    }

    fn range(&self, row: usize) -> Range<usize> {
        row.checked_sub(1).map_or(0, |before| self.end(before))..self.end(row)
    }

    fn end(&self, row: usize) -> usize {
        usize::try_from(u64::from_le_bytes(self.array(row, 0))).unwrap_or(usize::MAX)
    }

    fn kind(&self, row: usize) -> u8 {
        self.bytes[self.rows_at + row * ROW + KIND]
    }

    fn number(&self, row: usize, n: usize) -> u64 {
        u64::from_le_bytes(self.array(row, NUMBERS + 8 * n))
    }

    fn array<const N: usize>(&self, row: usize, at: usize) -> [u8; N] {
        let from = self.rows_at + row * ROW + at;
        let mut array = [0; N];
        array.copy_from_slice(&self.bytes[from..from + N]);
        array
    }

    /// Some of the texts, whose ends were checked when they were read, or were put there.
    fn text(&self, range: Range<usize>) -> &str {
        std::str::from_utf8(&self.bytes[self.texts_at..][range]).unwrap_or_default()
    }
}

fn push_row(rows: &mut Vec<u8>, texts: &mut Vec<u8>, path: &str, state: &State) {
    texts.extend(path.as_bytes());
    let (kind, numbers, hash) = match state {
        State::Read { key, fresh } => {
            let times = [key.mtime_ns.cast_unsigned(), key.ctime_ns.cast_unsigned()];
            let numbers = [key.device, key.inode, key.size, times[0], times[1]];
            (if *fresh { READ_FRESH } else { READ }, numbers, key.hash)
        }
        State::Unreadable { why } => {
            texts.extend(why.as_bytes());
            (UNREADABLE, [path.len() as u64, 0, 0, 0, 0], [0; 32])
        }
    };
    rows.extend((texts.len() as u64).to_le_bytes());
    rows.push(kind);
    numbers.iter().for_each(|number| rows.extend(number.to_le_bytes()));
    rows.extend(hash);
}

impl Default for Packed {
    fn default() -> Self {
        Self::of("", (0, 0), std::iter::empty())
    }
}
