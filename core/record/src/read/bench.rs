//! Reads the items of a bench: which action each holds, and what stands beside it.
//!
//! What each action holds is read in `action.rs`.

use std::borrow::Cow;

use super::keys::{Known, Place};
use super::{Reader, action};
use crate::build::{Action, Item};
use crate::source::quoted;
use crate::yaml::{Entry, Map, Node, Value};
use crate::{Date, ScalarPlace, Span, scalar};

pub(crate) const ACTIONS: [&str; 6] = ["read", "cut", "plan", "pull", "feel", "settled"];

static ITEM: Place = Place {
    name: "an item of the bench",
    keys: &["read", "cut", "plan", "pull", "feel", "settled", "date", "note", "board"],
    elsewhere: inside_an_action,
};

fn inside_an_action(key: &str) -> Option<Cow<'static, str>> {
    match key {
        "tip" | "butt" => {
            Some(format!("write it inside an action, such as `- cut: {{ {key}: 1 in }}`").into())
        }
        "load" => Some(
            "write it inside a `pull`, such as `- pull: { tip_angle: 90 deg, load: 410 g }`".into(),
        ),
        "held_at" | "dressed" | "angle_by" | "calipers" => {
            Some("write it inside the `read`".into())
        }
        _ => {
            let example = super::spec::of(super::build::measure(key)?).example;
            Some(
                format!("write it inside an action, such as `- read: {{ {key}: {example} }}`")
                    .into(),
            )
        }
    }
}

/// What may stand inside an action or beside it.
#[derive(Default)]
pub(crate) struct Beside {
    pub(crate) date: Option<Date>,
    pub(crate) note: Option<String>,
    pub(crate) board: Option<String>,
}

impl Beside {
    /// Reads them; a `board` that lists points is no name and is left to the reading.
    pub(crate) fn read<'s>(reader: &mut Reader<'s, '_>, known: &Known<'_, 's>) -> Self {
        let board = known.get("board").filter(|board| !matches!(board.value.value, Value::List(_)));
        Self {
            date: reader.date(known.get("date")).map(|date| date.value),
            note: reader.plain_text(known.get("note"), "after a night in the cold"),
            board: reader.plain_text(board, "long board"),
        }
    }

    fn or(self, other: &Self) -> Self {
        Self {
            date: self.date.or(other.date),
            note: self.note.or_else(|| other.note.clone()),
            board: self.board.or_else(|| other.board.clone()),
        }
    }
}

/// Reads the bench.
pub(crate) fn bench<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>) -> Vec<Item> {
    const EXAMPLE: &str = "`- read: { length: 7'2\" }`";
    let mut items = Vec::new();
    match &entry.value.value {
        Value::Empty => {
            reader.nothing_after(entry, &format!("an item such as {EXAMPLE} on the next line"))
        }
        Value::List(list) if list.items.is_empty() => {
            let message =
                format!("the bench is empty: write an item such as {EXAMPLE}, or take the key out");
            reader.problems.report(entry.value.span.clone(), message);
        }
        Value::List(list) => {
            for item in &list.items {
                read_item(reader, item.start, &item.node, &mut items);
            }
        }
        Value::Map(map) => {
            let message =
                format!("the bench is a list: begin each item with a dash, such as {EXAMPLE}");
            reader.problems.report(entry.key_span.clone(), message);
            let start =
                map.entries.first().map_or(entry.value.span.start, |first| first.key_span.start);
            read_item(reader, start, &entry.value, &mut items);
        }
        Value::Scalar(_) => {
            let message = format!(
                "{} is no bench: write an item such as {EXAMPLE} on the next line",
                reader.written(&entry.value)
            );
            reader.problems.report(entry.value.span.clone(), message);
        }
    }
    items
}

fn read_item<'s>(
    reader: &mut Reader<'s, '_>,
    start: usize,
    node: &Node<'s>,
    items: &mut Vec<Item>,
) {
    let span = start..node.span.end.max(start);
    let Value::Map(map) = &node.value else {
        not_a_map(reader, node, span.clone());
        items.push(Item { action: Action::Unread, date: None, note: None, board: None, span });
        return;
    };
    let is_action = |entry: &&Entry<'s>| ACTIONS.contains(&&*entry.key);
    let before = reader.problems.count();
    let known =
        reader.known_among(map.entries.iter().filter(|entry| !is_action(entry)), map, &ITEM);
    let beside = Beside::read(reader, &known);
    let actions: Vec<&Entry<'s>> = map.entries.iter().filter(is_action).collect();
    if actions.is_empty() {
        if reader.problems.count() == before {
            without_action(reader, map, span.clone());
        }
        items.push(Item {
            action: Action::Unread,
            date: beside.date,
            note: beside.note,
            board: beside.board,
            span,
        });
        return;
    }
    let board_points =
        known.get("board").filter(|board| matches!(board.value.value, Value::List(_)));
    for (idx, entry) in actions.iter().enumerate() {
        let first = idx == 0;
        if !first {
            let message = format!(
                "{} is a second action in one item: begin a new item, `- {}:`",
                quoted(&entry.key),
                entry.key
            );
            reader.problems.report(entry.key_span.clone(), message);
        }
        let (action, inside) = action::read(reader, entry, board_points.filter(|_| first));
        let Beside { date, note, board } = if first { inside.or(&beside) } else { inside };
        let span = if actions.len() == 1 {
            span.clone()
        } else if first {
            start..entry.span().end
        } else {
            entry.span()
        };
        items.push(Item { action, date, note, board, span });
    }
}

fn not_a_map<'s>(reader: &mut Reader<'s, '_>, node: &Node<'s>, span: Span) {
    let message = match node.text() {
        Some(text) if ACTIONS.contains(&text) => {
            format!("{} lacks its colon: write `- {text}: …`", quoted(text))
        }
        Some(text) => {
            format!(
                "{} is no action: write `- feel: {}`, or one of `read`, `cut`, `plan`, `pull` and `settled`",
                quoted(text),
                scalar(&crate::source::shortened(text), ScalarPlace::Line)
            )
        }
        None if node.is_empty() => {
            "nothing stands after this dash: write an item, or take the dash out".to_owned()
        }
        None => format!(
            "{} is no item: write one such as `- read: {{ power: 212 g }}`",
            reader.written(node)
        ),
    };
    reader.problems.report(span, message);
}

fn without_action<'s>(reader: &mut Reader<'s, '_>, map: &Map<'s>, span: Span) {
    let note = map.get("note").and_then(|note| note.value.text());
    let message = match note {
        Some(note) => format!(
            "this item has a note but no action: write `- feel: {}`, or put the note beside a `read`, `cut`, `plan`, `pull` or `settled`",
            scalar(&crate::source::shortened(note), ScalarPlace::Line)
        ),
        None => "this item has no action: write `read`, `cut`, `plan`, `pull`, `feel` or `settled`"
            .to_owned(),
    };
    reader.problems.report(span, message);
}
