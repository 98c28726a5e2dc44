//! Starting, stopping, one at a time, states, and who waits for whom.

use taperbook_daemon::{AskError, DaemonError, Progress, Shop};
use taperbook_engine::{Answer, Request};

use crate::fixture::{DEADLINE, Daemon, Fixture, eventually, slow};

#[test]
fn a_second_daemon_on_a_folder_says_so() {
    let fixture = Fixture::new();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let error = taperbook_daemon::watch(&fixture.shop, None, |_| {}).unwrap_err();
    assert!(
        matches!(error, DaemonError::AlreadyRunning { pid: Some(pid) } if pid == std::process::id()),
        "{error:?}"
    );
    assert_eq!(
        error.to_string(),
        format!(
            "a daemon already watches this folder (process {}); end it with `taperbook stop`",
            std::process::id()
        )
    );
    // By another name it is still the same folder.
    let link = fixture.home.path().join("link");
    std::os::unix::fs::symlink(&fixture.shop.folder, &link).unwrap();
    let shop = Shop { folder: link, ..fixture.shop.clone() };
    assert!(matches!(
        taperbook_daemon::watch(&shop, None, |_| {}),
        Err(DaemonError::AlreadyRunning { .. })
    ));
    assert!(taperbook_daemon::stop(&shop).unwrap());
    daemon.end().unwrap();
}

/// What a process does that can't begin anew: the daemon goes on as it was, and nobody else can have been one meanwhile.
#[test]
fn a_daemon_goes_on_with_what_it_has_left() {
    let fixture = Fixture::new();
    for at in 0..600 {
        fixture.write(&format!("{at}.md"), "whipping\n");
    }
    let watch = |standing| {
        let (shop, (told, heard)) = (fixture.shop.clone(), std::sync::mpsc::channel());
        let report = move |progress| drop(told.send(progress));
        let watch = move || taperbook_daemon::watch_as_process(&shop, None, standing, report);
        (std::thread::spawn(watch), heard)
    };
    let (daemon, _heard) = watch(None);
    let left = daemon.join().unwrap().unwrap().expect("it is worth it");
    // Nobody watches the folder now.
    fixture.write("meanwhile.md", "whipping cracked\n");
    let error = taperbook_daemon::watch(&fixture.shop, None, |_| {}).unwrap_err();
    assert!(matches!(error, DaemonError::AlreadyRunning { .. }), "{error:?}");
    let asks = std::thread::scope(|scope| {
        let asks = scope.spawn(|| fixture.find("whipping").total);
        let (daemon, heard) = watch(Some(left.kept(&std::io::ErrorKind::NotFound.into())));
        let total = asks.join().unwrap();
        let changed = || match heard.recv_timeout(DEADLINE).expect("a change is told") {
            Progress::Changed { written, .. } => written,
            told => panic!("nothing is told twice: {told:?}"),
        };
        assert_eq!(changed(), ["meanwhile.md"]);
        fixture.write("later.md", "whipping\n");
        assert_eq!(changed(), ["later.md"]);
        assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
        assert!(daemon.join().unwrap().unwrap().is_none());
        total
    });
    assert_eq!(asks, 601);
    assert_eq!(fixture.find("whipping").total, 602);
}

#[test]
fn stopping_waits_until_the_daemon_is_gone() {
    let fixture = Fixture::new();
    for round in 0..5 {
        let daemon = Daemon::start(&fixture.shop);
        if round % 2 == 0 {
            daemon.wait_until_ready();
        }
        // It may not have begun yet, in the rounds that don't wait.
        eventually("a daemon is stopped", || {
            taperbook_daemon::stop(&fixture.shop).unwrap().then_some(())
        });
        assert!(!taperbook_daemon::stop(&fixture.shop).unwrap(), "there is none any more");
        let left: Vec<_> = std::fs::read_dir(fixture.place())
            .unwrap()
            .map(|entry| entry.unwrap().file_name())
            .collect();
        assert!(!left.iter().any(|name| name.to_string_lossy().starts_with("socket")), "{left:?}");
        daemon.end().unwrap();
    }
}

#[test]
fn a_daemon_stops_in_the_middle_of_its_first_look() {
    let fixture = Fixture::with(Vec::new);
    let n_records = 2500;
    for at in 0..n_records {
        fixture.write(&format!("notes/{at}.md"), "whipping\n");
    }
    let daemon = Daemon::start(&fixture.shop);
    let scanning = daemon.wait_for(|progress| matches!(progress, Progress::Scanning { .. }));
    let status = taperbook_daemon::status(&fixture.shop, false).unwrap();
    if status.state == "scanning" {
        assert!(0 < status.unread && 0 < status.behind_ms, "{status:?}");
    }
    assert_eq!(scanning, Progress::Scanning { read: 256, of: Some(n_records) });
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.end().unwrap();
    assert_eq!(fixture.find("whipping").total, n_records);
}

