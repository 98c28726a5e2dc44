//! What is left behind: nothing in the shop folder, and a usable index after a kill or damage.

use std::path::Path;
use std::process::{Child, Command, Stdio};

use taperbook_daemon::Shop;
use taperbook_engine::{Answer, Request};

use crate::fixture::{Daemon, Fixture, counting, eventually, listing};

/// Asks everything that shows what an index has.
fn everything(shop: &Shop) -> Vec<Answer> {
    let requests = [
        Request::Names {},
        Request::Check { paths: Vec::new() },
        Request::Find { query: String::new(), limit: 1000 },
        Request::Find { query: "whipping".into(), limit: 1000 },
    ];
    requests
        .iter()
        .map(|request| match taperbook_daemon::ask(shop, request, |_| {}).unwrap() {
            Answer::Find(mut found) => {
                found.took_ms = 0.0;
                // Scores depend on what a segment has of records that are gone.
                found.hits.sort_by(|a, b| a.record.cmp(&b.record));
                Answer::Find(found)
            }
            answer => answer,
        })
        .collect()
}

#[test]
fn the_shop_folder_is_left_as_it_was() {
    let fixture = Fixture::new();
    fixture.write("builds/ilse.md", "---\nkind: build\nblank: heron\n---\nwhipping\n");
    fixture.write("log.md", "whipping\n");
    let before = listing(&fixture.shop.folder);
    everything(&fixture.shop);
    let daemon = fixture.watch();
    everything(&fixture.shop);
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.end().unwrap();
    assert_eq!(listing(&fixture.shop.folder), before);
    assert!(fixture.place().starts_with(fixture.home.path().join("state")));
}

#[test]
fn a_long_state_path_does_as_well() {
    let mut fixture = Fixture::new();
    fixture.shop.state_dir = Some(fixture.home.path().join("a-long-name/".repeat(12)));
    fixture.write("log.md", "whipping\n");
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let at = std::fs::read(fixture.place().join("socket-at")).unwrap();
    let socket = Path::new(std::str::from_utf8(&at).unwrap());
    assert!(!socket.starts_with(fixture.place()) && socket.exists());
    assert_eq!(fixture.ids("whipping"), ["log"]);
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.end().unwrap();
    assert!(!socket.exists());
    std::fs::remove_dir(socket.parent().unwrap()).unwrap();
}

/// Set for a process that is a daemon.
const CHILD: &str = "TAPERBOOK_TEST_DAEMON_HOME";

