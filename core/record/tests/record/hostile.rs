//! Files that nobody wrote in good faith, or that a disk or a sync tool spoiled (issue list: each a clear problem,
//! bounded in time and memory).

use expect_test::expect;
use taperbook_record::{Content, MOST_FILE_BYTES, read};

use crate::{build_text, check, check_build, messages, parse, shown};

#[test]
fn an_empty_file() {
    let parsed = read("notes/empty.md", b"");
    assert_eq!(parsed.problems, []);
    assert_eq!(parsed.record.title, "empty");
    assert_eq!(parsed.record.content, Content::Note);
    assert_eq!(read("shop.yaml", b"").problems, []);
}

#[test]
fn front_matter_over_its_cap() {
    let long = format!("customer: Ilse\nnotes: {}\nverdict: keep", "word ".repeat(14_000));
    let parsed = parse("builds/ilse.md", &build_text(&long));
    expect![[r#"
        builds/ilse.md:5:1: the front matter is longer than 64 KiB: what follows here is not read; long text belongs below the `---`
    "#]].assert_eq(&shown("builds/ilse.md", &parsed));
    let build = parsed.record.build().expect("what comes before the cap is read");
    assert_eq!(build.customer.as_ref().map(|customer| customer.value.as_str()), Some("Ilse"));
}

#[test]
fn a_long_bench_over_the_cap_is_read_up_to_there() {
    let items = "  - cut: { tip: 1 mm }\n".repeat(4_000);
    let parsed = parse("builds/ilse.md", &build_text(&format!("bench:\n{items}")));
    expect![[r#"
        builds/ilse.md:2852:1: the front matter is longer than 64 KiB: what follows here is not read; long text belongs below the `---`
    "#]].assert_eq(&shown("builds/ilse.md", &parsed));
    let build = parsed.record.build().expect("what comes before the cap is read");
    assert_eq!(
        build.bench.len(),
        (64 * 1024 - "kind: build\nblank: heron-704\nbench:\n".len()) / 23
    );
}

#[test]
fn anchors_aliases_and_tags() {
    check_build(
        "limits: &l { length: 6'8\" .. }\naim: *l",
        expect![[r#"
            builds/ilse.md:4:9: `&l` is not understood here: take it out
            builds/ilse.md:5:6: `*l` begins with `*`: put the text in quotes, `"*l"`
            builds/ilse.md:5:6: `*l` does not say what it is: write `aim: { length: 6'10", power: 235 g }`
        "#]],
    );
    check_build(
        "customer: &c Ilse\ntold: *c",
        expect![[r#"
        builds/ilse.md:4:11: `&c Ilse` begins with `&`: put the text in quotes, `"&c Ilse"`
        builds/ilse.md:5:7: `*c` begins with `*`: put the text in quotes, `"*c"`
    "#]],
    );
    check_build(
        "customer: !name Ilse\npurpose: !!str spoons",
        expect![[r#"
        builds/ilse.md:4:11: `!name Ilse` begins with `!`: put the text in quotes, `"!name Ilse"`
        builds/ilse.md:5:10: `!!str spoons` begins with `!`: put the text in quotes, `"!!str spoons"`
    "#]],
    );
    check_build(
        "limits: &l\n  length: 6'8\" ..",
        expect![[r#"
        builds/ilse.md:4:9: `&l` is not understood here: take it out
    "#]],
    );
    check_build(
        "<<: *base",
        expect![[r#"
        builds/ilse.md:4:5: `*base` begins with `*`: put the text in quotes, `"*base"`
    "#]],
    );
    let bomb = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nd: &d [*c, *c]";
    check_build(
        bomb,
        expect![[r#"
            builds/ilse.md:4:4: `&a` is not understood here: take it out
            builds/ilse.md:5:4: `&b` is not understood here: take it out
            builds/ilse.md:5:8: `*a` begins with `*`: put the text in quotes, `"*a"`
            builds/ilse.md:5:12: `*a` begins with `*`: put the text in quotes, `"*a"`
            builds/ilse.md:6:4: `&c` is not understood here: take it out
            builds/ilse.md:6:8: `*b` begins with `*`: put the text in quotes, `"*b"`
            builds/ilse.md:6:12: `*b` begins with `*`: put the text in quotes, `"*b"`
            builds/ilse.md:7:4: `&d` is not understood here: take it out
            builds/ilse.md:7:8: `*c` begins with `*`: put the text in quotes, `"*c"`
            builds/ilse.md:7:12: `*c` begins with `*`: put the text in quotes, `"*c"`
        "#]],
    );
}

#[test]
fn nesting_over_its_limit() {
    let nested = |n: usize| format!("own: {}x{}", "[".repeat(n), "]".repeat(n));
    check_build(&nested(31), expect![[""]]);
    check_build(
        &nested(32),
        expect![[r#"
        builds/ilse.md:4:37: lists and maps are nested more than 32 deep here: what is inside is not read
    "#]],
    );
    check_build(
        &nested(200),
        expect![[r#"
        builds/ilse.md:4:37: lists and maps are nested more than 32 deep here: what is inside is not read
    "#]],
    );
    check_build(
        &format!("own: {}x{}", "{ a: ".repeat(40), " }".repeat(40)),
        expect![[r#"
        builds/ilse.md:4:161: lists and maps are nested more than 32 deep here: what is inside is not read
    "#]],
    );
    check_build(
        &format!("own:\n{}", (1..40).map(|n| format!("{}a:\n", " ".repeat(n))).collect::<String>()),
        expect![[r#"
        builds/ilse.md:36:33: lists and maps are nested more than 32 deep here: what is inside is not read
    "#]],
    );
    check_build(
        &format!("own: \n  {}x", "- ".repeat(40)),
        expect![[r#"
        builds/ilse.md:5:65: lists and maps are nested more than 32 deep here: what is inside is not read
    "#]],
    );
}

#[test]
fn brackets_without_end() {
    for bracket in [
        "[",
        "{",
        "- ",
        "? ",
        "[{",
        "{a: ",
        "[[],",
        "&a ",
        "*a ",
        "!a ",
        "\"",
        "'",
        "|\n",
        ": ",
        "-\n ",
        "}",
        "]",
        ",",
        "{ \"a \"a ,",
        "{ a: []a: []",
    ] {
        for count in [100_001, 20_001] {
            let text = build_text(&format!("customer: Ilse\nown: {}", bracket.repeat(count)));
            let parsed = parse("builds/ilse.md", &text);
            assert!(!parsed.problems.is_empty(), "{bracket:?}");
            assert!(parsed.problems.len() <= 101, "{bracket}");
            let build = parsed.record.build().expect("the lines before it are read");
            assert!(build.customer.is_some(), "{bracket}");
        }
    }
}

#[test]
fn a_hundred_thousand_nested_brackets() {
    check_build(
        &format!("own: {}", "[".repeat(100_000)),
        expect![[r#"
        builds/ilse.md:4:1: the front matter is longer than 64 KiB: what follows here is not read; long text belongs below the `---`
    "#]],
    );
    check_build(
        &format!("own: {}", "[".repeat(60_000)),
        expect![[r#"
        builds/ilse.md:4:37: lists and maps are nested more than 32 deep here: what is inside is not read
    "#]],
    );
}

#[test]
fn bytes_that_are_not_utf8() {
    let mut bytes = build_text("customer: Ren\nheld_at: 9 in").into_bytes();
    let at = bytes.windows(3).position(|window| window == b"Ren").expect("it stands there") + 3;
    bytes.insert(at, 0xe9);
    let parsed = read("builds/ilse.md", &bytes);
    expect![[r#"
        builds/ilse.md:4:14: byte 0xE9 is not UTF-8: save the file as UTF-8
    "#]]
    .assert_eq(&shown("builds/ilse.md", &parsed));
    let build = parsed.record.build().expect("the rest is read");
    assert_eq!(build.customer.as_ref().map(|customer| customer.value.as_str()), Some("Ren?"));
    assert!(build.held_at.is_some());
    assert_eq!(&bytes[build.held_at.as_ref().expect("read").span.clone()], b"9 in");
}

#[test]
fn only_bytes_that_are_not_utf8() {
    let parsed = read("notes/photo.md", &[0xff; 1000]);
    expect![[r#"
        notes/photo.md:1:1: byte 0xFF is not UTF-8: save the file as UTF-8
    "#]]
    .assert_eq(&shown("notes/photo.md", &parsed));
}

#[test]
fn utf16() {
    let bytes: Vec<u8> =
        "\u{feff}kind: build\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    expect![[r#"
        builds/ilse.md:1:1: the file is written in UTF-16: save it as UTF-8
    "#]]
    .assert_eq(&shown("builds/ilse.md", &read("builds/ilse.md", &bytes)));
}

#[test]
fn nul_bytes_and_other_control_characters() {
    check_build(
        "customer: Il\0se\nheld_at: 9 in",
        expect![[r#"
        builds/ilse.md:4:13: a NUL byte stands in the text: take it out, or fetch the file from a copy if it was damaged
    "#]],
    );
    assert!(
        parse("a.md", &build_text("customer: Il\0se\nheld_at: 9 in"))
            .record
            .build()
            .expect("read")
            .held_at
            .is_some()
    );
    check(
        "notes/a.md",
        "a\u{7}b\u{1b}[31m",
        expect![[r#"
        notes/a.md:1:2: control character 0x07 stands in the text: take it out, or fetch the file from a copy if it was damaged
    "#]],
    );
    let zeros = vec![0; 100_000];
    let parsed = read("notes/lost.md", &zeros);
    expect![[r#"
        notes/lost.md:1:1: a NUL byte stands in the text: take it out, or fetch the file from a copy if it was damaged
    "#]].assert_eq(&shown("notes/lost.md", &parsed));
    assert_eq!(parsed.body, "");
}

#[test]
fn a_file_of_200_mb() {
    let bytes = vec![b'a'; 200 * 1024 * 1024];
    let parsed = read("notes/dump.md", &bytes);
    expect![[r#"
        notes/dump.md:1:1: the file is longer than 8 MiB and is not read: a record is a page or two of text
    "#]].assert_eq(&shown("notes/dump.md", &parsed));
    assert_eq!(parsed.body, "");
    assert_eq!(parsed.record.title, "dump");
}

#[test]
fn a_file_at_the_limit_is_read_and_its_body_cut() {
    let mut text = build_text("customer: Ilse") + "# Title\n";
    text.push_str(&"word \n".repeat((MOST_FILE_BYTES - text.len()) / 6));
    let parsed = parse("builds/ilse.md", &text);
    expect![[r#"
        builds/ilse.md:174768:3: the text is longer than 1 MiB: what follows here is not searched
    "#]]
    .assert_eq(&shown("builds/ilse.md", &parsed));
    assert_eq!(parsed.record.title, "Title");
    assert!(parsed.record.build().is_some_and(|build| build.customer.is_some()));
    assert!(parsed.body.len() <= taperbook_record::MOST_BODY_BYTES);
}

#[test]
fn markdown_without_end() {
    for mark in [
        "[", "*", "_ ", "`", "<", "> ", "- ", "![", "#", "\\", "&", "[](", "<!--", "a*", "`a",
        "1. ", "\t", "](",
    ] {
        let parsed = parse("notes/deep.md", &mark.repeat(200_000 / mark.len()));
        assert_eq!(parsed.problems, [], "{mark}");
    }
}

#[test]
fn many_problems_are_counted_not_listed() {
    let parsed =
        parse("builds/ilse.md", &build_text(&format!("bench:\n{}", "  - sanded\n".repeat(500))));
    assert_eq!(parsed.problems.len(), 101);
    expect!["400 more problems are not listed: mend those above first"]
        .assert_eq(&parsed.problems[100].message);
}

#[test]
fn a_key_without_end() {
    let text = build_text(&format!("{}: [{}]", "k".repeat(1_000), "1,".repeat(15_000)));
    let parsed = parse("builds/ilse.md", &text);
    assert!(parsed.fields.iter().all(|field| field.key.len() <= 200));
    assert_eq!(messages("builds/ilse.md", &text), "");
}
