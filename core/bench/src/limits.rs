//! How surely a state keeps the limits, and how much may still come off inside them.

use std::sync::OnceLock;

use taperbook_mechanics::fit::Outcome;
use taperbook_record::{End, Limit, Measure};
use taperbook_units::Length;

use crate::piece::Piece;
use crate::state::to_mechanics;
use crate::walk::Cuts;

/// A range in SI units, either end optional.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// Gives a limit's range in SI units; an end that is not stated is infinite.
pub fn range_of(limit: &Limit) -> Range {
    Range {
        low: limit.range.low.map_or(f64::NEG_INFINITY, |low| low.si),
        high: limit.range.high.map_or(f64::INFINITY, |high| high.si),
    }
}

impl Range {
    /// Says whether a value is inside, ends included; a rounding error of the arithmetic is no fault of the builder.
    pub fn holds(self, value: f64) -> bool {
        let slack = 1e-9 * value.abs();
        self.low - slack <= value && value <= self.high + slack
    }
}

/// Says how likely the true value of one number is inside a range, 0 to 1; `None` when it can't be computed.
///
/// The number is taken as its range is printed: its logarithm is normal, or itself where it is not positive; one that is known exactly is
/// either inside or not.
pub fn chance(outcome: &Outcome, measure: Measure, range: Range) -> Option<f64> {
    let value = outcome.value(to_mechanics(measure)).ok()?;
    let sd = deviation(outcome, measure);
    if sd <= 1e-9 * value.abs() {
        return Some(if range.holds(value) { 1.0 } else { 0.0 });
    }
    let below = |end: f64| match 0.0 < value {
        true => normal((end.max(0.0) / value).ln() * value / sd),
        false => normal((end - value) / sd),
    };
    Some((below(range.high) - below(range.low)).clamp(0.0, 1.0))
}

/// Says how likely all limits are kept at once, 0 to 1; `None` without limits or when a number can't be computed.
///
/// Numbers of one piece move together, so this is counted over 2,000 points drawn from their joint distribution, where the logarithms are normal
/// (a Halton sequence, so that the same question always gets the same answer); it is right to about 0.01.
pub fn chance_of_all(outcome: &Outcome, limits: &[Limit]) -> Option<f64> {
    if limits.is_empty() {
        return None;
    }
    let measures: Vec<Measure> = limits.iter().map(|limit| limit.measure).collect();
    let values: Vec<f64> = measures
        .iter()
        .map(|measure| outcome.value(to_mechanics(*measure)).ok())
        .collect::<Option<_>>()?;
    let factor = cholesky(&measures, outcome);
    let points = points();
    let mut inside = 0_u32;
    for normals in points {
        let kept = limits.iter().enumerate().all(|(row, limit)| {
            let moved: f64 =
                factor[row].iter().zip(normals).map(|(factor, normal)| factor * normal).sum();
            range_of(limit).holds(moved_by(values[row], moved))
        });
        inside += u32::from(kept);
    }
    Some(f64::from(inside) / points.len() as f64)
}

/// A number that is off by so much, to first order; what is positive stays so.
fn moved_by(value: f64, by: f64) -> f64 {
    if 0.0 < value { value * (by / value).exp() } else { value + by }
}

/// How much may still come off one end alone before a limit is passed for good, beyond what is off already.
///
/// A limit that is not reached yet (the blank is still too long or too soft) does not stand in the way;
/// one that further cutting only makes worse leaves nothing. Most likely values count, not their ranges.
/// `None` when no limit bears on this end.
pub fn left_at_end(
    piece: &Piece,
    limits: &[Limit],
    off: Cuts,
    held_at: Option<Length>,
    end: End,
) -> Option<Length> {
    let after = |cut: Length| match end {
        End::Tip => off.plus(cut, Length::default()),
        End::Butt => off.plus(Length::default(), cut),
    };
    let length = piece.length(off)?;
    let most = Length::from_m((length - held_at.unwrap_or_default()).m() - LEAST_FREE.m());
    if most <= Length::default() {
        return Some(Length::default());
    }
    limits
        .iter()
        .filter_map(|limit| {
            let value =
                |cut: Length| piece.value(limit.measure, after(cut), held_at.unwrap_or_default());
            if held_at.is_none() && needs_holding(limit.measure) {
                return None;
            }
            last_inside(value, range_of(limit), most)
        })
        .min_by(|a, b| a.m().total_cmp(&b.m()))
}

/// What is known without bending needs no place to hold it at.
fn needs_holding(measure: Measure) -> bool {
    !matches!(
        measure,
        Measure::Length | Measure::TipOd | Measure::ButtOd | Measure::Weight | Measure::Balance
    )
}

