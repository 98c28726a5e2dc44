//! A language server for the records of a shop folder: problems and flags while they are written.
//!
//! It asks the engine what the unsaved text would give and shows that; it changes no file and keeps no state but the
//! open texts. Only this crate knows the protocol's types.

mod position;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use lsp_server::{Connection, ErrorCode, Message, Notification, Response};
use lsp_types::notification::{
    DidChangeTextDocument, DidCloseTextDocument, DidOpenTextDocument, Notification as _,
    PublishDiagnostics,
};
use lsp_types::{
    Diagnostic, DiagnosticSeverity, DidChangeTextDocumentParams, DidCloseTextDocumentParams,
    DidOpenTextDocumentParams, PublishDiagnosticsParams, Range, ServerCapabilities,
    TextDocumentSyncCapability, TextDocumentSyncKind, Uri,
};
use taperbook_engine::{Answer, CheckAnswer, Request};

use crate::position::Lines;

/// Why the server ended before the editor asked it to.
#[derive(Debug, thiserror::Error)]
#[error("the editor broke off")]
pub struct ServeError(#[from] Box<dyn std::error::Error + Send + Sync>);

/// Serves an editor over standard input and output until it says goodbye.
///
/// `folder` is the shop folder; `ask` answers a request about it, or says why it can't.
///
/// # Errors
/// When the editor breaks the protocol or goes away without a word.
pub fn serve(
    folder: &Path,
    ask: impl Fn(&Request) -> Result<Answer, String>,
) -> Result<(), ServeError> {
    let (connection, threads) = Connection::stdio();
    converse(&connection, folder, ask)?;
    drop(connection);
    threads.join().map_err(|error| ServeError(error.into()))
}

/// Speaks with one editor; the connection is a parameter so that a test can be the editor.
fn converse(
    connection: &Connection,
    folder: &Path,
    ask: impl Fn(&Request) -> Result<Answer, String>,
) -> Result<(), ServeError> {
    let capabilities = ServerCapabilities {
        text_document_sync: Some(TextDocumentSyncCapability::Kind(TextDocumentSyncKind::FULL)),
        ..ServerCapabilities::default()
    };
    let capabilities = serde_json::to_value(capabilities).map_err(boxed)?;
    connection.initialize(capabilities).map_err(boxed)?;
    let mut desk = Desk {
        connection,
        folder: folder.canonicalize().unwrap_or_else(|_| folder.to_owned()),
        ask,
        open: BTreeMap::new(),
    };
    for message in &connection.receiver {
        match message {
            Message::Request(request) => {
                if connection.handle_shutdown(&request).map_err(boxed)? {
                    return Ok(());
                }
                let text = format!("`{}` is nothing that this server does", request.method);
                let refusal = Response::new_err(request.id, ErrorCode::MethodNotFound as i32, text);
                connection.sender.send(refusal.into()).map_err(boxed)?;
            }
            Message::Notification(notification) => desk.notified(notification)?,
            Message::Response(_) => {}
        }
    }
    Ok(())
}

struct Desk<'a, A> {
    connection: &'a Connection,
    folder: PathBuf,
    ask: A,
    /// The texts that are open in the editor, by their path in the shop folder.
    open: BTreeMap<String, (Uri, String)>,
}

impl<A: Fn(&Request) -> Result<Answer, String>> Desk<'_, A> {
    fn notified(&mut self, notification: Notification) -> Result<(), ServeError> {
        match notification.method.as_str() {
            DidOpenTextDocument::METHOD => {
                let params: DidOpenTextDocumentParams =
                    serde_json::from_value(notification.params).map_err(boxed)?;
                self.text_is(params.text_document.uri, params.text_document.text)
            }
            DidChangeTextDocument::METHOD => {
                let params: DidChangeTextDocumentParams =
                    serde_json::from_value(notification.params).map_err(boxed)?;
                match params.content_changes.into_iter().next_back() {
                    Some(change) => self.text_is(params.text_document.uri, change.text),
                    None => Ok(()),
                }
            }
            DidCloseTextDocument::METHOD => {
                let params: DidCloseTextDocumentParams =
                    serde_json::from_value(notification.params).map_err(boxed)?;
                if let Some(path) = self.path_of(&params.text_document.uri) {
                    self.open.remove(&path);
                }
                self.publish(params.text_document.uri, Vec::new())
            }
            _ => Ok(()),
        }
    }

    fn text_is(&mut self, uri: Uri, text: String) -> Result<(), ServeError> {
        let Some(path) = self.path_of(&uri) else { return Ok(()) };
        let request = Request::CheckText { path: path.clone(), text: text.clone() };
        let diagnostics = match (self.ask)(&request) {
            Ok(Answer::Check(answer)) => diagnostics(&answer, &Lines::of(&text)),
            Ok(Answer::Refused(refusal)) => vec![trouble(refusal.message)],
            Ok(_) => Vec::new(),
            Err(why) => vec![trouble(why)],
        };
        self.open.insert(path, (uri.clone(), text));
        self.publish(uri, diagnostics)
    }

    fn publish(&self, uri: Uri, diagnostics: Vec<Diagnostic>) -> Result<(), ServeError> {
        let params = PublishDiagnosticsParams { uri, diagnostics, version: None };
        let notification = Notification::new(PublishDiagnostics::METHOD.to_owned(), params);
        self.connection.sender.send(notification.into()).map_err(boxed)?;
        Ok(())
    }

    /// The path in the shop folder of a file that an editor names; `None` for what lies elsewhere or is no record.
    fn path_of(&self, uri: &Uri) -> Option<String> {
        if uri.scheme()?.as_str() != "file" {
            return None;
        }
        let path = percent_encoding::percent_decode_str(uri.path().as_str()).decode_utf8().ok()?;
        let path = Path::new(&*path);
        // The file itself may not be there yet; its directory is.
        let parent = path.parent()?.canonicalize().ok()?;
        let inside =
            parent.join(path.file_name()?).strip_prefix(&self.folder).ok()?.to_str()?.to_owned();
        (inside.ends_with(".md") || inside == "shop.yaml").then_some(inside)
    }
}

