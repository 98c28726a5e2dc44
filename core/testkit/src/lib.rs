//! What tests and benches need and the program does not: a simulated bench with hidden truth, a demo shop made on it, and a generator of shop folders of any size.
//!
//! This crate is a dev-dependency only, and depends on nothing but the units.
//! The simulator shares neither tube model nor discretisation nor solver with the mechanics crate, so that what is fitted there can be tried against what is true here:
//!
//! | | mechanics | here |
//! | --- | --- | --- |
//! | diameter and wall | straight between caliper stations | one smooth taper with a swell; rounded wrap steps |
//! | modulus | a trend and a few knots | a trend and a wave, and hidden stretches of reinforcement |
//! | bending | elements, Newton on the energy | Runge–Kutta shooting from the tip |
//! | frequency | Hermite elements | shooting, the zero of a determinant |
//!
//! A blank is bent, read and cut like this:
//!
//! ```
//! use taperbook_testkit::beam::Clamp;
//! use taperbook_testkit::bench::{Bench, Instruments};
//! use taperbook_testkit::piece::Piece;
//! use taperbook_testkit::rng::Rng;
//! use taperbook_testkit::style::Style;
//! use taperbook_testkit::truth::Truth;
//! use taperbook_units::Length;
//!
//! let mut rng = Rng::new(1);
//! let mut piece = Piece::uncut(Truth::random(&mut rng, Style::Medium));
//! let clamp = Clamp::random(&mut rng);
//! let mut bench = Bench::new(clamp, Instruments::default(), rng);
//!
//! let held_at = Length::from_inches(9.0);
//! let before = bench.read_power(&piece, held_at).expect("it is stiff enough to be read");
//! bench.cut(&mut piece, Length::from_inches(2.0), Length::default());
//! let truth = piece.true_numbers(held_at).expect("it is stiff enough to be read");
//! assert!(before.g() < truth.power.g(), "two inches off the tip are felt");
//! ```

pub mod beam;
pub mod bench;
pub mod demo;
pub mod folder;
pub mod hand;
pub mod helpers;
pub mod piece;
pub mod rng;
pub mod shop;
pub mod style;
pub mod truth;
mod vibrate;
