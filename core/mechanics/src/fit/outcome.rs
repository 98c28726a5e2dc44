//! The numbers of a piece, with what is not sure of each.

use taperbook_units::Length;
use thiserror::Error;

use super::errors::Errors;
use super::matrix::{Matrix, dot};
use super::parameters::{BLANK, LENGTH, Piece};
use super::predict::{Asked, Held, OfThird, Predicted, State};
use super::prior::Prior;
use crate::bend::BendError;
use crate::tube::LEAST_LENGTH;
use crate::vibrate::VibrateError;

/// A number of a state of the piece. Inside, all are in SI units: m, kg, rad, a part of one, Hz.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Measure {
    /// Length of the bare blank, m.
    Length,
    /// From where it is held to the tip, m.
    FreeLength,
    /// Outside diameter of the tip end, m.
    TipOd,
    /// Outside diameter of the butt end, m.
    ButtOd,
    /// Mass of the bare blank, kg.
    Weight,
    /// Balance point from the present butt, m.
    Balance,
    /// The third-length weight, kg.
    Power,
    /// Power × free length², relative to the uncut blank held at the same place.
    StiffnessForLength,
    /// Angle of the tip below horizontal at the third-length weight, rad.
    TipAngle,
    /// Centroid of curvature at the third-length weight, a part of the free length, from the tip.
    BendCentre,
    /// First natural frequency, Hz.
    Recovery,
}

impl Measure {
    /// All of them, in order.
    pub const ALL: [Self; 11] = [
        Self::Length,
        Self::FreeLength,
        Self::TipOd,
        Self::ButtOd,
        Self::Weight,
        Self::Balance,
        Self::Power,
        Self::StiffnessForLength,
        Self::TipAngle,
        Self::BendCentre,
        Self::Recovery,
    ];
}

/// A value with its range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The most likely value, in SI units.
    pub value: f64,
    /// The true value is below this in 5 % of cases.
    pub low: f64,
    /// The true value is above this in 5 % of cases.
    pub high: f64,
}

/// Why a number is missing.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum Missing {
    /// It has to do with the bend.
    #[error(transparent)]
    Bend(#[from] BendError),
    /// It has to do with the frequency.
    #[error(transparent)]
    Vibrate(#[from] VibrateError),
    /// The cuts leave nothing.
    #[error("the cuts leave nothing of the blank: check them against its length")]
    NothingLeft,
    /// A reading has a number that can't be.
    #[error("the reading has a number that can't be: measure it again")]
    Senseless,
}

/// How many numbers there are.
const N_MEASURES: usize = Measure::ALL.len();
/// The standard normal deviate that 95 % lie below (Abramowitz & Stegun table 26.5).
pub(super) const NINETY_FIVE: f64 = 1.644_853_626_951_473;

/// The numbers of a state of the piece.
///
/// What is not sure is carried to first order: each number's derivatives by the parameters, times the parameters' covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    numbers: [Result<Predicted, Missing>; N_MEASURES],
    /// The standard deviation of what no parameter stands for.
    apart: [f64; N_MEASURES],
    covariance: [[f64; N_MEASURES]; N_MEASURES],
}

impl Outcome {
    /// Computes the numbers of a piece in a state, held by a clamp that is horizontal and does not yield.
    pub(crate) fn of(prior: &Prior, covariance: &Matrix, piece: &Piece, state: State) -> Self {
        Self::asked(prior, covariance, piece, &mut Asked::new(&prior.blank, piece), state)
    }

