//! The entries of a manifest: most are packed as its file has them, with what has changed since beside them.
//!
//! A hundred thousand are read and kept in one piece of some 11 MB that way, and not in as many pieces as there are
//! records.

use std::collections::{BTreeMap, btree_map};
use std::fs::Metadata;
use std::iter::Peekable;
use std::ops::{Bound, Range};
use std::sync::Arc;

use crate::RecordPath;
use crate::manifest::{Entry, State};
use crate::packed::Packed;

/// What is known of each path, in order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entries {
    packed: Arc<Packed>,
    /// For each that is packed the last scan that came past it.
    seen: Vec<u32>,
    /// What is there instead of what is packed; nothing where it is gone.
    changed: BTreeMap<RecordPath, Option<Entry>>,
}

/// One entry where it is.
pub(crate) enum Known<'a> {
    Packed(&'a Entries, usize),
    Changed(&'a RecordPath, &'a Entry),
}

/// Of a list in order, so many packed entries are passed over one by one, then what is wanted is sought.
const MOST_BETWEEN: usize = 8;

impl Entries {
    /// Takes what is packed; no scan came past any of it.
    pub(crate) fn of(packed: Packed) -> Self {
        let seen = vec![0; packed.len()];
        Self { packed: Arc::new(packed), seen, changed: BTreeMap::new() }
    }

    /// Packs all of it with the caller's word.
    pub(crate) fn pack(&mut self, word: &str) -> Arc<Packed> {
        let n_bytes = self.changed.keys().map(|path| path.as_str().len()).sum::<usize>();
        let size = (self.packed.len() + self.changed.len(), self.packed.n_text_bytes() + n_bytes);
        let packed = Packed::of(word, size, self.iter().map(|known| (known.path(), known.state())));
        self.seen = self.iter().map(|known| known.seen()).collect();
        self.packed = Arc::new(packed);
        self.changed = BTreeMap::new();
        self.packed.clone()
    }

    pub(crate) fn get(&self, path: &str) -> Option<Entry> {
        if let Some(changed) = self.changed.get(path) {
            return changed.clone();
        }
        let row = self.packed.row(path)?;
        Some(Entry { state: self.packed.state(row), seen: self.seen[row] })
    }

    /// Puts an entry in place of the one with its path.
    pub(crate) fn put(&mut self, path: RecordPath, entry: Entry) {
        self.changed.insert(path, Some(entry));
    }

    pub(crate) fn remove(&mut self, path: &RecordPath) {
        if self.packed.row(path.as_str()).is_some() {
            self.changed.insert(path.clone(), None);
        } else {
            self.changed.remove(path);
        }
    }

    /// Notes that a scan came past an entry, if there is one.
    pub(crate) fn see(&mut self, path: &str, scan: u32) {
        if let Some(changed) = self.changed.get_mut(path) {
            changed.iter_mut().for_each(|entry| entry.seen = scan);
        } else if let Some(row) = self.packed.row(path) {
            self.seen[row] = scan;
        }
    }

    /// Says of each of these files, which are in order, whether it is known under its stat beyond doubt; it then counts
    /// as seen by this scan.
    ///
    /// What is packed is in order too, so that most are found behind the one before.
    pub(crate) fn stand<'a>(
        &mut self,
        files: impl Iterator<Item = Option<(&'a str, &'a Metadata)>>,
        scan: u32,
    ) -> Vec<bool> {
        let mut at = 0;
        let mut stands = |(path, metadata)| {
            if let Some(changed) = self.changed.get_mut(path) {
                return changed
                    .as_mut()
                    .is_some_and(|entry: &mut Entry| entry.stands(metadata, scan));
            }
            let Some(row) = find(&self.packed, path, &mut at) else { return false };
            let stands = self.packed.stands(row, metadata);
            if stands {
                self.seen[row] = scan;
            }
            stands
        };
        files.map(|file| file.is_some_and(&mut stands)).collect()
    }

    /// All entries in the order of their paths.
    pub(crate) fn iter(&self) -> impl Iterator<Item = Known<'_>> {
        self.merged(0..self.packed.len(), self.changed.range::<str, _>(..))
    }

    /// What is below a folder, in order.
    pub(crate) fn below(&self, folder: &str) -> impl Iterator<Item = Known<'_>> {
        // `0` follows `/` in ASCII, so this is all that begins with the path and a `/`.
        let (from, to) = (format!("{folder}/"), format!("{folder}0"));
        let rows = self.packed.seek(&from, 0)..self.packed.seek(&to, 0);
        let below = (Bound::Included(&*from), Bound::Excluded(&*to));
        self.merged(rows, self.changed.range::<str, _>(below))
    }

    fn merged<'a>(
        &'a self,
        rows: Range<usize>,
        changed: btree_map::Range<'a, RecordPath, Option<Entry>>,
    ) -> impl Iterator<Item = Known<'a>> {
        let (mut rows, mut changed) = (rows.peekable(), changed.peekable());
        std::iter::from_fn(move || {
            loop {
                let is_changed_next = match (rows.peek(), changed.peek()) {
                    (_, None) => false,
                    (None, Some(_)) => true,
                    (Some(row), Some((path, _))) => path.as_str() <= self.packed.path(*row),
                };
                if !is_changed_next {
                    return rows.next().map(|row| Known::Packed(self, row));
                }
                if let Some((path, Some(entry))) = self.next_changed(&mut rows, &mut changed) {
                    return Some(Known::Changed(path, entry));
                }
            }
        })
    }

    /// Takes the next of what has changed, and passes over what is packed of the same path.
    fn next_changed<'a>(
        &self,
        rows: &mut Peekable<Range<usize>>,
        changed: &mut Peekable<btree_map::Range<'a, RecordPath, Option<Entry>>>,
    ) -> Option<(&'a RecordPath, &'a Option<Entry>)> {
        let (path, entry) = changed.next()?;
        rows.next_if(|row| self.packed.path(*row) == path.as_str());
        Some((path, entry))
    }
}

