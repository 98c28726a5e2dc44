//! The page of the daemon, where one is asked for: the desk's answers, handed to the web crate.

use std::sync::Arc;

use taperbook_engine::{Answer, Refusal};
use taperbook_web::{Ask, Page};

use crate::desk::{Desk, Unanswered};
use crate::{DaemonError, Progress};

/// Serves the page for as long as it is polled; without a port it waits for ever.
pub(crate) async fn serve(
    port: Option<u16>,
    desk: Desk,
    report: &(dyn Fn(Progress) + Send + Sync),
) -> Result<(), DaemonError> {
    let Some(port) = port else { return std::future::pending().await };
    let page = Page::open(port).await.map_err(|source| DaemonError::Page { port, source })?;
    report(Progress::Page { address: page.address() });
    let ask: Ask = Arc::new(move |request| {
        let desk = desk.clone();
        Box::pin(async move {
            let answer = desk.answer_fenced(request).await;
            answer.unwrap_or_else(|unanswered| {
                let message = match unanswered {
                    Unanswered::Stopping => "the daemon is stopping; ask again".to_owned(),
                    Unanswered::Failed(message) => message,
                };
                Answer::Refused(Refusal { message, at: None })
            })
        })
    });
    page.serve(ask).await.map_err(|source| DaemonError::Page { port, source })
}