/// What must stay free of the clamp for the numbers to mean anything.
const LEAST_FREE: Length = Length::from_mm(100.0);

/// The largest cut at which a value is still inside, or not yet past, a range; `None` when cutting never gets past it.
fn last_inside(
    value: impl Fn(Length) -> Option<f64>,
    range: Range,
    most: Length,
) -> Option<Length> {
    const N_STEPS: usize = 32;
    let cut = |step: usize| most * (step as f64 / N_STEPS as f64);
    let values: Vec<Option<f64>> = (0..=N_STEPS).map(|step| value(cut(step))).collect();
    let first = values[0]?;
    let holds = |value: Option<f64>| value.is_some_and(|value| range.holds(value));
    let leaves = |from: usize| {
        let out = (from + 1..=N_STEPS).find(|step| !holds(values[*step]))?;
        Some(bisected(|length| holds(value(length)), cut(out - 1), cut(out)))
    };
    if holds(values[0]) {
        return leaves(0);
    }
    // Outside still: as long as each step comes nearer, the work is on its way there.
    let too_high = range.high < first;
    for step in 1..=N_STEPS {
        let (Some(before), Some(now)) = (values[step - 1], values[step]) else {
            return Some(cut(step - 1));
        };
        if range.holds(now) {
            return leaves(step);
        }
        if (too_high && now < range.low) || (!too_high && range.high < now) {
            // The range is narrower than a step, and was jumped over.
            let not_past =
                |value: f64| if too_high { range.low <= value } else { value <= range.high };
            let not_past = |length: Length| value(length).is_some_and(not_past);
            return Some(bisected(not_past, cut(step - 1), cut(step)));
        }
        let nearer = if too_high { now < before } else { before < now };
        if !nearer {
            return Some(cut(step - 1));
        }
    }
    None
}

/// The end of what holds at `from` and no longer holds at `to`, to a hundredth of a millimetre.
fn bisected(holds: impl Fn(Length) -> bool, from: Length, to: Length) -> Length {
    let (mut inside, mut outside) = (from, to);
    while Length::from_mm(0.01) < outside - inside {
        let middle = (inside + outside) / 2.0;
        if holds(middle) { inside = middle } else { outside = middle }
    }
    inside
}

/// The standard deviation of one number.
pub fn deviation(outcome: &Outcome, measure: Measure) -> f64 {
    let measure = to_mechanics(measure);
    outcome.covariance(measure, measure).max(0.0).sqrt()
}

/// The lower Cholesky factor of the covariance of some numbers; a number that is known exactly has a row of zeros.
fn cholesky(measures: &[Measure], outcome: &Outcome) -> Vec<Vec<f64>> {
    let n = measures.len();
    let mut factor = vec![vec![0.0; n]; n];
    for row in 0..n {
        for column in 0..=row {
            let covariance =
                outcome.covariance(to_mechanics(measures[row]), to_mechanics(measures[column]));
            let known: f64 = (0..column).map(|k| factor[row][k] * factor[column][k]).sum();
            let rest = covariance - known;
            let pivot: f64 = factor[column][column];
            factor[row][column] = match row == column {
                // What rounding leaves of a number that others fix would blow up the rows below.
                true if rest <= 1e-12 * covariance => 0.0,
                true => rest.sqrt(),
                false if 0.0 < pivot => rest / pivot,
                false => 0.0,
            };
        }
    }
    factor
}

const PRIMES: [u32; 11] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31];

/// The points of [`chance_of_all`], standard normal on each axis.
fn points() -> &'static [[f64; PRIMES.len()]] {
    static POINTS: OnceLock<Vec<[f64; PRIMES.len()]>> = OnceLock::new();
    POINTS.get_or_init(|| {
        (1..=2000).map(|point| PRIMES.map(|base| inverse_normal(halton(point, base)))).collect()
    })
}

/// A point of the Halton sequence in one base (J. H. Halton, Numerische Mathematik 2, 1960).
fn halton(mut index: u32, base: u32) -> f64 {
    let (mut part, mut sum) = (1.0, 0.0);
    while 0 < index {
        part /= f64::from(base);
        sum += part * f64::from(index % base);
        index /= base;
    }
    sum
}

/// The standard normal distribution function.
pub fn normal(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// The standard normal quantile, by bisection of [`normal`]: slow enough to be simple, and right to 1e-9.
pub fn inverse_normal(p: f64) -> f64 {
    let (mut low, mut high) = (-9.0, 9.0);
    while 1e-9 < high - low {
        let middle = 0.5 * (low + high);
        if normal(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
