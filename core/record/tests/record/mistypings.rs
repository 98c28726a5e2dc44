//! What a busy builder mistypes (design: the rules of records), each with its whole message.

use expect_test::expect;
use taperbook_record::Action;
use taperbook_units::{Length, Mass};

use crate::{build, build_text, check_blank, check_build, check_item, parse};

fn reading(item: &str) -> taperbook_record::Reading {
    match &build(&format!("bench:\n  {item}")).bench[0].action {
        Action::Read(reading) => (**reading).clone(),
        other => panic!("{item} was read as {other:?}"),
    }
}

#[test]
fn a_comma_for_a_decimal_point() {
    check_item(
        "- read: { tip_od: 2,4 mm, power: 212 g }",
        expect![[r#"
        builds/ilse.md:5:22: `2,4 mm` has a comma: write `2.4 mm`
    "#]],
    );
    let reading = reading("- read: { tip_od: 2,4 mm, power: 212 g }");
    assert_eq!(reading.tip_od, None, "a comma is never a guess");
    assert_eq!(reading.power.map(|power| power.value), Some(Mass::from_g(212.0)));
}

#[test]
fn a_comma_for_a_decimal_point_in_a_block() {
    check_item(
        "- read:\n      tip_od: 2,4 mm",
        expect![[r#"
        builds/ilse.md:6:16: `2,4 mm` has a comma: write `2.4 mm`
    "#]],
    );
}

#[test]
fn a_thousands_mark() {
    check_item(
        "- read: { length: 2,183 mm }",
        expect![[r#"
        builds/ilse.md:5:22: `2,183 mm` has a comma: write `2183 mm` or `2.183 mm`
    "#]],
    );
}

#[test]
fn a_decimal_comma_in_a_list() {
    check_item(
        "- read: { board: [{ load: 200 g, points: [[400,5 mm, -12 mm]] }] }",
        expect![[r#"
        builds/ilse.md:5:45: `[400,5 mm, -12 mm]` is no point: write its distance from the clamp and its height, such as `[400 mm, -12 mm]`
    "#]],
    );
}

#[test]
fn no_space_after_the_colon_in_braces() {
    check_item(
        "- read: {tip_od:2.4 mm}",
        expect![[r#"
        builds/ilse.md:5:12: `tip_od:2.4 mm` has no space after the colon: write `tip_od: 2.4 mm`
    "#]],
    );
    assert_eq!(
        reading("- read: {tip_od:2.4 mm}").tip_od.map(|od| od.value),
        Some(Length::from_mm(2.4))
    );
}

#[test]
fn no_space_after_the_colon_and_a_comma() {
    check_item(
        "- read: {power:212 g, tip_od:2,4 mm}",
        expect![[r#"
            builds/ilse.md:5:12: `power:212 g` has no space after the colon: write `power: 212 g`
            builds/ilse.md:5:25: `tip_od:2,4 mm` has no space after the colon: write `tip_od: 2,4 mm`
            builds/ilse.md:5:33: `2,4 mm` has a comma: write `2.4 mm`
        "#]],
    );
}

#[test]
fn no_space_after_the_colon_on_a_line() {
    check_build(
        "held_at:9 in\ncustomer: Ilse",
        expect![[r#"
        builds/ilse.md:4:1: `held_at:9 in` has no space after the colon: write `held_at: 9 in`
    "#]],
    );
    let build = build("held_at:9 in\ncustomer: Ilse");
    assert_eq!(build.held_at.map(|held_at| held_at.value), Some(Length::from_inches(9.0)));
    assert_eq!(build.customer.map(|customer| customer.value).as_deref(), Some("Ilse"));
}

#[test]
fn an_equals_sign() {
    check_build(
        "held_at = 9 in",
        expect![[r#"
        builds/ilse.md:4:1: `held_at = 9 in` has `=` where a colon belongs: write `held_at: 9 in`
    "#]],
    );
}

#[test]
fn a_second_colon_in_a_text() {
    let lines = "told: agreed: 6'10\" by phone\nheld_at: 9 in\nbench:\n  - read: { length: 7'2\" }\n  - feel: one word: good\n  - cut: { tip: 1 in }";
    check_build(
        lines,
        expect![[r#"
        builds/ilse.md:4:7: `agreed: 6'10" by phone` has a second colon: put the text in quotes, `'agreed: 6''10" by phone'`
        builds/ilse.md:8:11: `one word: good` has a second colon: put the text in quotes, `"one word: good"`
    "#]],
    );
    let build = build(lines);
    assert_eq!(build.told.map(|told| told.value).as_deref(), Some("agreed: 6'10\" by phone"));
    assert_eq!(build.held_at.map(|held_at| held_at.value), Some(Length::from_inches(9.0)));
    assert_eq!(build.bench.len(), 3);
    assert_eq!(build.bench[1].action, Action::Feel("one word: good".to_owned()));
    assert!(matches!(&build.bench[2].action, Action::Cut(cut) if cut.tip.is_some()));
}

#[test]
fn a_second_colon_in_a_note_beside_an_item() {
    check_item(
        "- cut: { tip: 1 in }\n    note: the saw: dull\n    date: 2026-03-15",
        expect![[r#"
        builds/ilse.md:6:11: `the saw: dull` has a second colon: put the text in quotes, `"the saw: dull"`
    "#]],
    );
    let build =
        build("bench:\n  - cut: { tip: 1 in }\n    note: the saw: dull\n    date: 2026-03-15");
    assert_eq!(build.bench[0].note.as_deref(), Some("the saw: dull"));
    assert_eq!(build.bench[0].date, Some(taperbook_record::Date::constant(2026, 3, 15)));
}

#[test]
fn a_second_colon_in_braces() {
    check_item(
        "- settled: { tip: enough: any stiffer and it won't throw, butt: fits }",
        expect![[r#"
        builds/ilse.md:5:21: `enough: any stiffer and it won't throw` has a second colon: put the text in quotes, `"enough: any stiffer and it won't throw"`
    "#]],
    );
}

#[test]
fn curly_quotes_and_primes_are_accepted() {
    for length in ["7’2”", "7′2″", "7‘2“", "7''"] {
        let lines =
            format!("limits: {{ length: .. {length} }}\nbench:\n  - read: {{ length: 7’2” }}");
        if length == "7''" {
            continue;
        }
        let parsed = parse("builds/ilse.md", &build_text(&lines));
        assert_eq!(parsed.problems, [], "{length}");
    }
    assert_eq!(
        reading("- read: { length: 7’2” }").length.map(|l| l.value),
        Some(Length::from_inches(86.0))
    );
    assert_eq!(
        reading("- read: { tip_angle: 66° }").tip_angle.map(|angle| angle.value.deg().round()),
        Some(66.0)
    );
}

#[test]
fn feet_with_a_decimal_are_accepted() {
    check_item("- read: { length: 6.5 ft }", expect![[""]]);
    assert_eq!(
        reading("- read: { length: 6.5 ft }").length.map(|l| l.value),
        Some(Length::from_inches(78.0))
    );
}

#[test]
fn tip_and_butt_swapped_in_a_reading() {
    check_item(
        "- read: { tip_od: 11.2 mm, butt_od: 1.75 mm }",
        expect![[r#"
        builds/ilse.md:5:21: the tip, 11.20 mm, is thicker than the butt, 1.75 mm: swap the two
    "#]],
    );
}

#[test]
fn tip_and_butt_swapped_on_a_card() {
    check_blank(
        "length: 7'2\"\ncalipers:\n  - { at: 0 in, od: 1.75 mm }\n  - { at: 30 in, od: 8.4 mm }\n  - { at: 86 in, od: 11.20 mm }",
        expect![[r#"
            blanks/heron-704.md:5:3: the diameters grow from 1.75 mm to 11.20 mm away from the butt: `at` is measured from the butt, the thick end
        "#]],
    );
}

#[test]
fn millimetres_for_inches() {
    check_item(
        "- read: { length: 86 mm }",
        expect![[r#"
        builds/ilse.md:5:21: `86 mm` is too little for a blank's length: did you mean `86 in`?
    "#]],
    );
    check_item(
        "- read: { tip_od: 2.4 in }",
        expect![[r#"
        builds/ilse.md:5:21: `2.4 in` is too much for a tip's diameter: did you mean `2.4 mm`?
    "#]],
    );
    check_item(
        "- read: { tip_od: 86 in }",
        expect![[r#"
        builds/ilse.md:5:21: `86 in` is too much for a tip's diameter: write one such as `1.75 mm`
    "#]],
    );
    check_item(
        "- read: { length: 7'2\" }\n  - cut: { tip: 25 in }",
        expect![[r#"
        builds/ilse.md:6:17: `25 in` takes 29 % of the blank: did you mean `25 mm`?
    "#]],
    );
    check_item(
        "- cut: { tip: 40 in }",
        expect![[r#"
        builds/ilse.md:5:17: `40 in` is a very long cut: did you mean `40 mm`?
    "#]],
    );
    check_item(
        "- read: { length: 2184 in }",
        expect![[r#"
        builds/ilse.md:5:21: `2184 in` is too much for a blank's length: did you mean `2184 mm`?
    "#]],
    );
    check_build(
        "held_at: 230 in",
        expect![[r#"
            builds/ilse.md:4:10: `230 in` is too much for a grip's distance from the butt: did you mean `230 mm`?
        "#]],
    );
    check_build(
        "limits: { tip_od: .. 2.2 in }",
        expect![[r#"
        builds/ilse.md:4:19: `2.2 in` is too much for a tip's diameter: did you mean `2.2 mm`?
    "#]],
    );
}

#[test]
fn a_bare_number() {
    check_item(
        "- read: { length: 86, weight: 46, tip_angle: 66, frequency: 5.6 }",
        expect![[r#"
        builds/ilse.md:5:21: `86` has no unit: write `86 in` or `86 mm`
        builds/ilse.md:5:33: `46` has no unit: write `46 g` or `46 oz`
        builds/ilse.md:5:48: `66` has no unit: write `66 deg`
        builds/ilse.md:5:63: `5.6` has no unit: write `5.6 Hz`
    "#]],
    );
}

#[test]
fn a_sign_where_none_belongs() {
    check_item(
        "- cut: { tip: -1 in, butt: +2 in }",
        expect![[r#"
        builds/ilse.md:5:17: `-1 in` has a minus sign where none belongs: write `1 in`
        builds/ilse.md:5:30: `+2 in` has a plus sign: write `2 in`
    "#]],
    );
}

#[test]
fn the_wrong_dimension() {
    check_item(
        "- read: { length: 46 g, power: 7'2\" }",
        expect![[r#"
        builds/ilse.md:5:21: `46 g` is a mass where a length belongs: write one such as `7'2"` or `2183 mm`
        builds/ilse.md:5:34: `7'2"` is a length where a mass belongs: write one such as `46 g` or `1 5/8 oz`
    "#]],
    );
}

#[test]
fn a_quoted_number_that_means_inches() {
    check_item(
        "- read: { length: \"86\" }",
        expect![[r#"
        builds/ilse.md:5:21: `"86"` is a number without a unit, since these quotes only enclose it: write one such as `86 in`
    "#]],
    );
    check_item(
        "- cut: { tip: \"10\" }",
        expect![[r#"
        builds/ilse.md:5:17: `"10"` is a number without a unit, since these quotes only enclose it: write one such as `10 in`
    "#]],
    );
}

#[test]
fn inch_marks_inside_quotes() {
    check_item(
        "- read: { length: \"7'2\"\", power: 212 g }",
        expect![[r#"
        builds/ilse.md:5:21: `"7'2""` has quotes inside its quotes: write `7'2"` without the outer ones
    "#]],
    );
    check_build(
        "told: '6'10\" it is'",
        expect![[r#"
        builds/ilse.md:4:7: `'6'10" it is'` has quotes inside its quotes: write `6'10" it is` without the outer ones
    "#]],
    );
    assert_eq!(
        reading("- read: { length: \"7'2\"\", power: 212 g }").length.map(|l| l.value),
        Some(Length::from_inches(86.0))
    );
}

#[test]
fn a_comma_in_a_text_in_braces() {
    check_item(
        "- settled: { tip: any stiffer, and it won't throw }",
        expect![[r#"
        builds/ilse.md:5:21: `any stiffer, and it won't throw` has a comma, which ends a text in braces: put the text in quotes, `"any stiffer, and it won't throw"`
    "#]],
    );
    let build = build("bench:\n  - settled: { tip: any stiffer, and it won't throw }");
    let Action::Settled(settled) = &build.bench[0].action else { panic!("{:?}", build.bench) };
    assert_eq!(
        settled.tip.as_ref().map(|tip| tip.value.as_str()),
        Some("any stiffer, and it won't throw")
    );
}
