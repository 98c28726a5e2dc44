//! Most entries, packed into a few arrays: in the order of their ids, never changed, written to a file and read back
//! as they are.
//!
//! A hundred thousand of them take some 17 MB and are read back in a few milliseconds, since an entry is made of its
//! row only when it is wanted.

use std::cmp::Ordering;
use std::io::{self, Read, Write};

use taperbook_record::Kind;

use crate::entry::{Entry, StoredKind, Told, stem};
use crate::packed::{Unpacker, put_block, put_numbers};

/// Entries in the order of their ids.
#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    /// [`ROW`] bytes for each entry, see [`Row`].
    rows: Vec<u8>,
    /// Id, title and blank of each entry, one behind the other.
    heap: String,
    /// The rows by the last name of their ids, equals in order.
    by_stem: Vec<u32>,
    /// The rows that name a blank, by that name, equals in order.
    by_blank: Vec<u32>,
    /// The rows by kind, equals in order.
    by_kind: Vec<u32>,
    /// The row of each flag, in order, a row once for each of its flags.
    flagged: Vec<u32>,
    /// For each of those the place of its name among the names.
    flags: Vec<u32>,
    /// The names of all flags that are raised, one a line.
    names: String,
}

const KINDS: [StoredKind; 6] = [
    StoredKind::Blank,
    StoredKind::Build,
    StoredKind::Fitting,
    StoredKind::Offcut,
    StoredKind::Shop,
    StoredKind::Note,
];

/// How many bytes a row has: four numbers of 4, kind and whether it was examined of 1, a number of 4, one of 8,
/// content of 32, fingerprint of 16.
const ROW: usize = 16 + 2 + 4 + 8 + 32 + 16;
/// Where in a row its kind is, and all that follows.
const KIND: usize = 16;
const EXAMINED: usize = 17;
const PROBLEMS: usize = 18;
const TOLD: usize = 22;
const CONTENT: usize = 30;
const FINGERPRINT: usize = 62;
/// The length of a blank that is not named.
const NO_BLANK: u32 = u32::MAX;

/// What is counted of a table.
#[derive(Default)]
pub(crate) struct Counted<'a> {
    /// How often each flag is raised.
    pub(crate) n_of_flag: Vec<(&'a str, usize)>,
    pub(crate) n_problems: usize,
    pub(crate) n_unexamined: usize,
    /// The rows with problems or flags, in order.
    pub(crate) rows_at_fault: Vec<usize>,
}

/// The texts of a row.
struct Texts<'a> {
    id: &'a str,
    title: &'a str,
    blank: Option<&'a str>,
}

impl Table {
    /// Packs entries that come in the order of their ids, and whose details are in the ledger; gives `None` where one's are not, or
    /// where there are more than fit.
    pub(crate) fn of(entries: impl Iterator<Item = std::sync::Arc<Entry>>) -> Option<Self> {
        let mut table = Self::default();
        for entry in entries {
            table.push(&entry)?;
        }
        let n = u32::try_from(table.len()).ok()?;
        let stem_of = |row: &u32| stem(table.id(*row as usize));
        let mut by_stem: Vec<u32> = (0..n).collect();
        by_stem.sort_by(|a, b| stem_of(a).cmp(stem_of(b)));
        let mut by_blank: Vec<u32> =
            (0..n).filter(|row| table.texts(*row as usize).blank.is_some()).collect();
        let blank_of = |row: &u32| table.texts(*row as usize).blank;
        by_blank.sort_by(|a, b| blank_of(a).cmp(&blank_of(b)));
        let mut by_kind: Vec<u32> = (0..n).collect();
        by_kind.sort_by_key(|row| table.kind(*row as usize));
        Some(Self { by_stem, by_blank, by_kind, ..table })
    }

    fn push(&mut self, entry: &Entry) -> Option<()> {
        let Told::At(told) = entry.told else { return None };
        let row = u32::try_from(self.len()).ok()?;
        for flag in &entry.flags {
            let name = self.place_of(flag)?;
            self.flagged.push(row);
            self.flags.push(name);
        }
        let len = |text: &str| u32::try_from(text.len()).ok();
        let blank = entry.blank.as_deref();
        for number in [
            u32::try_from(self.heap.len()).ok()?,
            len(&entry.id)?,
            len(&entry.title)?,
            blank.map_or(Some(NO_BLANK), len)?,
        ] {
            self.rows.extend(number.to_le_bytes());
        }
        let kind = KINDS.iter().position(|kind| *kind == entry.kind)?;
        self.rows.push(u8::try_from(kind).ok()?);
        self.rows.push(u8::from(entry.examined));
        self.rows.extend(entry.n_problems.to_le_bytes());
        self.rows.extend(told.to_le_bytes());
        self.rows.extend(entry.content);
        self.rows.extend(entry.fingerprint);
        self.heap.push_str(&entry.id);
        self.heap.push_str(&entry.title);
        self.heap.push_str(blank.unwrap_or_default());
        Some(())
    }

    /// The place of a flag's name among the names, at their end if it is new.
    fn place_of(&mut self, flag: &str) -> Option<u32> {
        let known = self.names.lines().position(|name| name == flag);
        let place = known.unwrap_or_else(|| {
            self.names.push_str(flag);
            self.names.push('\n');
            self.names.lines().count() - 1
        });
        u32::try_from(place).ok()
    }

    pub(crate) fn len(&self) -> usize {
        self.rows.len() / ROW
    }

