//! How the give of a clamp is put to a fit: as a number that is Gaussian enough, and never below zero.
//!
//! What a give does to a bend goes with the give itself, so its logarithm would not do: lessons of many pieces are straight lines,
//! and where they add up to a clamp some times softer than usual the line in the logarithm runs far past it.

/// The give as a parameter q: c = u ln(1 + e^q), with u two thirds of the usual give.
///
/// Above u it is nearly a straight line in q, and toward a rigid clamp it runs out as e^q.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct GiveScale {
    unit: f64,
}

/// No give is taken to be further from the usual than this.
const FURTHEST: f64 = 60.0;

impl GiveScale {
    /// That of a usual give, in rad per N m; of zero, all clamps are rigid.
    pub(crate) fn new(usual: f64) -> Self {
        Self { unit: usual * (2.0 / 3.0) }
    }

    /// The give of a parameter, in rad per N m.
    pub(crate) fn give(self, parameter: f64) -> f64 {
        let q = parameter.clamp(-FURTHEST, FURTHEST);
        self.unit * (q.max(0.0) + (-q.abs()).exp().ln_1p())
    }

    /// How a give changes with its parameter: u / (1 + e^−q), which is u (1 − e^(−c / u)).
    pub(crate) fn slope(self, give: f64) -> f64 {
        if 0.0 < self.unit { -self.unit * (-give / self.unit).exp_m1() } else { 0.0 }
    }

    /// The parameter of a give; that of a rigid clamp lies far below all others.
    pub(crate) fn parameter(self, give: f64) -> f64 {
        if self.unit <= 0.0 {
            return 0.0;
        }
        let whole = give / self.unit;
        // ln(e^c − 1), which is c for all but small ones.
        let q = if whole < 30.0 { whole.exp_m1().max(f64::MIN_POSITIVE).ln() } else { whole };
        q.clamp(-FURTHEST, FURTHEST)
    }

    /// Mean and standard deviation of the parameter of a give that is usual within a factor of e to the `spread`, either way.
    pub(crate) fn usual(self, give: f64, spread: f64) -> (f64, f64) {
        let [low, high] = [-spread, spread].map(|log| self.parameter(give * log.exp()));
        (self.parameter(give), 0.5 * (high - low))
    }

    /// The same of a give that was measured to so much; below what that tells from none, the parameter is as unsure as there.
    pub(crate) fn measured(self, give: f64, sd: f64) -> (f64, f64) {
        let give = give.max(0.01 * self.unit);
        let slope = self.slope(give.max(sd));
        let sd = if 0.0 < slope { sd / slope } else { 0.0 };
        (self.parameter(give), sd)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gives_go_there_and_back() {
        let scale = GiveScale::new(1.2e-3);
        for give in [1e-6, 1e-4, 6e-4, 1.2e-3, 3e-3, 0.02] {
            let q = scale.parameter(give);
            assert!((scale.give(q) / give - 1.0).abs() < 1e-9, "{give} {q}");
            let h = 1e-6;
            let slope = (scale.give(q + h) - scale.give(q - h)) / (2.0 * h);
            assert!((slope / scale.slope(give) - 1.0).abs() < 1e-6, "{give}");
        }
        assert_eq!(GiveScale::new(0.0).give(3.0), 0.0);
        assert_eq!(GiveScale::new(0.0).slope(0.0), 0.0);
        let (mean, sd) = scale.usual(1.2e-3, 1.2);
        assert!((1.2..1.3).contains(&mean) && (2.5..3.1).contains(&sd), "{mean} {sd}");
        let (mean, sd) = scale.measured(3e-3, 6e-4);
        assert!((scale.give(mean + sd) / 3.6e-3 - 1.0).abs() < 0.02);
        assert!(scale.measured(0.0, 1e-4).0 < -3.0);
    }
}
