//! The shop folder and the state directory are moved, replaced and deleted under the daemon.

use std::fs;
use std::io::Write as _;

use rustix::process::Signal;
use taperbook_daemon::Progress;

use crate::child::Child;
use crate::fixture::{Fixture, eventually};
use crate::promise::{self, text};

fn shop() -> Fixture {
    let fixture = Fixture::new();
    for number in 0..20 {
        fixture.write(&format!("{}/{number}.md", number % 3), &text(number));
    }
    fixture
}

/// Waits until the daemon can be asked and says that it is live.
#[track_caller]
fn live_again(fixture: &Fixture) {
    eventually("it can be asked again", || is_live(fixture));
}

fn is_live(fixture: &Fixture) -> Option<()> {
    let status = taperbook_daemon::status(&fixture.shop, true).ok()?;
    (status.state == "live").then_some(())
}

#[test]
fn the_shop_folder_deleted_renamed_and_replaced() {
    let fixture = shop();
    let _daemon = fixture.watch();
    promise::check_answers(&fixture);
    let away = fixture.home.path().join("away");
    for round in 0..3 {
        fs::rename(&fixture.shop.folder, &away).unwrap();
        fs::create_dir(&fixture.shop.folder).unwrap();
        fixture.write("other.md", &text(round));
        promise::check_answers(&fixture);
        fs::remove_dir_all(&fixture.shop.folder).unwrap();
        fs::create_dir(&fixture.shop.folder).unwrap();
        promise::check_answers(&fixture);
        fs::remove_dir(&fixture.shop.folder).unwrap();
        fs::rename(&away, &fixture.shop.folder).unwrap();
        promise::check_answers(&fixture);
    }
    assert_eq!(taperbook_daemon::status(&fixture.shop, true).unwrap().state, "live");
    promise::check(&fixture);
}

#[test]
fn the_state_directory_moved_away_and_back() {
    let fixture = shop();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    promise::check_answers(&fixture);
    let state = fixture.shop.state_dir.clone().unwrap();
    let away = fixture.home.path().join("state-away");

    // Moved back before anything happens, nothing has.
    fs::rename(&state, &away).unwrap();
    fs::rename(&away, &state).unwrap();
    fixture.write("0/0.md", &text(100));
    promise::check_answers(&fixture);
    assert_eq!(taperbook_daemon::status(&fixture.shop, true).unwrap().state, "live");

    // Else the daemon begins anew where it belongs, and once more when the old one is back in its place.
    fs::rename(&state, &away).unwrap();
    fixture.write("0/1.md", &text(101));
    daemon.wait_for(|progress| matches!(progress, Progress::Trouble(why) if why.contains("moved")));
    live_again(&fixture);
    promise::check_answers(&fixture);
    fs::rename(&state, fixture.home.path().join("second")).unwrap();
    fs::rename(&away, &state).unwrap();
    fixture.write("0/2.md", &text(102));
    daemon.wait_for(|progress| matches!(progress, Progress::Trouble(why) if why.contains("moved")));
    live_again(&fixture);
    promise::check_answers(&fixture);
    promise::check(&fixture);
    daemon.end().unwrap();
}

#[test]
fn a_daemon_that_is_told_to_end_does_not_begin_anew() {
    let fixture = shop();
    let state = fixture.shop.state_dir.clone().unwrap();
    for signal in [Signal::INT, Signal::TERM] {
        let mut child = Child::start(&fixture);
        child.wait_for("Ready");
        // It sees that its state is elsewhere when it next does something, and here that is to end.
        fs::rename(&state, fixture.home.path().join(format!("away-{signal:?}"))).unwrap();
        child.signal(signal);
        eventually("the daemon ends", || child.has_ended().then_some(()));
        child.ends_well();
    }
    assert!(!state.exists(), "nothing was begun anew");
}

