//! Names of every kind, conflict copies, links, and saves that come in two halves.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::Write as _;
use std::os::unix::ffi::OsStrExt as _;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, SystemTime};

use crate::fixture::{Fixture, eventually};
use crate::promise::{self, CARD, text};

#[test]
fn names_of_every_kind_are_found_by_their_own() {
    let fixture = Fixture::new();
    let _daemon = fixture.watch();
    let longest = format!("{}.md", "n".repeat(252));
    let names = [
        "a heron with spaces.md",
        "line\nbreak.md",
        "tab\tand \u{1b}[31m escape.md",
        "\"quoted\" 'twice'.md",
        "🎣 heron.md",
        "back\\slash.md",
        "-dash.md",
        "b\u{e9}ton.md",
        "be\u{301}ton.md",
        "Heron.md",
        "heron.md",
        "heron.MD",
        "heron.md.md",
        longest.as_str(),
    ];
    for (number, name) in names.iter().enumerate() {
        fixture.write(name, &format!("# The cracked tip\n\nname{number}\n"));
        let id = name.strip_suffix(".md").unwrap_or(name);
        assert_eq!(fixture.ids(&format!("name{number}")), [id]);
    }
    fs::write(fixture.path("").join(OsStr::from_bytes(b"caf\xE9.md")), "one").unwrap();
    fs::create_dir(fixture.path("").join(OsStr::from_bytes(b"g\xFFr"))).unwrap();
    let status = taperbook_daemon::status(&fixture.shop, true).unwrap();
    let unreadable: Vec<_> = status.unreadable.iter().map(|it| it.path.as_str()).collect();
    assert_eq!(unreadable, [r"caf\xE9.md (not UTF-8)", r"g\xFFr (not UTF-8)"]);
    promise::check(&fixture);
}

#[test]
fn conflict_copies_are_found_and_flagged_and_never_merged() {
    let fixture = Fixture::new();
    let daemon = fixture.watch();
    fixture.write("ilse.md", &text(0));
    for name in ["ilse (conflicted copy 2026-03-15)", "ilse.sync-conflict-20260315-101500-ABCDEFG"]
    {
        fixture.write(&format!("{name}.md"), &text(4));
        assert!(fixture.ids("flag:conflict-copy").contains(&name.to_owned()));
    }
    promise::check_answers(&fixture);
    drop(daemon);
    let _daemon = fixture.watch();
    fs::remove_file(fixture.path("ilse (conflicted copy 2026-03-15).md")).unwrap();
    assert_eq!(fixture.find("flag:conflict-copy").total, 1);
    promise::check(&fixture);
}

#[test]
fn links_in_out_and_in_a_circle() {
    let fixture = Fixture::new();
    fixture.write("a.md", &text(1));
    let elsewhere = fixture.home.path().join("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    fs::write(elsewhere.join("secret.md"), "secret\n").unwrap();
    let _daemon = fixture.watch();
    symlink("a.md", fixture.path("in.md")).unwrap();
    symlink(elsewhere.join("secret.md"), fixture.path("out.md")).unwrap();
    symlink(&elsewhere, fixture.path("folder")).unwrap();
    symlink("..", fixture.path("loop")).unwrap();
    symlink("self.md", fixture.path("self.md")).unwrap();
    assert_eq!(fixture.find("secret").total, 0);
    assert_eq!(taperbook_daemon::status(&fixture.shop, true).unwrap().unreadable.len(), 5);
    promise::check_answers(&fixture);
    fs::remove_file(fixture.path("folder")).unwrap();
    fs::rename(&elsewhere, fixture.path("folder")).unwrap();
    assert_eq!(fixture.ids("secret"), ["folder/secret"]);
    promise::check(&fixture);
}

#[test]
fn what_is_written_through_another_name_is_in_the_next_answer() {
    let fixture = Fixture::new();
    fixture.write("a.md", &text(1));
    let outside = fixture.home.path().join("outside.md");
    fs::hard_link(fixture.path("a.md"), &outside).unwrap();
    let _daemon = fixture.watch();
    for round in 0..10 {
        fs::write(&outside, format!("round{round}\n")).unwrap();
        assert_eq!(fixture.ids(&format!("round{round}")), ["a"]);
        // Another name inside the folder is another record with the same text.
        if round == 5 {
            fs::create_dir(fixture.path("b")).unwrap();
            fs::hard_link(&outside, fixture.path("b/b.md")).unwrap();
            fs::write(fixture.path("b/b.md"), "both\n").unwrap();
            assert_eq!(fixture.ids("both"), ["a", "b/b"]);
            fs::remove_file(fixture.path("b/b.md")).unwrap();
        }
    }
    promise::check(&fixture);
}

#[test]
fn a_save_that_comes_in_two_halves_is_never_answered_by_an_empty_record() {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    fixture.write("ilse.md", &text(0));
    let _daemon = fixture.watch();
    let builds = "kind:build or kind:blank";
    assert_eq!(fixture.find(builds).total, 2);
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let (path, is_over) = (fixture.path("ilse.md"), &is_over);
        scope.spawn(move || {
            for round in 0.. {
                // Truncated, and left so for a moment.
                let mut file = File::create(&path).unwrap();
                std::thread::sleep(Duration::from_millis(round % 7 * 5));
                file.write_all(text(round * 4).as_bytes()).unwrap();
                drop(file);
                if is_over.load(Ordering::SeqCst) {
                    return;
                }
                std::thread::sleep(Duration::from_millis(3));
            }
        });
        let answers = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            for _ in 0..60 {
                // An empty record would be a note.
                assert_eq!(fixture.find(builds).total, 2);
            }
        }));
        is_over.store(true, Ordering::SeqCst);
        answers.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
    });
    promise::check(&fixture);
    // Nor by a question that has no daemon to ask.
    File::create(fixture.path("ilse.md")).unwrap();
    std::thread::scope(|scope| {
        let (asked, ask) = std::sync::mpsc::channel();
        let found = &fixture;
        let answer = scope.spawn(move || {
            asked.send(()).unwrap();
            found.find(builds).total
        });
        ask.recv().unwrap();
        fixture.write("ilse.md", &text(8));
        assert_eq!(answer.join().unwrap(), 2);
    });
    promise::check(&fixture);
}