    /// The same of a piece that is asked for several states.
    pub(crate) fn asked(
        prior: &Prior,
        covariance: &Matrix,
        piece: &Piece,
        asked: &mut Asked,
        state: State,
    ) -> Self {
        let (butt, tip) = (state.butt_cut, piece.tube.end() - state.tip_cut);
        let free = tip - butt - state.held_at;
        let third = asked.third(state, Held::Ideally).map_err(Missing::from);
        let third = third.and_then(|third| match free / 3.0 {
            _ if 0.0 <= third.power.value => Ok(third),
            third => Err(Missing::from(asked.too_limp(state, third))),
        });
        let uncut = State { tip_cut: 0.0, butt_cut: 0.0, ..state };
        let before = match third {
            Ok(_) => asked.of_third(uncut, Held::Ideally, OfThird::Power).map_err(Missing::from),
            Err(missing) => Err(missing),
        };
        let scale = free / (piece.tube.end() - state.held_at);
        let stiffness = match (third, before) {
            (Ok(after), Ok(before)) if 0.0 < before.value => {
                let mut stiffness = ratio(after.power, before, scale * scale);
                // Both free lengths grow alike, the shorter by the larger part.
                stiffness.by[LENGTH] += 2.0 * stiffness.value * (1.0 - scale) / free;
                Ok(stiffness)
            }
            (_, Ok(_)) => Err(Missing::from(asked.too_limp(uncut, (free / scale) / 3.0))),
            (_, Err(missing)) => Err(missing),
        };
        let weight = asked.weight_and_balance(state);
        let numbers = [
            Ok(Predicted::length(tip - butt)),
            match free {
                _ if LEAST_LENGTH <= free => Ok(Predicted::length(free)),
                _ => Err(Missing::from(BendError::NothingToBend {
                    held_at: Length::from_m(state.held_at),
                    length: Length::from_m(tip - butt),
                })),
            },
            asked.od(tip),
            asked.od(butt),
            weight.map(|(weight, _)| weight),
            weight.map(|(_, balance)| balance),
            third.map(|third| third.power),
            stiffness,
            third.map(|third| third.tip_angle),
            third.map(|third| third.bend_centre),
            asked.frequency(state, Held::Ideally).map_err(Missing::from),
        ];
        let mut apart = [0.0; N_MEASURES];
        apart[Measure::TipOd as usize] = prior.apart(tip);
        apart[Measure::ButtOd as usize] = prior.apart(butt);
        let mut outcome = Self { numbers, apart, covariance: [[0.0; N_MEASURES]; N_MEASURES] };
        outcome.spread(covariance);
        outcome
    }

    fn spread(&mut self, covariance: &Matrix) {
        for (i, one) in self.numbers.iter().enumerate() {
            let Ok(one) = one else { continue };
            let along = covariance.apply(&one.by[..BLANK]);
            for (j, other) in self.numbers.iter().enumerate() {
                if let Ok(other) = other {
                    self.covariance[i][j] = dot(&along, &other.by[..BLANK]);
                }
            }
            // Rounding may leave a little less than nothing where nothing is unsure.
            self.covariance[i][i] = self.covariance[i][i].max(0.0) + self.apart[i] * self.apart[i];
        }
    }

    /// The same after so many cuts that no tape was laid on since: each leaves the length off by what the saw strays from its mark.
    #[must_use]
    pub fn sawn(mut self, n_cuts: usize, errors: &Errors) -> Self {
        let variance = n_cuts as f64 * errors.saw.m() * errors.saw.m();
        let both = [Measure::Length as usize, Measure::FreeLength as usize];
        for i in both {
            self.apart[i] = self.apart[i].hypot(variance.sqrt());
            for j in both {
                if self.numbers[i].is_ok() && self.numbers[j].is_ok() {
                    self.covariance[i][j] += variance;
                }
            }
        }
        self
    }

    /// The most likely value of a number, in SI units.
    ///
    /// # Errors
    /// When it can't be computed; the reason says what to do.
    pub fn value(&self, measure: Measure) -> Result<f64, Missing> {
        self.number(measure).map(|number| number.value)
    }

    /// A number with its range, 5 %–95 %. What is positive by nature keeps a positive range.
    ///
    /// # Errors
    /// When it can't be computed; the reason says what to do.
    pub fn estimate(&self, measure: Measure) -> Result<Estimate, Missing> {
        let value = self.value(measure)?;
        Ok(Estimate::positive(value, self.covariance(measure, measure).sqrt()))
    }

    /// The covariance of two numbers, in SI units; 0 where one is missing.
    pub fn covariance(&self, one: Measure, other: Measure) -> f64 {
        self.covariance[one as usize][other as usize]
    }

    pub(crate) fn number(&self, measure: Measure) -> Result<Predicted, Missing> {
        self.numbers[measure as usize]
    }

    pub(crate) fn apart(&self, measure: Measure) -> f64 {
        self.apart[measure as usize]
    }
}

impl Estimate {
    /// The range of what is positive: that of its logarithm, so that it stays above zero.
    pub(crate) fn positive(value: f64, sd: f64) -> Self {
        if value <= 0.0 {
            return Self::any(value, sd);
        }
        let factor = (NINETY_FIVE * sd / value).min(LARGEST_LOG).exp();
        Self { value, low: value / factor, high: value * factor }
    }

    /// The range of what may be negative.
    pub(crate) fn any(value: f64, sd: f64) -> Self {
        Self { value, low: value - NINETY_FIVE * sd, high: value + NINETY_FIVE * sd }
    }
}

/// A range is never wider than a factor of e to this, either way: beyond, the number is simply not known.
const LARGEST_LOG: f64 = 7.0;

/// `scale` · one / other.
fn ratio(one: Predicted, other: Predicted, scale: f64) -> Predicted {
    let value = scale * one.value / other.value;
    let by = std::array::from_fn(|parameter| {
        scale * one.by[parameter] / other.value - value * other.by[parameter] / other.value
    });
    Predicted { value, by }
}
