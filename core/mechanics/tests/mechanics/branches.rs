//! Which bend is found where there are several: the one that the blank takes as first its own weight and then the pull grow from
//! nothing, or none, and then it is said that the blank buckles.
//!
//! Held against the independent integrator of `shooting`, which follows that branch in steps a hundred times smaller and checks at each
//! that the bend is stable, and against closed forms of buckling.

use std::f64::consts::{FRAC_PI_2, PI};

use taperbook_mechanics::{BendError, Clamp, Load, Tube, bend, load_for_tip_angle, third_length};
use taperbook_units::{Angle, Length, Mass, STANDARD_GRAVITY};

use super::common::{by_the_butt, cone, newtons, tube, uniform};
use super::shooting::Shooter;
use super::shop::Random;

/// Stations in mm, modulus in GPa, density in kg/m³.
type Blank = (&'static [(f64, f64, f64)], f64, f64);

const LIGHT: Blank = (
    &[(0.0, 11.2, 1.05), (762.0, 8.4, 0.8), (1500.0, 4.9, 0.55), (2184.0, 1.75, 0.4)],
    95.0,
    1550.0,
);
/// Ten feet of light glass that hang nearly straight down by themselves.
const LIMP: Blank = (&[(0.0, 9.0, 1.3), (1500.0, 5.0, 0.8), (3050.0, 1.5, 0.5)], 28.0, 1950.0);
const STOUT: Blank = (&[(0.0, 15.0, 2.2), (120.0, 17.0, 2.2), (1524.0, 4.0, 1.0)], 110.0, 1620.0);

/// What the integrator and the crate's solver may differ by, in rad and in parts of the free length: a tenth of what is promised.
const ALIKE: f64 = 1e-6;

/// Bends a blank both ways and says whether it buckles.
#[track_caller]
fn check(blank: Blank, clamp: &Clamp, load: &Load) -> bool {
    let (stations, modulus, density) = blank;
    let whole = tube(stations, modulus, density);
    let edges: Vec<f64> = stations.iter().map(|station| station.0 * 1e-3).collect();
    let followed = Shooter::new(&whole, &edges, density, clamp).follow(load);
    let bent = bend(&whole, clamp, load, 2);
    let case = format!("{clamp:?} {load:?}: {followed:?} {bent:?}");
    match (followed, bent) {
        (Some(tip), Ok(shape)) => {
            let free = (whole.length() - clamp.held_at).m();
            let (out, up) = (shape.points[1].x.m() - tip.out, shape.points[1].y.m() - tip.up);
            assert!((shape.tip_angle.rad() - tip.angle).abs() < ALIKE, "{case}");
            assert!(out.hypot(up) < ALIKE * free, "{case}");
            false
        }
        (None, Err(BendError::Buckles)) => true,
        _ => panic!("{case}"),
    }
}

fn held(raised_deg: f64, give: f64) -> Clamp {
    Clamp { held_at: Length::from_mm(230.0), raised: Angle::from_deg(raised_deg), give }
}

/// The clamp tilted, level and raised; pulls forward, down, back and up, from light ones to many times what the blank is made for.
#[test]
fn the_bend_found_is_the_one_that_grows_from_nothing() {
    let mut random = Random::new(3);
    for round in 0..60 {
        let (blank, third_g) = [(LIGHT, 250.0), (LIMP, 20.0), (STOUT, 1500.0)][round % 3];
        let give = [0.0, 3e-3][usize::from(random.uniform() < 0.5)];
        let clamp = held(random.between(-20.0, 85.0), give);
        let times = random.between(-1.5, 2.3).exp();
        let load = Load::pull(
            Mass::from_g(third_g * times),
            Angle::from_deg(random.between(-60.0, 200.0)),
        );
        assert!(!check(blank, &clamp, &load));
    }
}

/// A level blank pulled straight back has sagged before, so it goes on bending down and does not buckle, however far past Euler's load.
#[test]
fn a_sagging_blank_pulled_straight_back_bends_on_downward() {
    for (blank, grams) in [(LIGHT, 600.0), (LIGHT, 3000.0), (LIMP, 100.0), (STOUT, 9000.0)] {
        let load = Load::pull(Mass::from_g(grams), Angle::from_deg(90.0));
        assert!(!check(blank, &held(0.0, 0.0), &load));
    }
}

/// A raised blank that its weight tips over, and one that hangs and is pulled up past its own clamp.
#[test]
fn blanks_that_tip_over() {
    for raised in [60.0, 80.0, 89.0] {
        for blank in [LIGHT, LIMP, STOUT] {
            for grams in [0.0, 50.0, 400.0] {
                let load = Load::hung(Mass::from_g(grams));
                assert!(!check(blank, &held(raised, 1e-3), &load));
            }
        }
    }
    for back in [120.0, 180.0] {
        let load = Load::pull(Mass::from_g(200.0), Angle::from_deg(back));
        assert!(!check(LIMP, &held(0.0, 0.0), &load));
    }
}

/// Pulled back and up, a weightless level blank bends up; the bend that mirrors a pull back and down is stable too past Euler's load,
/// and is not the one that the blank takes.
#[test]
fn of_two_stable_bends_the_one_on_the_side_of_the_pull_is_found() {
    let rod = uniform(0.0);
    for force in [0.5, 2.0, 4.0, 10.0, 40.0] {
        for aside in [0.01, 1.0, 20.0, 60.0] {
            let pulled = |deg: f64| {
                let load = Load::pull(newtons(force), Angle::from_deg(deg));
                bend(&rod, &by_the_butt(), &load, 2).unwrap()
            };
            let (down, up) = (pulled(90.0 - aside), pulled(90.0 + aside));
            assert!(0.0 < down.tip_angle.rad(), "{force} {aside}: {down:?}");
            assert!((down.tip_angle + up.tip_angle).rad().abs() < 1e-9, "{force} {aside}");
            assert!((down.points[1].y + up.points[1].y).m().abs() < 1e-9, "{force} {aside}");
        }
    }
}

/// A push along the axis of a weightless blank, at any angle of the clamp: straight up to the load at which it buckles.
#[track_caller]
fn check_column(column: &Tube, critical: f64) {
    for raised_deg in [-20.0, 0.0, 30.0, 45.0, 60.0, 90.0] {
        let clamp = Clamp { raised: Angle::from_deg(raised_deg), ..by_the_butt() };
        let push = |part: f64| {
            let load = Load::pull(newtons(part * critical), Angle::from_deg(90.0 - raised_deg));
            bend(column, &clamp, &load, 2)
        };
        for part in [0.5, 0.99, 0.9999] {
            let turned = push(part).unwrap().tip_angle + clamp.raised;
            assert!(turned.rad().abs() < 1e-9, "{raised_deg} {part}: {turned:?}");
        }
        for part in [1.0001, 1.01, 1.5, 9.5, 1e3, 1e6] {
            assert_eq!(push(part).unwrap_err(), BendError::Buckles, "{raised_deg} {part}");
        }
    }
}

/// Euler's column: π² EI / 4 L² (any text; Timoshenko & Gere, *Theory of Elastic Stability*, section 2.1).
#[test]
fn a_uniform_column_buckles_at_eulers_load() {
    check_column(&uniform(0.0), PI * PI / 4.0);
}

/// I = I_tip (x / a)⁴ along a cone from its tip at x = a to its clamp at x = b: the deflection x sin(κ (1/a − 1/x)) with
/// κ² = P a⁴ / (E I_tip) meets the clamp's condition where tan θ = −κ / b, θ = κ (1/a − 1/b).
/// The problem: Timoshenko & Gere, *Theory of Elastic Stability*, section 2.14 (bars of varying section, m = 4); solved here by bisection.
#[test]
fn a_cone_buckles_at_its_closed_form() {
    for n in [1.5, 2.0, 4.0] {
        // Of length 1: b = n a.
        let a = 1.0 / (n - 1.0);
        let b = n * a;
        let (mut low, mut high) = (FRAC_PI_2, PI);
        for _ in 0..60 {
            let theta: f64 = 0.5 * (low + high);
            let kappa = theta / (1.0 / a - 1.0 / b);
            if theta.tan() < -kappa / b { low = theta } else { high = theta }
        }
        let kappa = low / (1.0 / a - 1.0 / b);
        check_column(&cone(n), kappa * kappa / a.powi(4));
    }
}

/// A uniform column buckles under its own weight at w L³ / EI = 7.837 (Greenhill, Proc. Camb. Phil. Soc. 4 (1881) 65; Timoshenko & Gere,
/// section 2.12), more exactly 7.8373, which is 9/4 of the square of the first zero 1.8663509 of J₋₁/₃.
#[test]
fn a_heavy_column_buckles_under_its_own_weight() {
    let critical = 2.25 * 1.866_350_859f64.powi(2);
    assert!((critical - 7.837).abs() < 5e-4);
    let upright = Clamp { raised: Angle::from_deg(90.0), ..by_the_butt() };
    for part in [0.1, 0.9, 0.9999] {
        let shape = bend(&uniform(part * critical), &upright, &Load::none(), 2).unwrap();
        assert!((shape.points[1].y.m() - 1.0).abs() < 1e-9, "{part}: {shape:?}");
    }
    for part in [1.0001, 2.0, 30.0] {
        let column = uniform(part * critical);
        assert_eq!(bend(&column, &upright, &Load::none(), 2).unwrap_err(), BendError::Buckles);
        assert_eq!(third_length(&column, &upright).unwrap_err(), BendError::Buckles);
        let pull = load_for_tip_angle(&column, &upright, Angle::from_deg(60.0), upright.raised);
        assert_eq!(pull.unwrap_err(), BendError::Buckles);
        // A hair off the vertical it leans over to that side instead, and the further, the heavier it is.
        let leaning = Clamp { raised: Angle::from_deg(89.99), ..by_the_butt() };
        let shape = bend(&column, &leaning, &Load::none(), 2).unwrap();
        assert!(-1.55 < shape.tip_angle.rad() && shape.points[1].x.m() > 0.01, "{shape:?}");
    }
}

/// Just off the axis the blank bends to that side with hardly a load short of Euler's, sharply beyond it, and near the
/// bends of a perfect column: k = K(m)², m = sin²(tip angle / 2) (Timoshenko & Gere, section 2.7), here at a tip angle of 60°,
/// K(1/4) = 1.685750354812596.
#[test]
fn a_push_a_hair_off_the_axis_bends_to_its_side() {
    let rod = uniform(0.0);
    let force = 1.685_750_354_812_596f64.powi(2);
    for raised_deg in [0.0, 37.0] {
        let clamp = Clamp { raised: Angle::from_deg(raised_deg), ..by_the_butt() };
        for aside in [1e-3f64, 1e-5] {
            for side in [-1.0, 1.0] {
                let backward = Angle::from_deg(90.0 - raised_deg) - Angle::from_rad(side * aside);
                let load = Load::pull(newtons(force), backward);
                let turned = bend(&rod, &clamp, &load, 2).unwrap().tip_angle + clamp.raised;
                // The post-buckled column changes its angle about in proportion to how far the push is off.
                let miss = (side * turned.rad() - 60f64.to_radians()).abs();
                assert!(miss < 20.0 * aside, "{raised_deg} {aside} {side}: {turned:?}");
            }
        }
    }
}

/// The weight asked for and the weight hung are one: what brings the tip to an angle brings it there.
#[test]
fn a_load_for_an_angle_gives_that_angle() {
    for (stations, modulus, density) in [LIGHT, STOUT] {
        let blank = tube(stations, modulus, density);
        for (raised, back, wanted) in [
            (0.0, 0.0, 60.0),
            (0.0, 90.0, 150.0),
            (20.0, 45.0, 100.0),
            (-10.0, 60.0, 120.0),
            (40.0, 120.0, -100.0),
        ] {
            let (clamp, backward) = (held(raised, 1e-3), Angle::from_deg(back));
            let wanted = Angle::from_deg(wanted);
            let mass = load_for_tip_angle(&blank, &clamp, wanted, backward).unwrap();
            assert!(STANDARD_GRAVITY * mass.kg() < 500.0);
            let shape = bend(&blank, &clamp, &Load::pull(mass, backward), 2).unwrap();
            assert!((shape.tip_angle - wanted).rad().abs() < 1e-8, "{raised} {back}: {shape:?}");
        }
    }
}
