//! Where questions are answered: from a snapshot, on threads of their own, so that none of them holds up another
//! or the index. How a question came in and where the answer goes is not known here.

use std::path::PathBuf;
use std::sync::mpsc::Sender;
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant};

use taperbook_engine::{Answer, Request, Snapshot, StatusAnswer};
use tokio::sync::oneshot;
use tokio::task::{JoinError, JoinHandle};
use tracing::debug;

use crate::board::Board;
use crate::event::{AtWork, Event, Given, Waiter, Wants};

/// Answers questions; a copy is cheap.
#[derive(Clone)]
pub(crate) struct Desk {
    pub(crate) folder: PathBuf,
    pub(crate) board: Arc<Board>,
    pub(crate) events: Sender<Event>,
    /// So long a question waits for what was written before it.
    pub(crate) fence_timeout: Duration,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Unanswered {
    /// The daemon is ending; whoever asks again may be answered without it.
    Stopping,
    /// A lower-case fragment that says what is wrong.
    Failed(String),
}

/// So long a question waits for what was written before it at a daemon.
pub(crate) const FENCE_TIMEOUT: Duration = Duration::from_secs(30);

impl Desk {
    /// Answers with everything that was written before now.
    ///
    /// # Errors
    /// Why there is no answer; an old answer is never given instead.
    pub(crate) async fn answer_fenced(&self, request: Request) -> Result<Answer, Unanswered> {
        let wants = wants(&request);
        // Until the answer is there.
        let at_work = (wants == Wants::Records).then(|| Arc::new(AtWork::new(self.events.clone())));
        let is_at_work = at_work.as_ref().map(Arc::downgrade).unwrap_or_default();
        let given = self.fence_of(wants, is_at_work).await?;
        self.answer_from(given, request).await
    }

    /// Answers several questions from one state of the folder, at the same time.
    ///
    /// # Errors
    /// Why there is no answer to one of them.
    pub(crate) async fn answer_all_from(
        &self,
        given: &Given,
        requests: Vec<Request>,
    ) -> Result<Vec<Answer>, Unanswered> {
        let begun: Vec<_> =
            requests.into_iter().map(|request| begin(given.snapshot.clone(), request)).collect();
        let mut answers = Vec::with_capacity(begun.len());
        for answer in begun {
            answers.push(self.finish(answer.await, given.n_unread)?);
        }
        Ok(answers)
    }

    /// Waits for everything that was written before now.
    pub(crate) async fn fence(&self, wants: Wants) -> Result<Given, Unanswered> {
        self.fence_of(wants, Weak::new()).await
    }

    async fn fence_of(&self, wants: Wants, at_work: Weak<AtWork>) -> Result<Given, Unanswered> {
        let (reply, given) = oneshot::channel();
        let waiter = Waiter { wants, reply, at_work };
        self.events.send(Event::Fence(waiter)).map_err(|_| Unanswered::Stopping)?;
        match tokio::time::timeout(self.fence_timeout, given).await {
            Ok(Ok(given)) => given.map_err(Unanswered::Failed),
            Ok(Err(_dropped)) => Err(Unanswered::Stopping),
            Err(_elapsed) => Err(Unanswered::Failed(self.too_slow())),
        }
    }

    /// Answers with what is in hand.
    ///
    /// # Errors
    /// Why there is no answer.
    pub(crate) async fn answer_unfenced(&self, request: Request) -> Result<Answer, Unanswered> {
        match self.board.shown().given {
            Some(given) => self.answer_from(given, request).await,
            None if request == (Request::Status {}) => {
                Ok(self.complete(Answer::Status(StatusAnswer::default()), 1))
            }
            None => Err(Unanswered::Failed(
                "the index is still being opened; ask again in a moment".to_owned(),
            )),
        }
    }

    async fn answer_from(&self, given: Given, request: Request) -> Result<Answer, Unanswered> {
        let Given { snapshot, n_unread } = given;
        self.finish(begin(snapshot, request).await, n_unread)
    }

