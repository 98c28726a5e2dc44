//! What past pieces of a model teach of a new one.

use taperbook_units::Length;

use super::matrix::{self, Matrix, N, Vector, ZERO};
use super::parameters::{
    self, DENSITY, MODULUS, OD_BUTT, OD_TIP, TIP_DENSITY, TIP_MODULUS, TREND, WALL_BUTT, WALL_TIP,
};
use super::posterior::Posterior;
use super::prior::Prior;

/// How much pieces of one model differ: standard deviations from piece to piece.
///
/// Common practice, no source.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Of the modulus, as a part of it: 4 %.
    pub modulus: f64,
    /// Of what the modulus gains from butt to tip, as a part of it: 2 %.
    pub trend: f64,
    /// Of the stiffness along the blank at each knot, as a part of it: 2 %.
    pub stiffness: f64,
    /// Of the wall at either end, as a part of it: 3 %.
    pub wall: f64,
    /// Of the density, as a part of it: 1 %.
    pub density: f64,
    /// Of the outside diameter at either end: 0.03 mm.
    pub od: Length,
}

impl Default for Spread {
    fn default() -> Self {
        Self {
            modulus: 0.04,
            trend: 0.02,
            stiffness: 0.02,
            wall: 0.03,
            density: 0.01,
            od: Length::from_mm(0.03),
        }
    }
}

impl Spread {
    /// The variances by parameter. Clamps are the shop's, not the piece's, so they don't spread.
    fn variances(&self) -> Vector {
        let mut out = [0.0; N];
        let mut set = |parameter: usize, sd: f64| {
            out[parameter] = if sd.is_finite() { sd * sd } else { 0.0 };
        };
        set(MODULUS, self.modulus);
        set(TREND, self.trend);
        parameters::knots().for_each(|knot| set(knot, self.stiffness));
        set(WALL_BUTT, self.wall);
        set(WALL_TIP, self.wall);
        set(DENSITY, self.density);
        set(TIP_MODULUS, self.modulus);
        set(TIP_DENSITY, self.density);
        set(OD_BUTT, self.od.m());
        set(OD_TIP, self.od.m());
        out
    }
}

/// What one piece's readings tell of its model; under a kilobyte, so that thousands can be kept.
///
/// Single precision is enough: it is right to 1e-7 of what was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// The upper triangle of the information, row by row.
    information: Box<[f32]>,
    vector: [f32; N],
}

impl Lesson {
    /// Takes the lesson of a piece.
    ///
    /// Piece i has parameters pᵢ = m + dᵢ with m those of the model and dᵢ from the spread S.
    /// Its readings tell of pᵢ as much as Λᵢ, ηᵢ (see [`Posterior`]); with dᵢ integrated out they tell of the model
    /// (I + Λᵢ S)⁻¹ Λᵢ and (I + Λᵢ S)⁻¹ ηᵢ.
    pub fn of(piece: &Posterior, spread: &Spread) -> Self {
        let (information, vector) =
            marginal(&piece.information, &piece.vector, &spread.variances());
        let triangle = information
            .iter()
            .enumerate()
            .flat_map(|(i, row)| row[i..].iter().map(|entry| single(*entry)));
        Self { information: triangle.collect(), vector: vector.map(single) }
    }
}

/// The lessons of a model's pieces, added up: another piece costs one addition, leaving one out a subtraction.
///
/// Lessons add up over pieces onto the card's prior
/// (a normal hierarchical model with known spread: Gelman et al., *Bayesian Data Analysis*, ch. 5, from memory).
#[derive(Debug, Clone)]
pub struct Pool {
    information: Matrix,
    vector: Vector,
    variances: Vector,
    n_pieces: usize,
}

impl Pool {
    /// Starts without a piece.
    pub fn new(spread: &Spread) -> Self {
        Self { information: ZERO, vector: [0.0; N], variances: spread.variances(), n_pieces: 0 }
    }

    /// How many pieces are in it.
    pub fn n_pieces(&self) -> usize {
        self.n_pieces
    }

