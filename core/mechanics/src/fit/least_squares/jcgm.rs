//! The worked examples of JCGM 100:2008 (*Guide to the expression of uncertainty in measurement*), annex H: what a fit leaves unsure,
//! carried through first derivatives.
//!
//! Inputs and results of H.1 and the data of H.3 were seen in published transcriptions of the guide; the results of H.3, and all of H.2,
//! are from memory, which computing confirms: from the observations follow all the digits that are said to be printed.
//! Two of these are cut off rather than rounded, as is noted there.

use super::super::matrix::{Matrix, dot};
use super::{Before, Limits, Minimum, Misses, minimise};

/// What the guide prints, to as many decimals as it prints.
#[track_caller]
fn check(name: &str, found: f64, printed: f64, decimals: i32) {
    let half_a_digit = 0.5 * 0.1f64.powi(decimals) * (1.0 + 1e-9);
    assert!((found - printed).abs() <= half_a_digit, "{name}: {found}, printed {printed}");
}

/// The same where the guide, as remembered, cuts off the digits that it does not print.
#[track_caller]
fn check_cut_off(name: &str, found: f64, printed: f64, decimals: i32) {
    let cut_off = (found * 10f64.powi(decimals)).trunc() / 10f64.powi(decimals);
    assert!((cut_off - printed).abs() < 1e-9, "{name}: {found}, printed {printed}");
}

/// The covariance of several numbers with these derivatives, J Σ Jᵀ.
fn carried(covariance: &Matrix, slopes: &[Vec<f64>]) -> Matrix {
    let mut out = Matrix::zero(slopes.len());
    for (i, one) in slopes.iter().enumerate() {
        let along = covariance.apply(one);
        for (j, other) in slopes.iter().enumerate() {
            out[(i, j)] = dot(&along, other);
        }
    }
    out
}

fn correlation(covariance: &Matrix, i: usize, j: usize) -> f64 {
    covariance[(i, j)] / (covariance[(i, i)] * covariance[(j, j)]).sqrt()
}

/// H.1, end-gauge calibration: l = l_S + d − l_S (δα θ + α_S δθ), combined standard uncertainty 32 nm.
#[test]
fn end_gauge() {
    let (standard, difference) = (50_000_623.0, 215.0);
    let (expansion, warmth) = (11.5e-6, -0.1);
    // Lengths in nm; then δα per °C and δθ in °C, of which both estimates are zero.
    let sds = [25.0, 9.7, 0.58e-6, 0.029];
    let by = [1.0, 1.0, -standard * warmth, -standard * expansion];
    let mut covariance = Matrix::zero(4);
    for (i, sd) in sds.into_iter().enumerate() {
        covariance[(i, i)] = sd * sd;
    }
    check("l in mm", (standard + difference) * 1e-6, 50.000_838, 6);
    check("u(l) in nm", covariance.square(&by).sqrt(), 32.0, 0);
    // What each contributes, from memory: 25, 9.7, 2.9 and 16.6 nm.
    check("of d", (by[1] * sds[1]).abs(), 9.7, 1);
    check("of δα", (by[2] * sds[2]).abs(), 2.9, 1);
    check_cut_off("of δθ", (by[3] * sds[3]).abs(), 16.6, 1);
}

/// V in V, I in mA and φ in rad, read together five times (table H.2).
const OBSERVED: [[f64; 3]; 5] = [
    [5.007, 19.663, 1.0456],
    [4.994, 19.639, 1.0438],
    [5.005, 19.640, 1.0468],
    [4.990, 19.685, 1.0428],
    [4.999, 19.678, 1.0433],
];

