//! How far off instruments and stated values are: the standard deviations that a fit takes for granted.
//!
//! Common practice, no source, except where a line says otherwise.

use taperbook_units::{Angle, Length, Mass, STANDARD_GRAVITY};

/// Standard deviations of what is measured and stated; every one can be set.
#[derive(Debug, Clone, PartialEq)]
pub struct Errors {
    /// A caliper on the outside diameter: 0.03 mm.
    pub caliper_od: Length,
    /// The same at the thin tip: 0.06 mm.
    pub caliper_tip_od: Length,
    /// A measured wall: 0.05 mm.
    pub wall: Length,
    /// A length by tape: 1 mm.
    pub length: Length,
    /// A length that is only the maker's word: 10 mm.
    pub stated_length: Length,
    /// How far a saw strays from its mark: 0.3 mm.
    pub saw: Length,
    /// A scale: 0.5 g.
    pub scale: Mass,
    /// A balance point: 3 mm.
    pub balance: Length,
    /// A point on the board: 3 mm.
    pub board_drop: Length,
    /// What clamping anew does to a power reading, as a part of it: 2 %.
    pub reclamp: f64,
    /// A tip angle by eye: 1.5°.
    pub tip_angle: Angle,
    /// A tip angle by instrument: 0.5°.
    pub tip_angle_by_instrument: Angle,
    /// A tapped frequency, as a part of it: 0.5 %.
    pub frequency: f64,
    /// A hand pull to an angle, as a part of it: 15 %, because its direction is guessed.
    pub pull: f64,
    /// How far a clamp that should be horizontal is tilted: 0.5°.
    pub tilt: Angle,
    /// Boards whose tilt was measured, each once.
    pub levels: Vec<Level>,
    /// How far a measured tilt is off: 0.1°, a small level or a phone that was turned end for end, so that its own error falls out
    /// (common practice, no source).
    pub measured_tilt: Angle,
    /// Clamps whose give was measured, each once.
    pub gives: Vec<Give>,
    /// How far a measured give is off, as a part of it, since jaws don't yield in proportion: 10 % (common practice, no source).
    pub measured_give: f64,
    /// How far the turn of the jaws under 1 kg a metre out is off besides: 0.1°, what a level shows (common practice, no source).
    pub measured_turn: Angle,
    /// The median give of a clamp under moment: 0.0012 rad per N m; 0 for a clamp that is known not to yield.
    pub give: f64,
    /// The standard deviation of the logarithm of the give: 1.2, so that neither a rigid clamp nor one of three times that is a surprise.
    pub give_spread: f64,
    /// A stated modulus, as a part of it: 3 %.
    pub stated_modulus: f64,
    /// A stated density, as a part of it: 1 %.
    pub stated_density: f64,
    /// How much pieces of one model differ in outside diameter: 0.03 mm, where calipers are of another piece.
    pub piece_od: Length,
    /// How far real blanks stray from straight lines between calipers, as the curvature of their diameter: 0.001 per metre.
    /// With d₁ and d₂ to the calipers on either side, the diameter strays by ½ κ d₁ d₂.
    pub taper_curvature: f64,
    /// The same between the first two calipers, where a butt may be swelled: 0.0025 per metre.
    pub butt_curvature: f64,
    /// What diameters and a uniform modulus don't tell of the stiffness at a place, as a part of it: 7 %.
    pub residual: f64,
    /// The same where modulus and wall are stated: 3 %.
    pub stated_residual: f64,
    /// What walls that are straight between measured ones and a uniform density don't tell of the mass at a place, as a part of it: 5 %,
    /// or as much as [`Errors::stated_residual`] where every wall was measured.
    pub mass_residual: f64,
    /// The same near a spliced solid tip: 10 %.
    pub solid_tip_mass_residual: f64,
    /// The same near a spliced solid tip: 30 %.
    pub solid_tip_residual: f64,
}

/// The measured tilt of a board's clamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The board, as in [`super::Setup`].
    pub board: u64,
    /// Its clamp's angle above horizontal.
    pub tilt: Angle,
}

/// The measured give of a clamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Give {
    /// The clamp, as in [`super::Setup`].
    pub clamp: u64,
    /// How far it turns under a moment, in rad per N m.
    pub give: f64,
}

