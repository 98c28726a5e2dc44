//! New records: what they give as they come, and that they read well once filled.

use expect_test::expect;
use taperbook_record::{Date, Kind, template};
use taperbook_units::Units;

use crate::{check, parse};

const ALL: [(Kind, &str); 6] = [
    (Kind::Blank, "blanks/a.md"),
    (Kind::Build, "builds/a.md"),
    (Kind::Fitting, "fittings/a.md"),
    (Kind::Offcut, "offcuts/a.md"),
    (Kind::Shop, "shop.yaml"),
    (Kind::Note, "notes/a.md"),
];

fn text(kind: Kind, units: Units) -> String {
    template(kind, "ilse: heron", Some(Date::constant(2026, 3, 14)), units)
}

#[test]
fn as_they_come_they_ask_for_what_they_need() {
    check(
        "blanks/a.md",
        &text(Kind::Blank, Units::Inches),
        expect![[r#"
        blanks/a.md:3:1: nothing stands after `length:`: write one such as `7'2"`, or take the key out
    "#]],
    );
    check(
        "builds/a.md",
        &text(Kind::Build, Units::Inches),
        expect![[r#"
        builds/a.md:3:1: nothing stands after `blank:`: write one such as `heron-704`, or take the key out
    "#]],
    );
    check(
        "fittings/a.md",
        &text(Kind::Fitting, Units::Inches),
        expect![[r#"
        fittings/a.md:3:1: nothing stands after `part:`: write one such as `tip-top`, or take the key out
    "#]],
    );
    check(
        "offcuts/a.md",
        &text(Kind::Offcut, Units::Inches),
        expect![[r#"
        offcuts/a.md:3:1: nothing stands after `from:`: write one such as `ilse-heron`, or take the key out
    "#]],
    );
    check("shop.yaml", &text(Kind::Shop, Units::Inches), expect![[""]]);
    check("notes/a.md", &text(Kind::Note, Units::Inches), expect![[""]]);
}

#[test]
fn filled_they_read_without_a_problem() {
    for units in [Units::Inches, Units::Millimetres] {
        for (kind, path) in ALL {
            let mut text = text(kind, units);
            for (key, value) in
                [("length", "7'2\""), ("blank", "heron-704"), ("part", "tip-top"), ("from", "ilse")]
            {
                text = text.replace(&format!("\n{key}:   "), &format!("\n{key}: {value}   "));
            }
            let parsed = parse(path, &text);
            assert_eq!(parsed.problems, [], "{text}");
            assert_eq!(parsed.record.kind(), kind);
            assert_eq!(parsed.record.title, "ilse: heron");
        }
    }
}

#[test]
fn every_hint_is_itself_well_written() {
    for units in [Units::Inches, Units::Millimetres] {
        for (kind, path) in ALL {
            let text = text(kind, units);
            let mut taken_up = String::new();
            for line in text.lines().filter(|line| {
                !line.contains("marks the shop folder") && !line.starts_with("# ilse")
            }) {
                taken_up
                    .push_str(line.strip_prefix("# ").or(line.strip_prefix('#')).unwrap_or(line));
                taken_up.push('\n');
            }
            for (key, value) in
                [("length", "7'2\""), ("blank", "heron-704"), ("part", "tip-top"), ("from", "ilse")]
            {
                taken_up =
                    taken_up.replace(&format!("\n{key}:   "), &format!("\n{key}: {value}   "));
            }
            let parsed = parse(path, &taken_up);
            assert_eq!(parsed.problems, [], "{taken_up}");
        }
    }
}

#[test]
fn a_build_as_text() {
    expect![[r#"
        ---
        kind: build
        blank:                        # the name of its blank card, such as heron-704
        date: 2026-03-14
        # customer: Ilse
        # purpose: small spoons for sea trout from the rocks of an estuary
        # held_at: 9 in               # where hand or clamp grips, from the butt
        # limits: { length: 6'8" .. 7'0", tip_od: .. 2.2 mm, power: 200 g .. 260 g }
        # aim: { length: 6'10", power: 235 g }
        # bench:
        #   - read: { length: 7'2", tip_od: 1.75 mm, weight: 46 g, power: 212 g, tip_angle: 66 deg }
        #   - plan: { tip: 1 in }
        #   - cut: { tip: 1 in, with: rotary disc }
        #   - feel: loads early, still throws straight
        #   - settled: { tip: "any stiffer, and it won't throw" }
        # verdict: keep               # keep | recut | scrap
        # rating: 4                   # 1..5
        ---
        # ilse: heron
    "#]]
    .assert_eq(&text(Kind::Build, Units::Inches));
}
