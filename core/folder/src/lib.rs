//! Scans a shop folder and watches it.
//!
//! Three things are here.
//! [`Folder::reconcile`] compares what is on the disk with a [`Manifest`] and says what changed.
//! [`Watcher`] says where to look, and when.
//! [`is_record`] says which files count.
//!
//! Events are hints: a [`Watcher`] only marks paths [`Dirty`], and the truth comes from a look at
//! the disk. So the same function serves events, a full scan and a client who asks.
//!
//! This crate reads bytes and never parses them.
//! It writes nothing in the shop folder.
//! It knows no other crate of the project, and it is the only one that knows the library which
//! gets file events from the system.
//!
//! ```
//! use taperbook_folder::{Change, Dirty, Folder, Manifest};
//!
//! let shop = tempfile::tempdir()?;
//! std::fs::write(shop.path().join("grinder.md"), "Wear the face shield.\n")?;
//!
//! let folder = Folder::open(shop.path())?;
//! let mut manifest = Manifest::default();
//! let mut names = Vec::new();
//! folder.reconcile(&mut manifest, &Dirty::Everything, |change| {
//!     if let Change::Written { path, bytes, .. } = change {
//!         names.push((path.to_string(), bytes.len()));
//!     }
//! })?;
//! assert_eq!(names, [("grinder.md".to_owned(), 22)]);
//!
//! // A second look finds nothing new.
//! folder.reconcile(&mut manifest, &Dirty::Everything, |change| panic!("{change:?}"))?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod change;
mod coverage;
mod entries;
mod fence;
mod filesystem;
mod folder;
mod manifest;
mod manifest_file;
mod packed;
mod path;
mod read;
mod reconcile;
#[cfg(test)]
mod reconcile_tests;
mod scout;
mod settle;
mod source;
mod watch_loop;
#[cfg(test)]
mod watch_tests;
mod watcher;

pub use change::{Change, Dirty};
pub use fence::knock;
pub use folder::{Folder, FolderError};
pub use manifest::{Key, Manifest};
pub use manifest_file::{ManifestError, Writing};
pub use path::{RecordPath, is_conflict_copy, is_record};
pub use read::LARGEST_RECORD;
pub use settle::Settle;
pub use watcher::{Event, Mode, WatchError, Watcher};
