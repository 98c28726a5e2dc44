//! Front matter by its lines, whatever the file looks like.

use expect_test::expect;
use taperbook_record::{Content, Kind};

use crate::{check, parse};

const BUILD: &str = "---\nkind: build\nblank: heron-704\nheld_at: 9 in\n---\nIt sang.\n";

#[test]
fn line_ends_and_a_byte_order_mark() {
    let plain = parse("a.md", BUILD);
    for text in [
        BUILD.replace('\n', "\r\n"),
        format!("\u{feff}{BUILD}"),
        format!("\u{feff}{BUILD}").replace('\n', "\r\n"),
        BUILD.replace('\n', "\r"),
    ] {
        let parsed = parse("a.md", &text);
        assert_eq!(parsed.problems, [], "{text:?}");
        assert_eq!(parsed.body, "It sang.");
        let held_at =
            parsed.record.build().and_then(|build| build.held_at.clone()).expect("it is read");
        assert_eq!(&text[held_at.span], "9 in");
        assert_eq!(parsed.record.kind(), plain.record.kind());
    }
}

#[test]
fn columns_do_not_count_a_byte_order_mark() {
    check(
        "a.md",
        "\u{feff}---\nkind: biuld\n---\n",
        expect![[r#"
        a.md:2:7: `biuld` is no kind of record: did you mean `build`?
    "#]],
    );
    check(
        "a.md",
        "\u{feff}kind: note\n",
        expect![[r#"
            a.md:1:1: the front matter has no line above it: write a line `---` above and one below
        "#]],
    );
}

#[test]
fn columns_count_characters() {
    check(
        "a.md",
        "---\r\nkind: build\r\nblank: h\r\nlimits: { Länge: 3, é: .. 2 }\r\n---\r\n",
        expect![[r#"
        a.md:4:11: `Länge` is nothing that `limits` knows: write `length`, `free_length`, `tip_od`, `butt_od`, `weight`, `balance`, `power`, `stiffness_for_length`, `tip_angle`, `bend_centre` or `recovery`
        a.md:4:21: `é` is nothing that `limits` knows: write `length`, `free_length`, `tip_od`, `butt_od`, `weight`, `balance`, `power`, `stiffness_for_length`, `tip_angle`, `bend_centre` or `recovery`
    "#]],
    );
}

#[test]
fn front_matter_only() {
    let parsed = parse("a.md", "---\nkind: build\nblank: heron-704\n---");
    assert_eq!(parsed.problems, []);
    assert_eq!(parsed.record.kind(), Kind::Build);
    assert_eq!(parsed.body, "");
}

#[test]
fn a_block_that_is_not_closed() {
    check(
        "a.md",
        "---\nkind: build\nblank: heron-704\nbench:\n  - feel: good\n\nIt sang.\n",
        expect![[r#"
        a.md:1:1: the front matter is not closed: write a line `---` after its last line
    "#]],
    );
    let parsed =
        parse("a.md", "---\nkind: build\nblank: heron-704\nbench:\n  - feel: good\n\nIt sang.\n");
    assert_eq!(parsed.record.build().map(|build| build.bench.len()), Some(1));
    assert_eq!(parsed.body, "It sang.");
    check(
        "a.md",
        "---\nkind: build\nblank: heron-704",
        expect![[r#"
        a.md:1:1: the front matter is not closed: write a line `---` after its last line
    "#]],
    );
}

#[test]
fn a_note_may_begin_with_a_rule() {
    for text in ["---\n\nIt sang.\n", "---\nIt sang.\n", "---\n", "---"] {
        let parsed = parse("notes/a.md", text);
        assert_eq!(parsed.problems, [], "{text:?}");
        assert_eq!(parsed.record.content, Content::Note);
    }
    assert_eq!(parse("notes/a.md", "---\n\nIt sang.\n").body, "It sang.");
}

#[test]
fn text_between_two_rules_is_kept() {
    check(
        "notes/a.md",
        "---\nIt sang.\n---\nand broke\n",
        expect![[r#"
            notes/a.md:2:1: `It sang.` is no `key: value` line: write some, such as `kind: build`
        "#]],
    );
    assert!(parse("notes/a.md", "---\nIt sang.\n---\nand broke\n").body.contains("It sang."));
}

#[test]
fn what_stands_above_the_front_matter() {
    check(
        "a.md",
        "\n\n---\nkind: build\nblank: h\n---\n",
        expect![[r#"
        a.md:1:1: the front matter must begin on the first line: take out the empty lines above `---`
    "#]],
    );
    check(
        "a.md",
        "kind: build\nblank: h\n---\nIt sang.\n",
        expect![[r#"
        a.md:1:1: the front matter has no line above it: write a line `---` above and one below
    "#]],
    );
    check(
        "a.md",
        "kind: build\nblank: h\n\nIt sang.\n",
        expect![[r#"
            a.md:1:1: the front matter has no line above it: write a line `---` above and one below
        "#]],
    );
    check(
        "a.md",
        "—\nkind: build\nblank: h\n---\n",
        expect![[r#"
        a.md:1:1: `—` does not open the front matter: write three hyphens, `---`
    "#]],
    );
    check(
        "a.md",
        "----\nkind: build\nblank: h\n---\n",
        expect![[r#"
        a.md:1:1: `----` does not open the front matter: write three hyphens, `---`
    "#]],
    );
    check("a.md", "--- \nkind: build\nblank: h\n---\t\n", expect![[""]]);
}

#[test]
fn a_key_in_running_text_is_no_front_matter() {
    for text in
        ["Note: it sang.\n", "# kind: build\n", "   \nWords\n", "It sang.\n---\nkind: build\n---\n"]
    {
        let parsed = parse("notes/a.md", text);
        assert_eq!(parsed.problems, [], "{text:?}");
        assert_eq!(parsed.record.content, Content::Note);
        assert_eq!(parsed.fields, []);
    }
}

#[test]
fn shop_yaml_is_bare() {
    for text in [
        "name: the rod shed\n",
        "---\nname: the rod shed\n---\n",
        "\u{feff}name: the rod shed",
        "---\r\nname: the rod shed\r\n",
    ] {
        let parsed = parse("shop.yaml", text);
        assert_eq!(parsed.problems, [], "{text:?}");
        assert_eq!(parsed.record.kind(), Kind::Shop);
        assert_eq!(parsed.record.title, "the rod shed");
    }
}

#[test]
fn comments_and_empty_lines_anywhere() {
    let text = "---\n# a build\n\nkind: build # yes\n\nblank: heron-704\nbench:\n\n  # first\n  - feel: good\n\n  # then\n  -\n    cut: { tip: 1 in }\n---\n";
    let parsed = parse("a.md", text);
    assert_eq!(parsed.problems, []);
    let build = parsed.record.build().expect("it is read");
    let items: Vec<&str> = build.bench.iter().map(|item| &text[item.span.clone()]).collect();
    assert_eq!(items, ["- feel: good", "-\n    cut: { tip: 1 in }"]);
}
