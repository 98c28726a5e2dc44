//! What a piece would give when read, with exact derivatives by the parameters.
//!
//! Knows nothing of what was really read.

use taperbook_units::{Length, STANDARD_GRAVITY};

use super::outcome::Missing;
use super::parameters::{Blank, FLAT, LENGTH, Piece, Slopes};
use crate::bend::{
    Adjoint, BEND_ELEMENTS, Beam, BendError, Elastica, Element, Fail, GAUSS_WEIGHT, Gradient,
    Number, Root, Target, solve_pull,
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

/// What a piece is bent by.
#[derive(Debug, Clone, Copy, PartialEq)]
enum BentBy {
    /// The third-length weight.
    Third,
    /// This pull straight down, in N.
    Pull(f64),
}

/// A piece bent in one state, and what is known of that.
#[derive(Debug)]
struct Bend {
    state: State,
    by: BentBy,
    held: Held,
    /// Of the piece that is asked, not of the one before it.
    is_present: bool,
    beam: Result<Beam, BendError>,
    elastica: Elastica,
    /// By [`OfThird`].
    known: [Option<Predicted>; 3],
}

/// The room that predictions take; used again, each bend is sought from where it was found for the piece before.
#[derive(Debug, Default)]
pub(crate) struct Room {
    bends: Vec<Bend>,
    /// For a bend that is asked for once.
    elastica: Elastica,
    /// For a beam that is asked for once.
    elements: Vec<Element>,
    adjoint: Adjoint,
    gradient: Gradient,
    mode: Mode,
}

/// So many bends are kept, those that were asked for first.
const MOST_BENDS: usize = 64;

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

/// Weight and balance point.
type Weighed = Result<(Predicted, Predicted), Missing>;

/// A piece being asked; it keeps what it computed.
#[derive(Debug)]
pub(crate) struct Asked<'piece> {
    blank: &'piece Blank,
    piece: &'piece Piece,
    room: Room,
    weighed: Option<(State, Weighed)>,
}

impl<'piece> Asked<'piece> {
    pub(crate) fn new(blank: &'piece Blank, piece: &'piece Piece) -> Self {
        Self::in_room(blank, piece, Room::default())
    }

    /// A piece that differs little from the one that was asked in this room before.
    pub(crate) fn in_room(blank: &'piece Blank, piece: &'piece Piece, mut room: Room) -> Self {
        room.bends.iter_mut().for_each(|bend| bend.is_present = false);
        Self { blank, piece, room, weighed: None }
    }

