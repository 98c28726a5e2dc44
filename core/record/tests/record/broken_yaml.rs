//! Mistypings that break YAML as a whole: the line gets its message, everything else is read.

use expect_test::expect;
use taperbook_record::{Action, Build};
use taperbook_units::Length;

use crate::{build, build_text, check, check_build, check_item, messages};

/// A build in which one line is broken by what a test puts there; the rest must come through.
#[track_caller]
fn check_rest_is_read(broken: &str, bench: &str) -> Build {
    let lines = format!(
        "customer: Ilse\n{broken}\nheld_at: 9 in\nlimits: {{ length: 6'8\" .. 7'0\" }}\nbench:\n  - read: {{ length: 7'2\" }}\n{bench}  - cut: {{ tip: 1 in }}\nverdict: keep"
    );
    let build = build(&lines);
    assert_eq!(build.customer.as_ref().map(|customer| customer.value.as_str()), Some("Ilse"));
    assert_eq!(build.held_at.as_ref().map(|held_at| held_at.value), Some(Length::from_inches(9.0)));
    assert_eq!(build.limits.len(), 1);
    assert!(matches!(&build.bench[0].action, Action::Read(read) if read.length.is_some()));
    assert!(
        matches!(&build.bench.last().expect("items").action, Action::Cut(cut) if cut.tip.is_some())
    );
    assert!(build.verdict.is_some());
    assert_ne!(
        messages("builds/ilse.md", &build_text(&lines)),
        "",
        "a broken line is never passed over in silence"
    );
    build
}

#[test]
fn a_broken_line_costs_only_itself() {
    for broken in [
        "told: agreed: by phone",
        "told: \"agreed\" by phone",
        "told: *agreed*",
        "told: &agreed by phone",
        "told: !agreed by phone",
        "told: %agreed",
        "told: @home",
        "told: `so`",
        "told: > 6 ft he says",
        "told: | 6 ft",
        "told: - yes",
        "told: [yes",
        "told: {yes",
        "told: yes]: no",
        "told: \"yes",
        "told: 'yes",
        "told:yes",
        "told = yes",
        "he agreed by phone",
        "told: yes\n\t and more: of it",
        "...",
        "%YAML 1.1",
        "? told",
        "]",
        "}",
        "<<: *base",
        "told: yes\n   verdict: keep",
        "aim: { length: 6'10\"",
        "aim: { length: 6'10\" }}",
        "aim: {{ length: 6'10\" }",
        "told: \u{7}yes: no",
    ] {
        check_rest_is_read(broken, "");
    }
}

#[test]
fn a_broken_item_costs_only_itself() {
    for broken in [
        "  - feel: good: very",
        "  - feel: \"good\" they say",
        "  - read: { length: 7'1\"",
        "  - read: { length: 7'1\" } }",
        "  - read: [ length: 7'1\"",
        "  - read: { note: a: b, length: 7'1\" }",
        "  - settled: { tip: \"yes }",
        "  read: { length: 7'1\" }",
        "   - read: { length: 7'1\" }",
        " - read: { length: 7'1\" }",
        "- read: { length: 7'1\" }",
        "  -read: { length: 7'1\" }",
        "  – read: { length: 7'1\" }",
        "  * read: { length: 7'1\" }",
        "  -\u{a0}read: { length: 7'1\" }",
        "\u{a0}\u{a0}- read: { length: 7'1\" }",
        "  - read:\u{a0}{ length: 7'1\" }",
        "  - read:\n    length: 7'1\"\n     weight: 46 g",
        "  - read:\n  length: 7'1\"",
        "  - *again",
        "  - &first read: { length: 7'1\" }",
        "  - !!map { read: 1 }",
        "  - - - -\n  - : :",
        "  - plan: { tip: 1 in }\n\t- cut: { butt: 1 in }",
    ] {
        check_rest_is_read("told: yes", &format!("{broken}\n"));
    }
}

