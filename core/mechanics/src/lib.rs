//! Beam mechanics of a tapered tube: trim, bend, vibrate, fit.
//!
//! This crate knows tubes, clamps and weights.
//! It knows no records, files, clocks or screens, and nothing of taste; the same numbers in give the same numbers out.
//! It has no vote on what is stiff, fast or good: it says what a piece weighs, holds and swings at, and how sure that is.
//!
//! # The tube
//!
//! A blank is a hollow tube with outside diameter D(s) and wall w(s), both linear between stations ([`tube`]).
//! With modulus E and density ρ it has
//!
//! - stiffness EI(s) = E π/64 (D⁴ − (D − 2w)⁴),
//! - mass per length ρA(s) = ρ π w (D − w).
//!
//! A cut takes stations away and puts exact new ones at the ends: cutting loses no accuracy.
//!
//! # The bend
//!
//! The free length, from the clamp to the tip, is a planar elastica that neither stretches nor shears ([`mod@bend`]).
//! With φ(s) the angle of its tangent below horizontal, the moment EI φ' is balanced by the dead loads beyond:
//!
//! (EI φ')' + Fd cos φ − Fx sin φ = 0, φ(0) = −α + c M(0), φ'(L) = 0
//!
//! Fd(s) is the weight hung from the tip and the blank's own beyond s, Fx(s) what pulls outward; α is how far the clamp is raised,
//! c its give under the moment M.
//! Shear would add about 0.1 % of drop and is left out.
//! Of several bends in balance the one is found that the blank takes as first its own weight and then the pull grow from nothing; where
//! it would snap or give way to either side, that is said instead of a number.
//! Everything a builder asks of a bend comes from here; above all its *power*, the weight at which the tip hangs a third of the free
//! length below the clamp line.
//!
//! # The swing
//!
//! *Recovery* is the first natural frequency of the bare blank in the clamp, of small swings about the straight blank ([`vibrate`]).
//!
//! # What is not sure
//!
//! Nobody measures E, ρ or the wall of a blank in hand, calipers and clamps are a little off, and a laminate is not the same all along.
//! The calibration ([`mod@fit`]) holds all of these as parameters with a prior from the card, and narrows them by readings: whatever was read
//! of the piece, before and after its cuts.
//! What comes out is a Gaussian over the parameters; pushed through the solver's exact tangents it gives every number its range.
//! A range is 5 % to 95 %, and for the true value in a level clamp that does not yield, not for the next reading.
//! Past pieces of the model enter as the prior of the next ([`fit::pool`]).
//!
//! # How accurate
//!
//! | | within | held by |
//! | --- | --- | --- |
//! | power, pulls | 1e-5 of it | refinement, elliptic integrals, an independent integrator, a general boundary-value solver |
//! | tip angle | 0.001° | the same |
//! | bend centre | 0.005 % of the free length | the same |
//! | places | 1e-5 of the free length | the same |
//! | recovery | 1e-5 of it | refinement, Bessel functions, tables, a general boundary-value solver |
//! | buckling | 1e-4 of the load | Euler's column, a cone's closed form, the heavy column |
//! | weight, balance | rounding | closed forms |
//! | derivatives | 1e-7 of them | differences |
//!
//! # Example
//!
//! ```
//! use taperbook_mechanics::fit::{Caliper, Card, Errors, Fibre, Measure, Measured, Prior, Reading, Setup, fit};
//! use taperbook_units::{Length, Mass};
//!
//! let caliper = |at, od, wall: Option<f64>| Caliper {
//!     at: Length::from_inches(at),
//!     od: Length::from_mm(od),
//!     wall: wall.map(Length::from_mm), own: true,
//! };
//! let card = Card {
//!     length: Length::from_inches(86.0),
//!     calipers: vec![caliper(0.0, 11.2, Some(1.05)), caliper(30.0, 8.4, None), caliper(86.0, 1.75, None)],
//!     modulus: None,
//!     density: None,
//!     fibre: Fibre::Carbon,
//!     solid_tip: false, joints: Vec::new(), length_sd: Some(Length::from_mm(1.0)),
//! };
//! let prior = Prior::from_card(&card, &Errors::default())?;
//!
//! // The uncut blank was held 9 in from its butt and took 212 g.
//! let (none, held_at) = (Length::from_m(0.0), Length::from_inches(9.0));
//! let power = Reading {
//!     tip_cut: none,
//!     butt_cut: none,
//!     held_at,
//!     setup: Setup::default(),
//!     measured: Measured::Power(Mass::from_g(212.0)),
//!     sd: None,
//! };
//! let posterior = fit(&prior, &[power])?;
//!
//! // What would an inch off its tip make of it?
//! let before = posterior.outcome(none, none, held_at)?;
//! let after = posterior.outcome(Length::from_inches(1.0), none, held_at)?;
//! let gain = posterior.change(&before, &after, Measure::Power)?;
//! assert!(0.002 < gain.low && gain.high < 0.020, "a few grams more, and surely more: {gain:?}");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod bend;
mod correction;
pub mod fit;
pub mod guides;
mod section;
pub mod tube;
pub mod vibrate;

pub use bend::{
    BendError, Clamp, Load, Point, Shape, ThirdLength, bend, load_for_tip_angle, third_length,
};
pub use tube::{Material, Station, TrimError, Tube, TubeError};
pub use vibrate::{VibrateError, natural_frequency, natural_frequency_with};
