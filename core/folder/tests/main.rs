//! Tests of the folder on real temporary folders and, where a watcher is needed, on a real one.
//!
//! Every wait is for something to happen; its deadline is only there so that a failure does not
//! hang. The promise that most of them end with is [`shop::Shop::check_fresh`]: what was built
//! up from events equals what a first scan finds.

/// A shop folder under test, and what a reader of the watcher's events holds of it.
mod shop;

/// What a scan tells without any watcher: keys, touches, sizes, special files.
mod scanning;

/// The ways in which editors save.
mod saving;

/// Directories that come, go and move.
mod trees;

/// Names of every kind, and links.
mod names;

/// The shop folder itself goes away and comes back.
mod root;

/// The fence, alone and under load.
mod fence;
