//! Each way in which watching, the disk, the index or the clock may fail, on the real watcher and a real folder.
//!
//! After each of them the promise of `promise.rs` is checked. What the watcher alone makes of ways of saving, trees,
//! names and links is tested with the folder. A test that needs a program or a right that is not there says so and
//! does nothing, and fails where TAPERBOOK_TEST_STRICT is set.

/// Many files at once, folders that move, and an event queue that overflows.
mod bulk;
/// Two hundred clients, slow ones, and more than there are places.
mod clients;
/// Files from the future, and a clock that is set back.
mod clock;
/// Files of the index that are damaged, before a start and under the daemon.
mod damage;
/// A disk that is full, or read-only, and then not any more.
mod disk;
/// Kills at any moment.
mod kills;
/// Limits of the system on watching, and mounts that tell nothing.
mod limits;
/// Names of every kind, conflict copies, and saves that come in two halves.
mod names;
/// The shop folder and the state directory are moved, replaced and deleted.
mod places;
/// Two daemons that want the same folder, and one of another version.
mod rivals;

use std::io::Write as _;
use std::process::{Command, Stdio};

/// Says that a test can't run here, and why; fails where nothing may be skipped.
pub(crate) fn skip(why: &str) {
    assert!(std::env::var_os("TAPERBOOK_TEST_STRICT").is_none(), "skipped: {why}");
    // Standard error is where the test runner shows what a test has to say.
    let _ = writeln!(std::io::stderr(), "skipped: {why}");
}

/// Says that a test can't run because the system lets nobody mount or limit anything; fails where nothing may be skipped, unless
/// `.ci/run` has found that the machine itself forbids it and said so.
pub(crate) fn forbidden(why: &str) {
    if std::env::var_os("TAPERBOOK_TEST_MAY_MOUNT").is_some_and(|may| may == "no") {
        let _ = writeln!(std::io::stderr(), "skipped: {why}");
    } else {
        skip(why);
    }
}

/// Says that permissions don't bind this user; `.ci/run` runs the same tests as one whom they do.
pub(crate) fn not_bound() {
    let _ = writeln!(std::io::stderr(), "skipped: this user may read and write every file");
}

/// Whether a command can be run here and ends well.
pub(crate) fn can(program: &str, arguments: &[&str]) -> bool {
    let mut command = Command::new(program);
    command.args(arguments).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.status().is_ok_and(|status| status.success())
}
