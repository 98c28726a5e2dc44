//! The whole chain with hidden truth: blanks are simulated, read, calibrated and foretold trimmed, and the trimmed blank is compared with what was foretold.
//!
//! `cargo run --release -p taperbook-mechanics --example calibration -- [COUNT (400)] [SEED (1)] [table|history|clamps|misses]`
//!
//! The simulator is the test kit's, and shares nothing with the fitter but the units:
//!
//! | | fitter | simulator |
//! | --- | --- | --- |
//! | diameter | straight between caliper stations | one smooth compound taper with a swelled butt |
//! | wall | straight between stations, linear corrections | wrap steps rounded over some 2 cm |
//! | modulus | a trend and seven knots | a trend and a wave |
//! | what is hidden | in the knots' prior alone | a stretch of reinforcement, a blend at the splice, a joint of nearly two walls with round ends |
//! | bending | 32–48 elements, Newton on the energy | Runge–Kutta shooting from the tip, 480 steps |
//! | frequency | Hermite elements | shooting, the zero of a determinant |
//! | clamp | tilt and give, to be found | tilt and give, hidden |
//! | errors of reading | the standard deviations of `Errors` | the same, drawn; the saw is off by 0.3 mm, which `Errors` lacks |
//!
//! A blank is of any of the test kit's styles, held at 9 in.
//! Its card has five to eight calipers, the wall at the butt only, and no modulus or density.
//! It loses 2–10 % of its length at the tip and 0–12 % at the butt.
//! True is what it then gives in a level clamp that does not yield.
//!
//! `table` gives, for each block of conditions and each row of readings, the median and the 95th percentile of the error, and how often the 90 % range held the truth.
//! `history` gives the same for a piece of a model that was cut before, with the lessons of past pieces.
//! `clamps` tries what to take for granted of a clamp that nothing is known of, `misses` shows what the misses come from.
//! The same count and seed give the same output, whatever the number of cores.

mod blocks;
mod clamps;
mod history;
mod misses;
mod shop;
mod table;
mod tally;

use std::error::Error;
use std::io;
use std::num::NonZeroUsize;

use taperbook_mechanics::fit::Errors;

use shop::{Job, Row, Scene};
use tally::{Strays, Tally, shoot};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if 3 < arguments.len() {
        return Err("write: calibration [COUNT] [SEED] [table|history|clamps|misses]".into());
    }
    let word = |idx: usize, usual: &'static str| arguments.get(idx).map_or(usual, String::as_str);
    let (count, seed, what) = (word(0, "400"), word(1, "1"), word(2, "table"));
    let count: NonZeroUsize =
        count.parse().map_err(|_| format!("`{count}` is not a count: write one such as 400"))?;
    let count = count.get();
    let seed = seed.parse().map_err(|_| format!("`{seed}` is not a seed: write a whole number"))?;
    let mut out = io::stdout().lock();
    match what {
        "table" => table::write(&mut out, count, seed)?,
        "history" => history::study(&mut out, count, seed)?,
        "clamps" => clamps::study(&mut out, count, seed)?,
        "misses" => misses::study(&mut out, count, seed)?,
        _ => {
            return Err(
                format!("`{what}` is no study: write table, history, clamps or misses").into()
            );
        }
    }
    Ok(())
}

/// Simulates the blanks of a scene; those that can't be read are left out.
fn jobs(scene: &Scene, count: usize, seed: u64) -> Vec<Job> {
    let numbers: Vec<usize> = (0..count).collect();
    let simulated = each(&numbers, |&number| Job::simulate(scene, seed, number).ok());
    simulated.into_iter().flatten().collect()
}

/// Fits all jobs from the readings of a row.
fn tally(jobs: &[Job], errors: &Errors, row: Row, strays: Strays) -> Tally {
    Tally::of(each(jobs, |job| shoot(job, errors, row, strays)))
}

/// Maps a list on all cores, in order.
fn each<In: Sync, Out: Send>(list: &[In], map: impl Fn(&In) -> Out + Sync) -> Vec<Out> {
    let n_cores = std::thread::available_parallelism().map_or(1, usize::from);
    let share = list.len().div_ceil(n_cores).max(1);
    std::thread::scope(|scope| {
        let workers: Vec<_> = list
            .chunks(share)
            .map(|chunk| scope.spawn(|| chunk.iter().map(&map).collect::<Vec<Out>>()))
            .collect();
        let done = workers.into_iter().flat_map(|worker| match worker.join() {
            Ok(done) => done,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        done.collect()
    })
}
