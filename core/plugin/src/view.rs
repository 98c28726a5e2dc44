//! The read-only view of the shop that a plugin gets, which remembers what was read through it.

use std::any::Any;
use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::sync::Arc;

use taperbook_record::{Blank, Kind, Record, Shop, Spanned};
use taperbook_units::Mass;

use crate::{Lasting, Lasts, NumberSet};

/// One thing that was read through a view; the set of them is what an examination depends on.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Read {
    /// The record with this id, whether or not it was there.
    Record(String),
    /// Which blank cards there are, whatever they say.
    Cards,
    /// The shape of the blank card with this id, whatever else it says.
    Shape(String),
    /// The weight that it states.
    Weight(String),
    /// Whether that lies within these bounds.
    WeightWithin(Within),
    /// What this name leads to, whether or not it was found.
    Name(String),
    /// Which builds name this blank, and what they say.
    BuildsOf(String),
    /// Which builds name this blank, whatever they say.
    BuildIdsOf(String),
    /// All records of a kind, and what they say.
    All(Kind),
    /// `shop.yaml`.
    Shop,
    /// The numbers of the record with this id.
    Numbers(String),
    /// Something costly that is worked out once.
    Memo(MemoKey),
}

/// The name of something costly and shared, such as the posterior of one model.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct MemoKey {
    /// What it is.
    pub what: Cow<'static, str>,
    /// Of which record.
    pub of: String,
}

/// What a name in a record leads to.
#[derive(Debug, Clone, PartialEq)]
pub enum Resolution<T = Arc<Record>> {
    /// One record.
    Found(T),
    /// Several records with that stem; their ids.
    Ambiguous(Vec<String>),
    /// None; ids that are near in spelling.
    Missing(Vec<String>),
}

/// Bounds that the weight of a blank card is held against.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Within {
    /// The card's id.
    pub card: String,
    /// The bits of both bounds in kg, so that no digit is lost.
    pub bounds: [u64; 2],
}

impl Within {
    /// Whether a weight in kg lies between the bounds; one that is not stated doesn't.
    pub fn holds(&self, weight: Option<f64>) -> bool {
        let [low, high] = self.bounds.map(f64::from_bits);
        weight.is_some_and(|weight| low < weight && weight < high)
    }
}

/// What the pieces of a blank card have in common.
#[derive(Debug, Clone, PartialEq)]
pub struct Shaped {
    /// The card's id.
    pub id: String,
    /// As [`Blank::shape`] gives it.
    pub shape: Blank,
}

/// Something kept, of whatever type its maker gave it.
pub type Kept = Arc<dyn Any + Send + Sync>;

/// Where a view gets its answers from; the engine implements it.
pub trait Source {
    /// The record with this id.
    fn record(&self, id: &str) -> Option<Arc<Record>>;
    /// What a name leads to, among records of a kind.
    fn resolve(&self, name: &str, kind: Kind) -> Resolution;
    /// All builds whose `blank` leads to this id, in the order of their ids.
    fn builds_of(&self, blank: &str) -> Vec<Arc<Record>>;
    /// Their ids.
    fn build_ids_of(&self, blank: &str) -> Vec<String> {
        self.builds_of(blank).iter().map(|build| build.id.clone()).collect()
    }

    /// The ids of all blank cards, in order.
    fn card_ids(&self) -> Vec<String> {
        self.all(Kind::Blank).iter().map(|card| card.id.clone()).collect()
    }
    /// All records of a kind, in the order of their ids.
    fn all(&self, kind: Kind) -> Vec<Arc<Record>>;
    /// What `shop.yaml` says; empty without one.
    fn shop(&self) -> Arc<Shop>;
    /// The numbers of a record from the first stage.
    fn numbers(&self, id: &str) -> Option<Arc<NumberSet>>;
    /// Something kept, or worked out now and kept, together with what working it out has read.
    fn memo(&self, key: &MemoKey, compute: &dyn Fn(&View) -> Kept) -> Kept;
    /// The same of what may be kept on the disk too; who has none keeps it as the others.
    fn lasting_memo(&self, key: &MemoKey, lasts: &'static dyn Lasts) -> Kept {
        self.memo(key, &|view| lasts.compute(view, &key.of))
    }
    /// Works out some memos beforehand where that can be done on all cores; each is asked for by itself after it.
    fn memos(&self, _keys: &[MemoKey], _compute: &(dyn Fn(&View, &str) -> Kept + Sync)) {}
    /// The same of those that may be kept on the disk.
    fn lasting_memos(&self, _keys: &[MemoKey], _lasts: &'static dyn Lasts) {}
}

/// So many memos are worked out together, few enough that all of them are kept until they are asked for.
const AT_ONCE: usize = 512;

/// The shop as one examination or one answer sees it.
pub struct View<'a> {
    source: &'a dyn Source,
    reads: RefCell<BTreeSet<Read>>,
}

