//! What each quantity of a record measures, an example of how to write it, and how large it can be.
//!
//! The bounds are wide on purpose: they only catch a wrong unit or a slip of the decimal point.
//! They are common practice, no source.

use taperbook_units::{Dimension, Quantity};

use crate::Measure;
use crate::source::quoted;

/// How one quantity is written.
#[derive(Debug)]
pub(crate) struct Spec {
    pub(crate) dimension: Dimension,
    /// One as a builder writes it.
    pub(crate) example: &'static str,
    /// What it is called in a message, with its article.
    pub(crate) words: &'static str,
    /// Least and most, in SI units.
    bounds: (f64, f64),
}

const fn spec(
    dimension: Dimension,
    words: &'static str,
    example: &'static str,
    bounds: (f64, f64),
) -> Spec {
    Spec { dimension, example, words, bounds }
}

const DEG: f64 = std::f64::consts::PI / 180.0;

pub(crate) static LENGTH: Spec = spec(Dimension::Length, "a blank's length", "7'2\"", (0.25, 20.0));
pub(crate) static OFFCUT_LENGTH: Spec =
    spec(Dimension::Length, "an offcut's length", "11 in", (0.005, 20.0));
pub(crate) static FREE_LENGTH: Spec =
    spec(Dimension::Length, "a free length", "6'5\"", (0.1, 20.0));
pub(crate) static HELD_AT: Spec =
    spec(Dimension::Length, "a grip's distance from the butt", "9 in", (0.0, 2.0));
pub(crate) static AT: Spec =
    spec(Dimension::Length, "a distance from the butt", "30 in", (0.0, 20.0));
pub(crate) static OVERLAP: Spec = spec(Dimension::Length, "an overlap", "3 in", (0.002, 0.5));
pub(crate) static CUT: Spec = spec(Dimension::Length, "a cut", "1 in", (0.000_1, 5.0));
pub(crate) static TIP_OD: Spec =
    spec(Dimension::Length, "a tip's diameter", "1.75 mm", (0.000_3, 0.015));
pub(crate) static OD: Spec =
    spec(Dimension::Length, "a blank's diameter", "8.4 mm", (0.000_3, 0.045));
pub(crate) static BUTT_OD: Spec =
    spec(Dimension::Length, "a butt's diameter", "11.2 mm", (0.000_3, 0.045));
pub(crate) static WALL: Spec = spec(Dimension::Length, "a wall", "1.05 mm", (0.000_05, 0.0225));
pub(crate) static WEIGHT: Spec = spec(Dimension::Mass, "a blank's weight", "46 g", (0.002, 3.0));
pub(crate) static BALANCE: Spec = spec(Dimension::Length, "a balance point", "30 in", (0.02, 20.0));
pub(crate) static POWER: Spec = spec(Dimension::Mass, "a power", "212 g", (0.002, 30.0));
pub(crate) static LOAD: Spec = spec(Dimension::Mass, "a load", "200 g", (0.001, 100.0));
pub(crate) static TIP_ANGLE: Spec =
    spec(Dimension::Angle, "a tip angle", "66 deg", (2.0 * DEG, 180.0 * DEG));
pub(crate) static SPINE: Spec =
    spec(Dimension::Angle, "an angle around the blank", "40 deg", (0.0, 360.0 * DEG));
pub(crate) static FREQUENCY: Spec =
    spec(Dimension::Frequency, "a frequency", "5.6 Hz", (0.2, 60.0));
pub(crate) static BEND_CENTRE: Spec =
    spec(Dimension::Fraction, "a bend centre", "33 %", (0.02, 0.98));
pub(crate) static STIFFNESS: Spec =
    spec(Dimension::Count, "a stiffness for its length", "0.95", (0.05, 20.0));
pub(crate) static MODULUS: Spec = spec(Dimension::Pressure, "a modulus", "95 GPa", (2e9, 900e9));
pub(crate) static DENSITY: Spec =
    spec(Dimension::Density, "a density", "1550 kg/m3", (300.0, 4000.0));
pub(crate) static BORE: Spec = spec(Dimension::Length, "a bore", "2.25 mm", (0.000_3, 0.06));
pub(crate) static RING: Spec = spec(Dimension::Length, "a ring", "6 mm", (0.000_5, 0.1));
pub(crate) static ADDS_LENGTH: Spec =
    spec(Dimension::Length, "what a fitting adds", "8 mm", (0.0, 1.0));
