//! The units a rod builder writes, their spellings and their exact factors; not the notation around them.

use crate::{Dimension, STANDARD_GRAVITY};

/// One unit: `value * numerator / denominator` is SI.
#[derive(Debug)]
pub(crate) struct Unit {
    /// Every spelling, the symbol first; letter case does not matter.
    pub(crate) names: &'static [&'static str],
    pub(crate) dimension: Dimension,
    numerator: f64,
    denominator: f64,
}

impl Unit {
    pub(crate) fn symbol(&self) -> &'static str {
        self.names[0]
    }

    pub(crate) fn si(&self, value: f64) -> f64 {
        value * self.numerator / self.denominator
    }

    /// Finds the unit of this spelling.
    pub(crate) fn named(spelling: &str) -> Option<&'static Self> {
        // In SI `mPa` is a thousandth of a pascal, which no modulus is: it is a slip for `MPa`, to be shown and not guessed.
        if spelling == "mPa" {
            return None;
        }
        UNITS.iter().find(|unit| unit.names.iter().any(|name| same(name, spelling)))
    }

    /// Finds spellings near this one, nearest first, of one dimension when it is known.
    pub(crate) fn near(spelling: &str, dimension: Option<Dimension>) -> Option<&'static str> {
        let wanted = |unit: &&Self| dimension.is_none_or(|dimension| unit.dimension == dimension);
        if let Some((_, symbol)) = SLIPS.iter().find(|(slip, _)| same(slip, spelling)) {
            return Some(symbol);
        }
        let written = spelling.to_lowercase();
        let names = UNITS.iter().filter(wanted).flat_map(|unit| unit.names.iter().copied());
        let (distance, name) = names
            .map(|name| (strsim::osa_distance(&written, &name.to_lowercase()), name))
            .min_by_key(|(distance, _)| *distance)?;
        let shorter = written.chars().count().min(name.chars().count());
        let allowed = if shorter < 5 { 1 } else { 2 };
        (distance <= allowed && distance < shorter).then_some(name)
    }
}

/// A larger and a smaller unit that are written together.
#[derive(Debug)]
pub(crate) struct Pair {
    pub(crate) large: &'static str,
    pub(crate) small: &'static str,
    /// How many of the smaller make one of the larger.
    pub(crate) ratio: f64,
    /// Their plurals, for messages.
    pub(crate) larges: &'static str,
    pub(crate) smalls: &'static str,
}

pub(crate) static PAIRS: [Pair; 2] = [
    Pair { large: "ft", small: "in", ratio: 12.0, larges: "feet", smalls: "inches" },
    Pair { large: "lb", small: "oz", ratio: 16.0, larges: "pounds", smalls: "ounces" },
];

/// Spellings that are too short for a distance to tell what was meant; `gr` is the grain in print and a gram in the shop.
const SLIPS: [(&str, &str); 8] = [
    ("gm", "g"),
    ("gms", "g"),
    ("gr", "g"),
    ("kilo", "kg"),
    ("kilos", "kg"),
    ("cps", "Hz"),
    ("d", "deg"),
    ("pct", "%"),
];

/// Pound-force in newtons: the pound of 1959 under standard gravity, 4.448 221 615 260 5 N (NIST SP 811 table B.8).
const POUND_FORCE: f64 = 0.45359237 * STANDARD_GRAVITY;
/// A square inch in square metres, exactly.
const SQUARE_INCH: f64 = 0.000_645_16;

const fn unit(
    names: &'static [&'static str],
    dimension: Dimension,
    numerator: f64,
    denominator: f64,
) -> Unit {
    Unit { names, dimension, numerator, denominator }
}

/// Factors of length and mass are exact by the yard-and-pound agreement of 1959; the others follow from them (NIST SP 811 appendix B).
static UNITS: [Unit; 28] = [
    unit(&["in", "\"", "inches", "inch"], Dimension::Length, 254.0, 1e4),
    unit(&["ft", "'", "feet", "foot"], Dimension::Length, 3048.0, 1e4),
    unit(
        &["mm", "millimetre", "millimetres", "millimeter", "millimeters"],
        Dimension::Length,
        1.0,
        1e3,
    ),
    unit(
        &["cm", "centimetre", "centimetres", "centimeter", "centimeters"],
        Dimension::Length,
        1.0,
        1e2,
    ),
    unit(&["m", "metre", "metres", "meter", "meters"], Dimension::Length, 1.0, 1.0),
    unit(&["g", "gram", "grams", "gramme", "grammes"], Dimension::Mass, 1.0, 1e3),
    unit(&["oz", "ounce", "ounces"], Dimension::Mass, 45_359_237.0, 1.6e9),
    unit(&["lb", "lbs", "pound", "pounds"], Dimension::Mass, 45_359_237.0, 1e8),
    unit(&["kg", "kilogram", "kilograms"], Dimension::Mass, 1.0, 1.0),
    unit(&["deg", "°", "degree", "degrees"], Dimension::Angle, std::f64::consts::PI, 180.0),
    unit(&["rad", "radian", "radians"], Dimension::Angle, 1.0, 1.0),
    unit(&["Hz", "hertz"], Dimension::Frequency, 1.0, 1.0),
    unit(&["GPa"], Dimension::Pressure, 1e9, 1.0),
    unit(&["MPa"], Dimension::Pressure, 1e6, 1.0),
    unit(&["kPa"], Dimension::Pressure, 1e3, 1.0),
    unit(&["Pa", "pascal", "pascals"], Dimension::Pressure, 1.0, 1.0),
    unit(&["Msi"], Dimension::Pressure, POUND_FORCE * 1e6, SQUARE_INCH),
    unit(&["ksi"], Dimension::Pressure, POUND_FORCE * 1e3, SQUARE_INCH),
    unit(&["psi"], Dimension::Pressure, POUND_FORCE, SQUARE_INCH),
    unit(&["kg/m3", "kg/m^3", "kg/m³"], Dimension::Density, 1.0, 1.0),
    unit(&["g/cm3", "g/cm^3", "g/cm³", "g/cc"], Dimension::Density, 1e3, 1.0),
    // A cubic inch is 0.000 016 387 064 m³ exactly.
    unit(&["lb/in3", "lb/in^3", "lb/in³"], Dimension::Density, 45_359_237.0, 1638.7064),
    unit(&["N", "newton", "newtons"], Dimension::Force, 1.0, 1.0),
    unit(&["lbf"], Dimension::Force, POUND_FORCE, 1.0),
    unit(&["ozf"], Dimension::Force, POUND_FORCE, 16.0),
    unit(&["kgf"], Dimension::Force, STANDARD_GRAVITY, 1.0),
    unit(&["gf"], Dimension::Force, STANDARD_GRAVITY, 1e3),
    unit(&["%", "percent"], Dimension::Fraction, 1.0, 1e2),
];

fn same(name: &str, spelling: &str) -> bool {
    name.eq_ignore_ascii_case(spelling)
}
