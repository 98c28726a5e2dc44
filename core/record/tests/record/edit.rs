//! Adding an item to a bench: where it goes, and that nothing else changes.

use expect_test::{Expect, expect};
use taperbook_record::append_item;

use crate::invariants::check_append;

/// Checks the whole file after an item was added.
#[track_caller]
fn check(text: &str, item: &str, expected: Expect) {
    match append_item("builds/ilse.md", text, item) {
        Ok(insertion) => {
            let doubts: String = insertion
                .doubts
                .iter()
                .map(|doubt| format!("doubt: {}\n", doubt.message))
                .collect();
            expected.assert_eq(&(insertion.result.replace('\r', "␍") + &doubts));
        }
        Err(error) => panic!("{error}"),
    }
    assert_eq!(check_append("builds/ilse.md", text, item).err(), None);
}

const CUT: &str = "- cut: { tip: 1 in }";

#[test]
fn after_the_last_item() {
    check(
        "---\nkind: build\nblank: a\nbench:\n  - read: { length: 7'2\" }\nverdict: keep\n---\nwords\n",
        CUT,
        expect![[r#"
            ---
            kind: build
            blank: a
            bench:
              - read: { length: 7'2" }
              - cut: { tip: 1 in }
            verdict: keep
            ---
            words
        "#]],
    );
}

#[test]
fn like_the_items_before_it() {
    check(
        "---\nkind: build\nblank: a\nbench:\n- feel: good\n---\n",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
        - feel: good
        - cut: { tip: 1 in }
        ---
    "#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench:\n      -   feel: good   # so far\n\n      # more to come\n\nverdict: keep\n---\n",
        CUT,
        expect![[r#"
            ---
            kind: build
            blank: a
            bench:
                  -   feel: good   # so far
                  - cut: { tip: 1 in }

                  # more to come

            verdict: keep
            ---
        "#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench:\n  - read:\n      length: 7'2\"\n      note: |\n        wet\n        cold\n\n---\n",
        CUT,
        expect![[r#"
            ---
            kind: build
            blank: a
            bench:
              - read:
                  length: 7'2"
                  note: |
                    wet
                    cold
              - cut: { tip: 1 in }

            ---
        "#]],
    );
}

#[test]
fn with_the_files_line_ends() {
    check(
        "---\r\nkind: build\r\nblank: a\r\nbench:\r\n  - feel: good\r\n---\r\nwords\r\n",
        CUT,
        expect![[r#"
            ---␍
            kind: build␍
            blank: a␍
            bench:␍
              - feel: good␍
              - cut: { tip: 1 in }␍
            ---␍
            words␍
        "#]],
    );
    check(
        "\u{feff}---\r\nkind: build\r\nblank: a\r\n---\r\n",
        CUT,
        expect![[r#"
        ﻿---␍
        kind: build␍
        blank: a␍
        bench:␍
          - cut: { tip: 1 in }␍
        ---␍
    "#]],
    );
}

#[test]
fn a_bench_that_is_empty_or_missing() {
    check(
        "---\nkind: build\nblank: a\nbench:\nverdict: keep\n---\n",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
          - cut: { tip: 1 in }
        verdict: keep
        ---
    "#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench:   # from here on\n  # - read: { length: 7'2\" }\n---\n",
        CUT,
        expect![[r#"
            ---
            kind: build
            blank: a
            bench:   # from here on
              - cut: { tip: 1 in }
              # - read: { length: 7'2" }
            ---
        "#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench: []\n---\n",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench: [{ cut: { tip: 1 in } }]
        ---
    "#]],
    );
    check(
        "---\nkind: build\nblank: a\n---\nwords\n",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
          - cut: { tip: 1 in }
        ---
        words
    "#]],
    );
    check(
        "---\nkind: build\nblank: a\nguides:\n- 6 mm\n---\n",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        guides:
        - 6 mm
        bench:
        - cut: { tip: 1 in }
        ---
    "#]],
    );
}

#[test]
fn a_bench_in_brackets() {
    check(
        "---\nkind: build\nblank: a\nbench: [{ feel: good }]\n---\n",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench: [{ feel: good }, { cut: { tip: 1 in } }]
        ---
    "#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench: [\n  { feel: good },   # so far\n  ]\n---\n",
        "- feel: \"good, still\"\n  date: 2026-03-15",
        expect![[r#"
            ---
            kind: build
            blank: a
            bench: [
              { feel: good }, { feel: 'good, still', date: 2026-03-15 },   # so far
              ]
            ---
        "#]],
    );
    check(
        "---\n{ kind: build, blank: a, bench: [] }\n---\n",
        CUT,
        expect![[r#"
        ---
        { kind: build, blank: a, bench: [{ cut: { tip: 1 in } }] }
        ---
    "#]],
    );
}

#[test]
fn a_file_that_ends_early() {
    check(
        "---\nkind: build\nblank: a\nbench:\n  - feel: good",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
          - feel: good
          - cut: { tip: 1 in }"#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench:",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
          - cut: { tip: 1 in }"#]],
    );
    check(
        "---\nkind: build\nblank: a\nbench:\n  - feel: good\n---",
        CUT,
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
          - feel: good
          - cut: { tip: 1 in }
        ---"#]],
    );
}

#[test]
fn items_of_several_lines_and_without_a_dash() {
    let text = "---\nkind: build\nblank: a\nbench:\n    - feel: good\n---\n";
    check(
        text,
        "cut: { tip: 1 in }",
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
            - feel: good
            - cut: { tip: 1 in }
        ---
    "#]],
    );
    check(
        text,
        "read:\n  power: 224 g\n  note: windy\ndate: 2026-03-15\n",
        expect![[r#"
        ---
        kind: build
        blank: a
        bench:
            - feel: good
            - read:
                power: 224 g
                note: windy
              date: 2026-03-15
        ---
    "#]],
    );
}

#[test]
fn a_file_with_problems_of_its_own() {
    check(
        "---\nkind: build\nblank: a\ntold: yes: no\nbench:\n  - read: { tip_od: 2,4 mm }\n  - feel: *good*\n---\n",
        CUT,
        expect![[r#"
            ---
            kind: build
            blank: a
            told: yes: no
            bench:
              - read: { tip_od: 2,4 mm }
              - feel: *good*
              - cut: { tip: 1 in }
            ---
        "#]],
    );
}

#[test]
fn what_is_doubtful_is_told() {
    check(
        "---\nkind: build\nblank: a\nbench:\n  - read: { length: 7'2\" }\n---\n",
        "- cut: { tip: 25 in }",
        expect![[r#"
            ---
            kind: build
            blank: a
            bench:
              - read: { length: 7'2" }
              - cut: { tip: 25 in }
            ---
            doubt: `25 in` takes 29 % of the blank: did you mean `25 mm`?
        "#]],
    );
}
