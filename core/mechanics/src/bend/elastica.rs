//! Newton's method on the elastica: assembly, the tridiagonal solve, and load continuation.
//!
//! The tangents of a solution are in `tangent`; what a caller asks is in the parent.
//!
//! Symbols: φ(s) is the angle of the tangent below horizontal, s from the clamp.
//! The internal force N(s) = (outward Fx, downward Fd) is that of the dead loads beyond s, so it is known in advance, and
//! the potential energy is
//!
//! Π(φ) = ∫ ½ EI φ'² − Fx cos φ − Fd sin φ ds + (φ(0) + α)² / 2c
//!
//! with α the angle of the clamp above horizontal and c its give.
//! On an element φ = φa (1 − ξ) + φb ξ + 4 μ ξ (1 − ξ); its middle unknown μ is eliminated element by element, and
//! what remains couples neighbouring nodes only.
//! The row of the root is multiplied by c, so that c = 0 needs no case of its own.

use super::beam::{Beam, GAUSS, GAUSS_WEIGHT};

/// How the root is held, in rad and rad per N m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Root {
    pub(crate) raised: f64,
    pub(crate) give: f64,
}

/// What is asked of the pull.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Target {
    /// It has this size, in N.
    Pull(f64),
    /// It brings the tip this far below the clamp line, in m.
    TipDrop(f64),
    /// It brings the tip to this angle below horizontal, in rad.
    TipAngle(f64),
}

/// Why Newton's method gave up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Fail {
    /// A pivot is not positive: the bend is not stable there.
    Unstable,
    /// It did not settle.
    Unsettled,
}

/// The condensed tangent stiffness of one element, and what is needed to get its middle unknown back.
#[derive(Debug, Clone, Copy, Default)]
struct Condensed {
    /// Couplings of the ends to the middle, divided by the middle's own stiffness.
    a_ratio: f64,
    b_ratio: f64,
    /// One over the middle's own stiffness.
    middle: f64,
}

/// A right-hand side or a solution: a value at each node and one in the middle of each element.
#[derive(Debug, Clone, Default)]
pub(crate) struct Field {
    pub(crate) nodes: Vec<f64>,
    pub(crate) middles: Vec<f64>,
}

impl Field {
    pub(crate) fn reset(&mut self, n_elements: usize, value: f64) {
        self.nodes.clear();
        self.nodes.resize(n_elements + 1, value);
        self.middles.clear();
        self.middles.resize(n_elements, 0.0);
    }

    pub(crate) fn dot(&self, other: &Self) -> f64 {
        let pairs = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        pairs(&self.nodes, &other.nodes) + pairs(&self.middles, &other.middles)
    }

    /// The value and its slope at a Gauss point of an element of the given length.
    pub(crate) fn at(&self, element: usize, length: f64, gauss: usize) -> (f64, f64) {
        self.at_part(element, length, GAUSS[gauss])
    }

    /// The value and its slope a part of the way along an element.
    pub(crate) fn at_part(&self, element: usize, length: f64, part: f64) -> (f64, f64) {
        let (a, b, middle) = (self.nodes[element], self.nodes[element + 1], self.middles[element]);
        let value = a + part * (b - a) + 4.0 * middle * part * (1.0 - part);
        let slope = (b - a + 4.0 * middle * (1.0 - 2.0 * part)) / length;
        (value, slope)
    }

    /// Adds `value` times the shape functions at a part of an element.
    pub(crate) fn spread(&mut self, element: usize, part: f64, value: f64) {
        self.nodes[element] += value * (1.0 - part);
        self.nodes[element + 1] += value * part;
        self.middles[element] += value * 4.0 * part * (1.0 - part);
    }
}