fn diagnostics(answer: &CheckAnswer, lines: &Lines) -> Vec<Diagnostic> {
    let problems = answer.problems.iter().map(|problem| Diagnostic {
        range: Range {
            start: lines.position(problem.line, problem.column),
            end: lines.position(problem.end_line, problem.end_column),
        },
        severity: Some(DiagnosticSeverity::ERROR),
        source: Some("taperbook".to_owned()),
        message: problem.message.clone(),
        ..Diagnostic::default()
    });
    let flags = answer.flags.iter().map(|flag| Diagnostic {
        range: lines.rest_of_line(flag.line, flag.column),
        severity: Some(DiagnosticSeverity::WARNING),
        code: Some(lsp_types::NumberOrString::String(flag.flag.clone())),
        source: Some("taperbook".to_owned()),
        message: flag.message.clone(),
        ..Diagnostic::default()
    });
    problems.chain(flags).collect()
}

/// What is shown when the engine can't be asked: at the top of the file, since it is about no place in it.
fn trouble(message: String) -> Diagnostic {
    Diagnostic {
        severity: Some(DiagnosticSeverity::INFORMATION),
        source: Some("taperbook".to_owned()),
        message,
        ..Diagnostic::default()
    }
}

fn boxed(error: impl std::error::Error + Send + Sync + 'static) -> ServeError {
    ServeError(Box::new(error))
}

#[cfg(test)]
mod tests {
    use super::*;
    use lsp_server::Request as LspRequest;
    use serde_json::{Value, json};
    use taperbook_engine::{FlagAnswer, ProblemAnswer};

    /// Answers every check with one problem and one flag in the second line.
    fn answer(request: &Request) -> Result<Answer, String> {
        let Request::CheckText { path, text } = request else {
            return Err("not asked in this test".to_owned());
        };
        if text.is_empty() {
            return Err("nobody answers".to_owned());
        }
        Ok(Answer::Check(CheckAnswer {
            checked: 1,
            problems: vec![ProblemAnswer {
                record: "a".into(),
                path: path.clone(),
                line: 2,
                column: 3,
                end_line: 2,
                end_column: 4,
                message: "a problem".into(),
            }],
            flags: vec![FlagAnswer {
                record: "a".into(),
                path: path.clone(),
                line: 2,
                column: 1,
                flag: "some-fault".into(),
                message: "a fault".into(),
            }],
        }))
    }

    /// Opens one file with a text in an editor of our own and gives what the server publishes.
    fn published(folder: &Path, name: &str, text: &str) -> Option<Value> {
        let (server, editor) = Connection::memory();
        let uri = format!("file://{}/{name}", folder.display());
        std::thread::scope(|scope| {
            let serving = scope.spawn(|| converse(&server, folder, answer));
            let send = |message: Message| editor.sender.send(message).unwrap();
            send(
                LspRequest::new(1.into(), "initialize".into(), json!({ "capabilities": {} }))
                    .into(),
            );
            editor.receiver.recv().unwrap();
            send(Notification::new("initialized".into(), json!({})).into());
            let document =
                json!({ "uri": uri, "languageId": "markdown", "version": 1, "text": text });
            send(
                Notification::new(
                    DidOpenTextDocument::METHOD.into(),
                    json!({ "textDocument": document }),
                )
                .into(),
            );
            send(LspRequest::new(2.into(), "shutdown".into(), Value::Null).into());
            let mut found = None;
            for message in &editor.receiver {
                match message {
                    Message::Notification(notification) => {
                        found = Some(notification.params["diagnostics"].clone())
                    }
                    Message::Response(_) => break,
                    Message::Request(_) => {}
                }
            }
            send(Notification::new("exit".into(), Value::Null).into());
            serving.join().unwrap().unwrap();
            found
        })
    }

    #[test]
    fn problems_and_flags_stand_where_the_editor_counts_them() {
        let folder = tempfile::tempdir().unwrap();
        let found = published(folder.path(), "rod%20one.md", "one\n𝄞 é two\n").unwrap();
        assert_eq!(found[0]["message"], "a problem");
        assert_eq!(
            found[0]["range"]["start"],
            json!({ "line": 1, "character": 3 }),
            "𝄞 is two in UTF-16"
        );
        assert_eq!(found[1]["code"], "some-fault");
        assert_eq!(found[1]["range"]["end"], json!({ "line": 1, "character": 8 }));
    }

    #[test]
    fn a_daemon_that_does_not_answer_is_told_in_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let found = published(folder.path(), "a.md", "").unwrap();
        assert_eq!(found[0]["message"], "nobody answers");
    }

    #[test]
    fn files_elsewhere_are_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(published(folder.path(), "../a.md", "x"), None);
        assert_eq!(published(folder.path(), "a.txt", "x"), None);
    }
}
