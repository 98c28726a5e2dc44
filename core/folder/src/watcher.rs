//! The watcher as its caller sees it: starting it, its events, its state and the fence.
//!
//! What it does is in `watch_loop`.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use crate::fence::Fences;
use crate::source::{MakeSource, system_source};
use crate::watch_loop::{Message, WatchLoop};
use crate::{Dirty, Folder, Settle};

/// Watches a shop folder on a thread of its own until it is dropped.
///
/// It sends [`Event`]s and reads no record.
/// It watches each directory by itself, asks for a full scan when it may have missed something,
/// and polls what can't be watched.
///
/// ```
/// use taperbook_folder::{Dirty, Event, Folder, Manifest, Settle, Watcher};
///
/// let (shop, state) = (tempfile::tempdir()?, tempfile::tempdir()?);
/// let folder = Folder::open(shop.path())?;
/// let (watcher, events) = Watcher::start(&folder, state.path(), Settle::default())?;
///
/// std::fs::write(shop.path().join("grinder.md"), "Wear the face shield.\n")?;
/// let fence = watcher.fence()?;
///
/// let (mut manifest, mut n_changes) = (Manifest::default(), 0);
/// for event in events {
///     match event {
///         Event::Dirty(dirty) => folder.reconcile(&mut manifest, &dirty, |_| n_changes += 1)?,
///         Event::Fence(number) if number == fence => break,
///         _ => {}
///     }
/// }
/// assert_eq!(n_changes, 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Watcher {
    messages: Sender<Message>,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// What a watcher tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Event {
    /// Look here. The first one is [`Dirty::Everything`].
    Dirty(Dirty),
    /// Everything written before [`Watcher::fence`] gave this number is in an earlier
    /// [`Event::Dirty`]. It may come twice.
    Fence(u64),
    /// Something is wrong, in words for the builder; the watcher goes on, see [`Watcher::mode`].
    Trouble(String),
}

/// How well the folder is watched.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mode {
    /// Every change is seen at once.
    Live,
    /// The whole folder is looked through again every few seconds.
    Polling {
        /// Why.
        why: String,
    },
    /// Some of it is looked through again every few seconds, the rest is watched.
    Degraded {
        /// Why.
        why: String,
        /// The directories that are polled, relative to the shop folder, `.` for the folder
        /// itself.
        directories: Vec<String>,
    },
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Live => f.write_str("live"),
            Self::Polling { why } => write!(f, "polling: {why}"),
            Self::Degraded { why, directories } => {
                const MOST: usize = 3;
                let shown: Vec<_> =
                    directories.iter().take(MOST).map(|name| format!("`{name}`")).collect();
                write!(f, "degraded: {why}: {}", shown.join(", "))?;
                match directories.len().saturating_sub(MOST) {
                    0 => Ok(()),
                    n_more => write!(f, " and {n_more} more"),
                }
            }
        }
    }
}

