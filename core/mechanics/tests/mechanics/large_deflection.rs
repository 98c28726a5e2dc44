//! Large bends of uniform cantilevers against elliptic integrals, and heavy ones against two independent methods.

use taperbook_mechanics::{Load, Tube, bend, load_for_tip_angle, third_length};
use taperbook_units::{Angle, STANDARD_GRAVITY};

use super::common::{by_the_butt, newtons, tube};

/// A uniform solid rod of 1 m with EI = 1 N m² that weighs `weight` N.
fn uniform(weight: f64) -> Tube {
    let od = 0.01f64;
    let second_moment = std::f64::consts::PI / 64.0 * od.powi(4);
    let area = std::f64::consts::PI / 4.0 * od.powi(2);
    let density = weight / STANDARD_GRAVITY / area;
    tube(&[(0.0, 10.0, 5.0), (1000.0, 10.0, 5.0)], 1e-9 / second_moment, density)
}

/// P L²/EI, tip angle, drop / L, what the tip is pulled in / L, under a weight at the tip.
///
/// Elliptic integrals to 30 digits by mpmath, checked by shooting; digits published for 1, 2, 5 and 10:
/// Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272; Mattiasson, Int. J. Numer. Meth. Engng 17 (1981) 145, table 1.
const TIP_WEIGHT: [(f64, f64, f64, f64); 11] = [
    (0.2, 0.099636163037, 0.066364482145, 0.0026465483405),
    (0.5, 0.24453364713, 0.16214357566, 0.015918962471),
    (1.0, 0.46135194971, 0.3017207738, 0.056433236283),
    (2.0, 0.78174983156, 0.4934574804, 0.16064172083),
    (4.0, 1.1212393475, 0.66996418128, 0.32894124225),
    (5.0, 1.2153681176, 0.71379152361, 0.38762836072),
    (6.0, 1.2836972858, 0.74457114889, 0.43458882868),
    (8.0, 1.3744315067, 0.78498237495, 0.50482773213),
    (9.0, 1.4054653336, 0.79905552747, 0.53182056267),
    (10.0, 1.4302855388, 0.81060902488, 0.55499559775),
    (20.0, 1.5329349563, 0.86869589829, 0.68388556757),
];

#[test]
fn a_weight_on_a_uniform_weightless_cantilever() {
    let rod = uniform(0.0);
    for (force, tip_angle, drop, pulled_in) in TIP_WEIGHT {
        let shape = bend(&rod, &by_the_butt(), &Load::hung(newtons(force)), 11).unwrap();
        let tip = shape.points[10];
        assert!((shape.tip_angle.rad() - tip_angle).abs() < 1e-7, "{force}");
        assert!((tip.y.m() + drop).abs() < 1e-7, "{force}");
        assert!((1.0 - tip.x.m() - pulled_in).abs() < 1e-7, "{force}");
        let (angle, down) = (Angle::from_rad(tip_angle), Angle::from_rad(0.0));
        let load = load_for_tip_angle(&rod, &by_the_butt(), angle, down).unwrap();
        assert!((load.kg() * STANDARD_GRAVITY / force - 1.0).abs() < 1e-6, "{force}");
    }
}

/// w L³/EI, tip angle, drop / L, what the tip is pulled in / L, under own weight alone.
///
/// The problem: Rohde, Quart. Appl. Math. 11 (1953) 337; Holden, Int. J. Solids Struct. 8 (1972) 1051;
/// Wang, Int. J. Mech. Sci. 28 (1986) 549. No published digits seen: by shooting (DOP853) and by collocation, which agree.
const OWN_WEIGHT: [(f64, f64, f64, f64); 5] = [
    (0.5, 0.0831365866, 0.0623057682, 0.0022209997),
    (1.0, 0.1651155605, 0.123471402, 0.0087536047),
    (5.0, 0.6970047775, 0.4959050446, 0.15334282),
    (20.0, 1.3395015417, 0.8298814434, 0.5547679478),
    (50.0, 1.5264531504, 0.9079171235, 0.7549852437),
];

