//! Writes a node on one line, in braces.

use crate::yaml::{Node, Value};

/// Writes a node so that it reads back as the same.
pub(super) fn write(node: &Node<'_>) -> String {
    match &node.value {
        Value::Empty => "~".to_owned(),
        Value::Scalar(scalar) => text(&scalar.text),
        Value::List(list) => {
            let items: Vec<String> = list.items.iter().map(|item| write(&item.node)).collect();
            format!("[{}]", items.join(", "))
        }
        Value::Map(map) => {
            let entries = map
                .entries
                .iter()
                .map(|entry| format!("{}: {}", text(&entry.key), write(&entry.value)));
            let entries: Vec<String> = entries.collect();
            if entries.is_empty() {
                "{}".to_owned()
            } else {
                format!("{{ {} }}", entries.join(", "))
            }
        }
    }
}

fn text(text: &str) -> String {
    if text.contains(|c: char| c.is_control()) {
        let escaped: String = text.chars().map(escape).collect();
        return format!("\"{escaped}\"");
    }
    let indicators = |c: char| {
        matches!(
            c,
            '-' | '?' | ':' | '&' | '*' | '!' | '|' | '>' | '\'' | '"' | '%' | '@' | '`' | '#'
        )
    };
    let plain = !text.is_empty()
        && text.trim() == text
        && !text.starts_with(indicators)
        && !text.contains(['{', '}', '[', ']', ','])
        && !text.contains(": ")
        && !text.contains(" #")
        && !text.ends_with(':')
        && !matches!(text, "~" | "null" | "Null" | "NULL");
    if plain { text.to_owned() } else { format!("'{}'", text.replace('\'', "''")) }
}

fn escape(c: char) -> String {
    match c {
        '"' => "\\\"".to_owned(),
        '\\' => "\\\\".to_owned(),
        '\n' => "\\n".to_owned(),
        '\t' => "\\t".to_owned(),
        c if c.is_control() => format!("\\u{:04x}", u32::from(c)),
        c => c.to_string(),
    }
}
