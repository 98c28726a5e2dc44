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

/// The same roots as below with the mass as a point: a solid rod of a metre, whose own Ω is that of ratio 0.
#[test]
fn a_point_at_the_tip_and_in_the_clamp() {
    use taperbook_units::{Density, Length, Mass, Pressure};

    use crate::{Clamp, Material, Station, Tube, natural_frequency_with};

    let station = |at| Station {
        at: Length::from_m(at),
        od: Length::from_mm(10.0),
        wall: Length::from_mm(5.0),
    };
    let material =
        Material { modulus: Pressure::from_gpa(100.0), density: Density::from_kg_per_m3(1600.0) };
    let rod = Tube::new(&[station(0.0), station(1.0)], material).unwrap();
    let clamp = Clamp::horizontal(Length::from_m(0.0));
    let hz = |masses: &[(Length, Mass)]| natural_frequency_with(&rod, &clamp, masses).unwrap().hz();
    let bare = hz(&[]);
    for (ratio, root) in [(0.1, 1.72274152f64), (1.0, 1.24791741), (10.0, 0.735781919)] {
        let mass = Mass::from_kg(ratio * rod.weight().kg());
        let loaded = hz(&[(rod.length(), mass)]);
        let expected = (root / 1.87510407).powi(2);
        assert!((loaded / bare / expected - 1.0).abs() < 1e-5, "{ratio}: {loaded} {bare}");
        assert_eq!(hz(&[(Length::from_m(0.0), mass)]), bare);
        // A mass halfway out slows it less, and by Rayleigh with the bare mode's 0.3395 of the tip's swing about v² = 0.1153 as much.
        let halfway = hz(&[(Length::from_m(0.5), Mass::from_kg(0.01 * rod.weight().kg()))]);
        let slope = ((bare / halfway).powi(2) - 1.0) / 0.01;
        assert!((slope / (4.0 * 0.3395f64.powi(2)) - 1.0).abs() < 0.02, "{slope}");
    }
    assert!(
        natural_frequency_with(&rod, &clamp, &[(rod.length(), Mass::from_kg(f64::NAN))]).is_err()
    );
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
