//! What is said over the socket: one call and one reply, each a line of JSON, then the connection ends.
//!
//! `{"fence":true,"request":{…}}` is answered by `{"answer":{…}}` or `{"error":{"message":"…"}}`,
//! and `{"stop":true}` by `{"stopping":{"pid":…}}`, which is also the reply to a request that a daemon can't answer any
//! more because it is about to end. Files and threads are not known here.

use serde::{Deserialize, Serialize};
use taperbook_engine::{Answer, Request};

/// The longest call in bytes: the text of the largest record that is read fits, escaped.
pub(crate) const LONGEST_CALL: usize = 16 << 20;

/// What a client says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Call {
    /// Answer with everything that was written before now.
    #[serde(default)]
    pub(crate) fence: bool,
    /// The question.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) request: Option<Request>,
    /// End the daemon.
    #[serde(default, skip_serializing_if = "is_false")]
    pub(crate) stop: bool,
}

/// What the daemon says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Reply {
    /// The engine's answer.
    Answer(Box<Answer>),
    /// There is none, and why.
    Error {
        /// A lower-case fragment.
        message: String,
    },
    /// It is about to stop.
    Stopping {
        /// Its process.
        pid: u32,
    },
}

impl Call {
    /// A question about everything written before now.
    pub(crate) fn fenced(request: Request) -> Self {
        Self { fence: true, request: Some(request), stop: false }
    }

    /// A question about what the daemon has in hand.
    pub(crate) fn unfenced(request: Request) -> Self {
        Self { fence: false, request: Some(request), stop: false }
    }

    /// The order to stop.
    pub(crate) fn stop() -> Self {
        Self { fence: false, request: None, stop: true }
    }
}

impl Reply {
    /// Says that there is no answer.
    pub(crate) fn error(message: impl Into<String>) -> Self {
        Self::Error { message: message.into() }
    }
}

/// Writes a message as its line, line feed included.
pub(crate) fn line(message: &impl Serialize) -> serde_json::Result<Vec<u8>> {
    let mut line = serde_json::to_vec(message)?;
    line.push(b'\n');
    Ok(line)
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands over a reference")]
fn is_false(value: &bool) -> bool {
    !value
}

#[cfg(test)]
mod tests {
    use super::*;
    use taperbook_engine::TryTarget;

    #[track_caller]
    fn check(call: &Call, expected: &str) {
        let line = line(call).unwrap();
        assert_eq!(std::str::from_utf8(&line).unwrap(), format!("{expected}\n"));
        assert_eq!(serde_json::from_slice::<Call>(&line).unwrap(), *call);
    }

    #[test]
    fn calls_are_these_lines() {
        check(&Call::fenced(Request::Names {}), r#"{"fence":true,"request":{"ask":"names"}}"#);
        check(&Call::unfenced(Request::Status {}), r#"{"fence":false,"request":{"ask":"status"}}"#);
        check(&Call::stop(), r#"{"fence":false,"stop":true}"#);
        let query = "a \"b\nc\" \u{2028}".to_owned();
        check(
            &Call::fenced(Request::Find { query, limit: 3 }),
            "{\"fence\":true,\"request\":{\"ask\":\"find\",\"query\":\"a \\\"b\\nc\\\" \u{2028}\",\"limit\":3}}",
        );
        let target = TryTarget { tip_mm: Some(0.1 + 0.2), ..TryTarget::default() };
        let request = Request::Try { record: "builds/a".into(), target, held_at_mm: None };
        let line = line(&Call::fenced(request.clone())).unwrap();
        assert_eq!(
            serde_json::from_slice::<Call>(&line).unwrap(),
            Call::fenced(request),
            "to the last bit"
        );
    }

    #[test]
    fn replies_are_these_lines() {
        let stopping = Reply::Stopping { pid: 7 };
        assert_eq!(line(&stopping).unwrap(), b"{\"stopping\":{\"pid\":7}}\n");
        assert_eq!(line(&Reply::error("no")).unwrap(), b"{\"error\":{\"message\":\"no\"}}\n");
    }

    #[test]
    fn a_call_that_is_none_is_refused() {
        for text in
            ["", "{", "7", r#"{"fence":true,"ask":"names"}"#, r#"{"request":{"ask":"dance"}}"#]
        {
            assert!(serde_json::from_str::<Call>(text).is_err(), "{text}");
        }
    }
}
