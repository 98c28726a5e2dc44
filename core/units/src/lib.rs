//! Length, mass, angle, frequency, pressure and density, and the notation of the workshop for them.
//!
//! The unit is in the type; inside, everything is SI.
//! This crate is not a general unit system: it knows what a rod builder writes.
//!
//! ```
//! use taperbook_units::{Dimension, Interval, Length, Units};
//!
//! let length = Length::parse("6.5 ft")?;
//! assert_eq!(length, Length::from_inches(78.0));
//! assert_eq!(Units::Inches.length(length), "6'6\"");
//! assert_eq!(Units::Millimetres.length(length), "1981 mm");
//!
//! let limits = Interval::parse_as("6'8\" .. 7'0\"", Dimension::Length)?;
//! assert!(!limits.contains(length.si()));
//!
//! let error = Length::parse("2,4 mm").unwrap_err();
//! assert_eq!(error.message, "`2,4 mm` has a comma: write `2.4 mm`");
//! # Ok::<(), taperbook_units::QuantityError>(())
//! ```

mod dimension;
mod fault;
mod interval;
mod parse;
mod print;
mod quantity;
mod scan;
mod slip;
mod tube_size;
mod unit;

pub use dimension::Dimension;
pub use fault::QuantityError;
pub use interval::Interval;
pub use parse::parse_signed;
pub use print::Units;
pub use quantity::Quantity;
pub use tube_size::{nearest_tube_size, tube_size};

/// Standard acceleration of gravity, 9.80665 m/s² (3rd CGPM, 1901; NIST SP 811 table B.8).
pub const STANDARD_GRAVITY: f64 = 9.80665;

// A factor is a ratio of two whole numbers, because an exact product divided once rounds once:
// so `86 1/2 in` and `2.1971 m`, or `2183 mm` and `2.183 m`, are the same to the last bit, and a limit is met exactly.
macro_rules! measure {
    ($(#[$doc:meta])* $name:ident, $dimension:ident, $($from:ident, $to:ident, $numerator:expr, $denominator:expr, $unit:literal;)+) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $name {
            $(
                #[doc = concat!("Makes one from a number of ", $unit, ".")]
                pub const fn $from(value: f64) -> Self { Self(value * $numerator / $denominator) }
                #[doc = concat!("Gives the number of ", $unit, ".")]
                pub const fn $to(self) -> f64 { self.0 * $denominator / $numerator }
            )+
            /// Makes one from its value in SI units.
            pub const fn from_si(value: f64) -> Self { Self(value) }
            /// Gives the value in SI units.
            pub const fn si(self) -> f64 { self.0 }
            /// Gives the size without its sign.
            pub const fn abs(self) -> Self { Self(self.0.abs()) }
            /// Reads workshop notation, such as `"7'2\""` or `"46 g"`.
            ///
            /// # Errors
            /// When the text is not a quantity of this dimension; the message quotes it and says what to write.
            pub fn parse(text: &str) -> Result<Self, QuantityError> {
                Quantity::parse_as(text, Dimension::$dimension).map(|quantity| Self(quantity.si))
            }
        }
        impl std::ops::Add for $name { type Output = Self; fn add(self, other: Self) -> Self { Self(self.0 + other.0) } }
        impl std::ops::Sub for $name { type Output = Self; fn sub(self, other: Self) -> Self { Self(self.0 - other.0) } }
        impl std::ops::Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl std::ops::Mul<f64> for $name { type Output = Self; fn mul(self, factor: f64) -> Self { Self(self.0 * factor) } }
        impl std::ops::Div<f64> for $name { type Output = Self; fn div(self, divisor: f64) -> Self { Self(self.0 / divisor) } }
        impl std::ops::Div for $name { type Output = f64; fn div(self, other: Self) -> f64 { self.0 / other.0 } }
    };
}

measure! {
    /// A length, in metres inside.
    Length, Length,
    from_m, m, 1.0, 1.0, "metres";
    from_mm, mm, 1.0, 1e3, "millimetres";
    from_inches, inches, 254.0, 1e4, "international inches (0.0254 m exactly, 1959 agreement)";
}
measure! {
    /// A mass, in kilograms inside. What a scale reads and what is hung from a tip are masses.
    Mass, Mass,
    from_kg, kg, 1.0, 1.0, "kilograms";
    from_g, g, 1.0, 1e3, "grams";
    from_ounces, ounces, 45_359_237.0, 1.6e9, "avoirdupois ounces (1/16 of 0.45359237 kg exactly, 1959 agreement)";
}
measure! {
    /// A plane angle, in radians inside.
    Angle, Angle,
    from_rad, rad, 1.0, 1.0, "radians";
    from_deg, deg, std::f64::consts::PI, 180.0, "degrees";
}
measure! {
    /// A frequency, in hertz inside.
    Frequency, Frequency,
    from_hz, hz, 1.0, 1.0, "hertz";
}
measure! {
    /// A pressure or modulus, in pascals inside.
    Pressure, Pressure,
    from_pa, pa, 1.0, 1.0, "pascals";
    from_gpa, gpa, 1e9, 1.0, "gigapascals";
}
measure! {
    /// A density, in kilograms per cubic metre inside.
    Density, Density,
    from_kg_per_m3, kg_per_m3, 1.0, 1.0, "kilograms per cubic metre";
}
measure! {
    /// A force, in newtons inside.
    Force, Force,
    from_newtons, newtons, 1.0, 1.0, "newtons";
}