/// A bend, and the room that finding it takes; use it again to save allocations.
#[derive(Debug, Clone, Default)]
pub(crate) struct Elastica {
    /// The angle below horizontal.
    pub(crate) phi: Field,
    /// The pull in N.
    pub(crate) pull: f64,
    /// Out-of-balance moments; after [`Elastica::solve_for`] those of the solution.
    pub(crate) residual: Field,
    /// Derivative of the residual by the pull.
    pub(crate) by_pull: Field,
    /// Derivative of the constraint by the angles; zero where the pull is given.
    pub(crate) constraint: Field,
    diagonal: Vec<f64>,
    beside: Vec<f64>,
    condensed: Vec<Condensed>,
    /// What the root's stiffness is after all else is eliminated.
    root_pivot: f64,
    step: Field,
    step_by_pull: Field,
    saved: Field,
}

/// No Newton step turns the blank further than this at any place, in rad.
const LONGEST_STEP: f64 = 0.7;
/// No step of a continuation turns it further than this, so that it can't land on another branch.
const LONGEST_CONTINUATION_STEP: f64 = 0.6;
/// Newton has settled when a step is smaller than this, in rad; the error that is left is about its square.
const SETTLED: f64 = 1e-9;
const MOST_ITERATIONS: usize = 40;
const SHORTEST_CONTINUATION: f64 = 1.0 / 4096.0;

impl Elastica {
    /// Finds the bend under own weight and a pull in the direction `backward` (from straight down toward the clamp).
    ///
    /// Tries at once from the straight blank where that is known to be safe, else it walks there in steps.
    pub(crate) fn solve(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        target: Target,
    ) -> Result<(), Fail> {
        let n = beam.elements.len();
        // Own weight and a pull straight down on a clamp that is not raised make Π convex where 0 <= φ <= 90°,
        // so there is one solution and nothing to go astray.
        let convex = root.raised == 0.0
            && backward == 0.0
            && !matches!(target, Target::Pull(pull) if pull < 0.0);
        self.phi.reset(n, -root.raised);
        self.pull = 0.0;
        if convex && self.newton(beam, root, backward, target, 1.0).is_ok() {
            return Ok(());
        }
        self.phi.reset(n, -root.raised);
        self.pull = 0.0;
        match target {
            Target::Pull(pull) => {
                self.walk(beam, root, backward, |part| (Target::Pull(part * pull), part))
            }
            Target::TipDrop(drop) => {
                self.walk(beam, root, backward, |part| (Target::Pull(0.0), part))?;
                let start = self.tip_drop(beam);
                let along = |part| (Target::TipDrop(start + part * (drop - start)), 1.0);
                self.walk(beam, root, backward, along)
            }
            Target::TipAngle(angle) => {
                self.walk(beam, root, backward, |part| (Target::Pull(0.0), part))?;
                let start = self.tip_angle();
                let along = |part| (Target::TipAngle(start + part * (angle - start)), 1.0);
                self.walk(beam, root, backward, along)
            }
        }
    }

    /// The tip's angle below horizontal.
    pub(crate) fn tip_angle(&self) -> f64 {
        self.phi.nodes[self.phi.nodes.len() - 1]
    }

    /// How far the tip lies below the clamp line.
    pub(crate) fn tip_drop(&self, beam: &Beam) -> f64 {
        let mut drop = 0.0;
        for (element_idx, element) in beam.elements.iter().enumerate() {
            for (g, weight) in GAUSS_WEIGHT.iter().enumerate() {
                drop +=
                    weight * element.length * self.phi.at(element_idx, element.length, g).0.sin();
            }
        }
        drop
    }

    /// Walks from the straight blank to part 1, halving a step that fails and doubling after one that doesn't.
    fn walk(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        along: impl Fn(f64) -> (Target, f64),
    ) -> Result<(), Fail> {
        let (mut done, mut step) = (0.0, 1.0f64);
        while done < 1.0 {
            let part = (done + step).min(1.0);
            self.saved.clone_from(&self.phi);
            let pull = self.pull;
            let (target, weight_part) = along(part);
            let outcome = self.newton(beam, root, backward, target, weight_part);
            let turned = (self.phi.nodes.iter().zip(&self.saved.nodes))
                .fold(0.0f64, |most, (a, b)| most.max((a - b).abs()));
            if outcome.is_ok() && turned <= LONGEST_CONTINUATION_STEP {
                done = part;
                step *= 2.0;
            } else {
                self.phi.clone_from(&self.saved);
                self.pull = pull;
                step *= 0.5;
                if step < SHORTEST_CONTINUATION {
                    return outcome.and(Err(Fail::Unsettled));
                }
            }
        }
        Ok(())
    }

