//! The smooth corrections of a tube's stiffness and of its mass that a calibration finds.
//!
//! They multiply EI and the mass per length; diameters and walls they leave alone.

/// How many knots it has, evenly spaced along the uncut blank from butt to tip.
pub(crate) const KNOTS: usize = 7;

/// A correction of ln EI and of ln ρA, as functions of the place u = (s + origin) / span on the uncut blank, from 0 at its butt to 1
/// at its tip:
///
/// ln EI(s) += trend · (u − ½) + Σ knotᵢ Bᵢ(u), ln ρA(s) += Σ massᵢ Bᵢ(u)
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
    pub(crate) mass: [f64; KNOTS],
}

/// The two knots next to a place, and their shares there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct KnotShares {
    pub(crate) first: usize,
    pub(crate) shares: [f64; 2],
}

impl Correction {
    /// What EI and the mass per length are multiplied by at a distance from the present butt.
    pub(crate) fn factors(&self, at: f64) -> (f64, f64) {
        if self.span <= 0.0 {
            return (1.0, 1.0);
        }
        let place = self.place(at);
        let KnotShares { first, shares } = knot_shares(place);
        let between =
            |knots: &[f64; KNOTS]| shares[0] * knots[first] + shares[1] * knots[first + 1];
        let log = self.trend * (place - 0.5) + between(&self.knots);
        (log.exp(), between(&self.mass).exp())
    }

    /// What the mass per length is multiplied by at a distance from the present butt.
    pub(crate) fn mass_factor(&self, at: f64) -> f64 {
        if 0.0 < self.span { between(&self.mass, self.place(at)).exp() } else { 1.0 }
    }

    /// How many steps of a length to integrate it in by Simpson's rule: one where there is no correction, which is exact.
    pub(crate) fn n_smooth_steps(&self, length: f64) -> usize {
        const PER_SPAN: f64 = 96.0;
        // A length that is longer than the span by far would be none of this blank.
        let steps = if 0.0 < self.span { length / self.span * PER_SPAN } else { 0.0 };
        (1..1000).find(|n_steps| steps <= *n_steps as f64).unwrap_or(1000)
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

/// What the knots make of a place from 0 to 1.
fn between(knots: &[f64; KNOTS], place: f64) -> f64 {
    let KnotShares { first, shares } = knot_shares(place);
    shares[0] * knots[first] + shares[1] * knots[first + 1]
}

/// Finds the knots next to a place from 0 to 1, and their shares.
pub(crate) fn knot_shares(place: f64) -> KnotShares {
    const INTERVALS: f64 = 6.0;
    let scaled = place * INTERVALS;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a number from 0 to 6"
    )]
    let first = (scaled as usize).min(KNOTS - 2);
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
        let mass = knots.map(|knot| -0.5 * knot);
        let correction = Correction { origin: 0.0, span: 1.8, trend: 0.0, knots, mass };
        for (knot_idx, knot) in knots.iter().enumerate() {
            let at = 0.3 * knot_idx as f64;
            assert!((correction.factors(at).0.ln() - knot).abs() < 1e-12);
            assert!((correction.mass_factor(at).ln() + 0.5 * knot).abs() < 1e-12);
            let moved = correction.moved(0.2).factors(at - 0.2).0.ln();
            assert!((moved - knot).abs() < 1e-12 || at < 0.2);
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
