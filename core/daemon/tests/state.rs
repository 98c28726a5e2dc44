//! What is left behind: nothing in the shop folder, and a usable index after a kill or damage.

use std::path::Path;

use taperbook_engine::{Answer, Request};

use crate::child::Child;
use crate::fixture::{Daemon, Fixture, eventually, listing};
use crate::promise::everything;

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

#[test]
fn a_daemon_in_another_process_is_asked_and_stopped() {
    let fixture = Fixture::new();
    let child = Child::start(&fixture);
    fixture.write("log.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["log"]);
    let error = taperbook_daemon::watch(&fixture.shop, None, |_| {}).unwrap_err();
    assert!(error.to_string().contains(&format!("(process {})", child.id())), "{error}");
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    child.ends_well();
}

#[test]
fn a_signal_ends_it_as_stop_does() {
    use rustix::process::Signal;
    let fixture = Fixture::new();
    for signal in [Signal::INT, Signal::TERM] {
        let child = Child::start(&fixture);
        fixture.write("log.md", &format!("whipping {signal:?}\n"));
        assert_eq!(fixture.ids("whipping"), ["log"]);
        child.signal(signal);
        child.ends_well();
        assert!(!fixture.place().join("socket").exists());
        // What it had taken in was kept: nothing need be read or committed again.
        let kept = taperbook_daemon::status(&fixture.shop, false).unwrap();
        let now = taperbook_daemon::status(&fixture.shop, true).unwrap();
        assert_eq!((kept.records, kept.generation), (now.records, now.generation));
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
        ("no index", Box::new(|| std::fs::remove_dir_all(fixture.engine().join("index")).unwrap())),
        ("no ledger", Box::new(|| std::fs::remove_file(fixture.engine().join("ledger")).unwrap())),
        ("half a ledger", Box::new(|| cut(&fixture.engine().join("ledger")))),
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

/// Two indexes come to the same number of commits, and the manifest of one says nothing of the other.
#[test]
fn a_manifest_of_another_index_is_not_believed() {
    let fixture = Fixture::new();
    let (folder, manifest) = (&fixture.shop.folder, || fixture.place().join("manifest"));
    fixture.write("log.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["log"]);
    let kept = std::fs::read(manifest()).unwrap();
    let (first, second) = (fixture.home.path().join("first"), fixture.home.path().join("second"));
    std::fs::rename(folder, &first).unwrap();
    std::fs::create_dir(folder).unwrap();
    std::fs::remove_dir_all(fixture.place()).unwrap();
    fixture.write("other.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["other"]);
    std::fs::rename(folder, second).unwrap();
    std::fs::rename(first, folder).unwrap();
    std::fs::write(manifest(), kept).unwrap();
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
            assert!(error.to_string().contains("the index can't be used"), "{error}");
            None
        }
    });
    assert_eq!(found.total, 2);
    assert_eq!(everything(&fixture.shop), everything(&fixture.afresh("fresh")));
}
