//! The tube: diameter and wall along a blank, its material, its weight, and what a cut leaves of it.
//!
//! Nothing here bends; and nothing here is uncertain: a `Tube` is one exact tube.

use taperbook_units::{Density, Length, Mass, Pressure};
use thiserror::Error;

use crate::correction::Correction;
use crate::section::Ring;

/// The sizes that a diameter or a wall may have, in metres: what lies outside is a slip, and would under- or overflow.
const SIZES: std::ops::RangeInclusive<f64> = 1e-9..=1e3;

/// The shortest tube that a cut may leave, in metres: a thousandth of a millimetre.
pub(crate) const LEAST_LENGTH: f64 = 1e-6;

/// A place along the tube where its section is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Distance from the butt.
    pub at: Length,
    /// Outside diameter.
    pub od: Length,
    /// Wall thickness; half of `od` where the blank is solid.
    pub wall: Length,
}

/// What the tube is made of, taken as uniform.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Young's modulus along the tube.
    pub modulus: Pressure,
    /// Mass per volume of the laminate; zero stands for a tube without weight.
    pub density: Density,
}

/// A tapered tube with outside diameter and wall linear between stations.
///
/// Assumptions: round and concentric, one modulus and one density all along (but for what a calibration adds), no resin-rich skin.
/// Linear between stations is all that calipers tell; diameters may rise toward the tip, as on a swelled butt.
///
/// Bending stiffness at a distance s from the butt is EI(s) = E · π/64 (D⁴ − (D − 2w)⁴), mass per length ρ π w (D − w),
/// with D(s) and w(s) linear between stations.
/// A tube that came out of a calibration also carries smooth corrections of ln EI and of the mass along its length,
/// which stand for what diameters, a uniform modulus and a uniform density don't tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Tube {
    pub(crate) stations: Vec<SiStation>,
    pub(crate) modulus: f64,
    pub(crate) density: f64,
    pub(crate) correction: Correction,
}

/// A station in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SiStation {
    pub(crate) at: f64,
    pub(crate) ring: Ring,
    /// Of the segment from here to the next station.
    pub(crate) relative: Relative,
}

/// The material of a segment relative to the tube's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Relative {
    pub(crate) modulus: f64,
    pub(crate) density: f64,
}

impl Relative {
    /// The tube's own.
    pub(crate) const SAME: Self = Self { modulus: 1.0, density: 1.0 };
}

/// Why stations and material make no tube.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TubeError {
    /// Fewer than two stations.
    #[error("{0} of the two or more stations needed: measure the diameter at two places or more")]
    TooFewStations(usize),
    /// The first station is not at the butt.
    #[error("the first station is at {} mm: the first must be at 0 mm, the butt", shown(*.0))]
    NotFromButt(Length),
    /// Stations must come in order, each once.
    #[error("a station at {} mm after one at {} mm: put stations in order from the butt, none twice", shown(*.at), shown(*.before))]
    OutOfOrder {
        /// The station that comes too early.
        at: Length,
        /// The one before it.
        before: Length,
    },
    /// A station further out than any blank is long.
    #[error("a station at {} mm: a blank is shorter than 1 km", shown(*.0))]
    TooFar(Length),
    /// A diameter that is not positive.
    #[error("outside diameter {} mm at {} mm from the butt: a diameter must be more than 0 mm", shown(*.od), shown(*.at))]
    NoDiameter {
        /// Where.
        at: Length,
        /// The diameter given.
        od: Length,
    },
    /// A wall that is not positive, or more than half of the diameter.
    #[error("wall {} mm at {} mm from the butt: a wall must be more than 0 mm and at most half of the {} mm outside", shown(*.wall), shown(*.at), shown(*.od))]
    BadWall {
        /// Where.
        at: Length,
        /// The wall given.
        wall: Length,
        /// The diameter there.
        od: Length,
    },
    /// A modulus that is not positive and finite.
    #[error("modulus {} GPa: a modulus must be more than 0 GPa", .0.gpa())]
    BadModulus(Pressure),
    /// A density that is negative or not finite.
    #[error("density {} kg/m3: a density must not be below 0 kg/m3", .0.kg_per_m3())]
    BadDensity(Density),
}

/// Why a cut can't be made.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TrimError {
    /// A cut of less than nothing.
    #[error("a cut of {} mm: a cut must be 0 mm or more", shown(*.0))]
    Negative(Length),
    /// The cuts take all of the tube.
    #[error("{} mm off the tip and {} mm off the butt leave nothing of {} mm", shown(*.tip), shown(*.butt), shown(*.length))]
    NothingLeft {
        /// Off the tip.
        tip: Length,
        /// Off the butt.
        butt: Length,
        /// Of the tube before.
        length: Length,
    },
}