    /// The row of an id.
    pub(crate) fn row(&self, id: &str) -> Option<usize> {
        let (mut from, mut to) = (0, self.len());
        while from < to {
            let middle = from.midpoint(to);
            match self.id(middle).cmp(id) {
                Ordering::Less => from = middle + 1,
                Ordering::Equal => return Some(middle),
                Ordering::Greater => to = middle,
            }
        }
        None
    }

    pub(crate) fn id(&self, row: usize) -> &str {
        self.texts(row).id
    }

    /// Counts what a book counts, in one go.
    pub(crate) fn count(&self) -> Counted<'_> {
        let mut counted = Counted::default();
        let names: Vec<&str> = self.names.lines().collect();
        let mut n_of_name = vec![0; names.len()];
        self.flags.iter().for_each(|name| n_of_name[*name as usize] += 1);
        counted.n_of_flag = names.into_iter().zip(n_of_name).collect();
        let mut flagged = self.flagged.iter().map(|row| *row as usize).peekable();
        for row in 0..self.len() {
            let mut is_at_fault = false;
            while flagged.next_if(|flagged| *flagged == row).is_some() {
                is_at_fault = true;
            }
            let n_problems = self.u32(row, PROBLEMS) as usize;
            counted.n_problems += n_problems;
            counted.n_unexamined += usize::from(!self.is_examined(row));
            if is_at_fault || n_problems != 0 {
                counted.rows_at_fault.push(row);
            }
        }
        counted
    }

    /// The names of the flags of a row, in their order.
    fn flags(&self, row: usize) -> impl Iterator<Item = &str> {
        let from = self.flagged.partition_point(|flagged| (*flagged as usize) < row);
        let of_row = self.flagged[from..].iter().zip(&self.flags[from..]);
        of_row
            .take_while(move |(flagged, _)| **flagged as usize == row)
            .filter_map(|(_, name)| self.names.lines().nth(*name as usize))
    }

    fn is_examined(&self, row: usize) -> bool {
        self.rows[row * ROW + EXAMINED] != 0
    }

    /// Makes the entry of a row.
    pub(crate) fn entry(&self, row: usize) -> Entry {
        let Texts { id, title, blank } = self.texts(row);
        Entry {
            id: id.into(),
            kind: self.kind(row),
            title: title.into(),
            blank: blank.map(Into::into),
            content: self.array(row, CONTENT),
            fingerprint: self.array(row, FINGERPRINT),
            n_problems: self.u32(row, PROBLEMS),
            flags: self.flags(row).map(Into::into).collect(),
            examined: self.is_examined(row),
            told: Told::At(u64::from_le_bytes(self.array(row, TOLD))),
        }
    }

    /// The rows whose last name is this one, in order.
    pub(crate) fn with_stem(&self, name: &str) -> &[u32] {
        equal(&self.by_stem, |row| stem(self.id(row)).cmp(name))
    }

    /// The rows of builds whose `blank:` says this, in order.
    pub(crate) fn with_blank(&self, name: &str) -> &[u32] {
        equal(&self.by_blank, |row| self.texts(row).blank.cmp(&Some(name)))
    }

    /// The rows of a kind, in order.
    pub(crate) fn of_kind(&self, kind: Kind) -> &[u32] {
        let kind: StoredKind = kind.into();
        equal(&self.by_kind, |row| self.kind(row).cmp(&kind))
    }

    fn kind(&self, row: usize) -> StoredKind {
        let kind = usize::from(self.rows[row * ROW + KIND]);
        KINDS.get(kind).copied().unwrap_or(StoredKind::Note)
    }

    fn texts(&self, row: usize) -> Texts<'_> {
        let len = |at: usize| self.u32(row, 4 * at) as usize;
        let (from, title) = (len(0), len(0) + len(1));
        let blank = title + len(2);
        Texts {
            id: &self.heap[from..title],
            title: &self.heap[title..blank],
            blank: (self.u32(row, 12) != NO_BLANK).then(|| &self.heap[blank..blank + len(3)]),
        }
    }

    fn u32(&self, row: usize, at: usize) -> u32 {
        u32::from_le_bytes(self.array(row, at))
    }

    fn array<const N: usize>(&self, row: usize, at: usize) -> [u8; N] {
        let mut array = [0; N];
        array.copy_from_slice(&self.rows[row * ROW + at..row * ROW + at + N]);
        array
    }

    /// Writes it.
    pub(crate) fn pack(&self, out: &mut impl Write) -> io::Result<()> {
        put_block(out, &self.rows)?;
        put_block(out, self.heap.as_bytes())?;
        for rows in [&self.by_stem, &self.by_blank, &self.by_kind, &self.flagged, &self.flags] {
            put_numbers(out, rows)?;
        }
        put_block(out, self.names.as_bytes())
    }

    /// Reads what [`Table::pack`] wrote; that it is whole is the caller's to know.
    ///
    /// # Errors
    /// When it is something else.
    pub(crate) fn unpack(from: &mut Unpacker<impl Read>) -> io::Result<Self> {
        Ok(Self {
            rows: from.block()?,
            heap: from.text()?,
            by_stem: from.numbers()?,
            by_blank: from.numbers()?,
            by_kind: from.numbers()?,
            flagged: from.numbers()?,
            flags: from.numbers()?,
            names: from.text()?,
        })
    }
}

/// Those of an order that compare as equal.
fn equal(order: &[u32], compare: impl Fn(usize) -> Ordering) -> &[u32] {
    let from = order.partition_point(|row| compare(*row as usize).is_lt());
    let n = order[from..].partition_point(|row| compare(*row as usize).is_eq());
    &order[from..from + n]
}
