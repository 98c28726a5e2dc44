//! The free length of a tube cut into elements, with stiffness and weight at their Gauss points.
//!
//! Knows nothing of loads or of how the beam bends.

use taperbook_units::STANDARD_GRAVITY;

use super::flexibility::{Bending, Flexibility};
use crate::tube::{LEAST_LENGTH, Tube};

/// Gauss points of an element, from 0 at its clamp end to 1 at its tip end.
///
/// Three points are exact to degree five (Abramowitz & Stegun 25.4.30, table 25.4, n = 3, moved to 0..1).
pub(crate) const GAUSS: [f64; 3] = [0.5 - HALF_SPREAD, 0.5, 0.5 + HALF_SPREAD];
/// Their weights, which sum to 1.
pub(crate) const GAUSS_WEIGHT: [f64; 3] = [5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0];
/// √0.6 / 2.
pub(super) const HALF_SPREAD: f64 = 0.387_298_334_620_741_7;

/// `BEYOND[g][k]` is the integral of the k-th quadratic Lagrange polynomial over the Gauss points, from Gauss point g to 1:
/// with it the area beyond a Gauss point inside its element is exact, area being quadratic there.
pub(crate) const BEYOND: [[f64; 3]; 3] = beyond_table();

const fn beyond_table() -> [[f64; 3]; 3] {
    let spread = 2.0 * HALF_SPREAD;
    let mut table = [[0.0; 3]; 3];
    let mut g = 0;
    while g < 3 {
        let t = 2.0 * GAUSS[g] - 1.0;
        let square = 2.0 * spread * spread;
        let cubes = (1.0 - t * t * t) / 3.0;
        let squares = spread * (1.0 - t * t) / 2.0;
        table[g][0] = 0.5 * (cubes - squares) / square;
        table[g][1] = 0.5 * ((1.0 - t) - 2.0 * cubes / square);
        table[g][2] = 0.5 * (cubes + squares) / square;
        g += 1;
    }
    table
}

/// How many elements a free length without stations between its ends gets.
pub(crate) const BEND_ELEMENTS: f64 = 36.0;

/// How many times EI may grow or fall along one element.
const STEEPEST: f64 = 1.25;
/// The most elements that one is cut into because EI changes along it.
const MOST_PARTS: f64 = 100.0;

/// A piece of the free length between neighbouring nodes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Element {
    /// Where it begins, from the tube's butt, in m.
    pub(crate) from: f64,
    /// Its length in m.
    pub(crate) length: f64,
    /// The segment of the tube, counted in stations, that it lies in.
    pub(crate) segment: usize,
    /// EI at the Gauss points, in N m².
    pub(crate) stiffness: [f64; 3],
    /// How it yields, and how it resists.
    pub(crate) flexibility: Flexibility,
    pub(crate) bending: Bending,
    /// Sectional area at the Gauss points, in m²; where the mass is another than the tube's own density makes it, the area that would
    /// weigh as much.
    pub(crate) area: [f64; 3],
    /// The weight beyond each Gauss point, in N.
    pub(crate) weight: [f64; 3],
}

impl Element {
    /// The place of a Gauss point, from the tube's butt.
    pub(crate) fn place(&self, gauss: usize) -> f64 {
        self.from + self.length * GAUSS[gauss]
    }
}

/// The free length in elements, from the clamp to the tip.
#[derive(Debug, Clone)]
pub(crate) struct Beam {
    pub(crate) elements: Vec<Element>,
    /// The free length in m.
    pub(crate) free: f64,
    /// Density times gravity, in N/m³.
    pub(crate) unit_weight: f64,
}

impl Beam {
    /// Cuts the tube from `held_at` to `end` into about `n_elements` elements, or gives `None` when nothing is free.
    ///
    /// Element edges lie on every station. Lengths fall toward the tip as (1 − v)^¼, v being the share of elements passed,
    /// because that is where a tapered blank bends most.
    /// Where EI changes fast along an element, it is cut into shorter ones.
    pub(crate) fn new(tube: &Tube, held_at: f64, end: f64, n_elements: f64) -> Option<Self> {
        Self::in_room(tube, held_at, end, n_elements, Vec::new())
    }

    /// The same in the room that the elements of another took.
    pub(crate) fn in_room(
        tube: &Tube,
        held_at: f64,
        end: f64,
        n_elements: f64,
        mut elements: Vec<Element>,
    ) -> Option<Self> {
        let free = end - held_at;
        if !(0.0 <= held_at && LEAST_LENGTH <= free && end <= tube.end()) {
            return None;
        }
        // The share passed is 1 − x^(4/5) where x is the part of the free length that is left, so x = (1 − share)^(5/4).
        let share = |at: f64| 1.0 - ((end - at) / free).max(0.0).powf(0.8);
        let place = |share: f64| {
            let left = (1.0 - share).max(0.0);
            end - free * left * left.sqrt().sqrt()
        };
        elements.clear();
        elements.reserve(2 * (tube.stations.len() + count(n_elements)));
        for (segment, pair) in tube.stations.windows(2).enumerate() {
            let (a, b) = (pair[0].at.max(held_at), pair[1].at.min(end));
            if b <= a {
                continue;
            }
            let moment_at = |at: f64| {
                let part = (at - pair[0].at) / (pair[1].at - pair[0].at);
                pair[0].ring.toward(pair[1].ring, part).second_moment()
            };
            let (share_a, share_b) = (share(a), share(b));
            let n = count((n_elements * (share_b - share_a)).ceil().max(1.0));
            let (mut from, mut moment) = (a, moment_at(a));
            for step in 1..=n {
                let part = step as f64 / n as f64;
                let to =
                    if step == n { b } else { place(share_a + part * (share_b - share_a)).min(b) };
                if to <= from {
                    continue;
                }
                let far_moment = moment_at(to);
                let growth = far_moment / moment;
                let n_parts = if (1.0 / STEEPEST..=STEEPEST).contains(&growth) {
                    1
                } else {
                    count((growth.ln().abs() / STEEPEST.ln()).ceil().clamp(1.0, MOST_PARTS))
                };
                let length = (to - from) / n_parts as f64;
                for part_idx in 0..n_parts {
                    let from = from + length * part_idx as f64;
                    elements.push(Element::new(tube, segment, from, length));
                }
                (from, moment) = (to, far_moment);
            }
        }
        let mut beam = Self { elements, free, unit_weight: tube.density * STANDARD_GRAVITY };
        beam.hang_weight();
        Some(beam)
    }

