//! Quantities into workshop notation.

use crate::{Angle, Density, Dimension, Length, Mass, Pressure, Quantity};

/// Which units a shop reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Lengths in feet and inches (diameters stay in millimetres), masses in grams.
    #[default]
    Inches,
    /// Lengths in millimetres, masses in grams.
    Millimetres,
}

/// How a value that is not a finite number prints; it reads back as nothing.
const NO_NUMBER: &str = "no number";

impl Units {
    /// Prints the length of a blank: `6'10 1/2"` to the sixteenth, or `2096 mm`.
    pub fn length(self, length: Length) -> String {
        match self {
            Self::Inches => feet_and_inches(length),
            Self::Millimetres => decimal(length.mm(), 0, " mm"),
        }
    }
    /// Prints a short length such as a cut: `2 1/2 in` to the sixteenth, or `63.5 mm`.
    pub fn cut(self, length: Length) -> String {
        match self {
            Self::Inches => inches_only(length),
            Self::Millimetres => decimal(length.mm(), 1, " mm"),
        }
    }
    /// Prints a place to mark, right to half a millimetre: `85 5/32 in (2163.0 mm)`, or `2163.0 mm`.
    pub fn mark(self, length: Length) -> String {
        let mm = decimal(length.mm(), 1, " mm");
        match (self, parts_of_inch(length, 32.0)) {
            (Self::Inches, Some((sign, total))) => {
                format!("{sign}{} in ({mm})", mixed(total, 32.0))
            }
            _ => mm,
        }
    }
    /// Prints a diameter, a wall or a kerf: always millimetres, to 0.01.
    pub fn diameter(self, length: Length) -> String {
        decimal(length.mm(), 2, " mm")
    }
    /// Prints a mass in grams: one decimal below 100 g, none above.
    pub fn mass(self, mass: Mass) -> String {
        // 99.95 g rounds up to the hundred, where the decimal ends.
        let places = if mass.g().abs() < 99.95 { 1 } else { 0 };
        decimal(mass.g(), places, " g")
    }
    /// Prints an SI value of any dimension in the unit that the shop uses for it.
    ///
    /// Angles, pressures and fractions have one decimal (`66.0 deg`, `95.0 GPa`, `12.0 %`),
    /// frequencies and forces two (`5.60 Hz`, `5.00 N`), densities none (`1550 kg/m3`),
    /// plain numbers at most two.
    pub fn value(self, dimension: Dimension, si: f64) -> String {
        match dimension {
            Dimension::Length => self.length(Length::from_si(si)),
            Dimension::Mass => self.mass(Mass::from_si(si)),
            Dimension::Angle => decimal(Angle::from_si(si).deg(), 1, " deg"),
            Dimension::Frequency => decimal(si, 2, " Hz"),
            Dimension::Pressure => decimal(Pressure::from_si(si).gpa(), 1, " GPa"),
            Dimension::Density => decimal(Density::from_si(si).kg_per_m3(), 0, " kg/m3"),
            Dimension::Force => decimal(si, 2, " N"),
            Dimension::Fraction => decimal(si * 100.0, 1, " %"),
            Dimension::Count => trimmed(&decimal(si, 2, "")).to_owned(),
        }
    }
}

/// Prints the metric unit of the dimension, to as many decimals as the half step warrants.
pub(crate) fn metric(quantity: &Quantity) -> String {
    let (per_si, unit) = match quantity.dimension {
        Dimension::Length => (1e3, " mm"),
        Dimension::Mass => (1e3, " g"),
        Dimension::Angle => (Angle::from_si(1.0).deg(), " deg"),
        Dimension::Frequency => (1.0, " Hz"),
        Dimension::Pressure => (1e-9, " GPa"),
        Dimension::Density => (1.0, " kg/m3"),
        Dimension::Force => (1.0, " N"),
        Dimension::Fraction => (100.0, " %"),
        Dimension::Count => (1.0, ""),
    };
    const MOST_PLACES: usize = 6;
    let step = 2.0 * quantity.half_step.abs() * per_si;
    // A step of a half prints a decimal too, so that rounding stays inside the half step.
    let places = (0..MOST_PLACES)
        .find(|places| power_of_ten(*places) * step >= 0.999)
        .unwrap_or(MOST_PLACES);
    decimal(quantity.si * per_si, places, unit)
}

fn power_of_ten(exponent: usize) -> f64 {
    (0..exponent).fold(1.0, |power, _| power * 10.0)
}

/// Prints a number to a fixed number of decimals, without the minus of a zero.
fn decimal(value: f64, places: usize, unit: &str) -> String {
    if !value.is_finite() {
        return NO_NUMBER.to_owned();
    }
    let digits = format!("{:.places$}", value.abs());
    let is_zero = digits.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    let sign = if value < 0.0 && !is_zero { "-" } else { "" };
    format!("{sign}{digits}{unit}")
}

fn trimmed(decimal: &str) -> &str {
    if decimal.contains('.') {
        decimal.trim_end_matches('0').trim_end_matches('.')
    } else {
        decimal
    }
}

/// Prints `6'10 1/2"`, and a length below a foot as `10 1/2"`.
fn feet_and_inches(length: Length) -> String {
    let Some((sign, total)) = parts_of_inch(length, 16.0) else { return NO_NUMBER.to_owned() };
    let feet = (total / 192.0).floor();
    let left = total - feet * 192.0;
    let inches = mixed(left, 16.0);
    match (feet, left) {
        (0.0, _) => format!("{sign}{inches}\""),
        // Without its nought `6'1/2"` looks like half of something.
        (_, 1.0..16.0) => format!("{sign}{feet:.0}'0 {inches}\""),
        _ => format!("{sign}{feet:.0}'{inches}\""),
    }
}

fn inches_only(length: Length) -> String {
    let Some((sign, total)) = parts_of_inch(length, 16.0) else { return NO_NUMBER.to_owned() };
    format!("{sign}{} in", mixed(total, 16.0))
}

/// Rounds to a part of an inch before anything parts feet from inches, so that no `6'12"` comes of it.
fn parts_of_inch(length: Length, parts: f64) -> Option<(&'static str, f64)> {
    let total = (length.inches().abs() * parts).round();
    let sign = if length.si() < 0.0 && total != 0.0 { "-" } else { "" };
    total.is_finite().then_some((sign, total))
}

/// Prints a number of sixteenths, or of other parts, as `10 1/2`, `10` or `1/2`.
fn mixed(total: f64, parts: f64) -> String {
    let whole = (total / parts).floor();
    let (mut numerator, mut denominator) = (total - whole * parts, parts);
    if numerator == 0.0 {
        return format!("{whole:.0}");
    }
    while numerator % 2.0 == 0.0 {
        (numerator, denominator) = (numerator / 2.0, denominator / 2.0);
    }
    match whole {
        0.0 => format!("{numerator:.0}/{denominator:.0}"),
        _ => format!("{whole:.0} {numerator:.0}/{denominator:.0}"),
    }
}
