//! Tubes of many stations against a general boundary-value solver.
//!
//! The values were made by `tests/outside/boundary_value.py` with scipy's collocation method, which shares nothing with this crate;
//! they are converged to 1e-9 of themselves, so what is left is the error of the crate's own mesh.

use taperbook_mechanics::{
    Clamp, Load, Material, Station, Tube, bend, load_for_tip_angle, natural_frequency, third_length,
};
use taperbook_units::{Angle, Density, Length, Mass, Pressure};

#[track_caller]
fn near(found: f64, expected: f64, within: f64, case: &str) {
    assert!((found - expected).abs() < within, "{case}: {found} for {expected}");
}

#[test]
fn tubes_of_many_stations_cut_held_and_pulled_anyhow() {
    let mut tubes: Vec<(&str, Material, Vec<Station>)> = Vec::new();
    let mut case = "";
    let mut n_cases = 0;
    for line in include_str!("../outside/boundary_value.txt").lines() {
        let (kind, rest) = line.split_once(' ').unwrap();
        let words: Vec<&str> = rest.split(' ').collect();
        let numbers = |words: &[&str]| -> Vec<f64> {
            words.iter().map(|word| word.parse().unwrap()).collect()
        };
        match kind {
            "#" => {}
            "tube" => {
                let material = numbers(&words[1..]);
                let material = Material {
                    modulus: Pressure::from_gpa(material[0]),
                    density: Density::from_kg_per_m3(material[1]),
                };
                tubes.push((words[0], material, Vec::new()));
            }
            "station" => {
                let mm: Vec<_> = numbers(&words).into_iter().map(Length::from_mm).collect();
                let (_, _, stations) = tubes.last_mut().unwrap();
                stations.push(Station { at: mm[0], od: mm[1], wall: mm[2] });
            }
            "case" => case = rest,
            "found" => {
                let asked: Vec<&str> = case.split(' ').collect();
                let (_, material, stations) =
                    tubes.iter().find(|(name, ..)| *name == asked[0]).unwrap();
                let whole = Tube::new(stations, *material).unwrap();
                check(&whole, &numbers(&asked[1..]), &numbers(&words), case);
                n_cases += 1;
            }
            _ => panic!("unknown line {line:?}"),
        }
    }
    assert_eq!(n_cases, 11);
}

/// Holds one case to a tenth of what is promised of each number.
#[track_caller]
fn check(whole: &Tube, asked: &[f64], found: &[f64], case: &str) {
    let &[tip, butt, held_at, raised, give, back, pull, angle] = asked else {
        panic!("eight numbers in {case}")
    };
    let &[power, tip_angle, centre, recovery, out, up, bent_angle, load] = found else {
        panic!("eight numbers found for {case}")
    };
    let cut = whole.trimmed(Length::from_mm(tip), Length::from_mm(butt)).unwrap();
    let clamp = Clamp { held_at: Length::from_mm(held_at), raised: Angle::from_deg(raised), give };
    let third = third_length(&cut, &clamp).unwrap();
    near(third.power.g(), power, 1e-6 * power, case);
    near(third.tip_angle.deg(), tip_angle, 1e-4, case);
    near(third.bend_centre, centre, 5e-6, case);
    let frequency = natural_frequency(&cut, &clamp).unwrap();
    near(frequency.hz(), recovery, 1e-6 * recovery, case);
    let backward = Angle::from_deg(back);
    let shape = bend(&cut, &clamp, &Load::pull(Mass::from_g(pull), backward), 3).unwrap();
    let free = (cut.length() - clamp.held_at).mm();
    near(shape.points[2].x.mm(), out, 1e-6 * free, case);
    near(shape.points[2].y.mm(), up, 1e-6 * free, case);
    near(shape.tip_angle.deg(), bent_angle, 1e-4, case);
    let mass = load_for_tip_angle(&cut, &clamp, Angle::from_deg(angle), backward).unwrap();
    near(mass.g(), load, 1e-6 * load, case);
}
