//! What a piece would give when read, with exact derivatives by the parameters.
//!
//! Knows nothing of what was really read.

use taperbook_units::{Length, STANDARD_GRAVITY};

use super::outcome::Missing;
use super::parameters::{Blank, FLAT, LENGTH, Piece, Slopes};
use crate::bend::{
    Adjoint, BEND_ELEMENTS, Beam, BendError, Elastica, Fail, GAUSS_WEIGHT, Gradient, Number, Root,
    Target, solve_pull,
};
use crate::vibrate::{Mode, NoMode, SWING_ELEMENTS, VibrateError};

/// A number and its derivatives by the parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Predicted {
    pub(crate) value: f64,
    pub(crate) by: Slopes,
}

/// The state of the piece and how it is held, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct State {
    pub(crate) tip_cut: f64,
    pub(crate) butt_cut: f64,
    pub(crate) held_at: f64,
}

/// Power in kg, tip angle in rad, bend centre as a part of the free length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Third {
    pub(crate) power: Predicted,
    pub(crate) tip_angle: Predicted,
    pub(crate) bend_centre: Predicted,
}

/// One of the numbers of [`Third`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum OfThird {
    Power,
    TipAngle,
    BendCentre,
}

/// A piece bent by the third-length weight, and what is known of that.
#[derive(Debug)]
struct BentToThird {
    state: State,
    held: Held,
    beam: Result<Beam, BendError>,
    /// By [`OfThird`].
    known: [Option<Predicted>; 3],
}

/// Whose clamp it is held in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Held {
    /// One of the shop's, whose tilt and give are among the parameters.
    In(Root),
    /// One that is horizontal and does not yield.
    Ideally,
}

impl Held {
    fn root(self) -> Root {
        match self {
            Self::In(root) => root,
            Self::Ideally => Root { raised: 0.0, give: 0.0 },
        }
    }

    /// Whether its tilt and give are not sure.
    fn is_unsure(self) -> bool {
        matches!(self, Self::In(_))
    }
}

/// A piece being asked; it keeps what it computed last, and the room for it.
#[derive(Debug)]
pub(crate) struct Asked<'piece> {
    blank: &'piece Blank,
    piece: &'piece Piece,
    elastica: Elastica,
    adjoint: Adjoint,
    gradient: Gradient,
    mode: Mode,
    /// In `elastica` as long as it is here.
    third: Option<BentToThird>,
    bent: Option<(State, Root, f64, Result<Beam, BendError>)>,
}

impl<'piece> Asked<'piece> {
    pub(crate) fn new(blank: &'piece Blank, piece: &'piece Piece) -> Self {
        Self {
            blank,
            piece,
            elastica: Elastica::default(),
            adjoint: Adjoint::default(),
            gradient: Gradient::default(),
            mode: Mode::default(),
            third: None,
            bent: None,
        }
    }

    /// Power, tip angle and bend centre; a power below zero when the piece is too limp, which a fit can still work with.
    pub(crate) fn third(&mut self, state: State, held: Held) -> Result<Third, BendError> {
        Ok(Third {
            power: self.of_third(state, held, OfThird::Power)?,
            tip_angle: self.of_third(state, held, OfThird::TipAngle)?,
            bend_centre: self.of_third(state, held, OfThird::BendCentre)?,
        })
    }

    /// One of these numbers alone.
    pub(crate) fn of_third(
        &mut self,
        state: State,
        held: Held,
        which: OfThird,
    ) -> Result<Predicted, BendError> {
        if !self.third.as_ref().is_some_and(|third| (third.state, third.held) == (state, held)) {
            let beam = self.bend_to_third(state, held);
            self.third = Some(BentToThird { state, held, beam, known: [None; 3] });
        }
        let Some(third) = &mut self.third else { return Err(BendError::NoSolution) };
        let beam = third.beam.as_ref().map_err(|error| *error)?;
        let known = &mut third.known[which as usize];
        if let Some(known) = known {
            return Ok(*known);
        }
        let Self { piece, elastica, adjoint, gradient, .. } = self;
        let (number, value, scale, stretched) = match which {
            OfThird::Power => {
                (Number::Pull, elastica.pull, 1.0 / STANDARD_GRAVITY, -2.0 * elastica.pull)
            }
            OfThird::TipAngle => (Number::TipAngle, elastica.tip_angle(), 1.0, 0.0),
            OfThird::BendCentre => (Number::BendCentre, elastica.bend_centre(beam), 1.0, 0.0),
        };
        let (root, target) = (held.root(), Target::TipDrop(beam.free / 3.0));
        elastica.gradient(beam, root, target, number, adjoint, gradient);
        let mut by = piece.by_parameters(beam, gradient, held.is_unsure());
        by[LENGTH] = stretch(gradient, root, stretched) / beam.free;
        Ok(*known.insert(Predicted { value: value * scale, by: by.map(|slope| slope * scale) }))
    }

