//! What the pieces of all models tell of the boards and clamps that they were read in.
//!
//! Which pieces those are is the caller's matter.

use super::matrix::Matrix;
use super::outcome::Estimate;
use super::parameters::BLANK;
use super::pool::Pool;
use super::prior::Prior;
use super::setup::Setups;

/// What pieces tell of boards and clamps: a Gaussian likelihood over their tilts and gives.
///
/// Those of several models add up, since models have nothing in common but the boards: with the models integrated out this is exact
/// (a tree of Gaussians: Pearl, *Probabilistic Reasoning in Intelligent Systems*, ch. 7, from memory).
#[derive(Debug, Clone, PartialEq)]
pub struct Clamps {
    /// The boards and clamps; the blank's parameters that stand before theirs are not in what follows.
    setups: Setups,
    information: Matrix,
    vector: Vec<f64>,
}

impl Default for Clamps {
    /// Nothing is told.
    fn default() -> Self {
        Self { setups: Setups::default(), information: Matrix::zero(0), vector: Vec::new() }
    }
}

impl Clamps {
    /// What the pieces of one model tell, whose card makes this prior; the model itself is integrated out.
    ///
    /// With Λ and η the pieces' information on blank (b) and clamps (c), and p₀, Σ₀ the card's of the blank, M = (Σ₀⁻¹ + Λbb)⁻¹:
    /// Λcc − Λcb M Λbc and ηc − Λcb (p₀ + M (ηb − Λbb p₀)).
    pub fn of(pool: &Pool, card: &Prior) -> Self {
        let n_clamps = pool.setups().n() - BLANK;
        let told = pool.told();
        let blank: [usize; BLANK] = std::array::from_fn(|i| i);
        let clamps: Vec<usize> = (BLANK..pool.setups().n()).collect();
        let of_blank = told.information.picked(&blank);
        let root = card.covariance.picked(&blank).cholesky();
        let mut normal = root.transposed().times(&of_blank.times(&root));
        (0..BLANK).for_each(|i| normal[(i, i)] += 1.0);
        let middle = root.times(&normal.inverse()).times(&root.transposed());
        let mean = &card.mean[..BLANK];
        let known = of_blank.apply(mean);
        let side: Vec<f64> =
            told.vector[..BLANK].iter().zip(known).map(|(told, known)| told - known).collect();
        let likely: Vec<f64> =
            mean.iter().zip(middle.apply(&side)).map(|(mean, moved)| mean + moved).collect();
        let mut information = told.information.picked(&clamps);
        let mut vector = told.vector[BLANK..].to_vec();
        for i in 0..n_clamps {
            let across = &told.information.row(BLANK + i)[..BLANK];
            let along = middle.apply(across);
            vector[i] -= super::matrix::dot(across, &likely);
            for j in 0..n_clamps {
                let other = &told.information.row(BLANK + j)[..BLANK];
                information[(i, j)] -= super::matrix::dot(&along, other);
            }
        }
        Self { setups: pool.setups().clone(), information, vector }
    }

    /// Adds what others tell.
    pub fn add(&mut self, others: &Self) {
        self.combine(others, 1.0);
    }

    /// The same without what some tell that were added.
    #[must_use]
    pub fn without(&self, some: &Self) -> Self {
        let mut rest = self.clone();
        rest.combine(some, -1.0);
        rest
    }

    fn combine(&mut self, others: &Self, sign: f64) {
        let all = self.setups.with(&others.setups);
        let mut sum = Self {
            information: Matrix::zero(all.n() - BLANK),
            vector: vec![0.0; all.n() - BLANK],
            setups: all,
        };
        for (one, sign) in [(&*self, 1.0), (others, sign)] {
            let places: Vec<usize> = one.setups.places_in(&sum.setups)[BLANK..]
                .iter()
                .flatten()
                .map(|place| place - BLANK)
                .collect();
            for (i, to) in places.iter().enumerate() {
                sum.vector[*to] += sign * one.vector[i];
                for (j, other) in places.iter().enumerate() {
                    sum.information[(*to, *other)] += sign * one.information[(i, j)];
                }
            }
        }
        *self = sum;
    }
}

impl Prior {
    /// The same with what other pieces tell of boards and clamps, which this prior must not know of by other ways.
    #[must_use]
    pub fn knowing(&self, clamps: &Clamps) -> Self {
        if clamps.vector.is_empty() {
            return self.clone();
        }
        let mut knowing = self.with(&clamps.setups);
        let n = knowing.mean.len();
        let places: Vec<usize> =
            clamps.setups.places_in(&knowing.setups)[BLANK..].iter().flatten().copied().collect();
        let mut information = Matrix::zero(n);
        let mut vector = vec![0.0; n];
        for (i, to) in places.iter().enumerate() {
            vector[*to] = clamps.vector[i];
            for (j, other) in places.iter().enumerate() {
                information[(*to, *other)] = clamps.information[(i, j)];
            }
        }
        knowing.learn(&information, &vector);
        knowing
    }

    /// The tilt of a board as far as it is known: the clamp's angle above horizontal, in rad.
    pub fn tilt_of(&self, board: u64) -> Option<Estimate> {
        let parameter = self.setups.tilt(board)?;
        let sd = self.covariance[(parameter, parameter)].sqrt();
        Some(Estimate::any(self.mean[parameter], sd))
    }

    /// How far a clamp yields as far as it is known, in rad per N m.
    pub fn give_of(&self, clamp: u64) -> Option<Estimate> {
        let parameter = self.setups.give(clamp)?;
        let q = Estimate::any(self.mean[parameter], self.covariance[(parameter, parameter)].sqrt());
        let give = |q: f64| self.gives().give(q);
        Some(Estimate { value: give(q.value), low: give(q.low), high: give(q.high) })
    }
}