    /// Newton's method from the present angles and pull.
    fn newton(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        target: Target,
        weight_part: f64,
    ) -> Result<(), Fail> {
        if let Target::Pull(pull) = target {
            self.pull = pull;
        }
        for _ in 0..MOST_ITERATIONS {
            let miss = self.assemble(beam, root, backward, target, weight_part)?;
            let root_miss = self.phi.nodes[0] + root.raised;
            let mut step = std::mem::take(&mut self.step);
            step.clone_from(&self.residual);
            self.substitute(root.give, root_miss, &mut step);
            let mut pull_step = 0.0;
            if !matches!(target, Target::Pull(_)) {
                let mut by_pull = std::mem::take(&mut self.step_by_pull);
                by_pull.clone_from(&self.by_pull);
                self.substitute(root.give, 0.0, &mut by_pull);
                // The step is −(step + by_pull · pull_step), and the constraint's miss must vanish with it.
                pull_step = (miss - self.constraint.dot(&step)) / self.constraint.dot(&by_pull);
                for (step, by_pull) in step.nodes.iter_mut().zip(&by_pull.nodes) {
                    *step += by_pull * pull_step;
                }
                for (step, by_pull) in step.middles.iter_mut().zip(&by_pull.middles) {
                    *step += by_pull * pull_step;
                }
                self.step_by_pull = by_pull;
            }
            let (longest, sum) = (step.nodes.iter())
                .fold((0.0f64, 0.0), |(most, sum), step| (most.max(step.abs()), sum + step));
            let part = if LONGEST_STEP < longest { LONGEST_STEP / longest } else { 1.0 };
            for (phi, step) in self.phi.nodes.iter_mut().zip(&step.nodes) {
                *phi -= part * step;
            }
            for (phi, step) in self.phi.middles.iter_mut().zip(&step.middles) {
                *phi -= part * step;
            }
            self.pull += part * pull_step;
            self.step = step;
            // `max` passes over what is no number; the sum doesn't.
            if !(sum + pull_step).is_finite() {
                return Err(Fail::Unsettled);
            }
            if longest < SETTLED {
                return Ok(());
            }
        }
        Err(Fail::Unsettled)
    }

