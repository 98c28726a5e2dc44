//! Bending: the clamped tube as a heavy elastica.
//!
//! Statics in a plane only; swinging is in `vibrate`.
//!
//! # Equations
//!
//! With s the distance from the clamp along the blank, φ(s) the angle of its tangent below horizontal, L the free length:
//!
//! - (EI φ')' + Fd cos φ − Fx sin φ = 0, the balance of moments,
//! - φ(0) = −α + c M(0) with M = EI φ', the clamp raised by α and yielding by c,
//! - M(L) = 0, and x' = cos φ outward, y' = −sin φ up.
//!
//! Fd(s) = P cos β + W(s) and Fx = −P sin β are the dead loads beyond s: a pull P at the tip, turned by β from straight down back toward
//! the clamp, and the weight W(s) of what lies beyond.
//! Sources: Timoshenko & Gere, *Theory of Elastic Stability*, section 2.7 (the elastica); Rohde, Quart. Appl. Math. 11 (1953) 337 (own weight).
//!
//! # Assumptions
//!
//! The blank is straight when nothing acts on it, bends in one plane, neither stretches nor shears (shear would add about 0.1 % of drop),
//! is linearly elastic, and its section stays round. The pull keeps its direction as the tip moves. It touches nothing but its clamp.
//!
//! # Which bend
//!
//! Under a large load, or in a raised clamp, there can be several bends in balance.
//! The one found is that which the blank takes as first its own weight and then the pull grow from nothing: each step along that way must
//! be stable and lie near the tangent of the one before.
//! Where the way ends, because the blank would snap or bend to either side, the answer is [`BendError::Buckles`].
//! So it is beyond Euler's load for a load exactly opposite to a blank without weight, at any angle of the clamp, and for a blank that
//! stands straight up and is too heavy to (w L³ / EI > 7.837 when uniform).
//! A level blank with weight has sagged before it is pulled straight back, so it bends on downward and does not buckle.
//!
//! # Accuracy
//!
//! On linear tapers: power and pulls within 1e-5 of themselves, angles within 0.001°, bend centre within 0.005 % and places within 1e-5 of
//! the free length, for loads up to ten times the power and more; the crate's tests measure that by refinement over a wide family of
//! blanks, and hold it against elliptic integrals, an independent integrator and a general boundary-value solver.
//! Two things are harder: where all of the bend is in a hundredth of the blank (P L² / EI of some hundreds) places come within 1e-4,
//! and a pull that is asked to bring the tip within half a degree of what no pull reaches is the steepest function of that angle.

mod beam;
mod elastica;
mod field;
mod flexibility;
mod newton;
mod shape;
mod tangent;
#[cfg(test)]
mod tests;
mod turn;

use std::f64::consts::FRAC_PI_2;

use taperbook_units::{Angle, Length, Mass, STANDARD_GRAVITY};
use thiserror::Error;

#[cfg(test)]
pub(crate) use beam::testing;
pub(crate) use beam::{BEND_ELEMENTS, Beam, Element, GAUSS, GAUSS_WEIGHT};
pub(crate) use elastica::{Elastica, Fail, Root, Target};
pub(crate) use flexibility::Flexibility;
pub(crate) use tangent::{Adjoint, Gradient, Number};

use crate::tube::Tube;

/// How the blank is held: φ(0) = −`raised` + `give` · M(0), M(0) the moment of the blank on its clamp.
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
/// Equations and assumptions are those of [the module](self), with a weight that hangs straight down.
///
/// The *power* P is the weight that, hung from the tip, holds it a third of the free length L below the *clamp line*,
/// the horizontal through the clamp, the blank's own weight acting.
/// The datum is the clamp line, not the tip as it sags by itself: that moves power by about 2 % on a stout blank and more on a limp one.
/// After the third-length procedure published by W. Hanneman, RodMaker vol. 6 no. 2 (2003).
///
/// For a uniform weightless cantilever P L² / EI = 1.1184…, which follows from the elastica's elliptic integrals
/// (Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272); small-deflection theory would say exactly 1.
///
/// *Tip angle* is φ(L) at that weight.
/// *Bend centre* is the centroid of curvature at that weight, ∫ φ' (L − s) ds / (L ∫ φ' ds), from the tip: 2/(n + 2) for a solid cone with a
/// butt n times its tip that is bent but a little, so 0.67 for a uniform rod, less the more it tapers.
///
/// Accuracy: 1e-5 of power, 0.001° and 0.005 % of the free length on linear tapers.
/// The nearer a blank is to sagging a third by itself, the smaller its power, which is then a small difference of large numbers.
///
/// A blank without weight is fine. In a raised clamp the weight still hangs straight down and the datum is still the horizontal
/// through the clamp.
///
/// # Errors
/// - [`BendError::NothingToBend`] when the clamp is at the tip or beyond,
/// - [`BendError::TooLimp`] when own weight alone drops the tip further than a third,
/// - [`BendError::Buckles`] when a raised blank falls over before,
/// - [`BendError::Senseless`] when a number of the clamp can't be,
/// - [`BendError::NoSolution`] when the numbers are so far from those of a blank that nothing is found.
///
/// # Example
///
/// ```
/// use taperbook_mechanics::{Clamp, Material, Station, Tube, third_length};
/// use taperbook_units::{Density, Length, Pressure};
///
/// let station = |at, od, wall| Station { at: Length::from_mm(at), od: Length::from_mm(od), wall: Length::from_mm(wall) };
/// let material = Material { modulus: Pressure::from_gpa(95.0), density: Density::from_kg_per_m3(1550.0) };
/// let blank = Tube::new(&[station(0.0, 11.2, 1.05), station(2184.0, 1.75, 0.4)], material)?;
/// let third = third_length(&blank, &Clamp::horizontal(Length::from_inches(9.0)))?;
/// assert!((55.0..70.0).contains(&third.tip_angle.deg()));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn third_length(tube: &Tube, clamp: &Clamp) -> Result<ThirdLength, BendError> {
    let (beam, root) = set_up(tube, clamp, BEND_ELEMENTS)?;
    let mut elastica = Elastica::default();
    solve_third(&beam, root, &mut elastica)?;
    // A blank that is stiff beyond measure in a clamp that yields turns as a whole: where its bend lies is lost in rounding.
    if elastica.turned().abs() < 1e-9 {
        return Err(BendError::NoSolution);
    }
    Ok(ThirdLength {
        power: Mass::from_kg(elastica.pull / STANDARD_GRAVITY),
        tip_angle: Angle::from_rad(elastica.tip_angle()),
        bend_centre: elastica.bend_centre(&beam),
    })
}

