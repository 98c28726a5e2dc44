//! What the fuzzer (`examples/fuzz.rs`) once found, each in its shortest form.

use crate::invariants::{check_append, check_read};
use crate::samples::ITEMS;

#[track_caller]
fn check(path: &str, text: &str) {
    assert_eq!(check_read(path, text.as_bytes()).err(), None);
    for item in ITEMS {
        assert_eq!(check_append(path, text, item).err(), None);
    }
}

/// A character of several bytes stood where a dash was looked for, and was cut in two.
#[test]
fn a_list_item_that_begins_with_a_long_character() {
    for character in ["é", "½", "’", "\u{feff}", "\u{2028}", "🎣"] {
        check(
            "a.md",
            &format!(
                "---\nkind: build\nblank: a: b\nbench:\n  - feel: good\n  {character}- feel: good\n   - cut: {{ tip: 1 in }}\n---\n"
            ),
        );
    }
}

/// A quoted text grew without bound when its sixtieth character was a space.
#[test]
fn a_long_text_in_a_message() {
    for piece in ["cut: { tip: 1 in }", "a: b ", ": ", "- ", "&a ", "# "] {
        check("a.md", &format!("---\nkind: build\nblank: a\ntold: {}\n---\n", piece.repeat(300)));
        check("shop.yaml", &format!("clamps: {{ vice: {{ note: {} }} }}\n", piece.repeat(300)));
    }
}

/// A list at the column of its key, ended by a dash and a space, reached beyond the file.
#[test]
fn a_file_that_ends_with_a_dash() {
    for end in ["- ", "-", "- \n", "-\n", "- -", "- - ", "  - "] {
        check("a.md", &format!("---\nkind: build\nblank: a\ntold:\n{end}"));
        check("a.md", &format!("---\nkind: build\nblank: a\nbench:\n{end}"));
        check("a.md", &format!("---\nkind: build\nblank: a: b\nbench:\n{end}"));
    }
}
