//! What a shop's models of one material teach of a model that was never cut there.

use super::matrix::Matrix;
use super::parameters::{BLANK, DENSITY, MODULUS, TREND, WALL_BUTT, WALL_TIP};
use super::pool::Pool;
use super::prior::Prior;

/// What models of a material have in common in a shop that buys of a few makers: this part of the variance that a card's prior has of
/// modulus, its trend, walls and density; the rest is each model's own (common practice, no source).
const COMMON: f64 = 0.36;
const SHARED: [usize; 5] = [MODULUS, TREND, WALL_BUTT, WALL_TIP, DENSITY];

/// What the models of one material tell of it.
#[derive(Debug, Clone)]
pub struct Material {
    information: Matrix,
    vector: Vec<f64>,
    n_models: usize,
}

impl Default for Material {
    fn default() -> Self {
        Self { information: Matrix::zero(BLANK), vector: vec![0.0; BLANK], n_models: 0 }
    }
}

impl Material {
    /// How many models stand behind it.
    pub fn n_models(&self) -> usize {
        self.n_models
    }

    /// Adds a model, whose card makes this prior and states neither modulus nor density, which would be told twice.
    ///
    /// A model is m = M + e with M common to the material and e the model's own, of the variance that is not common.
    /// Its pieces tell of m as Λ, η (boards and clamps at what is usual of them integrated out), and with e integrated out of M as
    /// (I + Λ S)⁻¹ Λ and (I + Λ S)⁻¹ (η − Λ p₀), from the card's mean p₀ on.
    pub fn add(&mut self, pool: &Pool, card: &Prior) {
        if pool.n_pieces() == 0 {
            return;
        }
        let (information, vector) = of_blank(pool, card);
        // In z, with e = L z and S = L Lᵀ, (I + Λ S)⁻¹ Λ = Λ − Λ L (I + Lᵀ Λ L)⁻¹ Lᵀ Λ.
        let root = own(card).cholesky();
        let mut normal = root.transposed().times(&information.times(&root));
        (0..BLANK).for_each(|i| normal[(i, i)] += 1.0);
        let middle = root.times(&normal.inverse()).times(&root.transposed());
        let taken = information.times(&middle);
        let lost = taken.times(&information);
        let lost_side = taken.apply(&vector);
        for i in 0..BLANK {
            self.vector[i] += vector[i] - lost_side[i];
            for j in 0..BLANK {
                self.information[(i, j)] += information[(i, j)] - lost[(i, j)];
            }
        }
        self.n_models += 1;
    }

    /// The prior of a model that was never cut: its card's, with what it has in common with the others.
    #[must_use]
    pub fn prior(&self, card: &Prior) -> Prior {
        if self.n_models == 0 {
            return card.clone();
        }
        let own = own(card);
        let mut prior = card.clone();
        for i in 0..BLANK {
            for j in 0..BLANK {
                prior.covariance[(i, j)] -= own[(i, j)];
            }
        }
        // What the models tell is of their way from their cards, as is this card's.
        let known = self.information.apply(&card.mean[..BLANK]);
        let n = prior.mean.len();
        let (mut information, mut vector) = (Matrix::zero(n), vec![0.0; n]);
        for i in 0..BLANK {
            vector[i] = self.vector[i] + known[i];
            for j in 0..BLANK {
                information[(i, j)] = self.information[(i, j)];
            }
        }
        prior.learn(&information, &vector);
        for i in 0..BLANK {
            for j in 0..BLANK {
                prior.covariance[(i, j)] += own[(i, j)];
            }
        }
        prior
    }
}

/// The covariance of what is a model's own.
fn own(card: &Prior) -> Matrix {
    let blank: [usize; BLANK] = std::array::from_fn(|i| i);
    let mut own = card.covariance.picked(&blank);
    for i in SHARED {
        for j in SHARED {
            own[(i, j)] *= 1.0 - COMMON;
        }
    }
    own
}

/// What the pieces of a model tell of its blank, boards and clamps integrated out; the vector is from the card's mean on.
fn of_blank(pool: &Pool, card: &Prior) -> (Matrix, Vec<f64>) {
    let card = card.with(pool.setups());
    let picked: Vec<usize> = pool.setups().places_in(&card.setups).into_iter().flatten().collect();
    let mean: Vec<f64> = picked.iter().map(|place| card.mean[*place]).collect();
    let n = pool.setups().n();
    let blank: Vec<usize> = (0..BLANK).collect();
    let clamps: Vec<usize> = (BLANK..n).collect();
    let told = pool.told();
    let known = told.information.apply(&mean);
    let side: Vec<f64> = told.vector.iter().zip(known).map(|(told, known)| told - known).collect();
    let clamps_before: Vec<usize> = clamps.iter().map(|i| picked[*i]).collect();
    let root = card.covariance.picked(&clamps_before).cholesky();
    let among = told.information.picked(&clamps);
    let mut normal = root.transposed().times(&among.times(&root));
    (0..normal.n()).for_each(|i| normal[(i, i)] += 1.0);
    let middle = root.times(&normal.inverse()).times(&root.transposed());
    let mut information = told.information.picked(&blank);
    let mut vector = side[..BLANK].to_vec();
    let across = |i: usize| &told.information.row(i)[BLANK..];
    let moved = middle.apply(&side[BLANK..]);
    for i in 0..BLANK {
        let along = middle.apply(across(i));
        vector[i] -= super::matrix::dot(across(i), &moved);
        for j in 0..BLANK {
            information[(i, j)] -= super::matrix::dot(&along, across(j));
        }
    }
    (information, vector)
}
