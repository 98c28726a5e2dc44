//! That the daemon is to end: told by a signal or over the socket, at any time, and never forgotten.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;

use tokio::runtime::Builder;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::{Notify, oneshot};

/// Whether the daemon was told to end.
#[derive(Debug, Default)]
pub(crate) struct Stop {
    is_told: AtomicBool,
    notify: Notify,
}

impl Stop {
    pub(crate) fn tell(&self) {
        self.is_told.store(true, Ordering::SeqCst);
        self.notify.notify_one();
    }

    pub(crate) fn is_told(&self) -> bool {
        self.is_told.load(Ordering::SeqCst)
    }

    /// Waits until it is told, or gives at once where that has been.
    pub(crate) async fn told(&self) {
        while !self.is_told() {
            self.notify.notified().await;
        }
    }
}

/// Listens to SIGINT and SIGTERM until it is dropped.
///
/// On a thread of its own: a daemon that begins anew takes down all that it serves with, and a signal in that moment
/// would be lost, since one that somebody listens to no longer ends the process.
#[derive(Debug)]
pub(crate) struct Signals {
    /// Ends the thread when it is dropped.
    end: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Signals {
    /// # Errors
    /// When the system gives no thread or no way to listen.
    pub(crate) fn listen(stop: Arc<Stop>) -> io::Result<Self> {
        let runtime = Builder::new_current_thread().enable_all().build()?;
        let (mut interrupt, mut terminate) = {
            let _entered = runtime.enter();
            (signal(SignalKind::interrupt())?, signal(SignalKind::terminate())?)
        };
        let (end, ended) = oneshot::channel();
        let listen = async move {
            tokio::select! {
                _ = interrupt.recv() => stop.tell(),
                _ = terminate.recv() => stop.tell(),
                _ = ended => {}
            }
        };
        let thread = std::thread::Builder::new().name("signals".to_owned());
        let thread = thread.spawn(move || runtime.block_on(listen))?;
        Ok(Self { end: Some(end), thread: Some(thread) })
    }
}

impl Drop for Signals {
    fn drop(&mut self) {
        drop(self.end.take());
        if let Some(thread) = self.thread.take() {
            // It can't have panicked, and there is nothing to do where it has.
            let _ = thread.join();
        }
    }
}

/// Keeps a pipe that nobody reads from ending the process, after an attempt to begin another program, which has the system
/// do so again.
///
/// # Errors
/// When the system does not let signals be heard; it is called where tokio runs.
pub(crate) fn outlive_pipes() -> io::Result<()> {
    signal(SignalKind::pipe()).map(drop)
}