    /// Assembles residual and tangent at the present angles and pull, and eliminates from the tip to the root.
    ///
    /// Returns by how much the constraint is missed.
    pub(crate) fn assemble(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        target: Target,
        weight_part: f64,
    ) -> Result<f64, Fail> {
        let n = beam.elements.len();
        self.residual.reset(n, 0.0);
        self.by_pull.reset(n, 0.0);
        self.constraint.reset(n, 0.0);
        self.diagonal.clear();
        self.diagonal.resize(n + 1, 0.0);
        self.beside.clear();
        self.beside.resize(n, 0.0);
        self.condensed.clear();
        self.condensed.resize(n, Condensed::default());
        let (sin_back, cos_back) = backward.sin_cos();
        let (pull_out, pull_down) = (-self.pull * sin_back, self.pull * cos_back);
        let mut drop = 0.0;
        for (element_idx, element) in beam.elements.iter().enumerate() {
            let length = element.length;
            let (mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0);
            let (mut am, mut bm, mut mm) = (0.0, 0.0, 0.0);
            for g in 0..3 {
                let part = GAUSS[g];
                let shape = [1.0 - part, part, 4.0 * part * (1.0 - part)];
                let slope = [-1.0 / length, 1.0 / length, 4.0 * (1.0 - 2.0 * part) / length];
                let share = GAUSS_WEIGHT[g] * length;
                let (phi, bend) = self.phi.at(element_idx, length, g);
                let (sin, cos) = phi.sin_cos();
                let down = pull_down + weight_part * element.weight[g];
                let moment = share * element.stiffness[g] * bend;
                let turning = share * (pull_out * sin - down * cos);
                let stiff = share * element.stiffness[g];
                let geometric = share * (pull_out * cos + down * sin);
                self.residual.nodes[element_idx] += moment * slope[0] + turning * shape[0];
                self.residual.nodes[element_idx + 1] += moment * slope[1] + turning * shape[1];
                self.residual.middles[element_idx] += moment * slope[2] + turning * shape[2];
                let along = -share * (cos * cos_back + sin * sin_back);
                self.by_pull.spread(element_idx, part, along);
                aa += stiff * slope[0] * slope[0] + geometric * shape[0] * shape[0];
                ab += stiff * slope[0] * slope[1] + geometric * shape[0] * shape[1];
                bb += stiff * slope[1] * slope[1] + geometric * shape[1] * shape[1];
                am += stiff * slope[0] * slope[2] + geometric * shape[0] * shape[2];
                bm += stiff * slope[1] * slope[2] + geometric * shape[1] * shape[2];
                mm += stiff * slope[2] * slope[2] + geometric * shape[2] * shape[2];
                if let Target::TipDrop(_) = target {
                    drop += share * sin;
                    self.constraint.spread(element_idx, part, share * cos);
                }
            }
            if !is_stable(mm) {
                return Err(Fail::Unstable);
            }
            let condensed = Condensed { a_ratio: am / mm, b_ratio: bm / mm, middle: 1.0 / mm };
            self.diagonal[element_idx] += aa - am * condensed.a_ratio;
            self.diagonal[element_idx + 1] += bb - bm * condensed.b_ratio;
            self.beside[element_idx] = ab - am * condensed.b_ratio;
            self.condensed[element_idx] = condensed;
        }
        for node in (0..n).rev() {
            if !is_stable(self.diagonal[node + 1]) {
                return Err(Fail::Unstable);
            }
            self.diagonal[node] -= self.beside[node] * self.beside[node] / self.diagonal[node + 1];
        }
        self.root_pivot = 1.0 + root.give * self.diagonal[0];
        if !is_stable(self.root_pivot) {
            return Err(Fail::Unstable);
        }
        Ok(match target {
            Target::Pull(_) => 0.0,
            Target::TipDrop(wanted) => drop - wanted,
            Target::TipAngle(wanted) => {
                self.constraint.nodes[n] = 1.0;
                self.tip_angle() - wanted
            }
        })
    }

    /// Solves with the eliminated tangent, `field` going in as right-hand side and coming out as solution.
    ///
    /// `root_side` is the right-hand side of the root's own condition, that it turn by so much.
    /// Returns the root's solution divided by the give, which stays finite when the give is zero.
    pub(crate) fn substitute(&self, give: f64, root_side: f64, field: &mut Field) -> f64 {
        let n = self.condensed.len();
        for (element_idx, condensed) in self.condensed.iter().enumerate() {
            let middle = field.middles[element_idx];
            field.nodes[element_idx] -= condensed.a_ratio * middle;
            field.nodes[element_idx + 1] -= condensed.b_ratio * middle;
        }
        for node in (0..n).rev() {
            field.nodes[node] -=
                self.beside[node] / self.diagonal[node + 1] * field.nodes[node + 1];
        }
        let per_give = field.nodes[0] / self.root_pivot;
        field.nodes[0] = (root_side + give * field.nodes[0]) / self.root_pivot;
        for node in 0..n {
            field.nodes[node + 1] = (field.nodes[node + 1] - self.beside[node] * field.nodes[node])
                / self.diagonal[node + 1];
        }
        for (element_idx, condensed) in self.condensed.iter().enumerate() {
            field.middles[element_idx] = condensed.middle * field.middles[element_idx]
                - condensed.a_ratio * field.nodes[element_idx]
                - condensed.b_ratio * field.nodes[element_idx + 1];
        }
        per_give
    }

    /// The moment that the clamp gives the blank, in N m; positive where the blank pulls down.
    pub(crate) fn root_moment(&self) -> f64 {
        -self.residual.nodes[0]
    }
}

/// A pivot that is no number is not stable either.
fn is_stable(pivot: f64) -> bool {
    0.0 < pivot
}
