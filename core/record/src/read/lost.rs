//! What YAML readers lose without a word: a text's end after ` #`, a value that begins with `#`.
//!
//! Real comments are common in records, so only what looks like a part of the text is reported.

use super::Reader;
use crate::source::quoted;
use crate::yaml::{Node, Style, Value};

impl<'s> Reader<'s, '_> {
    /// Looks at every text inside a node whose key is unknown.
    pub(crate) fn lost_inside(&mut self, node: &Node<'s>) {
        match &node.value {
            Value::Empty => {
                self.lost_whole(node);
            }
            Value::Scalar(_) => self.lost_end(node),
            Value::List(list) => list.items.iter().for_each(|item| self.lost_inside(&item.node)),
            Value::Map(map) => map.entries.iter().for_each(|entry| self.lost_inside(&entry.value)),
        }
    }

    /// Reports a plain text that goes on after ` #`: `line # 6`.
    pub(crate) fn lost_end(&mut self, node: &Node<'s>) {
        let Value::Scalar(scalar) = &node.value else { return };
        if !matches!(scalar.style, Style::Plain | Style::Rejoined) {
            return;
        }
        let rest = self.rest_of_line(node.span.end);
        let gap = rest.len() - rest.trim_start().len();
        let Some(comment) = rest[gap..].strip_prefix('#') else { return };
        let touching = comment.starts_with(char::is_alphanumeric);
        let numbered = gap == 1 && comment.trim_start().starts_with(|c: char| c.is_ascii_digit());
        if touching || numbered {
            let whole = node.span.start..node.span.end + rest.trim_end().len();
            let text = &self.source[whole.clone()];
            let message = format!(
                "{} ends before ` #`, which begins a comment: put the text in quotes, {}",
                quoted(text),
                crate::yaml::in_quotes(text)
            );
            self.problems.report(whole, message);
        }
    }

    /// Reports a value that is a comment as a whole: `marked: #6`.
    ///
    /// Tells whether there was one.
    pub(crate) fn lost_whole(&mut self, node: &Node<'s>) -> bool {
        if !node.span.is_empty() {
            return false;
        }
        let rest = self.rest_of_line(node.span.start);
        let gap = rest.len() - rest.trim_start().len();
        let text = rest[gap..].trim_end();
        let Some(comment) = text.strip_prefix('#') else { return false };
        if !comment.starts_with(char::is_alphanumeric) {
            return false;
        }
        let start = node.span.start + gap;
        let message = format!(
            "{} is taken for a comment, so nothing stands here: put it in quotes, {}",
            quoted(text),
            crate::yaml::in_quotes(text)
        );
        self.problems.report(start..start + text.len(), message);
        true
    }

    fn rest_of_line(&self, at: usize) -> &'s str {
        let rest = &self.source[at..];
        &rest[..rest.find('\n').unwrap_or(rest.len())]
    }
}
