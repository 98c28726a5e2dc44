//! The command line: it reads arguments, asks the daemon, prints the answer and gives an exit code.
//!
//! It is the only crate that prints.
//! Every question goes through [`taperbook_daemon::ask`], so that there is one way of answering;
//! nothing here searches, computes or judges a record.
//!
//! ```
//! use std::process::ExitCode;
//!
//! let place = tempfile::tempdir()?;
//! std::fs::write(place.path().join("shop.yaml"), "name: a shop of one\n")?;
//! let folder = place.path().as_os_str();
//! let run = |words: &[&str]| {
//!     let state = place.path().with_extension("state");
//!     let mut arguments = vec!["taperbook".into(), "--folder".into(), folder.into(), "--state-dir".into(), state.into()];
//!     arguments.extend(words.iter().map(Into::into));
//!     taperbook_cli::run_with(arguments, Vec::new)
//! };
//! assert_eq!(run(&["new", "blank", "heron-704"]), ExitCode::SUCCESS);
//! assert_eq!(run(&["show", "heron-704"]), ExitCode::SUCCESS);
//! assert_eq!(run(&["show", "wren-601"]), ExitCode::from(2));
//! # std::fs::remove_dir_all(place.path().with_extension("state"))?;
//! # Ok::<(), std::io::Error>(())
//! ```

mod args;
mod choose;
mod choose_args;
mod completions;
mod failure;
mod help;
mod job;
mod job_args;
mod locate;
mod log;
mod log_args;
mod log_item;
mod log_undo;
mod logging;
mod man;
mod memory;
mod names;
mod new;
mod new_args;
mod new_brief;
mod paper;
mod progress;
mod render;
mod run;
mod screen;
mod style;

use std::ffi::OsString;
use std::process::ExitCode;

use taperbook_plugin::Plugin;

/// Does what the arguments of this process say.
///
/// The exit code is 0 when it is done, 1 when `check` found something, 2 when it could not be done.
pub fn run(plugins: fn() -> Vec<Box<dyn Plugin>>) -> ExitCode {
    let arguments: Vec<OsString> = std::env::args_os().collect();
    memory::begin_giving_back(&arguments);
    run::run(arguments, plugins, run::Life::Process).into()
}

/// Does what these arguments say, the first of which is the program's name.
pub fn run_with(arguments: Vec<OsString>, plugins: fn() -> Vec<Box<dyn Plugin>>) -> ExitCode {
    run::run(arguments, plugins, run::Life::Call).into()
}
