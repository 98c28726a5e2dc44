//! The first mode by inverse iteration, and the exact derivatives of its frequency.
//!
//! A cantilever is statically determinate, so K⁻¹ f takes no factoring: forces add up from the tip to the root, each element bends
//! under what is beyond it, and the bends add up from the root to the tip.
//! That loses no digits however fine the mesh is, which factoring K would with the fourth power of the number of elements.

use std::f64::consts::TAU;

use super::hermite::{ENDS, MASS, shape};
use crate::bend::{Beam, Flexibility, GAUSS, GAUSS_WEIGHT, Gradient};

const MOST_ITERATIONS: usize = 300;
/// Relative changes of ω² from one iteration to the next: below the first it has converged, below the second rounding may be what is left.
const LEAST_CHANGE: f64 = 1e-14;
const ROUNDED: f64 = 1e-9;
/// A blank that is lighter than this, in kg/m³, is none, and its masses would underflow.
const LEAST_DENSITY: f64 = 1e-9;

/// Why there is no mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum NoMode {
    NoWeight,
    NotFound,
}

/// Deflection and slope of a node, or the force and the moment on it.
type Node = [f64; 2];

/// The first mode, and the room that finding it takes.
#[derive(Debug, Clone, Default)]
pub(crate) struct Mode {
    /// ω², in 1/s².
    square: f64,
    /// Deflection in m and slope in m per m at each node, with vᵀ M v = 1.
    vector: Vec<Node>,
    loads: Vec<Node>,
    /// The moment between clamp and blank in the mode.
    root_moment: f64,
    density: f64,
    /// What the beam carries besides its own mass.
    carried: Vec<Carried>,
}

/// A mass on a beam: the element that carries it, where on it from 0 to 1, and the mass in kg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Carried {
    pub(crate) element: usize,
    pub(crate) part: f64,
    pub(crate) mass: f64,
}

impl Mode {
    /// Makes one for a beam that carries masses.
    pub(crate) fn carrying(carried: Vec<Carried>) -> Self {
        Self { carried, ..Self::default() }
    }

    /// Finds the first mode of a beam.
    pub(crate) fn solve(&mut self, beam: &Beam, density: f64, give: f64) -> Result<(), NoMode> {
        if density <= 0.0 {
            return Err(NoMode::NoWeight);
        }
        if density < LEAST_DENSITY {
            return Err(NoMode::NotFound);
        }
        self.density = density;
        // The shape x² is near the first mode of any cantilever.
        self.vector.clear();
        self.vector.reserve(beam.elements.len() + 1);
        self.vector.push([0.0, 0.0]);
        let mut at = 0.0;
        for element in &beam.elements {
            at += element.length / beam.free;
            self.vector.push([at * at, 2.0 * at / beam.free]);
        }
        self.load(beam);
        let (mut before, mut least_change) = (0.0, f64::INFINITY);
        for _ in 0..MOST_ITERATIONS {
            // Rayleigh's quotient of the new vector w = K⁻¹ M v is wᵀ M v / wᵀ M w.
            let (moment, above) = self.bend(beam, give);
            self.load(beam);
            let below = self.work();
            let (square, scale) = (above / below, 1.0 / below.sqrt());
            if !(scale.is_finite() && square.is_finite() && 0.0 < square) {
                return Err(NoMode::NotFound);
            }
            for [value, slope] in self.vector.iter_mut().chain(&mut self.loads) {
                *value *= scale;
                *slope *= scale;
            }
            (self.square, self.root_moment) = (square, moment * scale);
            let change = (square - before).abs() / square;
            // It has also converged when rounding alone moves it, which is when changes no longer fall.
            if change <= LEAST_CHANGE || (change < ROUNDED && least_change <= change) {
                return Ok(());
            }
            least_change = least_change.min(change);
            before = square;
        }
        Err(NoMode::NotFound)
    }

    /// The frequency in Hz.
    pub(crate) fn frequency(&self) -> f64 {
        self.square.sqrt() / TAU
    }

