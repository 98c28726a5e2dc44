//! Newton's method on the elastica: assembly, elimination and the tridiagonal solve.
//!
//! From where it starts and along which loads is not decided here but in `elastica`.

use super::beam::{Beam, GAUSS_WEIGHT};
use super::elastica::{Elastica, Fail, Root, Target};
use super::field::{Field, Pair, SHAPE};
use super::flexibility::Bending;
use super::turn::sin_cos;

/// No Newton step turns the blank further than this at any place, in rad.
const LONGEST_STEP: f64 = 0.7;
/// Newton has settled when a step is smaller than this, in rad; the error that is left is about its square.
const SETTLED: f64 = 1e-7;
const MOST_ITERATIONS: usize = 40;

/// What is assembled at a node and for the element that begins there, and the eliminated tangent.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Row {
    /// Out-of-balance moments.
    residual: Pair,
    /// Their derivatives by the pull.
    by_pull: Pair,
    /// Derivatives of the constraint by the angles; zero where the pull is given.
    constraint: Pair,
    /// Couplings of the element's ends to its middle, divided by the middle's own stiffness.
    a_ratio: f64,
    b_ratio: f64,
    /// One over the middle's own stiffness.
    middle: f64,
    /// The coupling to the next node, and that divided by the next node's pivot.
    beside: f64,
    beside_ratio: f64,
    /// One over the node's pivot; of no meaning at the root.
    per_pivot: f64,
    /// What is left of the node's stiffness when all beyond it is eliminated; at the root that is not a pivot yet.
    pivot: f64,
}

/// How far Newton's method moved the blank, in rad: by its first step, which follows the tangent, and by all later ones together.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moved {
    pub(super) along_tangent: f64,
    pub(super) after: f64,
}

