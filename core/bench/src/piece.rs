//! One piece: its bench walked through and the mechanics fitted to all that is known of it.

mod again;

use std::sync::{Arc, Mutex, PoisonError};

use taperbook_mechanics::fit::{
    BentPlace, Errors, Estimate, FitError, Missing, Outcome, Posterior, Prior, Reading, Setup, fit,
};
use taperbook_mechanics::{Clamp, TrimError, Tube, natural_frequency, third_length};
use taperbook_plugin::{Number, Resolution, State, View};
use taperbook_record::{Blank, Build, Content, Kind, Measure, Record, Spanned};
use taperbook_units::{Length, Mass};

use crate::card::{doubting, errors_of, fit_card};
use crate::model::{model, of_material};
use crate::offcut::{self, Offcuts};
use crate::readings::{Taken, bears_out, bends, fit_readings, stated_weight, told_once};
use crate::setup::setup_of;
use crate::state::{estimates_of, missing_state, state_of_estimates};
use crate::trusted::{Trusted, fit_trusted};
use crate::walk::{Cuts, PieceState, Settlement, Walk, walk};

/// A build, or a blank card taken as a piece that nobody has cut.
#[derive(Debug)]
pub struct Piece {
    /// The record's id.
    pub record: String,
    /// The id of its blank card; `None` when the build names none that is known.
    pub card: Option<String>,
    /// Its bench.
    pub walk: Walk,
    /// Where it is held, from the present butt: the record's, the card's or the shop's.
    pub held_at: Option<Length>,
    /// The board and clamp that its next reading is likely taken in: those of the last one, or the shop's.
    pub setup: Setup,
    /// Whether the tilt of that board was measured.
    pub is_levelled: bool,
    /// Whether the give of that clamp was measured.
    pub is_give_known: bool,
    /// Its readings.
    pub taken: Vec<Taken>,
    /// The mechanics, or what must be measured to have one.
    pub fitted: Result<Fitted, String>,
    /// The numbers of the bench's states that somebody asked for.
    estimated: Mutex<Vec<(Cuts, Arc<Estimates>)>>,
}

/// The numbers of a state with their ranges, by [`taperbook_mechanics::fit::Measure`].
pub type Estimates = [Result<Estimate, Missing>; taperbook_mechanics::fit::Measure::ALL.len()];

/// Those with so much off in all, or what to measure.
type EstimatesOf = (Cuts, Result<Arc<Estimates>, String>);

/// The mechanics of a piece.
#[derive(Debug)]
pub struct Fitted {
    /// What is believed of it, from the readings that can be trusted.
    pub posterior: Posterior,
    /// What all readings together give; its residuals show which of them contradict the rest.
    pub all: Posterior,
    /// The readings that are left out of account because all else speaks against them, by their place in
    /// [`Piece::taken`].
    pub strays: Vec<usize>,
    /// What was believed before its own readings.
    pub prior: Prior,
    /// What the card alone leads to believe, and the diameters of the piece.
    pub card: Prior,
    /// How many past pieces of the model stand behind the prior.
    pub n_past: usize,
    /// Whether what the card states of modulus or density counts as a guess, because the readings of its pieces speak against it.
    pub card_is_doubted: bool,
    /// The most likely tube, uncut.
    tube: Tube,
    /// What the posterior rests on: the piece's own readings, then what its card states.
    readings: Vec<Reading>,
}

impl Fitted {
    /// Gives what would be believed if some of the piece's readings counted for nothing; they are numbered as in
    /// [`Piece::taken`].
    ///
    /// Their residuals are still there and say what all else leads to expect of them.
    ///
    /// # Errors
    /// When no numbers come of the rest.
    pub fn without(&self, left_out: &[usize]) -> Result<Posterior, FitError> {
        let mut readings = self.readings.clone();
        for reading_idx in left_out {
            if let Some(reading) = readings.get_mut(*reading_idx) {
                *reading = reading.idle();
            }
        }
        fit(&self.prior, &readings)
    }
}