    /// Leaves the bend in `elastica`, ready for derivatives.
    fn bend_to_third(&mut self, state: State, held: Held) -> Result<Beam, BendError> {
        let (beam, root) = self.set_up(state, held, BEND_ELEMENTS)?;
        self.bent = None;
        let target = Target::TipDrop(beam.free / 3.0);
        let solved = self.elastica.solve(&beam, root, 0.0, target);
        if solved.is_err() || !self.elastica.prepare(&beam, root, 0.0, target) {
            return Err(BendError::NoSolution);
        }
        Ok(beam)
    }

    /// Why a piece has no power: it sags by itself below a third of its free length.
    pub(crate) fn too_limp(&mut self, state: State, third: f64) -> BendError {
        let Ok((beam, root)) = self.set_up(state, Held::Ideally, BEND_ELEMENTS) else {
            return BendError::NoSolution;
        };
        (self.third, self.bent) = (None, None);
        match self.elastica.solve(&beam, root, 0.0, Target::Pull(0.0)) {
            Ok(()) => BendError::TooLimp {
                drop: Length::from_m(self.elastica.tip_drop(&beam)),
                third: Length::from_m(third),
            },
            Err(_) => BendError::NoSolution,
        }
    }

    /// First natural frequency in Hz.
    pub(crate) fn frequency(
        &mut self,
        state: State,
        held: Held,
    ) -> Result<Predicted, VibrateError> {
        let (beam, root) =
            self.set_up(state, held, SWING_ELEMENTS).map_err(|error| match error {
                BendError::NothingToBend { held_at, length } => {
                    VibrateError::NothingToSwing { held_at, length }
                }
                _ => VibrateError::Senseless,
            })?;
        let density = self.piece.tube.density;
        self.mode.solve(&beam, density, root.give).map_err(|none| match none {
            NoMode::NoWeight => VibrateError::NoWeight,
            NoMode::NotFound => VibrateError::NoSolution,
        })?;
        self.mode.gradient(&beam, &mut self.gradient);
        let mut by = self.piece.by_parameters(&beam, &self.gradient, held.is_unsure());
        let frequency = self.mode.frequency();
        // A frequency goes with the square root of EI over mass per length, and with one over the length squared.
        by[LENGTH] = (-2.0 * frequency - self.gradient.give * root.give) / beam.free;
        Ok(Predicted { value: frequency, by })
    }

    /// Weight in kg, and balance point in m from the present butt.
    pub(crate) fn weight_and_balance(
        &mut self,
        state: State,
    ) -> Result<(Predicted, Predicted), Missing> {
        let (from, to) = (state.butt_cut, self.piece.tube.end() - state.tip_cut);
        let beam =
            Beam::new(&self.piece.tube, from, to, SWING_ELEMENTS).ok_or(Missing::NothingLeft)?;
        let density = self.piece.tube.density;
        let (mut volume, mut moment) = (0.0, 0.0);
        for element in &beam.elements {
            for (g, weight) in GAUSS_WEIGHT.into_iter().enumerate() {
                let part = weight * element.length * element.area[g];
                volume += part;
                moment += part * element.place(g);
            }
        }
        let centre = moment / volume;
        let mut ask = |by_area: &dyn Fn(f64) -> f64, log_density: f64, value: f64| {
            let gradient = &mut self.gradient;
            (gradient.raised, gradient.give, gradient.log_density) = (0.0, 0.0, log_density);
            gradient.log_stiffness.clear();
            gradient.log_stiffness.resize(beam.elements.len(), [0.0; 3]);
            gradient.area.clear();
            gradient.area.extend(beam.elements.iter().map(|element| {
                let share = |g: usize| GAUSS_WEIGHT[g] * element.length * by_area(element.place(g));
                [share(0), share(1), share(2)]
            }));
            let mut by = self.piece.by_parameters(&beam, gradient, false);
            // A longer piece of the same sections weighs more and balances further out by the same part.
            by[LENGTH] = value / beam.free;
            Predicted { value, by }
        };
        let weight = density * volume;
        let weight = ask(&|_| density, weight, weight);
        let balance = ask(&|at| (at - centre) / volume, 0.0, centre - from);
        Ok((weight, balance))
    }

    /// Outside diameter at a place of the uncut blank.
    pub(crate) fn od(&self, at: f64) -> Result<Predicted, Missing> {
        if !(0.0..=self.piece.tube.end()).contains(&at) {
            return Err(Missing::NothingLeft);
        }
        let (value, by) = self.piece.od(self.blank, at);
        Ok(Predicted { value, by })
    }

