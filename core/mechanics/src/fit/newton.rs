//! The fit: damped Gauss–Newton for the most likely parameters.
//!
//! It knows of readings only how they compare with a prediction.

use super::matrix::{self, Matrix, N, Vector, ZERO};
use super::outcome::Missing;
use super::posterior::{Posterior, Residual};
use super::predict::Asked;
use super::prior::{FitError, Prior};
use super::reading::{Compared, Reading};

const MOST_ITERATIONS: usize = 25;
const MOST_HALVINGS: usize = 8;
/// The fit has settled when no parameter moves further than this part of its prior's standard deviation; what is left to go is then a tenth of that.
const SETTLED: f64 = 1e-4;
/// What a reading that can't be predicted counts for, in standard deviations: enough that no step is taken toward such a place.
const UNPREDICTED: f64 = 10.0;

/// Finds what is believed of a piece after its readings.
///
/// The most likely parameters p minimise ½ (p − p₀)ᵀ Σ₀⁻¹ (p − p₀) + ½ Σ rᵢ², rᵢ being what reading i misses its prediction by in
/// standard deviations: additive ones for angles, lengths and weights, relative ones (of the logarithm) for powers, pulls and frequencies.
/// Gauss–Newton with exact tangents; a step that does not lower that sum is halved.
/// With p = p₀ + L z and L Lᵀ = Σ₀ the prior is a unit Gaussian over z, so a parameter that is stated exactly needs no case of its own.
/// The covariance is (Σ₀⁻¹ + Σ Jᵢᵀ Jᵢ)⁻¹ (Laplace's approximation).
///
/// Without readings what is believed after is what was believed before.
/// A reading that can't be predicted, such as a power where the clamp is beyond the tip, teaches nothing and says so in [`Posterior::residuals`].
/// Readings that contradict each other are all met as well as may be, which shows in their `miss`.
///
/// # Errors
/// When the readings are so far from the card that no numbers come of it.
pub fn fit(prior: &Prior, readings: &[Reading]) -> Result<Posterior, FitError> {
    let root = matrix::cholesky(&prior.covariance);
    let mut z = [0.0; N];
    let mut here = Step::at(prior, &root, &z, readings);
    for _ in 0..MOST_ITERATIONS {
        let (step, _) = here.solve(&z);
        let mut part = 1.0;
        let mut taken = None;
        for _ in 0..MOST_HALVINGS {
            let there: Vector = std::array::from_fn(|i| z[i] + part * step[i]);
            let next = Step::at(prior, &root, &there, readings);
            if next.cost <= here.cost {
                taken = Some((there, next));
                break;
            }
            part *= 0.5;
        }
        let Some((there, next)) = taken else { break };
        (z, here) = (there, next);
        if step.iter().all(|step| step.abs() < SETTLED) {
            break;
        }
    }
    let posterior = here.posterior(prior, &root, &z);
    let mut numbers = posterior.mean.iter().chain(posterior.covariance.as_flattened());
    if numbers.all(|number| number.is_finite()) { Ok(posterior) } else { Err(FitError::NoFit) }
}

/// The readings compared at one set of parameters.
struct Step {
    parameters: Vector,
    compared: Vec<(f64, Result<Compared, Missing>)>,
    /// The derivatives of the predictions by z.
    rows: Vec<Vector>,
    cost: f64,
}

impl Step {
    fn at(prior: &Prior, root: &Matrix, z: &Vector, readings: &[Reading]) -> Self {
        let moved = matrix::apply(root, z);
        let parameters: Vector = std::array::from_fn(|i| prior.mean[i] + moved[i]);
        let piece = prior.blank.piece(&parameters);
        let mut asked = Asked::new(&piece);
        let compared: Vec<_> = (readings.iter())
            .map(|reading| {
                if !reading.makes_sense() {
                    return (reading.read(), Err(Missing::Senseless));
                }
                let compared = reading.compare(prior, &mut asked);
                let finite =
                    |c: &Compared| c.miss.is_finite() && c.by.iter().all(|slope| slope.is_finite());
                (
                    reading.read(),
                    compared.and_then(|c| if finite(&c) { Ok(c) } else { Err(Missing::Senseless) }),
                )
            })
            .collect();
        let misses = compared.iter().map(|(_, compared)| match compared {
            Ok(compared) => compared.miss,
            Err(_) => UNPREDICTED,
        });
        let cost = 0.5 * (matrix::dot(z, z) + misses.map(|miss| miss * miss).sum::<f64>());
        let rows = (compared.iter())
            .map(|(_, compared)| match compared {
                Ok(compared) => matrix::apply_transposed(root, &compared.by),
                Err(_) => [0.0; N],
            })
            .collect();
        Self { parameters, compared, rows, cost }
    }

    /// The Gauss–Newton step in z, and the covariance of z.
    fn solve(&self, z: &Vector) -> (Vector, Matrix) {
        let mut normal = ZERO;
        for (i, row) in normal.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        let mut side: Vector = z.map(|z| -z);
        for ((_, compared), row) in self.compared.iter().zip(&self.rows) {
            let Ok(compared) = compared else { continue };
            matrix::add_square(&mut normal, row, 1.0);
            for (side, slope) in side.iter_mut().zip(row) {
                *side += compared.miss * slope;
            }
        }
        let covariance = matrix::inverse(&normal);
        (matrix::apply(&covariance, &side), covariance)
    }

    fn posterior(&self, prior: &Prior, root: &Matrix, z: &Vector) -> Posterior {
        let (_, spread) = self.solve(z);
        let covariance =
            matrix::multiply(&matrix::multiply(root, &spread), &matrix::transpose(root));
        let (mut information, mut vector) = (ZERO, [0.0; N]);
        let mut residuals = Vec::with_capacity(self.rows.len());
        for ((read, compared), row) in self.compared.iter().zip(&self.rows) {
            let mut residual =
                Residual { read: *read, predicted: Err(Missing::Senseless), miss: 0.0 };
            match compared {
                Ok(compared) => {
                    matrix::add_square(&mut information, &compared.by, 1.0);
                    let pull = compared.miss + matrix::dot(&compared.by, &self.parameters);
                    for (entry, slope) in vector.iter_mut().zip(&compared.by) {
                        *entry += pull * slope;
                    }
                    // The miss left after all readings, over its own standard deviation, is what a fit without this one would show.
                    let leverage = matrix::dot(row, &matrix::apply(&spread, row));
                    residual.predicted = Ok(compared.predicted);
                    residual.miss = compared.miss / (1.0 - leverage).max(1e-9).sqrt();
                }
                Err(missing) => residual.predicted = Err(*missing),
            }
            residuals.push(residual);
        }
        Posterior {
            prior: prior.clone(),
            mean: self.parameters,
            covariance,
            information,
            vector,
            residuals,
        }
    }
}
