//! Large bends of uniform cantilevers against elliptic integrals, and heavy ones against two independent methods.

use taperbook_mechanics::{Load, bend, load_for_tip_angle, third_length};
use taperbook_units::{Angle, STANDARD_GRAVITY};

use super::common::{by_the_butt, newtons, uniform};

/// A uniform weightless cantilever under a pull at its tip, from `tests/outside/elliptic.txt`.
struct Pulled {
    /// P L²/EI.
    force: f64,
    /// From straight down toward the clamp.
    back: Angle,
    tip_angle: f64,
    drop: f64,
    pulled_in: f64,
}

/// Elliptic integrals to 30 digits by mpmath (`tests/outside/elliptic.py`, which checks each by quadrature).
fn pulled() -> Vec<Pulled> {
    let table = include_str!("../outside/elliptic.txt");
    let lines: Vec<_> = (table.lines().filter(|line| !line.starts_with('#')))
        .map(|line| {
            let numbers: Vec<f64> = line.split(' ').map(|word| word.parse().unwrap()).collect();
            let &[force, back_deg, tip_angle, drop, pulled_in] = &numbers[..] else {
                panic!("five numbers in {line:?}")
            };
            Pulled { force, back: Angle::from_deg(back_deg), tip_angle, drop, pulled_in }
        })
        .collect();
    assert_eq!(lines.len(), 78);
    lines
}

fn hung() -> Vec<Pulled> {
    pulled().into_iter().filter(|line| line.back.rad() == 0.0).collect()
}

#[test]
fn a_pull_on_a_uniform_weightless_cantilever() {
    let rod = uniform(0.0);
    for Pulled { force, back, tip_angle, drop, pulled_in } in pulled() {
        let shape = bend(&rod, &by_the_butt(), &Load::pull(newtons(force), back), 11).unwrap();
        let tip = shape.points[10];
        let case = format!("{force} {back:?}: {shape:?}");
        // The heavier the pull, the more of the bend is in few elements; a third-length weight is P L²/EI = 1.1, and of that this
        // is a thousandth of what is promised.
        let near = 2e-8 * force.max(1.0);
        assert!((shape.tip_angle.rad() - tip_angle).abs() < near, "{case}");
        assert!((tip.y.m() + drop).abs() < near, "{case}");
        assert!((1.0 - tip.x.m() - pulled_in).abs() < near, "{case}");
        let angle = Angle::from_rad(tip_angle);
        let load = load_for_tip_angle(&rod, &by_the_butt(), angle, back).unwrap();
        assert!((load.kg() * STANDARD_GRAVITY / force - 1.0).abs() < 1e-6, "{case}");
    }
}

/// Mattiasson, Int. J. Numer. Meth. Engng 17 (1981) 145, table 1, as quoted in public repositories: P L²/EI, drop / L, pulled in / L;
/// the problem is that of Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272.
const PUBLISHED: [(f64, f64, f64); 4] = [
    (1.0, 0.30172, 0.05643),
    (2.0, 0.49346, 0.16064),
    (5.0, 0.71379, 0.38763),
    (10.0, 0.81061, 0.55500),
];

#[test]
fn the_published_digits_of_a_weight_on_a_uniform_cantilever() {
    for (force, drop, pulled_in) in PUBLISHED {
        let load = Load::hung(newtons(force));
        let tip = bend(&uniform(0.0), &by_the_butt(), &load, 2).unwrap().points[1];
        // Half of their last digit.
        assert!((tip.y.m() + drop).abs() < 0.5001e-5, "{force}: {tip:?}");
        assert!((1.0 - tip.x.m() - pulled_in).abs() < 0.5001e-5, "{force}: {tip:?}");
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
        for Pulled { force, tip_angle, drop, pulled_in, .. } in hung() {
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
