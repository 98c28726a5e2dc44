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

/// What a lesson tells of the model, the piece's own ways integrated out: readings of standard deviation one, apart from each other.
///
/// Near the mean its likelihood is exp(−½ pᵀ Λ p + ηᵀ p − ½ s − ln d), with Λ the sum of l lᵀ over all lines l, η that of l told,
/// s that of told².
pub(crate) struct Marginal {
    /// Line by line, by all parameters of the lesson.
    pub(crate) lines: Vec<f64>,
    pub(crate) told: Vec<f64>,
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

    /// Gives it as bytes, exactly, so that it can be kept; [`Lesson::from_bytes`] reads them.
    pub fn to_bytes(&self) -> Vec<u8> {
        let (boards, clamps) = self.boards_and_clamps();
        let mut bytes = Vec::with_capacity(16 + 4 * (self.rows.len() + self.told.len()));
        for count in [boards.len(), clamps.len(), self.told.len()] {
            bytes.extend((count as u64).to_le_bytes());
        }
        boards.iter().chain(clamps).for_each(|key| bytes.extend(key.to_le_bytes()));
        let numbers = self.rows.iter().chain(&self.told).chain([&self.length_variance]);
        numbers.for_each(|number| bytes.extend(number.to_le_bytes()));
        bytes
    }

    /// Reads what [`Lesson::to_bytes`] gave; `None` where it is something else.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let word = |bytes: &[u8]| bytes.try_into().ok().map(u64::from_le_bytes);
        let mut heads = bytes.chunks_exact(8).map(word);
        let mut count = || heads.next()??.try_into().ok();
        let (n_boards, n_clamps, n_told): (usize, usize, usize) = (count()?, count()?, count()?);
        let n_keys = n_boards.checked_add(n_clamps)?;
        let rest = bytes.get(8usize.checked_mul(n_keys.checked_add(3)?)?..)?;
        let keys: Vec<u64> = heads.take(n_keys).collect::<Option<_>>()?;
        let setups = Setups::of_keys(&keys[..n_boards], &keys[n_boards..])?;
        let n_rows = setups.n().checked_mul(n_told)?;
        if Some(rest.len()) != n_rows.checked_add(n_told)?.checked_add(1)?.checked_mul(4) {
            return None;
        }
        let single = |four: &[u8]| four.try_into().ok().map(f32::from_le_bytes);
        let mut numbers = rest.chunks_exact(4).map(single);
        Some(Self {
            setups,
            rows: numbers.by_ref().take(n_rows).collect::<Option<_>>()?,
            told: numbers.by_ref().take(n_told).collect::<Option<_>>()?,
            length_variance: numbers.next()??,
        })
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
        let mut spread = vec![0.0; n];
        spread[..BLANK].copy_from_slice(variances);
        spread[LENGTH] = f64::from(self.length_variance);
        let mut lines: Vec<f64> = self.rows.iter().map(|entry| f64::from(*entry)).collect();
        let mut told: Vec<f64> = self.told.iter().map(|told| f64::from(*told)).collect();
        let row = |i: usize| &lines[i * n..(i + 1) * n];
        let mut noise = Matrix::unit(k);
        for i in 0..k {
            let along: Vec<f64> =
                row(i).iter().zip(&spread).map(|(a, variance)| a * variance).collect();
            // The lower triangle is all that is asked for.
            (0..=i).for_each(|j| noise[(i, j)] += dot(&along, row(j)));
        }
        let lower = noise.lower_of_one_and_more();
        // L⁻¹ J and L⁻¹ y, row by row.
        for i in 0..k {
            let (before, line) = lines.split_at_mut(i * n);
            let line = &mut line[..n];
            for (j, before) in before.chunks_exact(n).enumerate() {
                let part = lower[(i, j)];
                line.iter_mut().zip(before).for_each(|(entry, before)| *entry -= part * before);
                told[i] -= part * told[j];
            }
            let scale = 1.0 / lower[(i, i)];
            line.iter_mut().for_each(|entry| *entry *= scale);
            told[i] *= scale;
        }
        lines.chunks_exact_mut(n).for_each(|line| line[LENGTH] = 0.0);
        Marginal { lines, told, log_det: (0..k).map(|i| lower[(i, i)].ln()).sum() }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lesson_comes_back_from_its_bytes() {
        let setups = Setups::of_keys(&[3, 7], &[9]).unwrap();
        let n = setups.n();
        let numbers = |n: usize| (0..).take(n).map(|i| 0.37_f32.powi(i % 40) - 0.1);
        let lesson = Lesson {
            setups,
            rows: numbers(4 * n).collect(),
            told: numbers(4).collect(),
            length_variance: 1e-7,
        };
        let bytes = lesson.to_bytes();
        assert_eq!(Lesson::from_bytes(&bytes), Some(lesson));
        for cut in 0..bytes.len() {
            assert_eq!(Lesson::from_bytes(&bytes[..cut]), None);
        }
        for place in 0..24 {
            let mut other = bytes.clone();
            other[place] ^= 0x81;
            assert_eq!(Lesson::from_bytes(&other), None, "another count at {place}");
        }
        let none = Lesson {
            setups: Setups::default(),
            rows: Box::default(),
            told: Box::default(),
            length_variance: 0.0,
        };
        assert_eq!(Lesson::from_bytes(&none.to_bytes()), Some(none));
    }
}
