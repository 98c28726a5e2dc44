//! Where the points of a bent blank lie: x = ∫ cos φ ds outward, y = −∫ sin φ ds up.

use super::beam::{Beam, GAUSS, GAUSS_WEIGHT};
use super::elastica::Elastica;

/// Enough to find a place within an element to a millionth of its length.
const BISECTIONS: usize = 20;

impl Elastica {
    /// Places evenly spaced along the free length, at least two, from the clamp to the tip.
    pub(crate) fn places(&self, beam: &Beam, n_points: usize) -> impl Iterator<Item = (f64, f64)> {
        let n_points = n_points.max(2);
        let (mut element_idx, mut start, mut passed) = (0, (0.0, 0.0), 0.0);
        (0..n_points).map(move |point_idx| {
            let along = beam.free * point_idx as f64 / (n_points - 1) as f64;
            let last = beam.elements.len() - 1;
            while element_idx < last && passed + beam.elements[element_idx].length < along {
                start = self.advance(beam, element_idx, 1.0, start);
                passed += beam.elements[element_idx].length;
                element_idx += 1;
            }
            let part = ((along - passed) / beam.elements[element_idx].length).clamp(0.0, 1.0);
            self.advance(beam, element_idx, part, start)
        })
    }

    /// The place a part of the way along an element that begins at `start`.
    pub(crate) fn advance(
        &self,
        beam: &Beam,
        element_idx: usize,
        part: f64,
        (mut x, mut y): (f64, f64),
    ) -> (f64, f64) {
        let length = beam.elements[element_idx].length;
        for g in 0..3 {
            let phi = self.phi.at(element_idx, part * GAUSS[g]);
            x += GAUSS_WEIGHT[g] * part * length * phi.cos();
            y -= GAUSS_WEIGHT[g] * part * length * phi.sin();
        }
        (x, y)
    }
}

/// The place on a bent blank that is nearest to another.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nearest {
    pub(crate) element: usize,
    pub(crate) part: f64,
    /// The blank's normal there, outward and up.
    pub(crate) normal: (f64, f64),
    /// How far the blank lies above the other place, along that normal.
    pub(crate) above: f64,
}

impl Elastica {
    /// Finds the place on the blank nearest to (x, y): where the line to it is square to the blank, or an end.
    pub(crate) fn nearest(&self, beam: &Beam, (x, y): (f64, f64)) -> Nearest {
        let further = |element: usize, part: f64, place: (f64, f64)| {
            let phi = self.phi.at(element, part);
            (x - place.0) * phi.cos() - (y - place.1) * phi.sin()
        };
        let last = beam.elements.len() - 1;
        let (mut element, mut start) = (0, (0.0, 0.0));
        while element < last {
            let next = self.advance(beam, element, 1.0, start);
            if further(element, 1.0, next) <= 0.0 {
                break;
            }
            (element, start) = (element + 1, next);
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..BISECTIONS {
            let part = 0.5 * (low + high);
            if 0.0 < further(element, part, self.advance(beam, element, part, start)) {
                low = part;
            } else {
                high = part;
            }
        }
        let part = 0.5 * (low + high);
        let place = self.advance(beam, element, part, start);
        let phi = self.phi.at(element, part);
        let normal = (phi.sin(), phi.cos());
        let above = (place.0 - x) * normal.0 + (place.1 - y) * normal.1;
        Nearest { element, part, normal, above }
    }
}
