//! The mechanics' outcome as the numbers of a state.

use taperbook_mechanics::fit::{self, Outcome};
use taperbook_plugin::{Number, State};
use taperbook_record::Measure;

use crate::piece::Estimates;

/// Gives the numbers of a state; a number that can't be computed says why.
pub fn state_of(outcome: &Outcome) -> State {
    state_of_estimates(&estimates_of(outcome))
}

pub(crate) fn estimates_of(outcome: &Outcome) -> Estimates {
    fit::Measure::ALL.map(|measure| outcome.estimate(measure))
}

pub(crate) fn state_of_estimates(estimates: &Estimates) -> State {
    State::new(Measure::ALL.into_iter().map(|measure| {
        let number = match &estimates[to_mechanics(measure) as usize] {
            Ok(estimate) => Number::Known {
                value: estimate.value,
                low: estimate.low,
                high: estimate.high.min(most(measure)),
            },
            Err(missing) => Number::missing(missing.to_string()),
        };
        (measure, number)
    }))
}

/// What a number can't be above: a weight that hangs pulls no tip past straight down, and no bend lies beyond the clamp.
fn most(measure: Measure) -> f64 {
    match measure {
        Measure::TipAngle => std::f64::consts::FRAC_PI_2,
        Measure::BendCentre => 1.0,
        _ => f64::INFINITY,
    }
}

/// Gives the numbers of a state that no mechanics is known of: lengths that are known, and what to measure for the rest.
pub fn missing_state(length: Option<f64>, free_length: Option<f64>, what: &str) -> State {
    State::new(Measure::ALL.into_iter().map(|measure| {
        let known = match measure {
            Measure::Length => length,
            Measure::FreeLength => free_length,
            _ => None,
        };
        (measure, known.map_or_else(|| Number::missing(what), Number::exact))
    }))
}

/// The mechanics' name of a number.
pub fn to_mechanics(measure: Measure) -> fit::Measure {
    match measure {
        Measure::Length => fit::Measure::Length,
        Measure::FreeLength => fit::Measure::FreeLength,
        Measure::TipOd => fit::Measure::TipOd,
        Measure::ButtOd => fit::Measure::ButtOd,
        Measure::Weight => fit::Measure::Weight,
        Measure::Balance => fit::Measure::Balance,
        Measure::Power => fit::Measure::Power,
        Measure::StiffnessForLength => fit::Measure::StiffnessForLength,
        Measure::TipAngle => fit::Measure::TipAngle,
        Measure::BendCentre => fit::Measure::BendCentre,
        Measure::Recovery => fit::Measure::Recovery,
    }
}
