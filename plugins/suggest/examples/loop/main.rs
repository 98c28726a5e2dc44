//! The simulated shop as a table: `cargo run --release -p taperbook-suggest --example loop -- JOBS [ROWS...] [--from SEED] [--through PROGRAM]`.
//!
//! Each row is as many whole jobs with a hidden truth (`taperbook_testkit::shop`).
//! Each of `ROWS` is a part of a row's name, such as `narrow`, to have only rows with all of these, or with a `-` before it a part that
//! they must not have: `-- 1000 -hasty -extra --from 1000000` is the table of DEVELOPERS.md on seeds that nothing was chosen on.
//! Rows are printed as soon as they are done, each worked out on all cores.
//! The jobs have the seeds from `SEED` on, 0 if nothing is said: other blanks, other errors.
//! With `--through target/release/taperbook` every question is also put to the real program on a real folder, and the example stops where
//! its answer is another than the one in process.

#![expect(clippy::print_stdout, reason = "its table is what it is for")]
#![expect(clippy::disallowed_methods, reason = "it measures and writes real files")]

#[path = "../../tests/suggest/adviser.rs"]
mod adviser;
mod rows;
mod table;
mod through;

use std::path::PathBuf;

use adviser::InProcess;
use rayon::prelude::*;
use rows::{Row, Who, rows};
use taperbook_testkit::shop::{Adviser, Job, job, rules};
use through::Through;

fn main() {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut option = |name: &str| {
        let place = arguments.iter().position(|argument| argument == name)?;
        arguments.remove(place);
        Some(arguments.remove(place))
    };
    let through = option("--through").map(PathBuf::from);
    let from: u64 = option("--from").map_or(0, |seed| seed.parse().expect("a seed is a number"));
    let n_jobs: u64 = arguments.first().and_then(|n| n.parse().ok()).unwrap_or(50);
    let is_wanted = |row: &Row| {
        let name = row.name();
        arguments.iter().skip(1).all(|part| match part.strip_prefix('-') {
            Some(unwanted) => !name.contains(unwanted),
            None => name.contains(part.as_str()),
        })
    };
    let seeds = from..from + n_jobs;
    table::head(&seeds);
    for row in rows().into_iter().filter(is_wanted) {
        let started = std::time::Instant::now();
        let jobs: Vec<Job> = match &through {
            // The program takes both cores by itself.
            Some(program) => {
                seeds.clone().map(|seed| one(&row, seed, &mut Through::new(program))).collect()
            }
            None => seeds
                .clone()
                .into_par_iter()
                .map(|seed| one(&row, seed, &mut InProcess::default()))
                .collect(),
        };
        table::row(&row, &jobs, started.elapsed());
        if let Ok(folder) = std::env::var("LOOP_RECORDS") {
            table::keep_records(&folder, &row, from, &jobs);
        }
    }
}

fn one(row: &Row, seed: u64, adviser: &mut dyn Adviser) -> Job {
    match row.who {
        Who::Asks => job(row.setting, seed, adviser),
        Who::HalfAnInch => rules::half_an_inch(row.setting, seed),
        Who::Straight => rules::straight(row.setting, seed, adviser),
        Who::KnowsTheBlank { is_measured } => rules::bound(row.setting, seed, is_measured),
    }
}
