//! The simulator's own natural frequency: shooting from the free tip, no elements.
//!
//! `EI y'' = M`, `M'' = m ω² y`, with `M = M' = 0` at the tip.
//! Two shots, one from unit deflection and one from unit slope at the tip, span every motion of a free tip.
//! At the clamp deflection and slope must vanish together (with a yielding clamp: the slope must be what the moment turns it by), so the determinant of the two is zero at a natural frequency; it is 1 at ω = 0, and the first mode is its first zero.
//! The own-weight Rayleigh quotient lies a little above the first mode and far below the second, which brackets that zero.
//! Source: Thomson, Theory of Vibration, on Rayleigh's method and on beams; the determinant form is the textbook initial-value method.

use taperbook_units::STANDARD_GRAVITY;

use crate::beam::{Beam, Clamp};

impl Beam {
    /// Finds the first natural frequency in Hz: small vibration about the straight beam, no load hung.
    #[must_use]
    pub fn natural_frequency(&self, clamp: Clamp) -> f64 {
        let mut high = 1.01 * self.rayleigh();
        while 0.0 < self.determinant(high, clamp) {
            high *= 1.05;
        }
        let (mut low, mut high) = ((0.0, 1.0), (high, self.determinant(high, clamp)));
        // False position, halving the value at an end that stays (the Illinois rule), which can't leave the bracket.
        let mut stayed = 0;
        for _ in 0..100 {
            let next = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
            let value = self.determinant(next, clamp);
            let moved = if value < 0.0 { next - high.0 } else { next - low.0 };
            if value < 0.0 {
                high = (next, value);
                low.1 *= if stayed == 1 { 0.5 } else { 1.0 };
                stayed = 1;
            } else {
                low = (next, value);
                high.1 *= if stayed == 2 { 0.5 } else { 1.0 };
                stayed = 2;
            }
            if moved.abs() < 1e-13 * next || value == 0.0 {
                return next.sqrt() / std::f64::consts::TAU;
            }
        }
        f64::midpoint(low.0, high.0).sqrt() / std::f64::consts::TAU
    }

    /// Gives ω² of the Rayleigh quotient for the shape that the own weight gives a rigidly clamped beam.
    fn rayleigh(&self) -> f64 {
        let n = self.mass.len();
        let half = 0.5 * self.step;
        let mean = |a: f64, b: f64| f64::midpoint(a, b) * half;
        let (mut force, mut moment) = (vec![0.0; n], vec![0.0; n]);
        for i in 1..n {
            force[i] = force[i - 1] + STANDARD_GRAVITY * mean(self.mass[i - 1], self.mass[i]);
            moment[i] = moment[i - 1] + mean(force[i - 1], force[i]);
        }
        let curvature = |i: usize| moment[i] * self.flexibility[i];
        let (mut slope, mut drop) = (vec![0.0; n], vec![0.0; n]);
        for i in (0..n - 1).rev() {
            slope[i] = slope[i + 1] + mean(curvature(i), curvature(i + 1));
            drop[i] = drop[i + 1] + mean(slope[i], slope[i + 1]);
        }
        let work: f64 = (0..n).map(|i| self.mass[i] * drop[i]).sum();
        let square: f64 = (0..n).map(|i| self.mass[i] * drop[i].powi(2)).sum();
        STANDARD_GRAVITY * work / square
    }

    fn determinant(&self, omega_squared: f64, clamp: Clamp) -> f64 {
        let deflected = self.vibrate([1.0, 0.0, 0.0, 0.0], omega_squared);
        let turned = self.vibrate([0.0, 1.0, 0.0, 0.0], omega_squared);
        let slope = |state: &[f64; 4]| state[1] + clamp.give * state[2];
        deflected[0] * slope(&turned) - turned[0] * slope(&deflected)
    }

    /// Integrates deflection, slope, moment and shear from the tip to the clamp.
    fn vibrate(&self, start: [f64; 4], omega_squared: f64) -> [f64; 4] {
        let h = self.step;
        let mut state = start;
        for i in 0..self.steps() {
            let rate = |s: &[f64; 4], k: usize| {
                let sample = 2 * i + k;
                let inertia = omega_squared * self.mass[sample];
                [s[1], s[2] * self.flexibility[sample], s[3], inertia * s[0]]
            };
            let along = |s: &[f64; 4], k: &[f64; 4], h: f64| {
                std::array::from_fn::<f64, 4, _>(|j| s[j] + h * k[j])
            };
            let k1 = rate(&state, 0);
            let k2 = rate(&along(&state, &k1, 0.5 * h), 1);
            let k3 = rate(&along(&state, &k2, 0.5 * h), 1);
            let k4 = rate(&along(&state, &k3, h), 2);
            for (j, value) in state.iter_mut().enumerate() {
                *value += h / 6.0 * (k1[j] + 2.0 * (k2[j] + k3[j]) + k4[j]);
            }
        }
        state
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn beam(stiffness: impl Fn(f64) -> f64, mass: impl Fn(f64) -> f64) -> Beam {
        Beam::new(1.0, stiffness, mass).expect("the length is positive")
    }

    #[track_caller]
    fn check(beam: &Beam, clamp: Clamp, omega: f64, within: f64) {
        let found = beam.natural_frequency(clamp) * std::f64::consts::TAU;
        assert!((found / omega - 1.0).abs() < within, "found {found}, expected {omega}");
    }

    /// Ω₁ = 3.5160152685 for a uniform cantilever: Thomson, Theory of Vibration, App. D.3 (3.5160), digits from the characteristic root.
    #[test]
    fn uniform_cantilever() {
        check(&beam(|_| 1.0, |_| 1.0), Clamp::default(), 3.516_015_268_5, 1e-9);
    }

    /// Truncated cones clamped at the big end, Ω_B = ω L² √(ρA_B/EI_B): Conway, Becker and Dubil, J. Appl. Mech. 31 (1964) 329, digits from the Bessel determinant.
    #[test]
    fn truncated_cones() {
        for (ratio, omega) in
            [(1.25, 3.855_116_8), (2.0, 4.625_150_25), (4.0, 5.823_065_87), (10.0, 7.204_871_65)]
        {
            // The diameter relative to the butt's, from the tip inward.
            let d = move |u: f64| 1.0 / ratio + (1.0 - 1.0 / ratio) * u;
            check(&beam(|u| d(u).powi(4), |u| d(u).powi(2)), Clamp::default(), omega, 2e-8);
        }
    }

    /// A uniform beam on a root spring: `1 + cosh λ cos λ = λ·give·(cosh λ sin λ − sinh λ cos λ)`, derived here; it has the known limits of a rigid clamp (give 0) and of a pinned end (`tan λ = tanh λ`).
    #[test]
    fn yielding_clamp() {
        let give = 0.1;
        let frequency = |l: f64| {
            1.0 + l.cosh() * l.cos() - l * give * (l.cosh() * l.sin() - l.sinh() * l.cos())
        };
        let (mut low, mut high) = (1.0, 1.9);
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if frequency(middle) < 0.0 { high = middle } else { low = middle }
        }
        check(&beam(|_| 1.0, |_| 1.0), Clamp { raised: 0.0, give }, low * low, 1e-9);
    }
}
