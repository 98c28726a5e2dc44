//! What a range is made of: which reading does what for a number, and what is left unsure and why.
//!
//! Which reading to take next is in `worth`.

use std::ops::Range;

use taperbook_units::Length;

use super::matrix::{Matrix, dot};
use super::outcome::{Estimate, Measure};
use super::parameters::{
    self, BELLY_BUTT, BELLY_TIP, BLANK, DENSITY, LENGTH, MODULUS, OD_BUTT, OD_TIP, TIP_DENSITY,
    TIP_MODULUS, TREND, WALL_BUTT, WALL_TIP,
};
use super::posterior::Posterior;
use super::worth::NoWorth;

/// A number with its range taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// The number.
    pub estimate: Estimate,
    /// What each group of readings does for it, in the order in which the groups were given; none for one that taught nothing.
    pub readings: Vec<Option<Told>>,
    /// What the range comes from, the largest first; the shares of the readings are one of these. They sum to 1 where there is a range.
    pub unsure: Vec<(Unsure, f64)>,
}

/// What some readings, such as the points of one board, do for a number together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// What would be believed of the number without them, to first order.
    pub without: Estimate,
    /// By what part they narrow the range that all the others leave: 0 not at all, 1 wholly.
    pub narrows: f64,
    /// How much of the range's square is their own error.
    pub share: f64,
}

/// Why a number is unsure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unsure {
    /// The errors of the readings.
    Readings,
    /// The length of the piece.
    Length,
    /// The modulus.
    Modulus,
    /// The wall.
    Wall,
    /// The density, and how the mass runs along the blank.
    Density,
    /// The outside diameter.
    Diameter,
    /// What diameters and a modulus don't tell of the stiffness along the blank.
    Stiffness,
    /// The solid tip.
    SolidTip,
    /// How the boards' clamps are tilted.
    Tilt,
    /// How far the clamps yield.
    Give,
}

impl Posterior {
    /// Takes the range of a number apart, of the piece with so much cut off in all, held at a place from its then-present butt.
    ///
    /// Each of `groups` names readings, by their place in the list given to the fit, that are looked at together.
    ///
    /// With the posterior covariance Σ, a number's slopes g, the prior Σ₀ = L Lᵀ and the readings' slopes Jᵢ (in their standard
    /// deviations), the error of what is believed is Σ (Σ₀⁻¹ e₀ + Σᵢ Jᵢ εᵢ), so that gᵀ Σ g = |L⁻¹ Σ g|² + Σᵢ (gᵀ Σ Jᵢ)²: a sum over what
    /// was unsure before any reading, parameter by parameter, and over the readings' own errors (linear propagation, JCGM 100:2008, 5.1).
    /// Where past pieces tie parameters together, the shares among them depend on the order in which they are taken.
    ///
    /// Without reading i the covariance is Σ + Σ Jᵢ Jᵢᵀ Σ / (1 − hᵢ), hᵢ = Jᵢᵀ Σ Jᵢ, and what is believed moves by −Σ Jᵢ rᵢ / (1 − hᵢ),
    /// rᵢ being the miss that is left; of a group one is taken out after the other (Cook, *Technometrics* 19 (1977) 15, from memory; held by a test against fits without the reading).
    ///
    /// # Errors
    /// When the cuts leave nothing, or the number can't be computed.
    pub fn parts(
        &self,
        measure: Measure,
        (tip_cut, butt_cut): (Length, Length),
        held_at: Length,
        groups: &[Vec<usize>],
    ) -> Result<Parts, NoWorth> {
        let outcome = self.outcome(tip_cut, butt_cut, held_at)?;
        let estimate = outcome.estimate(measure)?;
        let number = outcome.number(measure)?;
        let apart = outcome.apart(measure);
        let mut by = vec![0.0; self.mean.len()];
        by[..BLANK].copy_from_slice(&number.by[..BLANK]);
        let along = self.covariance.apply(&by);
        let variance = (dot(&by, &along) + apart * apart).max(0.0);
        let share = |square: f64| if 0.0 < variance { square / variance } else { 0.0 };
        let tells = |reading: usize| dot(&self.slopes[reading], &along).powi(2);
        let by_readings: f64 = (0..self.slopes.len()).map(tells).sum();
        let readings = (groups.iter())
            .map(|group| {
                let taught = |reading: &usize| {
                    self.residuals.get(*reading).is_some_and(|one| one.predicted.is_ok())
                };
                let group: Vec<usize> = group.iter().copied().filter(taught).collect();
                if group.is_empty() {
                    return None;
                }
                let (covariance, moved) = self.without(&group);
                let without = (covariance.square(&by).max(0.0) + apart * apart).sqrt();
                let value = number.value + dot(&by, &moved);
                Some(Told {
                    without: Estimate::positive(value, without),
                    narrows: if 0.0 < without { 1.0 - variance.sqrt() / without } else { 0.0 },
                    share: share(group.into_iter().map(tells).sum()),
                })
            })
            .collect();
        let before = solved(&self.prior.covariance.cholesky(), &along);
        let mut unsure = vec![(Unsure::Readings, share(by_readings))];
        for (why, parameters) in self.sources() {
            let sum: f64 = parameters.into_iter().map(|i| before[i] * before[i]).sum();
            let sum = if why == Unsure::Diameter { sum + apart * apart } else { sum };
            unsure.push((why, share(sum)));
        }
        unsure.retain(|(_, share)| 0.0 < *share);
        unsure.sort_by(|a, b| b.1.total_cmp(&a.1));
        Ok(Parts { estimate, readings, unsure })
    }

