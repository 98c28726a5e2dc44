//! The cross-section of a round tube: area and second moment, with their derivatives.
//!
//! Only geometry of one section is here; how it runs along the tube is in `tube`.

use std::f64::consts::PI;

/// A ring of outside diameter `od` and wall thickness `wall`, both in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ring {
    pub(crate) od: f64,
    pub(crate) wall: f64,
}

/// The derivatives of something by outside diameter and by wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ByRing {
    pub(crate) od: f64,
    pub(crate) wall: f64,
}

/// The derivatives of the logarithms of a section's area and of its second moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LogsBy {
    pub(crate) area: ByRing,
    pub(crate) second_moment: ByRing,
}

impl Ring {
    /// The section a part of the way, from 0 to 1, toward another, diameter and wall linear.
    pub(crate) fn toward(self, other: Self, part: f64) -> Self {
        Self {
            od: self.od + part * (other.od - self.od),
            wall: self.wall + part * (other.wall - self.wall),
        }
    }

    /// A = π w (D − w), in m²: the same as π/4 (D² − (D − 2w)²), without the cancellation.
    pub(crate) fn area(self) -> f64 {
        PI * self.wall * (self.od - self.wall)
    }

    /// I = π/64 (D⁴ − d⁴), d = D − 2w, in m⁴, factored as A/16 (D² + d²) to keep digits of a thin wall.
    pub(crate) fn second_moment(self) -> f64 {
        let bore = self.od - 2.0 * self.wall;
        self.area() * (self.od * self.od + bore * bore) / 16.0
    }

    /// How ln A and ln I change with diameter and wall.
    pub(crate) fn logs_by(self) -> LogsBy {
        let bore = self.od - 2.0 * self.wall;
        let by_od = 1.0 / (self.od - self.wall);
        let area = ByRing { od: by_od, wall: 1.0 / self.wall - by_od };
        // Of D² + d².
        let per_squares = 2.0 / (self.od * self.od + bore * bore);
        let second_moment = ByRing {
            od: area.od + per_squares * (self.od + bore),
            wall: area.wall - per_squares * 2.0 * bore,
        };
        LogsBy { area, second_moment }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solid_rod_has_the_handbook_values() {
        // Roark's Formulas 7th ed. table A.1: A = πR², I = πR⁴/4 of a solid circle.
        let rod = Ring { od: 0.01, wall: 0.005 };
        assert!((rod.area() / (PI * 0.005f64.powi(2)) - 1.0).abs() < 1e-14);
        assert!((rod.second_moment() / (PI * 0.005f64.powi(4) / 4.0) - 1.0).abs() < 1e-14);
    }

    #[test]
    fn derivatives_agree_with_central_differences() {
        let (od, wall) = (0.0081, 0.0007);
        let step = 1e-8;
        let difference = |f: &dyn Fn(Ring) -> f64| ByRing {
            od: (f(Ring { od: od + step, wall }) - f(Ring { od: od - step, wall })) / (2.0 * step),
            wall: (f(Ring { od, wall: wall + step }) - f(Ring { od, wall: wall - step }))
                / (2.0 * step),
        };
        let ring = Ring { od, wall };
        let LogsBy { area, second_moment } = ring.logs_by();
        for (exact, near) in [
            (area, difference(&|ring: Ring| ring.area().ln())),
            (second_moment, difference(&|ring: Ring| ring.second_moment().ln())),
        ] {
            assert!((exact.od / near.od - 1.0).abs() < 1e-7, "{exact:?} {near:?}");
            assert!((exact.wall / near.wall - 1.0).abs() < 1e-7, "{exact:?} {near:?}");
        }
    }
}
