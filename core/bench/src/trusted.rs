//! A fit that wild readings can't drag along.

use taperbook_mechanics::fit::{FitError, Posterior, Prior, Reading, SURE, fit};

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
    if strays.is_empty() {
        return Ok(Trusted { posterior: all.clone(), all, strays });
    }
    let mut others = readings.to_vec();
    strays.iter().for_each(|idx| others[*idx] = others[*idx].idle());
    Ok(Trusted { posterior: fit(prior, &others)?, all, strays })
}
