//! The body of a record as plain text.
//!
//! Only words are kept: what is a heading, a list or a link is of no use to the index.

use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};

use crate::Span;
use crate::source::{Problems, floor_boundary};

/// More markdown than this is not turned into text.
pub const MOST_BODY_BYTES: usize = 1024 * 1024;

/// A longer heading is cut when it becomes a title.
const MOST_TITLE_CHARS: usize = 200;

/// What a body gives.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Body {
    /// The first heading that has words.
    pub(crate) heading: Option<String>,
    /// The words, a line for each paragraph.
    pub(crate) text: String,
}

/// Reads the body.
pub(crate) fn read(source: &str, span: Span, problems: &mut Problems) -> Body {
    let mut span = span;
    if MOST_BODY_BYTES < span.len() {
        let end = floor_boundary(source, span.start + MOST_BODY_BYTES);
        let message = "the text is longer than 1 MiB: what follows here is not searched";
        problems.report(end..end, message);
        span.end = end;
    }
    let mut body = Body::default();
    let mut heading_start = None;
    for event in Parser::new_ext(&source[span], Options::empty()) {
        match event {
            Event::Text(text) | Event::Code(text) => body.text.push_str(&text),
            Event::Html(html) | Event::InlineHtml(html) => push_without_tags(&mut body.text, &html),
            Event::SoftBreak => body.text.push(' '),
            Event::HardBreak | Event::Rule => new_line(&mut body.text),
            Event::Start(Tag::Heading { .. }) => {
                new_line(&mut body.text);
                heading_start = Some(body.text.len());
            }
            Event::End(TagEnd::Heading(_)) => {
                if let Some(start) = heading_start.take()
                    && body.heading.is_none()
                {
                    let words: Vec<&str> = body.text[start..].split_whitespace().collect();
                    let title: String = words.join(" ").chars().take(MOST_TITLE_CHARS).collect();
                    body.heading = (!title.is_empty()).then_some(title);
                }
                new_line(&mut body.text);
            }
            Event::Start(tag) if !is_inline(&tag.to_end()) => new_line(&mut body.text),
            Event::End(tag) if !is_inline(&tag) => new_line(&mut body.text),
            _ => {}
        }
    }
    let end = body.text.trim_end().len();
    body.text.truncate(end);
    body
}

/// Tells whether a mark stands inside a line, so that the words around it stay together.
fn is_inline(tag: &TagEnd) -> bool {
    matches!(
        tag,
        TagEnd::Emphasis
            | TagEnd::Strong
            | TagEnd::Strikethrough
            | TagEnd::Link
            | TagEnd::Image
            | TagEnd::Superscript
            | TagEnd::Subscript
    )
}

fn new_line(text: &mut String) {
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
}

/// Keeps the words of raw HTML; its tags and comments are no words.
fn push_without_tags(text: &mut String, html: &str) {
    let mut rest = html;
    while let Some(start) = rest.find('<') {
        text.push_str(&rest[..start]);
        let Some(end) = rest[start..].find('>') else { return };
        rest = &rest[start + end + 1..];
    }
    text.push_str(rest);
}
