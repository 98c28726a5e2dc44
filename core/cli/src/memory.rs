//! What the daemon's allocator gives back to the system.
//!
//! A first look takes and frees many pieces of a megabyte. The C library of most Linux systems takes that for a habit
//! and keeps pieces of such a size from then on, some tens of them in the daemon. It also keeps what each thread has
//! freed for that thread, though most of them have nothing more to do then: with so many heaps as there are threads, half
//! of what the daemon holds after a first look is free. Both are set by its environment and only before a program
//! begins, so the daemon begins once more, as the same process. Where that can't be done, or whoever starts it has
//! chosen a value, it goes on as it is.

use std::ffi::OsString;
use std::os::unix::process::CommandExt as _;
use std::process::Command;

use crate::args::{self, Cli};

/// From which size on a piece of memory goes back to the system when it is freed, in bytes.
const THRESHOLD: (&str, &str) = ("MALLOC_MMAP_THRESHOLD_", "262144");
/// Between how many heaps the threads are divided.
const HEAPS: (&str, &str) = ("MALLOC_ARENA_MAX", "2");

/// Begins this process anew where it is to be a daemon and keeps what it frees.
pub(crate) fn begin_giving_back(arguments: &[OsString]) {
    let is_known = cfg!(all(target_os = "linux", target_env = "gnu"));
    let is_chosen = [THRESHOLD, HEAPS].iter().any(|(name, _)| std::env::var_os(name).is_some());
    if !is_known || is_chosen || !is_daemon(arguments) {
        return;
    }
    let Ok(program) = std::env::current_exe() else { return };
    let mut words = arguments.iter();
    let mut command = Command::new(program);
    if let Some(called) = words.next() {
        command.arg0(called);
    }
    // It comes back only where it fails, and then the daemon runs as well.
    let _failed = command.args(words).envs([THRESHOLD, HEAPS]).exec();
}

fn is_daemon(arguments: &[OsString]) -> bool {
    // Most commands are told by their words alone.
    arguments.iter().any(|word| word == "watch")
        && Cli::read(arguments.to_vec(), clap::ColorChoice::Never)
            .is_ok_and(|cli| matches!(cli.command, args::Command::Watch { .. }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_daemon_begins_anew() {
        let check = |words: &[&str], expected| {
            let words: Vec<OsString> = words.iter().map(OsString::from).collect();
            assert_eq!(is_daemon(&words), expected, "{words:?}");
        };
        check(&["taperbook", "watch", "shop"], true);
        check(&["taperbook", "--folder", "shop", "watch", "--page", "0"], true);
        check(&["taperbook", "find", "watch"], false);
        check(&["taperbook", "watch", "--no-such"], false);
        check(&["taperbook"], false);
    }
}