/// Finds the row of a path that is sought at or behind a place, which then is behind it.
fn find(packed: &Packed, path: &str, at: &mut usize) -> Option<usize> {
    let is_before = |row: usize| row < packed.len() && packed.path(row) < path;
    // What is below the folders of a folder stands between its files.
    let most = *at + MOST_BETWEEN;
    while *at < most && is_before(*at) {
        *at += 1;
    }
    if is_before(*at) {
        *at = packed.seek(path, *at);
    }
    let is_there = *at < packed.len() && packed.path(*at) == path;
    is_there.then(|| {
        *at += 1;
        *at - 1
    })
}

impl<'a> Known<'a> {
    pub(crate) fn path(&self) -> &'a str {
        match *self {
            Known::Packed(entries, row) => entries.packed.path(row),
            Known::Changed(path, _) => path.as_str(),
        }
    }

    pub(crate) fn state(&self) -> State {
        match self {
            Known::Packed(entries, row) => entries.packed.state(*row),
            Known::Changed(_, entry) => entry.state.clone(),
        }
    }

    pub(crate) fn seen(&self) -> u32 {
        match self {
            Known::Packed(entries, row) => entries.seen[*row],
            Known::Changed(_, entry) => entry.seen,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Key;

    const PATHS: [&str; 9] = [
        "a.md",
        "a/b.md",
        "a/c/d.md",
        "a/c0.md",
        "a-b.md",
        "a0.md",
        "b.md",
        "größe.md",
        "shop.yaml",
    ];

    fn state(n: u64) -> State {
        if n.is_multiple_of(5) {
            return State::Unreadable { why: format!("reason {n}").into() };
        }
        let key = Key { device: 1, inode: n, size: 2, mtime_ns: 3, ctime_ns: -4, hash: [7; 32] };
        State::Read { key, fresh: n.is_multiple_of(3) }
    }

    /// Entries are as a plain map of them is, whenever they are packed.
    #[test]
    fn entries_are_alike_whether_they_are_packed_or_not() {
        for every in [1, 2, 7, 1000] {
            let (mut entries, mut plain) = (Entries::default(), BTreeMap::new());
            let mut dice = 1_u64;
            for step in 0..1000 {
                dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                let (n, scan) = (dice >> 33, u32::try_from(step).unwrap());
                let text = PATHS[usize::try_from(n).unwrap() % PATHS.len()];
                let path = RecordPath::new(text).unwrap();
                match n / 16 % 4 {
                    0 => {
                        entries.remove(&path);
                        plain.remove(text);
                    }
                    1 => {
                        entries.see(text, scan);
                        plain.entry(text).and_modify(|(_, seen)| *seen = scan);
                    }
                    _ => {
                        entries.put(path, Entry { state: state(n), seen: scan });
                        plain.insert(text, (state(n), scan));
                    }
                }
                if step % every == 0 {
                    entries.pack("");
                }
                for text in PATHS {
                    let found = entries.get(text).map(|entry| (entry.state, entry.seen));
                    assert_eq!(found, plain.get(text).cloned(), "{text} at {step}");
                }
                let all = |known: Known| (known.path().to_owned(), (known.state(), known.seen()));
                let copy = plain.iter().map(|(path, entry)| ((*path).to_owned(), entry.clone()));
                assert!(entries.iter().map(all).eq(copy.clone()), "at {step}");
                let below = copy.filter(|(path, _)| path.starts_with("a/c/") || path == "a/c");
                assert!(entries.below("a/c").map(all).eq(below), "at {step}");
            }
        }
    }
}
