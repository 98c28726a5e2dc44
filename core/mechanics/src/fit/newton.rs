//! The fit: the most likely parameters of a blank, by least squares.
//!
//! It knows of readings only how they compare with a prediction; how misses are made small is in `least_squares`.

use super::least_squares::wild::wild;
use super::least_squares::{Before, Limits, Misses, minimise};
use super::matrix::{Matrix, dot};
use super::outcome::Missing;
use super::parameters::LENGTH;
use super::posterior::{Posterior, Residual};
use super::predict::{Asked, Room};
use super::prior::{FitError, Prior};
use super::reading::{Compared, Reading};
use super::setup::Setups;

/// A thousandth of a standard deviation to go, in whatever follows from the parameters, is nowhere seen.
const LIMITS: Limits = Limits { to_go: 1e-3, n_predictions: 40 };
/// What a reading that can't be predicted counts for, in standard deviations: enough that no step is taken toward such a place.
const UNPREDICTED: f64 = 10.0;

/// Finds what is believed of a piece after its readings.
///
/// The most likely parameters p minimise ½ (p − p₀)ᵀ Σ₀⁻¹ (p − p₀) + ½ Σ rᵢ², rᵢ being what reading i misses its prediction by in
/// standard deviations: additive ones for angles, lengths and weights, relative ones (of the logarithm) for powers, pulls and frequencies.
/// Gauss–Newton with exact tangents, damped where a step does not keep its promise.
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
    let mut problem =
        Problem { prior: &prior, root: &root, readings, room: Room::default(), last: None };
    let start = vec![0.0; prior.mean.len()];
    let found = minimise(&mut problem, &start, Before::Unit, LIMITS).ok_or(FitError::NoFit)?;
    // Where it settled is the last place asked for, or a step from there that is too short to ask anew; but for one that was refused.
    let here = match problem.last {
        Some((z, here)) if z == found.from => here.moved(&root, &z, &found.x),
        _ => {
            let here = Step::at(&prior, &root, &found.from, readings, &mut Room::default());
            here.moved(&root, &found.from, &found.x)
        }
    };
    // What can't be predicted is no slip of a reading, nor does it keep others from being named.
    let mut found = found;
    for (miss, (_, compared)) in found.misses.iter_mut().zip(&here.compared) {
        if compared.is_err() {
            *miss = 0.0;
        }
    }
    let widths: Vec<f64> =
        readings.iter().map(|reading| reading.when_wild(&prior.errors)).collect();
    let mut wild = wild(&found, &widths);
    for (wild, (_, compared)) in wild.iter_mut().zip(&here.compared) {
        if compared.is_err() {
            *wild = 0.0;
        }
    }
    let posterior = here.posterior(prior, &root, wild);
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
}

impl Step {
    fn at(prior: &Prior, root: &Matrix, z: &[f64], readings: &[Reading], room: &mut Room) -> Self {
        let moved = root.apply(z);
        let parameters: Vec<f64> =
            prior.mean.iter().zip(moved).map(|(mean, by)| mean + by).collect();
        let piece = prior.blank.piece(&parameters);
        let mut asked = Asked::in_room(&prior.blank, &piece, std::mem::take(room));
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
        *room = asked.into_room();
        let slopes: Vec<Vec<f64>> = (compared.iter().zip(readings))
            .map(|((_, compared), reading)| match compared {
                Ok(compared) => {
                    let clamp = prior.root(&parameters, reading.setup);
                    prior.spread_out(&compared.by, reading.setup, clamp)
                }
                Err(_) => vec![0.0; prior.mean.len()],
            })
            .collect();
        let rows = slopes.iter().map(|slopes| root.apply_transposed(slopes)).collect();
        Self { parameters, compared, slopes, rows }
    }

