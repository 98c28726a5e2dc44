//! First natural frequencies against closed forms and tables.

use taperbook_mechanics::{Clamp, natural_frequency};

use super::common::{by_the_butt, tube};

/// Ω = ω L² √(ρ A / E I) with the section of the clamp, of a solid cone of 1 m with the butt `n` times the tip.
fn omega(n: f64) -> f64 {
    let (butt_mm, modulus, density) = (10.0, 50.0, 1000.0);
    let (tip_mm, length_mm) = (butt_mm / n, 1000.0);
    let rod =
        tube(&[(0.0, butt_mm, 0.5 * butt_mm), (length_mm, tip_mm, 0.5 * tip_mm)], modulus, density);
    let frequency = natural_frequency(&rod, &by_the_butt()).unwrap().hz();
    // I / A of a solid round section is d² / 16.
    let gyration = butt_mm * 1e-3 / 4.0;
    frequency * std::f64::consts::TAU * (density / (modulus * 1e9)).sqrt() / gyration
}

#[test]
fn a_uniform_cantilever() {
    // βL = 1.8751040687, Ω = (βL)²: Thomson, *Theory of Vibration*, app. D; Blevins, *Formulas for Natural Frequency and Mode Shape*.
    assert!((omega(1.0) / 3.5160152685 - 1.0).abs() < 1e-6, "{}", omega(1.0));
}

#[test]
fn truncated_cones_clamped_at_the_thick_end() {
    // The problem: Conway, Becker & Dubil, J. Appl. Mech. 31 (1964) 329; Naguleswaran, J. Sound Vib. 172 (1994) 289.
    // Their digits were not seen: a 4×4 Bessel determinant and 120 finite elements, which agree.
    for (n, expected) in [
        (1.25, 3.8551168),
        (2.0, 4.62515025),
        (3.0, 5.32615589),
        (4.0, 5.82306587),
        (6.25, 6.55057234),
        (10.0, 7.20487165),
    ] {
        assert!((omega(n) / expected - 1.0).abs() < 1e-5, "{n}: {} {expected}", omega(n));
    }
    // Mabie & Rogers, J. Acoust. Soc. Am. 51 (1972) 1771, double-tapered, ratios 4 and 4: 23.289 with the section of the tip.
    // It lies 1.4e-4 below what the Bessel functions give.
    assert!((4.0 * omega(4.0) / 23.289 - 1.0).abs() < 3e-4);
}

/// A rigid uniform rod on a rotational spring k has ω² = 3 k / (m L²), m L² / 3 being its moment of inertia about its end.
/// With the rod's own ω added as 1/ω² = 1/ω_spring² + 1/ω_rod², Dunkerley's lower bound (Thomson, *Theory of Vibration*) is all but met
/// where one is much the lower.
#[test]
fn a_giving_clamp_is_a_spring_at_the_root() {
    let rod = tube(&[(0.0, 10.0, 5.0), (1000.0, 10.0, 5.0)], 100.0, 1000.0);
    let alone = natural_frequency(&rod, &by_the_butt()).unwrap().hz();
    for (spring, gap) in [(0.1, 1e-4), (1.0, 1e-3), (10.0, 1e-2)] {
        let clamp = Clamp { give: 1.0 / spring, ..by_the_butt() };
        let frequency = natural_frequency(&rod, &clamp).unwrap().hz();
        let rigid = (3.0 * spring / rod.weight().kg()).sqrt() / std::f64::consts::TAU;
        let bound = (rigid.powi(-2) + alone.powi(-2)).powf(-0.5);
        let above = frequency / bound - 1.0;
        assert!((0.0..gap).contains(&above), "{spring}: {frequency} {bound}");
    }
}
