//! Feeds the reader with spoiled records for a while: `cargo run --release -p taperbook-record --example fuzz -- 600 1`.
//!
//! The arguments are seconds and seed.
//! It prints what broke an invariant, the number of cases, and the slowest one; it ends with 1 when anything broke.
//! What it finds becomes a test in `tests/record/past_failures.rs`.

#![expect(clippy::print_stdout, reason = "an example prints")]

#[path = "../tests/record/invariants.rs"]
mod invariants;
#[path = "../tests/record/samples.rs"]
mod samples;

use std::panic::catch_unwind;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use samples::{ITEMS, PIECES, SAMPLES};

/// SplitMix64 (Steele, Lea and Flood 2014): enough to pick places with.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % (n.max(1) as u64)).unwrap_or(0)
    }

    fn pick<T: Copy>(&mut self, among: &[T]) -> T {
        among[self.below(among.len())]
    }
}

fn spoil(random: &mut Random, bytes: &mut Vec<u8>) {
    let len = bytes.len();
    let at = random.below(len + 1);
    let end = (at + random.below(30)).min(len);
    match random.below(10) {
        0..=3 => drop(bytes.splice(at..at, random.pick(&PIECES).bytes())),
        4 => drop(bytes.splice(at..end, random.pick(&PIECES).bytes())),
        5 => drop(bytes.drain(at..end)),
        6 => {
            let copy = bytes[at..end].to_vec();
            let to = random.below(len + 1);
            drop(bytes.splice(to..to, copy));
        }
        7 => {
            let other = random.pick(&SAMPLES).1.as_bytes();
            let start = random.below(other.len());
            let stop = (start + random.below(80)).min(other.len());
            drop(bytes.splice(at..at, other[start..stop].iter().copied()));
        }
        8 => {
            let piece = random.pick(&PIECES).repeat(1 << random.below(11));
            drop(bytes.splice(at..at, piece.bytes()));
        }
        _ => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = u8::try_from(random.below(256)).unwrap_or(0);
            }
        }
    }
}

fn case(random: &mut Random) -> (&'static str, Vec<u8>) {
    let (path, text) = random.pick(&SAMPLES);
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..random.below(9) {
        spoil(random, &mut bytes);
    }
    (path, bytes)
}

fn try_case(path: &str, bytes: &[u8], item: &str) -> Result<bool, String> {
    let outcome = catch_unwind(|| {
        invariants::check_read(path, bytes)?;
        match std::str::from_utf8(bytes) {
            Ok(text) => {
                invariants::check_append(path, text, item).map(|insertion| insertion.is_some())
            }
            Err(_) => Ok(false),
        }
    });
    outcome.unwrap_or_else(|_| Err("panicked".to_owned()))
}

/// Times a reading; a slow one is timed again, since the machine has other things to do.
fn fastest_of_three(path: &str, bytes: &[u8], slow: Duration) -> Duration {
    let time = || {
        let begun = Instant::now();
        let _ = catch_unwind(|| taperbook_record::read(path, bytes));
        begun.elapsed()
    };
    let first = time();
    if first <= slow { first } else { first.min(time()).min(time()) }
}

fn main() -> ExitCode {
    let mut numbers = std::env::args().skip(1).filter_map(|argument| argument.parse::<u64>().ok());
    let seconds = Duration::from_secs(numbers.next().unwrap_or(60));
    let mut random = Random(numbers.next().unwrap_or(1));
    let start = Instant::now();
    let (mut cases, mut appended, mut failures) = (0_u64, 0_u64, 0_u64);
    let mut slowest = (Duration::ZERO, String::new());
    while start.elapsed() < seconds && failures < 20 {
        let (path, bytes) = case(&mut random);
        let item = random.pick(&ITEMS);
        match try_case(path, &bytes, item) {
            Ok(true) => appended += 1,
            Ok(false) => {}
            Err(message) => {
                failures += 1;
                println!(
                    "{path} with {item:?}: {message}\n{:?}\n",
                    String::from_utf8_lossy(&bytes)
                );
            }
        }
        let took = fastest_of_three(path, &bytes, slowest.0);
        if slowest.0 < took {
            slowest = (took, String::from_utf8_lossy(&bytes).into_owned());
        }
        cases += 1;
    }
    println!(
        "{cases} cases, {appended} items appended, {failures} failures; slowest {:?}: {:?}",
        slowest.0, slowest.1
    );
    if failures == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
