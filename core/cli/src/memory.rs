//! What the daemon gives back to the system of the memory that it needs no more.
//!
//! A first look takes and frees many pieces of a megabyte. The C library of most Linux systems takes that for a habit
//! and keeps pieces of such a size from then on, some tens of them in the daemon. It also keeps what each thread has
//! freed for that thread, though most of them have nothing more to do then: with so many heaps as there are threads, half
//! of what the daemon holds after a first look is free. Both are set by its environment and only before a program
//! begins, so the daemon begins once more, as the same process. Where that can't be done, or whoever starts it has
//! chosen a value, it goes on as it is.
//!
//! What is free in small pieces between what stays is given back by nothing of that. So after a first look the daemon
//! begins anew once more, and leaves to the next program what others must not miss.

use std::ffi::OsString;
use std::io;
use std::os::unix::fs::MetadataExt as _;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use taperbook_daemon::Standing;

use crate::args::{self, Cli};

/// From which size on a piece of memory goes back to the system when it is freed, in bytes.
const THRESHOLD: (&str, &str) = ("MALLOC_MMAP_THRESHOLD_", "262144");
/// Between how many heaps the threads are divided.
const HEAPS: (&str, &str) = ("MALLOC_ARENA_MAX", "2");
/// Names the process that has left something to the program that it begins; its children are others.
const LEFT_BY: &str = "TAPERBOOK_LEFT_BY";

/// Begins this process anew where it is to be a daemon and keeps what it frees.
pub(crate) fn begin_giving_back(arguments: &[OsString]) {
    let is_known = cfg!(all(target_os = "linux", target_env = "gnu"));
    let is_chosen = [THRESHOLD, HEAPS].iter().any(|(name, _)| std::env::var_os(name).is_some());
    if !is_known || is_chosen || !is_daemon(arguments) {
        return;
    }
    let Ok(program) = std::env::current_exe() else { return };
    // It comes back only where it fails, and then the daemon runs as well.
    let _failed = same(&program, arguments).envs([THRESHOLD, HEAPS]).exec();
}

/// Begins this process anew, in this directory, and leaves to it what is standing; comes back only where that fails.
pub(crate) fn begin_anew(arguments: &[OsString], here: &Path, mut standing: Standing) -> Standing {
    let why = try_to_begin_anew(arguments, here, &mut standing);
    standing.kept(&why)
}

/// Takes what the program before this one in this process has left, if it has.
pub(crate) fn left() -> Option<Standing> {
    let left_by = std::env::var(LEFT_BY).ok()?;
    // Where it is lost, so is the lock, and the daemon begins as any other.
    (left_by == std::process::id().to_string()).then(Standing::take)?.ok()
}

fn try_to_begin_anew(arguments: &[OsString], here: &Path, standing: &mut Standing) -> io::Error {
    let mut begin = || {
        let program = unchanged_program()?;
        // A folder may be named from here.
        if std::env::current_dir()? != here {
            return Err(io::ErrorKind::NotFound.into());
        }
        let input = standing.hand_over()?;
        let mut program = same(&program, arguments);
        Ok(program.env(LEFT_BY, std::process::id().to_string()).stdin(input).exec())
    };
    begin().unwrap_or_else(|error| error)
}

/// Gives the file of this program, unless another one is there by now.
fn unchanged_program() -> io::Result<PathBuf> {
    let program = std::env::current_exe()?;
    let at = |path: &Path| path.metadata().map(|metadata| (metadata.dev(), metadata.ino()));
    if at(&program)? != at(Path::new("/proc/self/exe"))? {
        return Err(io::ErrorKind::NotFound.into());
    }
    Ok(program)
}

/// This program with these arguments, the first of which is what it was called by.
fn same(program: &Path, arguments: &[OsString]) -> Command {
    let mut words = arguments.iter();
    let mut command = Command::new(program);
    if let Some(called) = words.next() {
        command.arg0(called);
    }
    command.args(words);
    command
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
