//! What is believed of a piece after its readings.
//!
//! How it is found is in `newton`.

use taperbook_units::{Length, Mass};

use super::errors::Errors;
use super::matrix::Matrix;
use super::outcome::{Estimate, Measure, Missing, NINETY_FIVE, Outcome};
use super::parameters::{BLANK, Piece};
use super::predict::{Asked, State};
use super::prior::Prior;
use crate::bend::Root;
use crate::tube::{LEAST_LENGTH, TrimError, Tube};

/// What is believed of a piece after its readings: a Gaussian over the parameters of the blank, the boards and the clamps.
///
/// Cheap to keep: some kilobytes.
#[derive(Debug, Clone)]
pub struct Posterior {
    pub(crate) prior: Prior,
    pub(crate) mean: Vec<f64>,
    pub(crate) covariance: Matrix,
    pub(crate) residuals: Vec<Residual>,
    /// The derivatives of each reading's prediction by the parameters, in the reading's standard deviations.
    pub(crate) slopes: Vec<Vec<f64>>,
    /// What each reading says these slopes times the parameters are, near the mean.
    pub(crate) told: Vec<f64>,
    pub(crate) wild: Vec<f64>,
}

/// A reading is left out of account when it is wild with this chance.
pub const SURE: f64 = super::least_squares::wild::SURE;

/// How well one reading is met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// What was read, in SI units: for a board point its y, for a pull the load.
    pub read: f64,
    /// What the fitted blank would have given, in SI units; or why that can't be computed, in which case the reading taught nothing.
    /// For a board point, its y plus the distance by which the blank lies above it.
    pub predicted: Result<f64, Missing>,
    /// How far the reading lies above what the card and all the *other* readings lead to expect, in standard deviations of that difference.
    /// Beyond 3 either way it contradicts them; 0 when it can't be predicted.
    pub miss: f64,
}

/// A place on a bent piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BentPlace {
    /// Outward from the clamp.
    pub x: Length,
    /// Up from the clamp line; negative below.
    pub y: Length,
    /// From the place across the blank, out and up, to where the blank lies above once in twenty; it lies as far below as often.
    pub beside: (Length, Length),
}

/// A clamp that is horizontal and does not yield.
const LEVEL: Root = Root { raised: 0.0, give: 0.0 };

impl Posterior {
    /// The most likely tube, uncut.
    pub fn tube(&self) -> Tube {
        self.piece().tube
    }

    /// The uncut length that the ranges are for.
    pub fn length(&self) -> Length {
        self.prior.length()
    }

    /// How far off instruments are taken to be.
    pub fn errors(&self) -> &Errors {
        &self.prior.errors
    }

    /// The numbers of the piece with so much cut off in all, held at a place from its then-present butt
    /// by a horizontal clamp that does not yield, with what is not sure of each.
    ///
    /// A range is for the true value, not for the next reading.
    ///
    /// # Errors
    /// When the cuts leave nothing. A single number that can't be computed is missing in the [`Outcome`] and says why.
    pub fn outcome(
        &self,
        tip_cut: Length,
        butt_cut: Length,
        held_at: Length,
    ) -> Result<Outcome, TrimError> {
        let state = self.state(tip_cut, butt_cut, held_at)?;
        Ok(Outcome::of(&self.prior, &self.of_blank(), &self.piece(), state))
    }

    /// The same of several cuts, tip and butt each, held at the same place; what they have in common is worked out once.
    ///
    /// # Errors
    /// As for [`Posterior::outcome`], of each by itself.
    pub fn outcomes(
        &self,
        cuts: &[(Length, Length)],
        held_at: Length,
    ) -> Vec<Result<Outcome, TrimError>> {
        let (of_blank, piece) = (self.of_blank(), self.piece());
        let mut asked = Asked::new(&self.prior.blank, &piece);
        let mut outcome = |(tip_cut, butt_cut): &(Length, Length)| {
            let state = self.state(*tip_cut, *butt_cut, held_at)?;
            Ok(Outcome::asked(&self.prior, &of_blank, &piece, &mut asked, state))
        };
        cuts.iter().map(&mut outcome).collect()
    }