impl Fitted {
    /// Gives what would be believed of the piece if there were no past build of it: its card and its own readings that can be trusted.
    ///
    /// # Errors
    /// When no numbers come of them.
    pub fn by_itself(&self) -> Result<Posterior, FitError> {
        let mut readings = self.readings.clone();
        self.strays.iter().for_each(|idx| readings[*idx] = readings[*idx].idle());
        fit(&self.card, &readings)
    }
}

/// What is said when a place to hold it at is missing.
const NO_HELD_AT: &str =
    "say where it is held: write `held_at: 9 in` in the record, its blank card or shop.yaml";

/// What is said when a cut would leave nothing.
pub const NOTHING_LEFT: &str = "the cuts leave nothing of the blank";

/// Gives a build, or a blank card taken as an uncut piece; `None` when the record is neither.
///
/// It is worked out once for all who ask.
pub fn piece(view: &View, id: &str) -> Option<Arc<Piece>> {
    let kept = view.memo("piece", id, |view| {
        let record = view.record(id)?;
        match record.kind() {
            Kind::Build => Some(Arc::new(piece_of_build(view, &record, record.build()?))),
            Kind::Blank => Some(Arc::new(piece_of_card(view, &record, record.card()?))),
            Kind::Offcut => {
                let Content::Offcut(offcut) = &record.content else { return None };
                Some(Arc::new(piece_of_card(view, &record, &offcut::completed(view, offcut))))
            }
            _ => None,
        }
    });
    (*kept).clone()
}

/// Where a piece is held: the build says, or its card, or the shop.
pub(crate) fn held_at(view: &View, build: Option<&Build>, card: Option<&str>) -> Option<Length> {
    let own = build.and_then(|build| build.held_at.as_ref()).map(|held| held.value);
    own.or_else(|| {
        let Resolution::Found(card) = view.resolve_shape(card?) else { return None };
        card.shape.held_at.map(|held| held.value)
    })
    .or_else(|| view.shop().held_at.as_ref().map(|held| held.value))
}

fn piece_of_build(view: &View, record: &Record, build: &Build) -> Piece {
    let name = build.blank.as_ref().map(|name| name.value.as_str());
    let card = name.and_then(|name| match view.resolve_shape(name) {
        Resolution::Found(card) => Some((card.shape, card.id)),
        _ => None,
    });
    let (mut blank, card_id) = card.unzip();
    let walk = walk(
        build,
        blank.as_ref().and_then(|blank| blank.length.as_ref()).map(|length| length.value),
    );
    let held_at = held_at(view, Some(build), name);
    let shop = view.shop();
    let errors = errors_of(&shop);
    let offcuts = offcut::kept(view, &record.id, build, &walk);
    let mut taken = fit_readings(build, &walk, held_at, &shop);
    taken.extend(offcuts.weights(build));
    let setup = match taken.iter().rev().find(|taken| taken.is_on_a_board()) {
        Some(taken) => taken.reading.setup,
        None => setup_of(&shop, None),
    };
    if let (Some(blank), Some(card_id)) = (&mut blank, &card_id) {
        blank.weight = weight_to_tell(view, card_id, &taken, &errors);
    }
    let known = Known {
        card: blank.as_ref(),
        build: Some((build, &walk)),
        taken: &taken,
        offcuts: &offcuts,
        length_is_own: false,
        errors: &errors,
    };
    let fitted = fitted(view, &record.id, card_id.as_deref(), known);
    Piece {
        record: record.id.clone(),
        card: card_id,
        walk,
        held_at,
        setup,
        is_levelled: is_levelled(&errors, setup),
        is_give_known: is_give_known(&errors, setup),
        taken,
        fitted,
        estimated: Mutex::default(),
    }
}