/// In a process that this or another test has started it is that process's daemon.
#[test]
fn a_daemon_in_another_process_is_asked_and_stopped() {
    if let Some(home) = std::env::var_os(CHILD) {
        let home = Path::new(&home);
        let (folder, state_dir) = (home.join("shop"), Some(home.join("state")));
        taperbook_daemon::watch(&Shop { folder, state_dir, plugins: counting }, None, |_| {})
            .unwrap();
        return;
    }
    let fixture = Fixture::new();
    let mut child = start_child(&fixture);
    fixture.write("log.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["log"]);
    let error = taperbook_daemon::watch(&fixture.shop, None, |_| {}).unwrap_err();
    assert!(error.to_string().contains(&format!("(process {})", child.id())), "{error}");
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    assert!(child.wait().unwrap().success());
}

/// Starts a daemon in a process of its own, and waits until it can be asked.
#[track_caller]
fn start_child(fixture: &Fixture) -> Child {
    let child = Command::new(std::env::current_exe().unwrap())
        .args(["state::a_daemon_in_another_process_is_asked_and_stopped", "--exact"])
        .env(CHILD, fixture.home.path())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let pid = Some(child.id());
    eventually("the child watches", || {
        (taperbook_daemon::status(&fixture.shop, false).unwrap().pid == pid).then_some(())
    });
    child
}

#[test]
fn a_signal_ends_it_as_stop_does() {
    use rustix::process::{Pid, Signal, kill_process};
    let fixture = Fixture::new();
    for signal in [Signal::INT, Signal::TERM] {
        let mut child = start_child(&fixture);
        fixture.write("log.md", &format!("whipping {signal:?}\n"));
        assert_eq!(fixture.ids("whipping"), ["log"]);
        kill_process(Pid::from_child(&child), signal).unwrap();
        assert!(child.wait().unwrap().success(), "{signal:?}");
        assert!(!fixture.place().join("socket").exists());
        // What it had taken in was kept: nothing need be read or committed again.
        let kept = taperbook_daemon::status(&fixture.shop, false).unwrap();
        let now = taperbook_daemon::status(&fixture.shop, true).unwrap();
        assert_eq!((kept.records, kept.generation), (now.records, now.generation));
    }
}

#[test]
fn a_killed_daemon_leaves_what_can_be_used() {
    let fixture = Fixture::new();
    for at in 0..50 {
        fixture.write(&format!("notes/{at}.md"), "whipping\n");
    }
    for round in 0..12_u64 {
        let mut child = start_child(&fixture);
        // Killed at another moment of its work each time, and in the last rounds at the very start.
        for save in 0..4 * (11 - round) {
            fixture.write(&format!("notes/{save}.md"), &format!("whipping {round}\n"));
            fixture.write(&format!("more/{round}-{save}.md"), "# A cracked tip\n");
            let _ = std::fs::remove_file(
                fixture.path(&format!("more/{}-{save}.md", round.wrapping_sub(1))),
            );
            std::thread::sleep(std::time::Duration::from_millis(round));
        }
        child.kill().unwrap();
        child.wait().unwrap();
        // What changes between two daemons is seen too, also where a killed one had taken in what is gone now.
        let _ = std::fs::remove_file(fixture.path(&format!("more/{round}-0.md")));

        let fresh = fixture.afresh(&format!("fresh-{round}"));
        if round % 2 == 0 {
            assert_eq!(
                everything(&fixture.shop),
                everything(&fresh),
                "round {round}, without a daemon"
            );
        } else {
            let _daemon = fixture.watch();
            assert_eq!(
                everything(&fixture.shop),
                everything(&fresh),
                "round {round}, with the next daemon"
            );
        }
    }
}

/// A damage with its name.
type Damage<'a> = (&'static str, Box<dyn Fn() + 'a>);

#[test]
fn a_damaged_index_is_made_again() {
    let fixture = Fixture::new();
    for at in 0..20 {
        fixture.write(&format!("notes/{at}.md"), "whipping\n");
    }
    let expected = everything(&fixture.shop);
    let place = fixture.place();
    let cut = |path: &Path| {
        let bytes = std::fs::read(path).unwrap();
        std::fs::write(path, &bytes[..bytes.len() / 2]).unwrap();
    };
    let damages: [Damage<'_>; 7] = [
        ("no manifest", Box::new(|| std::fs::remove_file(place.join("manifest")).unwrap())),
        ("half a manifest", Box::new(|| cut(&place.join("manifest")))),
        ("no engine", Box::new(|| std::fs::remove_dir_all(place.join("engine")).unwrap())),
        ("no index", Box::new(|| std::fs::remove_dir_all(place.join("engine/index")).unwrap())),
        ("no ledger", Box::new(|| std::fs::remove_file(place.join("engine/ledger")).unwrap())),
        ("half a ledger", Box::new(|| cut(&place.join("engine/ledger")))),
        ("a junk lock", Box::new(|| std::fs::write(place.join("lock"), "junk").unwrap())),
    ];
    for (what, damage) in damages {
        damage();
        assert_eq!(everything(&fixture.shop), expected, "{what}");
        damage();
        let _daemon = fixture.watch();
        assert_eq!(everything(&fixture.shop), expected, "{what}, with a daemon");
    }
}

#[test]
fn a_manifest_of_another_commit_is_not_believed() {
    let fixture = Fixture::new();
    fixture.write("log.md", "whipping\n");
    let _ = everything(&fixture.shop);
    let manifest = fixture.place().join("manifest");
    let kept = std::fs::read(&manifest).unwrap();
    fixture.write("ghost.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["ghost", "log"]);
    // The manifest of before knows nothing of the ghost, and so could not tell that it is gone.
    std::fs::write(&manifest, kept).unwrap();
    std::fs::remove_file(fixture.path("ghost.md")).unwrap();
    assert_eq!(fixture.ids("whipping"), ["log"]);
}

#[test]
fn an_index_that_vanishes_under_the_daemon_is_made_again() {
    let fixture = Fixture::new();
    fixture.write("log.md", "whipping\n");
    let daemon = Daemon::start(&fixture.shop);
    daemon.wait_until_ready();
    std::fs::remove_dir_all(fixture.place().join("engine")).unwrap();
    fixture.write("next.md", "whipping\n");
    let request = Request::Find { query: "whipping".into(), limit: 5 };
    // Until it is made again the daemon says that there is no answer; what it must never do is give an old one.
    let found = eventually("an answer", || match fixture.ask(&request) {
        Ok(Answer::Find(found)) => Some(found),
        Ok(other) => panic!("{other:?}"),
        Err(error) => {
            assert!(error.to_string().contains("can't be written"), "{error}");
            None
        }
    });
    assert_eq!(found.total, 2);
    assert_eq!(everything(&fixture.shop), everything(&fixture.afresh("fresh")));
}