    /// What the slopes foretell at another z that is near.
    fn moved(mut self, root: &Matrix, from: &[f64], to: &[f64]) -> Self {
        if from == to {
            return self;
        }
        let step: Vec<f64> = to.iter().zip(from).map(|(to, from)| to - from).collect();
        let step = root.apply(&step);
        self.parameters.iter_mut().zip(&step).for_each(|(parameter, by)| *parameter += by);
        for ((_, compared), slopes) in self.compared.iter_mut().zip(&self.slopes) {
            if let Ok(compared) = compared {
                let by = dot(slopes, &step);
                compared.predicted += by * compared.sd;
                compared.miss -= by;
            }
        }
        self
    }

    /// What is believed of the parameters, and of each miss what the fit leaves of it: one less its leverage.
    ///
    /// With Σ₀ = L Lᵀ, rows Jz = J L and A = Jz Jzᵀ + 1 = R Rᵀ the covariance (Σ₀⁻¹ + Jᵀ J)⁻¹ is Σ₀ − W Wᵀ, W = L Jzᵀ R⁻ᵀ,
    /// and what is left of the misses the diagonal of A⁻¹. What the length adds is in the rows.
    fn believed(&self, prior: &Prior, root: &Matrix) -> (Matrix, Vec<f64>) {
        let k = self.rows.len();
        let mut among = Matrix::unit(k);
        for i in 0..k {
            for j in 0..k {
                among[(i, j)] += dot(&self.rows[i], &self.rows[j]);
            }
        }
        let (lower, inverse) = (among.lower_of_one_and_more(), among.inverse());
        let mut covariance = prior.covariance.clone();
        let mut taken: Vec<Vec<f64>> = Vec::with_capacity(k);
        for (i, row) in self.rows.iter().enumerate() {
            let mut along = root.apply(row);
            for (j, before) in taken.iter().enumerate() {
                let part = lower[(i, j)];
                along.iter_mut().zip(before).for_each(|(along, before)| *along -= part * before);
            }
            along.iter_mut().for_each(|along| *along /= lower[(i, i)]);
            covariance.add_square(&along, -1.0);
            taken.push(along);
        }
        (covariance, (0..k).map(|i| inverse[(i, i)]).collect())
    }

    fn posterior(self, prior: Prior, root: &Matrix, wild: Vec<f64>) -> Posterior {
        let (covariance, freedom) = self.believed(&prior, root);
        let mut told = Vec::with_capacity(self.rows.len());
        let mut residuals = Vec::with_capacity(self.rows.len());
        for (((read, compared), free), slopes) in
            self.compared.iter().zip(freedom).zip(&self.slopes)
        {
            let mut residual =
                Residual { read: *read, predicted: Err(Missing::Senseless), miss: 0.0 };
            match compared {
                Ok(compared) => {
                    told.push(compared.miss + dot(slopes, &self.parameters));
                    // The miss left after all readings, over its own standard deviation, is what a fit without this one would show.
                    residual.predicted = Ok(compared.predicted);
                    residual.miss = compared.miss / free.max(1e-9).sqrt();
                }
                Err(missing) => {
                    told.push(0.0);
                    residual.predicted = Err(*missing);
                }
            }
            residuals.push(residual);
        }
        Posterior {
            prior,
            mean: self.parameters,
            covariance,
            residuals,
            slopes: self.slopes,
            told,
            wild,
        }
    }
}

/// The readings as a least-squares problem in z, the length held.
struct Problem<'fit> {
    prior: &'fit Prior,
    root: &'fit Matrix,
    readings: &'fit [Reading],
    room: Room,
    /// What was found where it was asked last.
    last: Option<(Vec<f64>, Step)>,
}

impl Misses for Problem<'_> {
    fn at(&mut self, z: &[f64], misses: &mut Vec<f64>, rows: &mut Vec<f64>) -> bool {
        let step = Step::at(self.prior, self.root, z, self.readings, &mut self.room);
        for ((_, compared), row) in step.compared.iter().zip(&step.rows) {
            misses.push(compared.as_ref().map_or(UNPREDICTED, |compared| compared.miss));
            let at = rows.len();
            rows.extend(row);
            rows[at + LENGTH] = 0.0;
        }
        self.last = Some((z.to_vec(), step));
        true
    }
}
