//! A fit that wild readings can't drag along.

mod bends;

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

/// Fits a piece to its readings, and again without those that are all but proven to be slips.
///
/// A fit knows of one or two slips at once; more are looked for in what is left without them, and are slips where the readings that stay
/// go together and are at least as many.
/// The points of one bend on the board, of which `bends` gives the places, are one reading (`bends.rs`).
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
    bends: &[Vec<usize>],
) -> Result<Trusted, FitError> {
    let all = fit(prior, readings)?;
    let mut strays = surely_wild(&all);
    if !strays.is_empty()
        && let Some(doubting) = doubting()
    {
        let doubting = surely_wild(&fit(&doubting, readings)?);
        strays.retain(|idx| doubting.contains(idx));
    }
    let without = |strays: &[usize]| {
        let mut others = readings.to_vec();
        strays.iter().for_each(|idx| others[*idx] = others[*idx].idle());
        fit(prior, &others)
    };
    if strays.is_empty() {
        return Ok(Trusted { posterior: all.clone(), all, strays });
    }
    strays = bends::settled(readings, bends, strays, without)?;
    let mut posterior = without(&strays)?;
    let bear_out = bear_each_other_out(&posterior, readings, &strays);
    if !bear_out.is_empty() {
        strays.retain(|idx| !bear_out.contains(idx));
        return Ok(Trusted { posterior: without(&strays)?, all, strays });
    }
    if let Some((rest, more)) = more_strays(&posterior, &strays, readings, without)? {
        (posterior, strays) = (rest, more);
    }
    Ok(Trusted { posterior, all, strays })
}

/// Looks for further strays behind the first ones; gives the fit without any, and all of them.
///
/// They are slips only where the readings that stay are at least as many and go together, and where those left out don't.
fn more_strays(
    posterior: &Posterior,
    strays: &[usize],
    readings: &[Reading],
    without: impl Fn(&[usize]) -> Result<Posterior, FitError>,
) -> Result<Option<(Posterior, Vec<usize>)>, FitError> {
    let (mut rest, mut all) = (posterior.clone(), strays.to_vec());
    loop {
        let found = surely_wild(&rest);
        if found.is_empty() {
            break;
        }
        all.extend(found);
        if readings.len() < 2 * all.len() {
            return Ok(None);
        }
        rest = without(&all)?;
    }
    if all.len() == strays.len() || !goes_together(&rest) {
        return Ok(None);
    }
    all.sort_unstable();
    let others: Vec<usize> = (0..readings.len()).filter(|idx| !all.contains(idx)).collect();
    let is_majority = all.len() < others.len();
    Ok((is_majority || !goes_together(&without(&others)?)).then_some((rest, all)))
}

fn surely_wild(posterior: &Posterior) -> Vec<usize> {
    (0..).zip(posterior.wild()).filter(|(_, wild)| SURE <= **wild).map(|(idx, _)| idx).collect()
}

/// In standard deviations: by chance one right reading in 16 thousand misses by more.
const BEYOND_CHANCE: f64 = 4.0;

/// Whether no reading misses what all of them together lead to expect by more than chance allows.
fn goes_together(posterior: &Posterior) -> bool {
    posterior.residuals().iter().all(|residual| residual.miss.abs() < BEYOND_CHANCE)
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
