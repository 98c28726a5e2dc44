//! Tells browsers that the folder changed, so that an open page fetches itself anew.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_core::Stream;
use serde::Deserialize;
use tokio::sync::{OwnedSemaphorePermit, watch};

use crate::Coming;
use crate::serve::closed;
use crate::site::Site;

/// So many pages are told at once; an open page needs a connection for it.
pub(crate) const MOST_FOLLOWERS: usize = 24;
/// A browser that went away unheard is found out by this.
const ALIVE_EVERY: Duration = Duration::from_secs(20);

/// What a page has seen.
#[derive(Deserialize)]
pub(crate) struct Since {
    /// So often the folder had changed before the page was made; the next change counts where it is not given.
    after: Option<u64>,
}

/// Sends an event with a count whenever a new state of the folder was published.
///
/// A page asks only when all of it is there, which may take a while: what changed meanwhile is told at once.
pub(crate) async fn changes(State(site): State<Site>, Query(since): Query<Since>) -> Response {
    let Ok(place) = site.followers.clone().try_acquire_owned() else {
        let words = "too many pages are open that follow changes\n";
        return (StatusCode::SERVICE_UNAVAILABLE, words).into_response();
    };
    let mut receiver = site.shop.changes();
    if since.after.is_some_and(|after| after != *receiver.borrow()) {
        receiver.mark_changed();
    }
    let closing = site.closing;
    let stream = Changes { next: next(receiver, closing.clone()), closing, _place: place };
    Sse::new(stream).keep_alive(KeepAlive::new().interval(ALIVE_EVERY)).into_response()
}

struct Changes {
    next: Coming<Option<watch::Receiver<u64>>>,
    closing: watch::Receiver<bool>,
    _place: OwnedSemaphorePermit,
}

/// Waits for the next change; `None` when there will be none, or the page is served no more.
fn next(
    mut receiver: watch::Receiver<u64>,
    closing: watch::Receiver<bool>,
) -> Coming<Option<watch::Receiver<u64>>> {
    Box::pin(async move {
        tokio::select! {
            changed = receiver.changed() => changed.is_ok().then_some(receiver),
            () = closed(closing) => None,
        }
    })
}

impl Stream for Changes {
    type Item = Result<Event, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context) -> Poll<Option<Self::Item>> {
        match self.next.as_mut().poll(context) {
            Poll::Pending => Poll::Pending,
            Poll::Ready(None) => Poll::Ready(None),
            Poll::Ready(Some(mut receiver)) => {
                let count = *receiver.borrow_and_update();
                self.next = next(receiver, self.closing.clone());
                Poll::Ready(Some(Ok(Event::default().data(count.to_string()))))
            }
        }
    }
}
