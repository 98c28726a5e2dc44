//! What a number of a state is, how it is known, and how sure it is.

use taperbook_bench::{Cuts, errors_of, to_mechanics};
use taperbook_mechanics::fit::Estimate;
use taperbook_record::{Action, Measure, Reading};
use taperbook_units::Length;

use crate::case::Case;

/// A number of a state, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Standing {
    pub(crate) value: f64,
    /// The true value is below this once in twenty.
    pub(crate) low: f64,
    /// The true value is above this once in twenty.
    pub(crate) high: f64,
    pub(crate) known: Known,
}

/// How a number is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Known {
    /// It was read in this very state.
    Read,
    /// A length by one that was read, and the cuts.
    LengthAndCuts,
    /// A length that only the card states.
    Card,
    /// A length by what the card states, and the cuts.
    CardAndCuts,
    /// The mechanics gives it.
    Computed,
}

/// The standard normal deviate that 95 % lie below (Abramowitz & Stegun table 26.5).
const NINETY_FIVE: f64 = 1.644_853_627;

/// How far a piece is from the length that its maker states, as a standard deviation: common practice, no source.
const MAKERS_LENGTH: Length = Length::from_mm(10.0);

/// How far a cut lands from its mark when the shop does not say: common practice, no source.
const SAW: Length = Length::from_mm(0.5);

/// Gives a number of a state: what was read in it, else what lengths and cuts or the mechanics give.
pub(crate) fn standing(case: &Case, state_idx: usize, measure: Measure) -> Option<Standing> {
    match measure {
        Measure::Length => length(case, state_idx),
        Measure::FreeLength => {
            let held_at = case.piece.held_at?;
            let Standing { value, low, high, known } = length(case, state_idx)?;
            let [value, low, high] = [value, low, high].map(|length| length - held_at.m());
            Some(Standing { value, low, high, known })
        }
        _ => read(case, state_idx, measure)
            .or_else(|| computed(case, case.piece.walk.states[state_idx].off, measure)),
    }
}

/// Gives a number as it will be with so much off in all.
pub(crate) fn standing_after(case: &Case, off: Cuts, measure: Measure) -> Option<Standing> {
    let present = case.piece.walk.present();
    let further = off.total() - present.off.total();
    match measure {
        Measure::Length | Measure::FreeLength => {
            let Standing { value, low, high, known } = standing(case, case.present(), measure)?;
            let known = match known {
                Known::Read => Known::LengthAndCuts,
                Known::Card => Known::CardAndCuts,
                known => known,
            };
            let [value, low, high] = [value, low, high].map(|length| length - further.m());
            Some(Standing { value, low, high, known })
        }
        _ => computed(case, off, measure),
    }
}

fn length(case: &Case, state_idx: usize) -> Option<Standing> {
    let state = &case.piece.walk.states[state_idx];
    let errors = errors_of(&case.shop);
    let was_read = case.piece.walk.states.iter().any(|state| state.length_was_read);
    let (known, sd) = if state.length_was_read {
        (Known::Read, errors.length)
    } else if was_read {
        let saw = case.shop.errors.saw.unwrap_or(SAW);
        (Known::LengthAndCuts, Length::from_m(errors.length.m().hypot(saw.m())))
    } else {
        (if state.item.is_none() { Known::Card } else { Known::CardAndCuts }, MAKERS_LENGTH)
    };
    Some(Standing::about(state.length?.m(), sd.m(), known))
}

/// The last reading of a number in a state that was taken as the number is meant: bare, and held where the piece is.
fn read(case: &Case, state_idx: usize, measure: Measure) -> Option<Standing> {
    let items = case.build.bench.iter().zip(&case.piece.walk.state_of_item).enumerate();
    let in_state = items.rev().filter(|(_, (_, state))| **state == state_idx);
    let value = in_state.into_iter().find_map(|(item_idx, (item, _))| {
        let Action::Read(reading) = &item.action else { return None };
        let is_meant = !reading.dressed
            && (!is_bent(measure) || is_held_as_meant(case, reading))
            && !case.piece.is_stray(item_idx, measure);
        if is_meant { reading.value(measure) } else { None }
    })?;
    let errors = errors_of(&case.shop);
    let sd = match measure {
        Measure::TipOd => errors.caliper_tip_od.m(),
        Measure::ButtOd => errors.caliper_od.m(),
        Measure::Weight => errors.scale.kg(),
        Measure::Balance => errors.balance.m(),
        Measure::Power => errors.reclamp * value,
        Measure::TipAngle => errors.tip_angle.rad(),
        Measure::Recovery => errors.frequency * value,
        Measure::Length
        | Measure::FreeLength
        | Measure::StiffnessForLength
        | Measure::BendCentre => 0.0,
    };
    Some(Standing::about(value, sd, Known::Read))
}

fn is_held_as_meant(case: &Case, reading: &Reading) -> bool {
    match (&reading.held_at, case.piece.held_at) {
        (Some(held), Some(meant)) => (held.value - meant).abs() <= Length::from_mm(1.0),
        _ => true,
    }
}

fn computed(case: &Case, off: Cuts, measure: Measure) -> Option<Standing> {
    if case.piece.held_at.is_none() && is_bent(measure) {
        return None;
    }
    let Estimate { value, low, high } =
        case.estimates(off)?[to_mechanics(measure) as usize].ok()?;
    Some(Standing { value, low, high, known: Known::Computed })
}

/// Whether a number depends on where the blank is held.
fn is_bent(measure: Measure) -> bool {
    match measure {
        Measure::Power
        | Measure::StiffnessForLength
        | Measure::TipAngle
        | Measure::BendCentre
        | Measure::Recovery => true,
        Measure::Length
        | Measure::FreeLength
        | Measure::TipOd
        | Measure::ButtOd
        | Measure::Weight
        | Measure::Balance => false,
    }
}

impl Standing {
    fn about(value: f64, sd: f64, known: Known) -> Self {
        let (low, high) = (value - NINETY_FIVE * sd, value + NINETY_FIVE * sd);
        Self { value, low, high, known }
    }
}
