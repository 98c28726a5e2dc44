//! The socket's side of the daemon: takes calls, hands them to the desk, sends replies.
//!
//! Each connection is a task with its own deadlines, so a client that says nothing, or never reads, holds up
//! nobody but itself and is dropped after a while, or at once when others come and it has waited the longest.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use taperbook_engine::Request;
use tokio::io::{AsyncBufReadExt as _, AsyncReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::watch;
use tokio::task::{AbortHandle, spawn_blocking};
use tokio::time::{sleep, timeout};

use crate::desk::{Desk, Unanswered};
use crate::stop::Stop;
use crate::wire::{self, Call, LONGEST_CALL, Reply};

/// So many clients are connected at once; when one more comes, the one that was silent the longest is dropped.
const MOST_CLIENTS: usize = 256;
/// A call must have come in this long after the connection.
const CALL_TIMEOUT: Duration = Duration::from_secs(5);
/// A reply must have been read this long after it was there.
const REPLY_TIMEOUT: Duration = Duration::from_secs(20);
/// No connection can be taken when the process has too many files open; then this long is waited.
const ACCEPT_PAUSE: Duration = Duration::from_millis(100);
/// When all who are connected have asked something, this long is waited until one of them may be done.
const FULL_PAUSE: Duration = Duration::from_millis(5);

/// Takes connections until `closing` is true, and ends when all who have asked by then are answered; somebody who says
/// stop is passed on.
pub(crate) async fn serve(
    listener: &UnixListener,
    desk: Desk,
    stop: Arc<Stop>,
    mut closing: watch::Receiver<bool>,
) {
    let mut clients = Clients::default();
    tokio::select! {
        biased;
        // Where nobody is left who could say so, it is.
        _ = closing.wait_for(|is_closing| *is_closing) => {}
        () = accept(listener, desk, stop, &mut clients) => {}
    }
    loop {
        // Also for those who have come just now, and are heard meanwhile.
        sleep(FULL_PAUSE).await;
        if !clients.are_at_work() {
            // Who has not asked yet asks again.
            return;
        }
    }
}

async fn accept(listener: &UnixListener, desk: Desk, stop: Arc<Stop>, clients: &mut Clients) {
    loop {
        if clients.are_too_many() {
            // Each of them has asked something, and is answered or dropped in time.
            sleep(FULL_PAUSE).await;
            continue;
        }
        let Ok((stream, _)) = listener.accept().await else {
            sleep(ACCEPT_PAUSE).await;
            continue;
        };
        let has_asked = Arc::new(AtomicBool::new(false));
        let (desk, stop, asks) = (desk.clone(), stop.clone(), has_asked.clone());
        let task = tokio::spawn(async move { attend(stream, &desk, &stop, &asks).await });
        clients.0.push_back(Client { task: task.abort_handle(), has_asked });
    }
}

/// Those who are connected, in the order in which they came.
#[derive(Default)]
struct Clients(VecDeque<Client>);

struct Client {
    task: AbortHandle,
    has_asked: Arc<AtomicBool>,
}

impl Clients {
    /// Whether nobody else can be listened to, also after the one is dropped who came first and has said nothing.
    ///
    /// A client of ours that is dropped before it was heard asks again.
    fn are_too_many(&mut self) -> bool {
        if self.0.len() < MOST_CLIENTS {
            return false;
        }
        self.0.retain(|client| !client.task.is_finished());
        if MOST_CLIENTS <= self.0.len()
            && let Some(silent) =
                self.0.iter().position(|client| !client.has_asked.load(Ordering::SeqCst))
            && let Some(client) = self.0.remove(silent)
        {
            client.task.abort();
        }
        MOST_CLIENTS <= self.0.len()
    }

    /// Whether somebody waits for an answer.
    fn are_at_work(&self) -> bool {
        let mut clients = self.0.iter();
        clients.any(|client| !client.task.is_finished() && client.has_asked.load(Ordering::SeqCst))
    }
}

async fn attend(mut stream: UnixStream, desk: &Desk, stop: &Stop, has_asked: &AtomicBool) {
    let line = match timeout(CALL_TIMEOUT, read_line(&mut stream)).await {
        Ok(Some(line)) => line,
        // It went away, or it has nothing to say.
        Ok(None) | Err(_) => return,
    };
    has_asked.store(true, Ordering::SeqCst);
    let (reply, is_stop) = match call(&line) {
        Ok(Call { stop: true, .. }) => (Reply::Stopping { pid: std::process::id() }, true),
        Ok(Call { request: Some(request), fence, .. }) => (ask(desk, request, fence).await, false),
        Ok(Call { request: None, .. }) => (Reply::error("the call holds no request"), false),
        Err(message) => (Reply::Error { message }, false),
    };
    // A client that went away, or does not read, has itself to blame.
    let _ = timeout(REPLY_TIMEOUT, send(&mut stream, reply)).await;
    if is_stop {
        stop.tell();
    }
}

async fn ask(desk: &Desk, request: Request, fence: bool) -> Reply {
    let answer =
        if fence { desk.answer_fenced(request).await } else { desk.answer_unfenced(request).await };
    match answer {
        Ok(answer) => Reply::Answer(Box::new(answer)),
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
