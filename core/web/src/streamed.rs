//! A page of which a part takes longer: what stands before it is sent at once, and the reader sees one page.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use axum::body::Body;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_core::Stream;
use maud::{Markup, PreEscaped, html};

use crate::Coming;

/// Stands in a page where the part comes that takes longer. No record can bring it in: what one says is text, or cleaned
/// of comments.
const LATER: &str = "<!-- later -->";

/// The place of the part that takes longer.
pub(crate) fn later() -> Markup {
    html! { (PreEscaped(LATER)) }
}

/// Sends a page up to the place of [`later`], then that part, then the rest.
pub(crate) fn streamed(page: &str, part: Coming<Markup>) -> Response {
    let (first, rest) = page.split_once(LATER).unwrap_or((page, ""));
    let parts = Parts { first: Some(first.to_owned()), part: Some(part), rest: rest.to_owned() };
    let html = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
    (html, Body::from_stream(parts)).into_response()
}

struct Parts {
    first: Option<String>,
    part: Option<Coming<Markup>>,
    rest: String,
}

impl Stream for Parts {
    type Item = Result<String, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context) -> Poll<Option<Self::Item>> {
        if let Some(first) = self.first.take() {
            return Poll::Ready(Some(Ok(first)));
        }
        let Some(part) = &mut self.part else { return Poll::Ready(None) };
        let part = ready!(part.as_mut().poll(context));
        self.part = None;
        Poll::Ready(Some(Ok(part.into_string() + &self.rest)))
    }
}
