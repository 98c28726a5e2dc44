//! Least squares: the unknowns that leave the smallest misses, and how sure they then are.
//!
//! It knows of a problem only its misses and their slopes, and nothing of blanks or of what was read.

#[cfg(test)]
mod jcgm;
#[cfg(test)]
mod nist;
#[cfg(test)]
mod tests;
mod triangle;
pub(crate) mod wild;

use super::matrix::{Matrix, dot};
use triangle::Triangle;

/// What is to be made small.
pub(crate) trait Misses {
    /// Fills `misses` with what each observation lies above its prediction at `x`, in its standard deviations, and `rows` with the
    /// derivatives of the *prediction* by `x` in the same measure: one row of `x.len()` for each miss. Both come empty.
    ///
    /// Gives false where nothing can be predicted: no step is taken to such a place.
    fn at(&mut self, x: &[f64], misses: &mut Vec<f64>, rows: &mut Vec<f64>) -> bool;
}

/// What is believed of the unknowns before any observation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Before {
    /// Each is Gaussian about zero with a standard deviation of one, apart from the others.
    Unit,
    /// Nothing: the observations alone must tell.
    #[cfg_attr(
        not(test),
        expect(dead_code, reason = "published problems have no prior; every blank has one")
    )]
    Nothing,
}

/// When to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    /// The fit has settled when nothing that follows from the unknowns has further to go than this part of its standard deviation.
    pub(crate) to_go: f64,
    /// After so many predictions it stops where it is.
    pub(crate) n_predictions: usize,
}

/// Where the misses are smallest.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Minimum {
    pub(crate) x: Vec<f64>,
    /// The misses at `x`.
    pub(crate) misses: Vec<f64>,
    /// Their rows at `x`.
    pub(crate) rows: Vec<f64>,
    /// ½ Σ missᵢ², and ½ |x|² for what was believed before.
    pub(crate) cost: f64,
    /// How often the problem was asked for its misses.
    pub(crate) n_predictions: usize,
    /// Whether the fit settled; else the limit was met, or no step can be made small enough to help.
    pub(crate) settled: bool,
    /// (JᵀJ + I)⁻¹, or (JᵀJ)⁻¹ where nothing was believed before: the covariance of `x` when the observations' standard deviations
    /// are right as stated. Nothing where the observations leave an unknown open.
    pub(crate) covariance: Option<Matrix>,
}

/// A step is taken when it keeps this part of what the slopes promise.
const LEAST_GAIN: f64 = 1e-4;
/// Below this part the slopes are trusted less far, above the other further.
const POOR_GAIN: f64 = 0.25;
const GOOD_GAIN: f64 = 0.75;
/// How much further at once.
const FURTHER: f64 = 2.0;
/// When a step that promises less than this part of the cost is refused, then because of what rounding does to predictions.
const ROUNDING: f64 = 1e-12;

/// Finds the unknowns x that minimise ½ Σ missᵢ(x)², with ½ |x|² added for what was believed before.
///
/// Each step solves the linear problem of the slopes, min |J s − m|² (Gauss–Newton), and is taken whole where it keeps its promise.
/// When it does not, the next is the best of those that go less far, each unknown measured by the longest column that it has had
/// (Levenberg–Marquardt as a trust region: Moré, *The Levenberg–Marquardt algorithm: implementation and theory*, 1978, from memory).
/// A well-behaved problem is never damped, so that it costs one prediction a step and none to find out that it has settled.
///
/// The fit has settled when the slope that is left could move x no further than `to_go` in the measure of its own covariance, which is
/// then also the bound for any number that is linear in x. Where nothing was believed before, the scatter of the misses gives their scale.
///
/// Nothing comes of a start that can't be predicted, or whose misses or slopes are not numbers or beyond 1e150.
pub(crate) fn minimise(
    problem: &mut impl Misses,
    start: &[f64],
    before: Before,
    limits: Limits,
) -> Option<Minimum> {
    let mut here = Place::at(problem, start.to_vec(), before)?;
    let mut n_predictions = 1;
    let mut trusted = f64::INFINITY;
    let mut scales = vec![0.0; start.len()];
    loop {
        let triangle = here.triangle(before);
        let to_gain = 0.5 * triangle.side_squared();
        let near = limits.to_go * here.variance(before).sqrt();
        if to_gain <= 0.5 * near * near {
            return Some(here.minimum(&triangle, n_predictions, true));
        }
        here.stretch(&mut scales, before);
        here = loop {
            let step = triangle.solve_within(trusted, &scales);
            let x: Vec<f64> = here.x.iter().zip(&step).map(|(x, step)| x + step).collect();
            let length = scaled_length(&step, &scales);
            if x == here.x {
                // A step that is not shortened and yet too short to be one ends where numbers end.
                return Some(here.minimum(&triangle, n_predictions, length < trusted));
            }
            if limits.n_predictions <= n_predictions || x.iter().any(|x| !x.is_finite()) {
                return Some(here.minimum(&triangle, n_predictions, false));
            }
            n_predictions += 1;
            let next = Place::at(problem, x, before);
            let lowered = next.as_ref().map_or(f64::NEG_INFINITY, |next| here.cost - next.cost);
            let (slope, bend) = triangle.along(&step);
            let gain = lowered / (slope - 0.5 * bend);
            if gain < POOR_GAIN {
                // As far as to the lowest point of the parabola through both costs with the slope here.
                trusted = length * (0.5 * slope / (slope - lowered)).clamp(0.1, 0.5);
            } else if GOOD_GAIN < gain {
                trusted = trusted.max(FURTHER * length);
            }
            match next {
                Some(next) if LEAST_GAIN <= gain => break next,
                _ if to_gain <= ROUNDING * here.cost => {
                    return Some(here.minimum(&triangle, n_predictions, true));
                }
                // The slopes don't belong to the misses; shorter steps would not matter even if they helped.
                _ if length <= near => {
                    return Some(here.minimum(&triangle, n_predictions, false));
                }
                _ => {}
            }
        };
    }
}

