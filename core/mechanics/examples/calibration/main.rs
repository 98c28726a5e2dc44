//! The whole chain with hidden truth: blanks are simulated, read, calibrated and foretold trimmed, and the trimmed blank is compared with what was foretold.
//!
//! `cargo run --release -p taperbook-mechanics --example calibration -- [COUNT (400)] [SEED (1)] [table|clamps|misses]`
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
//! `clamps` tries what to take for granted of a clamp that nothing is known of, `misses` shows what the misses come from.
//! The same count and seed give the same output, whatever the number of cores.

mod blocks;
mod clamps;
mod misses;
mod shop;
mod tally;

use std::error::Error;
use std::io::{self, Write};

use taperbook_mechanics::fit::Errors;

use blocks::{Block, blocks};
use shop::{Job, Row, Scene};
use tally::{MEASURES, Strays, Tally, shoot};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let word = |idx: usize, usual: &'static str| arguments.get(idx).map_or(usual, String::as_str);
    let (count, seed, what) = (word(0, "400"), word(1, "1"), word(2, "table"));
    let count =
        count.parse().map_err(|_| format!("`{count}` is not a count: write one such as 400"))?;
    let seed = seed.parse().map_err(|_| format!("`{seed}` is not a seed: write a whole number"))?;
    let mut out = io::stdout().lock();
    match what {
        "table" => table(&mut out, count, seed)?,
        "clamps" => clamps::study(&mut out, count, seed)?,
        "misses" => misses::study(&mut out, count, seed)?,
        _ => return Err(format!("`{what}` is no study: write table, clamps or misses").into()),
    }
    Ok(())
}

fn table(out: &mut impl Write, count: usize, seed: u64) -> io::Result<()> {
    writeln!(
        out,
        "{count} blanks a block, seed {seed}. Errors: median / 95th percentile on the trimmed blank."
    )?;
    writeln!(
        out,
        "Then how often the 90 % range held the truth, in %, with its binomial standard error."
    )?;
    for block in blocks() {
        writeln!(out, "\n{}", block.name)?;
        write!(
            out,
            "{:19}{:>13}{:>13}{:>13} ",
            "readings", "power %", "tip angle °", "recovery %"
        )?;
        for heading in
            ["power", "angle", "recov.", "length", "tip od", "butt od", "weight", "centre"]
        {
            write!(out, "{heading:>8}")?;
        }
        writeln!(out)?;
        let jobs = jobs(&block.scene, count, seed);
        for row in Row::ALL {
            write_row(out, &block, row, &tally(&jobs, &block.errors, row, block.strays))?;
        }
        if jobs.len() < count {
            writeln!(out, "  {} of {count} blanks could not be read", count - jobs.len())?;
        }
    }
    Ok(())
}

fn write_row(out: &mut impl Write, block: &Block, row: Row, tally: &Tally) -> io::Result<()> {
    write!(out, "{:19}", row.words())?;
    for (measure, digits) in [(0, 1), (1, 2), (2, 1)] {
        let (median, most) = (tally.error(measure, 50), tally.error(measure, 95));
        write!(out, "{:>13}", format!("{median:.digits$} / {most:.digits$}"))?;
    }
    write!(out, " ")?;
    for measure in 0..MEASURES.len() {
        write!(out, "{:>8}", tally.covered(measure))?;
    }
    writeln!(out)?;
    if 0 < tally.n_missing() {
        writeln!(out, "{:19}{} numbers missing", "", tally.n_missing())?;
    }
    match tally.slips() {
        Some(slips) if block.scene.slips => writeln!(out, "{:19}{slips}", ""),
        _ => Ok(()),
    }
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
