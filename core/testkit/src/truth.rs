//! What a blank really is: smooth functions along its length that no instrument of the shop shows whole.
//!
//! This is not the tube model of the mechanics crate.
//! There, outside diameter and wall are straight between caliper stations and the modulus is a line with knots; here the taper is one curve with a swell, the wall comes in rounded wrap steps, the modulus drifts and waves, and a wrap of reinforcement, a spliced tip or a joint may sit where no caliper tells.
//!
//! Sizes are plausible for rod blanks (common practice, no source); moduli and densities lie in the bands of published laminate data: UD carbon/epoxy 135 GPa and 1600 kg/m³, UD E-glass/epoxy 40 GPa and 1900 kg/m³ (supplier data sheet of carbon fibre laminates), less the share of hoop plies and resin.

use std::f64::consts::PI;

use taperbook_units::Length;

use crate::rng::Rng;

/// The hidden truth of one piece, uncut. All plain numbers are SI; places run from the butt.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Length of the bare blank, metres.
    pub length: f64,
    /// Outside diameter.
    pub taper: Taper,
    /// Wall.
    pub wraps: Wraps,
    /// Axial modulus.
    pub modulus: Modulus,
    /// Density of the wall, kg/m³.
    pub density: f64,
    /// A hidden reinforcement, when there is one.
    pub reinforcement: Option<Reinforcement>,
    /// A spliced solid tip, when there is one.
    pub solid_tip: Option<SolidTip>,
    /// Joints of a blank in pieces.
    pub joints: Vec<Joint>,
}

/// Outside diameter: `tip + (butt − tip)·(x + bulge·x(1−x) + twist·x(1−x)(1−2x)) + swell·exp(−(s/reach)²)`, with `x` from 0 at the tip to 1 at the butt and `s` from the butt.
///
/// It grows from tip to butt while `|bulge| + |twist| < 1`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taper {
    /// Diameter at the tip, metres.
    pub tip: f64,
    /// Diameter at the butt without the swell, metres.
    pub butt: f64,
    /// How much fatter than a cone in the middle (compound taper).
    pub bulge: f64,
    /// How much of that lies toward the tip (positive) or the butt (negative).
    pub twist: f64,
    /// Extra diameter at the butt, metres.
    pub swell: f64,
    /// How far up the swell reaches, metres.
    pub reach: f64,
}

/// Wall: a base and steps where a wrap ends, each rounded by the resin over some centimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Wraps {
    /// Wall at the tip, metres.
    pub base: f64,
    /// Where each wrap ends, metres from the butt, and what it adds to the wall on the butt side, metres.
    pub steps: Vec<(f64, f64)>,
    /// Over what length a step is rounded, metres.
    pub rounding: f64,
}

/// Modulus along the blank: `mean·(1 + trend·(2t − 1) + wave·sin(2πt + phase))`, with `t` from 0 at the butt to 1 at the tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Modulus {
    /// Pascals.
    pub mean: f64,
    /// Half the change from butt to tip, as a part.
    pub trend: f64,
    /// Height of the wave, as a part.
    pub wave: f64,
    /// Phase of the wave, radians.
    pub phase: f64,
}

/// A stretch that is stiffer than it looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reinforcement {
    /// Where it begins, metres from the butt.
    pub from: f64,
    /// Where it ends, metres from the butt.
    pub to: f64,
    /// What it adds to the stiffness, as a part.
    pub stiffness: f64,
    /// What it adds to the mass, as a part.
    pub mass: f64,
}

/// A solid tip spliced into the tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolidTip {
    /// Its length, metres.
    pub length: f64,
    /// Its modulus, pascals.
    pub modulus: f64,
    /// Its density, kg/m³.
    pub density: f64,
}

/// A joint: nearly two walls over the overlap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    /// Middle of the overlap, metres from the butt.
    pub at: f64,
    /// Length of the overlap, metres.
    pub overlap: f64,
    /// What it adds to stiffness and mass, as a part; the inner wall is the smaller tube, so that a plain one adds a little less than 1.
    pub adds: f64,
}

/// How far the pieces of one model lie apart, as standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Modulus, as a part.
    pub modulus: f64,
    /// Modulus trend, absolute.
    pub trend: f64,
    /// Wall, as a part.
    pub wall: f64,
    /// Diameters, as a part.
    pub diameter: f64,
    /// Bulge of the taper, absolute.
    pub bulge: f64,
    /// Density, as a part.
    pub density: f64,
    /// Length, metres.
    pub length: f64,
}

impl Default for Spread {
    /// Pieces of one model differ by about 4 % in power (common practice, no source).
    fn default() -> Self {
        Self {
            modulus: 0.03,
            trend: 0.01,
            wall: 0.02,
            diameter: 0.002,
            bulge: 0.006,
            density: 0.01,
            length: 0.001,
        }
    }
}

impl Truth {
    /// Makes another piece of the same model.
    #[must_use]
    pub fn sibling(&self, rng: &mut Rng, spread: &Spread) -> Self {
        let mut piece = self.clone();
        piece.length += spread.length * rng.normal();
        piece.modulus.mean *= (spread.modulus * rng.normal()).exp();
        piece.modulus.trend += spread.trend * rng.normal();
        piece.modulus.phase += 0.3 * rng.normal();
        piece.density *= (spread.density * rng.normal()).exp();
        piece.taper.bulge += spread.bulge * rng.normal();
        let diameter = (spread.diameter * rng.normal()).exp();
        piece.taper.tip *= diameter;
        piece.taper.butt *= diameter;
        let wall = (spread.wall * rng.normal()).exp();
        piece.wraps.base *= wall;
        for (at, adds) in &mut piece.wraps.steps {
            *at += 0.005 * rng.normal();
            *adds *= wall;
        }
        piece
    }

