//! What to hold a shop against that asks: two simple rules of the bench, and a decider that knows more than any shop can.

use taperbook_units::{Length, Mass, STANDARD_GRAVITY};

use super::builder::{level_error, turn_error};
use super::stage::Stage;
use super::{Advice, Adviser, HELD_AT, Job, Setting, judge};
use crate::beam::Clamp;
use crate::bench::{Bench, Instruments};
use crate::piece::Piece;

const NONE: Length = Length::from_mm(0.0);

/// Half an inch at a time until it reads right: off the tip until the power is inside, then off the butt until the length is.
///
/// # Panics
/// As [`super::job`].
pub fn half_an_inch(setting: Setting, seed: u64) -> Job {
    let half = Length::from_inches(0.5);
    let Stage { mut bench, mut piece, wanted, .. } = Stage::new(setting, seed);
    let mut job = Job { ended: true, ..Job::default() };
    while read_power(&mut bench, &piece, &mut job) < wanted.least_power()
        && wanted.shortest() <= bench.read_length(&piece) - half
    {
        bench.cut(&mut piece, half, NONE);
        job.n_cuts += 1;
        job.n_sawn += 1;
    }
    while wanted.longest() < bench.read_length(&piece) {
        bench.cut(&mut piece, NONE, half);
        job.n_cuts += 1;
        job.n_sawn += 1;
    }
    super::judge(&mut job, &piece, &wanted);
    job
}

/// Straight to the computed length: calibrates with the first readings, then cuts all that is computed to be needed, at once.
///
/// # Panics
/// As [`super::job`].
pub fn straight(setting: Setting, seed: u64, adviser: &mut dyn Adviser) -> Job {
    let mut builder = super::Builder::start(Stage::new(setting, seed), adviser);
    let mut job = Job { ended: true, ..Job::default() };
    builder.read_power(adviser);
    let Advice { remaining: [tip, butt], .. } = builder.ask(adviser);
    let [tip, butt] = [tip, butt].map(Length::from_mm);
    if NONE < tip + butt {
        builder.cut(tip, butt, adviser);
    }
    builder.finish(&mut job);
    job
}

/// What a perfect decider reaches with the instruments of the shop, so that it is known what no advice can better.
///
/// It knows the truth of the piece but for its stiffness as a whole, of which it knows nothing but what it reads: power six times, and
/// every slip is noticed and left out.
/// It knows how boards and clamps differ, and `is_measured` says whether it has measured its own. It cuts once, to where it thinks the aim is, with a saw.
///
/// # Panics
/// As [`super::job`].
pub fn bound(setting: Setting, seed: u64, is_measured: bool) -> Job {
    const N_READINGS: u32 = 6;
    let Stage { mut bench, mut piece, wanted, .. } = Stage::new(setting, seed);
    let mut job = Job { ended: true, ..Job::default() };
    // The middle of what clamps are.
    let mut thought = Clamp { raised: 0.0, give: 0.0015 };
    if is_measured {
        thought.raised = bench.read_tilt(level_error()).rad();
        thought.give = bench.read_give(turn_error()).rad() / STANDARD_GRAVITY;
    }
    let ideal = piece.beam(HELD_AT).and_then(|beam| beam.third_length(Clamp::default()));
    let expected = piece.beam(HELD_AT).and_then(|beam| beam.third_length(thought));
    let (Ok(ideal), Ok(expected)) = (ideal, expected) else { return job };
    let true_power = judge::power(&piece);
    bench.instruments = Instruments { slip_chance: 0.0, ..bench.instruments };
    let read: f64 = (0..N_READINGS).map(|_| read_power(&mut bench, &piece, &mut job).kg()).sum();
    // How much stiffer than in truth it takes the piece to be.
    let stiffer = read / f64::from(N_READINGS) / (true_power.kg() * expected.load / ideal.load);
    let total = piece.length() - wanted.length;
    let tip = tip_cut(&piece, total, wanted.power * (1.0 / stiffer));
    bench.cut(&mut piece, tip, total - tip);
    job.n_cuts = 1;
    job.n_sawn = [tip, total - tip].iter().filter(|cut| NONE < **cut).count();
    super::judge(&mut job, &piece, &wanted);
    job
}

/// The part of a cut that must come off the tip for a power, by the piece's truth.
fn tip_cut(piece: &Piece, total: Length, power: Mass) -> Length {
    let (mut low, mut high) = (NONE, total);
    while Length::from_mm(0.2) < high - low {
        let middle = (low + high) / 2.0;
        if judge::power(&piece.after(middle, total - middle)) < power {
            low = middle
        } else {
            high = middle
        }
    }
    (low + high) / 2.0
}

fn read_power(bench: &mut Bench, piece: &Piece, job: &mut Job) -> Mass {
    job.n_readings += 1;
    bench.read_power(piece, HELD_AT).expect("every blank of the shop can be bent")
}
