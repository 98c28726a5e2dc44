//! Random blanks of a kind: how long, how thick and of what, for each style that a shop sees.
//!
//! The bands are those of everyday blanks (common practice, no source); they are not the models of any maker.

use crate::rng::Rng;
use crate::truth::{Modulus, Taper, Truth, Wraps};

/// A kind of blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// 5'6" to 6'6" carbon for tiny lures.
    Ultralight,
    /// 6'6" to 7'6" light spinning-class carbon.
    Light,
    /// 6'8" to 7'8" medium carbon.
    Medium,
    /// 5'6" to 6'8" stout carbon or blend for the boat.
    Stout,
    /// 7'6" to 9'6" limp glass.
    LimpGlass,
    /// 8'6" to 10' carbon for the beach and the float.
    LongCarbon,
}

impl Style {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Ultralight,
        Self::Light,
        Self::Medium,
        Self::Stout,
        Self::LimpGlass,
        Self::LongCarbon,
    ];

    /// Gives the word that a card has for its material.
    #[must_use]
    pub fn material(self) -> &'static str {
        match self {
            Self::LimpGlass => "glass",
            Self::Stout => "blend",
            _ => "carbon",
        }
    }

    fn bands(self) -> Bands {
        let carbon = (75.0, 120.0, 1470.0, 1580.0);
        let blend = (52.0, 78.0, 1580.0, 1720.0);
        let glass = (27.0, 38.0, 1820.0, 1960.0);
        let (length, butt, tip, wall_tip, wall_butt, material) = match self {
            Self::Ultralight => ((66, 78), (6.8, 8.4), (1.0, 1.35), 0.33, 0.60, carbon),
            Self::Light => ((78, 90), (9.2, 11.0), (1.3, 1.8), 0.40, 0.75, carbon),
            Self::Medium => ((80, 92), (10.6, 12.4), (1.6, 2.1), 0.46, 0.98, carbon),
            Self::Stout => ((66, 80), (10.8, 13.0), (2.0, 2.7), 0.62, 1.25, blend),
            Self::LimpGlass => ((90, 114), (11.0, 13.5), (1.7, 2.3), 0.50, 1.10, glass),
            Self::LongCarbon => ((102, 120), (12.0, 15.0), (1.7, 2.3), 0.48, 1.00, carbon),
        };
        Bands { length, butt, tip, wall_tip, wall_butt, material }
    }
}

struct Bands {
    /// Inches.
    length: (u8, u8),
    /// Millimetres.
    butt: (f64, f64),
    /// Millimetres.
    tip: (f64, f64),
    /// Millimetres.
    wall_tip: f64,
    /// Millimetres.
    wall_butt: f64,
    /// Modulus from and to, GPa, then density from and to, kg/m³.
    material: (f64, f64, f64, f64),
}

impl Truth {
    /// Makes a random blank of a style, without reinforcement, splice or joint.
    #[must_use]
    pub fn random(rng: &mut Rng, style: Style) -> Self {
        let Bands { length, butt, tip, wall_tip, wall_butt, material } = style.bands();
        let (soft, stiff, thin, dense) = material;
        let inches = rng.between(f64::from(length.0), f64::from(length.1)).round();
        // A maker's length is good to a few millimetres.
        let length = 0.0254 * inches + 0.003 * rng.normal();
        let wall_tip = 1e-3 * wall_tip * rng.between(0.88, 1.12);
        let wall_butt = 1e-3 * wall_butt * rng.between(0.88, 1.12);
        let n_steps = 5;
        let steps = (0..n_steps)
            .map(|k| {
                let part = (f64::from(k) + rng.between(0.3, 0.9)) / f64::from(n_steps);
                let adds = (wall_butt - wall_tip) / f64::from(n_steps) * rng.between(0.7, 1.3);
                (part * length, adds)
            })
            .collect();
        Self {
            length,
            taper: Taper {
                tip: 1e-3 * rng.between(tip.0, tip.1),
                butt: 1e-3 * rng.between(butt.0, butt.1),
                bulge: rng.between(-0.05, 0.40),
                twist: rng.between(-0.20, 0.20),
                swell: 1e-3 * rng.between(0.0, 0.35),
                reach: rng.between(0.10, 0.20),
            },
            wraps: Wraps { base: wall_tip, steps, rounding: rng.between(0.018, 0.030) },
            modulus: Modulus {
                mean: 1e9 * rng.between(soft, stiff),
                trend: 0.05 * rng.normal(),
                wave: rng.between(0.0, 0.03),
                phase: rng.between(0.0, std::f64::consts::TAU),
            },
            density: rng.between(thin, dense),
            reinforcement: None,
            solid_tip: None,
            joints: Vec::new(),
        }
    }
}
