//! The linear problem at one place: the step from x that makes ½ |J s − m|² least, with ½ |x + s|² added for what was believed before.
//!
//! It is solved over the unknowns, or over the observations where those are fewer: a bench has ten readings of thirty unknowns.

use super::super::matrix::{Matrix, dot};
use super::triangle::Triangle;
use super::{Before, Minimum};

/// The misses m and slopes J at a place x.
#[derive(Clone, Copy)]
pub(super) struct Linear<'place> {
    pub(super) x: &'place [f64],
    pub(super) misses: &'place [f64],
    pub(super) rows: &'place [f64],
    pub(super) before: Before,
}

impl<'place> Linear<'place> {
    pub(super) fn new(minimum: &'place Minimum) -> Self {
        let Minimum { x, misses, rows, before, .. } = minimum;
        Self { x, misses, rows, before: *before }
    }

    fn row(&self, i: usize) -> &'place [f64] {
        let n = self.x.len();
        &self.rows[n * i..n * (i + 1)]
    }

    fn has_few_observations(&self) -> bool {
        self.before == Before::Unit && self.misses.len() < self.x.len()
    }

    /// The step; 0 of an unknown that nothing tells of.
    ///
    /// With t = x + s, what is sought is the least ½ |J t − w|² + ½ |t|², w = m + J x, and that is t = Jᵀ u with (J Jᵀ + 1) u = w.
    pub(super) fn step(&self) -> Vec<f64> {
        if !self.has_few_observations() {
            return self.by_unknowns().solve();
        }
        let mut step: Vec<f64> = self.x.iter().map(|x| -x).collect();
        for (i, u) in self.by_observations().solve().into_iter().enumerate() {
            step.iter_mut().zip(self.row(i)).for_each(|(step, slope)| *step += u * slope);
        }
        step
    }

    /// How fast ½ |J s − m|² and what is added to it falls along a step at 0, and how fast that slope wanes.
    ///
    /// Of the best step the two are the same: twice what it gains, and the square of its length in the measure of its covariance.
    pub(super) fn along(&self, step: &[f64]) -> (f64, f64) {
        let (mut slope, mut bend) = match self.before {
            Before::Unit => (-dot(self.x, step), dot(step, step)),
            Before::Nothing => (0.0, 0.0),
        };
        for (i, miss) in self.misses.iter().enumerate() {
            let along = dot(self.row(i), step);
            slope += along * miss;
            bend += along * along;
        }
        (slope, bend)
    }

    /// The equations of the unknowns; what was believed before is one more observation of each, of 0 ± 1.
    pub(super) fn by_unknowns(&self) -> Triangle {
        let n = self.x.len();
        let mut equations = Vec::with_capacity((self.misses.len() + n) * (n + 1));
        for (i, miss) in self.misses.iter().enumerate() {
            equations.extend_from_slice(self.row(i));
            equations.push(*miss);
        }
        if self.before == Before::Unit {
            for (i, x) in self.x.iter().enumerate() {
                equations.extend((0..n).map(|j| if i == j { 1.0 } else { 0.0 }));
                equations.push(-x);
            }
        }
        Triangle::of(n, equations.chunks_exact(n + 1))
    }

    /// Equations of u, one for each unknown and one for each observation: Jᵀ u ≈ x and u ≈ m, since the normal equations of these
    /// are (J Jᵀ + 1) u = J x + m.
    fn by_observations(&self) -> Triangle {
        let k = self.misses.len();
        let mut equations = Vec::with_capacity((self.x.len() + k) * (k + 1));
        for (unknown, x) in self.x.iter().enumerate() {
            equations.extend((0..k).map(|i| self.row(i)[unknown]));
            equations.push(*x);
        }
        for (i, miss) in self.misses.iter().enumerate() {
            equations.extend((0..k).map(|j| if i == j { 1.0 } else { 0.0 }));
            equations.push(*miss);
        }
        Triangle::of(k, equations.chunks_exact(k + 1))
    }

    /// 1 − J C Jᵀ with C the covariance of the unknowns, which is (J Jᵀ + 1)⁻¹; nothing where an unknown is left open.
    pub(super) fn freedom(&self) -> Option<Matrix> {
        if self.has_few_observations() {
            return self.by_observations().covariance();
        }
        let covariance = self.by_unknowns().covariance()?;
        let k = self.misses.len();
        let mut freedom = Matrix::unit(k);
        for i in 0..k {
            let along = covariance.apply(self.row(i));
            for j in 0..k {
                freedom[(i, j)] -= dot(&along, self.row(j));
            }
            freedom[(i, i)] = freedom[(i, i)].max(0.0);
        }
        Some(freedom)
    }
}
