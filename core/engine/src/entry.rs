//! What the engine keeps of one record between readings of its file.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use taperbook_plugin::{Number, NumberSet, NumberSpec};
use taperbook_record::{Kind, Parsed, Problem};

/// What is at hand of one record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Entry {
    pub(crate) id: Arc<str>,
    pub(crate) kind: StoredKind,
    pub(crate) title: Box<str>,
    /// The name that `blank:` gives, as it is written.
    pub(crate) blank: Option<Box<str>>,
    /// BLAKE3 of its file: what the index has of the record is of this text and no other.
    pub(crate) content: [u8; 32],
    /// A hash of what the record is made of, so that a change of prose alone is known to change no number.
    pub(crate) fingerprint: [u8; 16],
    pub(crate) n_problems: u32,
    /// The name of each flag that it has, in their order.
    pub(crate) flags: Box<[Arc<str>]>,
    /// Unset while the plugins have not seen the record as it now is.
    pub(crate) examined: bool,
    /// Where the rest is.
    #[serde(skip)]
    pub(crate) told: Told,
}

/// The rest of what is kept of one record, for who asks for it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub(crate) struct Details {
    pub(crate) problems: Box<[StoredProblem]>,
    pub(crate) flags: Box<[StoredFlag]>,
    /// By the position of the key in the catalogue.
    pub(crate) numbers: Box<[(u16, StoredNumber)]>,
    /// Of a blank card or an offcut, what its pieces are worked out from.
    pub(crate) card: Option<StoredCard>,
}

/// What the pieces of a card are worked out from, so that a change of all else is known to leave them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct StoredCard {
    /// A hash of its shape.
    pub(crate) shape: [u8; 16],
    /// In kg.
    pub(crate) weight: Option<f64>,
}

/// Where the details of an entry are.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Told {
    /// In memory, until they are committed.
    Held(Arc<Details>),
    /// In the ledger, at this byte.
    At(u64),
}

