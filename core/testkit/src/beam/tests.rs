//! Checks of the shooting solver against closed forms and published large-deflection values.

use super::*;

fn uniform(mass: f64) -> Beam {
    Beam::new(1.0, |_| 1.0, |_| mass).expect("the length is positive")
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() < within, "found {found}, expected {expected}");
}

/// `PL³/3EI`, slope `PL²/2EI`: Gere and Goodno, Mechanics of Materials, table of cantilever deflections; Roark table 8.1 case 1a.
#[test]
fn small_tip_load() {
    let load = 1e-4;
    let bend = uniform(0.0).hang(Clamp::default(), load).expect("it solves");
    near(bend.drop / load, 1.0 / 3.0, 1e-8);
    near(bend.tip_angle / load, 0.5, 1e-8);
    near(bend.bend_centre, 2.0 / 3.0, 1e-7);
    near(bend.moment / load, 1.0, 1e-7);
}

/// `wL⁴/8EI`, slope `wL³/6EI`: same tables, case 2a.
#[test]
fn small_own_weight() {
    let weight = 1e-4;
    let beam = uniform(weight / STANDARD_GRAVITY);
    let bend = beam.hang(Clamp::default(), 0.0).expect("it solves");
    near(bend.drop / weight, 0.125, 1e-8);
    near(bend.tip_angle / weight, 1.0 / 6.0, 1e-8);
}

/// `δ = PL³/(3 E I_A n³)`, slope `PL²(n+2)/(6 n³ E I_A)`, curvature centroid `2/(n+2)` for a cone with `n = d_B/d_A`: Gere and Goodno, nonprismatic cantilever (n = 2), general n derived in closed form.
#[test]
fn small_load_on_cones() {
    for (n, drop, slope) in [
        (1.5, 0.098_765_432_098_765_43, 0.172_839_506_172_839_5),
        (2.0, 0.041_666_666_666_666_664, 0.083_333_333_333_333_33),
        (4.0, 0.005_208_333_333_333_333, 0.015_625),
    ] {
        let beam = Beam::new(1.0, |u| (1.0 + (n - 1.0) * u).powi(4), |_| 0.0).expect("positive");
        let load = 1e-4;
        let bend = beam.hang(Clamp::default(), load).expect("it solves");
        near(bend.drop / load / drop, 1.0, 1e-7);
        near(bend.tip_angle / load / slope, 1.0, 1e-7);
        near(bend.bend_centre, 2.0 / (n + 2.0), 1e-7);
    }
}

/// Vertical dead load on a horizontal uniform cantilever: Bisshopp and Drucker, Quart. Appl. Math. 3 (1945) 272; Mattiasson, Int. J. Numer. Meth. Engng 17 (1981) 145, table 1; digits from elliptic integrals at 30 places.
#[test]
fn large_tip_load() {
    for (load, angle, down, back) in [
        (0.2, 0.099_636_163_037, 0.066_364_482_145, 0.002_646_548_340_5),
        (1.0, 0.461_351_949_71, 0.301_720_773_8, 0.056_433_236_283),
        (2.0, 0.781_749_831_56, 0.493_457_480_4, 0.160_641_720_83),
        (5.0, 1.215_368_117_6, 0.713_791_523_61, 0.387_628_360_72),
        (10.0, 1.430_285_538_8, 0.810_609_024_88, 0.554_995_597_75),
        (20.0, 1.532_934_956_3, 0.868_695_898_29, 0.683_885_567_57),
    ] {
        let beam = uniform(0.0);
        let bend = beam.hang(Clamp::default(), load).expect("it solves");
        near(bend.tip_angle, angle, 2e-9);
        near(bend.drop, down, 2e-9);
        near(1.0 - bend.reach, back, 2e-9);
        let back_again = beam.pull_for_tip_angle(Clamp::default(), angle, 0.0).expect("it solves");
        near(back_again / load, 1.0, 3e-8);
    }
}

/// Own weight alone: the problem of Rohde, Quart. Appl. Math. 11 (1953) 337; values computed by an eighth-order shooting and by collocation, which agreed.
#[test]
fn large_own_weight() {
    for (weight, angle, down, back) in [
        (0.5, 0.083_136_586_6, 0.062_305_768_2, 0.002_220_999_7),
        (5.0, 0.697_004_777_5, 0.495_905_044_6, 0.153_342_82),
        (50.0, 1.526_453_150_4, 0.907_917_123_5, 0.754_985_243_7),
    ] {
        let beam = uniform(weight / STANDARD_GRAVITY);
        let bend = beam.hang(Clamp::default(), 0.0).expect("it solves");
        near(bend.tip_angle, angle, 2e-8);
        near(bend.drop, down, 2e-8);
        near(1.0 - bend.reach, back, 2e-8);
    }
}

/// Without weight, a pull that leans back is a pull straight down on a clamp that is raised as far, seen askew.
#[test]
fn a_leaning_pull_is_a_raised_clamp() {
    let beam = Beam::new(2.0, |u| 0.05 + 8.0 * u * u, |_| 0.0).expect("positive");
    for lean in [0.2, 0.6, 1.0] {
        let bend = beam.hang(Clamp { raised: lean, give: 0.0 }, 3.0).expect("it solves");
        let angle = bend.tip_angle + lean;
        let pull = beam.pull_for_tip_angle(Clamp::default(), angle, lean).expect("it solves");
        near(pull, 3.0, 1e-7);
    }
}

#[test]
fn third_length_is_what_it_says() {
    let beam = Beam::new(2.0, |u| 0.05 + 8.0 * u * u, |u| 0.008 + 0.01 * u).expect("positive");
    for clamp in [Clamp::default(), Clamp { raised: 0.01, give: 0.004 }] {
        let third = beam.third_length(clamp).expect("it solves");
        near(third.drop, 2.0 / 3.0, 1e-10);
        let hung = beam.hang(clamp, third.load).expect("it solves");
        near(hung.drop, 2.0 / 3.0, 1e-9);
        near(hung.tip_angle, third.tip_angle, 1e-9);
        let points = beam.points(&third);
        let (first, last) = (points[0], points[points.len() - 1]);
        near(first.0.hypot(first.1), 0.0, 1e-12);
        near(last.1, -2.0 / 3.0, 1e-9);
        // A raised clamp holds the tip up, so it takes more weight to pull it down.
        if clamp.raised != 0.0 {
            let slope = (points[1].1 - first.1) / (points[1].0 - first.0);
            near(slope, clamp.raised - clamp.give * third.moment, 2e-3);
        }
    }
}

#[test]
fn a_limp_beam_is_named_as_one() {
    let beam = uniform(10.0 / STANDARD_GRAVITY);
    assert_eq!(beam.third_length(Clamp::default()), Err(Unsolved::TooLimp));
    assert_eq!(beam.pull_for_tip_angle(Clamp::default(), 0.1, 0.0), Err(Unsolved::TooLimp));
    assert_eq!(Beam::new(0.0, |_| 1.0, |_| 1.0).err(), Some(Unsolved::NoFreeLength));
    assert_eq!(Beam::new(f64::NAN, |_| 1.0, |_| 1.0).err(), Some(Unsolved::NoFreeLength));
}