#[test]
fn a_uniform_cantilever_under_its_own_weight() {
    for (weight, tip_angle, drop, pulled_in) in OWN_WEIGHT {
        let shape = bend(&uniform(weight), &by_the_butt(), &Load::none(), 2).unwrap();
        let tip = shape.points[1];
        // A tenth of what is promised of a power; at 50 all of the bend is in the first seventh of the rod.
        assert!((shape.tip_angle.rad() - tip_angle).abs() < 1e-6, "{weight}: {shape:?}");
        assert!((tip.y.m() + drop).abs() < 1e-6, "{weight}: {shape:?}");
        assert!((1.0 - tip.x.m() - pulled_in).abs() < 1e-6, "{weight}: {shape:?}");
    }
}

/// For the uniform weightless cantilever with its tip a third down: the tip angle θ and P L²/EI from
/// √(P L²/EI) = K(k) − F(φ₁, k), drop / L = 1 − 2 (E(k) − E(φ₁, k)) / √(P L²/EI), k² = (1 + sin θ) / 2, sin φ₁ = 1 / (k √2)
/// (Bisshopp & Drucker 1945), with the integrals done here by Simpson's rule and θ by bisection.
#[test]
fn the_third_length_weight_of_a_uniform_cantilever() {
    let integrate = |from: f64, f: &dyn Fn(f64) -> f64| {
        let n = 2000;
        let step = (std::f64::consts::FRAC_PI_2 - from) / f64::from(n);
        let weight = |i: i32| if i == 0 || i == n { 1.0 } else { f64::from(2 + 2 * (i % 2)) };
        (0..=n).map(|i| weight(i) * f(from + f64::from(i) * step)).sum::<f64>() * step / 3.0
    };
    let load_and_drop = |tip_angle: f64| {
        let square = 0.5 * (1.0 + tip_angle.sin());
        let from = (0.5 / square).sqrt().asin();
        let first = integrate(from, &|t| 1.0 / (1.0 - square * t.sin().powi(2)).sqrt());
        let second = integrate(from, &|t| (1.0 - square * t.sin().powi(2)).sqrt());
        (first * first, 1.0 - 2.0 * second / first)
    };
    let (mut low, mut high) = (0.1, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if load_and_drop(middle).1 < 1.0 / 3.0 { low = middle } else { high = middle }
    }
    let third = third_length(&uniform(0.0), &by_the_butt()).unwrap();
    assert!((third.tip_angle.rad() - low).abs() < 1e-8, "{third:?} {low}");
    let power = third.power.kg() * STANDARD_GRAVITY;
    assert!((power / load_and_drop(low).0 - 1.0).abs() < 1e-8, "{power}");
}

/// Rotating everything changes nothing: a weightless cantilever raised by α and pulled at right angles to itself is the horizontal
/// one with a weight, turned.
#[test]
fn a_pull_square_to_a_raised_clamp_is_a_weight_on_a_horizontal_one() {
    let rod = uniform(0.0);
    for raised_deg in [-30.0f64, 10.0, 45.0, 60.0] {
        let raised = Angle::from_deg(raised_deg);
        for (force, tip_angle, drop, pulled_in) in TIP_WEIGHT {
            let clamp = taperbook_mechanics::Clamp { raised, ..by_the_butt() };
            // Down as the raised blank sees it lies that much outward from the true one, so it is a pull that much forward.
            let load = Load::pull(newtons(force), -raised);
            let shape = bend(&rod, &clamp, &load, 2).unwrap();
            let tip = shape.points[1];
            let (sin, cos) = raised.rad().sin_cos();
            let along = tip.x.m() * cos + tip.y.m() * sin;
            let across = tip.y.m() * cos - tip.x.m() * sin;
            assert!((shape.tip_angle.rad() + raised.rad() - tip_angle).abs() < 1e-7, "{force}");
            assert!((across + drop).abs() < 1e-7, "{raised_deg} {force}: {shape:?}");
            assert!((1.0 - along - pulled_in).abs() < 1e-7, "{raised_deg} {force}: {shape:?}");
        }
    }
}
