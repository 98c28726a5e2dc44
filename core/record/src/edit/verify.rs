//! Reads a file back after an edit and compares it with what it was.

use super::{EditError, NewItem, only_item};
use crate::read::keys::MAPS;
use crate::source::Problems;
use crate::yaml::{self, Map, Node, Value};
use crate::{Content, front, read, source};

/// Checks that the second text says what the first one does, and one item more at the end of its bench.
///
/// # Errors
/// Names the first thing that differs.
pub fn verify(path: &str, before: &str, after: &str, item: &str) -> Result<(), EditError> {
    let changes = |what: &str| Err(EditError::ChangesMore(what.to_owned()));
    let mut unheard = Problems::default();
    let (before_text, after_text) = (
        source::text(before.as_bytes(), &mut unheard),
        source::text(after.as_bytes(), &mut unheard),
    );
    let before_parts = front::split(&before_text, &mut unheard);
    let after_parts = front::split(&after_text, &mut unheard);
    if before_text[before_parts.body] != after_text[after_parts.body] {
        return changes("the text below the front matter");
    }
    let (Some(before_front), Some(after_front)) = (before_parts.front, after_parts.front) else {
        return changes("where the front matter ends");
    };
    let before_root = yaml::parse(&before_text, before_front.clone(), &MAPS, &mut unheard);
    let after_root = yaml::parse(&after_text, after_front.clone(), &MAPS, &mut unheard);
    let (Value::Map(before_map), Value::Map(after_map)) = (&before_root.value, &after_root.value)
    else {
        return changes("the front matter as a whole");
    };
    same_but_bench(before_map, after_map)?;
    let item = NewItem::new(item)?.text();
    let item_root = yaml::parse(&item, 0..item.len(), &MAPS, &mut unheard);
    let item = only_item(&item_root).ok_or(EditError::NoList)?;
    let old = items(before_map);
    let new = items(after_map);
    if new.len() != old.len() + 1 || !old.iter().zip(&new).all(|(old, new)| old.says_the_same(new))
    {
        return changes("the items before it");
    }
    if !new.last().is_some_and(|last| last.says_the_same(item)) {
        return Err(EditError::Item("it would mean something else where it stands".to_owned()));
    }
    // A reader of another make must see no more than the one item either, wherever it can read the file at all.
    if yaml::grew_by_one_item(&before_text[before_front], &after_text[after_front]) == Some(false) {
        return changes("what another reader of YAML makes of the file");
    }
    // The trees agree; the records must too, since a record is made of nothing else.
    let count = |text: &str| match read(path, text.as_bytes()).record.content {
        Content::Build(build) => Some(build.bench.len()),
        _ => None,
    };
    match (count(before), count(after)) {
        (Some(old), Some(new)) if new == old + 1 => Ok(()),
        _ => changes("the number of items"),
    }
}

fn same_but_bench(before: &Map<'_>, after: &Map<'_>) -> Result<(), EditError> {
    let others = |map: &Map<'_>| {
        map.entries.iter().filter(|entry| entry.key != "bench" || entry.repeated).count()
    };
    if others(before) != others(after) {
        return Err(EditError::ChangesMore("the keys of the front matter".to_owned()));
    }
    let rest = |entry: &&yaml::Entry<'_>| entry.key != "bench" || entry.repeated;
    for (old, new) in before.entries.iter().filter(rest).zip(after.entries.iter().filter(rest)) {
        if old.key != new.key || !old.value.says_the_same(&new.value) {
            return Err(EditError::ChangesMore(crate::source::quoted(&old.key)));
        }
    }
    Ok(())
}

fn items<'n, 's>(map: &'n Map<'s>) -> Vec<&'n Node<'s>> {
    match map.get("bench").map(|bench| &bench.value.value) {
        Some(Value::List(list)) => list.items.iter().map(|item| &item.node).collect(),
        _ => Vec::new(),
    }
}
