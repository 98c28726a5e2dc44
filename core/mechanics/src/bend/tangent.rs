//! Exact derivatives of what is read off a bend, by the adjoint of its equations.
//!
//! One tridiagonal solve per number read gives its derivative by the stiffness and the weight at every Gauss point, the density,
//! and the clamp's tilt and give, so that the parameters behind them can be as many as they like.
//!
//! With residual r(φ, P; p) = 0 and constraint C(φ) = 0, a number J(φ, P) has dJ/dp = −λᵀ ∂r/∂p, where
//! K λ + Cφ ν = Jφ and r_Pᵀ λ = J_P; K is the symmetric tangent stiffness.

use super::beam::{Beam, GAUSS, GAUSS_WEIGHT};
use super::elastica::{Elastica, Root, Target};
use super::field::Field;
use super::turn::sin_cos;

/// Derivatives of a number by all that makes it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Gradient {
    /// By ln EI at each Gauss point of each element.
    pub(crate) log_stiffness: Vec<[f64; 3]>,
    /// By the sectional area at each Gauss point, per m².
    pub(crate) area: Vec<[f64; 3]>,
    /// By ln density.
    pub(crate) log_density: f64,
    /// By the pull, per N; zero where the pull is what a target asks for.
    pub(crate) pull: f64,
    /// By the angle of the clamp above horizontal, per rad.
    pub(crate) raised: f64,
    /// By the give of the clamp, per (rad / N m).
    pub(crate) give: f64,
}

/// Room for the adjoint.
#[derive(Debug, Clone, Default)]
pub(crate) struct Adjoint {
    /// In: derivative of the number by the angles. Out: λ.
    lambda: Field,
    constraint: Field,
    by_weight: Vec<[f64; 3]>,
}

/// A number read off a bend.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Number {
    /// The pull, in N.
    Pull,
    /// The tip's angle below horizontal.
    TipAngle,
    /// The centroid of curvature, a part of the free length, from the tip.
    BendCentre,
    /// How far a place on the blank lies outward times `out` plus up times `up`, in m.
    Offset { element: usize, part: f64, out: f64, up: f64 },
}

impl Elastica {
    /// Centroid of curvature from the tip: ∫ φ' (L − s) ds / (L ∫ φ' ds) = (∫ φ ds − φ(0) L) / (L (φ(L) − φ(0))).
    pub(crate) fn bend_centre(&self, beam: &Beam) -> f64 {
        let (mean, turned) = self.mean_and_turned(beam);
        mean / turned
    }

    /// The mean of φ − φ(0), and φ(L) − φ(0).
    fn mean_and_turned(&self, beam: &Beam) -> (f64, f64) {
        let root = self.phi.0[0].node;
        let mut mean = 0.0;
        for (element, pair) in beam.elements.iter().zip(self.phi.0.windows(2)) {
            let ends = 0.5 * (pair[0].node + pair[1].node);
            mean += element.length * (ends - root + pair[0].middle * (2.0 / 3.0));
        }
        (mean / beam.free, self.turned())
    }

    /// The derivatives of a number, from the tangent of the last step toward the bend, which is 1e-7 rad from it or less.
    pub(crate) fn gradient(
        &self,
        beam: &Beam,
        root: Root,
        target: Target,
        number: Number,
        adjoint: &mut Adjoint,
        gradient: &mut Gradient,
    ) {
        let n = beam.elements.len();
        let Adjoint { lambda, constraint, by_weight } = adjoint;
        self.by_angles(beam, number, lambda);
        let mut lambda_per_give = self.substitute(root.give, 0.0, lambda);
        if !matches!(target, Target::Pull(_)) {
            constraint.0.clear();
            constraint.0.extend(self.constraint());
            let constraint_per_give = self.substitute(root.give, 0.0, constraint);
            let by_pull = if let Number::Pull = number { 1.0 } else { 0.0 };
            let multiplier = (self.along_pull(lambda) - by_pull) / self.along_pull(constraint);
            lambda.add(-multiplier, constraint);
            lambda_per_give -= multiplier * constraint_per_give;
        }
        gradient.log_stiffness.clear();
        gradient.area.clear();
        gradient.area.resize(n, [0.0; 3]);
        by_weight.clear();
        gradient.log_density = 0.0;
        for (element_idx, element) in beam.elements.iter().enumerate() {
            let (mut stiffness, mut weight) = ([0.0; 3], [0.0; 3]);
            let bending = &element.bending;
            for g in 0..3 {
                let share = GAUSS_WEIGHT[g] * element.length;
                let moment = self.phi.moment(element_idx, bending, g);
                let by_moment = lambda.moment(element_idx, bending, g);
                stiffness[g] = -share * moment * by_moment / element.stiffness[g];
                let (cos, value) = (
                    sin_cos(self.phi.at(element_idx, GAUSS[g])).1,
                    lambda.at(element_idx, GAUSS[g]),
                );
                weight[g] = share * cos * value;
                gradient.log_density += weight[g] * element.weight[g];
            }
            gradient.log_stiffness.push(stiffness);
            by_weight.push(weight);
        }
        beam.weight_to_area(by_weight, &mut gradient.area);
        gradient.pull = match target {
            Target::Pull(_) => -self.along_pull(lambda),
            Target::TipDrop(_) | Target::TipAngle(_) => 0.0,
        };
        gradient.raised = -lambda_per_give;
        gradient.give = lambda_per_give * self.root_moment();
    }

    /// The derivative of a number by the angles, at a given pull.
    fn by_angles(&self, beam: &Beam, number: Number, field: &mut Field) {
        let n = beam.elements.len();
        field.reset(n, 0.0);
        match number {
            Number::Pull => {}
            Number::TipAngle => field.0[n].node = 1.0,
            Number::BendCentre => {
                let (mean, turned) = self.mean_and_turned(beam);
                for (element_idx, element) in beam.elements.iter().enumerate() {
                    let share = element.length / (beam.free * turned);
                    field.0[element_idx].node += 0.5 * share;
                    field.0[element_idx].middle += share * (2.0 / 3.0);
                    field.0[element_idx + 1].node += 0.5 * share;
                }
                field.0[0].node -= (1.0 - mean / turned) / turned;
                field.0[n].node -= mean / (turned * turned);
            }
            Number::Offset { element, part, out, up } => {
                for (element_idx, whole) in beam.elements.iter().enumerate().take(element + 1) {
                    let until = if element_idx == element { part } else { 1.0 };
                    for g in 0..3 {
                        let place = until * GAUSS[g];
                        let (sin, cos) = sin_cos(self.phi.at(element_idx, place));
                        let share = GAUSS_WEIGHT[g] * whole.length * until;
                        field.spread(element_idx, place, -share * (out * sin + up * cos));
                    }
                }
            }
        }
    }
}
