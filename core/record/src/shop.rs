//! `shop.yaml`: what all records of a shop folder share.

use taperbook_units::{Angle, Length, Mass, Units};

use crate::Spanned;

/// What the shop shares.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shop {
    /// `name`
    pub name: Option<Spanned<String>>,
    /// `units`: `inches` or `millimetres`.
    pub units: Option<Spanned<Units>>,
    /// `held_at`, when neither build nor card says.
    pub held_at: Option<Spanned<Length>>,
    /// `boards`, by name.
    pub boards: Vec<Board>,
    /// `clamps`, by name.
    pub clamps: Vec<Clamp>,
    /// `errors`: of the instruments, where known.
    pub errors: InstrumentErrors,
    /// `allowances`
    pub allowances: Allowances,
    /// `saws`, by name.
    pub saws: Vec<Saw>,
}

impl Shop {
    /// The units that numbers are printed in: those that it names, else inches.
    #[must_use]
    pub fn units(&self) -> Units {
        self.units.as_ref().map(|units| units.value).unwrap_or_default()
    }

    /// The saw that a cut was made `with`: one whose name these words begin with, in any case, since what else was
    /// taken stands behind it; the longest name where several do.
    #[must_use]
    pub fn saw(&self, with: &str) -> Option<&Saw> {
        let with = with.to_lowercase();
        let named = self.saws.iter().filter(|saw| with.starts_with(&saw.name.to_lowercase()));
        named.max_by_key(|saw| saw.name.len())
    }
}

/// A deflection board.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Board {
    /// Its name.
    pub name: String,
    /// `clamp`: the clamp on it.
    pub clamp: Option<String>,
    /// `tilt`, where it was measured: up is positive.
    pub tilt: Option<Angle>,
}

/// A clamp.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Clamp {
    /// Its name.
    pub name: String,
    /// `gives`: how far it yields under 1 kg hung a metre out on something stiff.
    pub gives: Option<Angle>,
    /// `note`
    pub note: Option<String>,
}

/// The instruments' errors as standard deviations.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct InstrumentErrors {
    /// `caliper`: outside diameter.
    pub caliper: Option<Length>,
    /// `caliper_at_tip`: outside diameter of the thin tip.
    pub caliper_at_tip: Option<Length>,
    /// `wall`
    pub wall: Option<Length>,
    /// `length`: the tape.
    pub length: Option<Length>,
    /// `stated_length`: a length that is only the maker's word.
    pub stated_length: Option<Length>,
    /// `scale`
    pub scale: Option<Mass>,
    /// `balance`
    pub balance: Option<Length>,
    /// `board_drop`: a point read off the board.
    pub board_drop: Option<Length>,
    /// `reclamp`: the part of a power reading that changes from clamping to clamping.
    pub reclamp: Option<f64>,
    /// `tip_angle`: by eye.
    pub tip_angle: Option<Angle>,
    /// `tip_angle_by_instrument`
    pub tip_angle_by_instrument: Option<Angle>,
    /// `pull`: a pull by hand, as a part of it.
    pub pull: Option<f64>,
    /// `frequency`: as a part of it.
    pub frequency: Option<f64>,
    /// `tilt`: of the clamp, from setup to setup.
    pub tilt: Option<Angle>,
    /// `saw`: how far a cut lands from its mark.
    pub saw: Option<Length>,
}

/// What a bore must leave, each as a range of the difference in diameter.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Allowances {
    /// `tip_top`: least and most clearance for glue.
    pub tip_top: Option<(Length, Length)>,
    /// `butt`
    pub butt: Option<(Length, Length)>,
    /// `lacquer`: what the finish adds to a diameter.
    pub lacquer: Option<Length>,
}

/// A saw and what it turns to dust.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Saw {
    /// Its name.
    pub name: String,
    /// `kerf`
    pub kerf: Option<Length>,
}
