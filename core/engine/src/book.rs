//! The entries of all records and the ways to find them; a copy is cheap, so that a snapshot can hold one.
//!
//! Most are packed in a [`Table`]; what has changed since it was made is beside it.

use std::cmp::Ordering;
use std::collections::BTreeSet;
use std::sync::Arc;

use imbl::{HashMap, OrdMap, OrdSet};
use taperbook_record::Kind;

use crate::entry::{Entry, Told, stem};
use crate::table::Table;

type Ids = OrdSet<Arc<str>>;

/// The entries of all records.
#[derive(Debug, Clone, Default)]
pub(crate) struct Book {
    table: Arc<Table>,
    /// The rows of the table that have problems or flags, in order.
    rows_at_fault: Arc<[usize]>,
    /// What is there instead of what the table has; nothing where the record is gone.
    changed: OrdMap<Arc<str>, Option<Arc<Entry>>>,
    // Of what has changed and is not gone.
    by_stem: HashMap<Arc<str>, Ids>,
    by_kind: HashMap<Kind, Ids>,
    /// Builds by what their `blank:` says, to the letter.
    by_blank: HashMap<Arc<str>, Ids>,
    /// Paths that could not be read, and why.
    pub(crate) unreadable: OrdMap<Arc<str>, Arc<str>>,
    n_records: usize,
    pub(crate) n_problems: usize,
    /// How often each flag is raised.
    n_of_flag: OrdMap<Arc<str>, usize>,
    pub(crate) n_unexamined: usize,
}

/// What a name leads to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Named {
    One(Arc<Entry>),
    Several(Vec<String>),
    None(Vec<String>),
}

/// What a build's `blank` may lead to.
const CARDS: [Kind; 2] = [Kind::Blank, Kind::Offcut];

/// What has changed is packed when it is more than this, and a fourth of all.
const LEAST_PACKED: usize = 2048;

impl Book {
    /// Makes a book of what is packed.
    pub(crate) fn of(table: Table) -> Self {
        let counted = table.count();
        Self {
            n_of_flag: counted.n_of_flag.iter().map(|(flag, n)| (Arc::from(*flag), *n)).collect(),
            n_records: table.len(),
            n_problems: counted.n_problems,
            n_unexamined: counted.n_unexamined,
            rows_at_fault: counted.rows_at_fault.into(),
            table: Arc::new(table),
            ..Self::default()
        }
    }

