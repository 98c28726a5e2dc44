//! How sure it is that a cut is needed.
//!
//! The best further cuts x minimise ½ Σ wᵢ rᵢ² with rᵢ what number i misses (see [`crate::problem`]).
//! When the numbers v turn out otherwise by δv the best cuts move by δx = −(Jᵀ W J)⁻¹ Jᵀ W δv, J being the slopes of the
//! numbers by the cuts; so with the covariance C of v the covariance of x is K C Kᵀ, K = (Jᵀ W J)⁻¹ Jᵀ W.
//! With one aim and one end free that is the deviation of the aim's number over the size of its slope.
//! To first order: slopes of power change by some percent over the range of a cut, which is little beside its range.

use taperbook_bench::to_mechanics;
use taperbook_mechanics::fit::Outcome;
use taperbook_record::Measure;
use taperbook_units::Length;

use crate::brief::is_length;
use crate::problem::{NINETY_FIVE, Problem};
use crate::target::Target;

/// The cuts that are needed, were they not bound to be cuts, and how unsure they are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Need {
    /// At the tip.
    pub(crate) tip: Wish,
    /// At the butt.
    pub(crate) butt: Wish,
}

/// What would be best at one end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Wish {
    /// The middle; below nothing where the end would better be longer than it is.
    pub(crate) middle: Length,
    /// The standard deviation.
    pub(crate) unsure: Length,
}

/// How far from what the cuts say a length may be that nobody has read since the last of them.
const LENGTH_NOT_READ: Length = Length::from_mm(1.5);

/// Says how unsure the best cuts are, as far as the ends given are free to follow.
///
/// `there` is the outcome after them; without mechanics only lengths are asked for, and those are exact.
/// A length that was read in the present state counts as known: what the saw does is added by [`Wish::sure`].
pub(crate) fn need(
    problem: &Problem,
    target: &Target,
    there: Option<&Outcome>,
    ends: [bool; 2],
) -> Option<Need> {
    let slopes = problem.slopes(target.cuts, ends)?;
    let moves = slopes.moves();
    let read = problem.piece.walk.present().length_was_read;
    let length_variance = if read { 0.0 } else { LENGTH_NOT_READ.m().powi(2) };
    let covariance = |one: Measure, other: Measure| match (is_length(one), is_length(other)) {
        (true, true) => length_variance,
        (false, false) => {
            there.map_or(0.0, |there| there.covariance(to_mechanics(one), to_mechanics(other)))
        }
        _ => 0.0,
    };
    let mut variance = [0.0; 2];
    for (one, by_one) in problem.measures.iter().zip(&moves) {
        for (other, by_other) in problem.measures.iter().zip(&moves) {
            let covariance = covariance(*one, *other);
            for end_idx in 0..2 {
                variance[end_idx] += by_one[end_idx] * covariance * by_other[end_idx];
            }
        }
    }
    let further = slopes.step();
    let wish = |best: Length, end_idx: usize| Wish {
        middle: best + Length::from_m(further[end_idx]),
        unsure: Length::from_m(f64::max(variance[end_idx], 0.0).sqrt()),
    };
    Some(Need { tip: wish(target.cuts.tip, 0), butt: wish(target.cuts.butt, 1) })
}

impl Wish {
    /// Gives the part of the best cut that is at least 95 % sure to be needed, the saw's error counted; nothing when none is.
    pub(crate) fn sure(self, best: Length, saw: Length) -> Length {
        let spread = self.unsure.m().hypot(saw.m());
        Length::from_m((self.middle.m() - NINETY_FIVE * spread).min(best.m()).max(0.0))
    }

    /// The same wish, better known.
    #[must_use]
    pub(crate) fn narrowed(self, by: f64) -> Self {
        Self { unsure: self.unsure * (1.0 - by), ..self }
    }
}
