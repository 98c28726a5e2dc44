//! The little linear algebra of a fit: small dense vectors and square matrices.
//!
//! A fit has some twenty unknowns, so that nothing here is sparse, blocked or clever.

use std::ops::{Index, IndexMut};

/// A square matrix, row by row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Matrix {
    n: usize,
    entries: Vec<f64>,
}

pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

impl Matrix {
    /// One of `n` rows without an entry that is not zero.
    pub(crate) fn zero(n: usize) -> Self {
        Self { n, entries: vec![0.0; n * n] }
    }

    /// The unit matrix.
    pub(crate) fn unit(n: usize) -> Self {
        let mut unit = Self::zero(n);
        (0..n).for_each(|i| unit[(i, i)] = 1.0);
        unit
    }

    /// How many rows it has.
    pub(crate) fn n(&self) -> usize {
        self.n
    }

    pub(crate) fn row(&self, i: usize) -> &[f64] {
        &self.entries[i * self.n..(i + 1) * self.n]
    }

    pub(crate) fn row_mut(&mut self, i: usize) -> &mut [f64] {
        &mut self.entries[i * self.n..(i + 1) * self.n]
    }

    pub(crate) fn entries(&self) -> &[f64] {
        &self.entries
    }

    /// The matrix times a vector.
    pub(crate) fn apply(&self, vector: &[f64]) -> Vec<f64> {
        (0..self.n).map(|i| dot(self.row(i), vector)).collect()
    }

    /// The transposed matrix times a vector.
    pub(crate) fn apply_transposed(&self, vector: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.n];
        // Much of a triangle is nothing.
        for (i, value) in vector.iter().enumerate().filter(|(_, value)| **value != 0.0) {
            for (out, entry) in out.iter_mut().zip(self.row(i)) {
                *out += entry * value;
            }
        }
        out
    }

    /// The square of a vector under this matrix, vᵀ M v.
    pub(crate) fn square(&self, vector: &[f64]) -> f64 {
        (0..self.n).map(|i| vector[i] * dot(self.row(i), vector)).sum()
    }

    /// Adds `scale` · `vector` `vector`ᵀ.
    pub(crate) fn add_square(&mut self, vector: &[f64], scale: f64) {
        for (i, a) in vector.iter().enumerate() {
            for (entry, b) in self.row_mut(i).iter_mut().zip(vector) {
                *entry += scale * a * b;
            }
        }
    }

    pub(crate) fn times(&self, other: &Self) -> Self {
        let mut out = Self::zero(self.n);
        for i in 0..self.n {
            let row = other.apply_transposed(self.row(i));
            out.row_mut(i).copy_from_slice(&row);
        }
        out
    }

    pub(crate) fn transposed(&self) -> Self {
        let mut out = Self::zero(self.n);
        for i in 0..self.n {
            for j in 0..self.n {
                out[(j, i)] = self[(i, j)];
            }
        }
        out
    }

    /// The rows and columns with these numbers, in this order.
    pub(crate) fn picked(&self, which: &[usize]) -> Self {
        let mut out = Self::zero(which.len());
        for (i, from) in which.iter().enumerate() {
            for (j, to) in which.iter().enumerate() {
                out[(i, j)] = self[(*from, *to)];
            }
        }
        out
    }

    /// The lower triangle L of a positive semidefinite matrix, L Lᵀ = matrix; columns of what has no spread are zero.
    pub(crate) fn cholesky(&self) -> Self {
        // What is left of a variance by rounding alone counts as none.
        self.lower(|square, whole| if square <= 1e-13 * whole { 0.0 } else { square })
    }

    /// L with L Lᵀ = matrix, each pivot passed through `pivot` with the diagonal that it came from.
    fn lower(&self, pivot: impl Fn(f64, f64) -> f64) -> Self {
        let mut lower = Self::zero(self.n);
        for j in 0..self.n {
            let above: f64 = lower.row(j)[..j].iter().map(|entry| entry * entry).sum();
            let square = pivot(self[(j, j)] - above, self[(j, j)]);
            if square == 0.0 {
                continue;
            }
            lower[(j, j)] = square.sqrt();
            for i in j + 1..self.n {
                let above = dot(&lower.row(i)[..j], &lower.row(j)[..j]);
                lower[(i, j)] = (self[(i, j)] - above) / lower[(j, j)];
            }
        }
        lower
    }

    /// The lower triangle of the unit matrix plus a positive semidefinite one; the matrix is that sum.
    pub(crate) fn lower_of_one_and_more(&self) -> Self {
        self.lower(|square, _| square.max(1.0))
    }

    /// The inverse of the unit matrix plus a positive semidefinite one; the matrix is that sum.
    ///
    /// None of its pivots is below one, whatever rounding says, so nothing is divided by zero however sharp a reading claims to be.
    pub(crate) fn inverse(&self) -> Self {
        let lower = self.lower_of_one_and_more();
        // With M = L Lᵀ, row by row of L⁻¹; the inverse is the sum of their squares.
        let mut rows = Self::zero(self.n);
        let mut out = Self::zero(self.n);
        for i in 0..self.n {
            let (before, row) = rows.entries.split_at_mut(i * self.n);
            let row = &mut row[..=i];
            row[i] = 1.0;
            for (j, before) in before.chunks_exact(self.n).enumerate() {
                let part = lower[(i, j)];
                row.iter_mut()
                    .zip(&before[..=j])
                    .for_each(|(entry, before)| *entry -= part * before);
            }
            let pivot = 1.0 / lower[(i, i)];
            row.iter_mut().for_each(|entry| *entry *= pivot);
            for (j, a) in row.iter().enumerate() {
                out.row_mut(j).iter_mut().zip(&*row).for_each(|(entry, b)| *entry += a * b);
            }
        }
        out
    }
}

impl Index<(usize, usize)> for Matrix {
    type Output = f64;

    fn index(&self, (i, j): (usize, usize)) -> &f64 {
        &self.entries[i * self.n + j]
    }
}

impl IndexMut<(usize, usize)> for Matrix {
    fn index_mut(&mut self, (i, j): (usize, usize)) -> &mut f64 {
        &mut self.entries[i * self.n + j]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const N: usize = 18;

    fn example() -> Matrix {
        let mut matrix = Matrix::unit(N);
        for k in 0..5 {
            let vector: Vec<f64> = (0..N).map(|i| ((3 * i + 7 * k) as f64).sin()).collect();
            matrix.add_square(&vector, 1.0);
        }
        matrix
    }

    #[track_caller]
    fn check(found: &Matrix, expected: &Matrix) {
        for (found, expected) in found.entries().iter().zip(expected.entries()) {
            assert!((found - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn a_matrix_times_its_inverse_is_one() {
        check(&example().times(&example().inverse()), &Matrix::unit(N));
    }

    #[test]
    fn cholesky_squares_back_also_where_a_row_has_no_spread() {
        let mut matrix = example();
        for i in 0..N {
            (matrix[(3, i)], matrix[(i, 3)]) = (0.0, 0.0);
        }
        let lower = matrix.cholesky();
        check(&lower.times(&lower.transposed()), &matrix);
        assert_eq!(lower.row(3), [0.0; N]);
    }
}
