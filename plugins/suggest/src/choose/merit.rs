//! What further cuts are worth against a brief: how far they miss the aims, and how surely they keep the limits.
//!
//! Costs are in squares of what is minded: 1 for one aim that is off by its own tolerance, and twice the logarithm of
//! one over a chance, so that both can be added.

use taperbook_bench::{limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{Limit, Measure};

use crate::brief::{Aim, is_length, usual_tolerance};
use crate::problem::NINETY_FIVE;

/// A brief as costs.
#[derive(Debug, Clone)]
pub(crate) struct Merit {
    pub(crate) measures: Vec<Measure>,
    aims: Vec<(usize, Aim)>,
    limits: Vec<Bound>,
}

/// One limit.
#[derive(Debug, Clone, Copy)]
struct Bound {
    measure_idx: usize,
    range: limits::Range,
    /// How far outside is as bad as an aim being off by its tolerance.
    tolerance: f64,
    /// How unsure the number is: a standard deviation, a part of the number unless it is a length.
    unsure: f64,
}

/// An aim that follows from a limit, against one that the builder wrote.
const OF_LIMITS: f64 = 0.1;
/// Closer to an aim than this part of its tolerance, nobody minds.
const NOT_MINDED: f64 = 0.1;
/// A limit kept as surely as this is kept.
pub(crate) const SURE: f64 = 0.95;
/// A chance that is smaller is as good as none.
const NO_CHANCE: f64 = 1e-4;

impl Merit {
    /// Makes costs of aims and limits.
    pub(crate) fn new(aims: &[Aim], limits: &[Limit]) -> Self {
        let wanted = |measure: &Measure| {
            aims.iter().any(|aim| aim.measure == *measure)
                || limits.iter().any(|limit| limit.measure == *measure)
        };
        let measures: Vec<Measure> = Measure::ALL.into_iter().filter(wanted).collect();
        let idx_of = |measure| measures.iter().position(|other| *other == measure);
        let bound = |limit: &Limit| {
            let range = limits::range_of(limit);
            let end = if range.low.is_finite() { range.low } else { range.high };
            let aim = aims.iter().find(|aim| aim.measure == limit.measure);
            let usual = usual_tolerance(limit.measure, end);
            let tolerance = aim.map_or(usual, |aim| aim.tolerance);
            Some(Bound { measure_idx: idx_of(limit.measure)?, range, tolerance, unsure: 0.0 })
        };
        let aim = |aim: &Aim| Some((idx_of(aim.measure)?, *aim));
        Self {
            aims: aims.iter().filter_map(aim).collect(),
            limits: limits.iter().filter_map(bound).collect(),
            measures,
        }
    }

    /// The same for a piece whose numbers are as unsure as those of an outcome.
    #[must_use]
    pub(crate) fn for_piece(&self, outcome: Option<&Outcome>) -> Self {
        let mut merit = self.clone();
        for bound in &mut merit.limits {
            let measure = merit.measures[bound.measure_idx];
            let known = outcome.and_then(|outcome| {
                let value = outcome.value(to_mechanics(measure)).ok()?;
                Some((limits::deviation(outcome, measure), value.abs()))
            });
            bound.unsure = match known {
                Some((deviation, _)) if is_length(measure) => deviation,
                Some((deviation, value)) if 0.0 < value => deviation / value,
                _ => 0.0,
            };
        }
        merit
    }

    /// What numbers cost, by the aims and by each limit alone: smooth enough to be searched.
    pub(crate) fn cost(&self, values: &[f64]) -> f64 {
        let limits: f64 = self
            .limits
            .iter()
            .map(|bound| {
                let value = values[bound.measure_idx];
                let scale = if is_length(self.measures[bound.measure_idx]) { 1.0 } else { value };
                // A number known for certain still wants a clear side of the limit.
                let unsure = (bound.unsure * scale.abs()).max(1e-3 * bound.tolerance);
                let low = unlikely((value - bound.range.low) / unsure);
                low + unlikely((bound.range.high - value) / unsure)
            })
            .sum();
        self.aims_missed(values, 0.0) + 2.0 * limits
    }

    /// What a blank costs beside others, by its most likely numbers and its chance of keeping all limits.
    ///
    /// What nobody minds costs nothing, so that blanks that are as good as each other are told apart by what is wasted.
    pub(crate) fn rank(&self, values: &[f64], chance: Option<f64>) -> f64 {
        let chance =
            chance.map_or(0.0, |chance| -2.0 * (chance.clamp(NO_CHANCE, SURE) / SURE).ln());
        let past: f64 = (0..self.limits.len()).map(|idx| self.past(idx, values).powi(2)).sum();
        self.aims_missed(values, NOT_MINDED) + chance + past
    }

    fn aims_missed(&self, values: &[f64], not_minded: f64) -> f64 {
        let missed = |(measure_idx, aim): &(usize, Aim)| {
            let weight = if aim.stated { 1.0 } else { OF_LIMITS };
            let miss = ((values[*measure_idx] - aim.value) / aim.tolerance).abs();
            weight * (miss - not_minded).max(0.0).powi(2)
        };
        self.aims.iter().map(missed).sum()
    }

    /// How far the stated aims are missed together, in tolerances; the middles of the limits where none is stated.
    pub(crate) fn off_aim(&self, values: &[f64]) -> f64 {
        let any_stated = self.aims.iter().any(|(_, aim)| aim.stated);
        let counts = |aim: &Aim| aim.stated || !any_stated;
        let misses = self.aims.iter().filter(|(_, aim)| counts(aim));
        misses
            .map(|(idx, aim)| ((values[*idx] - aim.value) / aim.tolerance).powi(2))
            .sum::<f64>()
            .sqrt()
    }

    /// Whether numbers are inside all limits.
    pub(crate) fn keeps_limits(&self, values: &[f64]) -> bool {
        self.limits.iter().all(|bound| bound.range.holds(values[bound.measure_idx]))
    }

    /// How far a number is past a limit, in tolerances; 0 inside.
    fn past(&self, bound_idx: usize, values: &[f64]) -> f64 {
        let bound = &self.limits[bound_idx];
        let value = values[bound.measure_idx];
        if bound.range.holds(value) {
            return 0.0;
        }
        (bound.range.low - value).max(value - bound.range.high) / bound.tolerance
    }

    /// The limit that numbers are furthest past, as it was given; `None` inside all of them.
    pub(crate) fn worst_limit(&self, values: &[f64]) -> Option<(usize, Measure)> {
        let past = |idx: &usize| self.past(*idx, values);
        (0..self.limits.len())
            .filter(|idx| 0.0 < past(idx))
            .max_by(|a, b| past(a).total_cmp(&past(b)))
            .map(|idx| (idx, self.measures[self.limits[idx].measure_idx]))
    }

    /// The stated aim that is missed by most, when it is by more than is minded, with what it will be.
    pub(crate) fn worst_aim(&self, values: &[f64]) -> Option<(Aim, f64)> {
        let miss = |(idx, aim): &(usize, Aim)| ((values[*idx] - aim.value) / aim.tolerance).abs();
        let stated = self.aims.iter().filter(|(_, aim)| aim.stated);
        let worst = stated.max_by(|a, b| miss(a).total_cmp(&miss(b)))?;
        let (idx, aim) = worst;
        let minded = usual_tolerance(aim.measure, aim.value).max(0.5 * aim.tolerance);
        (minded < (values[*idx] - aim.value).abs()).then(|| (*aim, values[*idx]))
    }
}

/// One over the chance of being on the right side of a limit, as a logarithm; nothing where that is sure enough.
fn unlikely(deviations: f64) -> f64 {
    if NINETY_FIVE <= deviations {
        return 0.0;
    }
    // Far out, what is left of the normal distribution is exp(−z²/2) / (−z √(2π)) (Abramowitz & Stegun 26.2.12).
    const FAR: f64 = -6.0;
    let log = if FAR < deviations {
        limits::normal(deviations).ln()
    } else {
        -0.5 * deviations * deviations
            - (-deviations).ln()
            - 0.5 * (2.0 * std::f64::consts::PI).ln()
    };
    SURE.ln() - log
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_unlikely_costs_more_the_further_out_and_without_a_jump() {
        assert_eq!(unlikely(2.0), 0.0);
        assert!((unlikely(0.0) - (0.95_f64 / 0.5).ln()).abs() < 1e-9);
        let mut before = 0.0;
        for step in 0..200 {
            let now = unlikely(1.7 - 0.05 * f64::from(step));
            // The slope of ln Φ at z is below |z| + 1 for all z below 2.
            assert!(before <= now && now - before < 0.05 * 11.0, "{step}: {before} {now}");
            before = now;
        }
        // A & S table 26.2: −log Q(10) = 23.11805, to the base 10 (from memory).
        assert!((unlikely(-10.0) - (23.11805 * 10.0_f64.ln() + SURE.ln())).abs() < 0.02);
    }
}
