//! Which reading would help most: a preview, without taking it.

use taperbook_units::{Angle, Frequency, Length, Mass};

use super::outcome::{Estimate, Measure, Missing};
use super::parameters::{BLANK, FLAT, GIVE, LENGTH, TILT};
use super::posterior::Posterior;
use super::predict::{Asked, Held, State};
use super::prior::Prior;
use super::reading::{Measured, Reading};
use super::setup::{Setup, Setups};
use crate::bend::Root;
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
    /// The length by tape, where only the maker's word is known.
    Length,
    /// The tilt of the board's clamp by a level.
    Level,
    /// The give of the clamp by a weight hung a metre out.
    Give,
}

impl Instrument {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::Power,
        Self::TipAngle,
        Self::Weight,
        Self::Frequency,
        Self::Balance,
        Self::TipOd,
        Self::ButtOd,
        Self::Board,
        Self::Length,
        Self::Level,
        Self::Give,
    ];
}

/// What one further reading would do for one number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// The reading.
    pub instrument: Instrument,
    /// The range that it would leave, around the present value.
    pub left: Estimate,
    /// By what part it would narrow the range: 0 not at all, 1 wholly.
    pub narrows: f64,
}

/// Why nobody can say what a reading would do for a number.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoWorth {
    /// The cuts can't be made.
    #[error(transparent)]
    Trim(#[from] TrimError),
    /// The number can't be computed.
    #[error(transparent)]
    Missing(#[from] Missing),
}

impl Posterior {
    /// Which further reading of the piece, cut and held as given on a board in a clamp, would narrow the range of a number most;
    /// the best first.
    ///
    /// To first order: a reading with derivatives J (in its own standard deviations) turns the covariance Σ into
    /// Σ − Σ Jᵀ J Σ / (1 + J Σ Jᵀ), whatever it turns out to read.
    /// Candidates that can't be taken on this piece are left out.
    ///
    /// # Errors
    /// When the cuts leave nothing, or the number itself can't be computed.
    pub fn worth_measuring(
        &self,
        measure: Measure,
        (tip_cut, butt_cut): (Length, Length),
        held_at: Length,
        setup: Setup,
        candidates: &[Instrument],
    ) -> Result<Vec<Worth>, NoWorth> {
        let state = self.state(tip_cut, butt_cut, held_at)?;
        let outcome = self.outcome(tip_cut, butt_cut, held_at)?;
        let number = outcome.number(measure)?;
        let apart = outcome.apart(measure);
        let prior = self.as_prior().with(&Setups::of(std::iter::once(setup)));
        let piece = self.piece();
        let mut asked = Asked::new(&prior.blank, &piece);
        let by = {
            let mut by = vec![0.0; prior.mean.len()];
            by[..BLANK].copy_from_slice(&number.by[..BLANK]);
            by
        };
        let before = prior.covariance.square(&by).max(0.0);
        let mut found = Vec::new();
        for &instrument in candidates {
            let rows = rows(&prior, &mut asked, instrument, state, setup);
            if rows.is_empty() {
                continue;
            }
            let mut covariance = prior.covariance.clone();
            for row in &rows {
                let along = covariance.apply(row);
                let total = 1.0 + super::matrix::dot(row, &along);
                covariance.add_square(&along, -1.0 / total);
            }
            let after = covariance.square(&by).clamp(0.0, before);
            let whole = |variance: f64| (variance + apart * apart).sqrt();
            let narrows =
                if 0.0 < whole(before) { 1.0 - whole(after) / whole(before) } else { 0.0 };
            let left = Estimate::positive(number.value, whole(after));
            found.push(Worth { instrument, left, narrows });
        }
        found.sort_by(|a, b| b.narrows.total_cmp(&a.narrows));
        Ok(found)
    }
}

/// The derivatives of the readings that an instrument would give, in their standard deviations.
fn rows(
    prior: &Prior,
    asked: &mut Asked,
    instrument: Instrument,
    state: State,
    setup: Setup,
) -> Vec<Vec<f64>> {
    let root = prior.root(&prior.mean, setup);
    let alone = |parameter: usize, sd: f64| {
        let mut by = FLAT;
        by[parameter] = 1.0 / sd;
        vec![prior.spread_out(&by, setup, root)]
    };
    let errors = &prior.errors;
    match instrument {
        Instrument::Length => alone(LENGTH, errors.length.m().max(1e-6)),
        Instrument::Level => alone(TILT, errors.measured_tilt.rad().max(1e-6)),
        Instrument::Give => alone(GIVE, errors.of_measured_give(root.give).max(1e-9)),
        _ => (readings(asked, instrument, state, setup, root).iter())
            .filter_map(|reading| reading.compare(prior, asked, root).ok())
            .map(|compared| prior.spread_out(&compared.by, setup, root))
            .collect(),
    }
}

/// The readings that an instrument would give, at what is now most likely.
fn readings(
    asked: &mut Asked,
    instrument: Instrument,
    state: State,
    setup: Setup,
    root: Root,
) -> Vec<Reading> {
    let held = Held::In(root);
    let third = asked.third(state, held);
    let one = |measured| {
        vec![Reading {
            tip_cut: Length::from_m(state.tip_cut),
            butt_cut: Length::from_m(state.butt_cut),
            held_at: Length::from_m(state.held_at),
            setup,
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
        Instrument::Frequency => match asked.frequency(state, held) {
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
                for (x, y) in asked.board(state, root, load, 5).unwrap_or_default() {
                    let (x, y) = (Length::from_m(x), Length::from_m(y));
                    all.extend(one(Measured::BoardPoint { load: Mass::from_kg(load), x, y }));
                }
            }
            all
        }
        Instrument::Length | Instrument::Level | Instrument::Give => Vec::new(),
    }
}
