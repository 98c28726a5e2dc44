//! Many files at once, folders that move, and an event queue that overflows.

use std::fs;
use std::process::Command;

use rustix::process::Signal;

use crate::child::Child;
use crate::fixture::Fixture;
use crate::promise::{self, CARD, text};

#[test]
fn a_thousand_files_in_the_instant_after_a_folder_appears() {
    let fixture = Fixture::with(Vec::new);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    for round in 0..3 {
        for number in 0..1000 {
            fixture.write(&format!("in/{round}/deep/{number}.md"), &text(number + round));
        }
        assert_eq!(fixture.find("").total, 1000 * usize::try_from(round + 1).unwrap());
    }
    promise::check(&fixture);
}

#[test]
fn a_full_folder_moved_in_out_and_renamed() {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let outside = fixture.home.path().join("outside");
    for number in 0..40 {
        let path = outside.join(format!("{}/{number}.md", number % 3));
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text(number)).unwrap();
    }
    for round in 0..3 {
        fs::rename(&outside, fixture.path("in")).unwrap();
        promise::check_answers(&fixture);
        fs::rename(fixture.path("in"), fixture.path("on")).unwrap();
        fixture.write("on/1/1.md", &text(round));
        promise::check_answers(&fixture);
        fs::rename(fixture.path("on"), &outside).unwrap();
        fs::write(outside.join("1/1.md"), "whipping outside").unwrap();
        promise::check_answers(&fixture);
    }
    fs::rename(&outside, fixture.path("in")).unwrap();
    promise::check(&fixture);
}

/// Writes all files of a tree as a checkout does: each is removed and made again.
fn check_out(fixture: &Fixture, n_files: u64, revision: u64) {
    for number in 0..n_files {
        let path = fixture.path(&format!("{}/{}/{number}.md", number % 7, number % 31));
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        let _ = fs::remove_file(&path);
        if !(number + revision).is_multiple_of(10) {
            fs::write(path, text(number + revision)).unwrap();
        }
    }
}

/// The soak (`examples/soak.rs`) does the same with 20,000, which takes a program that was built for speed.
#[test]
fn a_checkout_that_changes_three_thousand_files_at_once() {
    let fixture = Fixture::with(Vec::new);
    let n_files = 3000;
    check_out(&fixture, n_files, 0);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    for revision in 1..3 {
        check_out(&fixture, n_files, revision);
        let found = fixture.find("");
        assert_eq!((found.total, found.unread + found.pending), (2700, 0));
    }
    promise::check(&fixture);
}

#[test]
fn an_event_queue_that_overflows() {
    let fixture = Fixture::new();
    fixture.write("notes/0.md", "whipping\n");
    let child = Child::start(&fixture);
    assert_eq!(fixture.ids("whipping"), ["notes/0"]);
    // A process that is halted reads no events, and these are more than the system keeps for it.
    let limit = fs::read_to_string("/proc/sys/fs/inotify/max_queued_events").unwrap();
    let limit: usize = limit.trim().parse().unwrap();
    child.signal(Signal::STOP);
    for number in 0..2 * limit {
        // Each close is an event, and the next file is another one, so that none are merged.
        let path = fixture.path(&format!("notes/{}.txt", number % 10));
        fs::File::options().append(true).create(true).open(path).unwrap();
    }
    for number in 0..60 {
        fixture.write(&format!("late/{number}.md"), &text(number));
    }
    fs::remove_file(fixture.path("notes/0.md")).unwrap();
    child.signal(Signal::CONT);
    child.wait_for("more happened at once than the system keeps");
    promise::check(&fixture);
    child.ends_well();
}

#[test]
fn programs_that_write_all_the_time_by_shell_commands() {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let script = "for n in $(seq 40); do echo \"whipping $n\" > a.md; cp a.md b-$n.md; mv b-$n.md c.md; \
                  sed -i s/whipping/varnish/ a.md; cp -p a.md d.md; touch -d 2001-01-01 d.md; rm -f c.md; done";
    let status = Command::new("sh").args(["-c", script]).current_dir(&fixture.shop.folder).status();
    assert!(status.unwrap().success());
    promise::check(&fixture);
}
