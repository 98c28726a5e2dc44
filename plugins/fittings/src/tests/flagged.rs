//! The flags before the saw, and when nothing is said.

use super::Texts;

const TIPS: (&str, &str) = ("tips tip-top", "{ bore: 2.08 mm }\n{ bore: 2.26 mm }");

/// The flags of a build of the cone with these drawers, and the text that each is about.
#[track_caller]
fn found(fittings: &[(&str, &str)], more: &str, items: &str) -> Vec<(String, String)> {
    let items: String = items.lines().map(|item| format!("  - {}\n", item.trim())).collect();
    let text = format!(
        "---\nkind: build\nblank: stated\n{more}bench:\n  - read: {{ length: 80 in }}\n{items}---\n"
    );
    let shop = Texts::stated(fittings).with("builds/ida.md", &text);
    let about = |span: Option<std::ops::Range<usize>>| {
        span.and_then(|span| text.get(span)).unwrap_or_default().trim().to_owned()
    };
    shop.flags("builds/ida")
        .into_iter()
        .map(|finding| (format!("{}: {}", finding.flag, finding.message), about(finding.span)))
        .collect()
}

#[test]
fn a_plan_that_leaves_no_tip_top_says_how_much_may_come_off() {
    // 2.26 mm less 0.05 mm is 2.21 mm: 2.1 in down the taper, and rounded down.
    let found = found(&[TIPS], "", "plan: { tip: 4 in }");
    let [(message, about)] = &found[..] else { panic!("{found:?}") };
    assert_eq!(
        message,
        "no-tip-top-fits: the planned 4 in off the tip would leave 2.40 mm, on which no tip-top of the drawers goes: at most 2 1/16 in may come off"
    );
    assert_eq!(about, "- plan: { tip: 4 in }");
}

#[test]
fn a_plan_that_ends_between_two_sizes_says_how_much_more_would_do() {
    // 2.05 mm leaves 0.03 mm in the one and 0.55 mm in the other, which thread takes up from 2.21 mm: 1.6 in on, and rounded up.
    let wide = [("tips tip-top", "{ bore: 2.08 mm }\n{ bore: 2.61 mm }")];
    let found = found(&wide, "", "plan: { tip: 1/2 in }");
    assert!(found[0].0.ends_with("1 5/8 in more, and one does"), "{found:?}");
}

#[test]
fn a_tip_that_is_too_thick_already_is_flagged_and_one_that_is_too_thin_only_when_it_is_settled() {
    let small = [("tips tip-top", "{ bore: 1.9 mm }")];
    assert!(found(&small, "", "feel: soft")[0].0.contains("cutting on makes it thicker"));
    // Thread takes up 0.25 mm above the 0.15 mm for glue, so it goes on from 2.60 mm.
    let large = [("tips tip-top", "{ bore: 3.0 mm }")];
    assert_eq!(found(&large, "", "feel: soft"), []);
    let found = found(&large, "", "settled: { tip: light enough }");
    assert!(found[0].0.contains("the tip is settled"), "{found:?}");
}

#[test]
fn a_butt_that_is_settled_or_planned_too_thick_is_flagged() {
    let drawer = [("ferrules butt-ferrule", "{ bore: 9.61 mm }\n{ bore: 9.0 mm }")];
    // 9.61 mm less 0.1 mm is 9.51 mm: 4.9 in up the taper.
    let planned = found(&drawer, "", "plan: { butt: 3 in }");
    assert_eq!(
        planned[0].0,
        "butt-too-large: the butt would be as planned 9.70 mm and the largest butt ferrule of the drawers has a bore of 9.61 mm: 1 15/16 in more off the butt, and one goes on"
    );
    assert_eq!(found(&drawer, "", "plan: { butt: 6 in }"), []);
    assert!(found(&drawer, "", "settled: { butt: long enough }")[0].0.contains("is settled at"));
    assert_eq!(found(&drawer, "", "feel: soft"), [], "an end that may still be cut is no fault");
}

#[test]
fn a_seat_that_would_stop_beyond_the_hand_is_flagged() {
    // Held at 9 in, where the blank is 9.1 mm thick.
    let found_with = |bore: &str| found(&[("seats reel-seat", bore)], "", "feel: soft");
    assert!(found_with("{ bore: 9.0 mm }")[0].0.starts_with("no-seat-fits: the blank is 9.10 mm"));
    assert_eq!(found_with("{ bore: 9.3 mm }"), []);
}

#[test]
fn nothing_is_said_of_a_build_that_is_done_and_without_drawers() {
    let small = [("tips tip-top", "{ bore: 1.9 mm }")];
    assert_eq!(found(&small, "verdict: keep\n", "feel: soft"), []);
    assert_eq!(found(&[], "", "plan: { tip: 4 in }"), []);
}

#[test]
fn every_flag_is_explained() {
    let flags = crate::plugin().manifest().flags;
    assert_eq!(flags.len(), 3);
    for flag in flags {
        for text in [flag.finds, flag.why, flag.example] {
            assert!(40 < text.len(), "{}: {text}", flag.name);
        }
    }
}
