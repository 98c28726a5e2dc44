//! Small helpers to write tubes and loads down.

use taperbook_mechanics::{Clamp, Material, Station, Tube};
use taperbook_units::{Density, Length, Mass, Pressure, STANDARD_GRAVITY};

/// A tube from (at, outside diameter, wall) in millimetres, modulus in GPa, density in kg/m³.
pub(crate) fn tube(stations: &[(f64, f64, f64)], modulus: f64, density: f64) -> Tube {
    let stations: Vec<_> = (stations.iter())
        .map(|&(at, od, wall)| Station {
            at: Length::from_mm(at),
            od: Length::from_mm(od),
            wall: Length::from_mm(wall),
        })
        .collect();
    let material = Material {
        modulus: Pressure::from_gpa(modulus),
        density: Density::from_kg_per_m3(density),
    };
    Tube::new(&stations, material).unwrap()
}

/// A carbon blank of 7'2" as a shop might have.
pub(crate) fn light_blank() -> Tube {
    tube(
        &[(0.0, 11.2, 1.05), (762.0, 8.4, 0.8), (1500.0, 4.9, 0.55), (2184.0, 1.75, 0.4)],
        95.0,
        1550.0,
    )
}

/// A solid round cone of 1 m from `n` times the tip's diameter at the butt to the tip, with E I = 1 N m² at its tip and no weight.
pub(crate) fn cone(n: f64) -> Tube {
    let tip_mm = 5.0;
    let tip_moment = std::f64::consts::PI / 64.0 * (tip_mm * 1e-3f64).powi(4);
    let stations = [(0.0, n * tip_mm, 0.5 * n * tip_mm), (1000.0, tip_mm, 0.5 * tip_mm)];
    tube(&stations, 1e-9 / tip_moment, 0.0)
}

/// A uniform solid rod of 1 m with EI = 1 N m² that weighs `weight` N.
pub(crate) fn uniform(weight: f64) -> Tube {
    let od = 0.01f64;
    let second_moment = std::f64::consts::PI / 64.0 * od.powi(4);
    let area = std::f64::consts::PI / 4.0 * od.powi(2);
    let density = weight / STANDARD_GRAVITY / area;
    tube(&[(0.0, 10.0, 5.0), (1000.0, 10.0, 5.0)], 1e-9 / second_moment, density)
}

/// Clamped at its butt end.
pub(crate) fn by_the_butt() -> Clamp {
    Clamp::horizontal(Length::from_m(0.0))
}

/// The mass that weighs so many newtons.
pub(crate) fn newtons(force: f64) -> Mass {
    Mass::from_kg(force / STANDARD_GRAVITY)
}
