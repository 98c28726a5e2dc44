//! Small deflections of tapered cantilevers against closed forms, and what `third_length` says against the shape that `bend` gives.

use taperbook_mechanics::{Clamp, Load, bend, third_length};
use taperbook_units::Length;

use super::common::{by_the_butt, cone, light_blank, newtons};

/// A tip load small enough for linear theory: deflections differ from it by their own square, some 1e-9.
const SMALL: f64 = 1e-4;

/// δ = P L³ / (3 E I_A n³) with n = d_B / d_A: Gere & Goodno, *Mechanics of Materials*, problem of the tapered cantilever of circular
/// cross-section; Roark's Formulas, tapered-beam tables with I = I_A (1 + K x / l)⁴.
/// Tip slope P L² (n + 2) / (6 n³ E I_A) and centroid of curvature 2 / (n + 2) from the tip: derived by integration.
#[test]
fn a_solid_cone_under_a_small_tip_load() {
    for (n, deflection, slope, centroid) in [
        (1.0, 0.3333333333333333, 0.5, 0.6666666666666666),
        (1.5, 0.09876543209876543, 0.1728395061728395, 0.5714285714285714),
        (2.0, 0.041666666666666664, 0.08333333333333333, 0.5),
        (4.0, 0.005208333333333333, 0.015625, 0.3333333333333333),
    ] {
        let shape = bend(&cone(n), &by_the_butt(), &Load::hung(newtons(SMALL)), 2).unwrap();
        let drop = -shape.points[1].y.m() / SMALL;
        let angle = shape.tip_angle.rad() / SMALL;
        assert!((drop / deflection - 1.0).abs() < 1e-6, "{n}: {drop}");
        assert!((angle / slope - 1.0).abs() < 1e-6, "{n}: {angle}");
        // For small angles the centroid of curvature lies where the tangent at the tip meets the clamp line.
        assert!((drop / angle / centroid - 1.0).abs() < 1e-6, "{n}");
    }
}

/// Hangs the power on the blank and reads the third, the tip's angle and the centroid of curvature off the bent shape.
#[test]
fn the_power_hung_from_the_tip_gives_what_is_said_of_it() {
    let clamp = Clamp::horizontal(Length::from_inches(9.0));
    for blank in [cone(1.0), cone(4.0), light_blank()] {
        let third = third_length(&blank, &clamp).unwrap();
        let n = 4000;
        let shape = bend(&blank, &clamp, &Load::hung(third.power), n + 1).unwrap();
        let free = (blank.length() - clamp.held_at).m();
        assert!((shape.points[n].y.m() + free / 3.0).abs() < 1e-9);
        assert!((shape.tip_angle.rad() - third.tip_angle.rad()).abs() < 1e-9);
        // The angle of each chord is that of the blank at its middle but for the square of its length.
        let angles: Vec<f64> = (shape.points.windows(2))
            .map(|pair| (pair[0].y - pair[1].y).m().atan2((pair[1].x - pair[0].x).m()))
            .collect();
        let (mut turned, mut moment) = (0.0, 0.0);
        for (chord, pair) in angles.windows(2).enumerate() {
            turned += pair[1] - pair[0];
            moment += (pair[1] - pair[0]) * (1.0 - (chord + 1) as f64 / n as f64);
        }
        // The two half chords at the ends are left out.
        assert!(
            (third.bend_centre - moment / turned).abs() < 1e-3,
            "{third:?} {}",
            moment / turned
        );
    }
}
