//! Each form of the query language on a small shop.

use taperbook_index::Searcher;

use crate::shop::{Entry, ids, indexed, small_shop};
use taperbook_record::Kind;

#[track_caller]
fn check_in(searcher: &Searcher, query: &str, expected: &[&str]) {
    let mut found = ids(searcher, query);
    found.sort_unstable();
    let mut expected = expected.to_vec();
    expected.sort_unstable();
    assert_eq!(found, expected, "{query}");
}

/// Checks queries against the last names of the ids that they find.
#[track_caller]
fn check(forms: &[(&str, &[&str])]) {
    let shop = small_shop();
    let searcher = indexed(&shop);
    for (query, expected) in forms {
        let mut found: Vec<String> = ids(&searcher, query);
        for id in &mut found {
            *id = id.rsplit('/').next().unwrap_or_default().to_owned();
        }
        found.sort_unstable();
        let mut expected = expected.to_vec();
        expected.sort_unstable();
        assert_eq!(found, expected, "{query}");
    }
}

const ALL: &[&str] =
    &["heron-704", "heron-704-long", "wren-60", "ilse", "soren", "zoe", "tops", "glue"];

#[test]
fn words() {
    check(&[
        ("", ALL),
        ("   ", ALL),
        ("spoons", &["ilse", "soren"]),
        ("SPOONS", &["ilse", "soren"]),
        ("spoon", &[]),
        ("small spoons", &["ilse", "soren"]),
        ("small spoons wind", &["ilse"]),
        ("northfell", &["heron-704", "heron-704-long"]),
        ("ilse", &["ilse"]),
        ("soren", &["soren"]),
        ("SØREN", &["soren"]),
        ("zoe", &["zoe"]),
        ("Zoe\u{308}", &["zoe"]),
        // A kind is asked for by its key: as a word it would find every record.
        ("blank", &["heron-704"]),
        ("cracked", &["zoe"]),
        // The file's name is among the words of a record.
        ("glue", &["glue"]),
        ("tops", &["tops"]),
    ]);
}

#[test]
fn words_as_they_are_typed() {
    check(&[
        ("heron-704", &["heron-704", "heron-704-long", "ilse", "soren", "glue"]),
        ("6'10\"", &["ilse", "soren"]),
        ("6’10”", &["ilse", "soren"]),
        ("10.5", &["soren"]),
        ("tip-top", &["tops", "glue"]),
        ("10:5", &["soren"]),
    ]);
}

#[test]
fn phrases() {
    check(&[
        ("\"sea trout\"", &["ilse", "zoe"]),
        ("“sea trout”", &["ilse", "zoe"]),
        ("„sea trout“", &["ilse", "zoe"]),
        ("\"trout, then sea\"", &["soren"]),
        ("\"sea trout\" \"small spoons\"", &["ilse"]),
        ("\"small\"", &["ilse", "soren", "zoe"]),
        // A phrase does not go from one value of the front matter into the next.
        ("\"rocks 2026\"", &[]),
        ("\"or\"", &[]),
        ("\"Needed 6'10\"\"", &["soren"]),
    ]);
}

#[test]
fn beginnings() {
    check(&[
        ("spoo*", &["ilse", "soren"]),
        ("SPOO*", &["ilse", "soren"]),
        ("her*", &["heron-704", "heron-704-long", "ilse", "soren", "glue"]),
        ("heron-7*", &["heron-704", "heron-704-long", "ilse", "soren", "glue"]),
        ("\"sea tro\"*", &["ilse", "zoe"]),
        ("xy*", &[]),
        ("customer:il*", &["ilse"]),
        ("purpose:\"small sp\"*", &["ilse"]),
    ]);
}

#[test]
fn minus_or_and_groups() {
    check(&[
        ("-spoons", &["heron-704", "heron-704-long", "wren-60", "zoe", "tops", "glue"]),
        ("-spoons -heron", &["wren-60", "zoe", "tops"]),
        ("small -spoons", &["zoe"]),
        ("−spoons small", &["zoe"]),
        ("-\"sea trout\" small", &["soren"]),
        ("cracked or wind", &["ilse", "zoe"]),
        ("cracked OR wind", &["ilse", "zoe"]),
        ("small cracked or small wind", &["ilse", "zoe"]),
        ("small (cracked or wind)", &["ilse", "zoe"]),
        ("small -(cracked or wind)", &["soren"]),
        ("(small)(spoons)", &["ilse", "soren"]),
        ("--spoons", &["ilse", "soren"]),
        ("-(-spoons)", &["ilse", "soren"]),
        ("-(-spoons -cracked)", &["ilse", "soren", "zoe"]),
        ("-spo* kind:build", &["zoe"]),
        ("\"or\" or cracked", &["zoe"]),
    ]);
}

