//! Sine and cosine of one angle, inline.
//!
//! A bend takes some hundred of them at every step, and the system's own function saves and restores the processor's
//! rounding mode each time, which costs more than the rest of it.
//!
//! Polynomials, reduction and their accuracy are those of fdlibm (`k_sin.c`, `k_cos.c`, `e_rem_pio2.c`, Sun
//! Microsystems 1993, permission to use, copy, modify and distribute is granted): errors below one unit in the last
//! place.

use std::f64::consts::FRAC_2_PI;

const SIN: [f64; 6] = [
    -0.166_666_666_666_666_32,
    0.008_333_333_333_322_49,
    -0.000_198_412_698_298_579_5,
    2.755_731_370_707_006_8e-6,
    -2.505_076_025_340_686_3e-8,
    1.589_690_995_211_55e-10,
];
const COS: [f64; 6] = [
    0.041_666_666_666_666_6,
    -0.001_388_888_888_887_411,
    2.480_158_728_947_673e-5,
    -2.755_731_435_139_066_3e-7,
    2.087_572_321_298_175e-9,
    -1.135_964_755_778_819_5e-11,
];
/// The first 33 bits of π/2, so that its product with a small whole number is exact, and the rest of it.
const QUARTER: f64 = 1.570_796_326_734_125_6;
const QUARTER_REST: f64 = 6.077_100_506_506_192e-11;
/// Beyond this angle the two parts of π/2 are not exact enough.
const FURTHEST: f64 = 1e4;

/// 1.5 · 2⁵².
const WHOLE: f64 = 6_755_399_441_055_744.0;

/// The sine and the cosine of an angle in rad.
#[inline]
pub(super) fn sin_cos(angle: f64) -> (f64, f64) {
    if FURTHEST < angle.abs() || angle.is_nan() {
        return angle.sin_cos();
    }
    // What is left of a number beside one this large is rounded to a whole one.
    let quarters = (angle * FRAC_2_PI + WHOLE) - WHOLE;
    let part = (angle - quarters * QUARTER) - quarters * QUARTER_REST;
    let square = part * part;
    let sum = |of: [f64; 6]| {
        let [a, b, c, d, e, f] = of;
        a + square * (b + square * (c + square * (d + square * (e + square * f))))
    };
    let sin = part + part * square * sum(SIN);
    let cos = 1.0 - (0.5 * square - square * square * sum(COS));
    #[expect(clippy::cast_possible_truncation, reason = "below ten thousand by the check above")]
    match quarters as i32 & 3 {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_agrees_with_the_system_s_own() {
        let mut angles = vec![0.0, -0.0, 1e-300, -1e-9, FURTHEST, -FURTHEST, 2e4, 1e17, -1e300];
        angles.extend((-200_000..200_000).map(|step| f64::from(step) * 7.3e-5));
        angles.extend((-3000..3000).map(|step| f64::from(step) * std::f64::consts::FRAC_PI_4));
        for angle in angles {
            let ((sin, cos), (sin_there, cos_there)) = (sin_cos(angle), angle.sin_cos());
            // Reduction leaves an error of the angle's own last place where the number is near zero.
            let bound = |number: f64| 1.2 * f64::EPSILON * number.abs() + 1e-20 * angle.abs();
            assert!((sin - sin_there).abs() <= bound(sin_there), "{angle} {sin} {sin_there}");
            assert!((cos - cos_there).abs() <= bound(cos_there), "{angle} {cos} {cos_there}");
        }
        assert!(sin_cos(f64::NAN).0.is_nan() && sin_cos(f64::INFINITY).1.is_nan());
    }
}
