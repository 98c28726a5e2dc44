//! Whole jobs on the simulated bench, as a table: `cargo run --release -p taperbook-suggest --example loop -- JOBS`.
//!
//! A job is over-cut when, by its hidden truth, no further cut brings it inside its limits. One power reading in twenty
//! is wrong by 15 %.

#![expect(clippy::print_stdout, reason = "its table is what it is for")]

#[path = "../tests/suggest/job.rs"]
mod job;
#[path = "../tests/suggest/shop.rs"]
mod shop;

use job::{Job, Setting, job};
use taperbook_units::Length;

fn main() {
    let n_jobs: u64 = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(50);
    let wide = Setting {
        n_past: 0,
        board_once: false,
        levelled: false,
        reads_all: true,
        length: Length::from_mm(15.0),
        power: 0.06,
        slips: true,
    };
    let narrow = Setting { length: Length::from_mm(8.0), power: 0.03, ..wide };
    println!("{n_jobs} jobs a row\n");
    println!(
        "| limits | past builds | reads | over-cut | inside | ended | cuts | asked | power miss, 90 % of jobs | in range |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (limits, setting) in [("wide", wide), ("narrow", narrow)] {
        for (n_past, board_once, levelled) in [
            (0, false, false),
            (3, false, false),
            (10, false, false),
            (10, true, false),
            (10, false, true),
        ] {
            for reads_all in [true, false] {
                let setting = Setting { n_past, board_once, levelled, reads_all, ..setting };
                let jobs: Vec<Job> = (0..n_jobs).map(|seed| job(setting, seed)).collect();
                row(limits, setting, &jobs);
            }
        }
    }
}

fn row(limits: &str, setting: Setting, jobs: &[Job]) {
    let n = jobs.len() as f64;
    let count = |of: fn(&Job) -> bool| jobs.iter().filter(|job| of(job)).count();
    let mean = |of: fn(&Job) -> usize| jobs.iter().map(of).sum::<usize>() as f64 / n;
    let mut misses: Vec<f64> = jobs.iter().map(|job| 100.0 * job.power_miss).collect();
    misses.sort_by(f64::total_cmp);
    let part = |p: usize| misses[(misses.len() - 1) * p / 100];
    println!(
        "| {limits} | {}{} | {} | {} | {:.0} % | {} | {:.2} | {:.2} | {:+.1} … {:+.1} … {:+.1} % | {:.0} % |",
        setting.n_past,
        match (setting.board_once, setting.levelled) {
            (true, _) => ", one on the board",
            (_, true) => ", clamp levelled",
            _ => "",
        },
        if setting.reads_all { "what is asked" } else { "power alone" },
        count(|job| job.over_cut),
        100.0 * count(|job| job.inside) as f64 / n,
        count(|job| job.ended),
        mean(|job| job.n_cuts),
        mean(|job| job.n_asked),
        part(5),
        part(50),
        part(95),
        // A range holds nine in ten, so that many standard deviations are its ends.
        100.0 * count(|job| job.z.abs() < 1.645) as f64 / n,
    );
}
