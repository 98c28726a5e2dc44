//! A disk that is full, or read-only, and then not any more: the index's own, and that of a question without a daemon.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;

use taperbook_daemon::Progress;
use taperbook_engine::{Answer, Request};

use super::{can, forbidden};
use crate::fixture::{Fixture, eventually};
use crate::promise::{self, CARD, text};

/// A small disk of its own for the state; it is taken away when this is dropped.
struct Disk(String);

impl Disk {
    fn mount(fixture: &Fixture, size: &str) -> Option<Self> {
        Self::mount_at(&fixture.shop.state_dir.clone().unwrap(), size)
    }

    fn mount_at(place: &Path, size: &str) -> Option<Self> {
        fs::create_dir_all(place).unwrap();
        let path = place.to_str().unwrap();
        if !can("mount", &["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs", path]) {
            forbidden("no small disk can be mounted: that takes the rights of root");
            return None;
        }
        Some(Self(path.to_owned()))
    }

    fn remount(&self, options: &str) {
        assert!(can("mount", &["-o", &format!("remount,{options}"), &self.0]));
    }

    /// Takes all the room there is but for some KiB.
    fn fill(&self, but: u64) {
        let ballast = Path::new(&self.0).join("ballast");
        let stat = rustix::fs::statvfs(&*self.0).unwrap();
        let room = (stat.f_bavail * stat.f_frsize).saturating_sub(but * 1024);
        fs::write(ballast, vec![1; usize::try_from(room).unwrap()]).unwrap();
    }

    fn free(&self) {
        fs::remove_file(Path::new(&self.0).join("ballast")).unwrap();
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = can("umount", &["-l", &self.0]);
    }
}

fn shop() -> Fixture {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    for number in 0..30 {
        fixture.write(&format!("{number}.md"), &text(number));
    }
    fixture
}

fn ask(fixture: &Fixture, query: &str) -> Result<usize, String> {
    match fixture.ask(&Request::Find { query: query.to_owned(), limit: 1 }) {
        Ok(Answer::Find(found)) => Ok(found.total),
        Ok(other) => panic!("{other:?}"),
        Err(error) => {
            let mut text = error.to_string();
            let mut source = std::error::Error::source(&error);
            while let Some(cause) = source {
                text.push_str(&format!(": {cause}"));
                source = cause.source();
            }
            Err(text)
        }
    }
}

#[test]
fn a_full_disk_under_the_daemon_is_told_and_got_over() {
    let fixture = shop();
    let Some(disk) = Disk::mount(&fixture, "6m") else { return };
    fill_under_the_daemon(&fixture, &disk);
    drop(disk);
}

#[test]
fn a_full_disk_of_the_index_alone_is_told_and_got_over() {
    let fixture = shop();
    promise::check(&fixture);
    let Some(disk) = Disk::mount_at(&fixture.place().join("engine"), "6m") else { return };
    fill_under_the_daemon(&fixture, &disk);
    drop(disk);
    promise::check(&fixture);
}

/// Fills the disk under a daemon, sees that it says so and gives no wrong answer, and that it goes on with room.
fn fill_under_the_daemon(fixture: &Fixture, disk: &Disk) {
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    promise::check_answers(fixture);
    // Full to the last byte, and with room for a part of a commit.
    for (round, room) in [0, 8, 24].into_iter().enumerate() {
        disk.fill(room);
        let error = eventually("the disk is too full for a commit", || {
            for number in 0..30 {
                fixture.write(&format!("{number}.md"), &text(number + 1000));
            }
            fixture.write("fresh.md", &format!("round{round}\n"));
            // An answer is right, as long as there is one.
            match ask(fixture, &format!("round{round}")) {
                Ok(total) => {
                    assert_eq!(total, 1);
                    fs::remove_file(fixture.path("fresh.md")).unwrap();
                    None
                }
                Err(error) => Some(error),
            }
        });
        let words = "the disk that holds the index is full: free some space for `";
        assert!(error.contains(words), "{error}");
        let status = taperbook_daemon::status(&fixture.shop, false).unwrap();
        assert_eq!(status.state, "degraded");
        assert!(status.why.unwrap_or_default().contains(words));
        disk.free();
        let total = eventually("it goes on", || ask(fixture, &format!("round{round}")).ok());
        assert_eq!(total, 1);
        promise::check_answers(fixture);
        assert_eq!(taperbook_daemon::status(&fixture.shop, true).unwrap().state, "live");
    }
    promise::check(fixture);
    daemon.end().unwrap();
}

#[test]
fn a_full_disk_is_told_by_a_question_without_a_daemon() {
    let fixture = shop();
    let Some(disk) = Disk::mount(&fixture, "3m") else { return };
    assert_eq!(ask(&fixture, ""), Ok(31));
    disk.fill(0);
    fixture.write("fresh.md", "whipping fresh\n");
    let error = ask(&fixture, "fresh").unwrap_err();
    assert!(
        error.contains("the disk that holds the index is full: free some space for `"),
        "{error}"
    );
    disk.free();
    assert_eq!(ask(&fixture, "fresh"), Ok(1));
    promise::check(&fixture);

    // A disk that is too small from the start.
    drop(disk);
    let Some(disk) = Disk::mount(&fixture, "16k") else { return };
    let error = ask(&fixture, "fresh").unwrap_err();
    assert!(error.contains("full") || error.contains("No space left"), "{error}");
    drop(disk);
    promise::check(&fixture);
}

#[test]
fn a_read_only_disk_is_told_by_a_question() {
    let fixture = shop();
    let Some(disk) = Disk::mount(&fixture, "6m") else { return };
    assert_eq!(ask(&fixture, ""), Ok(31));
    disk.remount("ro");
    fixture.write("fresh.md", "whipping fresh\n");
    let error = ask(&fixture, "fresh").unwrap_err();
    assert!(error.contains("which belongs to the index") && error.contains("Read-only"), "{error}");
    let error = taperbook_daemon::watch(&fixture.shop, None, |_| {}).unwrap_err();
    assert!(error.to_string().contains("which belongs to the index"), "{error}");
    disk.remount("rw");
    assert_eq!(ask(&fixture, "fresh"), Ok(1));
    promise::check(&fixture);
}

#[test]
fn an_index_that_may_not_be_written_under_the_daemon_is_told_and_got_over() {
    let fixture = shop();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let index = fixture.engine().join("index");
    let permit = |mode| fs::set_permissions(&index, fs::Permissions::from_mode(mode)).unwrap();
    permit(0o555);
    if fs::write(index.join("probe"), "").is_ok() {
        return super::not_bound();
    }
    fixture.write("fresh.md", "whipping fresh\n");
    let error = ask(&fixture, "fresh").unwrap_err();
    assert!(error.contains("its disk not read-only"), "{error}");
    permit(0o755);
    assert_eq!(eventually("it goes on", || ask(&fixture, "fresh").ok()), 1);
    daemon.wait_for(
        |progress| matches!(progress, Progress::Trouble(why) if why.contains("read-only")),
    );
    promise::check(&fixture);
    daemon.end().unwrap();
}