#[test]
fn a_daemon_ends_at_a_signal_while_it_waits_to_begin_anew() {
    let fixture = shop();
    let mut child = Child::start(&fixture);
    child.wait_for("Ready");
    let place = fixture.place();
    fs::rename(&place, fixture.home.path().join("away")).unwrap();
    // Somebody who asks holds the lock of the new state.
    fs::create_dir(&place).unwrap();
    let mut lock = fs::File::create(place.join("lock")).unwrap();
    lock.lock().unwrap();
    lock.write_all(b"ask 1\n").unwrap();
    fixture.write("0/0.md", &text(100));
    child.wait_for("Waiting");
    child.signal(Signal::TERM);
    eventually("the daemon ends", || child.has_ended().then_some(()));
    child.ends_well();
    drop(lock);
    promise::check(&fixture);
}

#[test]
fn the_state_directory_deleted_again_and_again() {
    let fixture = shop();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let state = fixture.shop.state_dir.clone().unwrap();
    for round in 0..4 {
        // Both may make it again at the same moment.
        while let Err(error) = fs::remove_dir_all(&state)
            && error.kind() != std::io::ErrorKind::NotFound
        {}
        fixture.write("0/0.md", &format!("round{round}\n"));
        assert_eq!(fixture.ids(&format!("round{round}")), ["0/0"]);
        promise::check_answers(&fixture);
    }
    // It has come back to life each time.
    live_again(&fixture);
    promise::check(&fixture);
    daemon.end().unwrap();
}

#[test]
fn the_state_directory_moved_and_deleted_while_the_daemon_begins_anew() {
    let fixture = shop();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let state = fixture.shop.state_dir.clone().unwrap();
    let away = fixture.home.path().join("away");
    for round in 0..400_u64 {
        // What moves and deletes follows the daemon closely: it may be anywhere between making a directory and
        // opening what should be in it.
        fixture.write("0/0.md", &text(round));
        if round % 2 == 0 {
            let _ = fs::rename(&state, &away);
            std::thread::sleep(std::time::Duration::from_micros(round * 37 % 3000));
            let _ = fs::remove_dir_all(&state);
            let _ = fs::rename(&away, &state);
            let _ = fs::remove_dir_all(&away);
        } else {
            let _ = fs::remove_dir_all(&state);
            std::thread::sleep(std::time::Duration::from_micros(round * 61 % 3000));
        }
    }
    eventually("it can be asked again", || {
        // With the next change at the latest it sees that it is not where it was.
        fixture.write("0/0.md", "whipping\n");
        is_live(&fixture)
    });
    promise::check(&fixture);
    daemon.end().unwrap();
}

#[test]
fn a_daemon_whose_socket_is_deleted_makes_it_again_when_it_is_asked() {
    let fixture = shop();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    promise::check_answers(&fixture);
    let place = fixture.place();
    let all_but_the_lock = || {
        // As a deletion that stops halfway, since the daemon writes meanwhile.
        for entry in fs::read_dir(&place).unwrap().map(|entry| entry.unwrap()) {
            match entry.file_type().unwrap().is_dir() {
                true => fs::remove_dir_all(entry.path()).unwrap(),
                false if entry.file_name() == "lock" => {}
                false => fs::remove_file(entry.path()).unwrap(),
            }
        }
    };
    let faults: [(&str, &dyn Fn()); 3] = [
        ("the socket", &|| fs::remove_file(place.join("socket")).unwrap()),
        ("where it is", &|| fs::remove_file(place.join("socket-at")).unwrap()),
        ("all but the lock", &all_but_the_lock),
    ];
    for (what, fault) in faults {
        fault();
        // Nothing happens in the folder that would wake it.
        assert_eq!(fixture.find("").total, 20, "{what}");
        eventually("it can be asked again", || {
            let status = taperbook_daemon::status(&fixture.shop, true).ok()?;
            (status.state == "live").then_some(())
        });
        promise::check_answers(&fixture);
    }
    promise::check(&fixture);
    daemon.end().unwrap();
}
