//! Which reading would help most: a preview, without taking it.

use taperbook_units::{Angle, Frequency, Length, Mass};

use super::matrix::{self, Matrix, Vector};
use super::outcome::{Estimate, Measure, Missing};
use super::posterior::Posterior;
use super::predict::{Asked, Held, State};
use super::reading::{Measured, Reading};
use crate::tube::TrimError;

/// Something that could be read next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Instrument {
    /// The third-length weight.
    Power,
    /// The angle of the tip at the third-length weight.
    TipAngle,
    /// What the bare blank weighs.
    Weight,
    /// The tapped frequency.
    Frequency,
    /// The balance point.
    Balance,
    /// The diameter of the tip end.
    TipOd,
    /// The diameter of the butt end.
    ButtOd,
    /// The bent blank on the board: five places under half, once and one and a half times its power.
    Board,
}

impl Instrument {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Power,
        Self::TipAngle,
        Self::Weight,
        Self::Frequency,
        Self::Balance,
        Self::TipOd,
        Self::ButtOd,
        Self::Board,
    ];
}

/// What one further reading would do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// The reading.
    pub instrument: Instrument,
    /// The range of power that it would leave, around the present value; or why power can't be told.
    pub power: Result<Estimate, Missing>,
    /// The range of recovery that it would leave; or why recovery can't be told.
    pub recovery: Result<Estimate, Missing>,
    /// By what part it would narrow the range of power: 0 not at all, 1 wholly.
    pub narrows_power: f64,
    /// By what part it would narrow the range of recovery.
    pub narrows_recovery: f64,
}

impl Posterior {
    /// Which further reading of the piece, cut and held as given, would narrow the range of its power most; the best first.
    ///
    /// To first order: a reading with derivatives J (in its own standard deviations) turns the covariance Σ into
    /// Σ − Σ Jᵀ J Σ / (1 + J Σ Jᵀ), whatever it turns out to read.
    /// Candidates that can't be taken on this piece are left out.
    ///
    /// # Errors
    /// When the cuts leave nothing.
    pub fn worth_measuring(
        &self,
        tip_cut: Length,
        butt_cut: Length,
        held_at: Length,
        candidates: &[Instrument],
    ) -> Result<Vec<Worth>, TrimError> {
        let state = self.state(tip_cut, butt_cut, held_at)?;
        let outcome = self.outcome(tip_cut, butt_cut, held_at)?;
        let piece = self.piece();
        let mut asked = Asked::new(&piece);
        let mut found = Vec::new();
        for &instrument in candidates {
            let readings = readings(&mut asked, instrument, state);
            let mut covariance = self.covariance;
            let mut taken = false;
            for reading in readings {
                if let Ok(compared) = reading.compare(&self.prior, &mut asked) {
                    narrow(&mut covariance, &compared.by);
                    taken = true;
                }
            }
            if !taken {
                continue;
            }
            let left = |measure| {
                let number = outcome.number(measure)?;
                let sd = super::prior::sd(&covariance, &number.by);
                Ok(Estimate::positive(number.value, sd))
            };
            let narrows = |measure| match outcome.number(measure) {
                Ok(number) => {
                    let before = super::prior::sd(&self.covariance, &number.by);
                    let after = super::prior::sd(&covariance, &number.by);
                    if 0.0 < before { (1.0 - after / before).clamp(0.0, 1.0) } else { 0.0 }
                }
                Err(_) => 0.0,
            };
            found.push(Worth {
                instrument,
                power: left(Measure::Power),
                recovery: left(Measure::Recovery),
                narrows_power: narrows(Measure::Power),
                narrows_recovery: narrows(Measure::Recovery),
            });
        }
        found.sort_by(|a, b| b.narrows_power.total_cmp(&a.narrows_power));
        Ok(found)
    }
}

/// The readings that an instrument would give, at what is now most likely.
fn readings(asked: &mut Asked, instrument: Instrument, state: State) -> Vec<Reading> {
    let third = asked.third(state, Held::InShop);
    let one = |measured| {
        vec![Reading {
            tip_cut: Length::from_m(state.tip_cut),
            butt_cut: Length::from_m(state.butt_cut),
            held_at: Length::from_m(state.held_at),
            measured,
            sd: None,
        }]
    };
    // Only the derivatives matter to a preview, so an instrument with additive error may stand at any reading.
    match instrument {
        Instrument::Power => match third {
            Ok(third) => one(Measured::Power(Mass::from_kg(third.power.value))),
            Err(_) => Vec::new(),
        },
        Instrument::TipAngle => one(Measured::TipAngle(Angle::from_rad(0.0))),
        Instrument::Weight => one(Measured::Weight(Mass::from_kg(0.0))),
        Instrument::Frequency => match asked.frequency(state, Held::InShop) {
            Ok(frequency) => one(Measured::Frequency(Frequency::from_hz(frequency.value))),
            Err(_) => Vec::new(),
        },
        Instrument::Balance => one(Measured::Balance(Length::from_m(0.0))),
        Instrument::TipOd => one(Measured::TipOd(Length::from_m(0.0))),
        Instrument::ButtOd => one(Measured::ButtOd(Length::from_m(0.0))),
        Instrument::Board => {
            let Ok(third) = third else { return Vec::new() };
            let mut all = Vec::new();
            for times in [0.5, 1.0, 1.5] {
                let load = times * third.power.value.max(0.0);
                for (x, y) in asked.board(state, load, 5).unwrap_or_default() {
                    let (x, y) = (Length::from_m(x), Length::from_m(y));
                    all.extend(one(Measured::BoardPoint { load: Mass::from_kg(load), x, y }));
                }
            }
            all
        }
    }
}

/// What a reading leaves of a covariance.
fn narrow(covariance: &mut Matrix, row: &Vector) {
    let along = matrix::apply(covariance, row);
    let total = 1.0 + matrix::dot(row, &along);
    matrix::add_square(covariance, &along, -1.0 / total);
}
