//! What past pieces of a model teach of a new one.

use taperbook_units::Length;

use super::lesson::{Lesson, Marginal};
use super::matrix::{Matrix, dot};
use super::parameters::{
    self, BLANK, DENSITY, MODULUS, OD_BUTT, OD_TIP, TIP_DENSITY, TIP_MODULUS, TREND, WALL_BUTT,
    WALL_TIP,
};
use super::pools::Pools;
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
    /// Of the mass along the blank at each knot, as a part of it: 1 %.
    pub mass: f64,
    /// Of the wall at either end, as a part of it: 3 %.
    pub wall: f64,
    /// Of the density, as a part of it: 1 %.
    pub density: f64,
    /// Of the outside diameter at either end: 0.03 mm.
    pub od: Length,
}

/// More pieces than this tell no more than so many: what a model of a blank itself misses does not average out.
///
/// Their likelihood is taken to that power of itself (a tempered posterior: Miller & Dunson, *J. Amer. Statist. Assoc.* 114 (2019) 1113,
/// from memory); without it, thirty pieces on the simulated bench foretell the next one worse than ten, and with too narrow a range.
const ENOUGH: f64 = 10.0;

impl Default for Spread {
    fn default() -> Self {
        Self {
            modulus: 0.04,
            trend: 0.02,
            stiffness: 0.02,
            mass: 0.01,
            wall: 0.03,
            density: 0.01,
            od: Length::from_mm(0.03),
        }
    }
}

