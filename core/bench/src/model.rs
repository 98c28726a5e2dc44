//! What the shop's builds of one model teach about it.

mod added;
mod told;

use std::sync::Arc;

use taperbook_mechanics::fit::{
    Change, Clamps, Errors, Lesson, Material, Pool, Pools, Posterior, Prior, Spread,
    after_a_change, changed_with,
};
use taperbook_plugin::{Lasts, View};
use taperbook_record::{Build, Date, Kind};

use self::added::Added;
use self::told::{TOLD, Told, card_prior, own_fit};
use crate::card::{doubting, errors_of, fit_card};

/// What the pieces of one model teach; under a kilobyte a piece.
#[derive(Debug)]
pub struct Model {
    /// The builds with a reading that says something about stiffness or weight, in the order in which they came.
    pub pieces: Vec<(String, Arc<Lesson>)>,
    /// How much its pieces differ, so many times what is usual; 1 as long as there are not two.
    pub spread: f64,
    /// Whether the pieces make it as likely as not that what the card states of modulus or density is wrong; it is then no more than a
    /// guess.
    pub card_is_doubted: bool,
    /// From which piece on the model is another than before, if it is.
    pub change: Option<Change>,
    /// The lessons of all pieces, or of those before the change.
    before: Pool,
    /// The lessons of those from the change on.
    after: Pool,
    /// The places of the pieces, in the order of their ids.
    by_id: Vec<usize>,
}

/// Up to so many pieces each has much to say of how pieces differ.
const FEW: usize = 12;

/// One past piece, fitted by itself.
#[derive(Debug, Clone)]
pub struct PastPiece {
    /// The build's id.
    pub record: String,
    /// What its own readings say, starting from the card alone.
    pub posterior: Arc<Posterior>,
}

impl Default for Model {
    fn default() -> Self {
        let none = || Pool::new(&Spread::default());
        Self {
            pieces: Vec::new(),
            spread: 1.0,
            card_is_doubted: false,
            change: None,
            before: none(),
            after: none(),
            by_id: Vec::new(),
        }
    }
}

impl Model {
    /// Works out what pieces teach, in the order in which they came; `added` is what their lessons add up to.
    ///
    /// `by_card` is what the card tells by itself, `doubting` the same when what it states of modulus or density is no more than a guess.
    fn of(
        pieces: Vec<(String, Arc<Lesson>)>,
        added: &Added,
        by_card: Option<&Prior>,
        doubting: Option<&Prior>,
    ) -> Self {
        let mut by_id: Vec<usize> = (0..pieces.len()).collect();
        by_id.sort_by(|a, b| pieces[*a].0.cmp(&pieces[*b].0));
        let mut model = Self { pieces, by_id, ..Self::default() };
        let usual = Spread::default();
        if let Some(mut prior) = by_card {
            let lessons = lessons_of(&model.pieces);
            if let Some(doubting) = doubting
                && is_doubted(prior, doubting, &lessons, &added.all)
            {
                (prior, model.card_is_doubted) = (doubting, true);
            }
            model.change = changed_with(prior, &lessons, &usual, added.early.estimated(prior));
            model.spread = match model.change {
                Some(change) => change.spread,
                None => added.all.estimated(prior),
            };
        }
        let first = model.change.map_or(model.pieces.len(), |change| change.first);
        let pool = |pieces: &[(String, Arc<Lesson>)]| {
            let mut pool = Pool::new(&usual.times(model.spread));
            pieces.iter().for_each(|(_, lesson)| pool.add(lesson));
            pool
        };
        (model.before, model.after) = (pool(&model.pieces[..first]), pool(&model.pieces[first..]));
        model
    }

    /// Gives the prior of a piece: its card, sharpened by all pieces but itself.
    ///
    /// Where the model changed, the pieces of the batch that this one belongs to count in full, and for the latest batch the
    /// earlier ones as far as batches are alike.
    pub fn prior(&self, card: &Prior, itself: &str) -> Prior {
        let place = self.place(itself);
        let own = place.map(|place| &self.pieces[place].1);
        let without = |pool: &Pool| own.map_or_else(|| pool.clone(), |own| pool.without(own));
        match (self.change, place) {
            (Some(change), Some(place)) if place < change.first => {
                without(&self.before).prior(card)
            }
            (Some(change), _) => {
                let spread = Spread::default().times(change.spread);
                after_a_change(card, &self.before, &without(&self.after), &spread)
            }
            (None, Some(place)) if self.pieces.len() <= FEW => self.of_few(card, place),
            (None, _) => without(&self.before).prior(card),
        }
    }

