//! Lengths, joints, solid tips, settled ends and names: faults of the bench and the card.

use taperbook_plugin::Finding;

use super::{CARD, Texts, build, check, check_in, found, found_in};

#[test]
fn a_cut_logged_twice() {
    check(
        "",
        "read: { length: 80 in }\ncut: { tip: 1 1/2 in }\ncut: { tip: 1 1/2 in }\nread: { length: 78 1/2 in }",
        &[
            "lengths-disagree: length reads 6'6 1/2\" in item 4, 1 1/2\" more than the 6'5\" that the length in item 1 and the cuts since give: the tip cut of 1 1/2 in is likely logged twice, in items 2 and 3",
        ],
    );
    let found = found("", "read: { length: 80 in }\ncut: { tip: 2 in }\nread: { length: 79 in }");
    assert_eq!(found[0].1, "79 in", "the place is that of the reading");
}

/// Three millimetres and no more; the shop's units count.
#[test]
fn three_millimetres_are_no_fault() {
    check("", "read: { length: 2000 mm }\ncut: { tip: 50 mm }\nread: { length: 1953 mm }", &[]);
    let shop =
        Texts::default().with("blanks/stated.md", CARD).with("shop.yaml", "units: millimetres\n");
    let found = found_in(
        shop,
        &build("", "read: { length: 2000 mm }\ncut: { tip: 50 mm }\nread: { length: 1954 mm }"),
    );
    assert_eq!(
        found[0].0,
        "lengths-disagree: length reads 1954 mm in item 3, 4 mm more than the 1950 mm that the length in item 1 and the cuts since give: that little is likely the tape, or a saw that left its mark: measure again"
    );
}

#[test]
fn a_length_against_the_card_alone() {
    check(
        "",
        "cut: { tip: 1 in }\ncut: { tip: 1 in }\nread: { length: 79 in }",
        &[
            "lengths-disagree: length reads 6'7\" in item 3, 1\" more than the 6'6\" that the card's length and the cuts since give: the tip cut of 1 in is likely logged twice, in items 1 and 2",
        ],
    );
    check("", "cut: { tip: 1 in }\ncut: { tip: 1 in }\nread: { length: 78 1/2 in }", &[]);
    check("", "read: { length: 79 in }", &[]);
}

/// The saw of these cuts takes 1.2 mm; another of the shop, which was not used, would not fit the gap. What else is said
/// of it stands behind its name.
#[test]
fn the_kerf_of_the_saw_that_was_used() {
    let shop = Texts::default()
        .with("blanks/stated.md", CARD)
        .with("shop.yaml", "saws:\n  old saw: { kerf: 1.2 mm }\n  rotary disc: { kerf: 0.4 mm }\n");
    let cuts = "cut: { tip: 1 in, with: 'Old saw, new blade' }\n".repeat(4);
    let found = found_in(
        shop,
        &build("", &format!("read: {{ length: 80 in }}\n{cuts}read: {{ length: 1925.5 mm }}")),
    );
    assert_eq!(
        found[0].0,
        "lengths-disagree: length reads 6'3 13/16\" in item 6, 3/16\" less than the 6'4\" that the length in item 1 and the cuts since give: the kerf is likely left out: a cut is the whole length lost"
    );
}

