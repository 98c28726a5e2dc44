//! The elastica: its energy, where its solution is sought from, and load continuation.
//!
//! Newton's method itself is in `newton`, the tangents of a solution in `tangent`; what a caller asks is in the parent.
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

use std::f64::consts::FRAC_PI_2;

use super::beam::{Beam, GAUSS, GAUSS_WEIGHT};
use super::field::{Field, Pair};
use super::newton::{Moved, Row};
use super::turn::sin_cos;

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

/// A bend, and the room that finding it takes; use it again to save allocations.
#[derive(Debug, Clone, Default)]
pub(crate) struct Elastica {
    /// The angle below horizontal.
    pub(crate) phi: Field,
    /// The pull in N.
    pub(crate) pull: f64,
    pub(super) rows: Vec<Row>,
    /// What the root's stiffness is after all else is eliminated.
    pub(super) root_pivot: f64,
    pub(super) step: Field,
    pub(super) step_by_pull: Field,
    saved: Field,
}

/// Whether there is one bend alone in the range of angles that [`Elastica::is_the_one`] looks at, so that nothing goes astray.
///
/// Own weight and a pull straight down on a clamp that is not raised make Π convex where 0 <= φ <= 90°,
/// so there is one solution there.
/// So it is where the clamp is raised slightly and −α <= φ: two solutions of one pull would differ by δ with
/// ∫ EI δ'² + Fd sin φ̄ δ² = 0 for some φ̄ between them, and the second part is below zero only near the root, until
/// the moment has turned the blank by α. That is as far as s = α EI / Fd X or so, X being how far out the load
/// hangs, and as δ begins at the clamp with nothing the first part is larger there by 2 Fd X² / α³ EI times.
fn is_convex(root: Root, backward: f64, target: Target) -> bool {
    root.raised.abs() <= SLIGHTLY_RAISED
        && backward == 0.0
        && !matches!(target, Target::Pull(pull) if pull < 0.0)
}

impl Moved {
    /// Whether it is sure that the bend found continues the one that it was sought from.
    ///
    /// A bend on another branch lies off the tangent by as much as it lies away, or more.
    fn continues(self) -> bool {
        self.along_tangent <= LONGEST_CONTINUATION_STEP && self.after <= 0.5 * self.along_tangent
    }
}

