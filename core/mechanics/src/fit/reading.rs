//! A reading of a piece, on the bench, and how it compares with what the piece would give.

use taperbook_units::{Angle, Frequency, Length, Mass};

use super::errors::Errors;
use super::least_squares::wild::WILD;
use super::outcome::Missing;
use super::parameters::Slopes;
use super::predict::{Asked, Held, OfThird, Predicted, State};
use super::prior::Prior;
use super::setup::Setup;
use crate::bend::Root;

/// Something read off the piece as it then was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// What had been cut off the tip in all when it was read.
    pub tip_cut: Length,
    /// What had been cut off the butt in all when it was read.
    pub butt_cut: Length,
    /// Where it was held, from the then-present butt.
    pub held_at: Length,
    /// In which clamp, on which board; of no matter to weights and diameters.
    pub setup: Setup,
    /// What was read.
    pub measured: Measured,
    /// The standard deviation of this reading in SI units, where it differs from [`super::Errors`].
    pub sd: Option<f64>,
}

impl Reading {
    /// Gives the same reading with no say in a fit; its residual still tells what all else leads to expect of it.
    ///
    /// Readings in SI units are below a million, so that its standard deviation is a million times the largest.
    #[must_use]
    pub fn idle(self) -> Self {
        Self { sd: Some(1e12), ..self }
    }
}

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measured {
    /// The third-length weight.
    Power(Mass),
    /// The angle of the tip below horizontal at the third-length weight.
    TipAngle(Angle),
    /// What the bare blank weighs.
    Weight(Mass),
    /// The first natural frequency of the bare blank in the clamp.
    Frequency(Frequency),
    /// The balance point, from the then-present butt.
    Balance(Length),
    /// The outside diameter of the tip end.
    TipOd(Length),
    /// The outside diameter of the butt end.
    ButtOd(Length),
    /// A place on the blank bent on the board, x outward from the clamp and y up from the clamp line.
    BoardPoint {
        /// What hung from the tip.
        load: Mass,
        /// Outward from the clamp.
        x: Length,
        /// Up from the clamp line; negative below.
        y: Length,
    },
    /// A hand pull: the pull that brought the tip to an angle below horizontal.
    ///
    /// Nobody measures the direction of a hand's pull. It is taken to lie halfway between straight down and square to the tip,
    /// which is half the angle back toward the clamp, and the reading counts for as little as [`super::Errors`] says of `pull`.
    Pull {
        /// The angle of the tip below horizontal.
        angle: Angle,
        /// What the scale read.
        load: Mass,
    },
}

/// A reading compared with what the piece would give.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Compared {
    /// What the piece would give, in SI units.
    pub(crate) predicted: f64,
    /// Read less predicted, in standard deviations of the reading.
    pub(crate) miss: f64,
    /// How what is predicted changes with the parameters, in the same measure.
    pub(crate) by: Slopes,
    /// How much that is in SI units, where it is predicted.
    pub(crate) sd: f64,
}

/// No reading is taken to be better than this part of itself, so that a stated error of nothing can't divide by zero.
const BEST: f64 = 1e-4;
/// How far off a frequency is whose nods were counted wrong, as a part of it (common practice, no source).
const MISCOUNT: f64 = 0.5;
/// Below this part of what was read, the logarithm of what is predicted goes on as a straight line, so that it stays finite.
const LEAST_PART: f64 = 0.2;

impl Reading {
    pub(crate) fn state(&self) -> State {
        State { tip_cut: self.tip_cut.m(), butt_cut: self.butt_cut.m(), held_at: self.held_at.m() }
    }

    /// What was read, in SI units.
    pub(crate) fn read(&self) -> f64 {
        match self.measured {
            Measured::Power(mass) | Measured::Weight(mass) => mass.kg(),
            Measured::Pull { load, .. } => load.kg(),
            Measured::TipAngle(angle) => angle.rad(),
            Measured::Frequency(frequency) => frequency.hz(),
            Measured::Balance(length) | Measured::TipOd(length) | Measured::ButtOd(length) => {
                length.m()
            }
            Measured::BoardPoint { y, .. } => y.m(),
        }
    }