    /// Adds the lesson of a piece.
    pub fn add(&mut self, lesson: &Lesson) {
        self.combine(lesson, 1.0);
        self.n_pieces += 1;
    }

    /// Gives the same without the lesson of a piece that was added.
    #[must_use]
    pub fn without(&self, lesson: &Lesson) -> Self {
        let mut rest = self.clone();
        rest.combine(lesson, -1.0);
        rest.n_pieces = rest.n_pieces.saturating_sub(1);
        rest
    }

    /// Makes the prior of a new piece from its own card's prior: the model's mean, and its covariance plus the spread.
    ///
    /// Parameters are relative to each card's measured shape, so pieces with cards of their own pool too.
    /// The same pieces in another order give the same prior up to rounding; with no pieces it is `prior` itself.
    pub fn prior(&self, prior: &Prior) -> Prior {
        if self.n_pieces == 0 {
            return prior.clone();
        }
        // In z, with p = p₀ + L z, the model's prior is a unit Gaussian; so a parameter without spread needs no case of its own.
        let root = matrix::cholesky(&prior.covariance);
        let along = matrix::multiply(&self.information, &root);
        let mut normal = matrix::multiply(&matrix::transpose(&root), &along);
        for (i, row) in normal.iter_mut().enumerate() {
            row[i] += 1.0;
        }
        let known = matrix::apply(&self.information, &prior.mean);
        let side: Vector = std::array::from_fn(|i| self.vector[i] - known[i]);
        let z_covariance = matrix::inverse(&normal);
        let z = matrix::apply(&z_covariance, &matrix::apply_transposed(&root, &side));
        let moved = matrix::apply(&root, &z);
        let mut covariance =
            matrix::multiply(&matrix::multiply(&root, &z_covariance), &matrix::transpose(&root));
        for (i, row) in covariance.iter_mut().enumerate() {
            row[i] += self.variances[i];
        }
        let mean = std::array::from_fn(|i| prior.mean[i] + moved[i]);
        Prior { mean, covariance, ..prior.clone() }
    }

    fn combine(&mut self, lesson: &Lesson, sign: f64) {
        let mut entries = lesson.information.iter();
        for i in 0..N {
            for j in i..N {
                let added = sign * entries.next().copied().map_or(0.0, f64::from);
                self.information[i][j] += added;
                if i != j {
                    self.information[j][i] += added;
                }
            }
        }
        for (entry, added) in self.vector.iter_mut().zip(lesson.vector) {
            *entry += sign * f64::from(added);
        }
    }
}

/// Makes the prior of a new piece from its own card's prior and past pieces of its model: partial pooling, at once.
pub fn pool(prior: &Prior, pieces: &[&Posterior], spread: &Spread) -> Prior {
    let mut pool = Pool::new(spread);
    for piece in pieces {
        pool.add(&Lesson::of(piece, spread));
    }
    pool.prior(prior)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a lesson is kept in single precision on purpose"
)]
fn single(value: f64) -> f32 {
    value as f32
}

/// What a piece's readings tell of its model: (I + Λ S)⁻¹ Λ and (I + Λ S)⁻¹ η.
///
/// With S = T T, T diagonal, (I + Λ S)⁻¹ = I − Λ T (I + T Λ T)⁻¹ T, whose inner matrix is symmetric and positive.
fn marginal(information: &Matrix, vector: &Vector, variances: &Vector) -> (Matrix, Vector) {
    let t = variances.map(f64::sqrt);
    let mut inner = ZERO;
    for (i, row) in inner.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            *entry = t[i] * information[i][j] * t[j] + if i == j { 1.0 } else { 0.0 };
        }
    }
    let mut middle = matrix::inverse(&inner);
    for (i, row) in middle.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            *entry *= t[i] * t[j];
        }
    }
    let taken = matrix::multiply(information, &middle);
    let lost = matrix::multiply(&taken, information);
    let lost_side = matrix::apply(&taken, vector);
    let mut out = ZERO;
    for (i, row) in out.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            *entry = information[i][j] - lost[i][j];
        }
    }
    (out, std::array::from_fn(|i| vector[i] - lost_side[i]))
}