    /// Of a few pieces, one that differs by mistake must not make itself believed by what it says of the spread.
    fn of_few(&self, card: &Prior, itself: usize) -> Prior {
        let others = self.pieces.iter().enumerate().filter(|(place, _)| *place != itself);
        let others: Vec<&Lesson> = others.map(|(_, (_, lesson))| &**lesson).collect();
        let usual = Spread::default();
        let mut pool = Pool::new(&usual.times(usual.estimated(card, &others)));
        others.into_iter().for_each(|lesson| pool.add(lesson));
        pool.prior(card)
    }

    /// What all its pieces tell of boards and clamps; `card` is what its card tells by itself.
    pub fn clamps(&self, card: &Prior) -> Clamps {
        let mut told = Clamps::of(&self.before, card);
        told.add(&Clamps::of(&self.after, card));
        told
    }

    /// How many pieces but this one teach.
    pub fn n_others(&self, itself: &str) -> usize {
        self.pieces.len() - usize::from(self.place(itself).is_some())
    }

    fn place(&self, record: &str) -> Option<usize> {
        let found = self.by_id.binary_search_by(|place| self.pieces[*place].0.as_str().cmp(record));
        found.ok().map(|at| self.by_id[at])
    }

    /// Gives the other pieces, each fitted by itself; of many, those that came last.
    pub fn past(&self, view: &View, itself: &str, at_most: usize) -> Vec<PastPiece> {
        let others =
            self.pieces.iter().map(|(record, _)| record).filter(|record| *record != itself);
        let mut records: Vec<&String> = others.rev().take(at_most).collect();
        records.reverse();
        let fits = view.memos("own-fit", &records, |view, id| own_fit(view, id).map(Arc::new));
        let past = records.into_iter().zip(fits).filter_map(|(record, posterior)| {
            Some(PastPiece { record: record.clone(), posterior: (*posterior).clone()? })
        });
        past.collect()
    }
}

/// Gives what is learned of a model, worked out once for all who ask.
///
/// What each piece tells is a memo of its own that outlasts a restart, so that an edit of one build fits that one again
/// and adds up the rest; and a cut, which tells nothing of the model, leaves it as it is. So no build itself is read here.
pub fn model(view: &View, card: &str) -> Arc<Model> {
    view.memo("model", card, |view| {
        let ids = view.build_ids_of(card);
        let told = view.lasting_memos(&TOLD, &ids);
        let parts = added::parts(view, card, ids.len());
        let mut told: Vec<(Arc<Told>, String)> = told.into_iter().zip(ids).collect();
        told.sort_by(|a, b| (a.0.came, &a.1).cmp(&(b.0.came, &b.1)));
        let pieces = told.into_iter().filter_map(|(told, id)| Some((id, told.lesson.clone()?)));
        let pieces: Vec<(String, Arc<Lesson>)> = pieces.collect();
        let lessons = lessons_of(&pieces);
        let added = match parts.as_slice() {
            [] => Added::of(&lessons),
            parts => Added::of_parts(parts, &lessons),
        };
        let by_card = prior_of_card(view, card);
        Model::of(pieces, &added, by_card.as_ref(), doubting_prior(view, card).as_ref())
    })
}

/// The memos of this crate that last: what each build tells of its model.
pub fn lasting() -> &'static dyn Lasts {
    &TOLD
}

fn lessons_of(pieces: &[(String, Arc<Lesson>)]) -> Vec<&Lesson> {
    pieces.iter().map(|(_, lesson)| &**lesson).collect()
}

/// So many pieces before one are looked back at for what was known of the model when it came: more tell no more.
const LOOKED_BACK_AT: usize = 24;

/// Gives what was believed of a piece before its first reading, from its card and from the builds that came before it, and how many of
/// those there were; `None` for a build that does not teach.
///
/// Later builds have no say in it, nor has a batch that was not there yet.
pub fn before_it_came(view: &View, card: &str, record: &str) -> Option<(Prior, usize)> {
    let model = model(view, card);
    let place = model.place(record)?;
    let build = view.record(record)?;
    let errors = errors_of(&view.shop());
    let (own_card, prior) = card_prior(view, build.build()?, &errors)?;
    let known = model.pieces[place.saturating_sub(LOOKED_BACK_AT)..place].to_vec();
    let by_card = prior_of_card(view, card);
    let added = Added::of(&lessons_of(&known));
    let known = Model::of(known, &added, by_card.as_ref(), doubting_prior(view, card).as_ref());
    let doubted = known.card_is_doubted.then(|| doubting(&own_card, &errors)).flatten();
    Some((known.prior(doubted.as_ref().unwrap_or(&prior), record), place))
}

/// How often what a card states of modulus or density is wrong (common practice, no source).
const WRONG: f64 = 0.03;
/// A single piece must make it so much likelier than not: one reading of it may as well be a slip.
const BY_ONE: f64 = 20.0;

