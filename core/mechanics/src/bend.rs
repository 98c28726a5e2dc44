//! Bending: the clamped tube as a heavy elastica.
//!
//! Statics in a plane only; swinging is in `vibrate`.

mod beam;
mod elastica;
mod field;
mod flexibility;
mod newton;
mod shape;
mod tangent;
#[cfg(test)]
mod tests;

use std::f64::consts::FRAC_PI_2;

use taperbook_units::{Angle, Length, Mass, STANDARD_GRAVITY};
use thiserror::Error;

#[cfg(test)]
pub(crate) use beam::testing;
pub(crate) use beam::{BEND_ELEMENTS, Beam, GAUSS, GAUSS_WEIGHT};
pub(crate) use elastica::{Elastica, Fail, Root, Target};
pub(crate) use flexibility::Flexibility;
pub(crate) use tangent::{Adjoint, Gradient, Number};

use crate::tube::Tube;

/// How the blank is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clamp {
    /// From the present butt to where the free length begins.
    pub held_at: Length,
    /// How far the clamp points above horizontal.
    pub raised: Angle,
    /// How much the clamp turns under the moment of the blank, in rad per N m; 0 for a clamp that doesn't yield.
    pub give: f64,
}

impl Clamp {
    /// A horizontal clamp that does not yield.
    pub fn horizontal(held_at: Length) -> Self {
        Self { held_at, raised: Angle::from_rad(0.0), give: 0.0 }
    }
}

/// What pulls at the tip, besides the blank's own weight, which always acts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// The mass whose weight is the pull.
    pub mass: Mass,
    /// The direction, from straight down (0) back toward the clamp (90°) and up (180°).
    pub backward: Angle,
}

impl Load {
    /// No load but the blank's own weight.
    pub fn none() -> Self {
        Self::hung(Mass::from_kg(0.0))
    }

    /// A weight that hangs from the tip.
    pub fn hung(mass: Mass) -> Self {
        Self { mass, backward: Angle::from_rad(0.0) }
    }

    /// A pull in a given direction, measured from straight down back toward the clamp.
    pub fn pull(mass: Mass, backward: Angle) -> Self {
        Self { mass, backward }
    }
}

/// The blank at its third-length weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThirdLength {
    /// The weight that holds the tip a third of the free length below the clamp line.
    pub power: Mass,
    /// The angle of the tip below horizontal.
    pub tip_angle: Angle,
    /// The centroid of curvature, as a part of the free length, from the tip.
    pub bend_centre: f64,
}

/// A bent blank.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Points evenly spaced along the free length, from the clamp to the tip.
    pub points: Vec<Point>,
    /// The angle of the tip below horizontal.
    pub tip_angle: Angle,
}

/// A place on the bent blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Outward from the clamp.
    pub x: Length,
    /// Up from the clamp line; negative below.
    pub y: Length,
}

/// Why a bend can't be computed.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum BendError {
    /// The clamp leaves nothing free.
    #[error("held at {:.0} mm of a blank of {:.0} mm, so nothing is left to bend: hold it nearer the butt", .held_at.mm(), .length.mm())]
    NothingToBend {
        /// Where it is held.
        held_at: Length,
        /// The length of the blank.
        length: Length,
    },
    /// Own weight alone drops the tip further than a third.
    #[error("its own weight alone drops the tip {:.0} mm, further than the third-length {:.0} mm: hold it nearer the tip", .drop.mm(), .third.mm())]
    TooLimp {
        /// The drop of the tip under own weight.
        drop: Length,
        /// A third of the free length.
        third: Length,
    },
    /// Own weight alone turns the tip further than asked.
    #[error("its own weight alone turns the tip to {:.1} deg: ask for a larger angle", .0.deg())]
    WeightTurnsFurther(Angle),
    /// No pull in that direction brings the tip to that angle.
    #[error("no pull in that direction brings the tip to {:.1} deg: ask for a smaller angle, or pull further back", .0.deg())]
    AngleOutOfReach(Angle),
    /// The load pushes back along the blank until it buckles.
    #[error("the load pushes back along the blank and it buckles: pull it sideways")]
    Buckles,
    /// A number of the clamp or of the load makes no sense.
    #[error(
        "the clamp or the load has a number that can't be: all finite, held at 0 mm or more, raised at most 90 deg, give and mass 0 or more"
    )]
    Senseless,
    /// The numbers are so far from those of a blank that no bend was found.
    #[error("no bend was found under this load: check the diameters, the modulus and the load")]
    NoSolution,
}

/// Finds the third-length weight: power, tip angle and bend centre.
///
/// The *power* P is the weight that, hung from the tip, holds it a third of the free length L below the *clamp line*,
/// the horizontal through the clamp, the blank's own weight acting.
/// The datum is the clamp line, not the tip as it sags by itself: that moves power by about 2 % on a stout blank and more on a limp one.
/// After the third-length procedure published by W. Hanneman, RodMaker vol. 6 no. 2 (2003).
///
/// For a uniform weightless cantilever P L² / EI = 1.1184…, which follows from the elastica's elliptic integrals
/// (Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272); small-deflection theory would say exactly 1.
///
/// *Bend centre* is ∫ φ' (L − s) ds / (L ∫ φ' ds), φ the angle below horizontal and s the distance from the clamp.
///
/// Accuracy: 1e-5 of power and 0.001° on linear tapers; see the crate's refinement tests.
///
/// # Errors
/// When nothing is free, own weight alone drops the tip further than a third, or no solution is found.
pub fn third_length(tube: &Tube, clamp: &Clamp) -> Result<ThirdLength, BendError> {
    let (beam, root) = set_up(tube, clamp, BEND_ELEMENTS)?;
    let mut elastica = Elastica::default();
    solve_third(&beam, root, &mut elastica)?;
    Ok(ThirdLength {
        power: Mass::from_kg(elastica.pull / STANDARD_GRAVITY),
        tip_angle: Angle::from_rad(elastica.tip_angle()),
        bend_centre: elastica.bend_centre(&beam),
    })
}

