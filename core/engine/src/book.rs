//! The entries of all records and the ways to find them; a copy is cheap, so that a snapshot can hold one.

use std::sync::Arc;

use imbl::{HashMap, OrdMap, OrdSet};
use taperbook_record::Kind;

use crate::entry::{Entry, stem};

type Ids = OrdSet<Arc<str>>;

/// The entries of all records.
#[derive(Debug, Clone, Default)]
pub(crate) struct Book {
    entries: OrdMap<Arc<str>, Arc<Entry>>,
    by_stem: HashMap<Arc<str>, Ids>,
    by_kind: HashMap<Kind, Ids>,
    /// Builds by what their `blank:` says, to the letter.
    by_blank: HashMap<Arc<str>, Ids>,
    /// Paths that could not be read, and why.
    pub(crate) unreadable: OrdMap<Arc<str>, Arc<str>>,
    pub(crate) n_problems: usize,
    pub(crate) n_flags: usize,
    pub(crate) n_unexamined: usize,
}

/// What a name leads to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Named {
    One(Arc<Entry>),
    Several(Vec<String>),
    None(Vec<String>),
}

impl Book {
    pub(crate) fn get(&self, id: &str) -> Option<&Arc<Entry>> {
        self.entries.get(id)
    }

    pub(crate) fn len(&self) -> usize {
        self.entries.len()
    }

    /// All entries in the order of their ids.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &Arc<Entry>> {
        self.entries.values()
    }

    /// The entries of a kind in the order of their ids.
    pub(crate) fn of_kind(&self, kind: Kind) -> impl Iterator<Item = &Arc<Entry>> {
        self.by_kind.get(&kind).into_iter().flatten().filter_map(|id| self.entries.get(id))
    }

    /// The entries whose id ends with this name, in the order of their ids.
    pub(crate) fn with_stem(&self, stem: &str) -> impl Iterator<Item = &Arc<Entry>> {
        self.by_stem.get(stem).into_iter().flatten().filter_map(|id| self.entries.get(id))
    }

    /// Puts an entry in place of the one with its id.
    pub(crate) fn put(&mut self, entry: Entry) {
        self.remove(&entry.id.clone());
        self.n_problems += entry.problems.len();
        self.n_flags += entry.flags.len();
        self.n_unexamined += usize::from(!entry.examined);
        add(&mut self.by_stem, entry.stem().into(), &entry.id);
        add(&mut self.by_kind, entry.kind(), &entry.id);
        if let Some(blank) = &entry.blank {
            add(&mut self.by_blank, (&**blank).into(), &entry.id);
        }
        self.entries.insert(entry.id.clone(), Arc::new(entry));
    }

    /// Takes an entry out.
    pub(crate) fn remove(&mut self, id: &str) -> Option<Arc<Entry>> {
        let entry = self.entries.remove(id)?;
        self.n_problems -= entry.problems.len();
        self.n_flags -= entry.flags.len();
        self.n_unexamined -= usize::from(!entry.examined);
        take(&mut self.by_stem, stem(id), id);
        take(&mut self.by_kind, &entry.kind(), id);
        if let Some(blank) = &entry.blank {
            take(&mut self.by_blank, &**blank, id);
        }
        Some(entry)
    }

    /// What a name in a record leads to: a path without `.md`, or a file's stem, among records of a kind.
    /// A blank may also be an offcut: that is a card of what came off.
    pub(crate) fn resolve(&self, name: &str, kind: Kind) -> Named {
        self.named(name, |entry| {
            entry.kind() == kind || (kind == Kind::Blank && entry.kind() == Kind::Offcut)
        })
    }

    /// What a name that a person typed leads to: an id, a path or a stem of any kind.
    pub(crate) fn find(&self, typed: &str) -> Named {
        let name = typed.strip_prefix("./").unwrap_or(typed);
        let name = name.strip_suffix(".md").unwrap_or(name);
        self.named(name, |_| true)
    }

    /// The builds whose `blank:` leads to this card, in the order of their ids.
    pub(crate) fn builds_of(&self, blank: &str) -> Vec<Arc<Entry>> {
        let names = if stem(blank) == blank { vec![blank] } else { vec![blank, stem(blank)] };
        let mut ids = Ids::new();
        for name in names {
            if matches!(self.resolve(name, Kind::Blank), Named::One(entry) if &*entry.id == blank)
                && let Some(builds) = self.by_blank.get(name)
            {
                ids = ids.union(builds.clone());
            }
        }
        ids.iter().filter_map(|id| self.entries.get(id)).cloned().collect()
    }

    fn named(&self, name: &str, wanted: impl Fn(&Entry) -> bool) -> Named {
        if let Some(entry) = self.entries.get(name).filter(|entry| wanted(entry)) {
            return Named::One(entry.clone());
        }
        // A file in capitals is called by its name without its ending as well.
        if name.contains('/')
            && let Some(entry) =
                self.entries.get(&*format!("{name}.MD")).filter(|entry| wanted(entry))
        {
            return Named::One(entry.clone());
        }
        let with_stem: Vec<&Arc<Entry>> =
            self.with_stem(name).filter(|entry| wanted(entry)).collect();
        match with_stem.as_slice() {
            [] => Named::None(self.near(name, wanted)),
            [entry] => Named::One((*entry).clone()),
            several => Named::Several(several.iter().map(|entry| entry.id.to_string()).collect()),
        }
    }

    /// Up to three ids near a name in spelling.
    fn near(&self, name: &str, wanted: impl Fn(&Entry) -> bool) -> Vec<String> {
        let name = stem(name).to_lowercase();
        let mut near: Vec<(f64, &Entry)> = self
            .entries
            .values()
            .filter(|entry| wanted(entry))
            .map(|entry| (strsim::jaro_winkler(&name, &entry.stem().to_lowercase()), &**entry))
            .filter(|(likeness, _)| 0.85 < *likeness)
            .collect();
        near.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.id.cmp(&b.1.id)));
        near.into_iter().take(3).map(|(_, entry)| entry.id.to_string()).collect()
    }
}

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
