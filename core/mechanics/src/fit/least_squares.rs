//! Least squares: the unknowns that leave the smallest misses, and how sure they then are.
//!
//! It knows of a problem only its misses and their slopes, and nothing of blanks or of what was read.

#[cfg(test)]
mod jcgm;
mod linear;
#[cfg(test)]
mod nist;
#[cfg(test)]
mod tests;
mod triangle;
pub(crate) mod wild;

use super::matrix::{Matrix, dot};
use linear::Linear;

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
    /// Where the misses and rows were asked for: there, or the last step before it.
    pub(crate) from: Vec<f64>,
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
    before: Before,
}

impl Minimum {
    /// (JᵀJ + I)⁻¹, or (JᵀJ)⁻¹ where nothing was believed before: the covariance of `x` when the observations' standard deviations
    /// are right as stated. Nothing where the observations leave an unknown open.
    #[cfg(test)]
    pub(crate) fn covariance(&self) -> Option<Matrix> {
        Linear::new(self).by_unknowns().covariance()
    }

    /// What the fit leaves of each miss, 1 − J C Jᵀ with C the covariance: its diagonal is one less the leverage.
    pub(crate) fn freedom(&self) -> Option<Matrix> {
        Linear::new(self).freedom()
    }
}

/// A step is taken when it keeps this part of what the slopes promise.
const LEAST_GAIN: f64 = 1e-4;
/// Below this part the slopes are trusted less far, above the other further.
const POOR_GAIN: f64 = 0.25;
const GOOD_GAIN: f64 = 0.75;
/// A step is shorter than the one before by less than this part where there is little to learn from how much shorter.
const SHORTER: f64 = 0.1;
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
/// then also the bound for any number that is linear in x. Where steps get shorter so fast that this will be so after the next,
/// that step is taken without predicting anew: misses are then those that the slopes foretell. Where nothing was believed before, the scatter of the misses gives their scale.
///
/// Both go by the slopes alone. Along a bent valley, whose floor is all but level, steps stay as short as the one before, and what is
/// found may lie further from the lowest point than `to_go` allows, at a cost that is next to the lowest.
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
    // How far the last whole step went, in the measure of its covariance.
    let mut went: Option<f64> = None;
    loop {
        let linear = here.linear();
        let whole = linear.step();
        let (_, to_go) = linear.along(&whole);
        let to_go = to_go.sqrt();
        let near = limits.to_go * here.variance().sqrt();
        if to_go <= near {
            return Some(here.minimum(n_predictions, true));
        }
        // The steps of a well-behaved problem get shorter by the same part, or by more. Where the next would be no step any more
        // there is no need to predict anew.
        if let Some(went) = went
            && to_go <= SHORTER * went
            && to_go * to_go <= near * went
        {
            return Some(here.stepped(&whole).minimum(n_predictions, true));
        }
        let to_gain = 0.5 * to_go * to_go;
        here.stretch(&mut scales);
        let mut triangle = None;
        here = loop {
            let linear = here.linear();
            let is_whole = scaled_length(&whole, &scales) <= trusted;
            let step = if is_whole {
                whole.clone()
            } else {
                let triangle = triangle.get_or_insert_with(|| linear.by_unknowns());
                triangle.solve_within(trusted, &scales)
            };
            let x: Vec<f64> = here.x.iter().zip(&step).map(|(x, step)| x + step).collect();
            let length = scaled_length(&step, &scales);
            if x == here.x {
                // A step that is not shortened and yet too short to be one ends where numbers end.
                return Some(here.minimum(n_predictions, length < trusted));
            }
            if limits.n_predictions <= n_predictions || x.iter().any(|x| !x.is_finite()) {
                return Some(here.minimum(n_predictions, false));
            }
            n_predictions += 1;
            let next = Place::at(problem, x, before);
            let lowered = next.as_ref().map_or(f64::NEG_INFINITY, |next| here.cost - next.cost);
            let (slope, bend) = linear.along(&step);
            let gain = lowered / (slope - 0.5 * bend);
            if gain < POOR_GAIN {
                // As far as to the lowest point of the parabola through both costs with the slope here.
                trusted = length * (0.5 * slope / (slope - lowered)).clamp(0.1, 0.5);
            } else if GOOD_GAIN < gain {
                trusted = trusted.max(FURTHER * length);
            }
            match next {
                Some(next) if LEAST_GAIN <= gain => {
                    went = is_whole.then_some(to_go);
                    break next;
                }
                _ if to_gain <= ROUNDING * here.cost => {
                    return Some(here.minimum(n_predictions, true));
                }
                // The slopes don't belong to the misses; shorter steps would not matter even if they helped.
                _ if length <= near => {
                    return Some(here.minimum(n_predictions, false));
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
    /// Where the problem was asked.
    from: Vec<f64>,
    misses: Vec<f64>,
    rows: Vec<f64>,
    cost: f64,
    before: Before,
}

impl Place {
    /// Asks the problem; nothing where it can't predict, or numbers come of it that can't be squared.
    fn at(problem: &mut impl Misses, x: Vec<f64>, before: Before) -> Option<Self> {
        let (mut misses, mut rows) = (Vec::new(), Vec::new());
        if !problem.at(&x, &mut misses, &mut rows) {
            return None;
        }
        debug_assert_eq!(rows.len(), misses.len() * x.len(), "one row of slopes for each miss");
        let place = Self { from: x.clone(), x, misses, rows, cost: 0.0, before }.costed();
        let is_sound = (place.cost + dot(&place.rows, &place.rows)).is_finite();
        is_sound.then_some(place)
    }

    fn costed(mut self) -> Self {
        let believed = match self.before {
            Before::Unit => dot(&self.x, &self.x),
            Before::Nothing => 0.0,
        };
        self.cost = 0.5 * (dot(&self.misses, &self.misses) + believed);
        self
    }

    /// What the slopes foretell a step from here.
    fn stepped(mut self, step: &[f64]) -> Self {
        let n = self.x.len().max(1);
        for (miss, row) in self.misses.iter_mut().zip(self.rows.chunks_exact(n)) {
            *miss -= dot(row, step);
        }
        self.x.iter_mut().zip(step).for_each(|(x, step)| *x += step);
        self.costed()
    }

    fn linear(&self) -> Linear<'_> {
        let Self { x, misses, rows, before, .. } = self;
        Linear { x, misses, rows, before: *before }
    }

    /// Lets the scale of each unknown grow to the length of its column, so that steps don't depend on units.
    ///
    /// It never shrinks: where an unknown loses its effect, as far from an exponential's start, steps in it would else run away.
    fn stretch(&self, scales: &mut [f64]) {
        let believed = if self.before == Before::Unit { 1.0 } else { 0.0 };
        for (i, scale) in scales.iter_mut().enumerate() {
            let column = self.rows.iter().skip(i).step_by(self.x.len());
            let squares: f64 = column.map(|slope| slope * slope).sum();
            *scale = scale.max((squares + believed).sqrt());
        }
    }

    /// The variance of a miss: as stated, or what the misses themselves show where nothing else was believed.
    fn variance(&self) -> f64 {
        let n_spare = self.misses.len().saturating_sub(self.x.len()).max(1);
        match self.before {
            Before::Unit => 1.0,
            Before::Nothing => 2.0 * self.cost / n_spare as f64,
        }
    }

    fn minimum(self, n_predictions: usize, settled: bool) -> Minimum {
        let Self { x, from, misses, rows, cost, before } = self;
        Minimum { x, from, misses, rows, cost, n_predictions, settled, before }
    }
}
