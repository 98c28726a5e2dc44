//! The quantities of a piece that limits, aims, readings and numbers speak of.

use taperbook_units::Dimension;

/// One of the numbers of a state of a piece (design: the numbers).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Measure {
    /// Length of the bare blank.
    Length,
    /// Length from where it is held to the tip.
    FreeLength,
    /// Outside diameter at the tip.
    TipOd,
    /// Outside diameter at the butt.
    ButtOd,
    /// Weight of the bare blank.
    Weight,
    /// Balance point from the butt.
    Balance,
    /// Weight that holds the tip a third of the free length below the clamp line.
    Power,
    /// Power × free length², relative to the uncut blank.
    StiffnessForLength,
    /// Angle of the tip below horizontal at the power weight.
    TipAngle,
    /// Centroid of curvature along the free length, from the tip.
    BendCentre,
    /// First natural frequency of the bare blank.
    Recovery,
}

impl Measure {
    /// All of them, in the order in which they are shown.
    pub const ALL: [Measure; 11] = [
        Measure::Length,
        Measure::FreeLength,
        Measure::TipOd,
        Measure::ButtOd,
        Measure::Weight,
        Measure::Balance,
        Measure::Power,
        Measure::StiffnessForLength,
        Measure::TipAngle,
        Measure::BendCentre,
        Measure::Recovery,
    ];

    /// Its key in records and queries, such as `tip_od`.
    pub fn key(self) -> &'static str {
        self.row().0
    }

    /// Its key in JSON, which carries the unit, such as `tip_od_mm`.
    pub fn json_key(self) -> &'static str {
        self.row().1
    }

    /// What one JSON unit is in SI units: 0.001 for `tip_od_mm`.
    pub fn json_unit(self) -> f64 {
        self.row().2
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.row().3
    }

    /// What people call it.
    pub fn words(self) -> &'static str {
        self.row().4
    }

    /// Finds one by its key in records.
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|measure| measure.key() == key)
    }

    fn row(self) -> (&'static str, &'static str, f64, Dimension, &'static str) {
        const DEGREE: f64 = std::f64::consts::PI / 180.0;
        match self {
            Measure::Length => ("length", "length_mm", 1e-3, Dimension::Length, "length"),
            Measure::FreeLength => {
                ("free_length", "free_length_mm", 1e-3, Dimension::Length, "free length")
            }
            Measure::TipOd => ("tip_od", "tip_od_mm", 1e-3, Dimension::Length, "tip diameter"),
            Measure::ButtOd => ("butt_od", "butt_od_mm", 1e-3, Dimension::Length, "butt diameter"),
            Measure::Weight => ("weight", "weight_g", 1e-3, Dimension::Mass, "weight"),
            Measure::Balance => ("balance", "balance_mm", 1e-3, Dimension::Length, "balance point"),
            Measure::Power => ("power", "power_g", 1e-3, Dimension::Mass, "power"),
            Measure::StiffnessForLength => (
                "stiffness_for_length",
                "stiffness_for_length",
                1.0,
                Dimension::Count,
                "stiffness for its length",
            ),
            Measure::TipAngle => {
                ("tip_angle", "tip_angle_deg", DEGREE, Dimension::Angle, "tip angle")
            }
            Measure::BendCentre => {
                ("bend_centre", "bend_centre_pct", 0.01, Dimension::Fraction, "bend centre")
            }
            Measure::Recovery => ("recovery", "recovery_hz", 1.0, Dimension::Frequency, "recovery"),
        }
    }
}
