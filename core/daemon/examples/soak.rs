//! Random edits by several writers with random faults between, and what must hold after each checked.
//!
//! `cargo run --release -p taperbook-daemon --example soak -- SECONDS SEED`
//!
//! It begins with a checkout that changes 20,000 files at once. Then writers save, move and delete in every way they
//! know while questions are asked without a pause, and every second or so the daemon is killed, halted, stopped, its
//! index damaged, its state moved or deleted, its disk filled. Every few seconds the writers rest, and the promise is
//! checked: the texts of the index are those of the folder, all answers are those of an index made beside it, and
//! nothing in the folder was touched. The seed decides what is done; who comes first is decided by the machine, so a
//! failure may take several runs to come again. It ends with a line of figures, or with what did not hold.
#![expect(clippy::print_stdout, reason = "printing is all that this example does")]

#[path = "../tests/child.rs"]
#[expect(dead_code, reason = "the tests use more of it")]
mod child;
#[path = "soak/faults.rs"]
mod faults;
#[path = "../tests/fixture.rs"]
#[expect(dead_code, reason = "the tests use more of it")]
mod fixture;
#[path = "../tests/promise.rs"]
mod promise;
#[path = "soak/writers.rs"]
mod writers;

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError, RwLock};
use std::time::{Duration, Instant};

use taperbook_engine::{Answer, Request};

use crate::faults::Faults;
use crate::fixture::{Fixture, eventually};
use crate::writers::Random;

/// How many writers there are.
const N_WRITERS: u64 = 3;
/// So many faults happen between two checks.
const FAULTS_A_CHECK: u64 = 4;

fn main() {
    if child::be_the_daemon() {
        return;
    }
    let mut wishes = std::env::args().skip(1).map(|wish| wish.parse::<u64>().ok());
    let (Some(seconds), Some(seed)) =
        (wishes.next().unwrap_or(Some(60)), wishes.next().unwrap_or(Some(1)))
    else {
        println!("usage: soak SECONDS SEED, both whole numbers");
        std::process::exit(2);
    };
    println!("soak: {seconds} s, seed {seed}");
    check_out(20_000);
    let until = Instant::now() + Duration::from_secs(seconds);
    let soaked = Soak::new().run(until, Random::new(seed));
    println!("soak: {soaked}: all held");
}

/// What a panic said.
fn words(panic: &(dyn std::any::Any + Send)) -> &str {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("it is not said what")
}

/// Changes many files at once under a daemon, and checks.
fn check_out(n_files: u64) {
    let begun = Instant::now();
    let fixture = Fixture::with(Vec::new);
    let write_all = |revision: u64| {
        for number in 0..n_files {
            let path = format!("{}/{}/{number}.md", number % 7, number % 31);
            let _ = std::fs::remove_file(fixture.path(&path));
            if !(number + revision).is_multiple_of(10) {
                fixture.write(&path, &promise::text(number + revision));
            }
        }
    };
    write_all(0);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let ready = begun.elapsed();
    write_all(1);
    let written = Instant::now();
    // On a slow machine a question may give up before; what it may not do is give less than all.
    let n_found = eventually("an answer", || {
        match fixture.ask(&Request::Find { query: String::new(), limit: 1 }) {
            Ok(Answer::Find(found)) => Some(found.total as u64),
            Ok(other) => panic!("{other:?}"),
            Err(_) => None,
        }
    });
    assert_eq!(n_found, n_files - n_files / 10);
    let asked = written.elapsed();
    promise::check(&fixture);
    println!(
        "checkout: {n_files} files, ready after {:.1} s, answered {:.1} s after the last one changed",
        ready.as_secs_f64(),
        asked.as_secs_f64()
    );
}

/// What the threads share.
struct Soak {
    fixture: Fixture,
    /// Held by each writer for one edit, and by the check for as long as the folder must rest.
    rest: RwLock<()>,
    is_over: AtomicBool,
    n_edits: AtomicU64,
    n_answers: AtomicU64,
    /// How often there was no answer, by the reason.
    refused: Mutex<BTreeMap<String, u64>>,
}