/// Bends the blank under its own weight and a load at its tip, and gives places on it evenly spaced along it.
///
/// Equations, assumptions and which bend it is where there are several: see [the module](self).
/// The first place is the clamp, the last the tip; there are at least two however few are asked for.
/// x = ∫ cos φ ds outward from the clamp, y = −∫ sin φ ds up from the clamp line.
///
/// Accuracy: 0.001° and 1e-5 of the free length.
///
/// Any direction and any finite load has an answer or an error: a load without size leaves own weight alone, and one that no blank could
/// hold draws it straight along itself, with a bend at the clamp that is sharper than can be told.
///
/// # Errors
/// - [`BendError::NothingToBend`] when the clamp is at the tip or beyond,
/// - [`BendError::Buckles`] when the load, or own weight, pushes back along the blank until it gives way,
/// - [`BendError::Senseless`] when a number of the clamp or of the load can't be,
/// - [`BendError::NoSolution`] when the numbers are so far from those of a blank that nothing is found.
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

/// Finds the pull in the given direction (as in [`Load`]) that brings the tip to an angle below horizontal: P such that φ(L) is that angle.
///
/// Equations, assumptions and which bend it is where there are several: see [the module](self).
/// It is the pull at which the tip comes to that angle first as the pull grows; hung again with [`bend`] it gives that angle.
///
/// A pull never turns the tip past its own direction: a weight that hangs brings it near 90° but never to it, one pulled back by β
/// near 90° + β. Pulls that lift the blank bring the tip to smaller and to negative angles.
///
/// Accuracy: 1e-5 of the pull, but for angles within half a degree of what no pull reaches.
///
/// # Errors
/// - [`BendError::WeightTurnsFurther`] when own weight alone turns the tip further and the pull doesn't lift it,
/// - [`BendError::AngleOutOfReach`] when no pull in that direction brings the tip there,
/// - [`BendError::NothingToBend`], [`BendError::Buckles`], [`BendError::Senseless`], [`BendError::NoSolution`] as for [`bend`].
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
    let beam = beam.ok_or(nothing)?;
    // A modulus or a diameter near nothing leaves no stiffness that a number could hold.
    if beam.elements.iter().all(|element| element.bending.is_sound()) {
        Ok((beam, root))
    } else {
        Err(BendError::NoSolution)
    }
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
    let weight_alone = elastica.solve(beam, root, 0.0, Target::Pull(0.0));
    let drop = weight_alone.map(|()| elastica.tip_drop(beam));
    match (solved, drop) {
        (_, Ok(drop)) if third < drop => {
            Err(BendError::TooLimp { drop: Length::from_m(drop), third: Length::from_m(third) })
        }
        (Err(Fail::Unstable), _) => Err(BendError::Buckles),
        _ => Err(BendError::NoSolution),
    }
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
    match elastica.solve(beam, root, 0.0, Target::Pull(0.0)) {
        Ok(()) if tip_angle < elastica.tip_angle() => {
            Err(BendError::WeightTurnsFurther(Angle::from_rad(elastica.tip_angle())))
        }
        Ok(()) => Err(BendError::AngleOutOfReach(Angle::from_rad(tip_angle))),
        Err(Fail::Unstable) => Err(BendError::Buckles),
        Err(Fail::Unsettled) => Err(BendError::NoSolution),
    }
}
