//! Limits of the system on watching, and mounts that tell nothing of what is written behind them.

use std::fs;
use std::process::Command;

use super::{can, forbidden};
use crate::child::Child;
use crate::fixture::Fixture;
use crate::promise::{self, text};

/// Runs this test binary where only so many directories may be watched.
fn limited(n_watches: usize) -> Option<Command> {
    let limit = |n_watches| format!("echo {n_watches} > /proc/sys/user/max_inotify_watches");
    if !can("unshare", &["-Ur", "sh", "-c", &limit(100)]) {
        forbidden("no user namespace can be made to limit the watches in");
        return None;
    }
    let mut command = Command::new("unshare");
    command.args(["-Ur", "sh", "-c", &format!("{} && exec \"$0\" \"$@\"", limit(n_watches))]);
    command.arg(std::env::current_exe().unwrap());
    Some(command)
}

#[test]
fn the_limit_of_watches_is_reached() {
    // None at all, the fences alone, some of the folder.
    for n_watches in [0, 1, 4] {
        let fixture = Fixture::new();
        for number in 0..24 {
            fixture.write(&format!("{}/{}/{number}.md", number % 4, number % 3), &text(number));
        }
        let Some(command) = limited(n_watches) else { return };
        let child = Child::start_by(&fixture, command);
        let status = taperbook_daemon::status(&fixture.shop, true).unwrap();
        let why = status.why.unwrap_or_default();
        assert_eq!(status.state, "degraded", "{n_watches}: {why}");
        assert!(why.contains("fs.inotify.max_user_watches"), "{n_watches}: {why}");
        for round in 0..5 {
            fixture.write(&format!("{round}/new/deep/{round}.md"), &text(round + 50));
            fixture.write("3/2/11.md", &text(round + 60));
            fs::remove_file(fixture.path(&format!("{}/{}/{round}.md", round % 4, round % 3)))
                .unwrap();
            promise::check_answers(&fixture);
        }
        promise::check(&fixture);
        child.ends_well();
    }
}

#[test]
fn a_mount_that_tells_nothing_is_polled_and_says_so() {
    let fixture = Fixture::new();
    let behind = fixture.home.path().join("behind");
    fs::create_dir(&behind).unwrap();
    for number in 0..20 {
        fs::write(behind.join(format!("{number}.md")), text(number)).unwrap();
    }
    let (from, to) = (behind.to_str().unwrap(), fixture.shop.folder.to_str().unwrap());
    // Nothing is kept by the kernel, so that what is written behind is there at once.
    let options = "attr_timeout=0,entry_timeout=0,negative_timeout=0,no-allow-other";
    if !can("bindfs", &["-o", options, from, to]) && !can("bindfs", &["--no-allow-other", from, to])
    {
        return forbidden("no FUSE mount can be made (Debian: `bindfs`)");
    }
    let mount = Mount(&fixture);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let status = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!(status.state, "polling");
    assert_eq!(status.why.as_deref(), Some("`fuse` does not tell of changes made elsewhere"));
    for round in 0..5 {
        // Behind the mount there is no event, and through it there is none either.
        fs::write(behind.join("late.md"), format!("round{round}\n")).unwrap();
        assert_eq!(fixture.ids(&format!("round{round}")), ["late"]);
        fs::remove_file(behind.join(format!("{round}.md"))).unwrap();
        fixture.write(&format!("through/{round}.md"), &text(round));
        promise::check_answers(&fixture);
    }
    promise::check(&fixture);
    daemon.end().unwrap();
    drop(mount);
}

/// A mount over the shop folder; it is taken away when this is dropped.
struct Mount<'a>(&'a Fixture);

impl Drop for Mount<'_> {
    fn drop(&mut self) {
        let folder = self.0.shop.folder.to_str().unwrap();
        let _ = taperbook_daemon::stop(&self.0.shop);
        assert!(can("fusermount", &["-uz", folder]) || can("umount", &["-l", folder]));
    }
}

/// What is mounted over the watched directory of the fences has no event for them.
#[test]
fn a_fence_without_its_event_is_answered_by_a_scan() {
    let fixture = Fixture::new();
    let child = Child::start(&fixture);
    promise::check_answers(&fixture);
    let fences = fixture.place().join("fence");
    let over = fences.to_str().unwrap();
    if !can("mount", &["-t", "tmpfs", "tmpfs", over]) {
        return forbidden("nothing may be mounted here");
    }
    fixture.write("late.md", &text(1));
    let status = taperbook_daemon::status(&fixture.shop, true);
    assert!(can("umount", &["-l", over]));
    assert_eq!(status.unwrap().records, 1);
    child.wait_for("an event that had to come did not");
    promise::check(&fixture);
    child.ends_well();
}
