//! The page of the daemon, where one is asked for: the desk's answers and the checked insert, handed to the web crate.

use std::collections::VecDeque;
use std::io;
use std::net::TcpListener;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use serde::{Deserialize, Serialize};
use taperbook_edit::{Appended, EditFailure, append, take_back};
use taperbook_engine::{Answer, Request};
use taperbook_web::{Behind, Coming, Moment, Page, Shop, Want, Wrote};
use tokio::sync::watch;
use tokio::task::spawn_blocking;
use tokio::time::timeout;

use crate::desk::{Desk, Unanswered};
use crate::event::{Given, Wants};
use crate::{DaemonError, Progress};

/// So many of the last items that were written can be taken back.
const MOST_KEPT: usize = 32;
/// So long a page that can say what is missing waits for it.
const SOON: Duration = Duration::from_secs(1);

/// The page of a daemon, with what makes it go on when the daemon begins anew.
pub(crate) struct Open {
    page: Page,
    kept: Arc<Mutex<Written>>,
}

impl Open {
    /// Takes the port of a page, and says where it is; or takes up the page of a daemon before.
    ///
    /// # Errors
    /// When the port can't be used.
    pub(crate) async fn new(
        port: u16,
        standing: Option<(TcpListener, (String, Written))>,
        report: &(dyn Fn(Progress) + Send + Sync),
    ) -> Result<Self, DaemonError> {
        let (page, written) = match standing {
            None => (Page::open(port).await, Written::default()),
            Some((listener, (secret, written))) => {
                let wrote = written.items.iter().map(|(number, item)| wrote(*number, item));
                (Page::resume(listener, secret, wrote.collect()), written)
            }
        };
        let page = page.map_err(|source| DaemonError::Page { port, source })?;
        report(Progress::Page { address: page.address(), pen_path: page.pen_path() });
        Ok(Self { page, kept: Arc::new(Mutex::new(written)) })
    }

    /// Serves it until `closing` is true and all that was asked by then is answered.
    pub(crate) async fn serve(&self, desk: Desk, closing: watch::Receiver<bool>) {
        let pen = Pen { folder: desk.folder.clone(), kept: self.kept.clone() };
        self.page.serve(Arc::new(Served { desk, pen }), closing).await;
    }

    /// Gives what the next daemon needs to serve the same page.
    ///
    /// # Errors
    /// When the system has no more descriptors.
    pub(crate) fn standing(&self) -> io::Result<(TcpListener, (String, Written))> {
        let written = self.kept.lock().unwrap_or_else(PoisonError::into_inner).clone();
        Ok((self.page.listener()?.into(), (self.page.secret().to_owned(), written)))
    }
}

/// What stands behind the page.
struct Served {
    desk: Desk,
    pen: Pen,
}

/// A state of the folder in hand.
struct Held {
    desk: Desk,
    given: Given,
}

impl Shop for Served {
    fn now(&self, want: Want) -> Coming<Result<Arc<dyn Moment>, String>> {
        let desk = self.desk.clone();
        Box::pin(async move {
            let given = match want {
                Want::AtOnce => desk.fence(Wants::Some).await,
                Want::Records => desk.fence(Wants::Records).await,
                Want::Soon => soon(&desk).await,
            };
            let held = Held { given: given.map_err(in_words)?, desk };
            Ok(Arc::new(held) as Arc<dyn Moment>)
        })
    }

    fn append(&self, path: String, item: String) -> Coming<Result<Wrote, String>> {
        let pen = self.pen.clone();
        write(move || pen.append(&path, &item))
    }

    fn take_back(&self, number: u64) -> Coming<Result<(), String>> {
        let pen = self.pen.clone();
        write(move || pen.take_back(number))
    }

    fn today(&self) -> String {
        jiff::ZonedDateTime::now().date().to_string()
    }

    fn changes(&self) -> watch::Receiver<u64> {
        self.desk.board.changes()
    }
}

