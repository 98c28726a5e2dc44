//! What each mistake in how a query is put together is answered, as it is shown.

use expect_test::{Expect, expect};
use proptest::prelude::*;
use taperbook_index::{QueryError, Searcher};

use crate::generated::wish;
use crate::shop::{Entry, indexed, small_shop};
use taperbook_record::Kind;

#[track_caller]
pub(crate) fn check(query: &str, expected: Expect) {
    let shop = indexed(&small_shop());
    let error = shop.parse(query).expect_err(query);
    check_span(query, &error);
    expected.assert_eq(&error.render(query));
}

#[track_caller]
fn check_span(query: &str, error: &QueryError) {
    assert!(query.get(error.at.clone()).is_some(), "{:?} is not in {query:?}", error.at);
}

/// Asks and looks only at how it is refused.
fn refused(shop: &Searcher, query: &str) -> QueryError {
    let error = shop.parse(query).expect_err(query);
    check_span(query, &error);
    error
}

#[test]
fn operators() {
    check(
        "length=7'",
        expect![[r#"
        `=` compares nothing: write `:`, as in `length:7'2"`
          length=7'
                ^"#]],
    );
    check(
        "length=>7'",
        expect![[r#"
        `=>` compares nothing: write `>=`
          length=>7'
                ^^"#]],
    );
    check(
        "length=<7'",
        expect![[r#"
        `=<` compares nothing: write `<=`
          length=<7'
                ^^"#]],
    );
    check(
        "length:<7'",
        expect![[r#"
        `:<` compares nothing: write `<`
          length:<7'
                ^^"#]],
    );
    check(
        "length<>7'",
        expect![[r#"
        `<>` compares nothing: write a minus before the whole, as in `-length:7'2"`
          length<>7'
                ^^"#]],
    );
    check(
        "NOT carbon",
        expect![[r#"
        `NOT` is no operator here: write `-word`; to search for the word, write `not`
          NOT carbon
          ^^^"#]],
    );
    check(
        "carbon AND glass",
        expect![[r#"
        `AND` is no operator here: words side by side are all required; to search for the word, write `and`
          carbon AND glass
                 ^^^"#]],
    );
}

#[test]
fn names_of_records() {
    check(
        "record:her*",
        expect![[r#"
            `record` names one record whole: write `record:ilse-heron` or `record:builds/ilse-heron`
              record:her*
              ^^^^^^^^^^^"#]],
    );
    check(
        "record>ilse",
        expect![[r#"
            `record` names one record whole: write `record:ilse-heron` or `record:builds/ilse-heron`
              record>ilse
              ^^^^^^^^^^^"#]],
    );
}

#[test]
fn grouping() {
    check(
        "(spoons or",
        expect![[r#"
        after this `or` something is missing; to search for the word, write `"or"`
          (spoons or
                  ^^"#]],
    );
    check(
        "(spoons",
        expect![[r#"
        this parenthesis is not closed: put `)` at the end of the group
          (spoons
          ^"#]],
    );
    check(
        "spoons)",
        expect![[r#"
        this parenthesis closes nothing: take it out, or open one before it
          spoons)
                ^"#]],
    );
    check(
        "()",
        expect![[r#"
        there is nothing between these parentheses
          ()
           ^"#]],
    );
    check(
        "(",
        expect![[r#"
        this parenthesis is not closed: put `)` at the end of the group
          (
          ^"#]],
    );
    check(
        "or spoons",
        expect![[r#"
        before this `or` something is missing; to search for the word, write `"or"`
          or spoons
          ^^"#]],
    );
    check(
        "spoons or or trout",
        expect![[r#"
        after this `or` something is missing; to search for the word, write `"or"`
          spoons or or trout
                 ^^"#]],
    );
    check(
        "spoons or",
        expect![[r#"
        after this `or` something is missing; to search for the word, write `"or"`
          spoons or
                 ^^"#]],
    );
    check(
        "spoons -",
        expect![[r#"
        a minus stands right before what it excludes: write `-word`
          spoons -
                 ^"#]],
    );
    check(
        "spoons - trout",
        expect![[r#"
        a minus stands right before what it excludes: write `-word`
          spoons - trout
                 ^"#]],
    );
    check(
        "-or",
        expect![[r#"
        a minus stands right before what it excludes: write `-word`
          -or
          ^"#]],
    );
    check(
        "-)",
        expect![[r#"
        a minus stands right before what it excludes: write `-word`
          -)
          ^"#]],
    );
}

#[test]
fn quotes_and_stars() {
    check(
        "\"sea trout",
        expect![[r#"
        this quote is not closed: put another at the end of the phrase
          "sea trout
          ^"#]],
    );
    check(
        "purpose:\"sea trout",
        expect![[r#"
        this quote is not closed: put another at the end of the phrase
          purpose:"sea trout
                  ^"#]],
    );
    check(
        "sea\"trout",
        expect![[r#"
        a quote in the middle of a word: a `"` opens a phrase, closes one, or is an inch mark behind a number
          sea"trout
             ^"#]],
    );
    check(
        "\"sea\"trout",
        expect![[r#"
        after the closing quote a space is missing before `t`
          "sea"trout
               ^"#]],
    );
    check(
        "her*on",
        expect![[r#"
        a `*` stands only at the end of a word, as in `heron*`, and `her*on` has one elsewhere
          her*on
             ^"#]],
    );
    check(
        "*eron",
        expect![[r#"
        a `*` stands only at the end of a word, as in `heron*`, and `*eron` has one elsewhere
          *eron
          ^"#]],
    );
    check(
        "*",
        expect![[r#"
        `*` has no letter and no digit to search for: take it out
          *
          ^"#]],
    );
    check(
        "rod & reel",
        expect![[r#"
        `&` has no letter and no digit to search for: take it out
          rod & reel
              ^"#]],
    );
    check(
        "\"🎣\"",
        expect![[r#"
        `"🎣"` has no letter and no digit to search for: take it out
          "🎣"
          ^^^^"#]],
    );
}

#[test]
fn carets_stand_under_wide_letters_and_in_long_queries() {
    check(
        "竿竿 length<7",
        expect![[r#"
        `7` has no unit: write `7 in` or `7 mm`
          竿竿 length<7
                      ^"#]],
    );
    check(
        "one two three four five six seven eight nine ten eleven twelve length<7 thirteen fourteen fifteen sixteen",
        expect![[r#"
            `7` has no unit: write `7 in` or `7 mm`
              …eight nine ten eleven twelve length<7 thirteen fourteen fifteen sixteen
                                                   ^"#]],
    );
    check(
        "tab\tand\nline length<7",
        expect![[r#"
        `7` has no unit: write `7 in` or `7 mm`
          tab and line length<7
                              ^"#]],
    );
}

#[test]
fn limits_of_size() {
    let shop = indexed(&small_shop());
    let long = "trout ".repeat(200_000);
    let error = refused(&shop, &long);
    expect![[r#"
        the query is 1200000 bytes long, and at most 4096 are read: ask for less at once
          …t trout trout trout trout trout trout trout trout trout trout trout tro…
                                               ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^"#]]
    .assert_eq(&error.render(&long));

    let deep = format!("{}trout{}", "(".repeat(33), ")".repeat(33));
    let error = refused(&shop, &deep);
    expect![[r#"
        parentheses and minus signs are nested more than 32 deep here: ask more simply
          (((((((((((((((((((((((((((((((((trout)))))))))))))))))))))))))))))))))
                                           ^^^^^"#]]
    .assert_eq(&error.render(&deep));
    let deep = format!("{}trout{}", "(".repeat(32), ")".repeat(32));
    assert!(shop.parse(&deep).is_ok());
    assert!(shop.parse(&format!("{}trout", "-".repeat(32))).is_ok());
    refused(&shop, &format!("{}trout", "-".repeat(33)));
    refused(&shop, &"(".repeat(4000));
    refused(&shop, &"-(".repeat(2000));
    refused(&shop, &"or ".repeat(1000));

    let many = "a ".repeat(257);
    let error = refused(&shop, &many);
    expect![[r#"
        the query has more than 256 words and comparisons: ask for less at once
          …a a a a a a a a a a a a a a a a a a a
                                               ^"#]]
    .assert_eq(&error.render(&many));
    assert!(shop.parse(&"a ".repeat(256)).is_ok());
    refused(&shop, &format!("\"{many}\""));
}

#[test]
fn a_beginning_of_too_many_words() {
    let body: String = (0..5000).map(|number| format!("w{number} ")).collect();
    let shop = indexed(&[Entry::new(Kind::Note, "a", "a").body(&body)]);
    let error = refused(&shop, "trout w*");
    expect![[r#"
        more than 4096 different words begin with `w`: write more of it
          trout w*
                ^^"#]]
    .assert_eq(&error.render("trout w*"));
    assert!(shop.parse("w1* w2*").is_ok());
    let error = refused(&shop, "w1* w2* w3* w4* w5*");
    expect!["more than 4096 different words begin with `w4`, with the others in the query: write more of it"].assert_eq(&error.message);
}

/// Pieces that queries are made of, and what comes between them.
fn query_like() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        Just("length".to_owned()),
        Just("limits.length".to_owned()),
        Just("blank.length".to_owned()),
        Just("date".to_owned()),
        Just("kind".to_owned()),
        Just("customer".to_owned()),
        Just("or".to_owned()),
        Just("7'2\"".to_owned()),
        Just("6'10 1/2\"".to_owned()),
        Just("46 g".to_owned()),
        Just("2025-03-14".to_owned()),
        Just("Søren".to_owned()),
        Just("竿".to_owned()),
        Just("9".repeat(400)),
        "[:<>=≤≥]{1,2}",
        "[-−(){}\\[\\]*&.\"“”« \t\n\0]{1,3}",
        "\\.\\.",
        "[a-z0-9]{1,6}",
        "\\PC{1,3}",
    ];
    prop::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: wish("TAPERBOOK_QUERIES", 500), ..ProptestConfig::default() })]

    /// Any text is a query or a mistake that lies inside it, and what is a query can be asked.
    #[test]
    fn nothing_else_happens(query in query_like()) {
        thread_local! {
            static SHOP: Searcher = indexed(&small_shop());
        }
        SHOP.with(|shop| match shop.parse(&query) {
            Ok(parsed) => {
                let found = shop.find(&parsed, 3).unwrap();
                assert!(found.hits.len() == found.total.min(3));
            }
            Err(error) => {
                check_span(&query, &error);
                assert!(!error.message.is_empty());
                let rendered = error.render(&query);
                assert_eq!(rendered.lines().count(), 3, "{rendered}");
            }
        });
    }
}