impl Elastica {
    /// Newton's method from the present angles and pull.
    ///
    /// What is assembled and eliminated in the end is so at most [`SETTLED`] from the bend that was found.
    pub(super) fn newton(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        target: Target,
        weight_part: f64,
    ) -> Result<Moved, Fail> {
        if let Target::Pull(pull) = target {
            self.pull = pull;
        }
        let mut moved = Moved { along_tangent: 0.0, after: 0.0 };
        for iteration in 0..MOST_ITERATIONS {
            let miss = self.assemble(beam, root, backward, target, weight_part)?;
            let root_miss = self.phi.0[0].node + root.raised;
            let mut step = std::mem::take(&mut self.step);
            step.0.clear();
            step.0.extend(self.rows.iter().map(|row| row.residual));
            let mut pull_step = 0.0;
            if matches!(target, Target::Pull(_)) {
                self.substitute(root.give, root_miss, &mut step);
            } else {
                let mut by_pull = std::mem::take(&mut self.step_by_pull);
                by_pull.0.clear();
                by_pull.0.extend(self.rows.iter().map(|row| row.by_pull));
                self.substitute_each(root.give, [root_miss, 0.0], [&mut step, &mut by_pull]);
                // The step is −(step + by_pull · pull_step), and the constraint's miss must vanish with it.
                pull_step = (miss - self.along_constraint(&step)) / self.along_constraint(&by_pull);
                step.add(pull_step, &by_pull);
                self.step_by_pull = by_pull;
            }
            let longest = step.longest();
            // `max` passes over what is no number; a sum doesn't.
            let sum: f64 = step.0.iter().map(|pair| pair.node + pair.middle).sum();
            let part = if LONGEST_STEP < longest { LONGEST_STEP / longest } else { 1.0 };
            self.phi.add(-part, &step);
            self.pull += part * pull_step;
            self.step = step;
            if !(sum + pull_step).is_finite() {
                return Err(Fail::Unsettled);
            }
            match iteration {
                0 => moved.along_tangent = longest,
                _ => moved.after += part * longest,
            }
            if longest < SETTLED {
                return Ok(moved);
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
        if backward == 0.0 {
            self.assembled::<true>(beam, root, backward, target, weight_part)
        } else {
            self.assembled::<false>(beam, root, backward, target, weight_part)
        }
    }

    /// [`Elastica::assemble`]; where the pull hangs straight down half of the sums fall out.
    fn assembled<const HANGS: bool>(
        &mut self,
        beam: &Beam,
        root: Root,
        backward: f64,
        target: Target,
        weight_part: f64,
    ) -> Result<f64, Fail> {
        let n = beam.elements.len();
        self.rows.clear();
        self.rows.resize(n + 1, Row::default());
        let (sin_back, cos_back) = backward.sin_cos();
        let (pull_out, pull_down) = (-self.pull * sin_back, self.pull * cos_back);
        let drop_is_given = matches!(target, Target::TipDrop(_));
        let mut drop = 0.0;
        for (element_idx, element) in beam.elements.iter().enumerate().rev() {
            let (Pair { node: a, middle }, b) =
                (self.phi.0[element_idx], self.phi.0[element_idx + 1].node);
            let (to_ends, to_middle) = element.bending.resist(b - a, middle);
            let mut residual = [-to_ends, to_ends, to_middle];
            let (mut by_pull, mut constraint) = ([0.0; 3], [0.0; 3]);
            let Bending { ends, mixed, middle: mut mm } = element.bending;
            let (mut aa, mut ab, mut bb) = (ends, -ends, ends);
            let (mut am, mut bm) = (-mixed, mixed);
            for g in 0..3 {
                let [to_a, to_b, to_middle] = SHAPE[g];
                let share = GAUSS_WEIGHT[g] * element.length;
                let (sin, cos) = sin_cos(a * to_a + b * to_b + middle * to_middle);
                let down = pull_down + weight_part * element.weight[g];
                let turning =
                    if HANGS { -share * down * cos } else { share * (pull_out * sin - down * cos) };
                residual[0] += turning * to_a;
                residual[1] += turning * to_b;
                residual[2] += turning * to_middle;
                let geometric =
                    if HANGS { share * down * sin } else { share * (pull_out * cos + down * sin) };
                aa += geometric * (to_a * to_a);
                ab += geometric * (to_a * to_b);
                bb += geometric * (to_b * to_b);
                am += geometric * (to_a * to_middle);
                bm += geometric * (to_b * to_middle);
                mm += geometric * (to_middle * to_middle);
                let along =
                    if HANGS { -share * cos } else { -share * (cos * cos_back + sin * sin_back) };
                by_pull[0] += along * to_a;
                by_pull[1] += along * to_b;
                by_pull[2] += along * to_middle;
                if drop_is_given {
                    drop += share * sin;
                    if !HANGS {
                        constraint[0] += share * cos * to_a;
                        constraint[1] += share * cos * to_b;
                        constraint[2] += share * cos * to_middle;
                    }
                }
            }
            if HANGS && drop_is_given {
                // A pull straight down works along the drop.
                constraint = by_pull.map(|along| -along);
            }
            if !is_stable(mm) {
                return Err(Fail::Unstable);
            }
            let inverse = 1.0 / mm;
            let (a_ratio, b_ratio) = (am * inverse, bm * inverse);
            let far = &mut self.rows[element_idx + 1];
            far.residual.node += residual[1];
            far.by_pull.node += by_pull[1];
            far.constraint.node += constraint[1];
            far.pivot += bb - bm * b_ratio;
            if !is_stable(far.pivot) {
                return Err(Fail::Unstable);
            }
            let beside = ab - am * b_ratio;
            far.per_pivot = 1.0 / far.pivot;
            let beside_ratio = beside * far.per_pivot;
            self.rows[element_idx] = Row {
                residual: Pair { node: residual[0], middle: residual[2] },
                by_pull: Pair { node: by_pull[0], middle: by_pull[2] },
                constraint: Pair { node: constraint[0], middle: constraint[2] },
                a_ratio,
                b_ratio,
                middle: inverse,
                beside,
                beside_ratio,
                per_pivot: 0.0,
                pivot: aa - am * a_ratio - beside * beside_ratio,
            };
        }
        self.root_pivot = 1.0 + root.give * self.rows[0].pivot;
        if !is_stable(self.root_pivot) {
            return Err(Fail::Unstable);
        }
        Ok(match target {
            Target::Pull(_) => 0.0,
            Target::TipDrop(wanted) => drop - wanted,
            Target::TipAngle(wanted) => {
                self.rows[n].constraint.node = 1.0;
                self.tip_angle() - wanted
            }
        })
    }

    /// Solves with the eliminated tangent, `field` going in as right-hand side and coming out as solution.
    ///
    /// `root_side` is the right-hand side of the root's own condition, that it turn by so much.
    /// Returns the root's solution divided by the give, which stays finite when the give is zero.
    pub(crate) fn substitute(&self, give: f64, root_side: f64, field: &mut Field) -> f64 {
        let [per_give] = self.substitute_each(give, [root_side], [field]);
        per_give
    }

    /// The same of several at once, none of which waits for the other.
    pub(super) fn substitute_each<const N: usize>(
        &self,
        give: f64,
        root_sides: [f64; N],
        fields: [&mut Field; N],
    ) -> [f64; N] {
        let rows = &self.rows[..];
        let n = rows.len() - 1;
        let fields = fields.map(|field| &mut field.0[..=n]);
        let mut far: [f64; N] = std::array::from_fn(|k| fields[k][n].node);
        for (element_idx, row) in rows[..n].iter().enumerate().rev() {
            for k in 0..N {
                let pair = &mut fields[k][element_idx];
                far[k] -= row.b_ratio * pair.middle;
                let near = pair.node - row.a_ratio * pair.middle - row.beside_ratio * far[k];
                // Each far end keeps its place until the way back, one place nearer than its own.
                pair.node = far[k];
                far[k] = near;
            }
        }
        let per_give = far.map(|far| far / self.root_pivot);
        let mut near: [f64; N] =
            std::array::from_fn(|k| (root_sides[k] + give * far[k]) / self.root_pivot);
        for (element_idx, row) in rows[..n].iter().enumerate() {
            let per_pivot = rows[element_idx + 1].per_pivot;
            for k in 0..N {
                let Pair { node: far_side, middle } = fields[k][element_idx];
                let far = (far_side - row.beside * near[k]) * per_pivot;
                fields[k][element_idx] = Pair {
                    node: near[k],
                    middle: row.middle * middle - row.a_ratio * near[k] - row.b_ratio * far,
                };
                near[k] = far;
            }
        }
        for k in 0..N {
            fields[k][n] = Pair { node: near[k], middle: 0.0 };
        }
        per_give
    }

    /// The derivative of the constraint along a change of the angles.
    pub(crate) fn along_constraint(&self, change: &Field) -> f64 {
        dot(self.rows.iter().map(|row| row.constraint), change)
    }

    /// The derivative by the pull of the out-of-balance moments' work along a change of the angles.
    pub(crate) fn along_pull(&self, change: &Field) -> f64 {
        dot(self.rows.iter().map(|row| row.by_pull), change)
    }

    /// Out-of-balance moments.
    #[cfg(test)]
    pub(crate) fn residual(&self) -> impl Iterator<Item = Pair> {
        self.rows.iter().map(|row| row.residual)
    }

    /// Derivatives of the constraint by the angles.
    pub(crate) fn constraint(&self) -> impl Iterator<Item = Pair> {
        self.rows.iter().map(|row| row.constraint)
    }

    /// The moment that the clamp gives the blank, in N m; positive where the blank pulls down.
    pub(crate) fn root_moment(&self) -> f64 {
        -self.rows[0].residual.node
    }
}

fn dot(one: impl Iterator<Item = Pair>, other: &Field) -> f64 {
    one.zip(&other.0).map(|(a, b)| a.node * b.node + a.middle * b.middle).sum()
}

/// A pivot that is no number is not stable either.
fn is_stable(pivot: f64) -> bool {
    0.0 < pivot
}