impl<'a> View<'a> {
    /// Opens a view on a source; nothing has been read yet.
    pub fn new(source: &'a dyn Source) -> Self {
        Self { source, reads: RefCell::default() }
    }

    /// Gives what was read through it.
    pub fn into_reads(self) -> BTreeSet<Read> {
        self.reads.into_inner()
    }

    /// The record with this id.
    pub fn record(&self, id: &str) -> Option<Arc<Record>> {
        self.note(Read::Record(id.to_owned()));
        self.source.record(id)
    }

    /// The one record of a kind that a name leads to; who does not tell what else may be meant depends on no other.
    pub fn found(&self, name: &str, kind: Kind) -> Option<Arc<Record>> {
        self.note(Read::Name(name.to_owned()));
        let Resolution::Found(record) = self.source.resolve(name, kind) else { return None };
        self.note(Read::Record(record.id.clone()));
        Some(record)
    }

    /// What a name in a record leads to, among records of a kind.
    pub fn resolve(&self, name: &str, kind: Kind) -> Resolution {
        self.note(Read::Name(name.to_owned()));
        let resolution = self.source.resolve(name, kind);
        match &resolution {
            Resolution::Found(record) => self.note(Read::Record(record.id.clone())),
            Resolution::Missing(_) => self.note_near(kind),
            Resolution::Ambiguous(_) => {}
        }
        resolution
    }

    /// What is near a name that leads nowhere depends on which others there are.
    fn note_near(&self, kind: Kind) {
        if kind == Kind::Blank {
            self.note(Read::Cards);
            self.note(Read::All(Kind::Offcut));
        } else {
            self.note(Read::All(kind));
        }
    }

    /// The ids of all blank cards, in order; who reads only some of the cards depends on no other's words.
    pub fn card_ids(&self) -> Vec<String> {
        self.note(Read::Cards);
        self.source.card_ids()
    }

    /// The shape of a blank card: what its pieces have in common ([`Blank::shape`]). Who reads no more of a card does
    /// not depend on its weight, its maker or how many are on the rack.
    pub fn shape(&self, id: &str) -> Option<Blank> {
        self.note(Read::Shape(id.to_owned()));
        self.source.record(id)?.card().map(Blank::shape)
    }

    /// The shape of the blank card that a name leads to.
    pub fn resolve_shape(&self, name: &str) -> Resolution<Shaped> {
        self.note(Read::Name(name.to_owned()));
        match self.source.resolve(name, Kind::Blank) {
            Resolution::Found(record) => {
                self.note(Read::Shape(record.id.clone()));
                let shape = record.card().map(Blank::shape).unwrap_or_default();
                Resolution::Found(Shaped { id: record.id.clone(), shape })
            }
            Resolution::Ambiguous(ids) => Resolution::Ambiguous(ids),
            Resolution::Missing(near) => {
                self.note_near(Kind::Blank);
                Resolution::Missing(near)
            }
        }
    }

    /// The weight that the blank card with this id states, and where.
    pub fn weight(&self, id: &str) -> Option<Spanned<Mass>> {
        self.note(Read::Weight(id.to_owned()));
        self.source.record(id)?.card()?.weight.clone()
    }