/// How long a step is, each unknown measured in its scale.
fn scaled_length(step: &[f64], scales: &[f64]) -> f64 {
    let parts = step.iter().zip(scales).map(|(step, scale)| step * scale);
    parts.map(|part| part * part).sum::<f64>().sqrt()
}

/// The misses at one place.
struct Place {
    x: Vec<f64>,
    misses: Vec<f64>,
    rows: Vec<f64>,
    cost: f64,
}

impl Place {
    /// Asks the problem; nothing where it can't predict, or numbers come of it that can't be squared.
    fn at(problem: &mut impl Misses, x: Vec<f64>, before: Before) -> Option<Self> {
        let (mut misses, mut rows) = (Vec::new(), Vec::new());
        if !problem.at(&x, &mut misses, &mut rows) {
            return None;
        }
        debug_assert_eq!(rows.len(), misses.len() * x.len(), "one row of slopes for each miss");
        let believed = match before {
            Before::Unit => dot(&x, &x),
            Before::Nothing => 0.0,
        };
        let cost = 0.5 * (dot(&misses, &misses) + believed);
        let is_sound = (cost + dot(&rows, &rows)).is_finite();
        is_sound.then_some(Self { x, misses, rows, cost })
    }

    fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.rows.chunks_exact(self.x.len().max(1))
    }

    /// The linear problem here; what was believed before is one more observation of each unknown, of 0 ± 1.
    fn triangle(&self, before: Before) -> Triangle {
        let n = self.x.len();
        let mut equations = Vec::with_capacity((self.misses.len() + n) * (n + 1));
        for (row, miss) in self.rows().zip(&self.misses) {
            equations.extend_from_slice(row);
            equations.push(*miss);
        }
        if before == Before::Unit {
            for (i, x) in self.x.iter().enumerate() {
                equations.extend((0..n).map(|j| if i == j { 1.0 } else { 0.0 }));
                equations.push(-x);
            }
        }
        Triangle::of(n, equations.chunks_exact(n + 1))
    }

    /// Lets the scale of each unknown grow to the length of its column, so that steps don't depend on units.
    ///
    /// It never shrinks: where an unknown loses its effect, as far from an exponential's start, steps in it would else run away.
    fn stretch(&self, scales: &mut [f64], before: Before) {
        let believed = if before == Before::Unit { 1.0 } else { 0.0 };
        for (i, scale) in scales.iter_mut().enumerate() {
            let squares: f64 = self.rows().map(|row| row[i] * row[i]).sum();
            *scale = scale.max((squares + believed).sqrt());
        }
    }

    /// The variance of a miss: as stated, or what the misses themselves show where nothing else was believed.
    fn variance(&self, before: Before) -> f64 {
        let n_spare = self.misses.len().saturating_sub(self.x.len()).max(1);
        match before {
            Before::Unit => 1.0,
            Before::Nothing => 2.0 * self.cost / n_spare as f64,
        }
    }

    fn minimum(self, triangle: &Triangle, n_predictions: usize, settled: bool) -> Minimum {
        let Self { x, misses, rows, cost } = self;
        let covariance = triangle.covariance();
        Minimum { x, misses, rows, cost, n_predictions, settled, covariance }
    }
}
