//! Keeps an engine in step with a shop folder, and answers questions about it.
//!
//! [`watch`] is the daemon: it follows the folder until it is told to stop, and answers over a unix socket.
//! [`ask`] is the one way to a question's answer: it asks the daemon, and where none runs it opens the index
//! itself, brings it up to date and answers with the same function of the engine.
//! Nothing here knows a tantivy type, reads a record or prints, and nothing here writes into the shop folder.
//!
//! ```
//! use taperbook_daemon::{Shop, ask};
//! use taperbook_engine::{Answer, Request};
//!
//! let place = tempfile::tempdir()?;
//! let folder = place.path().join("shop");
//! std::fs::create_dir(&folder)?;
//! std::fs::write(folder.join("glue.md"), "# Glue\n\nSlow epoxy sets overnight.\n")?;
//!
//! let shop = Shop { folder, state_dir: Some(place.path().join("state")), plugins: Vec::new };
//! let request = Request::Find { query: "epoxy".into(), limit: 20 };
//! let Answer::Find(found) = ask(&shop, &request, |_| {})? else { panic!("find answers find") };
//! assert_eq!(found.total, 1);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod ask;
mod board;
mod census;
mod client;
mod desk;
mod doors;
mod error;
mod event;
mod files;
mod follow;
mod follower;
mod inbox;
mod keeper;
mod listen;
mod lock;
mod pace;
mod page;
mod place;
mod precedence;
mod progress;
mod quiet;
mod renewal;
mod reopen;
mod serve;
mod shop;
mod socket;
mod standing;
mod stop;
mod watch;
mod wire;

pub use error::{AskError, DaemonError, StateError};
pub use progress::Progress;
pub use shop::Shop;
pub use standing::Standing;

use taperbook_engine::{Answer, Request, StatusAnswer};

/// Follows a shop folder until SIGINT, SIGTERM or [`stop`], and answers over the socket.
///
/// With a `page` it also serves one to browsers on this machine, at that port of the loopback, or any free one for 0.
/// It calls `report` from several threads.
///
/// # Errors
/// When another daemon does so already, or the folder, the state directory, the index or the port can't be used.
pub fn watch(
    shop: &Shop,
    page: Option<u16>,
    report: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<(), DaemonError> {
    let setting = watch::Setting { page, ..watch::Setting::default() };
    watch::watch(shop, setting, report).map(|_standing| ())
}

/// As [`watch`], for a process that is the daemon and nothing else.
///
/// After much work most of the memory of a process is free between what stays, and no allocator gives that back. So
/// when everything of a large folder was read it gives what stays open, and the process is to begin anew as the same
/// program, which hands that to this function again: see [`Standing`]. `None` means that it was told to stop.
///
/// # Errors
/// As [`watch`].
pub fn watch_as_process(
    shop: &Shop,
    page: Option<u16>,
    standing: Option<Standing>,
    report: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<Option<Standing>, DaemonError> {
    let setting = watch::Setting { page, standing, may_renew: true, ..watch::Setting::default() };
    watch::watch(shop, setting, report)
}

/// Answers a question with everything that was written before now.
///
/// A daemon is asked where one runs. Else the index is opened, brought up to date and kept for the next time.
/// What the engine refuses, such as a query with a mistake in it, is an answer too: [`Answer::Refused`].
///
/// # Errors
/// When the folder or the state directory can't be used, or a daemon could not answer in time:
/// an old answer is never given instead.
pub fn ask(shop: &Shop, request: &Request, report: impl Fn(Progress)) -> Result<Answer, AskError> {
    ask::ask(shop, request, &report)
}

/// Says how the daemon is; its state is `none` where none runs, and the counts are then those of the index.
///
/// With `wait` it says so when everything written before now was taken in; without a daemon that means that the
/// index is brought up to date first.
///
/// # Errors
/// As [`ask`].
pub fn status(shop: &Shop, wait: bool) -> Result<StatusAnswer, AskError> {
    ask::status(shop, wait)
}

/// Makes, or finds, the directory in which all that is kept about a shop folder lies; nobody but its owner may enter it.
///
/// # Errors
/// When the folder or the state directory can't be used.
pub fn state_dir(shop: &Shop) -> Result<std::path::PathBuf, StateError> {
    let place = place::Place::of(shop)?;
    place.make()?;
    Ok(place.dir().to_owned())
}

/// Ends the daemon and waits until it is gone; says whether there was one.
///
/// # Errors
/// When a daemon does not answer, or does not end within a minute.
pub fn stop(shop: &Shop) -> Result<bool, AskError> {
    ask::stop(shop)
}