#[test]
fn stopping_tells_in_order() {
    let fixture = Fixture::new();
    fixture.write("log.md", "whipping\n");
    let daemon = fixture.watch();
    let ready = daemon.wait_until_ready();
    assert!(
        matches!(ready, Progress::Ready { records: 1, problems: 0, flags: 0, .. }),
        "{ready:?}"
    );
    fixture.write("tip.md", "# The cracked tip\n");
    let changed = daemon.wait_for(|progress| matches!(progress, Progress::Changed { .. }));
    let Progress::Changed { written, flags, .. } = changed else { panic!() };
    assert_eq!((written, flags), (vec!["tip.md".to_owned()], 1));
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.wait_for(|progress| *progress == Progress::Stopping);
    daemon.end().unwrap();
}

#[test]
fn status_tells_the_state() {
    let fixture = Fixture::new();
    fixture.write("tip.md", "# The cracked tip\n");
    let none = taperbook_daemon::status(&fixture.shop, false).unwrap();
    assert_eq!((&*none.state, none.pid, none.records), ("none", None, 0));
    let none = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!((&*none.state, none.pid, none.records, none.flags), ("none", None, 1, 1));

    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let live = taperbook_daemon::status(&fixture.shop, false).unwrap();
    assert_eq!((&*live.state, live.pid, live.why), ("live", Some(std::process::id()), None));
    assert_eq!((live.records, live.flags, live.pending), (1, 1, 0));
    assert_eq!(live.folder, fixture.shop.folder.canonicalize().unwrap().display().to_string());
    assert_eq!((live.unread, live.behind_ms), (0, 0));
    assert!(0 < live.index_bytes && 0 < live.generation);

    fixture.write("log.md", "whipping\n");
    let waited = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!(waited.records, 2);
    assert!(live.generation < waited.generation);

    // A file that is none can't be read; the rest of the folder is unharmed.
    std::os::unix::fs::symlink("log.md", fixture.path("link.md")).unwrap();
    let unreadable = taperbook_daemon::status(&fixture.shop, true).unwrap().unreadable;
    assert_eq!(unreadable.len(), 1);
    assert_eq!(unreadable[0].path, "link.md");
    assert!(unreadable[0].why.contains("symbolic link"), "{unreadable:?}");
}

#[test]
fn a_restart_reads_nothing_again() {
    let fixture = Fixture::new();
    for at in 0..30 {
        fixture.write(&format!("{at}.md"), "whipping\n");
    }
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.end().unwrap();
    let before = taperbook_daemon::status(&fixture.shop, false).unwrap();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let after = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!(
        (before.generation, before.records),
        (after.generation, after.records),
        "no commit was needed"
    );
}

#[test]
fn a_daemon_and_a_question_without_one_give_the_same() {
    let fixture = Fixture::new();
    fixture.write("shop.yaml", "kind: shop\n");
    fixture.write("tip.md", "# The cracked tip\n\nwhipping thread, 0.1 mm\n");
    fixture.write(
        "builds/ilse.md",
        "---\nkind: build\nblank: heron\nbench:\n  - read: { power: 212 g, lenght: 2 m }\n---\n",
    );
    fixture.write("blanks/heron.md", "---\nkind: blank\nlength: 7'2\"\nweight: 46\n---\n");
    let requests = [
        Request::Find { query: "whipping".into(), limit: 20 },
        Request::Find { query: "notes<1in".into(), limit: 20 },
        Request::Show { record: "ilse".into() },
        Request::Show { record: "nobody".into() },
        Request::Flags { flag: None },
        Request::Explain { what: "cracked".into(), number: None, held_at_mm: None },
        Request::Check { paths: Vec::new() },
        Request::Suggest { record: "ilse".into(), held_at_mm: None },
        Request::Names {},
    ];
    let all =
        || requests.iter().map(|request| steady(fixture.ask(request).unwrap())).collect::<Vec<_>>();
    let alone = all();
    assert_eq!(all(), alone, "again, from the index that was kept");
    let daemon = fixture.watch();
    assert_eq!(all(), alone, "from a daemon");
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.end().unwrap();
    assert_eq!(all(), alone, "from what the daemon left");
    let Answer::Check(check) = &alone[6] else { panic!() };
    assert!(
        check.checked == 4 && !check.problems.is_empty() && check.flags.len() == 1,
        "{check:?}"
    );
}