    /// Fills in the weight beyond each Gauss point from the areas.
    fn hang_weight(&mut self) {
        let mut beyond = 0.0;
        for element in self.elements.iter_mut().rev() {
            let scale = self.unit_weight * element.length;
            for (weight, row) in element.weight.iter_mut().zip(BEYOND) {
                *weight = beyond + scale * dot(row, element.area);
            }
            beyond += scale * dot(GAUSS_WEIGHT, element.area);
        }
    }

    /// Turns derivatives by the weight beyond each Gauss point into derivatives by the areas: the transpose of [`Beam::hang_weight`].
    pub(crate) fn weight_to_area(&self, by_weight: &[[f64; 3]], by_area: &mut [[f64; 3]]) {
        let mut nearer = 0.0;
        for ((element, by_weight), by_area) in self.elements.iter().zip(by_weight).zip(by_area) {
            let scale = self.unit_weight * element.length;
            for k in 0..3 {
                let inside: f64 = (0..3).map(|g| BEYOND[g][k] * by_weight[g]).sum();
                by_area[k] = scale * (GAUSS_WEIGHT[k] * nearer + inside);
            }
            nearer += by_weight.iter().sum::<f64>();
        }
    }
}

impl Element {
    fn new(tube: &Tube, segment: usize, from: f64, length: f64) -> Self {
        let (a, b) = (tube.stations[segment], tube.stations[segment + 1]);
        let (mut stiffness, mut area) = ([0.0; 3], [0.0; 3]);
        for g in 0..3 {
            let at = from + length * GAUSS[g];
            let ring = a.ring.toward(b.ring, (at - a.at) / (b.at - a.at));
            let (stiffer, heavier) = tube.correction.factors(at);
            stiffness[g] = a.relative.modulus * tube.modulus * stiffer * ring.second_moment();
            area[g] = a.relative.density * heavier * ring.area();
        }
        let flexibility = Flexibility::new(&stiffness, length);
        let bending = Bending::new(&flexibility);
        Self { from, length, segment, stiffness, flexibility, bending, area, weight: [0.0; 3] }
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[expect(clippy::cast_possible_truncation, reason = "a small whole number by construction")]
#[expect(clippy::cast_sign_loss, reason = "never negative by construction")]
fn count(number: f64) -> usize {
    number as usize
}

#[cfg(test)]
pub(crate) mod testing {
    //! Beams of any stiffness and weight, for closed forms that no tube has.

    use super::*;

    /// A beam of equal elements with given stiffness (N m²) and weight per length (N/m) at a distance from the clamp.
    pub(crate) fn beam(
        free: f64,
        n_elements: usize,
        stiffness: impl Fn(f64) -> f64,
        weight: impl Fn(f64) -> f64,
    ) -> Beam {
        let edge = |element_idx: usize| free * element_idx as f64 / n_elements as f64;
        let edges: Vec<f64> = (0..=n_elements).map(edge).collect();
        beam_on(&edges, stiffness, weight)
    }

    /// The same with elements between given distances from the clamp.
    pub(crate) fn beam_on(
        edges: &[f64],
        stiffness: impl Fn(f64) -> f64,
        weight: impl Fn(f64) -> f64,
    ) -> Beam {
        let elements = (edges.windows(2))
            .map(|pair| {
                let (from, length) = (pair[0], pair[1] - pair[0]);
                let at = GAUSS.map(|gauss| from + length * gauss);
                let stiffness = at.map(&stiffness);
                let flexibility = Flexibility::new(&stiffness, length);
                Element {
                    from,
                    length,
                    segment: 0,
                    stiffness,
                    flexibility,
                    bending: Bending::new(&flexibility),
                    area: at.map(&weight),
                    weight: [0.0; 3],
                }
            })
            .collect();
        let mut beam = Beam { elements, free: edges[edges.len() - 1], unit_weight: 1.0 };
        beam.hang_weight();
        beam
    }

    /// Edges of elements from 0 to 1 that get shorter and shorter toward 1, where a complete cone has no stiffness left.
    pub(crate) fn toward_one(n_elements: i32) -> Vec<f64> {
        let edge = |element_idx: i32| 1.0 - 0.97f64.powi(element_idx);
        (0..n_elements).map(edge).chain([1.0]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weight_beyond_is_exact_for_a_quadratic_area() {
        // ∫ from s to 1 of (1 + 2t + 3t²) dt = 3 − s − s² − s³.
        let beam = testing::beam(1.0, 3, |_| 1.0, |at| 1.0 + 2.0 * at + 3.0 * at * at);
        for element in &beam.elements {
            for g in 0..3 {
                let at = element.place(g);
                let exact = 3.0 - at - at * at - at.powi(3);
                assert!((element.weight[g] - exact).abs() < 1e-14);
            }
        }
    }
}
