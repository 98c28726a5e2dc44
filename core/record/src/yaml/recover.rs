//! Reads front matter that is not YAML: piece by piece, then line by line.
//!
//! Each piece that is YAML by itself is read as such; only the lines that are not are taken by their looks,
//! each with a problem that says how to write it.

use super::complaint::{complained, complaint};
use super::events::{self, Refusal};
use super::lines::{Line, key, key_without_space, lines, without_comment};
use super::mend::report_missing_space;
use super::{Entry, List, ListItem, MOST_DEPTH, Map, Node, Style, Value, flow};
use crate::Span;
use crate::source::{Problems, quoted};

pub(super) const TOO_DEEP: &str =
    "lists and maps are nested more than 32 deep here: what is inside is not read";

/// Reads what it can.
pub(super) fn recover<'s>(
    source: &'s str,
    part: Span,
    refusal: &Refusal,
    maps: &[&str],
    problems: &mut Problems,
) -> Node<'s> {
    let before = problems.count();
    let lines = lines(source, part);
    let node = Recovery { source, maps, problems: &mut *problems }.block(&lines, 0);
    if problems.count() == before {
        report_misfit(source, &lines, refusal, problems);
    }
    node
}

/// Reports a line that is YAML by itself and does not fit those around it.
fn report_misfit(source: &str, lines: &[Line], refusal: &Refusal, problems: &mut Problems) {
    let words = lines.iter().filter(|line| !line.is_blank(source));
    let Some(line) = words.clone().rfind(|line| line.start <= refusal.at).or(words.clone().next())
    else {
        return problems.report(refusal.at..refusal.at, "this is not understood");
    };
    let text = line.text(source);
    let message = if text.starts_with(['}', ']']) {
        format!(
            "{} stands too far to the left: indent it deeper than the key that it belongs to",
            quoted(text)
        )
    } else {
        format!("{} does not fit the lines above it: check its indentation", quoted(text))
    };
    problems.report(line.start..line.end, message);
}

struct Recovery<'s, 'p> {
    source: &'s str,
    maps: &'p [&'p str],
    problems: &'p mut Problems,
}

