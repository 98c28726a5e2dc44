//! First modes of beams that no tube is: a complete cone, a heavy tip.

use super::mode::Mode;
use crate::bend::testing::{beam, beam_on, toward_one};

/// Ω = ω L² √(ρ A / E I) of a beam of unit length, stiffness and mass per length at the clamp.
fn omega(beam: &crate::bend::Beam) -> f64 {
    let mut mode = Mode::default();
    mode.solve(beam, 1.0, 0.0).unwrap();
    mode.frequency() * std::f64::consts::TAU
}

/// z²/4 with J₂(z) I₃(z) + J₃(z) I₂(z) = 0: Conway, Becker & Dubil, J. Appl. Mech. 31 (1964) 329;
/// Naguleswaran, J. Sound Vib. 172 (1994) 289 (8.719 from memory, computed from the Bessel equation and by graded elements).
#[test]
fn a_complete_cone() {
    let cone = beam_on(&toward_one(700), |at| (1.0 - at).powi(4), |at| (1.0 - at).powi(2));
    assert!((omega(&cone) / 8.719258855 - 1.0).abs() < 1e-5, "{}", omega(&cone));
}

/// Uniform cantilever with a mass r times its own at the tip, βL with Ω = (βL)²:
/// Hindawi Math. Probl. Eng. 2017, 1568019, table 1; Blevins table 8-8; confirmed by the characteristic root.
#[test]
fn a_mass_at_the_tip() {
    for (ratio, expected) in [
        (0.0, 1.87510407f64),
        (0.1, 1.72274152),
        (0.5, 1.41996443),
        (1.0, 1.24791741),
        (2.0, 1.07619566),
        (10.0, 0.735781919),
        (20.0, 0.620512098),
    ] {
        // The mass is spread over the last short element, so it sits half of that further in than it should:
        // with Ω² ~ 1 / (mass · distance³) that makes Ω larger by at most 0.75 of the part of the length that the element is.
        let mut heavy = beam(1.0, 100, |_| 1.0, |_| 1.0);
        let last = heavy.elements.last_mut().unwrap();
        last.area = [1.0 + ratio / last.length; 3];
        let part = last.length;
        let high = omega(&heavy) / expected.powi(2) - 1.0;
        assert!((-1e-7..0.75 * part).contains(&high), "{ratio}: {high}");
    }
}
