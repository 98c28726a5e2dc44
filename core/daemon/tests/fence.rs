//! What is written is answered, in all ways of writing it, under load, and while a first look goes on.

use std::sync::atomic::{AtomicBool, Ordering};

use taperbook_daemon::Progress;
use taperbook_engine::{Answer, Request};

use crate::fixture::{Fixture, counting_slowly, dawdling, eventually, let_go};

#[test]
fn every_save_is_in_the_next_answer() {
    let fixture = Fixture::new();
    let _daemon = fixture.watch();
    for round in 0..100 {
        fixture.write("log.md", &format!("# Log\n\nround{round} on the bench\n"));
        assert_eq!(fixture.ids(&format!("round{round}")), ["log"]);
        if let Some(before) = (0..round).last() {
            assert!(
                fixture.ids(&format!("round{before}")).is_empty(),
                "the older text of round {round} is gone"
            );
        }
    }
}

#[test]
fn what_depends_on_an_edit_is_in_the_next_answer() {
    let fixture = Fixture::new();
    let _daemon = fixture.watch();
    for n_notes in 1..40 {
        fixture.write(&format!("notes/{n_notes}.md"), "Tape first.\n");
        // Each note's number counts all notes, so all of them must have been worked out again.
        assert_eq!(fixture.find(&format!("notes:{n_notes}")).total, n_notes);
    }
}

#[test]
fn deleting_renaming_and_moving_are_in_the_next_answer() {
    let fixture = Fixture::new();
    let _daemon = fixture.watch();
    fixture.write("one.md", "# One\n\nwhipping\n");
    fixture.write("two.md", "# Two\n\nwhipping\n");
    assert_eq!(fixture.ids("whipping"), ["one", "two"]);

    std::fs::remove_file(fixture.path("one.md")).unwrap();
    assert_eq!(fixture.ids("whipping"), ["two"]);

    std::fs::rename(fixture.path("two.md"), fixture.path("three.md")).unwrap();
    assert_eq!(fixture.ids("whipping"), ["three"]);

    // A full folder moved in, renamed, and moved out again.
    let outside = fixture.home.path().join("outside");
    std::fs::create_dir_all(outside.join("deep")).unwrap();
    for name in ["a.md", "b.md", "deep/c.md"] {
        std::fs::write(outside.join(name), "whipping\n").unwrap();
    }
    std::fs::rename(&outside, fixture.path("in")).unwrap();
    assert_eq!(fixture.ids("whipping"), ["in/a", "in/b", "in/deep/c", "three"]);
    std::fs::rename(fixture.path("in"), fixture.path("on")).unwrap();
    assert_eq!(fixture.ids("whipping"), ["on/a", "on/b", "on/deep/c", "three"]);
    std::fs::rename(fixture.path("on"), &outside).unwrap();
    assert_eq!(fixture.ids("whipping"), ["three"]);
}

#[test]
fn an_editor_that_saves_by_a_temporary_file_is_followed() {
    let fixture = Fixture::new();
    let _daemon = fixture.watch();
    for round in 0..20 {
        let temporary = fixture.path(".log.md.swp");
        std::fs::write(&temporary, format!("round{round}\n")).unwrap();
        std::fs::rename(&temporary, fixture.path("log.md")).unwrap();
        assert_eq!(fixture.ids(&format!("round{round}")), ["log"]);
        assert_eq!(fixture.ids("").len(), 1, "nothing but the record is there");
    }
}

#[test]
fn an_answer_comes_also_while_others_never_stop_writing() {
    let fixture = Fixture::with(counting_slowly);
    for at in 0..100 {
        fixture.write(&format!("notes/{at}.md"), "quiet\n");
    }
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        // The title changes, so all that read this note are worked out again, at each turn: without a rule for
        // it there would always be something left to do.
        scope.spawn(|| {
            for round in 0.. {
                if is_over.load(Ordering::SeqCst) {
                    return;
                }
                fixture.write("notes/0.md", &format!("# Turn {round}\n"));
                std::thread::sleep(std::time::Duration::from_millis(2));
            }
        });
        let answers = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            for round in 0..5 {
                fixture.write("log.md", &format!("round{round}\n"));
                assert_eq!(fixture.find(&format!("round{round}")).total, 1);
            }
        }));
        is_over.store(true, Ordering::SeqCst);
        if let Err(panic) = answers {
            std::panic::resume_unwind(panic);
        }
    });
}

#[test]
fn many_ask_at_once_and_each_sees_its_own_save() {
    let fixture = Fixture::new();
    let _daemon = fixture.watch();
    std::thread::scope(|scope| {
        for client in 0..50 {
            let fixture = &fixture;
            scope.spawn(move || {
                for round in 0..4 {
                    fixture.write(&format!("{client}.md"), &format!("client{client}x{round}\n"));
                    let found = fixture.find(&format!("client{client}x{round}"));
                    assert_eq!(found.total, 1, "client {client}, round {round}");
                }
            });
        }
    });
}

#[test]
fn a_first_look_answers_what_it_has_and_says_so() {
    let fixture = Fixture::with(dawdling);
    let n_records = 3000;
    for at in 0..n_records {
        fixture.write(&format!("notes/{at}.md"), &format!("# Note {at}\n\ncracked varnish\n"));
    }
    let daemon = fixture.watch();
    daemon.wait_for(|progress| matches!(progress, Progress::Examining { .. }));

    let found = fixture.find("varnish");
    assert_eq!(found.total, n_records, "all were read");
    assert!(0 < found.pending, "and the answer says that not all are worked out");
    let status = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert!(0 < status.pending && 0 < status.behind_ms, "{status:?}");

    // A save meanwhile is in the next answer as well.
    fixture.write("notes/fresh.md", "ferrule wax\n");
    assert_eq!(fixture.find("ferrule").total, 1);

    // What can't say that something is missing waits until nothing is.
    let_go();
    let Ok(Answer::Check(checked)) = fixture.ask(&Request::Check { paths: Vec::new() }) else {
        panic!()
    };
    assert_eq!(checked.checked, n_records + 1);
    assert_eq!(fixture.find("varnish").pending, 0);
    daemon.wait_until_ready();
    let status = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!((status.unread, status.pending, status.behind_ms), (0, 0, 0));
}

#[test]
fn a_folder_that_is_gone_gets_no_old_answer() {
    let fixture = Fixture::new();
    fixture.write("log.md", "whipping\n");
    let _daemon = fixture.watch();
    assert_eq!(fixture.ids("whipping"), ["log"]);

    let away = fixture.home.path().join("away");
    std::fs::rename(&fixture.shop.folder, &away).unwrap();
    let request = Request::Find { query: "whipping".to_owned(), limit: 5 };
    let error = fixture.ask(&request).unwrap_err().to_string();
    assert!(error.contains("there is no folder at"), "{error}");
    eventually("the state says why", || {
        let status = taperbook_daemon::status(&fixture.shop, false).unwrap();
        (status.state == "degraded"
            && status.why.unwrap_or_default().contains("there is no folder at"))
        .then_some(())
    });

    // Another folder in its place is another folder.
    std::fs::create_dir(&fixture.shop.folder).unwrap();
    fixture.write("other.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["other"]);
    std::fs::remove_dir_all(&fixture.shop.folder).unwrap();
    std::fs::rename(&away, &fixture.shop.folder).unwrap();
    assert_eq!(fixture.ids("whipping"), ["log"]);
    assert_eq!(taperbook_daemon::status(&fixture.shop, true).unwrap().state, "live");
}
