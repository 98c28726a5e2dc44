//! What past pieces of a model teach of a new one.

use taperbook_units::Length;

use super::matrix::Matrix;
use super::parameters::{
    self, BLANK, DENSITY, LENGTH, MODULUS, OD_BUTT, OD_TIP, TIP_DENSITY, TIP_MODULUS, TREND,
    WALL_BUTT, WALL_TIP,
};
use super::posterior::Posterior;
use super::prior::Prior;
use super::setup::Setups;

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
    /// The variances by parameter of the blank. Boards and clamps are the shop's, not the piece's, so they don't spread.
    fn variances(&self) -> [f64; BLANK] {
        let mut out = [0.0; BLANK];
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
    setups: Setups,
    /// The upper triangle of the information, row by row.
    information: Box<[f32]>,
    vector: Box<[f32]>,
}

impl Lesson {
    /// Takes the lesson of a piece.
    ///
    /// Piece i has parameters pᵢ = m + dᵢ with m those of the model and dᵢ from the spread S.
    /// Its readings tell of pᵢ as much as Λᵢ, ηᵢ (see [`Posterior`]); with dᵢ integrated out they tell of the model
    /// (I + Λᵢ S)⁻¹ Λᵢ and (I + Λᵢ S)⁻¹ ηᵢ.
    ///
    /// How long a piece is is its own matter: what that leaves unsure is taken out here, and nothing of it is taught.
    pub fn of(piece: &Posterior, spread: &Spread) -> Self {
        let mut variances = vec![0.0; piece.mean.len()];
        variances[..BLANK].copy_from_slice(&spread.variances());
        variances[LENGTH] = piece.prior.covariance[(LENGTH, LENGTH)];
        let (mut information, mut vector) = marginal(&piece.information, &piece.vector, &variances);
        vector[LENGTH] = 0.0;
        for i in 0..variances.len() {
            (information[(LENGTH, i)], information[(i, LENGTH)]) = (0.0, 0.0);
        }
        let triangle =
            (0..information.n()).flat_map(|i| information.row(i)[i..].iter().map(|e| single(*e)));
        Self {
            setups: piece.prior.setups.clone(),
            information: triangle.collect(),
            vector: vector.iter().map(|entry| single(*entry)).collect(),
        }
    }
}

/// The lessons of a model's pieces, added up: another piece costs one addition, leaving one out a subtraction.
///
/// Lessons add up over pieces onto the card's prior
/// (a normal hierarchical model with known spread: Gelman et al., *Bayesian Data Analysis*, ch. 5, from memory).
#[derive(Debug, Clone)]
pub struct Pool {
    setups: Setups,
    information: Matrix,
    vector: Vec<f64>,
    variances: [f64; BLANK],
    n_pieces: usize,
}

impl Pool {
    /// Starts without a piece.
    pub fn new(spread: &Spread) -> Self {
        Self {
            setups: Setups::default(),
            information: Matrix::zero(BLANK),
            vector: vec![0.0; BLANK],
            variances: spread.variances(),
            n_pieces: 0,
        }
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
        let prior = prior.with(&self.setups);
        // Where the lessons' parameters lie among those of the prior, which may know further boards.
        let n = prior.mean.len();
        let mut information = Matrix::zero(n);
        let mut vector = vec![0.0; n];
        let places: Vec<usize> =
            self.setups.places_in(&prior.setups).into_iter().flatten().collect();
        for (i, to) in places.iter().enumerate() {
            vector[*to] = self.vector[i];
            for (j, other) in places.iter().enumerate() {
                information[(*to, *other)] = self.information[(i, j)];
            }
        }
        // In z, with p = p₀ + L z, the model's prior is a unit Gaussian; so a parameter without spread needs no case of its own.
        let root = prior.covariance.cholesky();
        let mut normal = root.transposed().times(&information.times(&root));
        (0..n).for_each(|i| normal[(i, i)] += 1.0);
        let known = information.apply(&prior.mean);
        let side: Vec<f64> = vector.iter().zip(known).map(|(told, known)| told - known).collect();
        let z_covariance = normal.inverse();
        let z = z_covariance.apply(&root.apply_transposed(&side));
        let moved = root.apply(&z);
        let mut covariance = root.times(&z_covariance).times(&root.transposed());
        for (i, variance) in self.variances.iter().enumerate() {
            covariance[(i, i)] += variance;
        }
        let mean = prior.mean.iter().zip(moved).map(|(mean, moved)| mean + moved).collect();
        Prior { mean, covariance, ..prior }
    }

    fn combine(&mut self, lesson: &Lesson, sign: f64) {
        self.widen(&lesson.setups);
        let places: Vec<usize> =
            lesson.setups.places_in(&self.setups).into_iter().flatten().collect();
        let mut entries = lesson.information.iter();
        for (i, to) in places.iter().enumerate() {
            for other in &places[i..] {
                let added = sign * entries.next().copied().map_or(0.0, f64::from);
                self.information[(*to, *other)] += added;
                if to != other {
                    self.information[(*other, *to)] += added;
                }
            }
        }
        for (to, added) in places.iter().zip(&lesson.vector) {
            self.vector[*to] += sign * f64::from(*added);
        }
    }

    /// Makes room for further boards and clamps.
    fn widen(&mut self, setups: &Setups) {
        let all = self.setups.with(setups);
        if all == self.setups {
            return;
        }
        let places: Vec<usize> = self.setups.places_in(&all).into_iter().flatten().collect();
        let mut information = Matrix::zero(all.n());
        let mut vector = vec![0.0; all.n()];
        for (i, to) in places.iter().enumerate() {
            vector[*to] = self.vector[i];
            for (j, other) in places.iter().enumerate() {
                information[(*to, *other)] = self.information[(i, j)];
            }
        }
        (self.information, self.vector, self.setups) = (information, vector, all);
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
fn marginal(information: &Matrix, vector: &[f64], variances: &[f64]) -> (Matrix, Vec<f64>) {
    let n = variances.len();
    let t: Vec<f64> = variances.iter().map(|variance| variance.sqrt()).collect();
    let mut inner = Matrix::unit(n);
    for i in 0..n {
        for j in 0..n {
            inner[(i, j)] += t[i] * information[(i, j)] * t[j];
        }
    }
    let mut middle = inner.inverse();
    for i in 0..n {
        for j in 0..n {
            middle[(i, j)] *= t[i] * t[j];
        }
    }
    let taken = information.times(&middle);
    let lost = taken.times(information);
    let lost_side = taken.apply(vector);
    let mut out = information.clone();
    for i in 0..n {
        for (entry, lost) in out.row_mut(i).iter_mut().zip(lost.row(i)) {
            *entry -= lost;
        }
    }
    (out, vector.iter().zip(lost_side).map(|(told, lost)| told - lost).collect())
}