    pub(crate) fn get(&self, id: &str) -> Option<Arc<Entry>> {
        match self.changed.get(id) {
            Some(entry) => entry.clone(),
            None => self.table.row(id).map(|row| Arc::new(self.table.entry(row))),
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.n_records
    }

    /// All entries in the order of their ids.
    pub(crate) fn iter(&self) -> impl Iterator<Item = Arc<Entry>> {
        self.merged(0..self.table.len())
    }

    /// Those that have problems or flags; the others cost nothing.
    pub(crate) fn at_fault(&self) -> impl Iterator<Item = Arc<Entry>> {
        self.merged(self.rows_at_fault.iter().copied()).filter(|entry| entry.is_at_fault())
    }

    /// How often each flag is raised, of those that are.
    pub(crate) fn n_of_flag(&self) -> impl Iterator<Item = (&str, usize)> {
        self.n_of_flag.iter().map(|(flag, n)| (&**flag, *n))
    }

    /// Some rows of the table in order, with all that has changed in its place.
    fn merged(&self, rows: impl Iterator<Item = usize>) -> impl Iterator<Item = Arc<Entry>> {
        let mut rows = rows.peekable();
        let mut changed = self.changed.iter().peekable();
        std::iter::from_fn(move || {
            loop {
                let order = match (rows.peek(), changed.peek()) {
                    (None, None) => return None,
                    (Some(_), None) => Ordering::Less,
                    (None, Some(_)) => Ordering::Greater,
                    (Some(row), Some((id, _))) => self.table.id(*row).cmp(id),
                };
                let row = if order.is_le() { rows.next() } else { None };
                if order.is_lt() {
                    return row.map(|row| Arc::new(self.table.entry(row)));
                }
                if let Some((_, Some(entry))) = changed.next() {
                    return Some(entry.clone());
                }
            }
        })
    }

    /// The ids of the entries that no plugin has seen as they are, in order.
    pub(crate) fn unexamined(&self) -> Vec<Arc<str>> {
        if self.n_unexamined == 0 {
            return Vec::new();
        }
        self.iter().filter(|entry| !entry.examined).map(|entry| entry.id.clone()).collect()
    }

    /// The entries of a kind in the order of their ids.
    pub(crate) fn of_kind(&self, kind: Kind) -> Vec<Arc<Entry>> {
        self.those(self.table.of_kind(kind), self.by_kind.get(&kind))
    }

    /// The entries whose id ends with this name, in the order of their ids.
    pub(crate) fn with_stem(&self, stem: &str) -> Vec<Arc<Entry>> {
        self.those(self.table.with_stem(stem), self.by_stem.get(stem))
    }

    /// Those of some rows that are as in the table, and of those that have changed.
    fn those(&self, rows: &[u32], changed: Option<&Ids>) -> Vec<Arc<Entry>> {
        let rows = rows.iter().map(|row| *row as usize);
        let mut entries: Vec<Arc<Entry>> = rows
            .filter(|row| {
                self.changed.is_empty() || !self.changed.contains_key(self.table.id(*row))
            })
            .map(|row| Arc::new(self.table.entry(row)))
            .collect();
        if let Some(changed) = changed {
            entries.extend(changed.iter().filter_map(|id| self.changed.get(id)).flatten().cloned());
            entries.sort_by(|a, b| a.id.cmp(&b.id));
        }
        entries
    }

    /// Puts an entry in place of the one with its id.
    pub(crate) fn put(&mut self, entry: Entry) {
        self.remove(&entry.id.clone());
        self.n_records += 1;
        self.n_problems += entry.n_problems as usize;
        for flag in &entry.flags {
            *self.n_of_flag.entry(flag.clone()).or_default() += 1;
        }
        self.n_unexamined += usize::from(!entry.examined);
        add(&mut self.by_stem, entry.stem().into(), &entry.id);
        add(&mut self.by_kind, entry.kind(), &entry.id);
        if let Some(blank) = &entry.blank {
            add(&mut self.by_blank, (&**blank).into(), &entry.id);
        }
        self.changed.insert(entry.id.clone(), Some(Arc::new(entry)));
    }

    /// Takes an entry out.
    pub(crate) fn remove(&mut self, id: &str) -> Option<Arc<Entry>> {
        let entry = self.get(id)?;
        self.n_records -= 1;
        self.n_problems -= entry.n_problems as usize;
        for flag in &entry.flags {
            let left = self.n_of_flag.get(flag).map_or(0, |n| n - 1);
            if left == 0 {
                self.n_of_flag.remove(flag);
            } else {
                self.n_of_flag.insert(flag.clone(), left);
            }
        }
        self.n_unexamined -= usize::from(!entry.examined);
        take(&mut self.by_stem, stem(id), id);
        take(&mut self.by_kind, &entry.kind(), id);
        if let Some(blank) = &entry.blank {
            take(&mut self.by_blank, &**blank, id);
        }
        if self.table.row(id).is_some() {
            self.changed.insert(entry.id.clone(), None);
        } else {
            self.changed.remove(id);
        }
        Some(entry)
    }

    /// Says where the ledger has the details of an entry.
    pub(crate) fn is_told_at(&mut self, id: &str, at: u64) {
        if let Some(Some(entry)) = self.changed.get_mut(id) {
            Arc::make_mut(entry).told = Told::At(at);
        }
    }

    /// Packs what has changed, when it is much.
    pub(crate) fn pack_if_much(&mut self) {
        if LEAST_PACKED.max(self.table.len() / 4) < self.changed.len() {
            self.pack();
        }
    }

    /// Packs what has changed; it stays beside the table where its details are not in the ledger.
    pub(crate) fn pack(&mut self) {
        if self.changed.is_empty() {
            return;
        }
        if let Some(table) = Table::of(self.iter()) {
            let unreadable = std::mem::take(&mut self.unreadable);
            *self = Self { unreadable, ..Self::of(table) };
        }
    }

    /// The table, when it has all there is.
    pub(crate) fn packed(&self) -> Option<&Table> {
        self.changed.is_empty().then_some(&self.table)
    }

    /// What a name in a record leads to: a path without `.md`, or a file's stem, among records of a kind.
    /// A blank may also be an offcut: that is a card of what came off.
    pub(crate) fn resolve(&self, name: &str, kind: Kind) -> Named {
        match kind {
            Kind::Blank => self.named(name, &CARDS),
            kind => self.named(name, &[kind]),
        }
    }

    /// The card that the name of a blank leads to, for who does not ask what else may be meant: names near it are
    /// sought among all cards.
    pub(crate) fn card(&self, name: &str) -> Option<Arc<Entry>> {
        match self.called(name, &CARDS).as_slice() {
            [card] => Some(card.clone()),
            _ => None,
        }
    }

    /// What a name that a person typed leads to: an id, a path or a stem of any kind.
    pub(crate) fn find(&self, typed: &str) -> Named {
        let name = typed.strip_prefix("./").unwrap_or(typed);
        let name = name.strip_suffix(".md").unwrap_or(name);
        self.named(name, &Kind::ALL)
    }

    /// The builds whose `blank:` leads to this card, in the order of their ids.
    pub(crate) fn builds_of(&self, blank: &str) -> Vec<Arc<Entry>> {
        let mut builds = Vec::new();
        for name in names(blank) {
            if self.card(name).is_some_and(|card| &*card.id == blank) {
                builds.extend(self.those(self.table.with_blank(name), self.by_blank.get(name)));
            }
        }
        builds.sort_by(|a, b| a.id.cmp(&b.id));
        builds
    }

    fn named(&self, name: &str, kinds: &[Kind]) -> Named {
        match self.called(name, kinds).as_slice() {
            [] => Named::None(self.near(name, kinds)),
            [entry] => Named::One(entry.clone()),
            several => Named::Several(several.iter().map(|entry| entry.id.to_string()).collect()),
        }
    }

    /// The entries that a name may lead to: the one whose path it is, else those whose last name it is.
    fn called(&self, name: &str, kinds: &[Kind]) -> Vec<Arc<Entry>> {
        let wanted = |entry: &Arc<Entry>| kinds.contains(&entry.kind());
        if let Some(entry) = self.get(name).filter(wanted) {
            return vec![entry];
        }
        // A file in capitals is called by its name without its ending as well.
        if name.contains('/')
            && let Some(entry) = self.get(&format!("{name}{LOUD}")).filter(wanted)
        {
            return vec![entry];
        }
        let mut with_stem = self.with_stem(name);
        with_stem.retain(wanted);
        with_stem
    }

    /// Up to three ids near a name in spelling.
    fn near(&self, name: &str, kinds: &[Kind]) -> Vec<String> {
        let name = stem(name).to_lowercase();
        let mut near: Vec<(f64, Arc<Entry>)> = kinds
            .iter()
            .flat_map(|kind| self.of_kind(*kind))
            .map(|entry| (strsim::jaro_winkler(&name, &entry.stem().to_lowercase()), entry))
            .filter(|(likeness, _)| 0.85 < *likeness)
            .collect();
        near.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.id.cmp(&b.1.id)));
        near.into_iter().take(3).map(|(_, entry)| entry.id.to_string()).collect()
    }
}