    /// The derivatives of the frequency, by Rayleigh: δ(ω²) = vᵀ (δK − ω² δM) v when vᵀ M v = 1.
    pub(crate) fn gradient(&self, beam: &Beam, gradient: &mut Gradient) {
        let factor = self.frequency() / (2.0 * self.square);
        gradient.log_stiffness.clear();
        gradient.area.clear();
        let (mut force, mut moment) = (0.0, 0.0);
        for (element_idx, element) in beam.elements.iter().enumerate().rev() {
            let ends = self.ends(element_idx, element.length);
            let [load, turning] = self.loads[element_idx + 1];
            force += self.square * load;
            moment += self.square * turning;
            let (mut stiffness, mut area) = ([0.0; 3], [0.0; 3]);
            for g in 0..3 {
                let share = GAUSS_WEIGHT[g] * element.length;
                let here = moment + force * element.length * (1.0 - GAUSS[g]);
                stiffness[g] = factor * share * here * here / element.stiffness[g];
                let swing: f64 = (0..ENDS).map(|i| ends[i] * dot(&MASS[g][i], &ends)).sum();
                area[g] = -factor * self.square * self.density * element.length * swing;
            }
            gradient.log_stiffness.push(stiffness);
            gradient.area.push(area);
            moment += force * element.length;
        }
        gradient.log_stiffness.reverse();
        gradient.area.reverse();
        gradient.log_density = -0.5 * self.frequency();
        gradient.raised = 0.0;
        // The clamp's turn is its give times the moment; by Rayleigh ω² loses the square of that moment per give.
        gradient.give = -factor * self.root_moment * self.root_moment;
    }

    /// `loads` = M · `vector`.
    fn load(&mut self, beam: &Beam) {
        self.loads.clear();
        self.loads.resize(self.vector.len(), [0.0; 2]);
        for (element_idx, element) in beam.elements.iter().enumerate() {
            let ends = self.ends(element_idx, element.length);
            let mut forces = [0.0; ENDS];
            for (table, area) in MASS.iter().zip(element.area) {
                for (force, row) in forces.iter_mut().zip(table) {
                    *force += area * dot(row, &ends);
                }
            }
            let scale = self.density * element.length;
            let near = &mut self.loads[element_idx];
            near[0] += scale * forces[0];
            near[1] += scale * element.length * forces[1];
            let far = &mut self.loads[element_idx + 1];
            far[0] += scale * forces[2];
            far[1] += scale * element.length * forces[3];
        }
        for carried in &self.carried {
            let length = beam.elements[carried.element].length;
            let shape = shape(carried.part);
            let force = carried.mass * dot(&shape, &self.ends(carried.element, length));
            let near = &mut self.loads[carried.element];
            near[0] += force * shape[0];
            near[1] += force * length * shape[1];
            let far = &mut self.loads[carried.element + 1];
            far[0] += force * shape[2];
            far[1] += force * length * shape[3];
        }
    }

    /// `vector` = K⁻¹ · `loads`; returns the moment at the clamp, and `vector` · `loads`, twice the strain energy.
    ///
    /// Leaves `loads` summed up from the tip.
    fn bend(&mut self, beam: &Beam, give: f64) -> (f64, f64) {
        for (element_idx, element) in beam.elements.iter().enumerate().rev() {
            let [force, moment] = self.loads[element_idx + 1];
            let near = &mut self.loads[element_idx];
            near[0] += force;
            near[1] += moment + force * element.length;
        }
        let root_moment = self.loads[0][1];
        let mut energy = give * root_moment * root_moment;
        self.vector[0] = [0.0, give * root_moment];
        for (element_idx, element) in beam.elements.iter().enumerate() {
            let [deflection, slope] = self.vector[element_idx];
            let [force, moment] = self.loads[element_idx + 1];
            let bent = bent(&element.flexibility, element.length, force, moment);
            energy += bent[0] * force + bent[1] * moment;
            self.vector[element_idx + 1] =
                [deflection + slope * element.length + bent[0], slope + bent[1]];
        }
        (root_moment, energy)
    }

    /// `vector` · `loads`.
    fn work(&self) -> f64 {
        self.vector.iter().zip(&self.loads).map(|(v, f)| v[0] * f[0] + v[1] * f[1]).sum()
    }

    /// The unknowns of an element, slopes in units of deflection per element length.
    fn ends(&self, element_idx: usize, length: f64) -> [f64; ENDS] {
        let ([v, slope], [far_v, far_slope]) =
            (self.vector[element_idx], self.vector[element_idx + 1]);
        [v, slope * length, far_v, far_slope * length]
    }
}

/// How an element that is clamped at its near end deflects and turns at its far end under a force and a moment there.
///
/// The moment along it is `moment` + `force` · y, y the distance from the far end; it turns by ∫ M ds / EI and deflects by ∫ M y ds / EI.
fn bent(flexibility: &Flexibility, length: f64, force: f64, moment: f64) -> Node {
    let Flexibility { whole, first, second } = *flexibility;
    let by_y = length * (0.5 * whole - first);
    let by_y_squared = length * length * (0.25 * whole - first + second);
    [by_y_squared * force + by_y * moment, by_y * force + whole * moment]
}

fn dot(a: &[f64; ENDS], b: &[f64; ENDS]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3]
}