/// The weight that a card states, where it tells something of a piece: not where that was weighed uncut and weighs about as much.
fn weight_to_tell(
    view: &View,
    card_id: &str,
    taken: &[Taken],
    errors: &Errors,
) -> Option<Spanned<Mass>> {
    let mut told = taken.iter().filter_map(|taken| bears_out(&taken.reading, errors));
    let is_borne_out = told.any(|(low, high)| view.weighs_between(card_id, low, high));
    if is_borne_out { None } else { view.weight(card_id) }
}

fn piece_of_card(view: &View, record: &Record, blank: &Blank) -> Piece {
    let length = blank.length.as_ref().map(|length| length.value);
    let uncut = PieceState {
        item: None,
        logged: Cuts::default(),
        off: Cuts::default(),
        length,
        length_was_read: false,
    };
    let walk = Walk {
        states: vec![uncut],
        state_of_item: Vec::new(),
        planned: None,
        settled: Settlement::default(),
        unread_cut: None,
    };
    let errors = errors_of(&view.shop());
    let offcuts = Offcuts::default();
    let known = Known {
        card: Some(blank),
        build: None,
        taken: &[],
        offcuts: &offcuts,
        length_is_own: record.kind() == Kind::Offcut,
        errors: &errors,
    };
    let fitted = fitted(view, &record.id, Some(&record.id), known);
    let setup = setup_of(&view.shop(), None);
    Piece {
        record: record.id.clone(),
        card: Some(record.id.clone()),
        walk,
        held_at: held_at(view, None, Some(&record.id)),
        setup,
        is_levelled: is_levelled(&errors, setup),
        is_give_known: is_give_known(&errors, setup),
        taken: Vec::new(),
        fitted,
        estimated: Mutex::default(),
    }
}

fn is_levelled(errors: &Errors, setup: Setup) -> bool {
    errors.levels.iter().any(|level| level.board == setup.board)
}

fn is_give_known(errors: &Errors, setup: Setup) -> bool {
    errors.gives.iter().any(|give| give.clamp == setup.clamp)
}

/// What is known of a piece by itself.
struct Known<'a> {
    card: Option<&'a Blank>,
    build: Option<(&'a Build, &'a Walk)>,
    taken: &'a [Taken],
    offcuts: &'a Offcuts,
    /// The length was measured in the shop and is not a maker's word: that of an offcut.
    length_is_own: bool,
    errors: &'a Errors,
}

fn fitted(view: &View, id: &str, card_id: Option<&str>, known: Known) -> Result<Fitted, String> {
    let Known { card: blank, build, taken, offcuts, length_is_own, errors } = known;
    if let Some(item_idx) = build.and_then(|(_, walk)| walk.unread_cut) {
        let item = item_idx + 1;
        return Err(format!(
            "item {item} of the bench is a cut of unknown size: write how much came off"
        ));
    }
    let Some(mut card) = fit_card(blank, build, errors) else {
        return Err("measure the length of the uncut blank".to_owned());
    };
    offcuts.add_to(&mut card);
    if length_is_own {
        card.length_sd = Some(errors.length);
    }
    let words = |error: FitError| error.to_string();
    let card_prior = Prior::from_card(&card, errors).map_err(words)?;
    let model = card_id.map(|card| model(view, card)).unwrap_or_default();
    let n_past = model.n_others(id);
    let doubted = model.card_is_doubted.then(|| doubting(&card, errors)).flatten();
    let by_card = doubted.as_ref().unwrap_or(&card_prior);
    let prior = match card_id {
        // Nobody has cut this model before, but perhaps others of its material.
        Some(card) if n_past == 0 => of_material(view, card, by_card),
        _ => model.prior(by_card, id),
    };
    // What the card states comes last, so that the first residuals are those of the piece's own readings.
    let stated = stated_weight(blank);
    let readings: Vec<_> = told_once(&card, taken).into_iter().chain(stated).collect();
    let Trusted { posterior, all, strays } =
        fit_trusted(&prior, || doubting(&card, errors), &readings, &bends(taken)).map_err(words)?;
    let (tube, card, card_is_doubted) = (posterior.tube(), card_prior, doubted.is_some());
    Ok(Fitted { tube, posterior, all, strays, prior, card, n_past, card_is_doubted, readings })
}