#[test]
fn an_end_cut_after_it_was_settled() {
    check(
        "",
        "read: { length: 80 in }
        settled: { tip: any stiffer and it won't throw the small spoons }
        cut: { butt: 3 in }
        cut: { tip: 1 in }",
        &[
            "settled-end-cut: the tip was settled in item 2 (\"any stiffer and it won't throw the small spoons\"), but item 4 takes 1 in off it: if tip and butt are swapped here, swap them back",
        ],
    );
    check(
        "",
        "settled: { butt: it fits the seat }\nplan: { tip: 1 in, butt: 1/2 in }",
        &[
            "settled-end-cut: the butt was settled in item 1 (\"it fits the seat\"), but item 2 plans to take 1/2 in off it: if tip and butt are swapped here, swap them back",
        ],
    );
    let found = found("", "settled: { tip: enough }\ncut: { tip: 1 in, butt: 2 in }");
    assert_eq!(found[0].1, "1 in", "the place is that of the amount");
}

#[test]
fn an_end_cut_before_it_was_settled_is_no_fault() {
    check(
        "",
        "plan: { tip: 2 in }\ncut: { tip: 1 in }\nsettled: { tip: enough }\ncut: { butt: 1 in }",
        &[],
    );
}

const JOINTED: &str = "joints:\n  - { at: 43 in, type: ferrule, overlap: 3 in }\n---\n";

#[track_caller]
fn check_jointed(items: &str, expected: &[&str]) {
    let card = CARD.strip_suffix("---\n").expect("the front matter ends").to_owned() + JOINTED;
    let shop = Texts::default().with("blanks/stated.md", &card);
    check_in(shop, &build("", items), expected);
}

/// The overlap of this joint is from 41 1/2 in to 44 1/2 in of the uncut butt, and the tip is at 80 in.
#[test]
fn a_cut_into_a_joint() {
    check_jointed("read: { length: 80 in }\ncut: { tip: 2'11 1/2\" }", &[]);
    check_jointed(
        "read: { length: 80 in }\ncut: { tip: 2'6\" }\ncut: { tip: 6 in, date: 2026-03-16 }",
        &[
            "cut-into-joint: the tip cut of 6 in (item 3, 2026-03-16) goes 1/2 in into the joint at 3'7\" of the uncut blank, which overlaps by 3 in",
        ],
    );
    check_jointed("read: { length: 80 in }\ncut: { butt: 3'5 1/2\" }", &[]);
    check_jointed(
        "read: { length: 80 in }\ncut: { butt: 3'6\" }",
        &[
            "cut-into-joint: the butt cut of 42 in (item 2) goes 1/2 in into the joint at 3'7\" of the uncut blank, which overlaps by 3 in",
        ],
    );
}

#[test]
fn a_cut_past_a_joint() {
    check_jointed(
        "read: { length: 80 in }\ncut: { butt: 3'9\" }",
        &[
            "cut-into-joint: the butt cut of 45 in (item 2) goes past the joint at 3'7\" of the uncut blank: the piece at the butt is gone",
        ],
    );
}

#[test]
fn a_plan_into_a_joint() {
    check_jointed("read: { length: 80 in }\nplan: { tip: 2'11\" }", &[]);
    check_jointed(
        "read: { length: 80 in }\ncut: { tip: 2'6\" }\nplan: { tip: 7 in, butt: 1 in }",
        &[
            "cut-into-joint: the plan in item 3, 7 in off the tip and 1 in off the butt, would go 1 1/2 in into the joint at 3'7\" of the uncut blank, which overlaps by 3 in",
        ],
    );
}

#[test]
fn a_cut_into_a_solid_tip() {
    let card = CARD.replace("modulus: 90 GPa\ndensity: 1550 kg/m3\n", "tip: solid\n");
    let found = |items: &str| {
        let shop = Texts::default().with("blanks/stated.md", &card);
        let found = found_in(shop, &build("", items));
        found.into_iter().map(|(finding, _)| finding).collect::<Vec<_>>()
    };
    assert_eq!(
        found("read: { length: 80 in }\ncut: { butt: 2 in }\nplan: { butt: 1 in }"),
        [""; 0]
    );
    assert_eq!(
        found("read: { length: 80 in }\ncut: { butt: 1 in }\ncut: { tip: 1 in, butt: 1 in }"),
        [
            "cut-into-solid-tip: the cut of 1 in off the tip and 1 in off the butt (item 3) goes into a tip that is spliced in solid, by its card"
        ]
    );
    assert_eq!(
        found("read: { length: 80 in }\nplan: { tip: 2 in, butt: 1 in }"),
        [
            "cut-into-solid-tip: the plan in item 2 would take 2 in off a tip that is spliced in solid, by its card"
        ]
    );
    check("", "read: { length: 80 in }\ncut: { tip: 1 in }", &[]);
}

#[test]
fn a_name_that_leads_nowhere() {
    let named = |name: &str| {
        build("", "read: { length: 80 in }").replace("blank: stated", &format!("blank: {name}"))
    };
    let shop = || {
        Texts::default()
            .with("blanks/heron-704.md", CARD)
            .with("blanks/old/wren-610.md", CARD)
            .with("blanks/new/wren-610.md", CARD)
    };
    assert_eq!(found_in(shop(), &named("heron-704")), []);
    assert_eq!(found_in(shop(), &named("blanks/new/wren-610")), []);
    assert_eq!(
        found_in(shop(), &named("heron-74")),
        [(
            "unknown-blank: `heron-74` names no blank card: did you mean `blanks/heron-704`?"
                .to_owned(),
            "heron-74".to_owned()
        )]
    );
    assert_eq!(
        found_in(shop(), &named("gannet-606"))[0].0,
        "unknown-blank: `gannet-606` names no blank card: make one with `taperbook new blank gannet-606`, or name one that is there"
    );
    assert_eq!(
        found_in(shop(), &named("wren-610"))[0].0,
        "unknown-blank: `wren-610` names 2 blank cards: write the path of one, `blanks/new/wren-610` or `blanks/old/wren-610`"
    );
}

#[test]
fn an_offcut_of_a_build_that_is_not_there() {
    let offcut = |from: &str| {
        let text = format!("---\nkind: offcut\nfrom: {from}\nend: tip\n---\n");
        let shop = Texts::default()
            .with("builds/karl-reed.md", &build("", "read: { length: 80 in }"))
            .with("offcuts/o.md", &text);
        let about = |finding: &Finding| text[finding.span.clone().expect("a place")].to_owned();
        let found = shop.flags("offcuts/o");
        found
            .iter()
            .map(|finding| (format!("{}: {}", finding.flag, finding.message), about(finding)))
            .collect::<Vec<_>>()
    };
    assert_eq!(offcut("karl-reed"), []);
    let message = "unknown-build: `karl-red` names no build: did you mean `builds/karl-reed`?";
    assert_eq!(offcut("karl-red"), [(message.to_owned(), "karl-red".to_owned())]);
    assert_eq!(
        offcut("nobody")[0].0,
        "unknown-build: `nobody` names no build: make one with `taperbook new build nobody`, or name one that is there"
    );
}

/// That a build names no blank is a problem in how it is written.
#[test]
fn a_build_without_a_blank_is_no_flag() {
    let text = build("", "read: { length: 80 in }").replace("blank: stated\n", "");
    let shop = Texts::default().with_any("builds/x.md", &text);
    assert_eq!(shop.flags("builds/x"), []);
}

#[test]
fn cards_and_notes_have_no_flags() {
    let shop = Texts::default().with("blanks/stated.md", CARD).with("notes/n.md", "# Glue\n");
    assert_eq!(shop.flags("blanks/stated"), []);
    assert_eq!(shop.flags("notes/n"), []);
}

/// A comma in the amount leaves a cut of unknown size: what was read after it is of another piece, and nothing is guessed.
#[test]
fn after_a_cut_of_unknown_size_only_what_was_read_counts() {
    let limits = "limits: { length: 79 in .., power: .. 200 g }";
    let items = "read: { length: 80 in, power: 172 g }\nplan: { tip: 2'6\" }\ncut: { tip: 1,5 in }\nread: { weight: 90 g }";
    let found = |items: &str| {
        let shop = Texts::default().with("blanks/stated.md", CARD);
        let text = build(limits, items);
        let found = shop.with_any("builds/x.md", &text).flags("builds/x");
        found
            .into_iter()
            .map(|finding| format!("{}: {}", finding.flag, finding.message))
            .collect::<Vec<_>>()
    };
    assert_eq!(found(items), [""; 0]);
    assert_eq!(
        found(&format!("{items}\nread: {{ length: 78 in, power: 240 g }}")),
        [
            "above-most-power: power is 240 g as read, 40 g above the most allowed 200 g: crossed by the cut (item 3)",
            "below-shortest-length: length is 6'6\" as read, 1\" below the shortest allowed 6'7\": crossed by the cut (item 3)",
        ]
    );
}
