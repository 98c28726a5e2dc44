//! Fields and body: what the index gets.

use expect_test::expect;
use taperbook_record::FieldNumber;

use crate::parse;

fn fields(text: &str) -> String {
    let number = |number: Option<FieldNumber>| match number {
        None => String::new(),
        Some(FieldNumber::One(one)) => format!(" = {:?} {:.4}", one.dimension, one.si),
        Some(FieldNumber::Range(range)) => {
            format!(
                " = {:?} {:.4?} .. {:.4?}",
                range.dimension,
                range.low.map(|low| low.si),
                range.high.map(|high| high.si)
            )
        }
        Some(FieldNumber::Date(date)) => format!(" = date {date}"),
    };
    let parsed = parse("builds/ilse.md", text);
    for field in &parsed.fields {
        let written = &text[field.span.clone()];
        assert!(
            written.contains(&field.text) || field.text.contains('\n'),
            "{field:?} stands at {written}"
        );
    }
    parsed
        .fields
        .iter()
        .map(|field| format!("{}: {}{}\n", field.key, field.text, number(field.number)))
        .collect()
}

#[test]
fn every_leaf_with_its_dotted_key() {
    expect![[r#"
        kind: build
        blank: heron-704
        date: 2026-03-14 = date 2026-03-14
        limits.length: 6'8" .. 7'0" = Length Some(2.0320) .. Some(2.1336)
        limits.tip_od: .. 2.2 mm = Length None .. Some(0.0022)
        limits.recovery: 5 Hz .. = Frequency Some(5.0000) .. None
        bench.read.length: 7'2" = Length 2.1844
        bench.read.board.load: 200 g = Mass 0.2000
        bench.read.board.points: 400 mm = Length 0.4000
        bench.read.board.points: -12 mm
        bench.cut.tip: 1 in = Length 0.0254
        bench.cut.with: rotary disc
        bench.feel: good
        bench.cut.butt: 1 in = Length 0.0254
        bench.cut.butt: 2 in = Length 0.0508
        rating: 4 = Count 4.0000
        serial: 0x1F
        guides: 6 mm = Length 0.0060
        guides: 12 mm = Length 0.0120
        wood.grip: cork
        wood.length: 11 in = Length 0.2794
    "#]]
    .assert_eq(&fields(
        "---
kind: build
blank: heron-704
date: 2026-03-14
limits: { length: 6'8\" .. 7'0\", tip_od: .. 2.2 mm, recovery: 5 Hz .. }
bench:
  - read: { length: 7'2\", board: [{ load: 200 g, points: [[400 mm, -12 mm]] }] }
  - cut: { tip: 1 in, with: 'rotary disc' }
  - feel: \"good\"
  - cut: { butt: 1 in }
    cut: { butt: 2 in }
rating: 4
serial: 0x1F
guides: [6 mm, 12 mm]
wood: { grip: cork, length: 11 in }
hole: ~
empty:
---
",
    ));
}

#[test]
fn the_second_of_two_equal_keys_is_no_field() {
    expect![[r#"
        kind: build
        blank: a
        power: 200 g = Mass 0.2000
    "#]]
    .assert_eq(&fields("---\nkind: build\nblank: a\npower: 200 g\npower: 300 g\n---\n"));
}

#[test]
fn a_bad_value_is_still_text() {
    expect![[r#"
        kind: build
        blank: a
        bench.read.tip_od: 2,4 mm
        bench.read.weight: 46 = Count 46.0000
        told: a: b
    "#]].assert_eq(&fields("---\nkind: build\nblank: a\nbench:\n  - read: { tip_od: 2,4 mm, weight: 46 }\ntold: a: b\n---\n"));
}

fn body(text: &str) -> String {
    parse("notes/a.md", text).body
}

#[test]
fn the_words_of_the_body() {
    expect![[r#"
        A fine title
        One paragraph over two lines.
        A link and code and bold a rod.
        one
        two more
        said
        in a block
        raw  end
        block
        last
        line
        a
        b"#]].assert_eq(&body(
        "# A *fine* title\n\nOne paragraph\nover two lines.\n\nA [link](https://example.org) and `code` and **bold** ![a rod](rod.jpg).\n\n- one\n- two\n  more\n\n> said\n\n```\nin a block\n```\n\n<b>raw</b> <!-- gone --> end\n\n<div>block</div>\n\nlast  \nline\n\n---\n\n1. a\n2. b\n",
    ));
}

#[test]
fn a_size_in_angle_brackets_is_text() {
    expect![[r#"Tip <2 mm and >1 mm, snake_case, it's * 7'2" & more"#]]
        .assert_eq(&body("Tip <2 mm and >1 mm, snake_case, it's \\* 7'2\" & more"));
}

#[test]
fn the_title() {
    let title = |text: &str| parse("builds/ilse-heron.md", text).record.title;
    assert_eq!(title("# Ilse's `7'2\"`\n"), "Ilse's 7'2\"");
    assert_eq!(title("words\n\n## Second *level*\n\n# First\n"), "Second level");
    assert_eq!(title("words only\n"), "ilse-heron");
    assert_eq!(title("#\n\n# After an empty one\n"), "After an empty one");
    assert_eq!(title("---\nkind: note\ntitle: not this\n---\n"), "ilse-heron");
    assert_eq!(title("Setext\n======\n"), "Setext");
    assert_eq!(title(&format!("# {}\n", "long ".repeat(1000))).chars().count(), 200);
}
