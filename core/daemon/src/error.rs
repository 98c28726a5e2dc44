//! Why a daemon could not run, or a question could not be put; what an engine refuses is an answer, not an error.

use std::io;
use std::path::PathBuf;

use taperbook_engine::EngineError;
use taperbook_folder::{FolderError, WatchError};

/// What is wrong with the directory that holds index, lock and socket of a shop folder.
#[derive(Debug, thiserror::Error)]
pub enum StateError {
    /// The platform names no place for it.
    #[error(
        "there is no home directory to keep the index in; set `XDG_STATE_HOME` to a directory of yours"
    )]
    NoHome,
    /// It would be part of what is watched.
    #[error(
        "the index would lie in `{}`, inside the shop folder `{}`; set `XDG_STATE_HOME` to a directory outside, \
         or keep the records in a folder of their own",
        dir.display(), folder.display()
    )]
    InsideFolder {
        /// Where it would be.
        dir: PathBuf,
        /// The shop folder.
        folder: PathBuf,
    },
    /// A file of it can't be made, read or written.
    #[error("can't use `{}`, which belongs to the index", path.display())]
    Unusable {
        /// The file or directory.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A directory for the socket is somebody else's.
    #[error("`{}` belongs to somebody else or others may enter it; remove it", path.display())]
    NotOurs {
        /// The directory.
        path: PathBuf,
    },
    /// No place for the socket has a path that is short enough.
    #[error("`{}` is too long for a socket's path; set `TMPDIR` to a directory with a short path", path.display())]
    PathTooLong {
        /// The shortest that there is.
        path: PathBuf,
    },
}

/// Why a daemon ended, or did not begin.
#[derive(Debug, thiserror::Error)]
pub enum DaemonError {
    /// The shop folder can't be used.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// The state directory can't be used.
    #[error(transparent)]
    State(#[from] StateError),
    /// Another daemon follows the same shop folder.
    #[error(
        "a daemon already watches this folder{}; end it with `taperbook stop`",
        pid.map_or_else(String::new, |pid| format!(" (process {pid})"))
    )]
    AlreadyRunning {
        /// Its process, when it left its number.
        pid: Option<u32>,
    },
    /// The shop folder can't be watched, not even by looking at it again and again.
    #[error("can't watch the folder")]
    Watch(#[source] WatchError),
    /// The index can't be opened.
    #[error("can't open the index")]
    Engine(#[source] EngineError),
    /// The system gave no thread, signal or socket.
    #[error("can't start the daemon")]
    Start(#[source] io::Error),
    /// The page can't be served.
    #[error("can't serve a page at port {port}; name another, or 0 for any that is free")]
    Page {
        /// The port that was asked for.
        port: u16,
        /// Why.
        source: io::Error,
    },
    /// The thread that owns the engine panicked.
    #[error("the daemon broke down inside; its index is rebuilt or caught up at the next start")]
    Broken,
}

/// Why a question was not answered.
#[derive(Debug, thiserror::Error)]
pub enum AskError {
    /// The shop folder can't be used.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// The state directory can't be used.
    #[error(transparent)]
    State(#[from] StateError),
    /// The index can't be opened or written.
    #[error("can't bring the index up to date")]
    Engine(#[source] EngineError),
    /// The question is longer than any question.
    #[error("the question is {length} bytes long; at most {longest} are read")]
    TooLong {
        /// How long it is.
        length: usize,
        /// How long it may be.
        longest: usize,
    },
    /// The daemon said that it could not answer in time, or why it could not at all.
    #[error("the daemon could not answer: {message}")]
    Daemon {
        /// What it said.
        message: String,
    },
    /// A daemon holds the index, and nothing came from it in time.
    #[error(
        "the daemon{} does not answer; end that process and try again",
        pid.map_or_else(String::new, |pid| format!(" (process {pid})"))
    )]
    Silent {
        /// Its process, when it left its number.
        pid: Option<u32>,
    },
    /// The talk with the daemon broke off, or made no sense.
    #[error(
        "the talk with the daemon broke off; if it is of another version, end it with `taperbook stop` and try again"
    )]
    Talk(#[source] io::Error),
}

/// Says an error with its causes on one line.
pub(crate) fn with_source(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        text.push_str(": ");
        text.push_str(&cause.to_string());
        source = cause.source();
    }
    text
}