    /// Adds a wrap of reinforcement, 15 to 40 cm long, 8 to 20 % stiffer, somewhere in the upper two thirds.
    #[must_use]
    pub fn with_reinforcement(mut self, rng: &mut Rng) -> Self {
        let from = rng.between(0.3, 0.75) * self.length;
        let stiffness = rng.between(0.08, 0.20);
        self.reinforcement = Some(Reinforcement {
            from,
            to: from + rng.between(0.15, 0.40),
            stiffness,
            mass: 0.3 * stiffness,
        });
        self
    }

    /// Splices in a solid glass tip, 30 to 45 cm long.
    #[must_use]
    pub fn with_solid_tip(mut self, rng: &mut Rng) -> Self {
        self.solid_tip = Some(SolidTip {
            length: rng.between(0.30, 0.45),
            modulus: rng.between(38e9, 44e9),
            density: rng.between(1900.0, 2000.0),
        });
        self
    }

    /// Makes it two pieces of about the same length, joined over 5 to 9 cm: one over the other, or both on a spigot that is thicker or thinner than they are.
    #[must_use]
    pub fn with_joint(mut self, rng: &mut Rng) -> Self {
        self.joints = vec![Joint {
            at: rng.between(0.46, 0.54) * self.length,
            overlap: rng.between(0.05, 0.09),
            adds: rng.between(0.6, 1.3),
        }];
        self
    }

    /// Gives the outside diameter at a place from the uncut butt.
    #[must_use]
    pub fn od_at(&self, place: Length) -> Length {
        Length::from_m(self.od(place.m()))
    }

    /// Gives the wall at a place from the uncut butt; half the diameter where it is solid.
    #[must_use]
    pub fn wall_at(&self, place: Length) -> Length {
        let s = place.m();
        let tube = self.wall(s);
        Length::from_m(tube + self.solid(s) * (0.5 * self.od(s) - tube))
    }

    /// Gives the bending stiffness EI at a place from the uncut butt, N m².
    #[must_use]
    pub fn stiffness_at(&self, place: Length) -> f64 {
        let s = place.m();
        let d = self.od(s);
        let bore = d - 2.0 * self.wall(s);
        let second_moment = |d: f64| PI / 64.0 * d.powi(4);
        let tube = self.modulus(s) * (second_moment(d) - second_moment(bore));
        let solid = self.solid_tip.map_or(0.0, |tip| tip.modulus * second_moment(d));
        let extra = self.extra(s, |reinforcement| reinforcement.stiffness);
        (tube + self.solid(s) * (solid - tube)) * (1.0 + extra)
    }

    /// Gives the mass per length at a place from the uncut butt, kg/m.
    #[must_use]
    pub fn mass_per_length_at(&self, place: Length) -> f64 {
        let s = place.m();
        let d = self.od(s);
        let bore = d - 2.0 * self.wall(s);
        let area = |d: f64| PI / 4.0 * d * d;
        let tube = self.density * (area(d) - area(bore));
        let solid = self.solid_tip.map_or(0.0, |tip| tip.density * area(d));
        let extra = self.extra(s, |reinforcement| reinforcement.mass);
        (tube + self.solid(s) * (solid - tube)) * (1.0 + extra)
    }

    fn od(&self, s: f64) -> f64 {
        let Taper { tip, butt, bulge, twist, swell, reach } = self.taper;
        let x = 1.0 - s / self.length;
        let shape = x + x * (1.0 - x) * (bulge + twist * (1.0 - 2.0 * x));
        tip + (butt - tip) * shape + swell * (-(s / reach).powi(2)).exp()
    }

    fn wall(&self, s: f64) -> f64 {
        let Wraps { base, ref steps, rounding } = self.wraps;
        let wall =
            base + steps.iter().map(|&(at, adds)| adds * edge((at - s) / rounding)).sum::<f64>();
        // No mandrel is thinner than a pin: the wall leaves a bore of a twelfth of the diameter.
        wall.min(0.46 * self.od(s))
    }

    fn modulus(&self, s: f64) -> f64 {
        let Modulus { mean, trend, wave, phase } = self.modulus;
        let t = s / self.length;
        mean * (1.0 + trend * (2.0 * t - 1.0) + wave * (2.0 * PI * t + phase).sin())
    }

    fn solid(&self, s: f64) -> f64 {
        self.solid_tip.map_or(0.0, |tip| edge((s - (self.length - tip.length)) / 0.012))
    }

    fn extra(&self, s: f64, part: impl Fn(&Reinforcement) -> f64) -> f64 {
        let hidden = self.reinforcement.as_ref().map_or(0.0, |reinforcement| {
            let window =
                edge((s - reinforcement.from) / 0.015) * edge((reinforcement.to - s) / 0.015);
            part(reinforcement) * window
        });
        let joints: f64 = self
            .joints
            .iter()
            .map(|joint| {
                let from_middle = (s - joint.at).abs();
                joint.adds * edge((joint.overlap / 2.0 - from_middle) / 0.012)
            })
            .sum();
        hidden + joints
    }
}

/// A rounded step from 0 to 1 around 0.
fn edge(x: f64) -> f64 {
    0.5 * (1.0 + x.tanh())
}