#[test]
fn one_record_by_its_name() {
    check(&[
        ("record:ilse", &["ilse"]),
        ("record:builds/ilse", &["ilse"]),
        ("record:Builds/ILSE.md", &["ilse"]),
        ("record:heron-704", &["heron-704"]),
        ("record:builds/ilse or record:builds/zoe", &["ilse", "zoe"]),
        ("-record:ilse kind:build", &["soren", "zoe"]),
        ("record:il", &[]),
        ("record:builds", &[]),
        ("blank.record:heron-704", &["ilse"]),
    ]);
    // A name tells a record at the top of the folder from one of the same name further down only with its slash.
    let entry = |id: &str| Entry::new(Kind::Build, id, "Ada");
    let searcher =
        indexed(&[entry("ada"), entry("builds/ada"), entry("builds/ada, \u{e9}t\u{e9} (2)")]);
    check_in(&searcher, "record:ada", &["ada", "builds/ada"]);
    check_in(&searcher, "record:/ada", &["ada"]);
    check_in(&searcher, "record:/builds/ada", &["builds/ada"]);
    let odd = "builds/ada, \u{e9}t\u{e9} (2)";
    check_in(&searcher, &format!("record:\"{odd}\""), &[odd]);
}

#[test]
fn numbers_of_plugins() {
    check(&[
        ("tip_cut>=1in", &["ilse", "soren", "zoe"]),
        ("tip_cut≥1in", &["ilse", "soren", "zoe"]),
        ("tip_cut>1in", &["soren"]),
        ("tip_cut:1in..", &["ilse", "soren", "zoe"]),
        ("tip_cut:..1in", &["ilse", "zoe"]),
        ("tip_cut<1in", &[]),
        ("tip_cut<=25.4mm", &["ilse", "zoe"]),
        ("butt_cut:0in", &["soren"]),
        ("length<7'", &["ilse", "zoe", "wren-60"]),
        ("length<7' kind:build", &["ilse", "zoe"]),
        ("tip_cut>=1in length<7'", &["ilse", "zoe"]),
        ("length<\"86 1/2 in\" kind:build", &["ilse", "zoe"]),
        ("length:6'10\"", &["ilse"]),
        ("length:6'10\"..7'10\"", &["ilse", "soren", "heron-704"]),
        ("length:\"6 ft 10 in .. 7 ft 10 in\"", &["ilse", "soren", "heron-704"]),
        ("length:\"6 ft 10 in\"..\"7 ft 10 in\"", &["ilse", "soren", "heron-704"]),
        ("length:2083mm", &["ilse"]),
        ("power>200g", &["ilse"]),
        ("Power>0.2kg", &["ilse"]),
        ("stiffness_for_length>1", &["soren"]),
        ("stiffness_for_length<1", &["ilse"]),
        ("bend_centre:35%..40%", &["ilse"]),
    ]);
}

#[test]
fn what_is_missing_matches_neither_a_comparison_nor_its_negation() {
    check(&[
        ("-power>200g", &["soren"]),
        ("power:..10kg", &["ilse", "soren"]),
        ("-power:..10kg", &[]),
        ("-(power>200g or tip_cut>1in)", &[]),
        ("-(power>200g or tip_cut<1in)", &["soren"]),
        ("-(power>200g tip_cut:1in)", &["soren"]),
        ("-(-power>200g)", &["ilse"]),
        ("-(kind:blank or power>200g)", &["soren"]),
        ("-verdict:keep", &["zoe"]),
        ("-customer:ilse", &["soren"]),
        ("-limits.length<7'", &["soren"]),
        ("-date:2025", &["ilse", "zoe"]),
        ("-ferrule>5mm", &[]),
        // Every record has a kind, a title and a set of flags.
        (
            "-flag:below-shortest-length",
            &["heron-704", "heron-704-long", "wren-60", "ilse", "soren", "tops", "glue"],
        ),
        ("-kind:build", &["heron-704", "heron-704-long", "wren-60", "tops", "glue"]),
        ("-title:rod", &["heron-704", "heron-704-long", "wren-60", "zoe", "tops", "glue"]),
    ]);
}

#[test]
fn numbers_of_the_front_matter() {
    check(&[
        ("rating>=4", &["ilse"]),
        ("rating:1", &["zoe"]),
        ("-rating:1", &["ilse"]),
        ("sizes.bore:2.2mm..2.3mm", &["tops"]),
        ("sizes.marked:5.5/64in", &["tops"]),
        ("sizes.count:4", &["tops"]),
        ("calipers.od>11mm", &["heron-704"]),
        ("calipers.od<2mm", &["heron-704"]),
        // Some value under a key that has several.
        ("bench.cut.tip:2in", &["soren"]),
        ("bench.cut.tip:1/2in", &["soren"]),
        ("bench.cut.tip>1in", &["soren"]),
        ("aim.length:6'10\"", &["ilse"]),
        // The stated length of a card stands in where no plugin gives one.
        ("length:96in", &["heron-704-long"]),
        // What is written in feet is meant to half a foot.
        ("length:8ft", &["heron-704-long", "soren"]),
    ]);
}

