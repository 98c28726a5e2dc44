//! Well-formed YAML of the wrong shape: items without an action, actions that hold too little, lists where a value belongs.

use expect_test::expect;
use taperbook_record::Action;

use crate::{build, check, check_build, check_item};

#[test]
fn items_that_hold_no_action() {
    check_item(
        "- finished sanding",
        expect![[r#"
        builds/ilse.md:5:3: `finished sanding` is no action: write `- feel: finished sanding`, or one of `read`, `cut`, `plan`, `pull` and `settled`
    "#]],
    );
    check_item(
        "- note: called Ilse",
        expect![[r#"
        builds/ilse.md:5:3: this item has a note but no action: write `- feel: called Ilse`, or put the note beside a `read`, `cut`, `plan`, `pull` or `settled`
    "#]],
    );
    check_item(
        "- note: \"he said: fine\"",
        expect![[r#"
        builds/ilse.md:5:3: this item has a note but no action: write `- feel: "he said: fine"`, or put the note beside a `read`, `cut`, `plan`, `pull` or `settled`
    "#]],
    );
    check_item(
        "- date: 2026-03-15",
        expect![[r#"
        builds/ilse.md:5:3: this item has no action: write `read`, `cut`, `plan`, `pull`, `feel` or `settled`
    "#]],
    );
    check_item(
        "- read",
        expect![[r#"
        builds/ilse.md:5:3: `read` lacks its colon: write `- read: …`
    "#]],
    );
    check_item(
        "-",
        expect![[r#"
        builds/ilse.md:5:3: nothing stands after this dash: write an item, or take the dash out
    "#]],
    );
    check_item(
        "- [read]",
        expect![[r#"
        builds/ilse.md:5:3: `[read]` is no item: write one such as `- read: { power: 212 g }`
    "#]],
    );
    check_item(
        "- read: { length: 7'1\" }\n    cut: { tip: 1 in }",
        expect![[r#"
        builds/ilse.md:6:5: `cut` is a second action in one item: begin a new item, `- cut:`
    "#]],
    );
    check_build(
        "bench: none",
        expect![[r#"
        builds/ilse.md:4:8: `none` is no bench: write an item such as `- read: { length: 7'2" }` on the next line
    "#]],
    );
    check_build(
        "bench: { read: { length: 7'1\" } }",
        expect![[r#"
        builds/ilse.md:4:1: the bench is a list: begin each item with a dash, such as `- read: { length: 7'2" }`
    "#]],
    );
    check_build(
        "bench: []",
        expect![[r#"
        builds/ilse.md:4:8: the bench is empty: write an item such as `- read: { length: 7'2" }`, or take the key out
    "#]],
    );
    check_build(
        "bench:",
        expect![[r#"
        builds/ilse.md:4:1: nothing stands after `bench:`: write an item such as `- read: { length: 7'2" }` on the next line, or take the key out
    "#]],
    );
}

#[test]
fn two_actions_in_one_item_are_both_read() {
    let build = build(
        "bench:\n  - cut: { tip: 1 in }\n    read: { length: 7'1\" }\n    cut: { butt: 2 in }",
    );
    assert!(matches!(&build.bench[0].action, Action::Cut(cut) if cut.tip.is_some()));
    assert!(matches!(&build.bench[1].action, Action::Read(_)));
    assert!(matches!(&build.bench[2].action, Action::Cut(cut) if cut.butt.is_some()));
    assert_eq!(build.bench.len(), 3);
}

#[test]
fn a_cut_that_cannot_be_read_is_known_to_be_one() {
    for item in [
        "- cut: { tip: 2,4 in }",
        "- cut: 1 in",
        "- cut: {}",
        "- cut:",
        "- cut: { tip: 1 in, butt: 3 }",
    ] {
        let build = build(&format!("bench:\n  {item}"));
        let Action::Cut(cut) = &build.bench[0].action else { panic!("{item}: {:?}", build.bench) };
        assert!(cut.unread, "{item}: more came off than is known");
    }
    let build = build("bench:\n  - cut: { tip: 1 in }");
    assert!(matches!(&build.bench[0].action, Action::Cut(cut) if !cut.unread));
}

#[test]
fn actions_that_hold_too_little() {
    check_item(
        "- cut: 1 in",
        expect![[r#"
        builds/ilse.md:5:10: `1 in` does not say from which end: write `cut: { tip: 1 in }` or `{ butt: 1 in }`
    "#]],
    );
    check_item(
        "- cut: tip 1 in",
        expect![[r#"
        builds/ilse.md:5:10: `tip 1 in` lacks its braces: write `cut: { tip: 1 in }`
    "#]],
    );
    check_item(
        "- cut: {}",
        expect![[r#"
        builds/ilse.md:5:5: this `cut` does not say what comes off: write `cut: { tip: 1 in }`
    "#]],
    );
    check_item(
        "- cut:",
        expect![[r#"
        builds/ilse.md:5:5: nothing stands after `cut:`: write `{ tip: 1 in }`, or take the key out
    "#]],
    );
    check_item(
        "- plan: 2 in",
        expect![[r#"
        builds/ilse.md:5:11: `2 in` does not say from which end: write `plan: { tip: 2 in }` or `{ butt: 2 in }`
    "#]],
    );
    check_item(
        "- read: 212 g",
        expect![[r#"
        builds/ilse.md:5:11: `212 g` does not say what it is: write `read: { length: 7'2", power: 212 g }`
    "#]],
    );
    check_item(
        "- read: {}",
        expect![[r#"
        builds/ilse.md:5:5: this reading holds nothing that was read: write one such as `read: { power: 212 g }`
    "#]],
    );
    check_item(
        "- read: { note: windy, board: long board }",
        expect![[r#"
        builds/ilse.md:5:5: this reading holds nothing that was read: write one such as `read: { power: 212 g }`
    "#]],
    );
    check_item(
        "- pull: { tip_angle: 90 deg }",
        expect![[r#"
        builds/ilse.md:5:5: a pull without `load`: write `load: 410 g` too
    "#]],
    );
    check_item(
        "- settled: tip",
        expect![[r#"
        builds/ilse.md:5:14: `tip` gives no reason: write `settled: { tip: any stiffer and it won't throw }`
    "#]],
    );
    check_item(
        "- settled: [tip, butt]",
        expect![[r#"
        builds/ilse.md:5:14: `[tip, butt]` gives no reason: write `settled: { tip: any stiffer and it won't throw }`
    "#]],
    );
    check_item(
        "- settled: { tip: }",
        expect![[r#"
        builds/ilse.md:5:16: nothing stands after `tip:`: write one such as `any stiffer and it won't throw`, or take the key out
    "#]],
    );
    check_item(
        "- settled: {}",
        expect![[r#"
        builds/ilse.md:5:5: `settled` does not say which end: write `settled: { tip: why }` or `{ butt: why }`
    "#]],
    );
    check_item(
        "- feel:",
        expect![[r#"
        builds/ilse.md:5:5: nothing stands after `feel:`: write one such as `loads early, still throws straight`, or take the key out
    "#]],
    );
    check_item(
        "- feel: { tip: soft }",
        expect![[r#"
        builds/ilse.md:5:11: `{ tip: soft }` is not a single value: write one such as `loads early, still throws straight`
    "#]],
    );
}

#[test]
fn an_end_called_settled_stays_settled() {
    for item in [
        "- settled: tip",
        "- settled: [tip]",
        "- settled: { tip: }",
        "- settled: { tip: done, and well }",
    ] {
        let build = build(&format!("bench:\n  {item}"));
        let Action::Settled(settled) = &build.bench[0].action else {
            panic!("{item}: {:?}", build.bench)
        };
        assert!(settled.tip.is_some() && settled.butt.is_none(), "{item}");
    }
}

#[test]
fn keys_without_a_value() {
    check_build(
        "customer:\nheld_at:\nlimits:\nverdict: ~\ndate: null\nrating: \"\"",
        expect![[r#"
            builds/ilse.md:4:1: nothing stands after `customer:`: write one such as `Ilse`, or take the key out
            builds/ilse.md:5:1: nothing stands after `held_at:`: write one such as `9 in`, or take the key out
            builds/ilse.md:6:1: nothing stands after `limits:`: write `{ length: 6'8" .. 7'0", tip_od: .. 2.2 mm }`, or take the key out
            builds/ilse.md:7:1: nothing stands after `verdict:`: write one such as `keep`, or take the key out
            builds/ilse.md:8:1: nothing stands after `date:`: write one such as `2026-03-14`, or take the key out
            builds/ilse.md:9:1: nothing stands after `rating:`: write one such as `1`, or take the key out
        "#]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart:\nsizes:\nadds:\n---\n",
        expect![[r#"
        fittings/tips.md:3:1: nothing stands after `part:`: write one such as `tip-top`, or take the key out
        fittings/tips.md:4:1: nothing stands after `sizes:`: write a list such as `- { marked: 5.5/64 in, bore: 2.25 mm, count: 4 }`, or take the key out
        fittings/tips.md:5:1: nothing stands after `adds:`: write `{ length: 8 mm, weight: 0.6 g }`, or take the key out
    "#]],
    );
    check(
        "builds/ilse.md",
        "---\nkind:\n---\n",
        expect![[r#"
        builds/ilse.md:2:1: nothing stands after `kind:`: write one such as `build`, or take the key out
    "#]],
    );
}

#[test]
fn lists_and_maps_where_a_value_belongs() {
    check_build(
        "customer: [Ilse, Tomas]\nheld_at: { at: 9 in }\nlimits: [length]\ndate: [2026-03-14]",
        expect![[r#"
        builds/ilse.md:4:11: `[Ilse, Tomas]` is not a single value: write one such as `Ilse`
        builds/ilse.md:5:10: `{ at: 9 in }` is not a single value: write one such as `9 in`
        builds/ilse.md:6:9: `[length]` does not say what it is: write `limits: { length: 6'8" .. 7'0", tip_od: .. 2.2 mm }`
        builds/ilse.md:7:7: `[2026-03-14]` is not a single value: write one such as `2026-03-14`
    "#]],
    );
    check(
        "blanks/a.md",
        "---\nkind: blank\ncalipers: { at: 0 in, od: 11 mm }\n---\n",
        expect![[r#"
        blanks/a.md:3:1: `calipers` is no list: write each on a line of its own that begins with `- `, such as `- { at: 30 in, od: 8.4 mm }`
    "#]],
    );
    check(
        "blanks/a.md",
        "---\nkind: blank\ncalipers: [11 mm, { at: 0 in }, ~]\njoints: [{ type: ferrule }]\n---\n",
        expect![[r#"
        blanks/a.md:3:12: `11 mm` does not say what it is: write one such as `- { at: 30 in, od: 8.4 mm }`
        blanks/a.md:3:19: `{ at: 0 in }` has no `od`: write both, such as `- { at: 30 in, od: 8.4 mm }`
        blanks/a.md:3:33: nothing stands here: write one such as `- { at: 30 in, od: 8.4 mm }`
        blanks/a.md:4:10: `{ type: ferrule }` has no `at`: write where it is, such as `- { at: 43 in, type: ferrule, overlap: 3 in }`
    "#]],
    );
}