    pub(crate) fn into_room(self) -> Room {
        self.room
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
        let bend_idx = self.bend(state, held, BentBy::Third)?;
        let Self { piece, room, .. } = self;
        let Room { bends, adjoint, gradient, .. } = room;
        let Bend { beam, elastica, known, .. } = &mut bends[bend_idx];
        let beam = beam.as_ref().map_err(|error| *error)?;
        let known = &mut known[which as usize];
        if let Some(known) = known {
            return Ok(*known);
        }
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

    /// Bends the piece, ready for derivatives, unless it is; gives the bend's place in the room.
    fn bend(&mut self, state: State, held: Held, by: BentBy) -> Result<usize, BendError> {
        let bends = &mut self.room.bends;
        let is_it =
            |bend: &Bend| bend.is_present && (bend.state, bend.by, bend.held) == (state, by, held);
        let found = match bends.iter().position(is_it) {
            Some(bend_idx) => {
                return bends[bend_idx].beam.as_ref().map(|_| bend_idx).map_err(|error| *error);
            }
            None => bends
                .iter()
                .position(|bend| !bend.is_present && (bend.state, bend.by) == (state, by)),
        };
        let bend_idx = found.unwrap_or(bends.len().min(MOST_BENDS - 1));
        let (mut elastica, mut elements) = (Elastica::default(), Vec::new());
        if let Some(bend) = bends.get_mut(bend_idx) {
            elastica = std::mem::take(&mut bend.elastica);
            if let Ok(beam) = &mut bend.beam {
                elements = std::mem::take(&mut beam.elements);
            }
        }
        let is_alike = |bend: &Bend| bend.is_present && bend.by == by && bend.beam.is_ok();
        let like = match found {
            Some(_) => None,
            None => bends.iter().rposition(is_alike).filter(|like_idx| *like_idx != bend_idx),
        };
        let set_up = self.set_up_in(state, held, BEND_ELEMENTS, elements);
        let beam = set_up.and_then(|(beam, root)| {
            if let Some(Bend { beam: Ok(other), elastica: there, .. }) =
                like.map(|like_idx| &self.room.bends[like_idx])
            {
                elastica.begin_like(&beam, there, other);
            }
            bent(beam, root, by, &mut elastica)
        });
        let answer = beam.as_ref().map(|_| bend_idx).map_err(|error| *error);
        let bend = Bend { state, by, held, is_present: true, beam, elastica, known: [None; 3] };
        match self.room.bends.get_mut(bend_idx) {
            Some(before) => *before = bend,
            None => self.room.bends.push(bend),
        }
        answer
    }

    /// Why a piece has no power: it sags by itself below a third of its free length.
    pub(crate) fn too_limp(&mut self, state: State, third: f64) -> BendError {
        let Ok((beam, root)) = self.set_up(state, Held::Ideally, BEND_ELEMENTS) else {
            return BendError::NoSolution;
        };
        let elastica = &mut self.room.elastica;
        match elastica.solve(&beam, root, 0.0, Target::Pull(0.0)) {
            Ok(()) => BendError::TooLimp {
                drop: Length::from_m(elastica.tip_drop(&beam)),
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
        let Self { piece, room, .. } = self;
        let Room { mode, gradient, .. } = room;
        mode.solve(&beam, density, root.give).map_err(|none| match none {
            NoMode::NoWeight => VibrateError::NoWeight,
            NoMode::NotFound => VibrateError::NoSolution,
        })?;
        mode.gradient(&beam, gradient);
        let mut by = piece.by_parameters(&beam, gradient, held.is_unsure());
        let frequency = mode.frequency();
        // A frequency goes with the square root of EI over mass per length, and with one over the length squared.
        by[LENGTH] = (-2.0 * frequency - gradient.give * root.give) / beam.free;
        room.elements = beam.elements;
        Ok(Predicted { value: frequency, by })
    }

    /// Weight in kg, and balance point in m from the present butt.
    pub(crate) fn weight_and_balance(&mut self, state: State) -> Weighed {
        if let Some((of, weighed)) = self.weighed
            && of == state
        {
            return weighed;
        }
        let weighed = self.weigh(state);
        self.weighed = Some((state, weighed));
        weighed
    }

    fn weigh(&mut self, state: State) -> Weighed {
        let (from, to) = (state.butt_cut, self.piece.tube.end() - state.tip_cut);
        let elements = std::mem::take(&mut self.room.elements);
        let beam = Beam::in_room(&self.piece.tube, from, to, SWING_ELEMENTS, elements)
            .ok_or(Missing::NothingLeft)?;
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
            let gradient = &mut self.room.gradient;
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
        self.room.elements = beam.elements;
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
        let pull = load * STANDARD_GRAVITY;
        let bend_idx = self.bend(state, Held::In(root), BentBy::Pull(pull))?;
        let Self { piece, room, .. } = self;
        let Room { bends, adjoint, gradient, .. } = room;
        let Bend { beam, elastica, .. } = &bends[bend_idx];
        let beam = beam.as_ref().map_err(|error| *error)?;
        let nearest = elastica.nearest(beam, place);
        let number = Number::Offset {
            element: nearest.element,
            part: nearest.part,
            out: nearest.normal.0,
            up: nearest.normal.1,
        };
        elastica.gradient(beam, root, Target::Pull(pull), number, adjoint, gradient);
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
        let pull = load * STANDARD_GRAVITY;
        let bend_idx = self.bend(state, Held::In(root), BentBy::Pull(pull))?;
        let Bend { beam, elastica, .. } = &self.room.bends[bend_idx];
        let beam = beam.as_ref().map_err(|error| *error)?;
        Ok(elastica.places(beam, n_places + 1).skip(1).collect())
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
        let Self { piece, room, .. } = self;
        let Room { elastica, adjoint, gradient, .. } = room;
        solve_pull(&beam, root, tip_angle, backward, elastica)?;
        let target = Target::TipAngle(tip_angle);
        elastica.gradient(&beam, root, target, Number::Pull, adjoint, gradient);
        let mut by = piece.by_parameters(&beam, gradient, true);
        by[LENGTH] = stretch(gradient, root, -2.0 * elastica.pull) / beam.free;
        Ok(Predicted {
            value: elastica.pull / STANDARD_GRAVITY,
            by: by.map(|slope| slope / STANDARD_GRAVITY),
        })
    }

    /// A beam that is asked for once; whoever is done with it puts its elements back.
    fn set_up(
        &mut self,
        state: State,
        held: Held,
        n_elements: f64,
    ) -> Result<(Beam, Root), BendError> {
        let elements = std::mem::take(&mut self.room.elements);
        self.set_up_in(state, held, n_elements, elements)
    }

    fn set_up_in(
        &self,
        state: State,
        held: Held,
        n_elements: f64,
        elements: Vec<Element>,
    ) -> Result<(Beam, Root), BendError> {
        let State { tip_cut, butt_cut, held_at } = state;
        let end = self.piece.tube.end() - tip_cut;
        let root = held.root();
        if !(0.0 <= held_at && 0.0 <= butt_cut && 0.0 <= tip_cut) {
            return Err(BendError::Senseless);
        }
        let tube = &self.piece.tube;
        let beam = Beam::in_room(tube, butt_cut + held_at, end, n_elements, elements);
        let nothing = BendError::NothingToBend {
            held_at: Length::from_m(held_at),
            length: Length::from_m(end - butt_cut),
        };
        Ok((beam.ok_or(nothing)?, root))
    }
}

fn bent(beam: Beam, root: Root, by: BentBy, elastica: &mut Elastica) -> Result<Beam, BendError> {
    let target = match by {
        BentBy::Third => Target::TipDrop(beam.free / 3.0),
        BentBy::Pull(pull) => Target::Pull(pull),
    };
    match (elastica.solve_near(&beam, root, 0.0, target), by) {
        (Ok(()), _) => Ok(beam),
        (Err(Fail::Unstable), BentBy::Pull(_)) => Err(BendError::Buckles),
        (Err(_), _) => Err(BendError::NoSolution),
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