#[test]
fn ranges_of_the_front_matter() {
    check(&[
        // Some value in the range satisfies it.
        ("limits.length<7'", &["ilse"]),
        ("limits.length<6'8\"", &[]),
        ("limits.length<=6'8\"", &["ilse"]),
        ("limits.length>7'", &["soren"]),
        ("limits.length>=7'0\"", &["ilse", "soren"]),
        // The value lies within, give or take half its step.
        ("limits.length:6'10\"", &["ilse"]),
        ("limits.length:7'8\"", &["soren"]),
        ("limits.length:7'3\"", &[]),
        ("limits.length:2140mm", &[]),
        ("limits.length:\"84 in\"", &["ilse"]),
        // Half a foot is the step of what is written in feet.
        ("limits.length:6ft", &[]),
        // The two ranges have something in common.
        ("limits.length:6ft..6'9\"", &["ilse"]),
        ("limits.length:7ft..8ft", &["ilse", "soren"]),
        ("limits.length:7'1\"..7'5\"", &[]),
        ("limits.tip_od<1mm", &["ilse"]),
        ("limits.tip_od>2.2mm", &[]),
        ("limits.power:230g", &["ilse"]),
    ]);
}

#[test]
fn dates() {
    check(&[
        ("date:2025", &["soren"]),
        ("date:2025-03", &["soren"]),
        ("date:2025-03-02", &["soren"]),
        ("date:2025-04", &[]),
        ("date>=2025-01-01", &["ilse", "soren"]),
        ("date>2025", &["ilse"]),
        ("date<2025", &["zoe"]),
        ("date<=2025-03", &["soren", "zoe"]),
        ("date:2024-11..2025-03", &["soren", "zoe"]),
        ("date:2025..", &["ilse", "soren"]),
    ]);
}

#[test]
fn words_under_a_key() {
    check(&[
        ("kind:build", &["ilse", "soren", "zoe"]),
        ("KIND:Build", &["ilse", "soren", "zoe"]),
        ("kind:b*", &["heron-704", "heron-704-long", "wren-60", "ilse", "soren", "zoe"]),
        ("verdict:keep", &["ilse"]),
        ("flag:below-shortest-length", &["zoe"]),
        ("flag:above-longest-length flag:lengths-do-not-add-up", &["soren"]),
        ("customer:soren", &["soren"]),
        ("purpose:\"sea trout\"", &["ilse"]),
        ("purpose:trout", &["ilse"]),
        ("purpose:\"trout sea\"", &[]),
        ("maker:northfell material:glass", &["heron-704-long"]),
        ("title:rod", &["ilse", "soren"]),
        ("title:\"estuary rod\"", &["ilse"]),
        ("told:phone", &["soren"]),
        ("bench.feel:straight", &["ilse"]),
        ("part:tip-top", &["tops"]),
        // The name of a card means that card and no other; anything else is words.
        ("blank:heron-704", &["ilse"]),
        ("blank:Heron-704", &["ilse"]),
        ("blank:blanks/heron-704", &["ilse"]),
        ("blank:heron-704-long", &["soren"]),
        ("blank:heron", &["ilse", "soren"]),
        ("blank:heron-704*", &["ilse", "soren"]),
        // A key of the shop's own holds a length in one record and words in another.
        ("ferrule:brass", &["zoe"]),
        ("ferrule:5.5mm", &["soren"]),
        ("ferrule>5mm", &["soren"]),
        ("\"ferrule\":brass", &["zoe"]),
    ]);
}

#[test]
fn asking_the_card() {
    check(&[
        ("blank.material:carbon", &["ilse"]),
        ("-blank.material:carbon", &["soren"]),
        ("blank.material:carbon or blank.material:glass", &["ilse", "soren"]),
        ("blank.length>7ft", &["ilse", "soren"]),
        ("-blank.length>7ft", &["zoe"]),
        ("blank.maker:northfell -blank.length>7'6\"", &["ilse"]),
        ("blank.calipers.od<2mm", &["ilse"]),
        ("blank.title:wren", &["zoe"]),
        ("blank.kind:build", &[]),
        ("-blank.kind:build", &["ilse", "soren", "zoe"]),
    ]);
}

#[test]
fn keys_with_odd_letters() {
    let entries = [
        Entry::new(Kind::Note, "a", "a")
            .field("tip colour", "red")
            .field("år", "2019")
            .field("x\\y.z", "3 mm"),
        Entry::new(Kind::Note, "b", "b").field("Tip Colour", "blue"),
    ];
    let searcher = indexed(&entries);
    check_in(&searcher, "\"tip colour\":red", &["a"]);
    check_in(&searcher, "-\"tip colour\":red", &["b"]);
    check_in(&searcher, "år:2019", &["a"]);
    check_in(&searcher, "AR>2018", &["a"]);
    check_in(&searcher, "\"x\\y.z\":3mm", &["a"]);
}

#[test]
fn ends_of_ranges_stay_together() {
    // Of two ranges under one key neither holds 5 mm, though one begins below and the other ends above.
    let entries = [Entry::new(Kind::Note, "a", "a")
        .field("play", "1 mm .. 2 mm")
        .field("play", "8 mm .. 9 mm")];
    let searcher = indexed(&entries);
    check_in(&searcher, "play:5mm..6mm", &[]);
    check_in(&searcher, "play:2mm..3mm", &["a"]);
    check_in(&searcher, "play:8.5mm", &["a"]);
    check_in(&searcher, "-play:5mm..6mm", &["a"]);
}
