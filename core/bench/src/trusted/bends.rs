//! Bends on the board whose weight, marks or clamp were mistaken: all points of one are off together, and many as they are they outvote
//! what was read once.
//!
//! A bend is one reading as far as slips go. Which single readings are slips is decided in [`super`].

use taperbook_mechanics::fit::{FitError, Measured, Posterior, Reading};

use super::goes_together;

/// In standard deviations: what is further from all that is not in question does not go with it.
const OFF: f64 = 3.0;

/// Gives the strays once each bend is taken as a whole; `bends` are the places of the points of each.
///
/// A bend of which several points are slips is one. Where a bend and readings that are called slips speak against each other, and without
/// either all else goes together, several such readings are believed rather than the bend; one is where it goes with the card and
/// the past builds and the bend does not, and the other way round; where these don't tell, neither counts.
///
/// # Errors
/// When nothing comes of what is left.
pub(super) fn settled(
    readings: &[Reading],
    bends: &[Vec<usize>],
    strays: Vec<usize>,
    without: impl Fn(&[usize]) -> Result<Posterior, FitError>,
) -> Result<Vec<usize>, FitError> {
    let mut strays = strays;
    for bend in bends {
        let n_strays = bend.iter().filter(|idx| strays.contains(idx)).count();
        if 1 < n_strays {
            strays = joined(&strays, bend);
        }
        let rivals: Vec<usize> =
            strays.iter().copied().filter(|idx| !is_point(&readings[*idx])).collect();
        if 0 < n_strays || rivals.is_empty() {
            continue;
        }
        let others: Vec<usize> =
            strays.iter().copied().filter(|idx| !rivals.contains(idx)).collect();
        let instead = joined(&others, bend);
        if !goes_together(&without(&instead)?) {
            continue;
        }
        let neither = joined(&strays, bend);
        let is_off = |idx: usize| {
            let rest: Vec<usize> = neither.iter().copied().filter(|other| *other != idx).collect();
            let miss = without(&rest)?.residuals().get(idx).map_or(0.0, |one| one.miss.abs());
            Ok::<bool, FitError>(OFF < miss)
        };
        strays = match rivals[..] {
            [one] => match (is_off(one)?, is_off(furthest_down(readings, bend))?) {
                (true, false) => strays,
                (false, true) => instead,
                _ => neither,
            },
            _ => instead,
        };
    }
    Ok(strays)
}

fn joined(one: &[usize], other: &[usize]) -> Vec<usize> {
    let mut all = [one, other].concat();
    all.sort_unstable();
    all.dedup();
    all
}

fn is_point(reading: &Reading) -> bool {
    matches!(reading.measured, Measured::BoardPoint { .. })
}

/// The point that tells most of how far the blank bends.
fn furthest_down(readings: &[Reading], bend: &[usize]) -> usize {
    let down = |idx: &usize| match readings[*idx].measured {
        Measured::BoardPoint { y, .. } => -y.m(),
        _ => f64::NEG_INFINITY,
    };
    bend.iter().copied().max_by(|a, b| down(a).total_cmp(&down(b))).unwrap_or_default()
}
