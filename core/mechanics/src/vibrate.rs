//! Vibration: the first natural frequency of the clamped bare blank.
//!
//! Small swings about the straight blank; no damping, no higher modes.

mod hermite;
mod mode;
#[cfg(test)]
mod tests;

use taperbook_units::{Frequency, Length};
use thiserror::Error;

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
/// Small vibration about the straight horizontal free length: (EI v'')'' = ω² ρA v with v = 0 at the clamp,
/// v' there equal to the clamp's give times its moment, and the tip free; f = ω / 2π.
/// Neither gravity, nor damping by air, shear or rotary inertia is in it; on a blank the last two are below 0.1 %.
/// A clamp's angle does not matter.
///
/// By Hermite cubic elements and inverse iteration; the error of ω falls with the fourth power of the element length and is below
/// 1e-5 on linear tapers, see the crate's refinement tests.
/// For a uniform cantilever ω L² √(ρA / EI) = 3.5160 (Thomson, *Theory of Vibration*, app. D).
///
/// # Errors
/// When nothing is free, a number of the clamp makes no sense, the blank has no weight, or no solution is found.
pub fn natural_frequency(tube: &Tube, clamp: &Clamp) -> Result<Frequency, VibrateError> {
    let (beam, root) = set_up(tube, clamp, SWING_ELEMENTS).map_err(|error| match error {
        BendError::NothingToBend { held_at, length } => {
            VibrateError::NothingToSwing { held_at, length }
        }
        _ => VibrateError::Senseless,
    })?;
    let mut mode = Mode::default();
    mode.solve(&beam, tube.density, root.give).map_err(|none| match none {
        NoMode::NoWeight => VibrateError::NoWeight,
        NoMode::NotFound => VibrateError::NoSolution,
    })?;
    Ok(Frequency::from_hz(mode.frequency()))
}
