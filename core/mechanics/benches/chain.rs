//! How long calibration takes on a simulated blank, from ten readings to the ranges of one candidate: `cargo bench -p taperbook-mechanics --bench chain`.
//!
//! These figures are read by people; nothing is asserted of them.
//! The solves by themselves are timed in `solve`.

use divan::{Bencher, black_box};
use taperbook_mechanics::fit::{
    Caliper, Card, Errors, Fibre, Measured, Posterior, Prior, Reading, Setup, fit,
};
use taperbook_testkit::beam::Clamp;
use taperbook_testkit::bench::{Bench, Instruments};
use taperbook_testkit::piece::Piece;
use taperbook_testkit::rng::Rng;
use taperbook_testkit::style::Style;
use taperbook_testkit::truth::Truth;
use taperbook_units::Length;

fn main() {
    divan::main();
}

const NONE: Length = Length::from_m(0.0);
const HELD_AT: Length = Length::from_inches(9.0);
/// What comes off the tip before each of the three rounds of readings.
const STEP: Length = Length::from_mm(15.0);

/// What a shop knows of one blank: its card, and three rounds of power, tip angle and weight with the cuts in between, then a tapped frequency.
fn shop() -> (Prior, Vec<Reading>) {
    let mut rng = Rng::new(11);
    let mut piece = Piece::uncut(Truth::random(&mut rng, Style::Medium));
    let clamp = Clamp::random(&mut rng);
    let mut bench = Bench::new(clamp, Instruments::default(), rng);
    let card = card(&mut bench, &piece);
    let prior = Prior::from_card(&card, &Errors::default()).expect("a sound card");
    let mut readings = Vec::new();
    for _ in 0..3 {
        let power = bench.read_power(&piece, HELD_AT).expect("it can be read");
        let angle = bench.read_tip_angle(&piece, HELD_AT).expect("it can be read");
        let weight = bench.read_weight(&piece);
        readings.push(reading(&piece, Measured::Power(power)));
        readings.push(reading(&piece, Measured::TipAngle(angle)));
        readings.push(reading(&piece, Measured::Weight(weight)));
        bench.cut(&mut piece, STEP, NONE);
    }
    let frequency = bench.read_frequency(&piece, HELD_AT).expect("it can be read");
    readings.push(reading(&piece, Measured::Frequency(frequency)));
    (prior, readings)
}

fn card(bench: &mut Bench, piece: &Piece) -> Card {
    let calipers = [0.0, 0.25, 0.5, 0.75, 1.0].map(|part| {
        let at = piece.length() * part;
        let wall = (at == NONE).then(|| bench.read_wall(piece, at));
        Caliper { at, od: bench.read_od(piece, at), wall, own: true }
    });
    Card {
        length: piece.length(),
        length_sd: Some(bench.instruments.tape),
        calipers: calipers.to_vec(),
        modulus: None,
        density: None,
        fibre: Fibre::Carbon,
        solid_tip: false,
        joints: Vec::new(),
    }
}

fn reading(piece: &Piece, measured: Measured) -> Reading {
    let Piece { tip_cut, butt_cut, .. } = *piece;
    Reading { tip_cut, butt_cut, held_at: HELD_AT, setup: Setup::default(), measured, sd: None }
}

fn fitted() -> Posterior {
    let (prior, readings) = shop();
    fit(&prior, &readings).expect("a sound fit")
}

#[divan::bench]
fn fit_with_ten_readings(bencher: Bencher) {
    let (prior, readings) = shop();
    bencher.bench(|| fit(black_box(&prior), &readings));
}

#[divan::bench]
fn ranges_of_one_candidate(bencher: Bencher) {
    let posterior = fitted();
    bencher.bench(|| black_box(&posterior).outcome(STEP * 4.0, STEP, HELD_AT));
}
