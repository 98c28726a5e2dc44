//! A quantity of any dimension: what a field of a record or a query holds before anyone asked for a length.

use crate::{Dimension, QuantityError};

/// A number with its dimension, SI inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// What it measures.
    pub dimension: Dimension,
    /// The value in SI units.
    pub si: f64,
    /// Half a unit of the last place written, in SI units: `2.4 mm` has 0.05 mm, `7'2"` half an inch, `86 1/2 in` a quarter inch, `7 ft` half a foot.
    pub half_step: f64,
}

impl Quantity {
    /// Reads a quantity of any dimension that carries its unit.
    ///
    /// A number is whole, has decimals after a point (`2.4 mm`) or a fraction below one (`86 1/2 in`, `86½ in`, `5.5/64 in`).
    /// Feet go with inches (`7'10 1/2"`, `7 ft 10 in`) and pounds with ounces (`2 lb 3 oz`); nothing else is written together.
    /// Spaces, curly quotes and primes and the case of letters make no difference.
    /// A comma, a sign, an exponent or a bare number is an error: it is never guessed what was meant.
    ///
    /// # Errors
    /// When the text is not one; a bare number is an error that shows how to write it.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        crate::parse::any(text)
    }

    /// Reads a quantity that must be of the given dimension.
    ///
    /// [`Dimension::Count`] is a number without a unit.
    /// [`Dimension::Fraction`] is a percentage, or a ratio without a unit; a bare whole number above one may be either and is an error.
    ///
    /// # Errors
    /// When the text is not a quantity or is one of another dimension.
    pub fn parse_as(text: &str, dimension: Dimension) -> Result<Self, QuantityError> {
        crate::parse::of(text, dimension)
    }
}

impl std::fmt::Display for Quantity {
    /// Writes the metric unit of the dimension, to as many decimals as the half step warrants and at most six; it reads back within the half step.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&crate::print::metric(self))
    }
}