impl<'s> Recovery<'s, '_> {
    /// Reads lines that belong together: a list, a map or running text.
    fn block(&mut self, lines: &[Line], depth: usize) -> Node<'s> {
        let skip = lines.iter().take_while(|line| line.is_blank(self.source)).count();
        let lines = &lines[skip..];
        let Some(first) = lines.first().copied() else {
            return Node::empty(0);
        };
        if MOST_DEPTH <= depth {
            self.problems.report(first.start..first.end, TOO_DEEP);
            return Node::empty(first.start);
        }
        let text = first.text(self.source);
        if first.is_item(self.source) {
            self.list(lines, depth)
        } else if text.starts_with(['{', '[']) {
            self.flow(first.start, lines, depth)
        } else if key(text).is_some() || key_without_space(text).is_some() || depth == 0 {
            self.map(lines, depth)
        } else {
            self.text(first.start..first.end, &lines[1..])
        }
    }

    fn list(&mut self, lines: &[Line], depth: usize) -> Node<'s> {
        let mut items: Vec<ListItem<'s>> = Vec::new();
        for chunk in self.chunks(lines, true) {
            let first = chunk[0];
            if let Ok(Some(Node { value: Value::List(list), .. })) = self.attempt(chunk, depth) {
                items.extend(list.items);
                continue;
            }
            let node = if let Some(mark) = first.mark(self.source) {
                if !mark.good {
                    let text = first.text(self.source);
                    let message = format!(
                        "{} does not begin with a dash and a space: write {}",
                        quoted(text),
                        quoted(&format!("- {}", text[mark.len..].trim_start()))
                    );
                    self.problems.report(first.start..first.end, message);
                }
                let mut inner = chunk.to_vec();
                inner[0] = first.from(self.source, first.start + mark.len);
                self.block(&inner, depth + 1)
            } else {
                let message = format!(
                    "{} stands in a list without a dash: write `- ` before it",
                    quoted(first.text(self.source))
                );
                self.problems.report(first.start..first.end, message);
                self.block(chunk, depth + 1)
            };
            let node = if node.is_empty() { Node::empty(first.end) } else { node };
            items.push(ListItem { start: first.start, node });
        }
        let start = items.first().map_or(lines[0].start, |item| item.start);
        let end = items.last().map_or(start, |item| item.end(self.source));
        Node { span: start..end, value: Value::List(List { flow: false, items }) }
    }

    fn map(&mut self, lines: &[Line], depth: usize) -> Node<'s> {
        let mut entries: Vec<Entry<'s>> = Vec::new();
        for chunk in self.chunks(lines, false) {
            match self.attempt(chunk, depth) {
                Ok(Some(Node { value: Value::Map(map), .. })) if !map.flow => {
                    entries.extend(map.entries)
                }
                Ok(_) => self.entry(chunk, depth, None, &mut entries),
                Err(refusal) => self.entry(chunk, depth, Some(&refusal), &mut entries),
            }
        }
        let start = entries.first().map_or(lines[0].start, |entry| entry.key_span.start);
        let end = entries.last().map_or(start, |entry| entry.span().end);
        Node { span: start..end.max(start), value: Value::Map(Map::new(entries, false)) }
    }

    /// Cuts lines into pieces that begin at the first line's indentation.
    fn chunks<'l>(&mut self, lines: &'l [Line], list: bool) -> Vec<&'l [Line]> {
        let source = self.source;
        let base = lines[0].indent;
        let mut starts = vec![0];
        for (idx, line) in lines.iter().copied().enumerate().skip(1) {
            let closes = line.text(source).starts_with(['}', ']']);
            if line.is_blank(source) || (closes && opens(source, lines, &starts)) {
                continue;
            }
            let item = line.is_item(source);
            // A dash that stands left of what the item above it holds begins an item, however it slipped.
            let slipped = list
                && item
                && base < line.indent
                && line.indent < inner_indent(source, lines, &starts);
            let inside = !list && item;
            if base < line.indent && !slipped || line.indent == base && inside {
                continue;
            }
            if line.indent != base {
                let message = format!(
                    "{} is not indented like the lines above it",
                    quoted(line.text(source))
                );
                self.problems.report(line.start..line.end, message);
                if inside {
                    continue;
                }
            }
            starts.push(idx);
        }
        let ends = starts.iter().skip(1).copied().chain([lines.len()]);
        starts.iter().zip(ends).map(|(start, end)| &lines[*start..end]).collect()
    }

    /// Tries one piece as YAML by itself.
    fn attempt(&mut self, chunk: &[Line], depth: usize) -> Result<Option<Node<'s>>, Refusal> {
        self.attempt_part(chunk[0].start..chunk[chunk.len() - 1].next, depth)
    }

    fn attempt_part(&mut self, part: Span, depth: usize) -> Result<Option<Node<'s>>, Refusal> {
        let start = part.start;
        let mut found = Problems::default();
        let node = events::tree(self.source, part, &mut found)?;
        if node.as_ref().is_some_and(|node| MOST_DEPTH < depth + node.depth()) {
            return Err(Refusal { at: start });
        }
        self.problems.append(found);
        Ok(node)
    }

    /// Reads the lines of one entry by their looks.
    fn entry(
        &mut self,
        chunk: &[Line],
        depth: usize,
        refusal: Option<&Refusal>,
        entries: &mut Vec<Entry<'s>>,
    ) {
        let source = self.source;
        let first = chunk[0];
        let text = first.text(source);
        let count = self.problems.count();
        if let Some((line, odd)) = chunk.iter().find_map(|line| Some((line, line.odd?))) {
            let what = if odd == '\t' { "a tab" } else { "a space that is no plain one" };
            let message = format!("this line is indented with {what}: indent with plain spaces");
            self.problems.report(line.start..line.end, message);
        }
        let Some(keyed) = key(text) else {
            if let Some((key, value)) = key_without_space(without_comment(text)) {
                let written = without_comment(text);
                report_missing_space(
                    written,
                    first.start..first.start + written.len(),
                    self.problems,
                );
                let (key_span, span) = (shifted(key, first.start), shifted(value, first.start));
                let value = self.value(span.start, first, &chunk[1..], depth, entries);
                entries.push(Entry::new(&source[key_span.clone()], key_span, value));
            } else {
                self.stray(first);
                if 1 < chunk.len() {
                    self.siblings(&chunk[1..], depth, entries);
                }
            }
            return;
        };
        let key_span = shifted(keyed.key, first.start);
        if chunk.len() == 1
            && let Some(mut braced) = self.without_braces(first, &key_span, keyed.rest, depth)
        {
            entries.append(&mut braced);
            return;
        }
        let mut more = Vec::new();
        let value = self.value(first.start + keyed.rest, first, &chunk[1..], depth, &mut more);
        let value = if value.is_empty() { Node::empty(first.start + keyed.rest) } else { value };
        if self.problems.count() == count {
            match refusal.filter(|refusal| first.next <= refusal.at) {
                Some(refusal) => report_misfit(source, chunk, refusal, self.problems),
                None => {
                    let message = format!(
                        "{} cannot be read as it stands: put its text in quotes",
                        quoted(text)
                    );
                    self.problems.report(first.start..first.end, message);
                }
            }
        }
        entries.push(Entry::new(&source[key_span.clone()], key_span, value));
        entries.append(&mut more);
    }

    /// Reads a line that lacks braces: `- cut: tip: 1 in`, or `- at: 0 in, od: 11 mm` for what should be one map.
    fn without_braces(
        &mut self,
        first: Line,
        key_span: &Span,
        rest: usize,
        depth: usize,
    ) -> Option<Vec<Entry<'s>>> {
        let source = self.source;
        let rest = first.from(source, first.start + rest);
        let text = without_comment(rest.text(source));
        let part = rest.start..rest.start + text.len();
        let key = &source[key_span.clone()];
        if self.maps.contains(&key) && flow::begins_with_entry(text) {
            let message = format!(
                "{} lacks its braces: write {}",
                quoted(text),
                quoted(&format!("{key}: {{ {text} }}"))
            );
            self.problems.report(part.clone(), message);
            let value = flow::read_without_braces(source, part, depth + 1, self.problems);
            return Some(vec![Entry::new(key, key_span.clone(), value)]);
        }
        if depth == 0 || !flow::goes_on_with_entry(text) {
            return None;
        }
        let part = first.start..part.end;
        let text = &source[part.clone()];
        let message = format!(
            "{} lacks its braces: write {}",
            quoted(text),
            quoted(&format!("{{ {text} }}"))
        );
        self.problems.report(part.clone(), message);
        match flow::read_without_braces(source, part, depth, self.problems).value {
            Value::Map(map) => Some(map.entries),
            _ => None,
        }
    }

    /// A line that is neither an entry nor an item.
    fn stray(&mut self, line: Line) {
        let text = line.text(self.source);
        let message = if matches!(text, "..." | "---") || text.starts_with('%') {
            format!("{} has no place inside front matter: take it out", quoted(text))
        } else {
            format!("{} is no `key: value`: give it a key, such as `note: …`", quoted(text))
        };
        self.problems.report(line.start..line.end, message);
    }

    fn value(
        &mut self,
        rest: usize,
        first: Line,
        following: &[Line],
        depth: usize,
        siblings: &mut Vec<Entry<'s>>,
    ) -> Node<'s> {
        let source = self.source;
        let rest = first.from(source, rest);
        let text = without_comment(rest.text(source));
        let span = rest.start..rest.start + text.len();
        if text.is_empty() {
            return self.block(following, depth + 1);
        }
        if text.starts_with(['{', '[']) {
            let mut all = vec![rest];
            all.extend_from_slice(following);
            return self.flow(rest.start, &all, depth + 1);
        }
        if text.starts_with(['&', '*', '!']) {
            let marker = &text[..text.find(' ').unwrap_or(text.len())];
            let after = first.from(source, rest.start + marker.len());
            let alone =
                marker.len() == text.len() && following.iter().any(|line| !line.is_blank(source));
            if alone || after.text(source).starts_with(['{', '[']) {
                let message = format!("{} is not understood here: take it out", quoted(marker));
                self.problems.report(rest.start..rest.start + marker.len(), message);
                return self.value(after.start, first, following, depth, siblings);
            }
        }
        let entry_below = following
            .iter()
            .position(|line| key(line.text(source)).is_some() || line.is_item(source));
        let (own, below) = following.split_at(entry_below.unwrap_or(following.len()));
        let node = self.text(span, own);
        if let Some(line) = below.first() {
            let message = format!(
                "{} is indented deeper than the lines it belongs to: indent it like {}",
                quoted(line.text(source)),
                quoted(first.text(source))
            );
            self.problems.report(line.start..line.end, message);
            self.siblings(below, depth, siblings);
        }
        node
    }

    /// Reads lines that slipped below an entry as entries beside it.
    fn siblings(&mut self, lines: &[Line], depth: usize, entries: &mut Vec<Entry<'s>>) {
        let node = self.block(lines, depth + 1);
        if let Value::Map(map) = node.value {
            entries.extend(map.entries);
        }
    }

    /// Takes running text as written.
    fn text(&mut self, span: Span, following: &[Line]) -> Node<'s> {
        let source = self.source;
        let lines: Vec<&Line> = following.iter().filter(|line| line.start != line.end).collect();
        let Some(last) = lines.last() else {
            return complained(source, span, self.problems);
        };
        let mut text = source[span.clone()].to_owned();
        for line in &lines {
            text.push(' ');
            text.push_str(line.text(source));
        }
        let whole = span.start..last.end;
        let (text, message) = complaint(&text);
        if let Some(message) = message {
            self.problems.report(whole.clone(), message);
        }
        Node::scalar(text.to_owned(), Style::Recovered, whole)
    }

    fn flow(&mut self, start: usize, lines: &[Line], depth: usize) -> Node<'s> {
        let last = lines.iter().rev().find(|line| !line.is_blank(self.source));
        let part = start..last.map_or(start, |line| line.end).max(start);
        match self.attempt_part(part.clone(), depth) {
            Ok(Some(node)) => node,
            _ => flow::read(self.source, part, depth, self.problems),
        }
    }
}

/// Tells whether the last begun piece opens a bracket on its first line.
fn opens(source: &str, lines: &[Line], starts: &[usize]) -> bool {
    starts.last().is_some_and(|start| lines[*start].text(source).contains(['{', '[']))
}

/// The column of what the last begun item holds.
fn inner_indent(source: &str, lines: &[Line], starts: &[usize]) -> usize {
    let first = starts.last().map_or(lines[0], |start| lines[*start]);
    let Some(mark) = first.mark(source) else { return first.indent + 1 };
    let inner = first.from(source, first.start + mark.len);
    if inner.start < inner.end { inner.indent } else { first.indent + 1 }
}

fn shifted(range: Span, by: usize) -> Span {
    range.start + by..range.end + by
}