/// What a record may be called by in another, if nothing else is called so: its id, its path without an ending in
/// capitals, and the last name of either.
pub(crate) fn names(id: &str) -> BTreeSet<&str> {
    [id, id.strip_suffix(LOUD).unwrap_or(id), stem(id)].into()
}

/// An ending in capitals that may be left out.
const LOUD: &str = ".MD";

fn add<K: std::hash::Hash + Eq + Clone>(map: &mut HashMap<K, Ids>, key: K, id: &Arc<str>) {
    map.entry(key).or_default().insert(id.clone());
}

fn take<K, Q>(map: &mut HashMap<K, Ids>, key: &Q, id: &str)
where
    K: std::hash::Hash + Eq + Clone + std::borrow::Borrow<Q>,
    Q: std::hash::Hash + Eq + ?Sized,
{
    if let Some(ids) = map.get_mut(key) {
        ids.remove(id);
        if ids.is_empty() {
            map.remove(key);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entry::{self, StoredFlag};

    fn entry_of(path: &str, text: &str, at: u64) -> Entry {
        let parsed = entry::read(path, text.as_bytes());
        let (entry, mut details) = Entry::new(&parsed, text.as_bytes());
        let flag = |name: &str| StoredFlag {
            line: 1,
            column: 1,
            flag: name.into(),
            message: "of a test".into(),
        };
        // Every text of a build has a flag, some have two, and one of them twice.
        let names = [&["b", "a"][..], &["a"], &["c", "c"], &[]];
        let names =
            if text.contains("build") { names[usize::try_from(at % 4).unwrap()] } else { &[] };
        details.flags = names.iter().copied().map(flag).collect();
        Entry { told: Told::At(at), examined: !at.is_multiple_of(3), ..entry.telling(details) }
    }

    /// All that a book answers.
    fn all_of(book: &Book) -> String {
        let ids = |entries: Vec<Arc<Entry>>| -> Vec<String> {
            entries.iter().map(|entry| format!("{} {:?}", entry.id, entry.told)).collect()
        };
        let all: Vec<Arc<Entry>> = book.iter().collect();
        let mut text = format!(
            "{all:#?} {:?} {:?}",
            (book.len(), book.n_problems, book.n_unexamined),
            (book.n_of_flag().collect::<Vec<_>>(), book.unexamined())
        );
        text += &format!("{:?}\n", ids(book.at_fault().collect()));
        let mut counted = std::collections::BTreeMap::new();
        let flags = all.iter().flat_map(|entry| &entry.flags);
        flags.for_each(|flag| *counted.entry(&**flag).or_insert(0) += 1);
        assert!(book.n_of_flag().eq(counted), "{text}");
        for name in ["a", "b", "x/a", "heron", "blanks/heron", "nobody", "z"] {
            text += &format!(
                "{name}: {:?} {:?} {:?} {:?} {:?}\n",
                book.get(name),
                ids(book.with_stem(name)),
                ids(book.builds_of(name)),
                book.find(name),
                book.resolve(name, Kind::Blank),
            );
        }
        for kind in Kind::ALL {
            text += &format!("{kind:?}: {:?}\n", ids(book.of_kind(kind)));
        }
        text
    }

    #[test]
    fn a_book_answers_alike_whether_it_is_packed_or_not() {
        let build = "---\nkind: build\nblank: heron\nlimits: { length: 7 }\n---\n";
        let other = "---\nkind: build\nblank: blanks/heron\n---\n";
        let card = "---\nkind: blank\nlength: 7'\n---\n# The card\n";
        let steps: [(&str, Option<&str>); 12] = [
            ("x/a.md", Some("a note")),
            ("b.md", Some(build)),
            ("blanks/heron.md", Some(card)),
            ("a.md", Some(other)),
            ("x/a.md", None),
            ("x/a.md", Some(build)),
            ("heron.md", Some(card)),
            ("a.md", Some("a note again")),
            ("heron.md", None),
            ("b.md", None),
            ("z.md", Some("---\nkind: fitting\npart: guide\n---\n")),
            ("b.md", Some(other)),
        ];
        // Packed after no step, after each, and after every third.
        let mut books = [Book::default(), Book::default(), Book::default()];
        for (at, (path, text)) in (1..).zip(steps) {
            for (book, every) in books.iter_mut().zip([100, 1, 3]) {
                match text {
                    Some(text) => book.put(entry_of(path, text, at)),
                    None => drop(book.remove(entry::id_of(path))),
                }
                if at.is_multiple_of(every) {
                    book.pack();
                    assert!(book.packed().is_some());
                }
            }
            let expected = all_of(&books[0]);
            assert_eq!(all_of(&books[1]), expected, "after step {at}");
            assert_eq!(all_of(&books[2]), expected, "after step {at}");
        }
        // Written and read back.
        let mut bytes = Vec::new();
        books[1].packed().unwrap().pack(&mut bytes).unwrap();
        let unpack = |bytes: &[u8]| {
            let length = bytes.len() as u64;
            Table::unpack(&mut crate::packed::Unpacker::of(bytes, length))
        };
        let table = unpack(&bytes).unwrap();
        assert_eq!(all_of(&Book::of(table)), all_of(&books[0]));
        for cut in 0..bytes.len() {
            assert!(unpack(&bytes[..cut]).is_err());
        }
    }

    #[test]
    fn what_is_not_in_the_ledger_is_not_packed() {
        let mut book = Book::default();
        let parsed = entry::read("a.md", b"text");
        book.put(Entry::new(&parsed, b"text").0);
        book.pack();
        assert!(book.packed().is_none());
        book.is_told_at("a", 7);
        book.pack();
        assert_eq!(book.get("a").map(|entry| entry.told.clone()), Some(Told::At(7)));
        assert!(book.packed().is_some());
    }
}