impl Soak {
    fn new() -> Self {
        let fixture = Fixture::new();
        fixture.write("blanks/heron.md", promise::CARD);
        let zero = || AtomicU64::new(0);
        let (n_edits, n_answers, refused) = (zero(), zero(), Mutex::default());
        let (rest, is_over) = (RwLock::new(()), AtomicBool::new(false));
        Self { fixture, rest, is_over, n_edits, n_answers, refused }
    }

    fn run(&self, until: Instant, mut random: Random) -> String {
        let mut n_checks = 0;
        let mut faults = Faults::new(&self.fixture);
        let failed = std::thread::scope(|scope| {
            for writer in 0..N_WRITERS {
                let random = random.another();
                scope.spawn(move || self.write(writer, random));
            }
            let mut asking = random.another();
            scope.spawn(move || self.ask(&mut asking));
            // A panic here must end the others, or it would never be seen.
            let checked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                while Instant::now() < until {
                    for _ in 0..FAULTS_A_CHECK {
                        std::thread::sleep(Duration::from_millis(100 + random.below(900)));
                        faults.happen(&mut random);
                    }
                    let rest = self.rest.write();
                    faults.mend();
                    promise::check_answers(&self.fixture);
                    if random.below(3) == 0 {
                        faults.end_daemon();
                        promise::check(&self.fixture);
                        faults.begin_daemon();
                    }
                    drop(rest);
                    n_checks += 1;
                }
            }));
            self.is_over.store(true, Ordering::SeqCst);
            checked.err()
        });
        if let Some(panic) = failed {
            println!("{}", faults.scene());
            println!("after {}, the last fault {:?}", self.figures(), faults.last());
            // What did not hold comes last, where it is looked for.
            println!("soak: did not hold: {}", words(&*panic));
            drop(faults);
            std::process::exit(1);
        }
        faults.mend();
        faults.end_daemon();
        promise::check(&self.fixture);
        format!("{}, {} faults, {n_checks} checks", self.figures(), faults.count())
    }

    fn figures(&self) -> String {
        let [edits, answers] =
            [&self.n_edits, &self.n_answers].map(|number| number.load(Ordering::SeqCst));
        let refused = self.refused.lock().unwrap_or_else(PoisonError::into_inner);
        format!("{edits} edits, {answers} answers, no answer for these reasons: {refused:?}")
    }

    fn write(&self, writer: u64, mut random: Random) {
        while !self.is_over.load(Ordering::SeqCst) {
            let rest = self.rest.read();
            writers::edit(&self.fixture, writer, &mut random);
            drop(rest);
            self.n_edits.fetch_add(1, Ordering::SeqCst);
            std::thread::sleep(Duration::from_millis(random.below(20)));
        }
    }

    /// Asks without a pause; a question has an answer, or a reason why there is none.
    fn ask(&self, random: &mut Random) {
        let queries = ["", "whipping", "kind:build", "title:cracked", "notes>=3", "no such:thing"];
        while !self.is_over.load(Ordering::SeqCst) {
            let query = (*random.pick(&queries)).to_owned();
            match self.fixture.ask(&Request::Find { query, limit: 5 }) {
                Ok(Answer::Find(_) | Answer::Refused(_)) => {
                    self.n_answers.fetch_add(1, Ordering::SeqCst);
                }
                Ok(other) => panic!("{other:?}"),
                Err(error) => {
                    let mut refused = self.refused.lock().unwrap_or_else(PoisonError::into_inner);
                    // Without the quoted paths, which are others in each run.
                    let why = error.to_string().split('`').step_by(2).collect::<String>();
                    *refused.entry(why).or_default() += 1;
                    drop(refused);
                    // Whoever gets no answer asks again in a moment.
                    std::thread::sleep(Duration::from_millis(10));
                }
            }
        }
    }
}
