//! Small problems whose answer is known in closed form, and odd ones that must still come to an end.

use super::super::matrix::Matrix;
use super::triangle::Triangle;
use super::{Before, Limits, Minimum, Misses, minimise};

const LIMITS: Limits = Limits { to_go: 1e-6, n_predictions: 60 };

/// A problem given by what it predicts: each observation's read value, prediction and slopes, or nothing where it has none.
struct Of<F>(F);

impl<F: Fn(&[f64]) -> Option<Vec<(f64, Vec<f64>)>>> Misses for Of<F> {
    fn at(&mut self, x: &[f64], misses: &mut Vec<f64>, rows: &mut Vec<f64>) -> bool {
        let Some(observations) = (self.0)(x) else { return false };
        for (miss, row) in observations {
            misses.push(miss);
            rows.extend(row);
        }
        true
    }
}

/// Observations that are linear in x: each a row and what was read.
fn linear(observations: &[(Vec<f64>, f64)]) -> impl Misses {
    Of(|x: &[f64]| {
        let miss = |(row, read): &(Vec<f64>, f64)| {
            (read - row.iter().zip(x).map(|(a, x)| a * x).sum::<f64>(), row.clone())
        };
        Some(observations.iter().map(miss).collect())
    })
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found}, expected {expected}");
}

#[test]
fn a_linear_problem_takes_one_step() {
    // y = 2 + 3 t without scatter, and a prior that pulls to zero: both are met exactly by one solution.
    let line: Vec<_> = [0.0, 1.0, 2.0, 5.0].map(|t| (vec![1.0, t], 2.0 + 3.0 * t)).to_vec();
    let found = minimise(&mut linear(&line), &[0.0, 0.0], Before::Nothing, LIMITS).unwrap();
    near(found.x[0], 2.0, 1e-13);
    near(found.x[1], 3.0, 1e-13);

    let found = minimise(&mut linear(&line), &[0.0, 0.0], Before::Unit, LIMITS).unwrap();
    assert!(found.settled && found.n_predictions == 2);
    let mut normal = Matrix::unit(2);
    let mut side = [0.0; 2];
    for (row, read) in &line {
        normal.add_square(row, 1.0);
        side.iter_mut().zip(row).for_each(|(side, slope)| *side += slope * read);
    }
    let inverse = normal.inverse();
    for (x, expected) in found.x.iter().zip(inverse.apply(&side)) {
        near(*x, expected, 1e-13);
    }
    for (entry, expected) in found.covariance().unwrap().entries().iter().zip(inverse.entries()) {
        near(*entry, *expected, 1e-13);
    }
}

#[test]
fn scatter_gives_the_least_squares_line() {
    // Through (0, 1), (1, 3), (2, 2): by hand, ȳ = 2, slope ½, and misses −½, 1, −½.
    let points: Vec<_> =
        [(0.0, 1.0), (1.0, 3.0), (2.0, 2.0)].map(|(t, y)| (vec![1.0, t], y)).to_vec();
    let found = minimise(&mut linear(&points), &[9.0, -9.0], Before::Nothing, LIMITS).unwrap();
    assert!(found.settled && found.n_predictions == 2);
    near(found.x[0], 1.5, 1e-13);
    near(found.x[1], 0.5, 1e-13);
    near(found.cost, 0.75, 1e-13);
    for (miss, expected) in found.misses.iter().zip([-0.5, 1.0, -0.5]) {
        near(*miss, expected, 1e-13);
    }
    assert_eq!(found.rows, [1.0, 0.0, 1.0, 1.0, 1.0, 2.0]);
    // (JᵀJ)⁻¹ of the rows (1, 0), (1, 1), (1, 2).
    let covariance = found.covariance().unwrap();
    for (entry, expected) in covariance.entries().iter().zip([5.0 / 6.0, -0.5, -0.5, 0.5]) {
        near(*entry, expected, 1e-13);
    }
}

#[test]
fn one_unknown_meets_its_prior_half_way() {
    // Read 1 ± 1 after 0 ± 1: the mean, and half of the variance.
    let found = minimise(&mut linear(&[(vec![1.0], 1.0)]), &[0.0], Before::Unit, LIMITS).unwrap();
    near(found.x[0], 0.5, 1e-15);
    near(found.covariance().unwrap()[(0, 0)], 0.5, 1e-15);
    near(found.cost, 0.25, 1e-15);
}

#[test]
fn without_observations_the_prior_stands() {
    let found = minimise(&mut linear(&[]), &[0.0, 0.0, 0.0], Before::Unit, LIMITS).unwrap();
    assert!(found.settled && found.n_predictions == 1);
    assert_eq!(found.x, [0.0; 3]);
    assert_eq!(found.covariance(), Some(Matrix::unit(3)));

    let elsewhere = minimise(&mut linear(&[]), &[4.0, -2.0, 0.5], Before::Unit, LIMITS).unwrap();
    assert!(elsewhere.x.iter().all(|x| x.abs() < 1e-15));

    let nothing = minimise(&mut linear(&[]), &[4.0], Before::Nothing, LIMITS).unwrap();
    assert_eq!((nothing.x.clone(), nothing.covariance()), (vec![4.0], None));
    assert!(minimise(&mut linear(&[]), &[], Before::Unit, LIMITS).unwrap().settled);
}

