//! Limits, words, dates, and texts that YAML would shorten without a word.

use expect_test::expect;
use taperbook_record::Measure;

use crate::{build, check, check_blank, check_build, check_item};

#[test]
fn limits_and_aim() {
    check_build(
        "limits: { length: 6'8\", power: 260 g }",
        expect![[r#"
            builds/ilse.md:4:19: `6'8"` is one value where a range belongs: write `6'8" ..` or `.. 6'8"`
            builds/ilse.md:4:32: `260 g` is one value where a range belongs: write `260 g ..` or `.. 260 g`
        "#]],
    );
    check_build(
        "limits: { length: 7'0\" .. 6'8\" }",
        expect![[r#"
        builds/ilse.md:4:19: `7'0" .. 6'8"` has its ends the wrong way round: write `6'8" .. 7'0"`
    "#]],
    );
    check_build(
        "limits: { length: 6 .. 7 ft }",
        expect![[r#"
        builds/ilse.md:4:19: `6` has no unit: write `6 ft .. 7 ft`
    "#]],
    );
    check_build(
        "limits: { length: 6'8\" – 7'0\" }",
        expect![[r#"
            builds/ilse.md:4:24: `6'8" – 7'0"` has `–` where the `..` of a range belongs: write `6'8" .. 7'0"`
        "#]],
    );
    check_build(
        "limits: { colour: red .. blue }",
        expect![[r#"
        builds/ilse.md:4:11: `colour` is nothing that `limits` knows: write `length`, `free_length`, `tip_od`, `butt_od`, `weight`, `balance`, `power`, `stiffness_for_length`, `tip_angle`, `bend_centre` or `recovery`
    "#]],
    );
    check_build(
        "limits: 6'8\" .. 7'0\"",
        expect![[r#"
        builds/ilse.md:4:9: `6'8" .. 7'0"` does not say what it is: write `limits: { length: 6'8" .. 7'0", tip_od: .. 2.2 mm }`
    "#]],
    );
    check_build(
        "limits: { recovery: 5 Hz .., frequency: .. 6 Hz }",
        expect![[r#"
        builds/ilse.md:4:30: `frequency` stands twice in `limits`: the first is used; take one out
    "#]],
    );
    check_build(
        "aim: { length: 6'8\" .. 7'0\" }",
        expect![[r#"
        builds/ilse.md:4:16: `6'8" .. 7'0"` is a range where one value belongs: write the value to aim for, such as `7'2"`, and put the range into `limits`
    "#]],
    );
    check_build(
        "aim: { lenght: 6'8\" }",
        expect![[r#"
        builds/ilse.md:4:8: `lenght` is nothing that `aim` knows: did you mean `length`?
    "#]],
    );
    let build = build("limits: { length: 6'8\", tip_od: .. 2.2 mm }");
    assert_eq!(
        build.limits.iter().map(|limit| limit.measure).collect::<Vec<_>>(),
        [Measure::TipOd]
    );
}

#[test]
fn words_that_are_not_known() {
    check(
        "builds/ilse.md",
        "---\nkind: biuld\n---\n",
        expect![[r#"
        builds/ilse.md:2:7: `biuld` is no kind of record: did you mean `build`?
    "#]],
    );
    check(
        "builds/ilse.md",
        "---\nkind: rod\n---\n",
        expect![[r#"
        builds/ilse.md:2:7: `rod` is no kind of record: write `blank`, `build`, `fitting`, `offcut` or `note`
    "#]],
    );
    check_build(
        "verdict: keeep\nrating: 7",
        expect![[r#"
            builds/ilse.md:4:10: `keeep` is not known as `verdict`: did you mean `keep`?
            builds/ilse.md:5:9: `7` can't be `rating`: write a whole number from 1 to 5
        "#]],
    );
    check_build(
        "verdict: fine\nrating: four",
        expect![[r#"
            builds/ilse.md:4:10: `fine` is not known as `verdict`: write `keep`, `recut` or `scrap`
            builds/ilse.md:5:9: `four` can't be `rating`: write a whole number from 1 to 5
        "#]],
    );
    check_build(
        "rating: 4.5",
        expect![[r#"
            builds/ilse.md:4:9: `4.5` can't be `rating`: write a whole number from 1 to 5
        "#]],
    );
    check_blank(
        "material: fibreglass\ntip: sollid\npieces: two",
        expect![[r#"
            blanks/heron-704.md:3:11: `fibreglass` is not known as `material`: write `carbon`, `glass` or `blend`
            blanks/heron-704.md:4:6: `sollid` is not known as `tip`: did you mean `solid`?
            blanks/heron-704.md:5:9: `two` can't be `pieces`: write a whole number from 1 to 20
        "#]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart: tiptop\n---\n",
        expect![[r#"
        fittings/tips.md:3:7: `tiptop` is not known as `part`: did you mean `tip-top`?
    "#]],
    );
    check(
        "shop.yaml",
        "units: yards\n",
        expect![[r#"
            shop.yaml:1:8: `yards` is not known as `units`: write `inches` or `millimetres`
        "#]],
    );
    check_item(
        "- read: { power: 212 g, dressed: maybe }",
        expect![[r#"
            builds/ilse.md:5:36: `maybe` is not known as `dressed`: write `yes` or `no`
        "#]],
    );
}

#[test]
fn dates() {
    check_build(
        "date: 2026-02-30",
        expect![[r#"
        builds/ilse.md:4:7: `2026-02-30` does not exist: that month has 28 days
    "#]],
    );
    check_build(
        "date: 2026-13-01",
        expect![[r#"
        builds/ilse.md:4:7: `2026-13-01` does not exist: there is no month 13, write year, month and day, such as `2026-03-14`
    "#]],
    );
    check_build(
        "date: 14.3.2026",
        expect![[r#"
        builds/ilse.md:4:7: `14.3.2026` is no date: write year, month and day, such as `2026-03-14`
    "#]],
    );
    check_build(
        "date: 0226-03-14",
        expect![[r#"
        builds/ilse.md:4:7: `0226-03-14` is far from now: check the year
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in, date: yesterday }",
        expect![[r#"
        builds/ilse.md:5:29: `yesterday` is no date: write year, month and day, such as `2026-03-14`
    "#]],
    );
}

#[test]
fn numbers_that_yaml_knows_and_a_workshop_does_not() {
    check_item(
        "- read: { length: .nan, weight: 0x1F, power: .inf }",
        expect![[r#"
        builds/ilse.md:5:21: `.nan` is no number: write one such as `7'2"`
        builds/ilse.md:5:36: `0x1F` is a number to the base 16, 31: write one such as `46 g`
        builds/ilse.md:5:48: `.inf` is no number: write one such as `212 g`
    "#]],
    );
    check_build(
        "rating: 0x4",
        expect![[r#"
        builds/ilse.md:4:9: `0x4` is not a plain number: write `4`
    "#]],
    );
    check_build(
        "rating: .nan",
        expect![[r#"
            builds/ilse.md:4:9: `.nan` can't be `rating`: write a whole number from 1 to 5
        "#]],
    );
    // An unknown key is text, and text loses nothing.
    check_build("serial: 0x1F\nother: .nan", expect![[""]]);
}

#[test]
fn a_text_that_begins_with_a_number_sign() {
    check_build(
        "line: #6",
        expect![[r##"
        builds/ilse.md:4:7: `#6` is taken for a comment, so nothing stands here: put it in quotes, `"#6"`
    "##]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart: guide\nsizes: [{ marked: #6 }]\n---\n",
        expect![[r##"
            fittings/tips.md:4:19: `#6` has `#`, which is no part of a quantity: write `6 in` or `6 mm`
            fittings/tips.md:4:19: `#6` begins with `#`: put the text in quotes, `"#6"`
        "##]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart: guide\nsizes:\n  - marked: #6\n---\n",
        expect![[r##"
        fittings/tips.md:5:13: `#6` is taken for a comment, so nothing stands here: put it in quotes, `"#6"`
    "##]],
    );
}

#[test]
fn a_text_that_ends_at_a_number_sign() {
    check_build(
        "purpose: line # 6",
        expect![[r#"
        builds/ilse.md:4:10: `line # 6` ends before ` #`, which begins a comment: put the text in quotes, `"line # 6"`
    "#]],
    );
    check_item(
        "- feel: good with a #6 line",
        expect![[r#"
        builds/ilse.md:5:11: `good with a #6 line` ends before ` #`, which begins a comment: put the text in quotes, `"good with a #6 line"`
    "#]],
    );
    check_build(
        "lure: size #2",
        expect![[r#"
        builds/ilse.md:4:7: `size #2` ends before ` #`, which begins a comment: put the text in quotes, `"size #2"`
    "#]],
    );
}

#[test]
fn a_comment_is_no_lost_text() {
    check_build(
        "customer: Ilse   # a friend of Tomas\npurpose: spoons # from the rocks\nrating: 4 # 1..5\nverdict: keep   # keep | recut | scrap",
        expect![[""]],
    );
}