impl Piece {
    /// Gives the numbers with so much off in all, with their covariance.
    ///
    /// # Errors
    /// When a number that all need is missing; says what to measure.
    pub fn outcome(&self, off: Cuts, held_at: Length) -> Result<Outcome, String> {
        let posterior = &self.fitted.as_ref().map_err(Clone::clone)?.posterior;
        let outcome =
            posterior.outcome(off.tip, off.butt, held_at).map_err(|error| error.to_string())?;
        Ok(outcome.sawn(self.walk.n_cuts_unmeasured(off), posterior.errors()))
    }

    /// The same piece with other mechanics.
    #[must_use]
    pub fn with(&self, fitted: Fitted) -> Self {
        Self {
            record: self.record.clone(),
            card: self.card.clone(),
            walk: self.walk.clone(),
            held_at: self.held_at,
            setup: self.setup,
            is_levelled: self.is_levelled,
            is_give_known: self.is_give_known,
            taken: self.taken.clone(),
            fitted: Ok(fitted),
            estimated: Mutex::default(),
        }
    }

    /// Gives the numbers with so much off in all, held where the piece is, or by its very butt when nobody says where; those of the
    /// bench's states are worked out once for all who ask, and those before any cut together with those as it now is.
    ///
    /// # Errors
    /// As for [`Piece::outcome`].
    pub fn estimates(&self, off: Cuts) -> Result<Arc<Estimates>, String> {
        let kept = || self.estimated.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, estimates)) = kept().iter().find(|(of, _)| *of == off) {
            return Ok(estimates.clone());
        }
        let mut asked = Err(NOTHING_LEFT.to_owned());
        for (of, estimates) in self.estimated_with(off)? {
            if let Ok(estimates) = &estimates
                && self.walk.states.iter().any(|state| state.off == of)
            {
                kept().push((of, estimates.clone()));
            }
            if of == off {
                asked = estimates;
            }
        }
        asked
    }

    /// The numbers with so much off in all. Of the piece as it now is and as it was before any cut, those of both: whoever asks for one
    /// asks for the other too, and their bends have much in common.
    fn estimated_with(&self, off: Cuts) -> Result<Vec<EstimatesOf>, String> {
        let posterior = &self.fitted.as_ref().map_err(Clone::clone)?.posterior;
        let (now, uncut) = (self.walk.present().off, self.walk.uncut().off);
        // Always in this order, so that no digit hangs on what was asked first.
        let both = [now, uncut];
        let all = if now != uncut && both.contains(&off) { &both[..] } else { &[off] };
        let cuts: Vec<_> = all.iter().map(|off| (off.tip, off.butt)).collect();
        let outcomes = posterior.outcomes(&cuts, self.held_at.unwrap_or_default());
        let estimates = |(off, outcome): (&Cuts, Result<Outcome, TrimError>)| {
            let outcome = outcome.map_err(|error| error.to_string());
            let sawn = |outcome: Outcome| {
                outcome.sawn(self.walk.n_cuts_unmeasured(*off), posterior.errors())
            };
            (*off, outcome.map(|outcome| Arc::new(estimates_of(&sawn(outcome)))))
        };
        Ok(all.iter().zip(outcomes).map(estimates).collect())
    }

    /// Gives places on the piece with so much off in all, bent by a weight in a level clamp that does not yield.
    ///
    /// # Errors
    /// When there is no such bend; says what to measure or what is wrong.
    pub fn bent(
        &self,
        off: Cuts,
        held_at: Length,
        load: Mass,
        n_places: usize,
    ) -> Result<Vec<BentPlace>, String> {
        let posterior = &self.fitted.as_ref().map_err(Clone::clone)?.posterior;
        let bent = posterior.bent((off.tip, off.butt), held_at, load, n_places);
        bent.map_err(|missing| missing.to_string())
    }

    /// Says whether a reading of an item is left out of account because all else speaks against it.
    pub fn is_stray(&self, item: usize, measure: Measure) -> bool {
        let is_it = |taken: &Taken| taken.item == item && taken.measure == Some(measure);
        let strays = self.fitted.as_ref().map_or(&[][..], |fitted| &fitted.strays);
        strays.iter().filter_map(|idx| self.taken.get(*idx)).any(is_it)
    }

    /// Gives the length with so much off in all; `None` when nobody knows it.
    pub(crate) fn length(&self, off: Cuts) -> Option<Length> {
        let uncut = self.walk.uncut().length.filter(|_| self.walk.unread_cut.is_none());
        uncut.map(|length| length - off.total())
    }

    /// Gives the numbers of a state as they are shown; what is missing says what to measure.
    pub fn state(&self, off: Cuts, held_at: Option<Length>) -> State {
        let length = self.length(off);
        let known = |length: Length| Some(length.m()).filter(|metres| 0.0 < *metres);
        let free = length.zip(held_at).and_then(|(length, held)| known(length - held));
        let missing = |what: &str| missing_state(length.and_then(known), free, what);
        let estimates = if held_at == self.held_at {
            self.estimates(off)
        } else {
            let outcome = self.outcome(off, held_at.unwrap_or_default());
            outcome.map(|outcome| Arc::new(estimates_of(&outcome)))
        };
        match estimates {
            Err(what) => missing(&what),
            Ok(estimates) if held_at.is_some() => state_of_estimates(&estimates),
            // Lengths, diameters and weight are the same wherever it is held.
            Ok(estimates) => {
                State::new(state_of_estimates(&estimates).iter().map(|(measure, number)| {
                    match measure {
                        Measure::Length
                        | Measure::TipOd
                        | Measure::ButtOd
                        | Measure::Weight
                        | Measure::Balance => (measure, number),
                        _ => (measure, Number::missing(NO_HELD_AT)),
                    }
                }))
            }
        }
    }

    /// Gives only the most likely values, which costs a twentieth of [`Piece::outcome`]; SI, `None` where one can't be
    /// computed or was not asked for.
    pub fn value(&self, measure: Measure, off: Cuts, held_at: Length) -> Option<f64> {
        let fitted = self.fitted.as_ref().ok();
        let length = self.length(off)?;
        match measure {
            Measure::Length => return Some(length.m()).filter(|length| 0.0 < *length),
            Measure::FreeLength => {
                return Some((length - held_at).m()).filter(|length| 0.0 < *length);
            }
            _ => {}
        }
        let fitted = fitted?;
        let tube = fitted.tube.trimmed(off.tip, off.butt).ok()?;
        let clamp = Clamp::horizontal(held_at);
        let third = || third_length(&tube, &clamp).ok();
        Some(match measure {
            Measure::Length | Measure::FreeLength => return None,
            Measure::TipOd => tube.od_at(tube.length()).m(),
            Measure::ButtOd => tube.od_at(Length::default()).m(),
            Measure::Weight => tube.weight().kg(),
            Measure::Balance => tube.balance().m(),
            Measure::Power => third()?.power.kg(),
            Measure::TipAngle => third()?.tip_angle.rad(),
            Measure::BendCentre => third()?.bend_centre,
            Measure::StiffnessForLength => {
                let uncut = third_length(&fitted.tube, &clamp).ok()?.power.kg();
                let free = (tube.length() - held_at) / (fitted.tube.length() - held_at);
                third()?.power.kg() / uncut * free * free
            }
            Measure::Recovery => natural_frequency(&tube, &clamp).ok()?.hz(),
        })
    }
}