/// An answer without how long it took.
fn steady(mut answer: Answer) -> Answer {
    if let Answer::Find(found) = &mut answer {
        found.took_ms = 0.0;
    }
    answer
}

#[test]
fn questions_without_a_daemon_wait_for_each_other() {
    let fixture = Fixture::with(slow);
    for at in 0..50 {
        fixture.write(&format!("{at}.md"), "whipping\n");
    }
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| assert_eq!(fixture.find("whipping").total, 50));
        }
    });
}

#[test]
fn a_daemon_waits_for_a_question_and_questions_for_a_daemon_that_starts() {
    let fixture = Fixture::with(slow);
    for at in 0..100 {
        fixture.write(&format!("{at}.md"), "whipping\n");
    }
    std::thread::scope(|scope| {
        let (begun, is_begun) = std::sync::mpsc::channel();
        let request = Request::Find { query: "whipping".into(), limit: 1 };
        let fixture = &fixture;
        scope.spawn(move || {
            let report = |_: Progress| {
                let _ = begun.send(());
            };
            let Ok(Answer::Find(found)) = taperbook_daemon::ask(&fixture.shop, &request, report)
            else {
                panic!()
            };
            assert_eq!(found.total, 100);
        });
        is_begun.recv().unwrap();
        let daemon = Daemon::start(&fixture.shop);
        for _ in 0..4 {
            scope.spawn(|| assert_eq!(fixture.find("whipping").total, 100));
        }
        daemon.wait_until_ready();
        assert_eq!(taperbook_daemon::status(&fixture.shop, false).unwrap().state, "live");
    });
}

#[test]
fn questions_are_answered_whenever_the_daemon_stops() {
    let fixture = Fixture::with(slow);
    for at in 0..50 {
        fixture.write(&format!("{at}.md"), "whipping\n");
    }
    // In each round the daemon is told to stop while eight questions are on their way to it.
    for _ in 0..6 {
        let daemon = fixture.watch();
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| assert_eq!(fixture.find("whipping").total, 50));
            }
            scope.spawn(|| taperbook_daemon::stop(&fixture.shop).unwrap());
        });
        daemon.end().unwrap();
    }
}

#[test]
fn a_folder_that_is_not_there_is_told_and_nothing_is_made_for_it() {
    let fixture = Fixture::new();
    let shop = Shop { folder: fixture.home.path().join("shpo"), ..fixture.shop.clone() };
    let words = format!("there is no folder at `{}`", shop.folder.display());
    let error = taperbook_daemon::watch(&shop, None, |_| {}).unwrap_err();
    assert!(error.to_string().starts_with(&words), "{error}");
    let error = taperbook_daemon::ask(&shop, &Request::Names {}, |_| {}).unwrap_err();
    assert!(
        matches!(error, AskError::Folder(_)) && error.to_string().starts_with(&words),
        "{error}"
    );
    assert!(!taperbook_daemon::stop(&shop).unwrap());
    assert!(!fixture.home.path().join("state").exists());
}

#[test]
fn a_state_directory_in_the_shop_folder_is_refused() {
    let fixture = Fixture::new();
    let shop = Shop { state_dir: Some(fixture.path("state")), ..fixture.shop.clone() };
    assert!(matches!(taperbook_daemon::watch(&shop, None, |_| {}), Err(DaemonError::State(_))));
    assert!(matches!(
        taperbook_daemon::ask(&shop, &Request::Names {}, |_| {}),
        Err(AskError::State(_))
    ));
    assert_eq!(std::fs::read_dir(&fixture.shop.folder).unwrap().count(), 0);
}

#[test]
fn two_folders_have_a_daemon_each() {
    let (one, two) = (Fixture::new(), Fixture::new());
    let shop = Shop { state_dir: one.shop.state_dir.clone(), ..two.shop.clone() };
    one.write("a.md", "whipping\n");
    two.write("b.md", "whipping\n");
    let _first = one.watch();
    let _second = Daemon::start(&shop);
    assert_eq!(one.ids("whipping"), ["a"]);
    let request = Request::Find { query: "whipping".into(), limit: 5 };
    let Ok(Answer::Find(found)) = taperbook_daemon::ask(&shop, &request, |_| {}) else { panic!() };
    assert_eq!(found.hits[0].record, "b");
}