    /// Compares with what the piece would give in a clamp.
    pub(crate) fn compare(
        &self,
        prior: &Prior,
        asked: &mut Asked,
        root: Root,
    ) -> Result<Compared, Missing> {
        let state = self.state();
        let errors = &prior.errors;
        let (butt, tip) = (state.butt_cut, prior.blank.length() - state.tip_cut);
        let straying = |at: f64, caliper: Length| caliper.m().hypot(prior.apart(at));
        let held = Held::In(root);
        let compared = match self.measured {
            Measured::Power(_) => {
                self.as_part(asked.of_third(state, held, OfThird::Power)?, errors.reclamp)
            }
            Measured::TipAngle(_) => {
                let tip_angle = asked.of_third(state, held, OfThird::TipAngle)?;
                self.plainly(tip_angle, errors.tip_angle.rad())
            }
            Measured::Frequency(_) => self.as_part(asked.frequency(state, held)?, errors.frequency),
            Measured::Weight(_) => {
                self.plainly(asked.weight_and_balance(state)?.0, errors.scale.kg())
            }
            Measured::Balance(_) => {
                self.plainly(asked.weight_and_balance(state)?.1, errors.balance.m())
            }
            Measured::TipOd(_) => {
                self.plainly(asked.od(tip)?, straying(tip, errors.caliper_tip_od))
            }
            Measured::ButtOd(_) => self.plainly(asked.od(butt)?, straying(butt, errors.caliper_od)),
            Measured::BoardPoint { load, x, y } => {
                let above = asked.above(state, root, load.kg(), (x.m(), y.m()))?;
                let predicted = Predicted { value: y.m() + above.value, ..above };
                self.plainly(predicted, errors.board_drop.m())
            }
            Measured::Pull { angle, .. } => {
                let pull = asked.pull(state, root, angle.rad(), 0.5 * angle.rad())?;
                self.as_part(pull, errors.pull)
            }
        };
        Ok(compared)
    }

    fn plainly(&self, predicted: Predicted, usual_sd: f64) -> Compared {
        let read = self.read();
        let sd = self.sd_or(usual_sd).max(BEST * (read.abs() + predicted.value.abs()));
        Compared {
            predicted: predicted.value,
            miss: (read - predicted.value) / sd,
            by: predicted.by.map(|slope| slope / sd),
            sd,
        }
    }

    /// Compares logarithms: an error that is a part of what is read.
    fn as_part(&self, predicted: Predicted, usual_part: f64) -> Compared {
        let read = self.read();
        let sd = match self.sd {
            Some(sd) => sd / read,
            None => usual_part,
        };
        let sd = sd.max(BEST);
        let least = LEAST_PART * read;
        let (log, slope) = if least < predicted.value {
            ((read / predicted.value).ln(), 1.0 / predicted.value)
        } else {
            (1.0 - predicted.value / least - LEAST_PART.ln(), 1.0 / least)
        };
        Compared {
            predicted: predicted.value,
            miss: log / sd,
            by: predicted.by.map(|by| by * slope / sd),
            sd: sd / slope,
        }
    }

    fn sd_or(&self, usual: f64) -> f64 {
        self.sd.unwrap_or(usual)
    }

    /// By how many of its standard deviations it is off when it is a slip.
    ///
    /// A frequency is the surest reading of all, but nods are easily counted by halves or by doubles: that is a hundred of its standard
    /// deviations, and at ten it would be easier to believe two slips of the weights.
    pub(crate) fn when_wild(&self, errors: &Errors) -> f64 {
        match self.measured {
            Measured::Frequency(frequency) => {
                let part = self.sd.map_or(errors.frequency, |sd| sd / frequency.hz()).max(BEST);
                WILD.max(MISCOUNT / part)
            }
            _ => WILD,
        }
    }

    /// Whether the numbers of the reading are such that it can be used at all.
    pub(crate) fn makes_sense(&self) -> bool {
        let State { tip_cut, butt_cut, held_at } = self.state();
        let numbers = match self.measured {
            Measured::BoardPoint { load, x, y } => {
                0.0 <= load.kg() && [load.kg(), x.m(), y.m()].iter().all(|n| n.abs() < 1e6)
            }
            Measured::Pull { angle, load } => {
                0.0 < load.kg() && load.kg() < 1e6 && angle.rad().is_finite()
            }
            Measured::TipAngle(angle) => angle.rad().abs() < 10.0,
            _ => 0.0 < self.read() && self.read() < 1e6,
        };
        let sd = self.sd.is_none_or(|sd| 0.0 <= sd && sd.is_finite());
        numbers && sd && [tip_cut, butt_cut, held_at].iter().all(|n| (0.0..1e3).contains(n))
    }
}