#[test]
fn observations_that_contradict_are_met_half_way() {
    // 7 and −5 of one unknown, both ± 0.1: their mean, but for the prior's share, and misses of ± 60.
    let both = [(vec![10.0, 0.0], 70.0), (vec![10.0, 0.0], -50.0)];
    let found = minimise(&mut linear(&both), &[0.0, 0.0], Before::Unit, LIMITS).unwrap();
    assert!(found.settled);
    near(found.x[0], 200.0 / 201.0, 1e-13);
    near(found.misses[0] + found.misses[1], 20.0 / 201.0, 1e-12);
    near(found.x[1], 0.0, 1e-15);
}

#[test]
fn a_reading_as_exact_as_numbers_allow_is_met_and_spoils_no_other() {
    // x₁ + x₂ = 3 to 1e-12 of a prior's standard deviation, and x₂ read as 1 ± 1: by hand on the line x₁ = 3 − x₂,
    // ½ (3 − x₂)² + ½ x₂² + ½ (1 − x₂)² is least at x₂ = 4/3; what stays unsure is the line's direction, with variance 1/3.
    let sharp = 1e12;
    for order in [[0, 1], [1, 0]] {
        let rows = [(vec![sharp, sharp], 3.0 * sharp), (vec![0.0, 1.0], 1.0)];
        let rows = order.map(|i| rows[i].clone());
        let found = minimise(&mut linear(&rows), &[0.0, 0.0], Before::Unit, LIMITS).unwrap();
        near(found.x[0] + found.x[1], 3.0, 1e-14);
        near(found.x[1], 4.0 / 3.0, 1e-12);
        let covariance = found.covariance().unwrap();
        for (entry, expected) in covariance.entries().iter().zip([1.0, -1.0, -1.0, 1.0]) {
            near(*entry, expected / 3.0, 1e-12);
        }
    }
}

#[test]
fn vague_rows_keep_their_digits_beside_sharp_ones() {
    // Met by (1, 1, 1) without a miss; reflected in the order in which they stand, the first row's digits are lost in the second's
    // (Powell & Reid, *On applying Householder transformations to linear least squares problems*, 1969, from memory).
    let sharp = 1e12;
    let rows = [
        (vec![0.0, 2.0, 1.0], 3.0),
        (vec![sharp, sharp, 0.0], 2.0 * sharp),
        (vec![sharp, 0.0, sharp], 2.0 * sharp),
        (vec![0.0, 1.0, 1.0], 2.0),
    ];
    let equations: Vec<Vec<f64>> =
        rows.iter().map(|(row, read)| [&row[..], &[*read]].concat()).collect();
    let solved = Triangle::of(3, equations.iter().map(Vec::as_slice)).solve();
    for x in solved {
        near(x, 1.0, 1e-12);
    }
}

#[test]
fn a_start_without_slope_has_settled() {
    // cos is flat at 0: with 1 − cos x read as 0 there is nothing to gain.
    let mut flat = Of(|x: &[f64]| Some(vec![(-(1.0 - x[0].cos()), vec![x[0].sin()])]));
    let found = minimise(&mut flat, &[0.0], Before::Unit, LIMITS).unwrap();
    assert!(found.settled && found.n_predictions == 1);
    assert_eq!((found.x[0], found.cost), (0.0, 0.0));
    // Without a prior the flat place tells nothing of x.
    let found = minimise(&mut flat, &[0.0], Before::Nothing, LIMITS).unwrap();
    assert_eq!(found.covariance(), None);
}

#[test]
fn no_step_goes_where_nothing_can_be_predicted() {
    // ln(1 − x) is read as −4 and does not exist from 1 on, where the first steps of both kinds lead.
    let mut log = Of(|x: &[f64]| {
        let left = 1.0 - x[0];
        (0.0 < left).then(|| vec![(-4.0 - left.ln(), vec![-1.0 / left])])
    });
    let found = minimise(&mut log, &[0.0], Before::Nothing, LIMITS).unwrap();
    assert!(found.settled);
    near(found.x[0], 1.0 - (-4.0f64).exp(), 1e-7);
    let found = minimise(&mut log, &[0.0], Before::Unit, LIMITS).unwrap();
    // There x is what the miss, through its slope, pulls: x = miss · row.
    assert!(found.settled);
    near(found.misses[0] * found.rows[0], found.x[0], 1e-5);

    assert!(minimise(&mut log, &[2.0], Before::Unit, LIMITS).is_none());
}

#[test]
fn an_unknown_that_nothing_tells_of_stays_where_it_was() {
    // Two observations of x₁ + x₂ can't tell the two apart, and none has to do with x₃.
    let rows = [(vec![1.0, 1.0, 0.0], 2.0), (vec![1.0, 1.0, 0.0], 4.0)];
    let found = minimise(&mut linear(&rows), &[1.0, 0.0, 7.0], Before::Nothing, LIMITS).unwrap();
    near(found.x[0] + found.x[1], 3.0, 1e-14);
    assert_eq!((found.x[2], found.covariance()), (7.0, None));
}

