//! How one element yields and resists, from EI at its Gauss points.
//!
//! Knows nothing of loads, and nothing of other elements.

use super::beam::{GAUSS, GAUSS_WEIGHT, HALF_SPREAD};

/// ∫ ds / EI, ∫ t ds / EI and ∫ t² ds / EI over an element, t running from −½ at its clamp end to ½ at its tip end.
///
/// By Gauss points, of 1/EI: the moment is smooth along a blank, 1/EI need not be, and so the curvature M/EI is taken as it is
/// instead of being fitted by a polynomial.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flexibility {
    pub(crate) whole: f64,
    pub(crate) first: f64,
    pub(crate) second: f64,
}

impl Flexibility {
    pub(crate) fn new(stiffness: &[f64; 3], length: f64) -> Self {
        let share = |g: usize| GAUSS_WEIGHT[g] * length / stiffness[g];
        let (near, far) = (share(0), share(2));
        Self {
            whole: near + share(1) + far,
            first: HALF_SPREAD * (far - near),
            second: HALF_SPREAD * HALF_SPREAD * (near + far),
        }
    }
}

/// An element's stiffness against turning its ends apart and against its middle unknown.
///
/// With the moment linear along the element, M = m₀ + m₁ t, its energy ∫ M φ' − M²/2EI ds is stationary by m where
/// F m = (φb − φa, −⅔ μ), F being the flexibilities (Hellinger 1914, Reissner 1950).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bending {
    pub(crate) ends: f64,
    pub(crate) mixed: f64,
    pub(crate) middle: f64,
}

impl Bending {
    pub(crate) fn new(flexibility: &Flexibility) -> Self {
        let Flexibility { whole, first, second } = *flexibility;
        let per_determinant = 1.0 / (whole * second - first * first);
        Self {
            ends: second * per_determinant,
            mixed: first * per_determinant * (2.0 / 3.0),
            middle: whole * per_determinant * (4.0 / 9.0),
        }
    }

    /// Whether these are numbers to calculate with: not lost to under- or overflow.
    pub(crate) fn is_sound(&self) -> bool {
        let normal = |number: f64| number.is_normal() && 0.0 < number;
        normal(self.ends) && normal(self.middle) && self.mixed.is_finite()
    }

    /// The moments that resist a turning apart of the ends and a middle unknown.
    pub(crate) fn resist(&self, apart: f64, middle: f64) -> (f64, f64) {
        (self.ends * apart + self.mixed * middle, self.mixed * apart + self.middle * middle)
    }

    /// The moment at a Gauss point.
    pub(crate) fn moment(&self, apart: f64, middle: f64, gauss: usize) -> f64 {
        let (to_ends, to_middle) = self.resist(apart, middle);
        to_ends - 1.5 * to_middle * (GAUSS[gauss] - 0.5)
    }
}
