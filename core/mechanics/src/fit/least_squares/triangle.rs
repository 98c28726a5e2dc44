//! The triangle that a tall table of equations comes down to.
//!
//! Householder's reflections with rows sorted and columns exchanged: the normal equations would square how far the equations are
//! from telling their unknowns apart, and rows of very different size, such as those of a sharp reading and of a vague belief,
//! keep their own accuracy only in that order
//! (Cox & Higham, *Stability of Householder QR factorization for weighted least squares problems*, 1998, from memory).

use std::{iter, mem};

use super::super::matrix::{Matrix, dot};
use super::scaled_length;

/// R and c of R x ≈ c, which has the same least-squares solution as the equations that it was made of.
#[derive(Debug, Clone)]
pub(super) struct Triangle {
    n: usize,
    /// Rows of R, each with its c behind, in the exchanged order of columns.
    rows: Vec<f64>,
    /// The unknown that each column of R stands for.
    order: Vec<usize>,
}

/// Newton's method on λ comes within `NEARLY` in two or three; where it does not, the step is cut to its length.
const MOST_TRIALS: usize = 10;
/// A step may be longer than asked for by this factor.
const NEARLY: f64 = 1.1;
/// A pivot below this part of its column is what rounding left of nothing.
const NOTHING: f64 = 1e-14;

