//! Takes connections, within limits of number, size and time, so that nobody can hold up the daemon.

use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};
use tokio::time::{sleep, timeout};

/// So many connections are open at once; the next one waits until one of them ends.
pub(crate) const MOST_CONNECTIONS: usize = 64;
/// The head of a request must have come in this long after the one before it was answered.
const HEAD_TIMEOUT: Duration = Duration::from_secs(10);
/// A connection ends after this long, whatever goes on in it: browsers open another one when they need it.
const LONGEST: Duration = Duration::from_secs(300);
/// A head has at most so many bytes; it holds a query of the engine's longest.
const MOST_HEAD_BYTES: usize = 32 * 1024;
const MOST_HEADERS: usize = 64;
/// No connection can be taken when the process has too many files open; then this long is waited.
const ACCEPT_PAUSE: Duration = Duration::from_millis(100);

/// Serves until `closing` is true, and then until what was asked is answered.
///
/// Each connection has one of the places until its end, also where this is given up before.
pub(crate) async fn serve(
    listener: &TcpListener,
    places: &Arc<Semaphore>,
    router: Router,
    closing: watch::Receiver<bool>,
) {
    tokio::select! {
        biased;
        () = closed(closing.clone()) => {}
        () = accept(listener, router, places, &closing) => {}
    }
    let all = u32::try_from(MOST_CONNECTIONS).unwrap_or(u32::MAX);
    let _all = places.acquire_many(all).await;
}

/// Waits until something is closing.
pub(crate) async fn closed(mut closing: watch::Receiver<bool>) {
    // Where nobody is left who could say so, it is.
    let _ = closing.wait_for(|is_closing| *is_closing).await;
}

async fn accept(
    listener: &TcpListener,
    router: Router,
    places: &Arc<Semaphore>,
    closing: &watch::Receiver<bool>,
) {
    loop {
        let Ok(place) = places.clone().acquire_owned().await else { return };
        let Ok((stream, _)) = listener.accept().await else {
            sleep(ACCEPT_PAUSE).await;
            continue;
        };
        // A part of a page goes out when it is there, not when the one before it was acknowledged, 40 ms later.
        let _ = stream.set_nodelay(true);
        let (router, closing) = (router.clone(), closing.clone());
        tokio::spawn(async move {
            // A browser that went away, or was too slow, has itself to blame.
            let _ = timeout(LONGEST, attend(stream, router, closing)).await;
            drop(place);
        });
    }
}

async fn attend(
    stream: TcpStream,
    router: Router,
    closing: watch::Receiver<bool>,
) -> hyper::Result<()> {
    // Who has connected is about to ask, and would be turned away by an end before the first byte.
    let begun = timeout(HEAD_TIMEOUT, stream.peek(&mut [0])).await;
    if !matches!(begun, Ok(Ok(1))) {
        return Ok(());
    }
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIMEOUT)
        .max_buf_size(MOST_HEAD_BYTES)
        .max_headers(MOST_HEADERS)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router));
    let mut connection = pin!(connection);
    tokio::select! {
        biased;
        ended = connection.as_mut() => return ended,
        // What was asked is answered, and nothing more is taken.
        () = closed(closing) => connection.as_mut().graceful_shutdown(),
    }
    connection.await
}

#[cfg(test)]
mod tests {
    use std::net::Ipv4Addr;

    use axum::routing::get;
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
    use tokio::sync::Notify;

    use super::*;

    /// A daemon that is to begin anew gives up after a moment, and tries again later.
    #[tokio::test]
    async fn who_asked_before_an_end_that_was_given_up_is_waited_for_by_the_next() {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap();
        let (asked, answer) = (Arc::new(Notify::new()), Arc::new(Notify::new()));
        let router = Router::new().route("/", {
            let (asked, answer) = (asked.clone(), answer.clone());
            get(async move || {
                asked.notify_one();
                answer.notified().await;
                "answered"
            })
        });
        let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
        let mut stream = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
        stream.write_all(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n").await.unwrap();
        let moment = Duration::from_millis(50);
        {
            let (close, closing) = watch::channel(false);
            let mut serving = pin!(serve(&listener, &places, router.clone(), closing));
            tokio::select! {
                () = serving.as_mut() => panic!("nobody has closed it"),
                () = asked.notified() => {}
            }
            close.send_replace(true);
            assert!(timeout(moment, serving).await.is_err());
        }
        let (_close, closing) = watch::channel(true);
        let mut serving = pin!(serve(&listener, &places, router, closing));
        assert!(timeout(moment, serving.as_mut()).await.is_err(), "somebody waits for an answer");
        answer.notify_one();
        serving.await;
        let mut text = String::new();
        stream.read_to_string(&mut text).await.unwrap();
        assert!(text.ends_with("answered"), "{text}");
    }
}