/// H.2, simultaneous resistance and reactance: R = V/I cos φ, X = V/I sin φ, Z = V/I, with the correlations of what was read.
#[test]
fn resistance_and_reactance() {
    let n = OBSERVED.len() as f64;
    let mean: Vec<f64> =
        (0..3).map(|i| OBSERVED.iter().map(|row| row[i]).sum::<f64>() / n).collect();
    let mut covariance = Matrix::zero(3);
    for row in OBSERVED {
        let off: Vec<f64> = row.iter().zip(&mean).map(|(read, mean)| read - mean).collect();
        covariance.add_square(&off, 1.0 / (n * (n - 1.0)));
    }
    for (i, (printed, decimals, sd, sd_decimals)) in
        [(4.9990, 4, 0.0032, 4), (19.6610, 4, 0.0095, 4), (1.044_46, 5, 0.000_75, 5)]
            .into_iter()
            .enumerate()
    {
        check("mean", mean[i], printed, decimals);
        check("its uncertainty", covariance[(i, i)].sqrt(), sd, sd_decimals);
    }
    check("r(V, I)", correlation(&covariance, 0, 1), -0.36, 2);
    check("r(V, φ)", correlation(&covariance, 0, 2), 0.86, 2);
    check("r(I, φ)", correlation(&covariance, 1, 2), -0.65, 2);

    let (volt, ampere, phase) = (mean[0], 1e-3 * mean[1], mean[2]);
    let (impedance, (sin, cos)) = (volt / ampere, phase.sin_cos());
    let by = |value: f64, by_phase: f64| vec![value / volt, -1e-3 * value / ampere, by_phase];
    let (resistance, reactance) = (impedance * cos, impedance * sin);
    let slopes = [by(resistance, -reactance), by(reactance, resistance), by(impedance, 0.0)];
    let carried = carried(&covariance, &slopes);
    check("R", resistance, 127.732, 3);
    check("X", reactance, 219.847, 3);
    check("Z", impedance, 254.260, 3);
    check("u(R)", carried[(0, 0)].sqrt(), 0.071, 3);
    check_cut_off("u(X)", carried[(1, 1)].sqrt(), 0.295, 3);
    check("u(Z)", carried[(2, 2)].sqrt(), 0.236, 3);
    for (i, slopes) in slopes.iter().enumerate() {
        assert!((covariance.square(slopes) - carried[(i, i)]).abs() < 1e-12);
    }
    check("r(R, X)", correlation(&carried, 0, 1), -0.588, 3);
    check("r(R, Z)", correlation(&carried, 0, 2), -0.485, 3);
    check("r(X, Z)", correlation(&carried, 1, 2), 0.993, 3);
}

/// t in °C and the correction b read there in °C (table H.6).
const THERMOMETER: [(f64, f64); 11] = [
    (21.521, -0.171),
    (22.012, -0.169),
    (22.512, -0.166),
    (23.003, -0.159),
    (23.507, -0.164),
    (23.999, -0.165),
    (24.513, -0.156),
    (25.002, -0.157),
    (25.503, -0.159),
    (26.010, -0.161),
    (26.511, -0.160),
];

/// b = y₁ + y₂ (t − 20 °C).
struct Line;

impl Misses for Line {
    fn at(&mut self, x: &[f64], misses: &mut Vec<f64>, rows: &mut Vec<f64>) -> bool {
        for (t, b) in THERMOMETER {
            let row = [1.0, t - 20.0];
            misses.push(b - dot(&row, x));
            rows.extend(row);
        }
        true
    }
}

/// H.3, calibration of a thermometer: a line through eleven corrections, and the correction that it foretells at 30 °C.
#[test]
fn thermometer() {
    let limits = Limits { to_go: 1e-8, n_predictions: 10 };
    let found = minimise(&mut Line, &[0.0, 0.0], Before::Nothing, limits).unwrap();
    let covariance = found.covariance();
    let Minimum { x, cost, settled, .. } = found;
    assert!(settled);
    let variance = 2.0 * cost / (THERMOMETER.len() - 2) as f64;
    let covariance = covariance.unwrap();
    check("s", variance.sqrt(), 0.0035, 4);
    check("y₁", x[0], -0.1712, 4);
    check("y₂", x[1], 0.002_18, 5);
    check("s(y₁)", (variance * covariance[(0, 0)]).sqrt(), 0.0029, 4);
    check("s(y₂)", (variance * covariance[(1, 1)]).sqrt(), 0.000_67, 5);
    check("r(y₁, y₂)", correlation(&covariance, 0, 1), -0.930, 3);
    let at_30 = [1.0, 10.0];
    check("b(30 °C)", dot(&at_30, &x), -0.1494, 4);
    check("u(b(30 °C))", (variance * covariance.square(&at_30)).sqrt(), 0.0041, 4);
}