impl Tube {
    /// Makes a tube from stations in order from the butt; the last one is the tip.
    ///
    /// Stations may be two or ten thousand, and as close as numbers go.
    /// A wall of half of the diameter is a solid rod, and may exceed it by the rounding of its last digit.
    ///
    /// # Errors
    /// - [`TubeError::TooFewStations`], [`TubeError::NotFromButt`], [`TubeError::OutOfOrder`], [`TubeError::TooFar`] for places that can't be,
    /// - [`TubeError::NoDiameter`], [`TubeError::BadWall`] for a section that is none: sizes are from a nanometre to a kilometre,
    /// - [`TubeError::BadModulus`], [`TubeError::BadDensity`] for a material that is none; a density of zero is a tube without weight.
    ///
    /// A number that is none or infinite is refused by the check of its kind.
    pub fn new(stations: &[Station], material: Material) -> Result<Self, TubeError> {
        let [first, _, ..] = stations else {
            return Err(TubeError::TooFewStations(stations.len()));
        };
        if first.at.m() != 0.0 {
            return Err(TubeError::NotFromButt(first.at));
        }
        for pair in stations.windows(2) {
            let (before, at) = (pair[0].at, pair[1].at);
            let in_order = before.m() < at.m();
            if !in_order {
                return Err(TubeError::OutOfOrder { at, before });
            }
        }
        for &Station { at, od, wall } in stations {
            if !(0.0..=*SIZES.end()).contains(&at.m()) {
                return Err(TubeError::TooFar(at));
            }
            if !SIZES.contains(&od.m()) {
                return Err(TubeError::NoDiameter { at, od });
            }
            // A solid rod is often stated with a wall of half its diameter rounded up in its last binary digit.
            if !SIZES.contains(&wall.m()) || 0.5 * od.m() * (1.0 + 1e-12) < wall.m() {
                return Err(TubeError::BadWall { at, wall, od });
            }
        }
        let (modulus, density) = (material.modulus.pa(), material.density.kg_per_m3());
        if !(0.0 < modulus && modulus < 1e18) {
            return Err(TubeError::BadModulus(material.modulus));
        }
        if !(0.0..1e9).contains(&density) {
            return Err(TubeError::BadDensity(material.density));
        }
        let stations = stations
            .iter()
            .map(|station| SiStation {
                at: station.at.m(),
                ring: Ring { od: station.od.m(), wall: station.wall.m() },
                relative: Relative::SAME,
            })
            .collect();
        Ok(Self { stations, modulus, density, correction: Correction::default() })
    }

    /// The length from butt to tip.
    pub fn length(&self) -> Length {
        Length::from_m(self.end())
    }

    /// The outside diameter at a distance from the butt, D(s) linear between stations; that of the nearer end outside of the tube.
    pub fn od_at(&self, at: Length) -> Length {
        Length::from_m(self.ring(at.m()).od)
    }

    /// The wall at a distance from the butt, w(s) linear between stations; that of the nearer end outside of the tube.
    pub fn wall_at(&self, at: Length) -> Length {
        Length::from_m(self.ring(at.m()).wall)
    }

    /// The bending stiffness EI at a distance from the butt, in N m²; that of the nearer end outside of the tube.
    ///
    /// E π/64 (D⁴ − (D − 2w)⁴), worked out as E A (D² + (D − 2w)²) / 16 with A = π w (D − w), which keeps the digits of a thin wall
    /// (Roark's Formulas, 7th ed., table A.1, case of the hollow circle), times the correction of a calibrated tube.
    pub fn stiffness_at(&self, at: Length) -> f64 {
        let at = at.m().clamp(0.0, self.end());
        let relative = self.stations[self.place(at).0].relative.modulus;
        relative * self.modulus * self.ring(at).second_moment() * self.correction.factors(at).0
    }

    /// The mass of the whole tube, ρ ∫ π w (D − w) ds.
    ///
    /// Simpson's rule on each segment is exact here, the area being quadratic along it: what is left is rounding.
    /// The smooth correction of a calibrated tube is followed in steps, within 1e-6.
    pub fn weight(&self) -> Mass {
        Mass::from_kg(self.density * self.volume_and_moment().0)
    }

    /// The balance point, as a distance from the butt: ∫ s A ds / ∫ A ds, exact as [`Tube::weight`] is.
    ///
    /// It does not depend on the density, which is uniform; so it is defined for a tube without weight too.
    pub fn balance(&self) -> Length {
        let (volume, moment) = self.volume_and_moment();
        Length::from_m(moment / volume)
    }