    fn finish(
        &self,
        answer: Result<Answer, JoinError>,
        n_unread: usize,
    ) -> Result<Answer, Unanswered> {
        match answer {
            Ok(answer) => Ok(self.complete(answer, n_unread)),
            Err(error) if error.is_panic() => {
                Err(Unanswered::Failed("the question made the program fail inside".to_owned()))
            }
            Err(_cancelled) => Err(Unanswered::Stopping),
        }
    }

    /// Adds what the engine can't know.
    fn complete(&self, mut answer: Answer, n_unread: usize) -> Answer {
        match &mut answer {
            Answer::Find(found) => found.unread = n_unread,
            Answer::Status(status) => {
                let shown = self.board.shown();
                status.state = shown.state.name.to_owned();
                status.why = shown.state.why;
                status.behind_ms = shown.behind_since.map_or(0, |since| {
                    // Half a millisecond late is late, too.
                    u64::try_from(since.elapsed().as_millis()).unwrap_or(u64::MAX).max(1)
                });
                status.pid = Some(std::process::id());
                status.folder = self.folder.display().to_string();
                status.unread = n_unread;
            }
            _ => {}
        }
        answer
    }

    fn too_slow(&self) -> String {
        let shown = self.board.shown();
        let pending = shown.given.map(|given| match given.snapshot.answer(&Request::Status {}) {
            Answer::Status(status) => status.pending,
            _ => 0,
        });
        let seconds = self.fence_timeout.as_secs_f64();
        match pending {
            Some(pending) if 0 < pending => format!(
                "the index was not up to date within {seconds} s ({pending} records are still to be worked out); \
                 ask again later"
            ),
            _ => format!(
                "the index was not up to date within {seconds} s (it is {}); ask again later",
                shown.state.name
            ),
        }
    }
}

/// Has a question answered on a thread of its own.
fn begin(snapshot: Arc<Snapshot>, request: Request) -> JoinHandle<Answer> {
    tokio::task::spawn_blocking(move || {
        let begun = Instant::now();
        let answer = snapshot.answer(&request);
        debug!(?request, took = ?begun.elapsed(), "answered");
        answer
    })
}

/// Says whether the answer can tell that records are missing in it, or needs nothing but the records.
///
/// An edit of one build of a model changes what is known of all its siblings; advice on a piece does not wait until all of them are
/// worked out again.
fn wants(request: &Request) -> Wants {
    match request {
        Request::Find { .. } | Request::Status {} => Wants::Some,
        Request::Try { .. } | Request::Suggest { .. } | Request::Explain { .. } => Wants::Records,
        _ => Wants::All,
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::{Receiver, channel};

    use super::*;

    fn desk() -> (Desk, Receiver<Event>) {
        let (events, inbox) = channel();
        let board = Arc::new(Board::default());
        let fence_timeout = Duration::from_millis(50);
        (Desk { folder: "/shop".into(), board, events, fence_timeout }, inbox)
    }

    fn run<T>(future: impl Future<Output = T>) -> T {
        tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(future)
    }

    #[test]
    fn a_fence_that_is_never_seen_is_an_error() {
        let (desk, _inbox) = desk();
        let error = run(desk.answer_fenced(Request::Names {})).unwrap_err();
        let words = "the index was not up to date within 0.05 s (it is scanning); ask again later";
        assert_eq!(error, Unanswered::Failed(words.to_owned()));
    }

    #[test]
    fn a_daemon_that_ends_answers_nobody() {
        let (desk, inbox) = desk();
        let ends = std::thread::spawn(move || drop(inbox.recv().unwrap()));
        assert_eq!(run(desk.answer_fenced(Request::Names {})).unwrap_err(), Unanswered::Stopping);
        ends.join().unwrap();
        assert_eq!(run(desk.answer_fenced(Request::Names {})).unwrap_err(), Unanswered::Stopping);
    }

    #[test]
    fn the_state_is_told_before_there_is_an_index() {
        let (desk, _inbox) = desk();
        let Ok(Answer::Status(status)) = run(desk.answer_unfenced(Request::Status {})) else {
            panic!()
        };
        assert_eq!((&*status.state, &*status.folder, status.unread), ("scanning", "/shop", 1));
        assert!(0 < status.behind_ms);
        assert_eq!(status.pid, Some(std::process::id()));
        assert!(run(desk.answer_unfenced(Request::Names {})).is_err());
    }
}