    /// The change of a number from one outcome of this posterior to another, `after` less `before`, in SI units.
    ///
    /// Much of what is not sure is common to both and falls out.
    ///
    /// # Errors
    /// When either lacks the number.
    pub fn change(
        &self,
        before: &Outcome,
        after: &Outcome,
        measure: Measure,
    ) -> Result<Estimate, Missing> {
        let (from, to) = (before.number(measure)?, after.number(measure)?);
        let by: Vec<f64> =
            (0..BLANK).map(|parameter| to.by[parameter] - from.by[parameter]).collect();
        let common = self.of_blank().square(&by).max(0.0);
        let (apart_from, apart_to) = (before.apart(measure), after.apart(measure));
        let apart = if apart_from == apart_to { 0.0 } else { apart_from.hypot(apart_to) };
        Ok(Estimate::any(to.value - from.value, common.sqrt().hypot(apart)))
    }

    /// The piece with so much cut off in all, held by a horizontal clamp that does not yield and bent by a weight at its tip: places
    /// evenly spaced along the free length from the clamp to the tip, at least three, with how far the blank may lie beside each.
    ///
    /// # Errors
    /// When the cuts leave nothing, or such a bend can't be computed.
    pub fn bent(
        &self,
        (tip_cut, butt_cut): (Length, Length),
        held_at: Length,
        load: Mass,
        n_places: usize,
    ) -> Result<Vec<BentPlace>, Missing> {
        let state = self.state(tip_cut, butt_cut, held_at).map_err(|_| Missing::NothingLeft)?;
        let piece = self.piece();
        let mut asked = Asked::new(&self.prior.blank, &piece);
        let places = asked.board(state, LEVEL, load.kg(), n_places.max(3) - 1)?;
        let places: Vec<(f64, f64)> = std::iter::once((0.0, 0.0)).chain(places).collect();
        let of_blank = self.of_blank();
        let mut bent = Vec::with_capacity(places.len());
        for (place_idx, (x, y)) in places.iter().copied().enumerate() {
            let mut beside = (0.0, 0.0);
            if 0 < place_idx {
                let (from, to) =
                    (places[place_idx - 1], places[(place_idx + 1).min(places.len() - 1)]);
                let (out, up) = (to.0 - from.0, to.1 - from.1);
                let above = asked.above(state, LEVEL, load.kg(), (x, y))?;
                let spread = NINETY_FIVE * of_blank.square(&above.by[..BLANK]).max(0.0).sqrt();
                let long = out.hypot(up);
                beside = (-up / long * spread, out / long * spread);
            }
            let [x, y, out, up] = [x, y, beside.0, beside.1].map(Length::from_m);
            bent.push(BentPlace { x, y, beside: (out, up) });
        }
        Ok(bent)
    }

    /// How well each reading is met, in the order in which they were given.
    pub fn residuals(&self) -> &[Residual] {
        &self.residuals
    }

    /// How likely each reading is to be wildly off, 0 to 1, at most two of them being so: a slip of the weights, a swapped inch.
    ///
    /// From [`SURE`] on the others all but prove it, and a fit without it is the better one. Two readings that contradict each other are
    /// wild by halves as long as nothing decides between them.
    pub fn wild(&self) -> &[f64] {
        &self.wild
    }

    /// How far off what is foretold of a reading may be, as a standard deviation measured in that of the reading, whose own error is
    /// not in it; by its place in the list given to the fit. `None` where it can't be predicted.
    pub fn unsure_of(&self, reading: usize) -> Option<f64> {
        self.residuals.get(reading)?.predicted.ok()?;
        Some(self.covariance.square(&self.slopes[reading]).max(0.0).sqrt())
    }

    /// What is believed now, as a prior for readings to come of the same piece.
    pub fn as_prior(&self) -> Prior {
        Prior { mean: self.mean.clone(), covariance: self.covariance.clone(), ..self.prior.clone() }
    }

    /// What is not sure of the blank's own parameters.
    pub(crate) fn of_blank(&self) -> Matrix {
        self.covariance.picked(&std::array::from_fn::<_, BLANK, _>(|parameter| parameter))
    }

    pub(crate) fn piece(&self) -> Piece {
        self.prior.blank.piece(&self.mean)
    }

    pub(crate) fn state(
        &self,
        tip: Length,
        butt: Length,
        held_at: Length,
    ) -> Result<State, TrimError> {
        if let Some(&cut) = [tip, butt].iter().find(|cut| !(0.0 <= cut.m() && cut.m() < 1e6)) {
            return Err(TrimError::Negative(cut));
        }
        let length = self.length();
        if (length - tip - butt).m() < LEAST_LENGTH {
            return Err(TrimError::NothingLeft { tip, butt, length });
        }
        Ok(State { tip_cut: tip.m(), butt_cut: butt.m(), held_at: held_at.m() })
    }
}