    /// What is left after cutting `tip` off the tip and `butt` off the butt.
    ///
    /// The new ends get stations of their own, so nothing is lost: the tube between the cuts is the same tube, and cutting in one or in
    /// several goes comes to the same but for rounding. Distances of what is left are from the new butt.
    /// A cut is the whole length lost, what the saw turns to dust included. A cut of zero is none.
    ///
    /// # Errors
    /// - [`TrimError::Negative`] when a cut is negative or not finite,
    /// - [`TrimError::NothingLeft`] when less than a thousandth of a millimetre would be left.
    pub fn trimmed(&self, tip: Length, butt: Length) -> Result<Self, TrimError> {
        for cut in [tip, butt] {
            if !(0.0 <= cut.m() && cut.m().is_finite()) {
                return Err(TrimError::Negative(cut));
            }
        }
        let (from, to) = (butt.m(), self.end() - tip.m());
        if to - from < LEAST_LENGTH {
            return Err(TrimError::NothingLeft { tip, butt, length: self.length() });
        }
        let relative = self.stations[self.place(from).0].relative;
        let mut stations = vec![SiStation { at: 0.0, ring: self.ring(from), relative }];
        stations.extend(
            (self.stations.iter())
                .filter(|station| from < station.at && station.at < to)
                .map(|station| SiStation { at: station.at - from, ..*station }),
        );
        stations.push(SiStation { at: to - from, ring: self.ring(to), relative });
        Ok(Self { stations, correction: self.correction.moved(from), ..*self })
    }

    pub(crate) fn end(&self) -> f64 {
        self.stations[self.stations.len() - 1].at
    }

    pub(crate) fn ring(&self, at: f64) -> Ring {
        let (segment, part) = self.place(at);
        self.stations[segment].ring.toward(self.stations[segment + 1].ring, part)
    }

    /// The segment that holds a place, and how far along it the place is, from 0 to 1.
    fn place(&self, at: f64) -> (usize, f64) {
        let inner = &self.stations[1..self.stations.len() - 1];
        let segment = inner.partition_point(|station| station.at <= at);
        let (a, b) = (self.stations[segment].at, self.stations[segment + 1].at);
        // A place that is no number is taken to be the butt, so that no number comes out as none.
        let part = ((at - a) / (b - a)).clamp(0.0, 1.0);
        (segment, if part.is_nan() { 0.0 } else { part })
    }

    /// ∫ A ds and ∫ s A ds, a place of another density counting for as much more.
    fn volume_and_moment(&self) -> (f64, f64) {
        let (mut volume, mut moment) = (0.0, 0.0);
        for pair in self.stations.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let n_steps = self.correction.n_smooth_steps(b.at - a.at);
            for step_idx in 0..n_steps {
                let part = |half: usize| (2 * step_idx + half) as f64 / (2 * n_steps) as f64;
                for (half, share) in [1.0, 4.0, 1.0].into_iter().enumerate() {
                    let at = a.at + part(half) * (b.at - a.at);
                    let area = a.ring.toward(b.ring, part(half)).area();
                    let weighing = a.relative.density * self.correction.mass_factor(at);
                    let piece = share / 6.0 * (b.at - a.at) / n_steps as f64 * weighing * area;
                    volume += piece;
                    moment += piece * at;
                }
            }
        }
        (volume, moment)
    }
}

/// A length in millimetres as a message shows it, without the noise of binary fractions.
fn shown(length: Length) -> f64 {
    (length.mm() * 1e3).round() / 1e3
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::correction::KNOTS;

    #[test]
    fn a_corrected_mass_weighs_and_balances_as_its_sum_over_thin_slices() {
        let station = |at, od, wall| Station {
            at: Length::from_m(at),
            od: Length::from_mm(od),
            wall: Length::from_mm(wall),
        };
        let material = Material {
            modulus: Pressure::from_gpa(95.0),
            density: Density::from_kg_per_m3(1550.0),
        };
        let stations = [station(0.0, 11.2, 1.05), station(0.7, 8.4, 0.8), station(2.1, 1.8, 0.4)];
        let mut tube = Tube::new(&stations, material).unwrap();
        let mass = [0.2, -0.1, 0.3, 0.0, -0.2, 0.15, -0.3];
        tube.correction =
            Correction { origin: 0.1, span: 2.3, trend: 0.0, knots: [0.0; KNOTS], mass };
        let n_slices = 42_000;
        let slice = 2.1 / f64::from(n_slices);
        let (mut weight, mut moment) = (0.0, 0.0);
        for slice_idx in 0..n_slices {
            let at = (f64::from(slice_idx) + 0.5) * slice;
            let part = 1550.0 * slice * tube.ring(at).area() * tube.correction.mass_factor(at);
            weight += part;
            moment += part * at;
        }
        // The correction has kinks in its second derivative at the knots, which the steps of the integral do not lie on.
        assert!(
            (tube.weight().kg() / weight - 1.0).abs() < 1e-6,
            "{}",
            tube.weight().kg() / weight - 1.0
        );
        assert!((tube.balance().m() / (moment / weight) - 1.0).abs() < 1e-6);
    }
}