impl Spread {
    /// The same, so many times as large.
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        Self {
            modulus: self.modulus * factor,
            trend: self.trend * factor,
            stiffness: self.stiffness * factor,
            mass: self.mass * factor,
            wall: self.wall * factor,
            density: self.density * factor,
            od: self.od * factor,
        }
    }

    /// How much pieces of a model differ, as far as their lessons tell: so many times what is usual.
    ///
    /// Each factor is weighed by what the lessons say of it (their likelihood, the model integrated out: Gelman et al., *Bayesian Data
    /// Analysis*, ch. 5, from memory) and by what is usual: a factor of 1.7 either way. What counts in a range is the
    /// square, so the mean of the squares is given. `prior` is that of the model's card; with no lessons the factor is 1.
    pub fn estimated(&self, prior: &Prior, lessons: &[&Lesson]) -> f64 {
        // One piece differs from nothing.
        if lessons.len() < 2 { 1.0 } else { Pools::of(self, lessons).estimated(prior) }
    }

    /// The variances by parameter of the blank. Boards and clamps are the shop's, not the piece's, so they don't spread.
    pub(crate) fn variances(&self) -> [f64; BLANK] {
        let mut out = [0.0; BLANK];
        let mut set = |parameter: usize, sd: f64| {
            out[parameter] = if sd.is_finite() { sd * sd } else { 0.0 };
        };
        set(MODULUS, self.modulus);
        set(TREND, self.trend);
        parameters::knots().for_each(|knot| set(knot, self.stiffness));
        parameters::mass_knots().for_each(|knot| set(knot, self.mass));
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

/// What pieces tell of a model and its boards: their likelihood is exp(−½ pᵀ Λ p + ηᵀ p).
pub(crate) struct Told {
    pub(crate) information: Matrix,
    pub(crate) vector: Vec<f64>,
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
    square: f64,
    log_det: f64,
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
            square: 0.0,
            log_det: 0.0,
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

    /// Adds what other pieces told, added up with pieces differing as much.
    pub(crate) fn merge(&mut self, others: &Self) {
        self.widen(&others.setups);
        let places: Vec<usize> =
            others.setups.places_in(&self.setups).into_iter().flatten().collect();
        for (i, to) in places.iter().enumerate() {
            self.vector[*to] += others.vector[i];
            let row = self.information.row_mut(*to);
            for (place, entry) in places.iter().zip(others.information.row(i)) {
                row[*place] += entry;
            }
        }
        self.square += others.square;
        self.log_det += others.log_det;
        self.n_pieces += others.n_pieces;
    }

    /// Makes the prior of a new piece from its own card's prior: what is believed of the model, and how pieces differ.
    ///
    /// Parameters are relative to each card's measured shape, so pieces with cards of their own pool too.
    /// The same pieces in another order give the same prior up to rounding; with no pieces it is `prior` itself.
    pub fn prior(&self, prior: &Prior) -> Prior {
        if self.n_pieces == 0 {
            return prior.clone();
        }
        let mut piece = self.model(prior);
        for (i, variance) in self.variances.iter().enumerate() {
            piece.covariance[(i, i)] += variance;
        }
        piece
    }

    /// What is believed of the model itself.
    pub(crate) fn model(&self, prior: &Prior) -> Prior {
        let mut model = prior.with(&self.setups);
        // Where the lessons' parameters lie among those of the prior, which may know further boards.
        let n = model.mean.len();
        let mut information = Matrix::zero(n);
        let mut vector = vec![0.0; n];
        let places: Vec<usize> =
            self.setups.places_in(&model.setups).into_iter().flatten().collect();
        let told = self.told();
        for (i, to) in places.iter().enumerate() {
            vector[*to] = told.vector[i];
            for (j, other) in places.iter().enumerate() {
                information[(*to, *other)] = told.information[(i, j)];
            }
        }
        model.learn(&information, &vector);
        model
    }

    pub(crate) fn setups(&self) -> &Setups {
        &self.setups
    }

    /// What the pieces tell together: many of them no more than [`ENOUGH`].
    pub(crate) fn told(&self) -> Told {
        let share = (ENOUGH / self.n_pieces.max(1) as f64).min(1.0);
        let mut information = self.information.clone();
        for i in 0..information.n() {
            information.row_mut(i).iter_mut().for_each(|entry| *entry *= share);
        }
        Told { information, vector: self.vector.iter().map(|entry| entry * share).collect() }
    }

    /// How well the pieces go together with pieces differing as they are taken to: ln of the likelihood of all that they told,
    /// up to a constant that is the same for every spread.
    pub(crate) fn log_evidence(&self, prior: &Prior) -> f64 {
        let prior = prior.with(&self.setups);
        // Boards that the prior knows besides are no matter of these pieces.
        let picked: Vec<usize> =
            self.setups.places_in(&prior.setups).into_iter().flatten().collect();
        let (information, vector) = (&self.information, &self.vector);
        let mean: Vec<f64> = picked.iter().map(|place| prior.mean[*place]).collect();
        let root = prior.covariance.picked(&picked).cholesky();
        let mut normal = root.transposed().times(&information.times(&root));
        (0..normal.n()).for_each(|i| normal[(i, i)] += 1.0);
        let known = information.apply(&mean);
        let side: Vec<f64> = vector.iter().zip(&known).map(|(told, known)| told - known).collect();
        let side = root.apply_transposed(&side);
        let square = self.square - 2.0 * dot(&mean, vector) + dot(&mean, &known)
            - normal.inverse().square(&side);
        let lower = normal.cholesky();
        let log_det: f64 = (0..lower.n()).map(|i| lower[(i, i)].ln()).sum();
        -0.5 * square - self.log_det - log_det
    }

    fn combine(&mut self, lesson: &Lesson, sign: f64) {
        self.widen(&lesson.setups);
        let places: Vec<usize> =
            lesson.setups.places_in(&self.setups).into_iter().flatten().collect();
        let Marginal { lines, told, log_det } = lesson.marginal(&self.variances);
        for (line, told) in lines.chunks_exact(places.len()).zip(&told) {
            for (slope, to) in line.iter().zip(&places).filter(|(slope, _)| **slope != 0.0) {
                let slope = sign * slope;
                self.vector[*to] += slope * told;
                let row = self.information.row_mut(*to);
                if row.len() == line.len() {
                    // All boards and clamps are the same, as mostly.
                    row.iter_mut().zip(line).for_each(|(entry, other)| *entry += slope * other);
                } else {
                    for (place, other) in places.iter().zip(line) {
                        row[*place] += slope * other;
                    }
                }
            }
            self.square += sign * told * told;
        }
        self.log_det += sign * log_det;
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
        pool.add(&Lesson::of(piece));
    }
    pool.prior(prior)
}
