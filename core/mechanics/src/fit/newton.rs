//! The fit: damped Gauss–Newton for the most likely parameters.
//!
//! It knows of readings only how they compare with a prediction.

use super::matrix::{Matrix, dot};
use super::outcome::Missing;
use super::parameters::LENGTH;
use super::posterior::{Posterior, Residual};
use super::predict::Asked;
use super::prior::{FitError, Prior};
use super::reading::{Compared, Reading};
use super::setup::Setups;

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
    let prior = prior.with(&Setups::of(readings.iter().map(|reading| reading.setup)));
    let root = prior.covariance.cholesky();
    let mut z = vec![0.0; prior.mean.len()];
    let mut here = Step::at(&prior, &root, &z, readings);
    for _ in 0..MOST_ITERATIONS {
        let step = here.solve(&z);
        let mut part = 1.0;
        let mut taken = None;
        for _ in 0..MOST_HALVINGS {
            let there: Vec<f64> = z.iter().zip(&step).map(|(z, step)| z + part * step).collect();
            let next = Step::at(&prior, &root, &there, readings);
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
    let posterior = here.posterior(prior, &root);
    let mut numbers = posterior.mean.iter().chain(posterior.covariance.entries());
    if numbers.all(|number| number.is_finite()) { Ok(posterior) } else { Err(FitError::NoFit) }
}

/// The readings compared at one set of parameters.
struct Step {
    parameters: Vec<f64>,
    compared: Vec<(f64, Result<Compared, Missing>)>,
    /// The derivatives of the predictions by all parameters, and by z.
    slopes: Vec<Vec<f64>>,
    rows: Vec<Vec<f64>>,
    cost: f64,
}

impl Step {
    fn at(prior: &Prior, root: &Matrix, z: &[f64], readings: &[Reading]) -> Self {
        let moved = root.apply(z);
        let parameters: Vec<f64> =
            prior.mean.iter().zip(moved).map(|(mean, by)| mean + by).collect();
        let piece = prior.blank.piece(&parameters);
        let mut asked = Asked::new(&prior.blank, &piece);
        let compared: Vec<_> = (readings.iter())
            .map(|reading| {
                let clamp = prior.root(&parameters, reading.setup);
                let compared = if reading.makes_sense() {
                    reading.compare(prior, &mut asked, clamp)
                } else {
                    Err(Missing::Senseless)
                };
                let finite =
                    |c: &Compared| c.miss.is_finite() && c.by.iter().all(|slope| slope.is_finite());
                let compared =
                    compared.and_then(|c| if finite(&c) { Ok(c) } else { Err(Missing::Senseless) });
                (reading.read(), compared)
            })
            .collect();
        let misses = compared.iter().map(|(_, compared)| match compared {
            Ok(compared) => compared.miss,
            Err(_) => UNPREDICTED,
        });
        let cost = 0.5 * (dot(z, z) + misses.map(|miss| miss * miss).sum::<f64>());
        let slopes: Vec<Vec<f64>> = (compared.iter().zip(readings))
            .map(|((_, compared), reading)| match compared {
                Ok(compared) => prior.setups.spread(&compared.by, reading.setup),
                Err(_) => vec![0.0; prior.mean.len()],
            })
            .collect();
        let rows = slopes.iter().map(|slopes| root.apply_transposed(slopes)).collect();
        Self { parameters, compared, slopes, rows, cost }
    }

    /// The Gauss–Newton step in z, the length held.
    fn solve(&self, z: &[f64]) -> Vec<f64> {
        let mut normal = Matrix::unit(z.len());
        let mut side: Vec<f64> = z.iter().map(|z| -z).collect();
        for ((_, compared), row) in self.compared.iter().zip(&self.rows) {
            let Ok(compared) = compared else { continue };
            let mut row = row.clone();
            row[LENGTH] = 0.0;
            normal.add_square(&row, 1.0);
            for (side, slope) in side.iter_mut().zip(&row) {
                *side += compared.miss * slope;
            }
        }
        normal.inverse().apply(&side)
    }

    /// The covariance of z, with what the length adds.
    fn covariance(&self, n: usize) -> Matrix {
        let mut normal = Matrix::unit(n);
        self.rows.iter().for_each(|row| normal.add_square(row, 1.0));
        normal.inverse()
    }

    fn posterior(self, prior: Prior, root: &Matrix) -> Posterior {
        let n = prior.mean.len();
        let spread = self.covariance(n);
        let covariance = root.times(&spread).times(&root.transposed());
        let mut told = Vec::with_capacity(self.rows.len());
        let mut residuals = Vec::with_capacity(self.rows.len());
        for (((read, compared), row), slopes) in
            self.compared.iter().zip(&self.rows).zip(&self.slopes)
        {
            let mut residual =
                Residual { read: *read, predicted: Err(Missing::Senseless), miss: 0.0 };
            match compared {
                Ok(compared) => {
                    told.push(compared.miss + dot(slopes, &self.parameters));
                    // The miss left after all readings, over its own standard deviation, is what a fit without this one would show.
                    let leverage = spread.square(row);
                    residual.predicted = Ok(compared.predicted);
                    residual.miss = compared.miss / (1.0 - leverage).max(1e-9).sqrt();
                }
                Err(missing) => {
                    told.push(0.0);
                    residual.predicted = Err(*missing);
                }
            }
            residuals.push(residual);
        }
        Posterior { prior, mean: self.parameters, covariance, residuals, slopes: self.slopes, told }
    }
}
