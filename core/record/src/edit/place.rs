//! The place for a new item, by how the bench is written.

use super::{EditError, NewItem, flow, only_item};
use crate::Span;
use crate::read::keys::MAPS;
use crate::source::Problems;
use crate::yaml::{self, Entry, List, Map, Node, Value};

/// The indentation of a list below its key, where the file shows none.
const INDENT: usize = 2;

/// Where to insert which text.
pub(super) struct Place {
    pub(super) at: usize,
    pub(super) text: String,
}

pub(super) fn place<'s>(
    source: &'s str,
    front: &Span,
    root: &Node<'s>,
    map: &Map<'s>,
    item: &NewItem,
) -> Result<Place, EditError> {
    let Some(bench) = map.get("bench") else {
        return if map.flow {
            Err(EditError::Braces)
        } else {
            Ok(without_bench(source, front, root, map, item))
        };
    };
    match &bench.value.value {
        Value::List(list) if list.flow => in_brackets(list, &bench.value, item),
        Value::List(list) => Ok(after_the_last(source, front, list, item)),
        Value::Empty if bench.value.span.is_empty() && !map.flow => {
            Ok(below_the_key(source, front, bench, map, item))
        }
        _ => Err(EditError::NoList),
    }
}

/// A bench in lines: a line below its last item, indented like it.
fn after_the_last(source: &str, front: &Span, list: &List<'_>, item: &NewItem) -> Place {
    let (start, end) = list
        .items
        .last()
        .map_or((front.end, front.end), |last| (last.start, last.node.span.end.max(last.start)));
    let indent = indentation(source, start);
    insert_line(source, front, end, &item.lines, indent)
}

/// `bench:` with nothing after it: the next line.
fn below_the_key(
    source: &str,
    front: &Span,
    bench: &Entry<'_>,
    map: &Map<'_>,
    item: &NewItem,
) -> Place {
    let indent = list_indentation(source, indentation(source, bench.key_span.start), map);
    insert_line(source, front, bench.value.span.end, &item.lines, &indent)
}

/// No bench: the end of the front matter.
fn without_bench(
    source: &str,
    front: &Span,
    root: &Node<'_>,
    map: &Map<'_>,
    item: &NewItem,
) -> Place {
    let outer = indentation(source, root.span.start);
    let inner = list_indentation(source, outer, map);
    let mut lines = vec![format!("{outer}bench:")];
    lines.extend(item.lines.iter().map(|line| format!("{inner}{line}")));
    insert_line(source, front, front.end, &lines, "")
}

/// A bench in brackets: before the closing one.
fn in_brackets(list: &List<'_>, bench: &Node<'_>, item: &NewItem) -> Result<Place, EditError> {
    let text = item.text();
    let mut unheard = Problems::default();
    let parsed = yaml::parse(&text, 0..text.len(), &MAPS, &mut unheard);
    let written = only_item(&parsed).map(flow::write).ok_or(EditError::NoList)?;
    Ok(match list.items.last() {
        Some(last) => Place { at: last.node.span.end, text: format!(", {written}") },
        None => Place { at: bench.span.start + 1, text: written },
    })
}

/// Makes an insertion of whole lines after the line in which `after` stands.
fn insert_line(source: &str, front: &Span, after: usize, lines: &[String], indent: &str) -> Place {
    let line_end = line_end(source);
    let lines: Vec<String> = lines.iter().map(|line| format!("{indent}{line}")).collect();
    let lines = lines.join(line_end);
    let starts_a_line = after == front.end && (after == 0 || source[..after].ends_with('\n'));
    let at = if starts_a_line {
        Some(after)
    } else {
        source[after..front.end].find('\n').map(|found| after + found + 1)
    };
    match at {
        Some(at) => Place { at, text: format!("{lines}{line_end}") },
        None => Place { at: front.end, text: format!("{line_end}{lines}") },
    }
}

/// What stands before a place on its line, when that is only indentation.
fn indentation(source: &str, at: usize) -> &str {
    let start = source[..at].rfind('\n').map_or(0, |found| found + 1);
    let before = source[start..at].trim_start_matches('\u{feff}');
    let blank = before.len() - before.trim_start_matches([' ', '\t']).len();
    &before[..blank]
}

/// Indents a list like another one of the same file.
fn list_indentation(source: &str, outer: &str, map: &Map<'_>) -> String {
    let other = map.entries.iter().find_map(|entry| match &entry.value.value {
        Value::List(list) if !list.flow => {
            list.items.first().map(|item| indentation(source, item.start))
        }
        _ => None,
    });
    other.map_or_else(|| format!("{outer}{}", " ".repeat(INDENT)), str::to_owned)
}

/// How the file ends its lines.
fn line_end(source: &str) -> &'static str {
    match source.find('\n') {
        Some(at) if source[..at].ends_with('\r') => "\r\n",
        _ => "\n",
    }
}
