//! The book kept by small steps: a preview, an item taken back, a build from a brief, an offcut's record.

use crate::workshop::Workshop;

#[test]
fn a_preview_shows_text_and_flags_and_writes_nothing() {
    let workshop = Workshop::demo();
    let before = workshop.read("builds/ilse-heron.md");
    let cut = ["cut", "--butt", "7in", "--with", "fine saw", "--date", "2026-03-15"];
    let preview = [&["log", "ilse-heron", "--preview"], &cut[..]].concat();
    workshop
        .run(&preview)
        .ended(0)
        .says("would be written at builds/ilse-heron.md:12")
        .says("  - cut: { butt: 7 in, with: fine saw, date: 2026-03-15 }")
        .says("this would raise:\nbelow-shortest-length")
        .says("nothing was written");
    assert_eq!(workshop.read("builds/ilse-heron.md"), before);
    let ran = workshop.run(&[&preview[..], &["--json"]].concat()).ended(0).json();
    assert_eq!(ran["new_flags"][0]["flag"], "below-shortest-length");
    // What is then written is what was shown.
    let logged = workshop.run(&[&["log", "ilse-heron"], &cut[..], &["--json"]].concat()).ended(0);
    assert_eq!(logged.json()["inserted"], ran["would_insert"]);
    assert_eq!(logged.json()["line"], ran["line"]);
}

#[test]
fn items_are_taken_back_one_after_the_other_and_never_what_somebody_else_wrote() {
    let workshop = Workshop::demo();
    let before = workshop.read("builds/ilse-heron.md");
    for tip in ["1/2in", "1/4in"] {
        workshop.run(&["log", "ilse-heron", "cut", "--tip", tip, "--date", "2026-03-15"]).ended(0);
    }
    let cut_twice = workshop.read("builds/ilse-heron.md");
    workshop
        .run(&["log", "ilse-heron", "undo", "--preview"])
        .ended(0)
        .says("would be taken back from builds/ilse-heron.md:13")
        .says("tip: 1/4 in");
    assert_eq!(workshop.read("builds/ilse-heron.md"), cut_twice);
    workshop.write("builds/ilse-heron.md", &format!("{cut_twice}mine\n"));
    workshop.run(&["log", "ilse-heron", "undo"]).ended(2).complains("was changed since");
    workshop.write("builds/ilse-heron.md", &cut_twice);
    workshop.run(&["log", "ilse-heron", "undo"]).ended(0).says("taken back").says("1/4 in");
    workshop.run(&["log", "ilse-heron", "undo"]).ended(0).says("1/2 in");
    assert_eq!(workshop.read("builds/ilse-heron.md"), before);
    workshop.run(&["log", "ilse-heron", "undo"]).ended(2).complains("written nothing into");
    workshop.run(&["log", "emil-egret", "undo"]).ended(2).complains("written nothing into");
}

#[test]
fn a_build_is_made_of_a_brief_and_is_searchable_by_it() {
    let workshop = Workshop::demo();
    let brief = ["--customer", "Runa: the ferry", "--use", "pike flies from the jetty"];
    let wanted = ["--aim", "length 6'9\", power 240 g", "--limits", "length 6'7\" .. 6'11\""];
    let made = [&["new", "build", "runa-heron", "--blank", "heron-704"], &brief[..], &wanted];
    workshop.run(&made.concat()).ended(0).says("made builds/runa-heron.md");
    workshop.run(&["check", "builds/runa-heron.md"]).ended(0);
    workshop.run(&["find", "jetty", "aim.power:240g"]).ended(0).says("builds/runa-heron");
    workshop.run(&["suggest", "runa-heron"]).ended(0).says("measure");
    let slip = ["new", "build", "b", "--blank", "heron-704", "--aim", "length 82"];
    workshop.run(&slip).ended(2).complains("in `--aim`").complains("no unit");
    workshop.run(&["new", "fitting", "f", "--use", "x"]).ended(2).complains("belongs to a build");
    workshop.run(&["find", "kind:build", "title:b"]).ended(0).says("0 records");
}

#[test]
fn what_comes_off_becomes_a_record_with_numbers_of_its_build() {
    let workshop = Workshop::demo();
    let cut = ["--butt", "12in", "--with", "fine saw", "--keep", "--date", "2026-03-15"];
    workshop
        .run(&[&["log", "ilse-heron", "cut"], &cut[..]].concat())
        .ended(0)
        .says("taperbook new offcut ilse-heron-butt --from builds/ilse-heron --end butt");
    let new = ["new", "offcut", "ilse-heron-butt", "--from", "builds/ilse-heron", "--end", "butt"];
    workshop.run(&new).ended(0).says("made offcuts/ilse-heron-butt.md");
    workshop.run(&["check", "offcuts/ilse-heron-butt.md"]).ended(0);
    let shown = workshop.run(&["show", "ilse-heron-butt", "--json"]).ended(0).json();
    let number = |key: &str| shown["numbers"][key]["value"].as_f64().expect("it is known");
    // Twelve inches less the 0.9 mm that the fine saw of the shop turns to dust.
    assert!((number("length_mm") - (12.0 * 25.4 - 0.9)).abs() < 0.01, "{shown:#}");
    // The card has 11.20 mm at the butt, and 9.20 mm at 18 in after 10.45 mm at 6 in: 9.825 mm at a foot.
    assert!(
        (number("butt_od_mm") - 11.2).abs() < 0.1 && (number("tip_od_mm") - 9.825).abs() < 0.15
    );
    assert!(number("weight_g") > 0.0);
    workshop.run(&["choose", "--aim", "length 11 in"]).ended(0).says("offcuts/ilse-heron-butt");
}

/// A drawer that is filled or emptied concerns every build that is on its way, and a suggestion says what its cut would leave.
#[test]
fn what_is_in_the_drawers_counts_at_once() {
    let workshop = Workshop::demo();
    let _daemon = workshop.watch();
    let drawer = |bore: &str| {
        format!(
            "---\nkind: fitting\npart: tip-top\nsizes:\n  - {{ marked: 4/64 in, bore: {bore} }}\n---\n"
        )
    };
    let first = workshop.run(&["suggest", "emil-egret"]).ended(0);
    assert!(!first.stdout.contains("no tip-top"), "{}", first.told());
    workshop.run(&["flags", "no-tip-top-fits"]).ended(0).says("no flags");
    std::fs::remove_file(workshop.folder().join("fittings/tip-tops-light.md")).expect("a file");
    workshop.write("fittings/tip-tops.md", &drawer("1.5 mm"));
    workshop.run(&["flags", "no-tip-top-fits"]).ended(0).says("builds/emil-egret.md");
    workshop
        .run(&["suggest", "emil-egret"])
        .ended(0)
        .says("no tip-top of the drawers goes on after that, and none does however");
    workshop.write("fittings/tip-tops.md", &drawer("2.2 mm"));
    let flags = workshop.run(&["flags", "no-tip-top-fits"]).ended(0);
    assert!(!flags.stdout.contains("emil-egret"), "{}", flags.told());
}
