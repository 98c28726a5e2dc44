//! How unsure the power of a piece is, slips counted that nobody would have noticed.
//!
//! A fit gives the middle and a standard deviation, as if every reading that it rests on were right. A weight misread, a mark slipped
//! by an inch or a blank not seated in the jaws is wrong by far more than that, and what it would cost is a blank; so here each power
//! reading is right with a chance and anything else without, whatever the others say of it.
//! What to do about it is for [`crate::ask`] and [`crate::finish`].

use taperbook_bench::{Fitted, Piece, limits};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::Measure;

/// How many power readings are slips (common practice, no source).
const OFTEN: f64 = 0.05;
/// How wrong a slip is, as a part of the truth: a standard deviation (common practice, no source).
const SLIP: f64 = 0.15;
/// What the model of a blank itself misses, as a part of its power (common practice, no source): no reading takes it away.
const MISSED: f64 = 0.006;
/// What a cut does to the power is known to a part of it only, which stands between readings of different states.
const ACROSS_CUTS: f64 = 0.01;
/// The step of the factors that are tried, a fraction of what clamping anew does.
const STEP: f64 = 0.004;
/// How far they go, either way: beyond it every card contradicts.
const N_STEPS: i32 = 200;

/// How the true power may stand to the likeliest, as ln of their quotient.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Doubt {
    /// What the readings alone leave open: a value and how likely it is.
    read: Vec<(f64, f64)>,
    /// What no reading of power tells: how the board stands, what a cut does; a standard deviation.
    besides: f64,
    /// The variance of a Gaussian where the readings are all right.
    known: f64,
}

impl Doubt {
    /// Weighs the power readings of a piece, `now` being its numbers as it is; `None` where power can't be worked out.
    pub(crate) fn of(piece: &Piece, fitted: &Fitted, now: &Outcome) -> Option<Self> {
        let unsure = unsure(now)?;
        let present = piece.walk.states.len() - 1;
        let powers: Vec<usize> = (0..piece.taken.len())
            .filter(|idx| piece.taken[*idx].measure == Some(Measure::Power))
            .collect();
        let residuals = fitted.posterior.residuals();
        let read = |idx: usize| {
            let residual = residuals.get(idx)?;
            Some((residual.read / residual.predicted.ok()?).ln()).filter(|off| off.is_finite())
        };
        let readings: Vec<(f64, f64)> = (powers.iter())
            .filter_map(|idx| {
                let state = piece.walk.state_of_item.get(piece.taken[*idx].item);
                let across = if state == Some(&present) { 0.0 } else { ACROSS_CUTS };
                let sd = fitted.posterior.errors().reclamp.max(1e-3).hypot(across);
                Some((read(*idx)?, sd * sd))
            })
            .collect();
        let before = powers.last().and_then(|latest| before(fitted, &powers, *latest));
        let Some(before) = before.filter(|_| !readings.is_empty()) else {
            return Some(Self { read: vec![(0.0, 1.0)], besides: unsure, known: 0.0 });
        };
        let known = 1.0
            / (1.0 / before.1 + readings.iter().map(|(_, variance)| 1.0 / variance).sum::<f64>());
        Some(Self { read: mixed(before, &readings), besides: 0.0, known }.known_to(unsure))
    }

    /// Where nothing that is asked for goes with the power.
    pub(crate) fn none() -> Self {
        Self { read: vec![(0.0, 1.0)], besides: 0.0, known: 0.0 }
    }

    /// The same of a number that a fit knows with another standard deviation of its logarithm, such as the power after a cut.
    #[must_use]
    pub(crate) fn known_to(mut self, unsure: f64) -> Self {
        self.besides = (unsure * unsure - self.known).max(0.0).sqrt().hypot(MISSED);
        self
    }

    /// How likely ln of the true over the likeliest power lies in between; 0 to 1.
    pub(crate) fn between(&self, low: f64, high: f64) -> f64 {
        let below = |end: f64, at: f64| match end {
            _ if end == f64::INFINITY => 1.0,
            _ if end == f64::NEG_INFINITY => 0.0,
            end => limits::normal((end - at) / self.besides.max(1e-6)),
        };
        let part =
            |(at, weight): &(f64, f64)| weight * (below(high, *at) - below(low, *at)).max(0.0);
        self.read.iter().map(part).sum::<f64>().min(1.0)
    }

    /// How likely it lies outside.
    #[cfg(test)]
    pub(crate) fn outside(&self, low: f64, high: f64) -> f64 {
        self.between(f64::NEG_INFINITY, low) + self.between(high, f64::INFINITY)
    }
}

