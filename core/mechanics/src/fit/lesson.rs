//! What one piece's readings tell of its model, in a form small enough to keep by the thousand.
//!
//! How lessons add up is in `pool`.

use super::matrix::{Matrix, dot};
use super::parameters::{BLANK, LENGTH};
use super::posterior::Posterior;
use super::setup::Setups;

/// What one piece's readings tell of its model; mostly under a kilobyte.
///
/// Near what is believed of the piece each reading says: the slopes J of its prediction times the piece's parameters p are y, give or
/// take one. Single precision is enough: it is right to 1e-7 of what was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    pub(crate) setups: Setups,
    /// The slopes, reading by reading.
    rows: Box<[f32]>,
    /// What each reading says.
    told: Box<[f32]>,
    /// How unsure the length of this piece was.
    length_variance: f32,
}

/// What a lesson tells of the model, the piece's own ways integrated out: near the mean its likelihood is
/// exp(−½ pᵀ Λ p + ηᵀ p − ½ s − ln d).
pub(crate) struct Marginal {
    /// Λ.
    pub(crate) information: Matrix,
    /// η.
    pub(crate) vector: Vec<f64>,
    /// s.
    pub(crate) square: f64,
    /// ln d.
    pub(crate) log_det: f64,
}

/// A row that tells less than this, in standard deviations a unit of its parameters, tells nothing.
const NOTHING: f64 = 1e-6;

impl Lesson {
    /// Takes the lesson of a piece.
    pub fn of(piece: &Posterior) -> Self {
        let n = piece.mean.len();
        let mut rows: Vec<&[f64]> = Vec::new();
        let mut told: Vec<f64> = Vec::new();
        for (slopes, told_here) in piece.slopes.iter().zip(&piece.told) {
            if slopes.iter().any(|slope| NOTHING < slope.abs()) {
                rows.push(slopes);
                told.push(*told_here);
            }
        }
        let squeezed;
        if n < rows.len() {
            (squeezed, told) = squeeze(&rows, &told, n);
            rows = squeezed.chunks_exact(n).collect();
        }
        Self {
            setups: piece.prior.setups.clone(),
            rows: rows.into_iter().flatten().map(|slope| single(*slope)).collect(),
            told: told.into_iter().map(single).collect(),
            length_variance: single(piece.prior.covariance[(LENGTH, LENGTH)]),
        }
    }

    /// The boards that something was read on, and the clamps.
    pub fn boards_and_clamps(&self) -> (&[u64], &[u64]) {
        (self.setups.boards(), self.setups.clamps())
    }

    /// What it tells of the model, pieces differing by these variances of the blank's parameters.
    ///
    /// The piece has parameters p = m + d with m those of the model and d of variance S, so that y = J m + (J d + ε) and with
    /// C = I + J S Jᵀ, Λ = Jᵀ C⁻¹ J, η = Jᵀ C⁻¹ y, s = yᵀ C⁻¹ y, d = √det C.
    /// How long a piece is is its own matter: what that leaves unsure goes into C, and nothing of it is taught.
    pub(crate) fn marginal(&self, variances: &[f64; BLANK]) -> Marginal {
        let (n, k) = (self.setups.n(), self.told.len());
        let mut spread = *variances;
        spread[LENGTH] = f64::from(self.length_variance);
        let rows: Vec<f64> = self.rows.iter().map(|entry| f64::from(*entry)).collect();
        let row = |i: usize| &rows[i * n..(i + 1) * n];
        let mut noise = Matrix::unit(k);
        for i in 0..k {
            for j in 0..k {
                let along = row(i).iter().zip(row(j)).zip(&spread);
                noise[(i, j)] += along.map(|((a, b), variance)| a * b * variance).sum::<f64>();
            }
        }
        let lower = noise.cholesky();
        // L⁻¹ J and L⁻¹ y, row by row.
        let mut white: Vec<Vec<f64>> = Vec::with_capacity(k);
        let mut told: Vec<f64> = Vec::with_capacity(k);
        for i in 0..k {
            let mut line = row(i).to_vec();
            let mut value = f64::from(self.told[i]);
            for (j, before) in white.iter().enumerate() {
                let part = lower[(i, j)];
                line.iter_mut().zip(before).for_each(|(entry, before)| *entry -= part * before);
                value -= part * told[j];
            }
            line.iter_mut().for_each(|entry| *entry /= lower[(i, i)]);
            told.push(value / lower[(i, i)]);
            white.push(line);
        }
        let (mut information, mut vector) = (Matrix::zero(n), vec![0.0; n]);
        for (line, value) in white.iter_mut().zip(&told) {
            line[LENGTH] = 0.0;
            information.add_square(line, 1.0);
            vector.iter_mut().zip(&*line).for_each(|(entry, slope)| *entry += slope * value);
        }
        let log_det = (0..k).map(|i| lower[(i, i)].ln()).sum();
        Marginal { information, vector, square: dot(&told, &told), log_det }
    }
}

/// Fewer readings that tell the same of the parameters: the triangle R of JᵀJ = Rᵀ R, and what it says.
fn squeeze(rows: &[&[f64]], told: &[f64], n: usize) -> (Vec<f64>, Vec<f64>) {
    let (mut information, mut vector) = (Matrix::zero(n), vec![0.0; n]);
    for (row, told) in rows.iter().zip(told) {
        information.add_square(row, 1.0);
        vector.iter_mut().zip(*row).for_each(|(entry, slope)| *entry += slope * told);
    }
    let lower = information.cholesky();
    let (mut kept, mut said) = (Vec::new(), Vec::new());
    let mut solved = vec![0.0; n];
    for i in 0..n {
        if 0.0 < lower[(i, i)] {
            solved[i] = (vector[i] - dot(&lower.row(i)[..i], &solved[..i])) / lower[(i, i)];
            kept.extend((0..n).map(|j| lower[(j, i)]));
            said.push(solved[i]);
        }
    }
    (kept, said)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a lesson is kept in single precision on purpose"
)]
fn single(value: f64) -> f32 {
    value as f32
}
