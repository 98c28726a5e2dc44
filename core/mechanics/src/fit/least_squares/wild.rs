//! Which observations are wildly off: a slip of ten grams, a swapped inch.
//!
//! It names them and changes no fit; whoever fits again without them decides.

use super::Minimum;

/// An observation this likely to be wild can be left out; below, nobody can say which one is wrong, and all count.
pub(crate) const SURE: f64 = 0.9;

/// How much less a wild observation mostly knows: it is off by so many of its standard deviations besides.
pub(crate) const WILD: f64 = 10.0;
/// How often an observation is wild, before any is looked at: one in thirty-three. Common practice, no source.
const OFTEN: f64 = 0.03;
/// Misses beyond this are all alike, and their squares stay numbers.
const FURTHEST: f64 = 1e6;

/// How likely each observation is to be wild, at most two of them being so.
///
/// Every way for none, one or two to be wild is weighed by how probable it makes what was observed (Bayes' rule over mixtures of a
/// narrow and a wide Gaussian: Box & Tiao, *A Bayesian approach to some outlier problems*, 1968, from memory).
/// With the misses m, rows J and covariance C of the fit, P = 1 − J C Jᵀ, and k wild ones w whose variances are larger by a diagonal V:
///
/// ln odds = k ln (often / (1 − often)) − ½ ln |1 + V½ P_ww V½| + ½ m_wᵀ V½ (1 + V½ P_ww V½)⁻¹ V½ m_w
///
/// `widths` gives for each by how many of its standard deviations it is off when it is wild, V½.
///
/// which is exact where predictions are linear in the unknowns. Two observations of one thing that contradict each other are wild by
/// halves as long as what was believed before does not decide, so that neither is chosen.
///
/// None is likely to be wild where the fit left an unknown open.
pub(crate) fn wild(minimum: &Minimum, widths: &[f64]) -> Vec<f64> {
    let n_observations = minimum.misses.len();
    let Some(freedom) = minimum.freedom() else { return vec![0.0; n_observations] };
    // Misses in the measure of their widths.
    let miss: Vec<f64> = (minimum.misses.iter().zip(widths))
        .map(|(miss, width)| width * miss.clamp(-FURTHEST, FURTHEST))
        .collect();
    let prior = f64::ln(OFTEN / (1.0 - OFTEN));
    // The ln odds of each way, against that none is wild.
    let mut ways = Vec::with_capacity(n_observations * (n_observations + 1) / 2);
    for i in 0..n_observations {
        let a = 1.0 + widths[i] * widths[i] * freedom[(i, i)];
        ways.push((i, i, prior + 0.5 * (miss[i] * miss[i] / a - a.ln())));
        for j in 0..i {
            let b = 1.0 + widths[j] * widths[j] * freedom[(j, j)];
            let c = widths[i] * widths[j] * freedom[(i, j)];
            // A determinant of one and something that is not negative, whatever rounding says.
            let determinant = (a * b - c * c).max(1.0);
            let square = miss[i] * (b * miss[i] - 2.0 * c * miss[j]) + a * miss[j] * miss[j];
            ways.push((i, j, 2.0 * prior + 0.5 * (square / determinant - determinant.ln())));
        }
    }
    let most = ways.iter().fold(0.0, |most: f64, (_, _, odds)| most.max(*odds));
    let mut total = (-most).exp();
    let mut wild = vec![0.0; n_observations];
    for (i, j, odds) in ways {
        let odds = (odds - most).exp();
        total += odds;
        wild[i] += odds;
        if i != j {
            wild[j] += odds;
        }
    }
    wild.iter_mut().for_each(|odds| *odds /= total);
    wild
}

#[cfg(test)]
mod tests {
    use super::super::super::matrix::{Matrix, dot};
    use super::super::{Before, Limits, Misses, minimise};
    use super::*;

    /// Observations that are linear in the unknowns: each a row and what was read.
    struct Linear(Vec<(Vec<f64>, f64)>);

    impl Misses for Linear {
        fn at(&mut self, x: &[f64], misses: &mut Vec<f64>, rows: &mut Vec<f64>) -> bool {
            for (row, read) in &self.0 {
                misses.push(read - dot(row, x));
                rows.extend(row);
            }
            true
        }
    }

    fn wild_of(observations: &[(Vec<f64>, f64)]) -> Vec<f64> {
        let mut problem = Linear(observations.to_vec());
        let start = vec![0.0; observations[0].0.len()];
        let limits = Limits { to_go: 1e-6, n_predictions: 10 };
        let widths = vec![WILD; observations.len()];
        wild(&minimise(&mut problem, &start, Before::Unit, limits).unwrap(), &widths)
    }