/// Bends the blank under its own weight and a load at its tip, and gives places on it evenly spaced along it.
///
/// The first is the clamp, the last the tip; there are at least two however few are asked for.
/// A load that pulls back or up, or a raised clamp, is put on in steps: each must be stable and near the one before, so that
/// the bend found is the one that the blank would take as the load grows from nothing.
///
/// # Errors
/// When nothing is free, a number makes no sense, the load buckles the blank, or no solution is found.
pub fn bend(tube: &Tube, clamp: &Clamp, load: &Load, n_points: usize) -> Result<Shape, BendError> {
    let (beam, root) = set_up(tube, clamp, BEND_ELEMENTS)?;
    let (pull, backward) = (load.mass.kg() * STANDARD_GRAVITY, load.backward.rad());
    if !(0.0 <= pull && pull.is_finite() && backward.is_finite()) {
        return Err(BendError::Senseless);
    }
    let mut elastica = Elastica::default();
    elastica.solve(&beam, root, backward, Target::Pull(pull)).map_err(|fail| match fail {
        Fail::Unstable => BendError::Buckles,
        Fail::Unsettled => BendError::NoSolution,
    })?;
    let points = elastica
        .places(&beam, n_points)
        .map(|(x, y)| Point { x: Length::from_m(x), y: Length::from_m(y) })
        .collect();
    Ok(Shape { points, tip_angle: Angle::from_rad(elastica.tip_angle()) })
}

/// Finds the pull in the given direction (as in [`Load`]) that brings the tip to an angle below horizontal.
///
/// A weight that hangs brings the tip near 90° but never to it.
///
/// # Errors
/// When nothing is free, a number makes no sense, own weight alone turns the tip further, or no pull in that direction does it.
pub fn load_for_tip_angle(
    tube: &Tube,
    clamp: &Clamp,
    tip_angle: Angle,
    backward: Angle,
) -> Result<Mass, BendError> {
    let (beam, root) = set_up(tube, clamp, BEND_ELEMENTS)?;
    if !(tip_angle.rad().is_finite() && backward.rad().is_finite()) {
        return Err(BendError::Senseless);
    }
    let mut elastica = Elastica::default();
    solve_pull(&beam, root, tip_angle.rad(), backward.rad(), &mut elastica)?;
    Ok(Mass::from_kg(elastica.pull / STANDARD_GRAVITY))
}

/// Cuts the free length into elements, after checking the clamp.
pub(crate) fn set_up(
    tube: &Tube,
    clamp: &Clamp,
    n_elements: f64,
) -> Result<(Beam, Root), BendError> {
    let root = Root { raised: clamp.raised.rad(), give: clamp.give };
    let held_at = clamp.held_at.m();
    let sensible = 0.0 <= held_at
        && held_at.is_finite()
        && root.raised.abs() <= FRAC_PI_2
        && (0.0..1e6).contains(&root.give);
    if !sensible {
        return Err(BendError::Senseless);
    }
    let beam = Beam::new(tube, held_at, tube.end(), n_elements);
    let nothing = BendError::NothingToBend { held_at: clamp.held_at, length: tube.length() };
    Ok((beam.ok_or(nothing)?, root))
}

/// Brings the tip a third of the free length below the clamp line by a weight that hangs from it.
pub(crate) fn solve_third(
    beam: &Beam,
    root: Root,
    elastica: &mut Elastica,
) -> Result<(), BendError> {
    let third = beam.free / 3.0;
    let solved = elastica.solve(beam, root, 0.0, Target::TipDrop(third));
    if solved.is_ok() && 0.0 <= elastica.pull {
        return Ok(());
    }
    if elastica.solve(beam, root, 0.0, Target::Pull(0.0)).is_ok() {
        let drop = elastica.tip_drop(beam);
        if third < drop {
            let (drop, third) = (Length::from_m(drop), Length::from_m(third));
            return Err(BendError::TooLimp { drop, third });
        }
    }
    Err(BendError::NoSolution)
}

/// Brings the tip to an angle by a pull in the direction `backward`.
pub(crate) fn solve_pull(
    beam: &Beam,
    root: Root,
    tip_angle: f64,
    backward: f64,
    elastica: &mut Elastica,
) -> Result<(), BendError> {
    let solved = elastica.solve(beam, root, backward, Target::TipAngle(tip_angle));
    if solved.is_ok() && 0.0 <= elastica.pull {
        return Ok(());
    }
    if elastica.solve(beam, root, 0.0, Target::Pull(0.0)).is_ok()
        && tip_angle < elastica.tip_angle()
    {
        return Err(BendError::WeightTurnsFurther(Angle::from_rad(elastica.tip_angle())));
    }
    Err(BendError::AngleOutOfReach(Angle::from_rad(tip_angle)))
}
