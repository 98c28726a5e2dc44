//! The lessons of a model's pieces, added up for each factor by which pieces may differ more or less than usual.

use super::lesson::Lesson;
use super::pool::{Pool, Spread};
use super::prior::Prior;

/// The factors that are tried, evenly spaced in their logarithm.
const FACTORS: [f64; 9] = [0.25, 0.354, 0.5, 0.707, 1.0, 1.414, 2.0, 2.828, 4.0];
/// How far a model's spread is from the usual, as a factor (common practice, no source).
const FACTOR_SPREAD: f64 = 1.7;

/// The lessons of some pieces, added up once for each factor that is tried: all that is asked of how pieces differ, and of
/// what was believed of the model beforehand, is answered from these.
///
/// The same pieces in another order, or put together of parts, give the same up to rounding.
#[derive(Debug, Clone)]
pub struct Pools(Vec<Pool>);

impl Pools {
    /// Starts without a piece; `usual` is how much pieces usually differ.
    pub fn new(usual: &Spread) -> Self {
        Self(FACTORS.iter().map(|factor| Pool::new(&usual.times(*factor))).collect())
    }

    /// Adds some lessons up.
    pub fn of(usual: &Spread, lessons: &[&Lesson]) -> Self {
        let mut pools = Self::new(usual);
        lessons.iter().for_each(|lesson| pools.add(lesson));
        pools
    }

    /// Adds the lesson of a piece.
    pub fn add(&mut self, lesson: &Lesson) {
        self.0.iter_mut().for_each(|pool| pool.add(lesson));
    }

    /// Adds the lessons of other pieces.
    pub fn merge(&mut self, others: &Self) {
        self.0.iter_mut().zip(&others.0).for_each(|(pool, others)| pool.merge(others));
    }

    /// Gives the same without the lesson of a piece that was added.
    #[must_use]
    pub fn without(&self, lesson: &Lesson) -> Self {
        Self(self.0.iter().map(|pool| pool.without(lesson)).collect())
    }

    /// How much the pieces differ, so many times what is usual, see [`Spread::estimated`].
    pub fn estimated(&self, prior: &Prior) -> f64 {
        if self.0.iter().any(|pool| pool.n_pieces() < 2) {
            return 1.0;
        }
        let weighed = self.weighed(prior);
        let most = most_of(&weighed);
        if !most.is_finite() {
            return 1.0;
        }
        let (mut sum, mut squares) = (0.0, 0.0);
        for (factor, log) in weighed {
            let weight = (log - most).exp();
            sum += weight;
            squares += weight * factor * factor;
        }
        (squares / sum).sqrt()
    }

    /// How much likelier all lessons are when one thing was believed of the model beforehand than when another was, however much pieces
    /// differ (a Bayes factor: Kass & Raftery, *J. Amer. Statist. Assoc.* 90 (1995) 773, from memory).
    pub fn odds(&self, one: &Prior, other: &Prior) -> f64 {
        let evidence = |prior: &Prior| {
            let weighed = self.weighed(prior);
            let most = most_of(&weighed);
            most + weighed.iter().map(|(_, log)| (log - most).exp()).sum::<f64>().ln()
        };
        (evidence(one) - evidence(other)).clamp(-100.0, 100.0).exp()
    }

    /// The factors that are tried, and ln of how probable each is with what the lessons say, up to a constant.
    fn weighed(&self, prior: &Prior) -> Vec<(f64, f64)> {
        let weighed = |(factor, pool): (&f64, &Pool)| {
            let usual = factor.ln() / FACTOR_SPREAD.ln();
            (*factor, pool.log_evidence(prior) - 0.5 * usual * usual)
        };
        FACTORS.iter().zip(&self.0).map(weighed).collect()
    }
}

fn most_of(weighed: &[(f64, f64)]) -> f64 {
    weighed.iter().fold(f64::NEG_INFINITY, |most, (_, log)| most.max(*log))
}
