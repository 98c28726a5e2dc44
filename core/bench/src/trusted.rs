//! A fit that wild readings can't drag along.

use taperbook_mechanics::fit::{FitError, Measured, Posterior, Prior, Reading, SURE, fit};

/// A fit with and without the readings that all else speaks against.
pub(crate) struct Trusted {
    /// From the readings that can be trusted.
    pub(crate) posterior: Posterior,
    /// From all readings.
    pub(crate) all: Posterior,
    /// The readings left out of account, by their place in the list.
    pub(crate) strays: Vec<usize>,
}

/// Fits a piece to its readings, and again without the one or two that are all but proven to be slips.
///
/// Two powers that are off alike, with no other power against them, are no slips and count.
/// Where it can't be told which of several readings is wrong all count, and show as readings that contradict each other.
/// A card that states a modulus or a density may state a wrong one: a reading is left out only when it is a slip also if they are no
/// more than a guess, which `doubting` gives.
///
/// # Errors
/// When the prior makes no tube.
pub(crate) fn fit_trusted(
    prior: &Prior,
    doubting: impl FnOnce() -> Option<Prior>,
    readings: &[Reading],
) -> Result<Trusted, FitError> {
    let all = fit(prior, readings)?;
    let mut strays: Vec<usize> =
        (0..readings.len()).filter(|idx| SURE <= all.wild()[*idx]).collect();
    if !strays.is_empty()
        && let Some(doubting) = doubting()
    {
        let doubting = fit(&doubting, readings)?;
        strays.retain(|idx| SURE <= doubting.wild()[*idx]);
    }
    let without = |strays: &[usize]| {
        let mut others = readings.to_vec();
        strays.iter().for_each(|idx| others[*idx] = others[*idx].idle());
        fit(prior, &others)
    };
    if strays.is_empty() {
        return Ok(Trusted { posterior: all.clone(), all, strays });
    }
    let posterior = without(&strays)?;
    let bear_out = bear_each_other_out(&posterior, readings, &strays);
    if bear_out.is_empty() {
        return Ok(Trusted { posterior, all, strays });
    }
    strays.retain(|idx| !bear_out.contains(idx));
    Ok(Trusted { posterior: without(&strays)?, all, strays })
}

/// Powers that are off by the same part to so much of it are no two slips (clamping anew is a few percent; common practice, no source).
const THE_SAME: f64 = 0.05;

/// The strays that are no slips: several powers that are all off alike, where no other power speaks against them.
///
/// A slip does not come twice the same. What speaks against them is then the card or the past builds, and the piece may well differ.
fn bear_each_other_out(
    posterior: &Posterior,
    readings: &[Reading],
    strays: &[usize],
) -> Vec<usize> {
    let is_power = |idx: &usize| matches!(readings[*idx].measured, Measured::Power(_));
    let (strays, others): (Vec<usize>, Vec<usize>) =
        (0..readings.len()).filter(is_power).partition(|idx| strays.contains(idx));
    let off: Vec<f64> = strays
        .iter()
        .filter_map(|idx| {
            let residual = posterior.residuals().get(*idx)?;
            Some((residual.read / residual.predicted.ok()?).ln())
        })
        .collect();
    let most = off.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = off.iter().copied().fold(f64::INFINITY, f64::min);
    let alike = 1 < strays.len() && off.len() == strays.len() && most - least <= THE_SAME;
    if alike && others.is_empty() { strays } else { Vec::new() }
}