#[test]
fn what_each_break_gets_for_an_answer() {
    check_build(
        "told: \"agreed\" by phone",
        expect![[r#"
        builds/ilse.md:4:7: `"agreed" by phone` has text after its quotes: put all of it in quotes, `'"agreed" by phone'`
    "#]],
    );
    check_build(
        "told: *agreed*\ncustomer: @home",
        expect![[r#"
        builds/ilse.md:4:7: `*agreed*` begins with `*`: put the text in quotes, `"*agreed*"`
        builds/ilse.md:5:11: `@home` begins with `@`: put the text in quotes, `"@home"`
    "#]],
    );
    check_build(
        "told: \"yes\nheld_at: 9 in",
        expect![[r#"
        builds/ilse.md:4:7: `"yes` has a quote that is not closed: write `yes`
    "#]],
    );
    check_build(
        "limits: { length: 6'8\" .. 7'0\"\nheld_at: 9 in",
        expect![[r#"
        builds/ilse.md:4:9: this `{` is not closed: write `}` at its end
    "#]],
    );
    check_build(
        "he agreed by phone",
        expect![[r#"
        builds/ilse.md:4:1: `he agreed by phone` is no `key: value`: give it a key, such as `note: …`
    "#]],
    );
    check_build(
        "told: yes\n...\nheld_at: 9 in",
        expect![[r#"
        builds/ilse.md:5:1: `...` has no place inside front matter: take it out
    "#]],
    );
    check_build(
        "told: yes\n  held_at: 9 in",
        expect![[r#"
        builds/ilse.md:5:3: `held_at: 9 in` is indented deeper than the lines it belongs to: indent it like `told: yes`
    "#]],
    );
    check_build(
        "aim: { length: 6'10\" } or so",
        expect![[r#"
        builds/ilse.md:4:24: `or so` stands after the closing bracket: take it out, or put it inside
    "#]],
    );
    check_build(
        "aim: { length: 6'10\" }}",
        expect![[r#"
        builds/ilse.md:4:23: `}` stands after the closing bracket: take it out, or put it inside
    "#]],
    );
}

#[test]
fn what_each_broken_item_gets_for_an_answer() {
    check_item(
        "- read: { length: 7'1\"\n  - cut: { tip: 1 in }",
        expect![[r#"
        builds/ilse.md:5:11: this `{` is not closed: write `}` at its end
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n  read: { length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:6:3: `read: { length: 7'1" }` stands in a list without a dash: write `- ` before it
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n   - read: { length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:6:4: `- read: { length: 7'1" }` is not indented like the lines above it
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n - read: { length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:6:2: `- read: { length: 7'1" }` is not indented like the lines above it
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n  -read: { length: 7'1\" }",
        expect![[r#"
            builds/ilse.md:6:3: `-read: { length: 7'1" }` does not begin with a dash and a space: write `- read: { length: 7'1" }`
        "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n\t- read: { length: 7'1\" }",
        expect![[r#"
            builds/ilse.md:6:2: this line is indented with a tab: indent with plain spaces
            builds/ilse.md:6:2: `- read: { length: 7'1" }` is not indented like the lines above it
        "#]],
    );
    check_item(
        "- read: {\n      length: 7'1\"\n  }",
        expect![[r#"
            builds/ilse.md:7:3: `}` stands too far to the left: indent it deeper than the key that it belongs to
        "#]],
    );
    check_item(
        "- read: { note: fine: really, length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:5:19: `fine: really` has a second colon: put the text in quotes, `"fine: really"`
    "#]],
    );
    check_item(
        "- feel: yes\n      and: no",
        expect![[r#"
        builds/ilse.md:6:7: `and: no` is indented deeper than the lines it belongs to: indent it like `feel: yes`
    "#]],
    );
}

#[test]
fn forgotten_braces_and_commas() {
    check_item(
        "- cut: tip: 1 in",
        expect![[r#"
        builds/ilse.md:5:10: `tip: 1 in` lacks its braces: write `cut: { tip: 1 in }`
    "#]],
    );
    check_item(
        "- read: length: 7'1\", power: 212 g   # dry",
        expect![[r#"
        builds/ilse.md:5:11: `length: 7'1", power: 212 g` lacks its braces: write `read: { length: 7'1", power: 212 g }`
    "#]],
    );
    check_build(
        "limits: length: 6'8\" .. 7'0\"",
        expect![[r#"
        builds/ilse.md:4:9: `length: 6'8" .. 7'0"` lacks its braces: write `limits: { length: 6'8" .. 7'0" }`
    "#]],
    );
    check(
        "blanks/a.md",
        "---\nkind: blank\ncalipers:\n  - at: 0 in, od: 11.2 mm, wall: 1 mm\n  - { at: 86 in od: 1.75 mm }\n---\n",
        expect![[r#"
            blanks/a.md:4:5: `at: 0 in, od: 11.2 mm, wall: 1 mm` lacks its braces: write `{ at: 0 in, od: 11.2 mm, wall: 1 mm }`
            blanks/a.md:5:17: `od: 1.75 mm` has no comma before it: write `, ` there
        "#]],
    );
    check(
        "blanks/a.md",
        "---\nkind: blank\ncalipers: [{ at: 0 in, od: 11.2 mm } { at: 86 in, od: 1.75 mm }]\n---\n",
        expect![[r#"
            blanks/a.md:3:38: `{ at: 86 in` has no comma before it: write `, ` there
        "#]],
    );
    let build = build("bench:\n  - cut: tip: 1 in\n  - read: { tip_od: 2.4 mm power: 212 g }");
    assert!(matches!(&build.bench[0].action, Action::Cut(cut) if cut.tip.is_some() && !cut.unread));
    assert!(
        matches!(&build.bench[1].action, Action::Read(read) if read.tip_od.is_some() && read.power.is_some())
    );
}

#[test]
fn marks_and_spaces_that_an_editor_changed() {
    check_item(
        "- cut: { tip: 1 in }\n  – read: { length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:6:3: `– read: { length: 7'1" }` does not begin with a dash and a space: write `- read: { length: 7'1" }`
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n  * read: { length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:6:3: `* read: { length: 7'1" }` does not begin with a dash and a space: write `- read: { length: 7'1" }`
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n\u{a0}\u{a0}- read: { length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:6:1: `- read` begins with a space that is no plain one: indent with plain spaces
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in }\n  - read: { length:\u{a0}7'1\" }",
        expect![[r#"
        builds/ilse.md:6:13: `length: 7'1"` has no plain space after the colon: write `length: 7'1"`
    "#]],
    );
    check_build(
        "held_at:\u{a0}9 in",
        expect![[r#"
        builds/ilse.md:4:1: `held_at: 9 in` has no plain space after the colon: write `held_at: 9 in`
    "#]],
    );
    check_build(
        "bench:\n  – read: { length: 7'1\" }",
        expect![[r#"
            builds/ilse.md:4:1: the bench is a list: begin each item with a dash, such as `- read: { length: 7'2" }`
            builds/ilse.md:5:3: `– read` begins with `–`: begin an item of a list with a dash and a space, `- read: …`
        "#]],
    );
    check_build(
        "bench:\n  - cut: { tip: 1 in }\nverdict: keep\nbench:\n  - cut: { tip: 1 in }",
        expect![[r#"
            builds/ilse.md:7:1: `bench` stands twice: only the first is used; move what is here to it
        "#]],
    );
}
