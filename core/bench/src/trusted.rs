//! A fit that one wild reading can't drag along.

use taperbook_mechanics::fit::{FitError, Posterior, Prior, Reading, fit};

/// A fit with and without the readings that all else speaks against.
pub(crate) struct Trusted {
    /// From the readings that can be trusted.
    pub(crate) posterior: Posterior,
    /// From all readings.
    pub(crate) all: Posterior,
    /// The readings left out of account, by their place in the list.
    pub(crate) strays: Vec<usize>,
}

/// A reading further than this from what all the others lead to expect, in standard deviations, is looked at: by chance
/// one right reading in 16,000 is.
const WILD: f64 = 4.0;
/// Without the stray, all the others must agree this well.
const AGREED: f64 = 3.0;
/// So much worse must every other way to make peace be; else nobody can say which reading is wrong, and all count.
const CLEARLY: f64 = 1.5;

/// So many readings are tried as the stray, those furthest off: each costs a fit.
const MOST_TRIED: usize = 4;

/// Fits a piece to its readings, and again without the one reading that can't be right, if there is one.
///
/// A slip of the weights or a swapped inch happens one at a time: two strays in one bench stay in, and show as readings
/// that contradict each other.
///
/// # Errors
/// When the prior makes no tube.
pub(crate) fn fit_trusted(prior: &Prior, readings: &[Reading]) -> Result<Trusted, FitError> {
    let all = fit(prior, readings)?;
    let residuals = all.residuals();
    let mut wild: Vec<usize> =
        (0..readings.len()).filter(|idx| WILD < residuals[*idx].miss.abs()).collect();
    wild.sort_by(|a, b| residuals[*b].miss.abs().total_cmp(&residuals[*a].miss.abs()));
    wild.truncate(MOST_TRIED);
    let mut ways: Vec<(f64, usize, Posterior)> = Vec::new();
    for idx in wild {
        let mut others = readings.to_vec();
        others[idx] = others[idx].idle();
        let posterior = fit(prior, &others)?;
        ways.push((worst_miss(&posterior, idx), idx, posterior));
    }
    ways.sort_by(|a, b| a.0.total_cmp(&b.0));
    let second = ways.get(1).map_or(f64::INFINITY, |way| way.0);
    match ways.into_iter().next() {
        Some((worst, idx, posterior)) if worst <= AGREED && CLEARLY * worst <= second => {
            Ok(Trusted { posterior, all, strays: vec![idx] })
        }
        _ => Ok(Trusted { posterior: all.clone(), all, strays: Vec::new() }),
    }
}

fn worst_miss(posterior: &Posterior, but: usize) -> f64 {
    let others = posterior.residuals().iter().enumerate().filter(|(idx, _)| *idx != but);
    others.map(|(_, residual)| residual.miss.abs()).fold(0.0, f64::max)
}
