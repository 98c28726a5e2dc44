//! What YAML's own reader makes of a text: the type of a plain value, and a second opinion on an edit.

use serde_yaml::{Mapping, Value};

/// Tells whether a plain value is nothing (YAML 1.2.2, 10.3.2).
///
/// Asked of every value of a record, so YAML's own reader is not set up for it; a test holds the two together.
pub(super) fn is_null(text: &str) -> bool {
    matches!(text, "~" | "null" | "Null" | "NULL")
}

/// Gives a plain value that is written in digits alone, as YAML types it: with a zero before it, it is text.
pub(crate) fn whole_number(text: &str) -> Option<u32> {
    let is_digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let is_padded = 1 < text.len() && text.starts_with('0');
    (is_digits && !is_padded).then(|| text.parse().ok())?
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
        let long = "1".repeat(1000);
        for text in [
            "4",
            "0",
            "00",
            "010",
            "4.5",
            "4e0",
            "four",
            "0x1F",
            "0o17",
            "-1",
            "+1",
            "1_000",
            "4294967295",
            "4294967296",
            "1 ",
            "٤",
            &long,
            "~",
            "~~",
            "null",
            "Null",
            "NULL",
            "nULL",
            "nul",
            "none",
            "no",
            "n",
            "NaN",
            ".nan",
        ] {
            let read: Value = serde_yaml::from_str(text).unwrap();
            assert_eq!(is_null(text), read.is_null(), "{text:?}");
            let plain = text.bytes().all(|byte| byte.is_ascii_digit());
            let count = read.as_u64().filter(|_| plain).and_then(|count| u32::try_from(count).ok());
            assert_eq!(whole_number(text), count, "{text:?}");
        }
        assert_eq!(whole_number(""), None);
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
