//! What a daemon or a question reports while it works, for somebody else to show; nothing is shown here.

use std::net::SocketAddr;
use std::time::Duration;

use tracing::{debug, info, trace, warn};

/// How far it is.
#[derive(Debug, Clone, PartialEq)]
pub enum Progress {
    /// Another command holds the index for a moment; a question waits for it.
    Waiting {
        /// The process that holds it, when it left its number.
        pid: Option<u32>,
    },
    /// Files are being looked at and those that changed are read.
    Scanning {
        /// How many were read so far.
        read: usize,
        /// How many there are to read, about; known where the index is new.
        of: Option<usize>,
    },
    /// The numbers and flags of records are being worked out.
    Examining {
        /// How many records are left.
        left: usize,
        /// How many there were to begin with.
        of: usize,
    },
    /// A page is served on the loopback.
    Page {
        /// Where a browser finds it.
        address: SocketAddr,
        /// The path there that gives a browser the pen, which lets it write; new at every start.
        pen_path: String,
    },
    /// Everything that was in the folder at the start is in the index.
    Ready {
        /// How many records are indexed.
        records: usize,
        /// How many problems they have.
        problems: usize,
        /// How many flags they have.
        flags: usize,
        /// Since the start.
        took: Duration,
    },
    /// A commit took in changes of the folder; the daemon alone says so, and only after it was ready.
    Changed {
        /// Paths in the shop folder that were read anew, in the order of finding.
        written: Vec<String>,
        /// Paths that are gone.
        removed: Vec<String>,
        /// Paths that can't be read, each with the reason.
        unreadable: Vec<(String, String)>,
        /// How many problems there are now.
        problems: usize,
        /// How many flags there are now.
        flags: usize,
    },
    /// The daemon follows the folder in another way than before.
    State {
        /// `live`, `scanning`, `polling` or `degraded`.
        state: String,
        /// Why it is not live.
        why: Option<String>,
    },
    /// Something went wrong that the daemon lives with.
    Trouble(String),
    /// The daemon was told to stop and finishes what it holds.
    Stopping,
}

impl Progress {
    /// Writes it down for whoever reads the log.
    pub(crate) fn log(&self) {
        match self {
            Self::Waiting { pid } => info!(pid, "another command holds the index"),
            Self::Scanning { read, of } => trace!(read, of, "reading"),
            Self::Examining { left, of } => trace!(left, of, "working out numbers"),
            // Who reads a log may not write by it.
            Self::Page { address, pen_path: _ } => info!(%address, "a page is served"),
            Self::Ready { records, problems, flags, took } => {
                info!(records, problems, flags, ?took, "ready");
            }
            Self::Changed { written, removed, unreadable, problems, flags } => {
                debug!(?written, ?removed, ?unreadable, problems, flags, "changed");
            }
            Self::State { state, why } => info!(state, why, "the state is another one"),
            Self::Trouble(what) => warn!("{what}"),
            Self::Stopping => info!("stopping"),
        }
    }
}
