//! Angles along the beam, and all that pairs with them: a number at each node and one in the middle of each element.
//!
//! On an element φ = φa (1 − ξ) + φb ξ + 4 μ ξ (1 − ξ), ξ from 0 to 1.

use super::beam::GAUSS;
use super::flexibility::Bending;

/// The shape functions of an element at its Gauss points: of its clamp end, its tip end and its middle unknown.
pub(crate) const SHAPE: [[f64; 3]; 3] = [shape(GAUSS[0]), shape(GAUSS[1]), shape(GAUSS[2])];

const fn shape(part: f64) -> [f64; 3] {
    [1.0 - part, part, 4.0 * part * (1.0 - part)]
}

/// A number at a node, and one in the middle of the element that begins there; the latter is zero at the tip.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Pair {
    pub(crate) node: f64,
    pub(crate) middle: f64,
}

/// A right-hand side or a solution, from the clamp to the tip.
#[derive(Debug, Clone, Default)]
pub(crate) struct Field(pub(crate) Vec<Pair>);

impl Field {
    pub(crate) fn reset(&mut self, n_elements: usize, node: f64) {
        self.0.clear();
        self.0.resize(n_elements + 1, Pair { node, middle: 0.0 });
    }

    /// The value a part of the way along an element.
    pub(crate) fn at(&self, element: usize, part: f64) -> f64 {
        let (Pair { node: a, middle }, b) = (self.0[element], self.0[element + 1].node);
        a + part * (b - a) + 4.0 * middle * part * (1.0 - part)
    }

    /// The moment that this field of angles makes at a Gauss point.
    pub(crate) fn moment(&self, element: usize, bending: &Bending, gauss: usize) -> f64 {
        let (Pair { node: a, middle }, b) = (self.0[element], self.0[element + 1].node);
        bending.moment(b - a, middle, gauss)
    }

    /// Adds `value` times the shape functions at a part of an element.
    pub(crate) fn spread(&mut self, element: usize, part: f64, value: f64) {
        let [a, b, middle] = shape(part);
        self.0[element].node += value * a;
        self.0[element].middle += value * middle;
        self.0[element + 1].node += value * b;
    }

    /// Adds `factor` times another.
    pub(crate) fn add(&mut self, factor: f64, other: &Self) {
        for (one, other) in self.0.iter_mut().zip(&other.0) {
            one.node += factor * other.node;
            one.middle += factor * other.middle;
        }
    }

    /// The largest number at a node.
    pub(crate) fn longest(&self) -> f64 {
        self.0.iter().fold(0.0, |most, pair| most.max(pair.node.abs()))
    }
}
