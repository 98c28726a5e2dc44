//! What YAML's own reader makes of a text: the type of a plain value, and a second opinion on an edit.

use serde::de::DeserializeOwned;
use serde_yaml::{Mapping, Value};

/// Longer texts are no numbers or words, and not worth the reader's time.
const MOST_SCALAR_BYTES: usize = 64;

/// Gives a plain value as YAML types it; `None` when it is of another type.
pub(crate) fn typed<T: DeserializeOwned>(text: &str) -> Option<T> {
    let value: Value =
        (text.len() <= MOST_SCALAR_BYTES).then(|| serde_yaml::from_str(text).ok())??;
    serde_yaml::from_value(value).ok()
}

/// Tells whether front matter says the same as before but for one more item at the end of `bench`.
///
/// `None` when YAML's own reader can't read what was there before: it is all or nothing, and the reader of records
/// forgives more.
pub(crate) fn grew_by_one_item(before: &str, after: &str) -> Option<bool> {
    let before: Mapping = serde_yaml::from_str(before).ok()?;
    let Ok(after) = serde_yaml::from_str::<Mapping>(after) else { return Some(false) };
    let rest = |map: &Mapping| {
        let mut rest = map.clone();
        rest.remove("bench");
        rest
    };
    let items = |map: &Mapping| match map.get("bench") {
        None | Some(Value::Null) => Some(Vec::new()),
        Some(Value::Sequence(items)) => Some(items.clone()),
        Some(_) => None,
    };
    let (Some(old), Some(new)) = (items(&before), items(&after)) else { return Some(false) };
    Some(rest(&before) == rest(&after) && new.len() == old.len() + 1 && new.starts_with(&old))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plain_value_has_the_type_that_yaml_gives_it() {
        assert_eq!(typed::<u32>("4"), Some(4));
        assert_eq!(typed::<u32>("4.5"), None);
        assert_eq!(typed::<u32>("four"), None);
        assert_eq!(typed::<()>("~"), Some(()));
        assert_eq!(typed::<()>("none"), None);
        assert_eq!(typed::<u32>(&"1".repeat(1000)), None);
    }

    #[track_caller]
    fn check(before: &str, after: &str, expected: Option<bool>) {
        assert_eq!(grew_by_one_item(before, after), expected, "{before:?} {after:?}");
    }

    #[test]
    fn only_one_more_item_is_one_more_item() {
        let before = "blank: heron\nbench:\n- feel: soft\n";
        check(before, "blank: heron\nbench:\n- feel: soft\n- feel: stiff\n", Some(true));
        check("blank: heron\nbench:\n", "blank: heron\nbench:\n- feel: stiff\n", Some(true));
        check("blank: heron\n", "blank: heron\nbench: [{feel: stiff}]\n", Some(true));
        check(before, before, Some(false));
        check(before, "blank: herno\nbench:\n- feel: soft\n- feel: stiff\n", Some(false));
        check(before, "blank: heron\nbench:\n- feel: stiff\n- feel: soft\n", Some(false));
        check(before, "blank: heron\nbench: [\n", Some(false));
        check("blank: heron: 704\n", before, None);
    }
}