    /// Whether the blank card with this id states a weight between these. Who asks no more does not depend on what the weight is.
    pub fn weighs_between(&self, id: &str, low: Mass, high: Mass) -> bool {
        let bounds = [low, high].map(|bound| bound.kg().to_bits());
        let within = Within { card: id.to_owned(), bounds };
        let record = self.source.record(id);
        let weight = record.as_ref().and_then(|record| record.card()?.weight.as_ref());
        let holds = within.holds(weight.map(|weight| weight.value.kg()));
        self.note(Read::WeightWithin(within));
        holds
    }

    /// All builds whose `blank` leads to this id, in the order of their ids.
    pub fn builds_of(&self, blank: &str) -> Vec<Arc<Record>> {
        self.note(Read::BuildsOf(blank.to_owned()));
        self.source.builds_of(blank)
    }

    /// The ids of all builds whose `blank` leads to this id, in order; who reads no more than these depends on no
    /// more than which they are.
    pub fn build_ids_of(&self, blank: &str) -> Vec<String> {
        self.note(Read::BuildIdsOf(blank.to_owned()));
        self.source.build_ids_of(blank)
    }

    /// All records of a kind, in the order of their ids.
    pub fn all(&self, kind: Kind) -> Vec<Arc<Record>> {
        self.note(Read::All(kind));
        self.source.all(kind)
    }

    /// What `shop.yaml` says; empty without one.
    pub fn shop(&self) -> Arc<Shop> {
        self.note(Read::Shop);
        self.source.shop()
    }

    /// The numbers of a record from the first stage.
    pub fn numbers(&self, id: &str) -> Option<Arc<NumberSet>> {
        self.note(Read::Numbers(id.to_owned()));
        self.source.numbers(id)
    }

    /// Something costly that several examinations share: worked out once per state of what it reads.
    ///
    /// `compute` sees a view of its own; whoever asks depends on the memo, not on what is behind it.
    /// It must not depend on anything but `of` and its view.
    pub fn memo<T: Any + Send + Sync>(
        &self,
        what: &'static str,
        of: &str,
        compute: impl Fn(&View) -> T,
    ) -> Arc<T> {
        let key = MemoKey { what: Cow::Borrowed(what), of: of.to_owned() };
        let kept = self.source.memo(&key, &|view| Arc::new(compute(view)));
        self.note(Read::Memo(key));
        match kept.downcast::<T>() {
            Ok(value) => value,
            // Two callers gave one name to two types: each still gets its own answer.
            Err(_) => Arc::new(compute(self)),
        }
    }

    /// Several such memos, one of each of these in their order, worked out on all cores where that can be done.
    pub fn memos<T: Any + Send + Sync>(
        &self,
        what: &'static str,
        of: &[impl AsRef<str>],
        compute: impl Fn(&View, &str) -> T + Sync,
    ) -> Vec<Arc<T>> {
        let key = |of: &str| MemoKey { what: Cow::Borrowed(what), of: of.to_owned() };
        let keys: Vec<MemoKey> = of.iter().map(|of| key(of.as_ref())).collect();
        self.source.memos(&keys, &|view, of| Arc::new(compute(view, of)));
        keys.iter().map(|key| self.memo(what, &key.of, |view| compute(view, &key.of))).collect()
    }

    /// Memos that are small and costly enough to outlast a restart, one of each of these, in their order.
    pub fn lasting_memos<T: Any + Send + Sync>(
        &self,
        lasting: &'static Lasting<T>,
        of: &[impl AsRef<str>],
    ) -> Vec<Arc<T>> {
        let what = Cow::Borrowed(lasting.what);
        let key = |of: &str| MemoKey { what: what.clone(), of: of.to_owned() };
        let keys: Vec<MemoKey> = of.iter().map(|of| key(of.as_ref())).collect();
        let mut memos = Vec::with_capacity(keys.len());
        for keys in keys.chunks(AT_ONCE) {
            self.source.lasting_memos(keys, lasting);
            for key in keys {
                let kept = self.source.lasting_memo(key, lasting);
                self.note(Read::Memo(key.clone()));
                memos.push(match kept.downcast::<T>() {
                    Ok(value) => value,
                    // Two callers gave one name to two types: each still gets its own answer.
                    Err(_) => Arc::new((lasting.compute)(self, &key.of)),
                });
            }
        }
        memos
    }

    fn note(&self, read: Read) {
        self.reads.borrow_mut().insert(read);
    }
}
