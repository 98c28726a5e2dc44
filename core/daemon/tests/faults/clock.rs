//! Files from the future, and a clock that is set back a day under the daemon.

use std::fs::{self, File};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, SystemTime};

use super::skip;
use crate::child::Child;
use crate::fixture::Fixture;
use crate::promise::{self, text};

const DAY: Duration = Duration::from_secs(86_400);

#[test]
fn files_from_the_future_are_believed_for_what_they_hold() {
    let fixture = Fixture::new();
    let set_ahead = |path: &str| {
        let file = File::options().write(true).open(fixture.path(path)).unwrap();
        file.set_modified(SystemTime::now() + DAY).unwrap();
    };
    for number in 0..10 {
        fixture.write(&format!("{number}.md"), "cut 1 in\n");
        set_ahead(&format!("{number}.md"));
    }
    promise::check_answers(&fixture);
    // The same size and a time of that day again, by turns without and with a daemon.
    for round in 2..5 {
        let daemon = (round % 2 == 0).then(|| fixture.watch());
        for number in 0..10 {
            fixture.write(&format!("{number}.md"), &format!("cut {round} in\n"));
            set_ahead(&format!("{number}.md"));
        }
        assert_eq!(fixture.find(&format!("\"cut {round} in\"")).total, 10);
        promise::check_answers(&fixture);
        drop(daemon);
    }
    promise::check(&fixture);
}

/// The library that gives a process another clock than the machine's, where it is installed.
fn other_clock() -> Option<String> {
    let places = fs::read_dir("/usr/lib").ok()?.flatten();
    let mut found = places.map(|place| place.path().join("faketime/libfaketimeMT.so.1"));
    found.find(|path| Path::exists(path)).map(|path| path.display().to_string())
}

#[test]
fn the_clock_is_set_back_a_day_and_forth_again() {
    let Some(library) = other_clock() else {
        return skip("no library to give a process another clock (Debian: `faketime`)");
    };
    let fixture = Fixture::new();
    fixture.write("log.md", &text(1));
    let offset = fixture.home.path().join("offset");
    let under_it = |program: &Path| {
        let mut command = Command::new(program);
        command.env("LD_PRELOAD", &library).env("FAKETIME_TIMESTAMP_FILE", &offset);
        command.env("FAKETIME_NO_CACHE", "1").env("FAKETIME_DONT_FAKE_MONOTONIC", "1");
        // Only the clock itself: what files say of their times is the disk's.
        command.env("NO_FAKE_STAT", "1");
        command
    };
    fs::write(&offset, "-1d").unwrap();
    let told = under_it(Path::new("date")).arg("+%s").output().unwrap();
    let told: u64 = String::from_utf8(told.stdout).unwrap().trim().parse().unwrap();
    let now = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap();
    assert!(told < (now - DAY / 2).as_secs(), "the other clock is none");

    fs::write(&offset, "+0").unwrap();
    let child = Child::start_by(&fixture, under_it(&std::env::current_exe().unwrap()));
    for (round, by) in (0..).zip(["-1d", "-1d", "+0", "+1d", "+0"]) {
        fixture.write("log.md", &format!("round{round}\n"));
        assert_eq!(fixture.ids(&format!("round{round}")), ["log"]);
        fs::write(&offset, by).unwrap();
        for number in 0..10 {
            fixture.write(&format!("{number}.md"), &text(number + round));
            fixture.write("log.md", &format!("{round}cut{number}\n"));
            assert_eq!(fixture.ids(&format!("{round}cut{number}")), ["log"]);
        }
        promise::check_answers(&fixture);
    }
    promise::check(&fixture);
    child.ends_well();
}
