//! Answers and times one whole trimmed candidate: `cargo run --release -p taperbook-mechanics --example candidate`.
//!
//! Prints one JSON object, which `benches/beside_scipy.py` reads to hold it beside a general solver on the same problem.
//! The times of the crate's parts are in `benches/solve.rs`; this is the whole that a suggested cut asks for.

#![expect(clippy::print_stdout, reason = "an example shows what it found")]
#![expect(
    clippy::disallowed_methods,
    reason = "it is here to be timed; the crate itself reads no clock"
)]

use std::hint::black_box;
use std::time::Instant;

use taperbook_mechanics::{Clamp, Material, Station, Tube, natural_frequency, third_length};
use taperbook_units::{Density, Length, Pressure};

/// From the butt, outside diameter, wall, in mm; GPa and kg/m³; what is cut off tip and butt, and where it is held, in mm.
const STATIONS: [(f64, f64, f64); 5] = [
    (0.0, 11.2, 1.05),
    (500.0, 9.3, 0.9),
    (1000.0, 7.2, 0.7),
    (1500.0, 4.9, 0.55),
    (2184.0, 1.75, 0.4),
];
const MODULUS: f64 = 95.0;
const DENSITY: f64 = 1550.0;
const TIP_CUT: f64 = 30.0;
const BUTT_CUT: f64 = 50.0;
const HELD_AT: f64 = 228.6;

/// The fastest of the rounds is told: what a busy machine disturbs least.
const ROUNDS: usize = 200;
const PER_ROUND: u32 = 50;

fn main() {
    let stations = STATIONS.map(|(at, od, wall)| Station {
        at: Length::from_mm(at),
        od: Length::from_mm(od),
        wall: Length::from_mm(wall),
    });
    let material = Material {
        modulus: Pressure::from_gpa(MODULUS),
        density: Density::from_kg_per_m3(DENSITY),
    };
    let tube = Tube::new(&stations, material).expect("a sound tube");
    let clamp = Clamp::horizontal(Length::from_mm(HELD_AT));
    let candidate = || {
        let cut = black_box(&tube)
            .trimmed(Length::from_mm(TIP_CUT), Length::from_mm(BUTT_CUT))
            .expect("something left");
        let third = third_length(&cut, &clamp).expect("a sound blank");
        let recovery = natural_frequency(&cut, &clamp).expect("a sound blank");
        (third, recovery, cut.weight())
    };
    let mut times: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let start = Instant::now();
            for _ in 0..PER_ROUND {
                black_box(candidate());
            }
            start.elapsed().as_secs_f64() / f64::from(PER_ROUND)
        })
        .collect();
    times.sort_by(f64::total_cmp);
    let (third, recovery, weight) = candidate();
    println!(
        "{{\"stations_mm\": {:?}, \"modulus_gpa\": {MODULUS:?}, \"density_kg_per_m3\": {DENSITY:?}, \
         \"tip_mm\": {TIP_CUT:?}, \"butt_mm\": {BUTT_CUT:?}, \"held_at_mm\": {HELD_AT:?}, \
         \"power_g\": {:?}, \"tip_angle_deg\": {:?}, \"bend_centre\": {:?}, \"recovery_hz\": {:?}, \
         \"weight_g\": {:?}, \"seconds\": {:?}}}",
        STATIONS.map(<[f64; 3]>::from),
        third.power.g(),
        third.tip_angle.deg(),
        third.bend_centre,
        recovery.hz(),
        weight.g(),
        times[0],
    );
}
