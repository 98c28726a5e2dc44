//! Every leaf of the front matter with its dotted key, for the index.

use taperbook_units::{Dimension, Interval, Quantity};

use crate::read::scalars;
use crate::source::floor_boundary;
use crate::yaml::{Node, Scalar, Value};
use crate::{Field, FieldNumber};

/// Longer texts hold no number.
const MOST_NUMBER_BYTES: usize = 80;

/// A longer key is cut, because every leaf below it carries it.
const MOST_KEY_BYTES: usize = 200;

/// Lists the leaves in the order in which they stand.
pub(crate) fn fields(node: &Node<'_>) -> Vec<Field> {
    let mut fields = Vec::new();
    let mut key = String::new();
    walk(node, &mut key, &mut fields);
    fields
}

fn walk(node: &Node<'_>, key: &mut String, fields: &mut Vec<Field>) {
    match &node.value {
        Value::Empty => {}
        Value::Scalar(scalar) => fields.push(Field {
            key: key.clone(),
            text: scalar.text.to_string(),
            number: number(scalar),
            span: node.span.clone(),
        }),
        Value::List(list) => list.items.iter().for_each(|item| walk(&item.node, key, fields)),
        Value::Map(map) => {
            // The second of two equal keys is reported and not used, so it must not be found as a number either.
            for entry in map.entries.iter().filter(|entry| !entry.repeated || is_action(&entry.key))
            {
                let length = key.len();
                if !key.is_empty() {
                    key.push('.');
                }
                key.push_str(&entry.key);
                key.truncate(floor_boundary(key, MOST_KEY_BYTES));
                walk(&entry.value, key, fields);
                key.truncate(length.min(key.len()));
            }
        }
    }
}

/// A repeated action of the bench is read as an item of its own.
fn is_action(key: &str) -> bool {
    crate::read::bench::ACTIONS.contains(&key)
}

fn number(scalar: &Scalar<'_>) -> Option<FieldNumber> {
    let text = &*scalar.text;
    if text.len() > MOST_NUMBER_BYTES || !text.contains(|c: char| c.is_numeric()) {
        return None;
    }
    if let Ok(date) = scalars::date(text) {
        return Some(FieldNumber::Date(date));
    }
    if let Some((low, high)) = text.split_once("..") {
        // An end that is left out is no fault whose message is worth making.
        let ends = [low, high].into_iter().map(str::trim).filter(|end| !end.is_empty());
        let dimension = ends.map(Quantity::parse).find_map(Result::ok)?.dimension;
        return Interval::parse_as(text, dimension).ok().map(FieldNumber::Range);
    }
    let first = text.chars().next()?;
    if !(first.is_numeric() || first == '.') {
        return None;
    }
    let count = || Quantity::parse_as(text, Dimension::Count);
    let is_bare = text.bytes().all(|byte| byte.is_ascii_digit());
    let quantity = if is_bare { count() } else { Quantity::parse(text).or_else(|_| count()) };
    quantity.ok().map(FieldNumber::One)
}