#[test]
fn units_do_not_matter() {
    // The line of above with its unknowns in units 1e9 apart.
    let points: Vec<_> =
        [(0.0, 1.0), (1.0, 3.0), (2.0, 2.0)].map(|(t, y)| (vec![1e-6, 1e3 * t], y)).to_vec();
    let found = minimise(&mut linear(&points), &[0.0, 0.0], Before::Nothing, LIMITS).unwrap();
    near(found.x[0] * 1e-6, 1.5, 1e-13);
    near(found.x[1] * 1e3, 0.5, 1e-13);
}

#[test]
fn a_bent_valley_is_followed_to_its_end() {
    // Rosenbrock's: (10 (y − x²), 1 − x) is zero at (1, 1)
    // (Moré, Garbow & Hillstrom, *Testing unconstrained optimization software*, 1981, problem 1, from memory).
    let mut valley = Of(|x: &[f64]| {
        let bend = 10.0 * (x[1] - x[0] * x[0]);
        Some(vec![(-bend, vec![-20.0 * x[0], 10.0]), (1.0 - x[0], vec![1.0, 0.0])])
    });
    let found = minimise(&mut valley, &[-1.2, 1.0], Before::Nothing, LIMITS).unwrap();
    assert!(found.settled, "{found:?}");
    near(found.x[0], 1.0, 1e-9);
    near(found.x[1], 1.0, 1e-9);
}

/// Whatever a problem answers, a fit ends within its limit, where it can predict, and with numbers.
#[track_caller]
fn ends(mut problem: impl Misses, start: &[f64]) -> Vec<Minimum> {
    let mut found = Vec::new();
    for before in [Before::Unit, Before::Nothing] {
        let Some(minimum) = minimise(&mut problem, start, before, LIMITS) else { continue };
        assert!(minimum.n_predictions <= LIMITS.n_predictions);
        let all = minimum.x.iter().chain(&minimum.misses).chain(&minimum.rows);
        assert!(all.chain([&minimum.cost]).all(|number| number.is_finite()), "{minimum:?}");
        if let Some(covariance) = &minimum.covariance() {
            let sound = (0..covariance.n()).all(|i| 0.0 <= covariance[(i, i)]);
            assert!(sound, "{minimum:?}");
        }
        found.push(minimum);
    }
    found
}

#[test]
fn odd_problems_end() {
    // Slopes of the wrong sign: every step is a step up.
    let wrong = ends(Of(|x: &[f64]| Some(vec![(3.0 - x[0], vec![-1.0])])), &[0.0]);
    assert!(wrong.iter().all(|minimum| minimum.x[0].abs() < 1e-6 && !minimum.settled));
    // It ends soon after shorter steps have ceased to matter, not when numbers end.
    assert!(wrong.iter().all(|minimum| minimum.n_predictions < 20), "{wrong:?}");
    // No number at all, and only at the start.
    assert!(ends(Of(|_: &[f64]| Some(vec![(f64::NAN, vec![1.0])])), &[0.0]).is_empty());
    let lonely = |x: &[f64]| Some(vec![(if x[0] == 0.0 { 1.0 } else { f64::NAN }, vec![1.0])]);
    assert!(ends(Of(lonely), &[0.0]).iter().all(|minimum| minimum.x[0] == 0.0 && !minimum.settled));
    // Too large and too small to be squared.
    assert!(ends(Of(|_: &[f64]| Some(vec![(1e200, vec![1.0])])), &[0.0]).is_empty());
    assert!(ends(Of(|_: &[f64]| Some(vec![(1.0, vec![1e200])])), &[0.0]).is_empty());
    assert_eq!(ends(Of(|_: &[f64]| Some(vec![(1.0, vec![1e-200])])), &[0.0]).len(), 2);
    assert_eq!(ends(Of(|_: &[f64]| Some(vec![(1e-200, vec![1e140])])), &[0.0]).len(), 2);
    // A minimum that lies at infinity.
    let mut runs = ends(Of(|x: &[f64]| Some(vec![(-(-x[0]).exp(), vec![-(-x[0]).exp()])])), &[0.0]);
    assert!(0.0 < runs.remove(0).x[0]);
    // Predictions that jump about by more than a step can gain.
    let noise = |x: &[f64]| (1e9 * x[0]).sin() * 1e-3;
    let noisy = ends(Of(|x: &[f64]| Some(vec![(5.0 - x[0] + noise(x), vec![1.0]); 4])), &[0.0]);
    for minimum in noisy {
        near(minimum.x[0], 4.5, 0.6);
    }
    // More unknowns than observations, and none that moves anything.
    ends(linear(&[(vec![1.0, 2.0, 3.0], 5.0)]), &[0.0, 0.0, 0.0]);
    ends(linear(&[(vec![0.0, 0.0], 5.0)]), &[1.0, 1.0]);
}
