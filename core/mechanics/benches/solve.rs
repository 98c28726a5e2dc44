//! How long the solves take: `cargo bench -p taperbook-mechanics`.
//!
//! These figures are read by people; nothing is asserted of them.

use divan::{Bencher, black_box};
use taperbook_mechanics::fit::{
    Caliper, Card, Errors, Fibre, Measured, Posterior, Prior, Reading, Setup, fit,
};
use taperbook_mechanics::{
    Clamp, Load, Material, Station, Tube, bend, natural_frequency, third_length,
};
use taperbook_units::{Angle, Density, Length, Mass, Pressure};

fn main() {
    divan::main();
}

const NONE: Length = Length::from_m(0.0);

fn held_at() -> Length {
    Length::from_inches(9.0)
}

fn blank() -> Tube {
    let stations = [
        (0.0, 11.2, 1.05),
        (500.0, 9.3, 0.9),
        (1000.0, 7.2, 0.7),
        (1500.0, 4.9, 0.55),
        (2184.0, 1.75, 0.4),
    ]
    .map(|(at, od, wall)| Station {
        at: Length::from_mm(at),
        od: Length::from_mm(od),
        wall: Length::from_mm(wall),
    });
    let material =
        Material { modulus: Pressure::from_gpa(95.0), density: Density::from_kg_per_m3(1550.0) };
    Tube::new(&stations, material).expect("a sound tube")
}

fn prior() -> Prior {
    let caliper = |at, od, wall: Option<f64>| Caliper {
        at: Length::from_mm(at),
        od: Length::from_mm(od),
        wall: wall.map(Length::from_mm),
        own: true,
    };
    let card = Card {
        length: Length::from_mm(2184.0),
        calipers: vec![
            caliper(0.0, 11.2, Some(1.05)),
            caliper(500.0, 9.3, None),
            caliper(1000.0, 7.2, None),
            caliper(1500.0, 4.9, None),
            caliper(2184.0, 1.75, None),
        ],
        modulus: None,
        density: None,
        fibre: Fibre::Carbon,
        solid_tip: false,
        joints: Vec::new(),
        length_sd: Some(Length::from_mm(1.0)),
    };
    Prior::from_card(&card, &Errors::default()).expect("a sound card")
}

fn readings(n: usize) -> Vec<Reading> {
    let uncut = [
        Measured::Power(Mass::from_g(212.0)),
        Measured::TipAngle(Angle::from_deg(63.0)),
        Measured::Weight(Mass::from_g(46.0)),
    ];
    (0..n)
        .map(|reading_idx| Reading {
            tip_cut: Length::from_mm(5.0) * (reading_idx / 3) as f64,
            butt_cut: NONE,
            held_at: held_at(),
            setup: Setup::default(),
            measured: uncut[reading_idx % 3],
            sd: None,
        })
        .collect()
}

fn fitted() -> Posterior {
    fit(&prior(), &readings(3)).expect("a sound fit")
}

#[divan::bench]
fn power_of_a_tube(bencher: Bencher) {
    let (tube, clamp) = (blank(), Clamp::horizontal(held_at()));
    bencher.bench(|| third_length(black_box(&tube), &clamp));
}

/// A pull back and down on a raised clamp, which is walked to in steps.
#[divan::bench]
fn shape_under_a_hand_pull(bencher: Bencher) {
    let tube = blank();
    let clamp = Clamp { raised: Angle::from_deg(20.0), ..Clamp::horizontal(held_at()) };
    let load = Load::pull(Mass::from_g(300.0), Angle::from_deg(45.0));
    bencher.bench(|| bend(black_box(&tube), &clamp, &load, 20));
}

#[divan::bench]
fn frequency_of_a_tube(bencher: Bencher) {
    let (tube, clamp) = (blank(), Clamp::horizontal(held_at()));
    bencher.bench(|| natural_frequency(black_box(&tube), &clamp));
}

#[divan::bench]
fn whole_trimmed_candidate(bencher: Bencher) {
    let (tube, clamp) = (blank(), Clamp::horizontal(held_at()));
    bencher.bench(|| {
        let cut = black_box(&tube)
            .trimmed(Length::from_mm(30.0), Length::from_mm(50.0))
            .expect("something left");
        let third = third_length(&cut, &clamp);
        (third, natural_frequency(&cut, &clamp), cut.weight(), cut.balance())
    });
}

#[divan::bench(args = [1, 3, 10])]
fn fit_with_readings(bencher: Bencher, n: usize) {
    let (prior, readings) = (prior(), readings(n));
    bencher.bench(|| fit(black_box(&prior), &readings));
}

#[divan::bench]
fn outcome_with_ranges(bencher: Bencher) {
    let posterior = fitted();
    bencher.bench(|| {
        black_box(&posterior).outcome(Length::from_mm(30.0), Length::from_mm(50.0), held_at())
    });
}
