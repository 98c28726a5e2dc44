//! The table, printed row by row.

use std::fmt::Write as _;
use std::ops::Range;
use std::path::Path;
use std::time::Duration;

use taperbook_testkit::shop::Job;

use crate::rows::Row;

pub(crate) fn head(seeds: &Range<u64>) {
    println!(
        "{} jobs a row, seeds {} to {}\n",
        seeds.end - seeds.start,
        seeds.start,
        seeds.end - 1
    );
    println!(
        "| limits | who decides | past builds | over-cut | inside | stopped | cuts | ends sawn | readings | power in range, first and last | \
         length in range | power at the end, 5, 50, 95 % of jobs | before any power, over the pieces' spread | s |"
    );
    println!(
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    );
}

pub(crate) fn row(row: &Row, jobs: &[Job], took: Duration) {
    let n = jobs.len() as f64;
    let part =
        |of: &dyn Fn(&Job) -> bool| 100.0 * jobs.iter().filter(|job| of(job)).count() as f64 / n;
    let mean = |of: fn(&Job) -> usize| jobs.iter().map(of).sum::<usize>() as f64 / n;
    let mut line = format!("| {} | {}", row.name(), jobs.iter().filter(|job| job.over_cut).count());
    let _ = write!(
        line,
        " | {:.1} % | {:.1} % | {:.2} | {:.2} | {:.1}",
        part(&|job| job.inside),
        part(&|job| job.ended),
        mean(|job| job.n_cuts),
        mean(|job| job.n_sawn),
        mean(|job| job.n_readings)
    );
    let in_range = |pick: fn(&Job) -> Option<bool>| {
        let held: Vec<bool> = jobs.iter().filter_map(pick).collect();
        let n_held = held.iter().filter(|held| **held).count();
        match held.len() {
            0 => "–".to_owned(),
            n => format!("{:.0} %", 100.0 * n_held as f64 / n as f64),
        }
    };
    let _ = write!(
        line,
        " | {}, {} | {}",
        in_range(|job| job.foretold.first().map(|foretold| foretold.power_in_range)),
        in_range(|job| job.foretold.last().map(|foretold| foretold.power_in_range)),
        in_range(|job| job.foretold.last().map(|foretold| foretold.length_in_range))
    );
    let mut misses: Vec<f64> = jobs.iter().map(|job| 100.0 * job.power_miss).collect();
    misses.sort_by(f64::total_cmp);
    let at = |p: usize| misses[(misses.len() - 1) * p / 100];
    let _ = write!(line, " | {:+.1} {:+.1} {:+.1} %", at(5), at(50), at(95));
    let square = |of: usize| {
        let all: Vec<f64> =
            jobs.iter().filter_map(|job| job.before_power).map(|both| both[of]).collect();
        (all.iter().map(|off| off * off).sum::<f64>() / all.len() as f64).sqrt()
    };
    let before = square(0) / square(1);
    let before = if before.is_finite() { format!("{before:.2}") } else { "–".to_owned() };
    println!("{line} | {before} | {:.0} |", took.as_secs_f64());
}

/// Writes each job's record and how it went, to be looked at.
pub(crate) fn keep_records(folder: &str, row: &Row, from: u64, jobs: &[Job]) {
    let name = row.name().replace(" | ", "_").replace([' ', ','], "-");
    for (seed, job) in (from..).zip(jobs) {
        let text = format!(
            "over-cut {} inside {} ended {} cuts {} power {:+.2} % length {:+.1} mm\n{}\n{:#?}\n{:#?}\n",
            job.over_cut,
            job.inside,
            job.ended,
            job.n_cuts,
            100.0 * job.power_miss,
            job.length_miss.mm(),
            job.record,
            job.last,
            job.foretold
        );
        let path = Path::new(folder).join(format!("{name}-{seed}.txt"));
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }
}