/// Whether pieces speak against what their card states, `doubting` being what it tells if that is no more than a guess.
///
/// Several do as soon as it is as likely wrong as right, for to doubt what is right makes ranges wider and to believe what is wrong makes
/// them untrue; but not where it hangs on one of them.
fn is_doubted(prior: &Prior, doubting: &Prior, lessons: &[&Lesson], all: &Pools) -> bool {
    let odds = |pools: &Pools| pools.odds(doubting, prior);
    match lessons {
        [] => false,
        [_] => BY_ONE <= WRONG * odds(all),
        several => {
            let mut first = several.iter().take(FEW);
            1.0 <= WRONG * odds(all) && first.all(|lesson| 1.0 <= odds(&all.without(lesson)))
        }
    }
}

fn doubting_prior(view: &View, card: &str) -> Option<Prior> {
    let shape = view.shape(card);
    let errors = errors_of(&view.shop());
    doubting(&fit_card(shape.as_ref(), None, &errors)?, &errors)
}

/// The day on which a build came to the bench: its own date, or the first on its bench.
pub fn came_on(build: &Build) -> Option<Date> {
    let own = build.date.as_ref().map(|date| date.value);
    own.or_else(|| build.bench.iter().find_map(|item| item.date))
}

/// What a card tells by itself of a piece of it.
fn prior_of_card(view: &View, card: &str) -> Option<Prior> {
    prior_with(view, card, &errors_of(&view.shop()))
}

fn prior_with(view: &View, card: &str, errors: &Errors) -> Option<Prior> {
    let shape = view.shape(card);
    Prior::from_card(&fit_card(shape.as_ref(), None, errors)?, errors).ok()
}

/// So many models of a material are looked at for one that was never cut, those with the first ids.
const MODELS: usize = 12;

/// What the shop's models of the same material teach of a card that no build but `itself` was made of; the card's own prior where
/// there are none, or where it states modulus or density.
pub(crate) fn of_material(view: &View, card_id: &str, card: &Prior) -> Prior {
    let Some(wanted) = open_material(view, card_id) else { return card.clone() };
    let taught = view.memo("material", &format!("{wanted:?}"), |view| {
        let cards = view.card_ids().into_iter();
        let of_it = cards.filter(|id| open_material(view, id) == Some(wanted));
        let taught = of_it.filter_map(|id| {
            // It is small, and outlives the lessons of the model where another model changes.
            let taught = view.memo("taught", &id, |view| taught_by(view, &id));
            taught.is_some().then_some((id, taught))
        });
        // No more cards are read than are wanted.
        taught.take(MODELS + 1).collect::<Vec<_>>()
    });
    let mut material = Material::default();
    let others = taught.iter().filter(|(id, _)| id != card_id).take(MODELS);
    others.filter_map(|(_, taught)| taught.as_ref().as_ref()).for_each(|(pool, prior)| {
        material.add(pool, prior);
    });
    material.prior(card)
}

/// What a card is made of, where it states neither modulus nor density.
fn open_material(view: &View, card_id: &str) -> Option<taperbook_record::Material> {
    let blank = view.shape(card_id)?;
    let is_open = blank.modulus.is_none() && blank.density.is_none();
    blank.material.map(|material| material.value).filter(|_| is_open)
}

/// What the pieces of a model teach, and what its card tells by itself; `None` where none teaches.
fn taught_by(view: &View, card_id: &str) -> Option<(Pool, Prior)> {
    let model = model(view, card_id);
    let prior = (!model.pieces.is_empty()).then(|| prior_of_card(view, card_id))??;
    // Of a model that changed, the latest batch is what the maker sells.
    let batch = if model.change.is_some() { &model.after } else { &model.before };
    Some((batch.clone(), prior))
}

/// What the readings of all builds of the shop tell of its boards and clamps, on top of what is usual: whatever was measured of them
/// is left out, so that it can be held against this. `None` in a shop without a card.
///
/// Every build is fitted for it, so it is for a question and not for an examination.
pub fn boards_from_readings(view: &View) -> Option<Prior> {
    let errors = Errors { levels: Vec::new(), gives: Vec::new(), ..errors_of(&view.shop()) };
    let mut known: Option<Prior> = None;
    let mut told = Clamps::default();
    for card in view.all(Kind::Blank) {
        let model = model(view, &card.id);
        // A card that its pieces prove wrong would have the boards pay for it.
        let doubted = || doubting(&fit_card(card.card(), None, &errors)?, &errors);
        let prior =
            if model.card_is_doubted { doubted() } else { prior_with(view, &card.id, &errors) };
        let Some(prior) = prior else { continue };
        told.add(&model.clamps(&prior));
        known.get_or_insert(prior);
    }
    known.map(|prior| prior.knowing(&told))
}
