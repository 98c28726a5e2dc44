//! Vibration: the first natural frequency of the clamped bare blank.
//!
//! Small swings about the straight blank; no damping, no higher modes.

mod hermite;
mod mode;
#[cfg(test)]
mod tests;

use taperbook_units::{Frequency, Length, Mass};
use thiserror::Error;

use mode::Carried;
pub(crate) use mode::{Mode, NoMode};

use crate::bend::{BendError, Clamp, set_up};
use crate::tube::Tube;

/// How many elements a free length without stations between its ends gets.
pub(crate) const SWING_ELEMENTS: f64 = 24.0;

/// Why a frequency can't be computed.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum VibrateError {
    /// The clamp leaves nothing free.
    #[error("held at {:.0} mm of a blank of {:.0} mm, so nothing is left to swing: hold it nearer the butt", .held_at.mm(), .length.mm())]
    NothingToSwing {
        /// Where it is held.
        held_at: Length,
        /// The length of the blank.
        length: Length,
    },
    /// A blank without weight has no frequency.
    #[error("a blank without weight has no frequency: weigh it, or give a density above 0 kg/m3")]
    NoWeight,
    /// A number of the clamp makes no sense.
    #[error(
        "the clamp has a number that can't be: all finite, held at 0 mm or more, raised at most 90 deg, give 0 or more"
    )]
    Senseless,
    /// The numbers are so far from those of a blank that no frequency was found.
    #[error("no frequency was found: check the diameters, the modulus and the density")]
    NoSolution,
}

/// Finds the first natural frequency of the bare blank in the clamp.
///
/// Small vibration about the straight free length: (EI v'')'' = ω² ρA v along it, s from the clamp, v the deflection, with
///
/// - v(0) = 0 and v'(0) = c M(0), c the clamp's give and M = EI v'' the moment,
/// - M(L) = 0 and M'(L) = 0 at the tip, which carries nothing,
///
/// and f = ω / 2π for the smallest ω. Source: Thomson, *Theory of Vibration*, chapter on continuous systems.
/// For a uniform cantilever ω L² √(ρA / EI) = 3.5160 (its app. D), for a complete cone 8.7193 with the section of its base
/// (Conway, Becker & Dubil, J. Appl. Mech. 31 (1964) 329).
///
/// Assumptions: gravity, damping by air, shear and rotary inertia are left out; on a blank the last two are below 0.1 %.
/// The angle of the clamp does not matter, and neither does the sag: what is found is the small swing of the straight blank.
///
/// Method: the mass by cubic Hermite elements, the flexibility by integrating M/EI, inverse iteration with Rayleigh's quotient.
/// It begins with a shape that has no node, and so comes to the first mode.
/// Accuracy: 1e-5 of the frequency on linear tapers, measured by refinement and held against Bessel functions and a general
/// boundary-value solver.
///
/// # Errors
/// - [`VibrateError::NothingToSwing`] when the clamp is at the tip or beyond,
/// - [`VibrateError::NoWeight`] when the density is zero,
/// - [`VibrateError::Senseless`] when a number of the clamp can't be,
/// - [`VibrateError::NoSolution`] when the numbers are so far from those of a blank that nothing is found.
///
/// # Example
///
/// ```
/// use taperbook_mechanics::{Clamp, Material, Station, Tube, natural_frequency};
/// use taperbook_units::{Density, Length, Pressure};
///
/// // A solid rod of a metre: f = 3.5160 / 2π · (d / 4) √(E / ρ) / L².
/// let station = |at| Station { at: Length::from_m(at), od: Length::from_mm(10.0), wall: Length::from_mm(5.0) };
/// let material = Material { modulus: Pressure::from_gpa(100.0), density: Density::from_kg_per_m3(1600.0) };
/// let rod = Tube::new(&[station(0.0), station(1.0)], material)?;
/// let frequency = natural_frequency(&rod, &Clamp::horizontal(Length::from_m(0.0)))?;
/// assert!((frequency.hz() - 11.06).abs() < 0.01, "{frequency:?}");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn natural_frequency(tube: &Tube, clamp: &Clamp) -> Result<Frequency, VibrateError> {
    natural_frequency_with(tube, clamp, &[])
}

/// Finds the first natural frequency of a blank that carries masses, such as its guides.
///
/// The equations, assumptions and errors are those of [`natural_frequency`]; each mass is a point on the axis, which adds m v² to the
/// kinetic energy and neither stiffness nor rotary inertia. A place is a distance from the present butt; a mass in the clamp or beyond the
/// ends of the blank moves nothing.
///
/// Accuracy: 1e-5 of the frequency; held against the published characteristic roots of a cantilever with a mass at its tip.
///
/// # Errors
/// As for [`natural_frequency`]; [`VibrateError::Senseless`] also when a mass or a place is no number, or a mass is negative.
pub fn natural_frequency_with(
    tube: &Tube,
    clamp: &Clamp,
    masses: &[(Length, Mass)],
) -> Result<Frequency, VibrateError> {
    let (beam, root) = set_up(tube, clamp, SWING_ELEMENTS).map_err(|error| match error {
        BendError::NothingToBend { held_at, length } => {
            VibrateError::NothingToSwing { held_at, length }
        }
        BendError::NoSolution => VibrateError::NoSolution,
        _ => VibrateError::Senseless,
    })?;
    let is_sound =
        |(at, mass): &(Length, Mass)| at.m().is_finite() && (0.0..1e6).contains(&mass.kg());
    if !masses.iter().all(is_sound) {
        return Err(VibrateError::Senseless);
    }
    // A place that rounding has put a hair beyond the tip is the tip.
    const HAIR: f64 = 1e-7;
    let carried = masses.iter().filter_map(|(at, mass)| {
        let at = at.m();
        let mut from = clamp.held_at.m();
        for (element_idx, element) in beam.elements.iter().enumerate() {
            let to = from + element.length;
            if from < at && at <= to + HAIR {
                let part = ((at - from) / element.length).min(1.0);
                return Some(Carried { element: element_idx, part, mass: mass.kg() });
            }
            from = to;
        }
        None
    });
    let mut mode = Mode::carrying(carried.collect());
    mode.solve(&beam, tube.density, root.give).map_err(|none| match none {
        NoMode::NoWeight => VibrateError::NoWeight,
        NoMode::NotFound => VibrateError::NoSolution,
    })?;
    Ok(Frequency::from_hz(mode.frequency()))
}