    /// ln of how probable what was read is, with these observations wild, straight from its covariance J Jᵀ + V.
    fn ln_probability(observations: &[(Vec<f64>, f64)], wild: &[usize]) -> f64 {
        let mut covariance = Matrix::zero(observations.len());
        for (i, (row, _)) in observations.iter().enumerate() {
            for (j, (other, _)) in observations.iter().enumerate() {
                covariance[(i, j)] = dot(row, other);
            }
            covariance[(i, i)] += 1.0;
        }
        for i in wild {
            covariance[(*i, *i)] += WILD * WILD;
        }
        let read: Vec<f64> = observations.iter().map(|(_, read)| *read).collect();
        let root = covariance.cholesky();
        let ln_root: f64 = (0..root.n()).map(|i| root[(i, i)].ln()).sum();
        let n_wild = wild.len() as f64;
        let n_sound = (observations.len() - wild.len()) as f64;
        n_wild * OFTEN.ln() + n_sound * (1.0 - OFTEN).ln()
            - ln_root
            - 0.5 * covariance.inverse().square(&read)
    }

    #[test]
    fn odds_agree_with_the_probability_of_what_was_read() {
        let observations = vec![
            (vec![3.0, 0.5], 3.3),
            (vec![2.0, -1.0], -4.0),
            (vec![0.4, 2.0], 1.0),
            (vec![3.0, 0.6], 4.0),
            (vec![1.0, 1.0], 0.5),
        ];
        let n = observations.len();
        let mut ways = vec![vec![]];
        ways.extend((0..n).map(|i| vec![i]));
        ways.extend((0..n).flat_map(|i| (0..i).map(move |j| vec![i, j])));
        let odds: Vec<f64> =
            ways.iter().map(|way| ln_probability(&observations, way).exp()).collect();
        let total: f64 = odds.iter().sum();
        for (i, found) in wild_of(&observations).into_iter().enumerate() {
            let with_it = ways.iter().zip(&odds).filter(|(way, _)| way.contains(&i));
            let expected = with_it.map(|(_, odds)| odds).sum::<f64>() / total;
            assert!((found - expected).abs() < 1e-12, "{i}: {found}, expected {expected}");
        }
    }

    #[test]
    fn neither_of_two_that_contradict_is_chosen() {
        // 5 and −5 standard deviations from what was believed, of one thing: as likely the one as the other.
        let [one, other] = wild_of(&[(vec![6.0], 5.0), (vec![6.0], -5.0)])[..] else { panic!() };
        assert!((one - other).abs() < 1e-12 && 0.4 < one && one < SURE);
        // What was believed before leans to the second by 1.6 of its standard deviations, which is not enough.
        let leaning = wild_of(&[(vec![6.0], 10.0), (vec![6.0], 0.0)]);
        assert!(leaning[1] < leaning[0] && leaning[0] < SURE, "{leaning:?}");
        // A third reading that agrees with one of them decides.
        let decided = wild_of(&[(vec![6.0], 10.0), (vec![6.0], 0.0), (vec![6.0], 0.5)]);
        assert!(SURE < decided[0] && decided[1] < 0.1 && decided[2] < 0.1, "{decided:?}");
    }

    #[test]
    fn two_slips_among_good_readings_are_named_and_no_other() {
        let mut observations: Vec<(Vec<f64>, f64)> = (0..7)
            .map(|i| (vec![5.0, f64::from(i) - 3.0], 4.0 + 0.8 * f64::from(i - 3).sin()))
            .collect();
        assert!(wild_of(&observations).into_iter().all(|odds| odds < 0.1));
        observations[1].1 += 12.0;
        observations[5].1 -= 25.0;
        for (i, odds) in wild_of(&observations).into_iter().enumerate() {
            assert!(if [1, 5].contains(&i) { SURE < odds } else { odds < 0.1 }, "{i}: {odds}");
        }
    }

    #[test]
    fn numbers_without_measure_give_no_nonsense() {
        for read in [0.0, 1e9, 1e150] {
            let found = wild_of(&[(vec![1.0], read), (vec![1e9], -read), (vec![0.0], read)]);
            assert!(found.iter().all(|odds| (0.0..=1.0).contains(odds)), "{read}: {found:?}");
        }
    }
}