impl Triangle {
    /// Reduces equations of `n` unknowns; each is a row of `n` factors and then its right side.
    pub(super) fn of<'row>(n: usize, equations: impl Iterator<Item = &'row [f64]>) -> Self {
        let size =
            |row: &[f64]| row[..n].iter().fold(0.0, |most: f64, entry| most.max(entry.abs()));
        let mut sorted: Vec<(f64, &[f64])> = equations.map(|row| (size(row), row)).collect();
        sorted.sort_by(|a, b| b.0.total_cmp(&a.0));
        let width = n + 1;
        let mut rows: Vec<f64> = sorted.iter().flat_map(|(_, row)| row.iter().copied()).collect();
        rows.resize(width * sorted.len().max(n), 0.0);
        let mut triangle = Self { n, rows, order: (0..n).collect() };
        let mut along = vec![0.0; width];
        triangle.squares_below(0, &mut along);
        let whole = along[..n].to_vec();
        for step in 0..n {
            triangle.squares_below(step, &mut along);
            let longest = (step..n).fold(step, |a, b| if along[a] < along[b] { b } else { a });
            let square = along[longest];
            triangle.exchange(step, longest);
            let is_nothing = square <= NOTHING * NOTHING * whole[triangle.order[step]];
            triangle.reflect(step, if is_nothing { 0.0 } else { square.sqrt() }, &mut along);
        }
        triangle.rows.truncate(width * n);
        triangle
    }

    /// The square of each column's length from a row on; of the columns before the same number nothing is left below it.
    fn squares_below(&self, from: usize, squares: &mut [f64]) {
        squares.fill(0.0);
        for row in self.rows.chunks_exact(self.n + 1).skip(from) {
            for (square, entry) in squares[from..].iter_mut().zip(&row[from..]) {
                *square += entry * entry;
            }
        }
    }

    fn exchange(&mut self, one: usize, other: usize) {
        if one != other {
            self.order.swap(one, other);
            self.rows.chunks_exact_mut(self.n + 1).for_each(|row| row.swap(one, other));
        }
    }

    /// Reflects what lies from a row on so that its first column is left with one entry, of the length given; `along` is room.
    fn reflect(&mut self, step: usize, length: f64, along: &mut [f64]) {
        let width = self.n + 1;
        let (above, rows) = self.rows.split_at_mut(width * (step + 1));
        let first = &mut above[width * step..];
        if length == 0.0 {
            first[step] = 0.0;
            rows.chunks_exact_mut(width).for_each(|row| row[step] = 0.0);
            return;
        }
        // With the sign against the first entry nothing cancels.
        let corner = if first[step] < 0.0 { length } else { -length };
        // The mirror's normal is (1, v₁, v₂, …), with v where the column's entries were.
        let pivot = first[step] - corner;
        let along = &mut along[step + 1..];
        along.copy_from_slice(&first[step + 1..]);
        for row in rows.chunks_exact_mut(width) {
            row[step] /= pivot;
            let v = row[step];
            for (along, entry) in along.iter_mut().zip(&row[step + 1..]) {
                *along += v * entry;
            }
        }
        let factor = -pivot / corner;
        along.iter_mut().for_each(|along| *along *= factor);
        let subtract = |row: &mut [f64], v: f64| {
            for (entry, along) in row.iter_mut().zip(&*along) {
                *entry -= v * along;
            }
        };
        subtract(&mut first[step + 1..], 1.0);
        first[step] = corner;
        for row in rows.chunks_exact_mut(width) {
            let v = mem::replace(&mut row[step], 0.0);
            subtract(&mut row[step + 1..], v);
        }
    }

    fn row(&self, i: usize) -> &[f64] {
        let width = self.n + 1;
        &self.rows[width * i..width * (i + 1)]
    }

    /// The unknowns; one that the equations leave open is 0.
    pub(super) fn solve(&self) -> Vec<f64> {
        let mut solved = vec![0.0; self.n];
        for i in (0..self.n).rev() {
            let row = self.row(i);
            if row[i] != 0.0 {
                let known: f64 = (i + 1..self.n).map(|k| row[k] * solved[k]).sum();
                solved[i] = (row[self.n] - known) / row[i];
            }
        }
        self.unexchanged(&solved)
    }

    /// The unknowns that solve the equations best of those no longer than `longest`, each measured in its scale.
    ///
    /// (RᵀR + λ D²) x = Rᵀc, with λ found by Newton's method on 1/|D x| − 1/longest, which is nearly straight in λ
    /// (Moré 1978, as in `minimise`).
    pub(super) fn solve_within(&self, longest: f64, scales: &[f64]) -> Vec<f64> {
        let mut solved = self.solve();
        let mut length = scaled_length(&solved, scales);
        let mut damping = 0.0;
        let mut damped = None;
        for _ in 0..MOST_TRIALS {
            if length <= NEARLY * longest {
                break;
            }
            let pulls: Vec<f64> =
                solved.iter().zip(scales).map(|(x, scale)| x * scale * scale).collect();
            let fall = damped.as_ref().unwrap_or(self).inverse_square(&pulls);
            damping += (length / longest - 1.0) * length * length / fall;
            let root = f64::sqrt(damping);
            let triangle = self.damped(scales.iter().map(|scale| scale * root));
            solved = triangle.solve();
            length = scaled_length(&solved, scales);
            damped = Some(triangle);
        }
        if longest < length {
            solved.iter_mut().for_each(|x| *x *= longest / length);
        }
        solved
    }

    /// vᵀ (RᵀR)⁻¹ v, over the unknowns that the equations don't leave open.
    fn inverse_square(&self, vector: &[f64]) -> f64 {
        let mut solved = vec![0.0; self.n];
        for i in 0..self.n {
            let pivot = self.row(i)[i];
            if pivot != 0.0 {
                let known: f64 = (0..i).map(|k| self.row(k)[i] * solved[k]).sum();
                solved[i] = (vector[self.order[i]] - known) / pivot;
            }
        }
        dot(&solved, &solved)
    }

    /// The same equations, and one for each unknown that wants it to be 0, with the factor given.
    fn damped(&self, factors: impl Iterator<Item = f64>) -> Self {
        let width = self.n + 1;
        let mut equations = Vec::with_capacity(2 * self.n * width);
        for i in 0..self.n {
            let row = self.row(i);
            equations.extend(self.unexchanged(&row[..self.n]));
            equations.push(row[self.n]);
        }
        for (i, factor) in factors.enumerate() {
            equations.extend(iter::repeat_n(0.0, width));
            equations[width * (self.n + i) + i] = factor;
        }
        Self::of(self.n, equations.chunks_exact(width))
    }

    /// (RᵀR)⁻¹, or nothing where the equations leave an unknown open.
    pub(super) fn covariance(&self) -> Option<Matrix> {
        if (0..self.n).any(|i| self.row(i)[i] == 0.0) {
            return None;
        }
        let mut covariance = Matrix::zero(self.n);
        let mut column = vec![0.0; self.n];
        for j in 0..self.n {
            // A column of R⁻¹; the covariance is the sum of their squares.
            column.fill(0.0);
            column[j] = 1.0 / self.row(j)[j];
            for i in (0..j).rev() {
                let row = self.row(i);
                let known: f64 = (i + 1..=j).map(|k| row[k] * column[k]).sum();
                column[i] = -known / row[i];
            }
            covariance.add_square(&self.unexchanged(&column), 1.0);
        }
        Some(covariance)
    }

    fn unexchanged(&self, exchanged: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.n];
        for (value, unknown) in exchanged.iter().zip(&self.order) {
            out[*unknown] = *value;
        }
        out
    }
}