pub(crate) static ADDS_WEIGHT: Spec =
    spec(Dimension::Mass, "what a fitting adds", "0.6 g", (0.0, 1.0));
pub(crate) static BOARD_POINT: Spec =
    spec(Dimension::Length, "a point on the board", "400 mm", (0.0, 20.0));
pub(crate) static ERROR_LENGTH: Spec = spec(Dimension::Length, "an error", "0.03 mm", (0.0, 0.05));
pub(crate) static ERROR_MASS: Spec = spec(Dimension::Mass, "an error", "0.5 g", (0.0, 0.1));
pub(crate) static ERROR_ANGLE: Spec =
    spec(Dimension::Angle, "an error", "1.5 deg", (0.0, 20.0 * DEG));
pub(crate) static ERROR_PART: Spec = spec(Dimension::Fraction, "an error", "2 %", (0.0, 0.5));
pub(crate) static TILT: Spec =
    spec(Dimension::Angle, "a tilt", "0.5 deg", (-45.0 * DEG, 45.0 * DEG));
pub(crate) static GIVES: Spec = spec(
    Dimension::Angle,
    "how far a clamp yields under 1 kg a metre out",
    "0.5 deg",
    (0.0, 20.0 * DEG),
);
pub(crate) static CLEARANCE: Spec = spec(Dimension::Length, "a clearance", "0.1 mm", (0.0, 0.005));
pub(crate) static KERF: Spec = spec(Dimension::Length, "a kerf", "0.6 mm", (0.0, 0.01));

/// How a measure of limits and aims is written.
pub(crate) fn of(measure: Measure) -> &'static Spec {
    match measure {
        Measure::Length => &LENGTH,
        Measure::FreeLength => &FREE_LENGTH,
        Measure::TipOd => &TIP_OD,
        Measure::ButtOd => &BUTT_OD,
        Measure::Weight => &WEIGHT,
        Measure::Balance => &BALANCE,
        Measure::Power => &POWER,
        Measure::StiffnessForLength => &STIFFNESS,
        Measure::TipAngle => &TIP_ANGLE,
        Measure::BendCentre => &BEND_CENTRE,
        Measure::Recovery => &FREQUENCY,
    }
}

impl Spec {
    /// Says why a value cannot be meant, and what may have been: `2.4 in` of a tip's diameter is `2.4 mm`.
    pub(crate) fn implausible(&self, text: &str, si: f64) -> Option<String> {
        let (low, high) = self.bounds;
        // A hair wider, so that a bound written in another unit is inside.
        let within =
            |value: f64| low * (1.0 - 1e-9) - 1e-12 <= value && value <= high * (1.0 + 1e-9);
        if within(si) {
            return None;
        }
        let size = if high < si { "too much" } else { "too little" };
        let meant = self.other_units().iter().find_map(|unit| {
            let meant = format!("{} {unit}", number(text)?);
            let quantity = Quantity::parse_as(&meant, self.dimension).ok()?;
            (quantity.si != si && within(quantity.si)).then_some(meant)
        });
        let cure = match meant {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("write one such as `{}`", self.example),
        };
        Some(format!("{} is {size} for {}: {cure}", quoted(text), self.words))
    }

    fn other_units(&self) -> &'static [&'static str] {
        match self.dimension {
            // What is a few millimetres is never written in anything else on purpose.
            Dimension::Length if self.bounds.1 < 0.1 => &["mm"],
            Dimension::Length => &["in", "mm", "cm", "ft"],
            Dimension::Mass => &["g", "oz", "kg"],
            Dimension::Angle => &["deg"],
            Dimension::Pressure => &["GPa"],
            Dimension::Density => &["kg/m3", "g/cm3"],
            Dimension::Fraction => &["%"],
            Dimension::Frequency | Dimension::Force | Dimension::Count => &[],
        }
    }
}

/// The number that a quantity begins with.
pub(crate) fn number(text: &str) -> Option<&str> {
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/' | ' ')))
        .unwrap_or(text.len());
    let number = text[..end].trim();
    (!number.is_empty()).then_some(number)
}
