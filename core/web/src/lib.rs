//! A page for the bench: the engine's answers as HTML over HTTP, on the loopback alone.
//!
//! It only shows: nothing here writes, and no script is needed to read anything.
//! Whoever names the page by another host than the loopback is refused, so that a page of somebody else's can't be made
//! to read this one through a name of its own (DNS rebinding).
//! The only crate that names HTTP.

mod guard;
mod look;
mod pages;

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::pin::Pin;
use std::sync::Arc;

use axum::Router;
use axum::routing::get;
use taperbook_engine::{Answer, Request};
use tokio::net::TcpListener;

/// Answers a request about the shop folder.
pub type Ask = Arc<dyn Fn(Request) -> Asked + Send + Sync>;

/// An answer to come.
pub type Asked = Pin<Box<dyn Future<Output = Answer> + Send>>;

/// A page that is ready to be served.
pub struct Page {
    listener: TcpListener,
    address: SocketAddr,
}

impl Page {
    /// Takes a port of the loopback; 0 takes any that is free.
    ///
    /// # Errors
    /// When the port is taken.
    pub async fn open(port: u16) -> io::Result<Self> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await?;
        let address = listener.local_addr()?;
        Ok(Self { listener, address })
    }

    /// Where a browser finds it.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves it until the task is dropped.
    ///
    /// # Errors
    /// When the listener fails.
    pub async fn serve(self, ask: Ask) -> io::Result<()> {
        let router = Router::new()
            .route("/", get(pages::search))
            .route("/flags", get(pages::flags))
            .route("/record/{*id}", get(pages::record))
            .route("/style.css", get(look::style))
            .fallback(pages::nothing_here)
            .layer(axum::middleware::from_fn_with_state(self.address, guard::guard))
            .with_state(ask);
        axum::serve(self.listener, router).await
    }
}
