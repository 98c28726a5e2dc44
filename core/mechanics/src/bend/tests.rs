//! Closed forms of beams that no tube is: point loads along the blank, end moments, stiffness and weight given as formulas.

use super::beam::testing::{beam, beam_on, toward_one};
use super::beam::{Beam, Element};
use super::elastica::{Elastica, Root, Target};

const FIXED: Root = Root { raised: 0.0, give: 0.0 };
/// A load small enough for linear theory: deflections differ from it by their own square.
const SMALL: f64 = 1e-4;
const N: usize = 20;

/// Drop and slope of the tip, and drop at mid-span, per unit of load.
fn under(beam: &Beam, pull: f64) -> (f64, f64, f64) {
    let mut elastica = Elastica::default();
    elastica.solve(beam, FIXED, 0.0, Target::Pull(pull)).unwrap();
    let places: Vec<_> = elastica.places(beam, 3).collect();
    (-places[2].1 / SMALL, elastica.tip_angle() / SMALL, -places[1].1 / SMALL)
}

/// A uniform beam of unit length and stiffness with a force in its inside that `force` gives for each element.
fn carrying(force: impl Fn(&Element) -> f64) -> Beam {
    let mut beam = beam(1.0, N, |_| 1.0, |_| 0.0);
    for element in &mut beam.elements {
        element.weight = [force(element); 3];
    }
    beam
}

#[track_caller]
fn check(found: f64, expected: f64) {
    assert!((found / expected - 1.0).abs() < 1e-6, "{found} {expected}");
}

/// Gere & Goodno, *Mechanics of Materials*, appendix "Deflections and slopes of beams", cantilever; Roark's Formulas 7th ed. table 8.1, 1a–3a.
/// L = EI = 1.
#[test]
fn small_deflections_of_a_uniform_cantilever() {
    let (drop, slope, middle) = under(&beam(1.0, N, |_| 1.0, |_| 0.0), SMALL);
    check(drop, 1.0 / 3.0);
    check(slope, 1.0 / 2.0);
    check(middle, 5.0 / 48.0);
    let (drop, slope, _) = under(&beam(1.0, N, |_| 1.0, |_| SMALL), 0.0);
    check(drop, 1.0 / 8.0);
    check(slope, 1.0 / 6.0);
    let at =
        |place: f64| move |element: &Element| if element.from + 1e-9 < place { SMALL } else { 0.0 };
    let (drop, slope, _) = under(&carrying(at(0.5)), 0.0);
    check(drop, 5.0 / 48.0);
    check(slope, 1.0 / 8.0);
    let (drop, _, _) = under(&carrying(at(0.3)), 0.0);
    check(drop, 0.3 * 0.3 * (3.0 - 0.3) / 6.0);
    let (drop, slope, _) = under(&beam(1.0, N, |_| 1.0, |at| SMALL * (1.0 - at)), 0.0);
    check(drop, 1.0 / 30.0);
    check(slope, 1.0 / 24.0);
}

/// M L² / 2EI, same source: a couple of two forces one short element apart stands for the moment.
#[test]
fn a_small_moment_at_the_tip() {
    // Half of the last element is missing from the arm; so the drop falls short by that part, squared.
    let fine = 2000;
    let mut beam = beam(1.0, fine, |_| 1.0, |_| 0.0);
    let last = &mut beam.elements[fine - 1];
    last.weight = [SMALL / last.length; 3];
    let (drop, _, _) = under(&beam, 0.0);
    assert!((drop / 0.5 - 1.0).abs() < 1e-3 * 0.6, "{drop}");
}

/// A moment (π/2) EI / L at the tip bends the beam to a quarter circle: x = y = 2 L / π. Exact geometry.
#[test]
fn a_quarter_circle_is_in_balance_with_a_moment_at_its_tip() {
    let beam = beam(1.0, N, |_| 1.0, |_| 0.0);
    let mut elastica = Elastica::default();
    elastica.phi.reset(N, 0.0);
    let quarter = std::f64::consts::FRAC_PI_2;
    for (node, phi) in elastica.phi.0.iter_mut().enumerate() {
        phi.node = quarter * node as f64 / N as f64;
    }
    elastica.assemble(&beam, FIXED, 0.0, Target::Pull(0.0), 1.0).unwrap();
    for (node, moment) in elastica.residual().enumerate() {
        let expected = match node {
            0 => -quarter,
            N => quarter,
            _ => 0.0,
        };
        assert!((moment.node - expected).abs() < 1e-12, "{node}: {moment:?}");
        assert!(moment.middle.abs() < 1e-12, "{node}: {moment:?}");
    }
    let tip = elastica.places(&beam, 2).last().unwrap();
    let expected = 2.0 / std::f64::consts::PI;
    assert!((tip.0 - expected).abs() < 1e-9 && (tip.1 + expected).abs() < 1e-9, "{tip:?}");
}

/// Thin wall of constant thickness, I ~ d³, n = d_B / d_A: δ = P L³ / (E I_A) (ln n − 2 (1 − 1/n) + (1 − 1/n²)/2) / (n − 1)³.
/// Derived by integration; Roark's tapered-beam tables have it as the case of the third power.
#[test]
fn a_thin_walled_cone_under_a_small_tip_load() {
    for (n, expected) in [(2.0, 0.06814718055994529), (4.0, 0.01314979115258854)] {
        let diameter = move |at: f64| n + (1.0 - n) * at;
        let (drop, _, _) = under(&beam(1.0, 80, |at| diameter(at).powi(3), |_| 0.0), SMALL);
        check(drop, expected);
    }
}

/// A complete cone under its own weight, small: δ = ρ g A_B L⁴ / (24 E I_B), of constant curvature. Derived by integration.
#[test]
fn a_complete_cone_under_its_own_weight() {
    let cone = beam_on(&toward_one(700), |at| (1.0 - at).powi(4), |at| SMALL * (1.0 - at).powi(2));
    let (drop, slope, _) = under(&cone, 0.0);
    check(drop, 1.0 / 24.0);
    check(slope, 1.0 / 12.0);
}

/// With a give c a rigid rod of length L, raised by α, under a pull P turns by θ with θ = c P L cos(θ − α): a spring alone.
#[test]
fn a_rigid_rod_in_a_giving_clamp() {
    let rigid = beam(1.0, N, |_| 1e9, |_| 0.0);
    let root = Root { raised: 0.3, give: 0.2 };
    let mut elastica = Elastica::default();
    elastica.solve(&rigid, root, 0.0, Target::Pull(2.0)).unwrap();
    let turned = elastica.tip_angle() + root.raised;
    assert!((turned - 0.4 * (turned - root.raised).cos()).abs() < 1e-8, "{turned}");
    assert!((elastica.phi.0[0].node + root.raised - turned).abs() < 1e-8);
}

/// Euler's column: a clamped-free column buckles at π² EI / 4 L².
#[test]
fn a_load_straight_back_is_stable_up_to_the_buckling_load() {
    let column = beam(1.0, 60, |_| 1.0, |_| 0.0);
    let critical = std::f64::consts::PI.powi(2) / 4.0;
    let mut elastica = Elastica::default();
    let back = std::f64::consts::FRAC_PI_2;
    for (part, stable) in [(0.5, true), (0.9999, true), (1.0001, false), (3.0, false)] {
        let solved = elastica.solve(&column, FIXED, back, Target::Pull(part * critical));
        assert_eq!(solved.is_ok(), stable, "{part}");
    }
}