/// A clamp raised by no more than this, in rad, either way is raised slightly.
const SLIGHTLY_RAISED: f64 = 0.1;
/// No step of a continuation turns it further than this.
const LONGEST_CONTINUATION_STEP: f64 = 0.6;
/// The shortest step of a continuation, as a part of the load: where even this does not lead on, the blank has buckled.
const SHORTEST_CONTINUATION: f64 = 1.0 / (1u64 << 30) as f64;
/// The most steps of a continuation, so that it ends on any input.
const MOST_CONTINUATIONS: usize = 1000;

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
        self.phi.reset(n, -root.raised);
        self.pull = 0.0;
        if is_convex(root, backward, target) {
            if let Target::TipDrop(drop) = target {
                self.guess(beam, root, drop);
            }
            if self.newton(beam, root, backward, target, 1.0).is_ok() && self.is_the_one(root) {
                return Ok(());
            }
        }
        self.phi.reset(n, -root.raised);
        self.pull = 0.0;
        // Own weight acts first, and then the pull grows: so it does on the bench.
        self.walk(beam, root, backward, |part| (Target::Pull(0.0), part))?;
        match target {
            Target::Pull(pull) => {
                self.walk(beam, root, backward, |part| (Target::Pull(part * pull), 1.0))
            }
            Target::TipDrop(drop) => {
                let start = self.tip_drop(beam);
                let along = |part| (Target::TipDrop(start + part * (drop - start)), 1.0);
                self.walk(beam, root, backward, along)
            }
            Target::TipAngle(angle) => {
                let start = self.tip_angle();
                let along = |part| (Target::TipAngle(start + part * (angle - start)), 1.0);
                self.walk(beam, root, backward, along)
            }
        }
    }

    /// Finds the bend from another that is near, that of a blank or a clamp that differ a little; from anywhere if there is none.
    ///
    /// Where there is one bend alone it does not matter from where it is sought, but for how soon it is found.
    pub(crate) fn solve_near(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        target: Target,
    ) -> Result<(), Fail> {
        let is_near = self.phi.0.len() == beam.elements.len() + 1;
        if is_near
            && is_convex(root, backward, target)
            && self.newton(beam, root, backward, target, 1.0).is_ok()
            && 0.0 <= self.pull
            && self.is_the_one(root)
        {
            return Ok(());
        }
        self.solve(beam, root, backward, target)
    }

    /// Begins from the bend of another piece or state by the same target: each place turned as that at the same part of the free
    /// length.
    ///
    /// A blank from which a little was cut bends much like the one before; by how much it differs is for Newton's method to find.
    pub(crate) fn begin_like(&mut self, beam: &Beam, other: &Self, other_beam: &Beam) {
        let there = &other_beam.elements[..];
        if other.phi.0.len() != there.len() + 1 {
            return;
        }
        self.phi.reset(beam.elements.len(), 0.0);
        let longer = other_beam.free / beam.free;
        // A third of the length down asks for a pull as EI over the length squared.
        self.pull = other.pull * longer * longer;
        let (clamp, clamp_there) = (beam.elements[0].from, there[0].from);
        let mut element_idx = 0;
        let mut turned = |at: f64| {
            let at = clamp_there + (at - clamp) * longer;
            while element_idx + 1 < there.len() && there[element_idx + 1].from <= at {
                element_idx += 1;
            }
            let part = (at - there[element_idx].from) / there[element_idx].length;
            other.phi.at(element_idx, part)
        };
        for (element, pair) in beam.elements.iter().zip(&mut self.phi.0) {
            pair.node = turned(element.from);
            pair.middle = turned(element.from + 0.5 * element.length);
        }
        self.phi.0[beam.elements.len()].node = other.tip_angle();
        for element_idx in 0..beam.elements.len() {
            let ends = self.phi.0[element_idx].node + self.phi.0[element_idx + 1].node;
            self.phi.0[element_idx].middle -= 0.5 * ends;
        }
    }

    /// Whether a bend that was found lies where there is no other.
    fn is_the_one(&self, root: Root) -> bool {
        let least = (-root.raised).min(0.0) - 1e-6;
        let within = |pair: &Pair| (least..=FRAC_PI_2 + 1e-6).contains(&pair.node);
        self.pull < 0.0 || self.phi.0.iter().all(within)
    }

    /// The tip's angle below horizontal.
    pub(crate) fn tip_angle(&self) -> f64 {
        self.phi.0[self.phi.0.len() - 1].node
    }

    /// How far the tip is turned from the root.
    pub(crate) fn turned(&self) -> f64 {
        self.tip_angle() - self.phi.0[0].node
    }

    /// How far the tip lies below the clamp line.
    pub(crate) fn tip_drop(&self, beam: &Beam) -> f64 {
        let mut drop = 0.0;
        for (element_idx, element) in beam.elements.iter().enumerate() {
            for (g, weight) in GAUSS_WEIGHT.iter().enumerate() {
                drop += weight * element.length * sin_cos(self.phi.at(element_idx, GAUSS[g])).0;
            }
        }
        drop
    }

    /// A bend that is near the one that brings the tip down by `drop`: that of linear theory, with a drop that stands for the
    /// part by which a sine is less than its angle.
    fn guess(&mut self, beam: &Beam, root: Root, drop: f64) {
        const LINEAR: f64 = 1.12;
        // The tip's linear drops under own weight and under a newton, by virtual work; moments of own weight go to `step`.
        let (mut by_weight, mut by_newton) = (0.0, 0.0);
        let (mut from_tip, mut moment) = (0.0, 0.0);
        self.step.reset(beam.elements.len(), 0.0);
        for (element, pair) in beam.elements.iter().zip(&mut self.step.0).rev() {
            let force: f64 = (0..3).map(|g| GAUSS_WEIGHT[g] * element.weight[g]).sum();
            pair.middle = moment + 0.5 * element.length * force;
            moment += element.length * force;
            let middle = from_tip + 0.5 * element.length;
            by_weight += element.flexibility.whole * pair.middle * middle;
            by_newton += element.flexibility.whole * middle * middle;
            from_tip += element.length;
        }
        let bent = LINEAR * drop + root.raised * beam.free;
        self.pull = ((bent - by_weight) / by_newton).max(0.0);
        let (mut from_clamp, mut angle) = (0.0, -root.raised);
        for (element_idx, element) in beam.elements.iter().enumerate() {
            let middle = beam.free - from_clamp - 0.5 * element.length;
            let moment = self.step.0[element_idx].middle + self.pull * middle;
            angle += element.flexibility.whole * moment;
            self.phi.0[element_idx + 1].node = angle;
            from_clamp += element.length;
        }
    }

    /// Walks from the present bend, which is that of part 0, to part 1, halving a step that fails and doubling after one that doesn't.
    ///
    /// A step fails when Newton's method meets an unstable bend, does not settle, or settles where it is not sure to be on the branch
    /// that it began on.
    fn walk(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        along: impl Fn(f64) -> (Target, f64),
    ) -> Result<(), Fail> {
        let (mut done, mut step) = (0.0, 1.0f64);
        for _ in 0..MOST_CONTINUATIONS {
            let part = (done + step).min(1.0);
            self.saved.0.clone_from(&self.phi.0);
            let pull = self.pull;
            let (target, weight_part) = along(part);
            let fail = match self.newton(beam, root, backward, target, weight_part) {
                Ok(moved) if moved.continues() => {
                    if part == 1.0 {
                        return Ok(());
                    }
                    done = part;
                    step *= 2.0;
                    continue;
                }
                Ok(_) => Fail::Unstable,
                Err(fail) => fail,
            };
            self.phi.0.clone_from(&self.saved.0);
            self.pull = pull;
            step *= 0.5;
            if step < SHORTEST_CONTINUATION {
                return Err(fail);
            }
        }
        Err(Fail::Unsettled)
    }
}