    /// What is not sure without some readings, and by how much what is believed moves.
    fn without(&self, readings: &[usize]) -> (Matrix, Vec<f64>) {
        let mut covariance = self.covariance.clone();
        let mut moved = vec![0.0; self.mean.len()];
        for &reading in readings {
            let slopes = &self.slopes[reading];
            // The residual is given in standard deviations of the difference, which is 1 / √(1 − h) of the miss.
            let miss = self.residuals[reading].miss
                * (1.0 - self.covariance.square(slopes)).max(1e-9).sqrt();
            let along = covariance.apply(slopes);
            let left = (1.0 - dot(slopes, &along)).max(1e-9);
            let miss = miss - dot(slopes, &moved);
            for (moved, along) in moved.iter_mut().zip(&along) {
                *moved -= along * miss / left;
            }
            covariance.add_square(&along, 1.0 / left);
        }
        (covariance, moved)
    }

    /// The parameters behind each reason.
    fn sources(&self) -> Vec<(Unsure, Vec<usize>)> {
        let n_boards = self.prior.setups.boards().len();
        let range = |range: Range<usize>| range.collect::<Vec<_>>();
        vec![
            (Unsure::Length, vec![LENGTH]),
            (Unsure::Modulus, vec![MODULUS, TREND]),
            (Unsure::Wall, vec![WALL_BUTT, WALL_TIP]),
            (Unsure::Density, [vec![DENSITY], range(parameters::mass_knots())].concat()),
            (Unsure::Diameter, vec![OD_BUTT, OD_TIP, BELLY_BUTT, BELLY_TIP]),
            (Unsure::Stiffness, range(parameters::knots())),
            (Unsure::SolidTip, vec![TIP_MODULUS, TIP_DENSITY]),
            (Unsure::Tilt, range(BLANK..BLANK + n_boards)),
            (Unsure::Give, range(BLANK + n_boards..self.mean.len())),
        ]
    }
}

/// L⁻¹ v for a lower triangle L; zero for what has no spread.
fn solved(lower: &Matrix, vector: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; vector.len()];
    for i in 0..vector.len() {
        let pivot = lower[(i, i)];
        if 0.0 < pivot {
            out[i] = (vector[i] - dot(&lower.row(i)[..i], &out[..i])) / pivot;
        }
    }
    out
}
