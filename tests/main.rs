//! Tests of the program as a whole, in one binary; what one crate does alone is tested in that crate.

/// The bench sheet read back, and pages as a browser prints them.
mod bench_sheet;
/// A real browser, driven; no test of its own.
mod browser;
/// Which blank for a brief: the same numbers as `try`, and drawings.
mod choosing;
/// Exit codes, streams and JSON of every command.
mod cli;
/// Help, completions, man page and version.
mod cli_help;
/// The commands that write, and the daemon as a process.
mod cli_writes;
/// What the shells themselves complete.
mod completions;
/// Real editors on a real folder, and an editor's language client.
mod editing;
/// The past builds behind a suggestion.
mod evidence;
/// The structure of the workspace: who may depend on whom.
mod house;
/// The page in a real browser.
mod page;
/// A blank in two pieces: marks and flags.
mod pieces;
/// A daemon that begins anew, which the system must tell of.
#[cfg(target_os = "linux")]
mod renewal;
/// The unit for systemd, and what a daemon logs.
mod service;
/// The book kept by small steps: previews, undo, briefs, offcuts.
mod small_steps;
/// The README's tour.
mod tour;
/// A copy of the demo folder and the program run on it; no test of its own.
mod workshop;