impl Default for Errors {
    fn default() -> Self {
        Self {
            caliper_od: Length::from_mm(0.03),
            caliper_tip_od: Length::from_mm(0.06),
            wall: Length::from_mm(0.05),
            length: Length::from_mm(1.0),
            stated_length: Length::from_mm(10.0),
            saw: Length::from_mm(0.3),
            scale: Mass::from_g(0.5),
            balance: Length::from_mm(3.0),
            board_drop: Length::from_mm(3.0),
            reclamp: 0.02,
            tip_angle: Angle::from_deg(1.5),
            tip_angle_by_instrument: Angle::from_deg(0.5),
            frequency: 0.005,
            pull: 0.15,
            tilt: Angle::from_deg(0.5),
            levels: Vec::new(),
            measured_tilt: Angle::from_deg(0.1),
            gives: Vec::new(),
            measured_give: 0.1,
            measured_turn: Angle::from_deg(0.1),
            give: 0.0012,
            give_spread: 1.2,
            stated_modulus: 0.03,
            stated_density: 0.01,
            piece_od: Length::from_mm(0.03),
            taper_curvature: 1e-3,
            butt_curvature: 2.5e-3,
            residual: 0.07,
            stated_residual: 0.03,
            mass_residual: 0.05,
            solid_tip_mass_residual: 0.1,
            solid_tip_residual: 0.3,
        }
    }
}

impl Errors {
    /// How far a measured give is off, in rad per N m.
    pub(crate) fn of_measured_give(&self, give: f64) -> f64 {
        (self.measured_give * give).hypot(self.measured_turn.rad() / STANDARD_GRAVITY)
    }

    /// Puts what is not a number, or below zero, back to its default, so that a slip in a setting can't spoil every fit.
    pub(crate) fn sensible(&self) -> Self {
        let usual = Self::default();
        let or = |value: f64, usual: f64| {
            if 0.0 <= value && value.is_finite() { value } else { usual }
        };
        let length = |value: Length, usual: Length| Length::from_m(or(value.m(), usual.m()));
        let angle = |value: Angle, usual: Angle| Angle::from_rad(or(value.rad(), usual.rad()));
        let level = |level: &&Level| level.tilt.rad().abs() < 0.5;
        let give = |give: &&Give| 0.0 <= give.give && give.give < 1.0;
        Self {
            caliper_od: length(self.caliper_od, usual.caliper_od),
            caliper_tip_od: length(self.caliper_tip_od, usual.caliper_tip_od),
            wall: length(self.wall, usual.wall),
            length: length(self.length, usual.length),
            stated_length: length(self.stated_length, usual.stated_length),
            saw: length(self.saw, usual.saw),
            scale: Mass::from_kg(or(self.scale.kg(), usual.scale.kg())),
            balance: length(self.balance, usual.balance),
            board_drop: length(self.board_drop, usual.board_drop),
            reclamp: or(self.reclamp, usual.reclamp),
            tip_angle: angle(self.tip_angle, usual.tip_angle),
            tip_angle_by_instrument: angle(
                self.tip_angle_by_instrument,
                usual.tip_angle_by_instrument,
            ),
            frequency: or(self.frequency, usual.frequency),
            pull: or(self.pull, usual.pull),
            tilt: angle(self.tilt, usual.tilt),
            levels: self.levels.iter().filter(level).copied().collect(),
            measured_tilt: angle(self.measured_tilt, usual.measured_tilt),
            gives: self.gives.iter().filter(give).copied().collect(),
            measured_give: or(self.measured_give, usual.measured_give),
            measured_turn: angle(self.measured_turn, usual.measured_turn),
            give: or(self.give, usual.give),
            give_spread: or(self.give_spread, usual.give_spread),
            stated_modulus: or(self.stated_modulus, usual.stated_modulus),
            stated_density: or(self.stated_density, usual.stated_density),
            piece_od: length(self.piece_od, usual.piece_od),
            taper_curvature: or(self.taper_curvature, usual.taper_curvature),
            butt_curvature: or(self.butt_curvature, usual.butt_curvature),
            residual: or(self.residual, usual.residual),
            stated_residual: or(self.stated_residual, usual.stated_residual),
            mass_residual: or(self.mass_residual, usual.mass_residual),
            solid_tip_mass_residual: or(
                self.solid_tip_mass_residual,
                usual.solid_tip_mass_residual,
            ),
            solid_tip_residual: or(self.solid_tip_residual, usual.solid_tip_residual),
        }
    }
}