impl Moment for Held {
    fn ask(&self, questions: Vec<Request>) -> Coming<Result<Vec<Answer>, String>> {
        let (desk, given) = (self.desk.clone(), self.given.clone());
        Box::pin(async move { desk.answer_all_from(&given, questions).await.map_err(in_words) })
    }

    fn behind(&self) -> Behind {
        let Given { snapshot, n_unread } = &self.given;
        Behind { n_unread: *n_unread, n_pending: snapshot.pending() }
    }
}

/// Waits a little for everything, then a little for all records, and then takes what there is.
async fn soon(desk: &Desk) -> Result<Given, Unanswered> {
    for wants in [Wants::All, Wants::Records] {
        if let Ok(given) = timeout(SOON, desk.fence(wants)).await {
            return given;
        }
    }
    desk.fence(Wants::Some).await
}

fn in_words(unanswered: Unanswered) -> String {
    match unanswered {
        Unanswered::Stopping => "the daemon is stopping; ask again".to_owned(),
        Unanswered::Failed(message) => message,
    }
}

/// Writes on a thread of its own.
fn write<T: Send + 'static>(
    write: impl FnOnce() -> Result<T, String> + Send + 'static,
) -> Coming<Result<T, String>> {
    let gone = |_error| Err("the writing failed inside; look at the file".to_owned());
    Box::pin(async move { spawn_blocking(write).await.unwrap_or_else(gone) })
}

/// Writes, and keeps what it wrote to be taken back.
#[derive(Clone)]
struct Pen {
    folder: PathBuf,
    kept: Arc<Mutex<Written>>,
}

/// What was written from the page and can be taken back.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct Written {
    /// Numbers begin at 1.
    n_written: u64,
    items: VecDeque<(u64, Appended)>,
}

impl Pen {
    fn append(&self, path: &str, item: &str) -> Result<Wrote, String> {
        let appended = append(&self.folder, path, item).map_err(told)?;
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.n_written += 1;
        let number = kept.n_written;
        let wrote = wrote(number, &appended);
        kept.items.push_back((number, appended));
        if MOST_KEPT < kept.items.len() {
            kept.items.pop_front();
        }
        Ok(wrote)
    }

    fn take_back(&self, number: u64) -> Result<(), String> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let at = kept.items.iter().position(|(known, _)| *known == number);
        let appended = at.and_then(|at| kept.items.remove(at)).map(|(_, appended)| appended);
        let appended = appended
            .ok_or("that was taken back already, or is too long ago: delete the line by hand")?;
        drop(kept);
        take_back(&self.folder, &appended).map_err(told)
    }
}

fn wrote(number: u64, appended: &Appended) -> Wrote {
    Wrote {
        number,
        path: appended.path.clone(),
        line: appended.line,
        inserted: appended.inserted.clone(),
        doubts: appended.doubts.clone(),
    }
}

fn told(failure: EditFailure) -> String {
    match failure.hint {
        Some(hint) => format!("{}: {hint}", failure.message),
        None => failure.message,
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;
    use crate::board::Board;
    use crate::event::Event;

    /// While a large folder is worked out for the first time, who wants everything waits for minutes.
    #[test]
    fn a_page_takes_what_there_is_when_the_rest_does_not_come_soon() {
        let (events, inbox) = channel();
        let fence_timeout = Duration::from_secs(60);
        let desk = Desk {
            folder: "/shop".into(),
            board: Arc::new(Board::default()),
            events,
            fence_timeout,
        };
        let daemon = std::thread::spawn(move || {
            let (mut waiting, mut wanted) = (Vec::new(), Vec::new());
            for event in inbox {
                let Event::Fence(waiter) = event else { continue };
                wanted.push(waiter.wants);
                match waiter.wants {
                    Wants::Some => waiter.answer(Err("what there is".to_owned())),
                    _ => waiting.push(waiter),
                }
            }
            wanted
        });
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let given = runtime.block_on(soon(&desk)).map(|given| given.n_unread);
        assert_eq!(given, Err(Unanswered::Failed("what there is".to_owned())));
        drop(desk);
        assert_eq!(daemon.join().unwrap(), [Wants::All, Wants::Records, Wants::Some]);
    }
}
