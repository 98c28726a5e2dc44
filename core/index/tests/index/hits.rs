//! What comes first, and what a hit shows.

use expect_test::{Expect, expect};
use taperbook_index::Hit;
use taperbook_record::Kind;

use crate::shop::{Entry, ids, indexed, small_shop};

/// Shows a snippet with its marks in brackets.
fn marked(hit: &Hit) -> String {
    let mut out = hit.snippet.clone();
    for mark in hit.marks.iter().rev() {
        out.insert(mark.end, ']');
        out.insert(mark.start, '[');
    }
    out
}

#[track_caller]
fn check(entries: &[Entry], query: &str, expected: Expect) {
    let searcher = indexed(entries);
    let found = searcher.find(&searcher.parse(query).unwrap(), 20).unwrap();
    let lines: Vec<String> = found
        .hits
        .iter()
        .map(|hit| format!("{} ({}, {}): {}\n", hit.id, hit.title, hit.kind, marked(hit)))
        .collect();
    expected.assert_eq(&lines.concat());
}

#[test]
fn snippets_of_a_small_shop() {
    check(
        &small_shop(),
        "spoons",
        expect![[r#"
        builds/ilse (Ilse’s estuary rod, build): It throws the small [spoons] well. The wind was up.
        builds/soren (Søren: second rod, build): …[Spoons]: small ones only.
    "#]],
    );
    check(
        &small_shop(),
        "\"small spoons\" wind",
        expect![[r#"
        builds/ilse (Ilse’s estuary rod, build): It throws the [small spoons] well. The [wind] was up.
    "#]],
    );
    check(
        &small_shop(),
        "sea tro*",
        expect![[r#"
        builds/zoe (Zoë, build): Cracked at the second cut. A small [sea] [trout] rod was the plan.
        builds/soren (Søren: second rod, build): Needed 6'10" and a 10.5 mm seat; [trout], then [sea]. Spoons: small ones only.
        builds/ilse (Ilse’s estuary rod, build): …purpose: small spoons for [sea] [trout] from the rocks · date: 2026-03-14 · limits.length: 6'8" .. 7'0" · limits.tip_od: .. 2.2 mm · limits.power: 200 g .. 260 g…
    "#]],
    );
    check(
        &small_shop(),
        "customer:ilse",
        expect![[r#"
        builds/ilse (Ilse’s estuary rod, build): …customer: [Ilse] · purpose: small spoons for sea trout from the rocks · date: 2026-03-14 · limits.length: 6'8" .. 7'0" · limits.tip_od: .. 2.2 mm · limits.power: 200 g ..…
    "#]],
    );
    check(
        &small_shop(),
        "heron -kind:blank",
        expect![[r#"
        notes/glue (glue, note): …for the tip-top: warm it, gently. See [heron]-704.
        builds/soren (Søren: second rod, build): blank: [heron]-704-long · customer: Søren · date: 2025-03-02 · limits.length: 7'6" .. · bench.cut.tip: 2 in · bench.cut.tip: 1/2 in · ferrule: 5.5 mm · told: 2025-04-01…
        builds/ilse (Ilse’s estuary rod, build): blank: [heron]-704 · customer: Ilse · purpose: small spoons for sea trout from the rocks · date: 2026-03-14 · limits.length: 6'8" .. 7'0" · limits.tip_od: .. 2.2 mm…
    "#]],
    );
    check(
        &small_shop(),
        "kind:blank",
        expect![[r#"
        blanks/heron-704 (Heron 704, blank): A stout blank for the rocks.
        blanks/heron-704-long (Heron 704 long, blank): maker: Northfell · length: 8 ft · material: glass
        blanks/wren-60 (Wren 60, blank): length: 6 ft
    "#]],
    );
    check(
        &small_shop(),
        "6'10\"",
        expect![[r#"
        builds/soren (Søren: second rod, build): Needed [6'10]" and a 10.5 mm seat; trout, then sea. Spoons: small ones only.
        builds/ilse (Ilse’s estuary rod, build): …aim.length: [6'10]" · bench.cut.tip: 1 in · bench.cut.butt: 3 in · bench.feel: loads early, still throws straight · verdict: keep · rating: 4
    "#]],
    );
    check(
        &small_shop(),
        "soren",
        expect![[r#"
        builds/soren (Søren: second rod, build): …customer: [Søren] · date: 2025-03-02 · limits.length: 7'6" .. · bench.cut.tip: 2 in · bench.cut.tip: 1/2 in · ferrule: 5.5 mm · told: 2025-04-01 agreed by phone
    "#]],
    );
}

#[test]
fn a_snippet_is_cut_from_long_text() {
    let filler =
        |count: usize| "The blank was turned and turned again on the bench. ".repeat(count);
    let note = |body: String| [Entry::new(Kind::Note, "a", "Turning").body(&body)];
    let middle =
        format!("Turning\n{}It cracked, at last, near the tip.\n\n{}", filler(20), filler(20));
    check(
        &note(middle.clone()),
        "cracked",
        expect![[r#"
        a (Turning, note): …and turned again on the bench. It [cracked], at last, near the tip. The blank was turned and turned again on the bench. The blank was turned and turned again on…
    "#]],
    );
    check(
        &note(middle.clone()),
        "tip cracked",
        expect![[r#"
        a (Turning, note): …and turned again on the bench. It [cracked], at last, near the [tip]. The blank was turned and turned again on the bench. The blank was turned and turned again on…
    "#]],
    );
    check(
        &note(middle),
        "-cracked or bench or tip",
        expect![[r#"
        a (Turning, note): …was turned and turned again on the [bench]. The blank was turned and turned again on the [bench]. It cracked, at last, near the [tip]. The blank was turned and…
    "#]],
    );
    let far = format!("cracked {}cracked the tip {}", filler(20), filler(20));
    check(
        &note(far),
        "cracked tip",
        expect![[r#"
        a (Turning, note): …turned and turned again on the bench. [cracked] the [tip] The blank was turned and turned again on the bench. The blank was turned and turned again on the bench.…
    "#]],
    );
    let unbroken = format!("{}cracked{}", "竿".repeat(300), "竿".repeat(300));
    check(
        &note(unbroken),
        "cracked",
        expect![[r#"
        a (Turning, note): …[cracked]竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿竿…
    "#]],
    );
    check(
        &note(format!("{} end", "x".repeat(1000))),
        "end",
        expect![[r#"
        a (Turning, note): …[end]
    "#]],
    );
    check(
        &note("one\t\ttwo\r\n\r\n   three\u{0}four\u{202e}".to_owned()),
        "two three",
        expect![[r#"
        a (Turning, note): one [two] [three] four�
    "#]],
    );
    check(
        &note(String::new()),
        "turning",
        expect![[r#"
        a (Turning, note): 
    "#]],
    );
}

#[test]
fn a_word_in_the_title_counts_for_more() {
    let entries = [
        Entry::new(Kind::Note, "body", "glue").body("Epoxy for the rod and more of the same."),
        Entry::new(Kind::Note, "title", "Epoxy").body("Glue for the rod and more of the same."),
    ];
    assert_eq!(ids(&indexed(&entries), "epoxy"), ["title", "body"]);
}

#[test]
fn a_rare_word_and_a_short_text_count_for_more() {
    let mut entries: Vec<Entry> = (0..20)
        .map(|number| Entry::new(Kind::Note, &format!("n{number}"), "x").body("spoon"))
        .collect();
    entries.push(Entry::new(Kind::Note, "rare", "x").body("wobbler"));
    assert_eq!(ids(&indexed(&entries), "spoon or wobbler")[0], "rare");
    let entries = [
        Entry::new(Kind::Note, "long", "x").body(&format!("spoon {}", "filler ".repeat(100))),
        Entry::new(Kind::Note, "short", "x").body("spoon and filler"),
    ];
    assert_eq!(ids(&indexed(&entries), "spoon"), ["short", "long"]);
}

#[test]
fn equals_come_in_the_order_of_their_ids() {
    let entries: Vec<Entry> = ["d", "a", "c", "e", "b"]
        .iter()
        .map(|id| Entry::new(Kind::Note, id, "same").body("spoon"))
        .collect();
    let searcher = indexed(&entries);
    assert_eq!(ids(&searcher, "spoon"), ["a", "b", "c", "d", "e"]);
    assert_eq!(ids(&searcher, "kind:note"), ["a", "b", "c", "d", "e"]);
    let found = searcher.find(&searcher.parse("spoon").unwrap(), 2).unwrap();
    assert_eq!((found.total, found.hits.len(), found.hits[1].id.as_str()), (5, 2, "b"));
    let found = searcher.find(&searcher.parse("spoon").unwrap(), 0).unwrap();
    assert_eq!((found.total, found.hits.len()), (5, 0));
}

#[test]
fn without_words_the_newest_comes_first() {
    let dated = |id: &str, date: &str| Entry::new(Kind::Build, id, "rod").field("date", date);
    let entries = [
        dated("old", "1969-12-31"),
        Entry::new(Kind::Build, "never", "rod"),
        dated("new", "2026-03-14"),
        dated("b", "2025-01-01"),
        dated("a", "2025-01-01"),
    ];
    let searcher = indexed(&entries);
    assert_eq!(ids(&searcher, ""), ["new", "a", "b", "old", "never"]);
    assert_eq!(ids(&searcher, "kind:build"), ["new", "a", "b", "old", "never"]);
    assert_eq!(ids(&searcher, "ro*"), ["new", "a", "b", "old", "never"]);
    assert_eq!(ids(&searcher, "-spoon"), ["new", "a", "b", "old", "never"]);
    // A word orders by fit, and these all fit the same but for the words of their dates.
    assert_eq!(ids(&searcher, "rod")[0], "never");
}

#[test]
fn a_score_can_be_worked_out_by_hand() {
    let entries = [
        Entry::new(Kind::Note, "a", "x").body("spoon spoon b c"),
        Entry::new(Kind::Note, "b", "x").body("d e f g"),
        Entry::new(Kind::Note, "c", "x").body("h i j k"),
    ];
    let searcher = indexed(&entries);
    let found = searcher.find(&searcher.parse("spoon").unwrap(), 1).unwrap();
    // BM25 with k1 = 1.2 and b = 0.75 (Robertson and Zaragoza, "The Probabilistic Relevance Framework: BM25 and Beyond",
    // Foundations and Trends in Information Retrieval 3, 2009), idf = ln(1 + (N - n + 0.5) / (n + 0.5)).
    // Every record has 8 words: the title three times, the file's name, four of body; so length / mean is 1.
    let idf = (1.0_f64 + (3.0 - 1.0 + 0.5) / (1.0 + 0.5)).ln();
    let expected = idf * 2.0 * (1.2 + 1.0) / (2.0 + 1.2);
    assert!(
        (f64::from(found.hits[0].score) - expected).abs() < 1e-5,
        "{} {expected}",
        found.hits[0].score
    );
}
