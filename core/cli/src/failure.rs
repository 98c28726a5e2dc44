//! Why a command could not be done, as a person and as a program reads it.
//!
//! It does not decide where it is printed, nor the exit code.

use std::error::Error;

use serde_json::{Value, json};
use taperbook_edit::EditFailure;

use crate::style::{BAD, CARE, clean, paint, width};

/// Why a command could not be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Failure {
    /// A lower-case fragment that quotes what was asked and says what to write instead.
    message: String,
    /// What to do about it.
    hint: Option<String>,
    /// The query that it is about, and which bytes of it.
    query: Option<(String, (usize, usize))>,
}

impl Failure {
    pub(crate) fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), hint: None, query: None }
    }

    /// Makes one of an error and the causes behind it.
    pub(crate) fn from_error(error: &dyn Error) -> Self {
        let mut message = error.to_string();
        let mut cause = error.source();
        while let Some(source) = cause {
            message = format!("{message}: {source}");
            cause = source.source();
        }
        Self::new(message)
    }

    /// What it says, for somebody who shows it in a place of their own.
    pub(crate) fn into_message(self) -> String {
        self.message
    }

    pub(crate) fn hint(self, hint: impl Into<String>) -> Self {
        Self { hint: Some(hint.into()), ..self }
    }

    /// Says that it is about these bytes of a query.
    pub(crate) fn in_query(self, query: &str, at: (usize, usize)) -> Self {
        Self { query: Some((query.to_owned(), at)), ..self }
    }

    /// Gives it as lines on a screen.
    pub(crate) fn print(&self) -> String {
        let mut lines = format!("{} {}\n", paint(BAD, "error:"), clean(&self.message));
        if let Some((query, at)) = &self.query {
            lines.push_str(&caret(query, *at));
        }
        if let Some(hint) = &self.hint {
            lines.push_str(&format!("{} {}\n", paint(CARE, "hint:"), clean(hint)));
        }
        lines
    }

    /// Gives it as JSON.
    pub(crate) fn json(&self) -> Value {
        let mut error = json!({ "message": self.message });
        if let Some(hint) = &self.hint {
            error["hint"] = json!(hint);
        }
        if let Some((_, at)) = &self.query {
            error["at"] = json!(at);
        }
        json!({ "error": error })
    }
}

impl From<EditFailure> for Failure {
    fn from(failure: EditFailure) -> Self {
        Self { message: failure.message, hint: failure.hint, query: None }
    }
}

/// Shows the query with carets under the bytes that are meant; of a long query the part around them.
fn caret(query: &str, at: (usize, usize)) -> String {
    const MOST_COLUMNS: usize = 76;
    const BEFORE: usize = 24;
    let start = floor(query, at.0);
    let end = floor(query, at.1).max(start);
    let mut from = 0;
    if width(&clean(query)) > MOST_COLUMNS {
        from = floor(query, start.saturating_sub(BEFORE));
    }
    let before = clean(&query[from..start]);
    let shown = crate::style::shortened(&clean(&query[from..]), MOST_COLUMNS);
    let dots = if from == 0 { "" } else { "…" };
    let indent = width(dots) + width(&before);
    let marks = width(&clean(&query[start..end])).clamp(1, (MOST_COLUMNS - width(&before)).max(1));
    format!("  {dots}{shown}\n  {}{}\n", " ".repeat(indent), paint(BAD, &"^".repeat(marks)))
}

/// Moves a byte place back to where a character starts.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use expect_test::{Expect, expect};

    use super::*;

    #[track_caller]
    fn check(failure: &Failure, expected: Expect) {
        expected.assert_eq(&anstream::adapter::strip_str(&failure.print()).to_string());
    }

    #[test]
    fn a_query_is_shown_with_a_caret_under_the_place() {
        let failure = Failure::new("`biuld` is no kind: did you mean `build`?");
        check(
            &failure
                .clone()
                .in_query("Søren kind:biuld", (12, 17))
                .hint("`taperbook help find` lists the fields"),
            expect![[r#"
                error: `biuld` is no kind: did you mean `build`?
                  Søren kind:biuld
                             ^^^^^
                hint: `taperbook help find` lists the fields
            "#]],
        );
        check(
            &failure.clone().in_query("kind:", (5, 5)),
            expect![[r#"
                error: `biuld` is no kind: did you mean `build`?
                  kind:
                       ^
            "#]],
        );
    }

    #[test]
    fn of_a_long_query_the_part_around_the_place_is_shown() {
        let query = format!("{} kind:biuld {}", "word ".repeat(40), "word ".repeat(40));
        let at = query.find("biuld").unwrap_or(0);
        check(
            &Failure::new("`biuld` is no kind").in_query(&query, (at, at + 5)),
            expect![[r#"
                error: `biuld` is no kind
                  …rd word word word  kind:biuld word word word word word word word word word…
                                           ^^^^^
            "#]],
        );
    }

    #[test]
    fn a_place_outside_the_query_or_inside_a_character_does_no_harm() {
        check(
            &Failure::new("wrong").in_query("ø", (1, 900)),
            expect![[r#"
                error: wrong
                  ø
                  ^
            "#]],
        );
    }

    #[test]
    fn json_carries_message_hint_and_place() {
        let failure = Failure::new("wrong").hint("do this").in_query("abc", (1, 2));
        assert_eq!(
            failure.json().to_string(),
            r#"{"error":{"at":[1,2],"hint":"do this","message":"wrong"}}"#
        );
        assert_eq!(Failure::new("wrong").json().to_string(), r#"{"error":{"message":"wrong"}}"#);
    }
}