/// How unsure ln of the power is, by the fit.
pub(crate) fn unsure(outcome: &Outcome) -> Option<f64> {
    let power = outcome.value(taperbook_bench::to_mechanics(Measure::Power)).ok()?;
    Some(limits::deviation(outcome, Measure::Power) / power).filter(|unsure| unsure.is_finite())
}

/// What all but the power readings lead to expect of the latest of them, as ln over what all together do: middle and variance.
fn before(fitted: &Fitted, powers: &[usize], latest: usize) -> Option<(f64, f64)> {
    /// In kg: of a reading that counts for nothing.
    const IDLE: f64 = 1e12;
    let without = fitted.without(powers).ok()?;
    let expected = without.residuals().get(latest)?.predicted.ok()?;
    let predicted = fitted.posterior.residuals().get(latest)?.predicted.ok()?;
    let sd = without.unsure_of(latest)? * IDLE / expected;
    let middle = (expected / predicted).ln();
    (middle.is_finite() && sd.is_finite()).then(|| (middle, (sd * sd).max(1e-8)))
}

/// How likely each value is, by what was believed and by readings that are right or slips (a mixture of a narrow and a wide Gaussian for
/// each: Box & Tiao, *A Bayesian approach to some outlier problems*, 1968, from memory).
fn mixed(before: (f64, f64), readings: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let gauss = |off: f64, variance: f64| (-0.5 * off * off / variance).exp() / variance.sqrt();
    let mut values: Vec<(f64, f64)> = (-N_STEPS..=N_STEPS)
        .map(|step| {
            let at = STEP * f64::from(step);
            let of_readings = readings.iter().map(|(read, variance)| {
                let off = read - at;
                (1.0 - OFTEN) * gauss(off, *variance) + OFTEN * gauss(off, variance + SLIP * SLIP)
            });
            (at, gauss(at - before.0, before.1) * of_readings.product::<f64>())
        })
        .collect();
    let total: f64 = values.iter().map(|(_, weight)| weight).sum();
    if !(0.0 < total && total.is_finite()) {
        return vec![(0.0, 1.0)];
    }
    values.retain(|(_, weight)| 1e-9 * total < *weight);
    values.iter_mut().for_each(|(_, weight)| *weight /= total);
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    const RIGHT: f64 = 0.02 * 0.02;

    fn doubt(before: (f64, f64), readings: &[f64]) -> Doubt {
        let readings: Vec<(f64, f64)> = readings.iter().map(|read| (*read, RIGHT)).collect();
        Doubt { read: mixed(before, &readings), besides: 1e-4, known: 0.0 }
    }

    /// Beyond a tenth either way lies a slip only. With nothing known before, one reading is a slip once in twenty, two the same
    /// slip some times in ten thousand, three never; a past that knows the piece to 4 % tells one slip by itself.
    #[test]
    fn further_readings_take_the_doubt_away() {
        let vague = (0.0, 0.09);
        let beyond = |before, readings: &[f64]| doubt(before, readings).outside(-0.1, 0.1);
        let (one, two, three) =
            (beyond(vague, &[0.0]), beyond(vague, &[0.0; 2]), beyond(vague, &[0.0; 3]));
        assert!((0.01..0.04).contains(&one), "{one}");
        assert!((1e-5..5e-4).contains(&two), "{two}");
        assert!(three < 1e-5, "{three}");
        let known = beyond((0.0, 0.04 * 0.04), &[0.0]);
        assert!(known < one / 30.0, "{known}");
    }

    #[test]
    fn of_two_that_contradict_each_other_neither_is_believed() {
        let doubt = doubt((0.0, 0.09), &[0.07, -0.07]);
        let (low, high) = (doubt.between(-0.11, -0.03), doubt.between(0.03, 0.11));
        assert!((low - high).abs() < 0.02 && 0.4 < low, "{low} {high}");
    }

    #[test]
    fn what_no_reading_tells_is_a_gaussian_beside_it() {
        let plain = Doubt { read: vec![(0.0, 1.0)], besides: 0.03, known: 0.0 };
        // Abramowitz & Stegun table 26.1: beyond two standard deviations lie 4.55 %.
        assert!((plain.outside(-0.06, 0.06) - 0.0455).abs() < 1e-4);
        assert!((plain.between(f64::NEG_INFINITY, f64::INFINITY) - 1.0).abs() < 1e-12);
    }
}
