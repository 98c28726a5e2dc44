//! The socket's side of the daemon: takes calls, hands them to the desk, sends replies.
//!
//! Each connection is a task with its own deadlines, so a client that says nothing, or never reads, holds up
//! nobody but itself and is dropped after a while.

use std::sync::Arc;
use std::time::Duration;

use taperbook_engine::Request;
use tokio::io::{AsyncBufReadExt as _, AsyncReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::{Notify, Semaphore};
use tokio::task::spawn_blocking;
use tokio::time::{sleep, timeout};

use crate::desk::{Desk, Unanswered};
use crate::wire::{self, Call, LONGEST_CALL, Reply};

/// So many clients are listened to at once; more wait until one is done.
const MOST_CLIENTS: usize = 256;
/// A call must have come in this long after the connection.
const CALL_TIMEOUT: Duration = Duration::from_secs(5);
/// A reply must have been read this long after it was there.
const REPLY_TIMEOUT: Duration = Duration::from_secs(20);
/// No connection can be taken when the process has too many files open; then this long is waited.
const ACCEPT_PAUSE: Duration = Duration::from_millis(100);

/// Takes connections until it is dropped; somebody who says stop is passed on.
pub(crate) async fn serve(listener: UnixListener, desk: Desk, stop: Arc<Notify>) {
    let places = Arc::new(Semaphore::new(MOST_CLIENTS));
    loop {
        let Ok(place) = places.clone().acquire_owned().await else { return };
        let Ok((stream, _)) = listener.accept().await else {
            sleep(ACCEPT_PAUSE).await;
            continue;
        };
        let (desk, stop) = (desk.clone(), stop.clone());
        tokio::spawn(async move {
            attend(stream, &desk, &stop).await;
            drop(place);
        });
    }
}

async fn attend(mut stream: UnixStream, desk: &Desk, stop: &Notify) {
    let line = match timeout(CALL_TIMEOUT, read_line(&mut stream)).await {
        Ok(Some(line)) => line,
        // It went away, or it has nothing to say.
        Ok(None) | Err(_) => return,
    };
    let (reply, is_stop) = match call(&line) {
        Ok(Call { stop: true, .. }) => (Reply::Stopping { pid: std::process::id() }, true),
        Ok(Call { request: Some(request), fence, .. }) => (ask(desk, request, fence).await, false),
        Ok(Call { request: None, .. }) => (Reply::error("the call holds no request"), false),
        Err(message) => (Reply::Error { message }, false),
    };
    // A client that went away, or does not read, has itself to blame.
    let _ = timeout(REPLY_TIMEOUT, send(&mut stream, reply)).await;
    if is_stop {
        stop.notify_one();
    }
}

async fn ask(desk: &Desk, request: Request, fence: bool) -> Reply {
    let answer =
        if fence { desk.answer_fenced(request).await } else { desk.answer_unfenced(request).await };
    match answer {
        Ok(answer) => Reply::Answer(answer),
        Err(Unanswered::Stopping) => Reply::Stopping { pid: std::process::id() },
        Err(Unanswered::Failed(message)) => Reply::Error { message },
    }
}

/// Reads a line, or one byte more than a line may have; `None` when the client goes away before its end.
async fn read_line(stream: &mut UnixStream) -> Option<Vec<u8>> {
    let mut line = Vec::new();
    BufReader::new(stream.take(LONGEST_CALL as u64 + 1)).read_until(b'\n', &mut line).await.ok()?;
    (line.ends_with(b"\n") || LONGEST_CALL < line.len()).then_some(line)
}

fn call(line: &[u8]) -> Result<Call, String> {
    if LONGEST_CALL < line.len() {
        return Err(format!("the call is longer than {LONGEST_CALL} bytes"));
    }
    serde_json::from_slice(line).map_err(|error| format!("the call is not understood: {error}"))
}

async fn send(stream: &mut UnixStream, reply: Reply) -> std::io::Result<()> {
    // A long reply would hold up other clients while it is put into words.
    let line = spawn_blocking(move || wire::line(&reply)).await??;
    stream.write_all(&line).await?;
    stream.shutdown().await
}