    /// How far the bent blank lies above a place on the board, along the blank's own normal there, in m.
    pub(crate) fn above(
        &mut self,
        state: State,
        root: Root,
        load: f64,
        place: (f64, f64),
    ) -> Result<Predicted, BendError> {
        let target = Target::Pull(load * STANDARD_GRAVITY);
        let known = matches!(&self.bent, Some((s, r, l, _)) if (*s, *r, *l) == (state, root, load));
        if !known {
            self.bent = Some((state, root, load, self.bend(state, root, target)));
        }
        let beam = match &self.bent {
            Some((_, _, _, Ok(beam))) => beam,
            Some((_, _, _, Err(error))) => return Err(*error),
            None => return Err(BendError::NoSolution),
        };
        let nearest = self.elastica.nearest(beam, place);
        let number = Number::Offset {
            element: nearest.element,
            part: nearest.part,
            out: nearest.normal.0,
            up: nearest.normal.1,
        };
        let Self { piece, elastica, adjoint, gradient, .. } = self;
        elastica.gradient(beam, root, target, number, adjoint, gradient);
        let mut by = piece.by_parameters(beam, gradient, true);
        // The place on the blank moves out with it, and the same load bends a longer blank more.
        let (x, y) = place;
        let out = nearest.normal.0 * x + nearest.normal.1 * y + nearest.above;
        let by_log_pull = gradient.pull * elastica.pull;
        by[LENGTH] = stretch(gradient, root, out + 2.0 * by_log_pull) / beam.free;
        Ok(Predicted { value: nearest.above, by })
    }

    /// Places on the blank bent by a weight in kg, evenly spaced from near the clamp to the tip.
    pub(crate) fn board(
        &mut self,
        state: State,
        root: Root,
        load: f64,
        n_places: usize,
    ) -> Result<Vec<(f64, f64)>, BendError> {
        self.bent = None;
        let beam = self.bend(state, root, Target::Pull(load * STANDARD_GRAVITY))?;
        Ok(self.elastica.places(&beam, n_places + 1).skip(1).collect())
    }

    fn bend(&mut self, state: State, root: Root, target: Target) -> Result<Beam, BendError> {
        let (beam, root) = self.set_up(state, Held::In(root), BEND_ELEMENTS)?;
        self.third = None;
        match self.elastica.solve(&beam, root, 0.0, target) {
            Ok(()) if self.elastica.prepare(&beam, root, 0.0, target) => Ok(beam),
            Ok(()) | Err(Fail::Unstable) => Err(BendError::Buckles),
            Err(Fail::Unsettled) => Err(BendError::NoSolution),
        }
    }

    /// The pull, in kg, that brings the tip to an angle, in a direction from straight down toward the clamp.
    pub(crate) fn pull(
        &mut self,
        state: State,
        root: Root,
        tip_angle: f64,
        backward: f64,
    ) -> Result<Predicted, BendError> {
        let (beam, root) = self.set_up(state, Held::In(root), BEND_ELEMENTS)?;
        (self.third, self.bent) = (None, None);
        solve_pull(&beam, root, tip_angle, backward, &mut self.elastica)?;
        let target = Target::TipAngle(tip_angle);
        if !self.elastica.prepare(&beam, root, backward, target) {
            return Err(BendError::NoSolution);
        }
        let Self { piece, elastica, adjoint, gradient, .. } = self;
        elastica.gradient(&beam, root, target, Number::Pull, adjoint, gradient);
        let mut by = piece.by_parameters(&beam, gradient, true);
        by[LENGTH] = stretch(gradient, root, -2.0 * elastica.pull) / beam.free;
        Ok(Predicted {
            value: elastica.pull / STANDARD_GRAVITY,
            by: by.map(|slope| slope / STANDARD_GRAVITY),
        })
    }

    fn set_up(&self, state: State, held: Held, n_elements: f64) -> Result<(Beam, Root), BendError> {
        let State { tip_cut, butt_cut, held_at } = state;
        let end = self.piece.tube.end() - tip_cut;
        let root = held.root();
        if !(0.0 <= held_at && 0.0 <= butt_cut && 0.0 <= tip_cut) {
            return Err(BendError::Senseless);
        }
        let beam = Beam::new(&self.piece.tube, butt_cut + held_at, end, n_elements);
        let nothing = BendError::NothingToBend {
            held_at: Length::from_m(held_at),
            length: Length::from_m(end - butt_cut),
        };
        Ok((beam.ok_or(nothing)?, root))
    }
}

impl Predicted {
    /// A length, which is as unsure as the piece's.
    pub(crate) fn length(value: f64) -> Self {
        let mut by = FLAT;
        by[LENGTH] = 1.0;
        Self { value, by }
    }
}

/// How a number changes with ln of the free length, its sections stretched along with it.
///
/// With s = λ ξ the elastica of the stretched blank is that of the blank itself under the pull λ² P, with the density λ³ ρ, in a
/// clamp of the give c / λ. `outright` is what the number changes by itself, and by a pull that is given.
fn stretch(gradient: &Gradient, root: Root, outright: f64) -> f64 {
    outright + 3.0 * gradient.log_density - gradient.give * root.give
}
