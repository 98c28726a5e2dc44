//! A page of which parts take longer: what stands before them is sent at once, and the reader sees one page.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use axum::body::Body;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_core::Stream;
use maud::{Markup, PreEscaped, html};
use taperbook_engine::{Answer, Request};
use tokio::task::JoinHandle;
use tokio::time::error::Elapsed;
use tokio::time::timeout;

use crate::guard::LONGEST;
use crate::site::Look;
use crate::{Coming, print};

/// Stands in a page where a part comes that takes longer. No record can bring it in: what one says is text, or cleaned
/// of comments.
const LATER: &str = "<!-- later -->";

/// The parts of a page that take longer, in the order in which they stand in it.
#[derive(Default)]
pub(crate) struct Later {
    parts: Vec<Coming<Markup>>,
}

impl Later {
    /// Puts a part here that is made of answers; it must stand in the page before the next that is put.
    ///
    /// Where there are no answers, what went wrong is said in its place.
    pub(crate) fn ask(
        &mut self,
        look: &Look,
        questions: Vec<Request>,
        print: impl FnOnce(&[Answer]) -> Markup + Send + 'static,
    ) -> Markup {
        let look = look.clone();
        self.parts.push(Box::pin(async move {
            match look.ask(questions).await {
                Ok(mut answers) => print(answers.make_contiguous()),
                Err(trouble) => print::fault(&trouble.message),
            }
        }));
        html! { (PreEscaped(LATER)) }
    }

    /// Sends a page with these parts in it, each as soon as it and all before it are there. They are worked on at a time,
    /// from when the page is sent until nobody reads it any more.
    ///
    /// A part that fails says so in its place, since the page has begun as one that is there.
    pub(crate) fn page(self, page: &str) -> Response {
        let mut texts = page.split(LATER).map(str::to_owned);
        let first = texts.next();
        let parts = self.parts.into_iter().zip(texts).collect::<Vec<_>>().into_iter();
        let html = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
        (html, Body::from_stream(Parts { first, next: None, parts })).into_response()
    }
}

/// Begins to work on a part; the work ends with what is given back.
fn begun(part: Coming<Markup>) -> Coming<Markup> {
    let mut working = Working(tokio::spawn(timeout(LONGEST, part)));
    Box::pin(async move {
        match (&mut working.0).await {
            Ok(Ok(part)) => part,
            Ok(Err(_elapsed)) => {
                print::fault("this was not worked out in time: load the page again")
            }
            Err(_panic) => print::fault("this failed inside: load the page again"),
        }
    })
}

struct Working(JoinHandle<Result<Markup, Elapsed>>);

impl Drop for Working {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// A part and the text that stands behind it.
type Part = (Coming<Markup>, String);

struct Parts {
    /// Nothing is begun while this is not sent: who asks for the head alone has no work done.
    first: Option<String>,
    next: Option<Part>,
    parts: std::vec::IntoIter<Part>,
}

impl Stream for Parts {
    type Item = Result<String, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context) -> Poll<Option<Self::Item>> {
        if let Some(first) = self.first.take() {
            let parts = std::mem::take(&mut self.parts);
            let parts = parts.map(|(part, behind)| (begun(part), behind));
            self.parts = parts.collect::<Vec<_>>().into_iter();
            return Poll::Ready(Some(Ok(first)));
        }
        if self.next.is_none() {
            self.next = self.parts.next();
        }
        let Some((part, _)) = &mut self.next else { return Poll::Ready(None) };
        let part = ready!(part.as_mut().poll(context)).into_string();
        let behind = self.next.take().map(|(_, behind)| behind).unwrap_or_default();
        Poll::Ready(Some(Ok(part + &behind)))
    }
}
