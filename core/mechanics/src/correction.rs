//! The smooth correction of a tube's stiffness that a calibration finds.
//!
//! It multiplies EI; diameters, walls and weight it leaves alone.

/// How many knots it has, evenly spaced along the uncut blank from butt to tip.
pub(crate) const KNOTS: usize = 7;

/// A correction of ln EI, as a function of the place u = (s + origin) / span on the uncut blank, from 0 at its butt to 1 at its tip:
///
/// ln EI(s) += trend · (u − ½) + Σ knotᵢ Bᵢ(u)
///
/// Bᵢ falls from 1 at knot i to 0 at its neighbours as 1 − 3t² + 2t³.
/// The Bᵢ sum to one, have no kink (so that element edges need not lie on the knots), and none reaches further than its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Correction {
    /// Where the tube's butt lies on the uncut blank, in metres.
    pub(crate) origin: f64,
    /// The length of the uncut blank in metres; 0 where there is no correction.
    pub(crate) span: f64,
    pub(crate) trend: f64,
    pub(crate) knots: [f64; KNOTS],
}

/// The two knots next to a place, and their shares there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct KnotShares {
    pub(crate) first: usize,
    pub(crate) shares: [f64; 2],
}

impl Correction {
    /// What EI is multiplied by at a distance from the present butt.
    pub(crate) fn factor(&self, at: f64) -> f64 {
        if 0.0 < self.span { self.log(at).exp() } else { 1.0 }
    }

    fn log(&self, at: f64) -> f64 {
        let place = self.place(at);
        let KnotShares { first, shares } = knot_shares(place);
        self.trend * (place - 0.5)
            + shares[0] * self.knots[first]
            + shares[1] * self.knots[first + 1]
    }

    /// The place on the uncut blank, from 0 at its butt to 1 at its tip.
    pub(crate) fn place(&self, at: f64) -> f64 {
        ((at + self.origin) / self.span).clamp(0.0, 1.0)
    }

    /// The same correction for a tube that begins so much further from the butt.
    pub(crate) fn moved(self, by: f64) -> Self {
        Self { origin: self.origin + by, ..self }
    }
}

/// Finds the knots next to a place from 0 to 1, and their shares.
pub(crate) fn knot_shares(place: f64) -> KnotShares {
    const INTERVALS: f64 = 6.0;
    let scaled = place * INTERVALS;
    let first = (1..KNOTS - 1).rev().find(|&knot| knot as f64 <= scaled).unwrap_or(0);
    let part = scaled - first as f64;
    let second = part * part * (3.0 - 2.0 * part);
    KnotShares { first, shares: [1.0 - second, second] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_goes_through_its_knots_and_moves_with_a_cut() {
        let knots = [0.1, -0.2, 0.3, 0.0, 0.05, -0.07, 0.2];
        let correction = Correction { origin: 0.0, span: 1.8, trend: 0.0, knots };
        for (knot_idx, knot) in knots.iter().enumerate() {
            let at = 0.3 * knot_idx as f64;
            assert!((correction.log(at) - knot).abs() < 1e-12);
            assert!((correction.moved(0.2).log(at - 0.2) - knot).abs() < 1e-12 || at < 0.2);
        }
    }

    #[test]
    fn shares_sum_to_one() {
        for step in 0..=1000 {
            let KnotShares { first, shares } = knot_shares(f64::from(step) / 1000.0);
            assert!(first + 1 < KNOTS);
            assert!((shares[0] + shares[1] - 1.0).abs() < 1e-15);
        }
    }
}