/// Why watching can't begin, or a fence can't be asked for.
#[derive(Debug, thiserror::Error)]
pub enum WatchError {
    /// The state directory can't be made or written.
    #[error("can't use the state directory `{}`; check its permissions", .path.display())]
    State {
        /// The directory.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The state directory is inside the shop folder, where nothing is ever written.
    #[error("the state directory `{}` is inside the shop folder; choose one outside it", .path.display())]
    StateInside {
        /// The directory.
        path: PathBuf,
    },
    /// The system has no thread left.
    #[error("can't start a thread to watch the folder")]
    Thread(#[source] io::Error),
    /// The watcher has ended; start a new one.
    #[error("the watcher of the shop folder has ended; start it again")]
    Ended,
}

/// What the watcher and its loop both hold.
#[derive(Debug)]
pub(crate) struct Shared {
    pub(crate) fences: Fences,
    mode: Mutex<Mode>,
    /// Whether the fence directory is watched, so that a fence has an event.
    pub(crate) is_fence_watched: AtomicBool,
}

impl Watcher {
    /// Starts watching; when this returns, every directory is watched that can be.
    ///
    /// `state` is a directory outside the shop folder for the fence; it is made if it is
    /// missing. No other watcher may use it at the same time.
    ///
    /// A folder that can't be watched is no error: it is polled, and [`Self::mode`] says so.
    ///
    /// # Errors
    /// When the state directory can't be used.
    pub fn start(
        folder: &Folder,
        state: &Path,
        settle: Settle,
    ) -> Result<(Self, Receiver<Event>), WatchError> {
        Self::start_with(folder, state, settle, Box::new(system_source))
    }

    pub(crate) fn start_with(
        folder: &Folder,
        state: &Path,
        settle: Settle,
        make_source: MakeSource,
    ) -> Result<(Self, Receiver<Event>), WatchError> {
        let unusable = |source| WatchError::State { path: state.to_path_buf(), source };
        let inside = |path: &Path| {
            let root = folder.root().canonicalize();
            path.canonicalize().is_ok_and(|path| root.is_ok_and(|root| path.starts_with(root)))
        };
        // A missing state directory is judged by the part of its path that is there.
        let absolute = std::path::absolute(state).map_err(unusable)?;
        if absolute.ancestors().find(|path| path.exists()).is_some_and(inside) {
            return Err(WatchError::StateInside { path: state.to_path_buf() });
        }
        let shared = Arc::new(Shared {
            fences: Fences::open(state).map_err(unusable)?,
            mode: Mutex::new(Mode::Live),
            is_fence_watched: AtomicBool::new(false),
        });
        let (messages, inbox) = channel();
        let (outbox, events) = channel();
        let watch_loop = WatchLoop::start(
            folder.clone(),
            settle,
            Arc::clone(&shared),
            make_source,
            (messages.clone(), inbox),
            outbox,
        );
        let thread = std::thread::Builder::new()
            .name("watch-folder".to_owned())
            .spawn(|| watch_loop.run())
            .map_err(WatchError::Thread)?;
        Ok((Self { messages, shared, thread: Some(thread) }, events))
    }

    /// Asks to be told when everything written before now was seen, and gives the number of the
    /// [`Event::Fence`] that will say so.
    ///
    /// What still settles is told before that event without waiting: the caller asked for what
    /// is there now. A record that was emptied a moment ago is the exception, and the caller's
    /// to wait for: see [`Manifest::emptied`](crate::Manifest::emptied).
    /// Where not everything is watched, the rest is marked dirty first.
    ///
    /// # Errors
    /// When the watcher has ended. A caller still sets itself a deadline for the event.
    pub fn fence(&self) -> Result<u64, WatchError> {
        let (number, raised) = self.shared.fences.raise();
        // The order matters: the loop sets this flag before it looks for fences that stand, so
        // one that was raised too early for an event is found standing.
        let has_event = raised.is_ok() && self.shared.is_fence_watched.load(Ordering::SeqCst);
        // Where there is no event, as on a full disk, a full scan answers.
        let message = if has_event { Message::Wake } else { Message::Fence(number) };
        self.messages.send(message).map_err(|_| WatchError::Ended)?;
        Ok(number)
    }

    /// Has the folder watched anew if a fence is still not answered, as where its event was lost: then it is
    /// answered by a full scan.
    ///
    /// For a caller that has waited longer for it than an event ever takes.
    pub fn overdue(&self, number: u64) {
        // Where the loop has ended the next fence says so.
        let _ = self.messages.send(Message::Overdue(number));
    }

    /// How well the folder is watched now.
    pub fn mode(&self) -> Mode {
        self.shared.mode()
    }
}

impl Drop for Watcher {
    fn drop(&mut self) {
        // The loop may have ended already; then there is nobody to tell.
        let _ = self.messages.send(Message::Stop);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Shared {
    pub(crate) fn mode(&self) -> Mode {
        self.mode.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Sets the mode and tells whether it is another one.
    pub(crate) fn set_mode(&self, mode: &Mode) -> bool {
        let mut held = self.mode.lock().unwrap_or_else(PoisonError::into_inner);
        let is_other = *held != *mode;
        held.clone_from(mode);
        is_other
    }
}