#[test]
fn a_record_that_stays_empty_is_empty_in_the_answer() {
    let fixture = Fixture::new();
    fixture.write("ilse.md", &text(0));
    let daemon = fixture.watch();
    assert_eq!(fixture.find("kind:build").total, 1);
    fixture.write("ilse.md", "");
    assert_eq!(fixture.find("kind:build").total, 0, "the answer waits until that is believed");
    promise::check_answers(&fixture);
    drop(daemon);
    fixture.write("ilse.md", &text(0));
    assert_eq!(fixture.find("kind:build").total, 1);
    fixture.write("ilse.md", "");
    assert_eq!(fixture.find("kind:build").total, 0, "without a daemon as well");
    promise::check(&fixture);
}

/// A way in which a program saves a text.
type Save = fn(&Fixture, &str);

#[test]
fn every_way_of_saving_is_in_the_next_answer() {
    let ways: [(&str, Save); 9] = [
        ("truncate and write", |fixture, text| fixture.write("a.md", text)),
        ("temporary and rename", |fixture, text| {
            fixture.write(".a.md.tmp", text);
            fs::rename(fixture.path(".a.md.tmp"), fixture.path("a.md")).unwrap();
        }),
        ("backup and rename", |fixture, text| {
            fs::rename(fixture.path("a.md"), fixture.path("a.md~")).unwrap();
            fixture.write("a.md", text);
            fs::remove_file(fixture.path("a.md~")).unwrap();
        }),
        ("remove and write", |fixture, text| {
            fs::remove_file(fixture.path("a.md")).unwrap();
            fixture.write("a.md", text);
        }),
        ("append", |fixture, text| {
            let mut file = File::options().append(true).open(fixture.path("a.md")).unwrap();
            file.write_all(text.as_bytes()).unwrap();
        }),
        ("write and permissions", |fixture, text| {
            fixture.write("a.md", text);
            fs::set_permissions(fixture.path("a.md"), fs::Permissions::from_mode(0o600)).unwrap();
        }),
        ("the time set back", |fixture, text| {
            let path = fixture.path("a.md");
            let modified = fs::metadata(&path).unwrap().modified().unwrap();
            fs::write(&path, text).unwrap();
            File::options().write(true).open(path).unwrap().set_modified(modified).unwrap();
        }),
        ("the same size and the time set back", |fixture, _| {
            let path = fixture.path("a.md");
            let (before, metadata) = (fs::read(&path).unwrap(), fs::metadata(&path).unwrap());
            let after: Vec<u8> = before.iter().rev().copied().filter(u8::is_ascii).collect();
            fs::write(&path, [after, vec![b'x'; before.len()]].concat()).unwrap();
            let file = File::options().write(true).open(path).unwrap();
            file.set_len(metadata.len()).unwrap();
            file.set_modified(metadata.modified().unwrap()).unwrap();
        }),
        ("touched only", |fixture, _| {
            let file = File::options().write(true).open(fixture.path("a.md")).unwrap();
            file.set_modified(SystemTime::UNIX_EPOCH).unwrap();
        }),
    ];
    let fixture = Fixture::new();
    fixture.write("a.md", &text(1));
    fixture.write("b.md", &text(0));
    let _daemon = fixture.watch();
    for (round, (way, save)) in (0..).zip(ways) {
        save(&fixture, &text(100 + round));
        let answer = std::panic::catch_unwind(|| promise::check_answers(&fixture));
        assert!(answer.is_ok(), "{way}");
    }
    promise::check(&fixture);
}

#[test]
fn what_may_not_be_read_is_told_and_read_when_it_may() {
    let fixture = Fixture::new();
    fixture.write("a.md", &text(1));
    fixture.write("builds/b.md", &text(0));
    let forbid = |path: &str, mode| {
        fs::set_permissions(fixture.path(path), fs::Permissions::from_mode(mode)).unwrap();
    };
    forbid("a.md", 0o000);
    if File::open(fixture.path("a.md")).is_ok() {
        return super::not_bound();
    }
    let _daemon = fixture.watch();
    forbid("builds", 0o000);
    let unreadable = || taperbook_daemon::status(&fixture.shop, true).unwrap().unreadable.len();
    assert_eq!(unreadable(), 2);
    forbid("a.md", 0o644);
    forbid("builds", 0o755);
    eventually("all can be read", || (unreadable() == 0).then_some(()));
    promise::check(&fixture);
}
