//! A page for the bench: the engine's answers as HTML over HTTP, on the loopback alone.
//!
//! Everything can be read without a script; a little script of its own moves the cuts of a try and follows changes.
//! What a note says is text or cleaned markup, never more.
//! Two things write, both through whoever serves the page and only for a browser that was given the pen: an item at the
//! end of a bench, and taking that item back.
//! Whoever names the page by another host than the loopback is refused, so that a page of somebody else's can't be made
//! to read this one through a name of its own (DNS rebinding).
//! The only crate that names HTTP. It knows no file and no socket of the daemon.

mod changes;
mod guard;
mod item;
mod limits;
mod note;
mod pages;
mod pen;
mod print;
mod serve;
mod site;
mod statics;
mod streamed;

use std::collections::VecDeque;
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::os::fd::{AsFd as _, OwnedFd};
use std::pin::Pin;
use std::sync::{Arc, Mutex};

use taperbook_engine::{Answer, Request};
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};

use crate::pen::Pen;
use crate::site::Site;

/// Something that is still to come.
pub type Coming<T> = Pin<Box<dyn Future<Output = T> + Send>>;

/// The shop that a page is about: what answers, and what writes.
pub trait Shop: Send + Sync + 'static {
    /// Takes hold of the folder as it is, with everything in it that was written before now.
    fn now(&self, want: Want) -> Coming<Result<Arc<dyn Moment>, String>>;

    /// Adds an item at the end of a bench, given the file's path in the shop folder.
    fn append(&self, path: String, item: String) -> Coming<Result<Wrote, String>>;

    /// Takes back what was added, by its number.
    fn take_back(&self, number: u64) -> Coming<Result<(), String>>;

    /// Gives the date where the shop is, as `2026-03-14`.
    fn today(&self) -> String;

    /// Counts the states of the folder that were published.
    fn changes(&self) -> watch::Receiver<u64>;
}

/// How much a page must know, beside what was written before it was asked for: a large folder that is new takes minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Want {
    /// What there is.
    AtOnce,
    /// All records, while what follows from them is worked out by the questions themselves.
    Records,
    /// Everything, or what there is when that does not come soon.
    Soon,
}

/// The folder as it was at one moment.
pub trait Moment: Send + Sync + 'static {
    /// Answers questions, in their order; several are worked on at a time.
    fn ask(&self, questions: Vec<Request>) -> Coming<Result<Vec<Answer>, String>>;

    /// What is not in it yet.
    fn behind(&self) -> Behind;
}

/// What a state of the folder lacks.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Behind {
    /// Files that are still to be read.
    pub n_unread: usize,
    /// Records whose numbers and flags are still to be worked out.
    pub n_pending: usize,
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrote {
    /// Names it when it is taken back.
    pub number: u64,
    /// The path in the shop folder.
    pub path: String,
    /// The line on which the item begins, from 1.
    pub line: usize,
    /// The text that was inserted.
    pub inserted: String,
    /// What is doubtful about it as it stands.
    pub doubts: Vec<String>,
}

/// A page that is ready to be served.
pub struct Page {
    listener: TcpListener,
    address: SocketAddr,
    pen: Pen,
    wrote: Arc<Mutex<VecDeque<Wrote>>>,
    /// One for each connection.
    places: Arc<Semaphore>,
}

impl Page {
    /// Takes a port of the loopback; 0 takes any that is free.
    ///
    /// # Errors
    /// When the port is taken, or the system gives no random bytes for the pen.
    pub async fn open(port: u16) -> io::Result<Self> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await?;
        let address = listener.local_addr()?;
        Ok(Self::of(listener, address, Pen::new(address.port())?, Vec::new()))
    }

    /// Takes up a page that another process has served: its listener, the secret of its pen, and what was written
    /// from it, the last at the end.
    ///
    /// # Errors
    /// When the listener can't be used; it is called where tokio runs.
    pub fn resume(
        listener: std::net::TcpListener,
        secret: String,
        wrote: Vec<Wrote>,
    ) -> io::Result<Self> {
        let listener = TcpListener::from_std(listener)?;
        let address = listener.local_addr()?;
        let pen = Pen::of(address.port(), secret);
        Ok(Self::of(listener, address, pen, wrote))
    }

    fn of(listener: TcpListener, address: SocketAddr, pen: Pen, wrote: Vec<Wrote>) -> Self {
        let places = Arc::new(Semaphore::new(serve::MOST_CONNECTIONS));
        Self { listener, address, pen, wrote: Arc::new(Mutex::new(wrote.into())), places }
    }

    /// The listener for another process, which connections wait at until it is there.
    ///
    /// # Errors
    /// When the system has no more descriptors.
    pub fn listener(&self) -> io::Result<OwnedFd> {
        self.listener.as_fd().try_clone_to_owned()
    }

    /// The secret of the pen, for another process.
    pub fn secret(&self) -> &str {
        self.pen.secret()
    }

    /// Where a browser finds it.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// The path that gives the pen to the browser which opens it.
    pub fn pen_path(&self) -> String {
        self.pen.path()
    }

    /// Serves it until `closing` is true; from then on it takes no more connections, and it ends when all that was
    /// asked is answered. Who follows changes is let go of, and asks again by itself.
    ///
    /// Where that takes too long it can be given up and served again: the next end waits for them all.
    pub async fn serve(&self, shop: Arc<dyn Shop>, closing: watch::Receiver<bool>) {
        let site = Site::new(shop, self.pen.clone(), self.wrote.clone(), closing.clone());
        let router = site::router(site, self.address);
        serve::serve(&self.listener, &self.places, router, closing).await;
    }
}