impl Default for Told {
    fn default() -> Self {
        Self::Held(Arc::default())
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub(crate) enum StoredKind {
    Blank,
    Build,
    Fitting,
    Offcut,
    Shop,
    Note,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct StoredProblem {
    pub(crate) line: u32,
    pub(crate) column: u32,
    pub(crate) end_line: u32,
    pub(crate) end_column: u32,
    pub(crate) message: Box<str>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct StoredFlag {
    pub(crate) line: u32,
    pub(crate) column: u32,
    pub(crate) flag: Box<str>,
    pub(crate) message: Box<str>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) enum StoredNumber {
    Known([f64; 3]),
    Missing(Arc<str>),
}

impl Entry {
    /// Makes the entry of a record that no plugin has seen yet, with its details; `bytes` are what it was read from.
    pub(crate) fn new(parsed: &Parsed, bytes: &[u8]) -> (Self, Details) {
        let record = &parsed.record;
        let entry = Self {
            id: record.id.as_str().into(),
            kind: record.kind().into(),
            title: record.title.as_str().into(),
            blank: record
                .build()
                .and_then(|build| build.blank.as_ref())
                .map(|name| name.value.as_str().into()),
            content: content_of(bytes),
            fingerprint: fingerprint(parsed, bytes),
            n_problems: 0,
            flags: Box::default(),
            examined: false,
            told: Told::default(),
        };
        let problems = parsed.problems.iter().map(StoredProblem::from).collect();
        let card = record.card().map(|card| StoredCard {
            shape: hashed([format!("{:?}", card.shape()).as_bytes()]),
            weight: card.weight.as_ref().map(|weight| weight.value.kg()),
        });
        (entry, Details { problems, card, ..Details::default() })
    }

    /// Gives the entry with these details.
    pub(crate) fn telling(self, details: Details) -> Self {
        Self {
            n_problems: u32::try_from(details.problems.len()).unwrap_or(u32::MAX),
            flags: details.flags.iter().map(|flag| (&*flag.flag).into()).collect(),
            told: Told::Held(Arc::new(details)),
            ..self
        }
    }

    pub(crate) fn kind(&self) -> Kind {
        self.kind.into()
    }

    /// Whether it has problems or flags.
    pub(crate) fn is_at_fault(&self) -> bool {
        self.n_problems != 0 || !self.flags.is_empty()
    }

    /// The last name of the id.
    pub(crate) fn stem(&self) -> &str {
        stem(&self.id)
    }

    /// The path of its file in the shop folder.
    pub(crate) fn path(&self) -> String {
        path_of(&self.id)
    }
}

impl Details {
    /// Gives the numbers as plugins see them.
    pub(crate) fn number_set(&self, catalogue: &[NumberSpec]) -> NumberSet {
        NumberSet::new(
            self.numbers
                .iter()
                .filter_map(|(at, number)| {
                    catalogue.get(usize::from(*at)).map(|spec| (spec.key.clone(), number.into()))
                })
                .collect(),
        )
    }
}

/// Reads a record; its id is [`id_of`] its path.
pub(crate) fn read(path: &str, bytes: &[u8]) -> Parsed {
    let mut parsed = taperbook_record::read(path, bytes);
    id_of(path).clone_into(&mut parsed.record.id);
    parsed
}

/// Hashes all that a record is made of: its id, its title, and what stands above its body.
fn fingerprint(parsed: &Parsed, bytes: &[u8]) -> [u8; 16] {
    let front = &bytes[..parsed.body_start.min(bytes.len())];
    hashed([parsed.record.id.as_bytes(), parsed.record.title.as_bytes(), front])
}

fn hashed<const N: usize>(parts: [&[u8]; N]) -> [u8; 16] {
    let mut hasher = blake3::Hasher::new();
    for part in parts {
        hasher.update(&(part.len() as u64).to_le_bytes());
        hasher.update(part);
    }
    let mut hash = [0; 16];
    hash.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
    hash
}

/// Gives the hash that an entry's text is known by.
pub(crate) fn content_of(bytes: &[u8]) -> [u8; 32] {
    *blake3::hash(bytes).as_bytes()
}

/// The last name of an id, without an ending in capitals.
pub(crate) fn stem(id: &str) -> &str {
    let name = id.rsplit('/').next().unwrap_or(id);
    if has_loud_ending(name) { &name[..name.len() - 3] } else { name }
}

/// The path of a record's file in the shop folder.
pub(crate) fn path_of(id: &str) -> String {
    if id == SHOP_FILE || has_loud_ending(id) { id.to_owned() } else { format!("{id}.md") }
}

/// Whether a path ends in `.MD`, in capitals at least in part.
///
/// `heron.md` and `heron.MD` may stand side by side, so the ending of the second stays in its id.
fn has_loud_ending(path: &str) -> bool {
    let ending = path.len().checked_sub(3).and_then(|at| path.get(at..));
    ending.is_some_and(|ending| ending.eq_ignore_ascii_case(".md") && ending != ".md")
}

/// The id of a file in the shop folder.
pub(crate) fn id_of(path: &str) -> &str {
    path.strip_suffix(".md").unwrap_or(path)
}

/// The file that marks a shop folder; its id is its whole name.
pub(crate) const SHOP_FILE: &str = "shop.yaml";

/// Puts numbers by the position of their key in the catalogue; a key that no manifest names is left out.
pub(crate) fn store_numbers(
    numbers: &NumberSet,
    catalogue: &[NumberSpec],
) -> Box<[(u16, StoredNumber)]> {
    catalogue
        .iter()
        .enumerate()
        .filter_map(|(at, spec)| {
            let number = numbers.get(&spec.key)?;
            Some((u16::try_from(at).ok()?, number.into()))
        })
        .collect()
}

impl From<&Number> for StoredNumber {
    fn from(number: &Number) -> Self {
        match number {
            Number::Known { value, low, high } => StoredNumber::Known([*value, *low, *high]),
            Number::Missing { missing } => StoredNumber::Missing(missing.as_str().into()),
        }
    }
}

impl From<&StoredNumber> for Number {
    fn from(number: &StoredNumber) -> Self {
        match number {
            StoredNumber::Known([value, low, high]) => {
                Number::Known { value: *value, low: *low, high: *high }
            }
            StoredNumber::Missing(missing) => Number::missing(&**missing),
        }
    }
}

impl From<&Problem> for StoredProblem {
    fn from(problem: &Problem) -> Self {
        Self {
            line: problem.start.line,
            column: problem.start.column,
            end_line: problem.end.line,
            end_column: problem.end.column,
            message: problem.message.as_str().into(),
        }
    }
}

impl From<Kind> for StoredKind {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Blank => StoredKind::Blank,
            Kind::Build => StoredKind::Build,
            Kind::Fitting => StoredKind::Fitting,
            Kind::Offcut => StoredKind::Offcut,
            Kind::Shop => StoredKind::Shop,
            Kind::Note => StoredKind::Note,
        }
    }
}

impl From<StoredKind> for Kind {
    fn from(kind: StoredKind) -> Self {
        match kind {
            StoredKind::Blank => Kind::Blank,
            StoredKind::Build => Kind::Build,
            StoredKind::Fitting => Kind::Fitting,
            StoredKind::Offcut => Kind::Offcut,
            StoredKind::Shop => Kind::Shop,
            StoredKind::Note => Kind::Note,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(path: &str, id: &str, last_name: &str) {
        assert_eq!((id_of(path), stem(id)), (id, last_name));
        assert_eq!(path_of(id), path);
        assert_eq!(read(path, b"").record.id, id);
    }

    #[test]
    fn a_path_has_one_id_and_an_id_one_path() {
        check("builds/ilse.md", "builds/ilse", "ilse");
        check("shop.yaml", "shop.yaml", "shop.yaml");
        check("builds/ILSE.MD", "builds/ILSE.MD", "ILSE");
        check("heron.Md", "heron.Md", "heron");
        check("heron.md.md", "heron.md", "heron.md");
        check("größe.md", "größe", "größe");
    }
}
