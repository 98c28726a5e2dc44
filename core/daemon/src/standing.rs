//! What a daemon leaves open while its process begins anew as a program: the lock, which nobody else can take in
//! between, and the listeners, at which whoever comes meanwhile waits.
//!
//! It goes through a socket that is the new program's standard input: a message on it holds the descriptors, the
//! first of them a file in memory with what has to be said in words.

use std::fs::File;
use std::io::{self, IoSlice, IoSliceMut, Read as _, Seek as _};
use std::mem::MaybeUninit;
use std::net::TcpListener;
use std::os::fd::{AsFd as _, BorrowedFd, OwnedFd};
use std::os::unix::net::{UnixDatagram, UnixListener};
use std::sync::Arc;

use rustix::net::{
    RecvAncillaryBuffer, RecvAncillaryMessage, RecvFlags, SendAncillaryBuffer,
    SendAncillaryMessage, SendFlags, recvmsg, sendmsg,
};
use serde::{Deserialize, Serialize};
use tracing::debug;

use crate::page::Written;
use crate::stop::{Signals, Stop};

/// What goes on while a daemon begins anew; where it is dropped, another daemon may begin.
#[derive(Debug)]
pub struct Standing {
    pub(crate) lock: File,
    pub(crate) listener: UnixListener,
    /// Of the page, where one is served.
    pub(crate) page: Option<TcpListener>,
    pub(crate) words: Words,
    /// What the process had for standard input.
    input: Option<OwnedFd>,
    /// It has been tried, and goes on as it is from now on.
    pub(crate) is_kept: bool,
    /// Signals are listened to until the new program begins: one that came before would else be lost.
    pub(crate) ear: Option<Ear>,
}

/// Who hears that the daemon is to end.
#[derive(Debug)]
pub(crate) struct Ear {
    pub(crate) stop: Arc<Stop>,
    pub(crate) _signals: Signals,
}

impl Ear {
    pub(crate) fn new() -> io::Result<Self> {
        let stop = Arc::new(Stop::default());
        let _signals = Signals::listen(stop.clone())?;
        Ok(Self { stop, _signals })
    }
}

/// The part of it that can be said.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(crate) struct Words {
    /// Device and inode of the daemon's socket.
    pub(crate) socket: (u64, u64),
    /// How often the folder had changed, as open pages count it.
    pub(crate) n_changes: u64,
    /// The state that was told last.
    pub(crate) state: String,
    /// How many problems and flags there were.
    pub(crate) counts: (usize, usize),
    /// The secret of the page's pen, and what was written from it.
    pub(crate) page: Option<(String, Written)>,
}

/// The lists of descriptors are of this length at most: words, input, lock, and two listeners.
const MOST: usize = 5;

impl Standing {
    pub(crate) fn new(
        lock: File,
        listener: UnixListener,
        page: Option<TcpListener>,
        words: Words,
    ) -> Self {
        Self { lock, listener, page, words, input: None, is_kept: false, ear: None }
    }

    /// Gives the standard input of the program that is to take this over by [`Standing::take`].
    ///
    /// # Errors
    /// When the system can't hand over descriptors, or the daemon was told to end: whoever goes on with this does.
    pub fn hand_over(&mut self) -> io::Result<OwnedFd> {
        let mut words = nameless()?;
        serde_json::to_writer(&mut words, &self.words)?;
        words.rewind()?;
        let input = self.input.insert(io::stdin().as_fd().try_clone_to_owned()?);
        let mut fds: Vec<BorrowedFd> =
            vec![words.as_fd(), input.as_fd(), self.lock.as_fd(), self.listener.as_fd()];
        fds.extend(self.page.as_ref().map(|page| page.as_fd()));
        let (ours, theirs) = UnixDatagram::pair()?;
        let mut space = [MaybeUninit::uninit(); rustix::cmsg_space!(ScmRights(MOST))];
        let mut message = SendAncillaryBuffer::new(&mut space);
        if !message.push(SendAncillaryMessage::ScmRights(&fds)) {
            return Err(io::ErrorKind::InvalidInput.into());
        }
        sendmsg(&ours, &[IoSlice::new(b"!")], &mut message, SendFlags::DONTWAIT)?;
        if self.ear.as_ref().is_some_and(|ear| ear.stop.is_told()) {
            return Err(io::ErrorKind::Interrupted.into());
        }
        Ok(theirs.into())
    }

    /// Takes over what the program before this one has left in standard input, and puts that back.
    ///
    /// # Errors
    /// When there is nothing of that kind.
    pub fn take() -> io::Result<Self> {
        let mut space = [MaybeUninit::uninit(); rustix::cmsg_space!(ScmRights(MOST))];
        let mut message = RecvAncillaryBuffer::new(&mut space);
        let flags = RecvFlags::DONTWAIT | RecvFlags::CMSG_CLOEXEC;
        recvmsg(io::stdin(), &mut [IoSliceMut::new(&mut [0])], &mut message, flags)?;
        let fds = message.drain().filter_map(|message| match message {
            RecvAncillaryMessage::ScmRights(fds) => Some(fds),
            _ => None,
        });
        let mut fds = fds.flatten();
        let mut next = || fds.next().ok_or(io::Error::from(io::ErrorKind::UnexpectedEof));
        let (words, input) = (next()?, next()?);
        rustix::stdio::dup2_stdin(&input)?;
        let mut text = String::new();
        File::from(words).read_to_string(&mut text)?;
        let words = serde_json::from_str(&text)?;
        let (lock, listener) = (next()?.into(), next()?.into());
        let page = next().ok().map(TcpListener::from);
        Ok(Self { lock, listener, page, words, input: None, is_kept: false, ear: None })
    }

    /// How many problems and flags the records had when it was left.
    #[must_use]
    pub fn counts(&self) -> (usize, usize) {
        self.words.counts
    }

    /// Makes up for a program that did not begin: standard input is what it was, and the daemon that goes on with this
    /// tries no more.
    #[must_use]
    pub fn kept(mut self, why: &io::Error) -> Self {
        debug!(%why, "the daemon goes on as the program that it is");
        if let Some(input) = self.input.take() {
            // Nothing is read from it.
            let _ = rustix::stdio::dup2_stdin(input);
        }
        self.is_kept = true;
        self
    }
}

/// A file in memory that nobody else can open.
#[cfg(target_os = "linux")]
fn nameless() -> io::Result<File> {
    let file = rustix::fs::memfd_create("standing", rustix::fs::MemfdFlags::CLOEXEC)?;
    Ok(File::from(file))
}

/// The program can't tell there whether the file that it was begun from is still the same, either.
#[cfg(not(target_os = "linux"))]
fn nameless() -> io::Result<File> {
    Err(io::ErrorKind::Unsupported.into())
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_handed_over_by_a_daemon_that_is_told_to_end() {
        let home = tempfile::tempdir().unwrap();
        let lock = File::create(home.path().join("lock")).unwrap();
        let listener = UnixListener::bind(home.path().join("socket")).unwrap();
        let mut standing = Standing::new(lock, listener, None, Words::default());
        standing.ear = Some(Ear::new().unwrap());
        assert!(standing.hand_over().is_ok());
        standing.ear.as_ref().unwrap().stop.tell();
        assert!(standing.hand_over().is_err());
    }
}
