//! Items that can't be added, and edits that would change more than the one item.

use taperbook_record::{EditError, append_item, verify};

use crate::invariants::check_append;
use crate::samples::{ITEMS, SAMPLES};

/// Checks why an item was not added.
#[track_caller]
fn refused(text: &str, item: &str, expected: &str) {
    let error = append_item("builds/ilse.md", text, item).expect_err("it is refused");
    assert_eq!(error.to_string(), expected);
}

const CUT: &str = "- cut: { tip: 1 in }";

#[test]
fn what_cannot_be_added() {
    let build = "---\nkind: build\nblank: a\n---\n";
    refused(
        build,
        "- cut: { tip: 2,4 in }",
        "the new item can't be read back: `2,4 in` has a comma: write `2.4 in`",
    );
    refused(
        build,
        "- cut: 1 in",
        "the new item can't be read back: `1 in` does not say from which end: write `cut: { tip: 1 in }` or `{ butt: 1 in }`",
    );
    refused(
        build,
        "- cutt: { tip: 1 in }",
        "the new item can't be read back: `cutt` is not known in an item of the bench: did you mean `cut`?",
    );
    refused(
        build,
        "- feel: good\n- feel: better",
        "the new item can't be read back: write one item, such as `- cut: { tip: 1 in }`",
    );
    refused(
        build,
        "- feel: good\nverdict: keep",
        "the new item can't be read back: write one item, such as `- cut: { tip: 1 in }`",
    );
    refused(
        build,
        "- feel: good\n---\nwords",
        "the new item can't be read back: write one item, such as `- cut: { tip: 1 in }`",
    );
    refused(
        build,
        "",
        "the new item can't be read back: nothing stands after this dash: write an item, or take the dash out",
    );
    refused(
        build,
        "- ",
        "the new item can't be read back: `-` is no item: write one such as `- read: { power: 212 g }`",
    );
}

#[test]
fn where_nothing_can_be_added() {
    refused(
        "---\nkind: blank\nlength: 7'2\"\n---\n",
        CUT,
        "the file is not a build: only a build (`kind: build`) has a bench",
    );
    refused("words\n", CUT, "the file is not a build: only a build (`kind: build`) has a bench");
    refused("", CUT, "the file is not a build: only a build (`kind: build`) has a bench");
    refused(
        "---\nkind: build\nblank: a\nbench: none\n---\n",
        CUT,
        "what stands after `bench:` is no list: begin each of its items with `- ` and try again",
    );
    refused(
        "---\nkind: build\nblank: a\nbench: ~\n---\n",
        CUT,
        "what stands after `bench:` is no list: begin each of its items with `- ` and try again",
    );
    refused(
        "---\nkind: build\nblank: a\nbench: { feel: good }\n---\n",
        CUT,
        "what stands after `bench:` is no list: begin each of its items with `- ` and try again",
    );
    refused(
        "---\n{ kind: build, blank: a }\n---\n",
        CUT,
        "the front matter is written in braces: write `bench: []` into it and try again",
    );
    refused(
        "---\nkind: build\nblank: a\nbench:\n  - feel: |+\n      good\n\n\n---\n",
        CUT,
        "nothing was written, because the new item would change the items before it too: mend the problems of the file, or write the item by hand",
    );
}

#[test]
fn verify_sees_every_other_change() {
    let before = "---\nkind: build\nblank: a\nbench:\n  - feel: good\nverdict: keep\n---\nwords\n";
    let after = |bench: &str, rest: &str, body: &str| {
        format!("---\nkind: build\nblank: a\nbench:\n{bench}{rest}---\n{body}")
    };
    let good = "  - feel: good\n  - cut: { tip: 1 in }\n";
    assert_eq!(verify("a.md", before, &after(good, "verdict: keep\n", "words\n"), CUT), Ok(()));
    for (bench, rest, body) in [
        (good, "verdict: keep\n", "other words\n"),
        (good, "verdict: recut\n", "words\n"),
        (good, "", "words\n"),
        (good, "verdict: keep\nrating: 4\n", "words\n"),
        (good, "verdict: keep\nverdict: keep\n", "words\n"),
        ("  - feel: bad\n  - cut: { tip: 1 in }\n", "verdict: keep\n", "words\n"),
        ("  - cut: { tip: 1 in }\n  - feel: good\n", "verdict: keep\n", "words\n"),
        ("  - feel: good\n  - cut: { tip: 2 in }\n", "verdict: keep\n", "words\n"),
        ("  - feel: good\n", "verdict: keep\n", "words\n"),
        (
            "  - feel: good\n  - cut: { tip: 1 in }\n  - cut: { tip: 1 in }\n",
            "verdict: keep\n",
            "words\n",
        ),
    ] {
        let outcome = verify("a.md", before, &after(bench, rest, body), CUT);
        assert!(
            matches!(outcome, Err(EditError::ChangesMore(_) | EditError::Item(_))),
            "{bench}{rest}{body}: {outcome:?}"
        );
    }
}

#[test]
fn every_item_into_every_sample() {
    let mut appended = 0;
    for (path, text) in SAMPLES {
        for item in ITEMS {
            appended +=
                usize::from(check_append(path, text, item).expect("the invariants hold").is_some());
        }
    }
    // Four of the samples are builds, one of them spoiled.
    assert_eq!(appended, 4 * ITEMS.len());
}
