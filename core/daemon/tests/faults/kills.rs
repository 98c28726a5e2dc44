//! Kills at any moment: under load, while it starts, while it commits, while it looks at everything.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use crate::child::Child;
use crate::fixture::Fixture;
use crate::promise::{self, CARD, text};

/// Random numbers of Marsaglia's xorshift64 ("Xorshift RNGs", J. Stat. Software 8(14), 2003).
fn next(state: &mut u64) -> u64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    *state
}

/// Kills a daemon so many times while two writers never rest, and checks all that is left now and then.
fn kill_under_load(seed: u64, n_kills: u64, between_checks: u64) {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    let mut random = seed;
    for round in 0..n_kills {
        let is_over = AtomicBool::new(false);
        std::thread::scope(|scope| {
            for writer in 0..2 {
                let (fixture, is_over) = (&fixture, &is_over);
                let mut random = next(&mut random) | 1;
                scope.spawn(move || {
                    while !is_over.load(Ordering::SeqCst) {
                        let number = next(&mut random);
                        let path = format!("{writer}/{}.md", number % 25);
                        match number >> 8 & 7 {
                            0 => drop(std::fs::remove_file(fixture.path(&path))),
                            _ => fixture.write(&path, &text(number >> 16 & 255)),
                        }
                        std::thread::sleep(Duration::from_micros(number >> 24 & 2047));
                    }
                });
            }
            let child = Child::start(&fixture);
            // The moment is random; nothing is waited for.
            std::thread::sleep(Duration::from_micros(next(&mut random) % 60_000));
            child.kill();
            is_over.store(true, Ordering::SeqCst);
        });
        if (round + 1) % between_checks == 0 {
            // By turns without and with the next daemon.
            let daemon = (round / between_checks % 2 == 1).then(|| fixture.watch());
            promise::check(&fixture);
            drop(daemon);
        }
    }
}

#[test]
fn killed_a_hundred_times_under_load() {
    kill_under_load(0x1234_5678_9ABC_DEF1, 100, 10);
}

#[test]
fn killed_a_hundred_times_more() {
    kill_under_load(0xFEDC_BA98_7654_3211, 100, 10);
}

#[test]
fn after_a_kill_only_what_differs_is_taken_in_again() {
    let fixture = Fixture::new();
    for number in 0..40 {
        fixture.write(&format!("{number}.md"), &text(number));
    }
    let child = Child::start(&fixture);
    assert_eq!(fixture.find("").total, 40);
    // The manifest is written now and then, and these commits follow each other too closely for that.
    for round in 0..5 {
        fixture.write("log.md", &format!("round{round}\n"));
        assert_eq!(fixture.ids(&format!("round{round}")), ["log"]);
    }
    child.kill();
    let left = taperbook_daemon::status(&fixture.shop, false).unwrap();
    assert_eq!(left.records, 41, "the index has what was committed");
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let then = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!(then.generation, left.generation, "nothing had to be taken in");
    drop(daemon);

    let child = Child::start(&fixture);
    assert_eq!(fixture.find("").total, 41);
    child.kill();
    fixture.write("log.md", "after the kill\n");
    assert_eq!(fixture.ids("\"after the kill\""), ["log"]);
    let then = taperbook_daemon::status(&fixture.shop, false).unwrap();
    assert_eq!(then.generation, left.generation + 1, "one commit, on top of those before");
    promise::check(&fixture);
}
