//! Checks inside one record: values that are well written and can't all be true.
//!
//! What is implausible is common practice, no source.

use expect_test::expect;

use crate::{check, check_blank, check_build, check_item};

#[test]
fn a_record_without_what_makes_it_one() {
    check(
        "builds/ilse.md",
        "---\nkind: build\n---\n",
        expect![[r#"
        builds/ilse.md:2:1: a build without `blank`: name its blank card, such as `blank: heron-704`
    "#]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\n---\n",
        expect![[r#"
        fittings/tips.md:2:1: a fitting without `part`: write `part: tip-top`, or `butt-ferrule`, `reel-seat` or `guide`
    "#]],
    );
    check(
        "builds/ilse.md",
        "---\nblank: heron-704\nbench: []\n---\n",
        expect![[r#"
        builds/ilse.md:2:1: the front matter has no `kind`: write `kind: build`, or `blank`, `fitting`, `offcut` or `note`
    "#]],
    );
    check(
        "blanks/heron.md",
        "---\ncalipers: []\n---\n",
        expect![[r#"
        blanks/heron.md:2:1: the front matter has no `kind`: write `kind: blank`, or `build`, `fitting`, `offcut` or `note`
    "#]],
    );
    check(
        "fittings/tips.md",
        "---\nsizes: []\n---\n",
        expect![[r#"
        fittings/tips.md:2:1: the front matter has no `kind`: write `kind: fitting`, or `blank`, `build`, `offcut` or `note`
    "#]],
    );
    check(
        "notes/dust.md",
        "---\ntags: safety\n---\n",
        expect![[r#"
        notes/dust.md:2:1: the front matter has no `kind`: write `kind: note`, or `blank`, `build`, `fitting` or `offcut`
    "#]],
    );
    check(
        "notes/dust.md",
        "---\nknd: build\n---\n",
        expect![[r#"
        notes/dust.md:2:1: `knd` is not known: did you mean `kind`?
    "#]],
    );
    check(
        "notes/dust.md",
        "---\n---\n",
        expect![[r#"
        notes/dust.md:2:1: the front matter has no `kind`: write `kind: note`, or `blank`, `build`, `fitting` or `offcut`
    "#]],
    );
    check("notes/dust.md", "---\nkind: note\ntags: safety\n---\n", expect![[""]]);
}

#[test]
fn calipers() {
    check_blank(
        "length: 7'2\"\ncalipers: [{ at: 0 in, od: 11 mm, wall: 6 mm }]",
        expect![[r#"
        blanks/heron-704.md:4:12: a wall of 6.00 mm is more than half the diameter of 11.00 mm: measure again
    "#]],
    );
    check_blank(
        "length: 7'2\"\ncalipers: [{ at: 0 in, od: 11 mm }, { at: 87 in, od: 2 mm }]",
        expect![[r#"
        blanks/heron-704.md:4:37: this caliper, 2210 mm from the butt, lies beyond the blank's length of 2184 mm: check which of the two is wrong
    "#]],
    );
    check_blank(
        "length: 7'2\"\ncalipers: [{ at: 0 in, od: 11 mm }, { at: 0 mm, od: 10.9 mm }]",
        expect![[r#"
        blanks/heron-704.md:4:37: two diameters stand at the same place: take one out
    "#]],
    );
    check_blank(
        "calipers: [{ at: 0 in, od: 11 in, wall: 1 in }]",
        expect![[r#"
        blanks/heron-704.md:3:28: `11 in` is too much for a blank's diameter: did you mean `11 mm`?
        blanks/heron-704.md:3:41: `1 in` is too much for a wall: did you mean `1 mm`?
    "#]],
    );
    check_item(
        "- read: { calipers: [{ at: 0 in, od: 11 mm, wall: 6 mm }] }",
        expect![[r#"
        builds/ilse.md:5:24: a wall of 6.00 mm is more than half the diameter of 11.00 mm: measure again
    "#]],
    );
}

#[test]
fn a_swell_a_solid_tip_and_a_stated_length_are_no_mistake() {
    check_blank(
        "length: 7'2\"\ntip: solid\ncalipers:\n  - { at: 0 in, od: 11 mm }\n  - { at: 20 in, od: 11.4 mm }\n  - { at: 60 in, od: 4 mm }\n  - { at: 2190 mm, od: 1.2 mm, wall: 0.6 mm }",
        expect![[""]],
    );
    check_blank("calipers: [{ at: 0 in, od: 11 mm }]", expect![[""]]);
}

#[test]
fn places_beyond_the_length() {
    check_blank(
        "length: 36 in\nheld_at: 40 in\njoints: [{ at: 43 in, type: ferrule }]",
        expect![[r#"
        blanks/heron-704.md:4:10: where it is held, 1016 mm from the butt, lies beyond the blank's length of 914 mm: check which of the two is wrong
        blanks/heron-704.md:5:10: this joint, 1092 mm from the butt, lies beyond the blank's length of 914 mm: check which of the two is wrong
    "#]],
    );
    check_build(
        "held_at: 40 in\nbench:\n  - read: { length: 36 in, balance: 37 in }",
        expect![[r#"
        builds/ilse.md:4:10: where it is held, 1016 mm from the butt, lies beyond the blank's length of 914 mm: check which of the two is wrong
        builds/ilse.md:6:37: a balance point 940 mm from the butt lies beyond the length of 914 mm: measure it from the butt
    "#]],
    );
}

#[test]
fn cuts() {
    check_item(
        "- read: { length: 36 in }\n  - cut: { tip: 20 in, butt: 20 in }",
        expect![[r#"
            builds/ilse.md:6:17: both ends together are 1016 mm off a blank of 914 mm: check the unit, or write the length before it again
        "#]],
    );
    check_item(
        "- read: { length: 7'2\" }\n  - cut: { tip: 9 ft }",
        expect![[r#"
            builds/ilse.md:6:17: `9 ft` is 2743 mm off a blank of 2184 mm: check the unit, or write the length before it again
        "#]],
    );
    check_item(
        "- read: { length: 7'2\" }\n  - plan: { tip: 25 in }",
        expect![[r#"
        builds/ilse.md:6:18: `25 in` takes 29 % of the blank: did you mean `25 mm`?
    "#]],
    );
    check_item("- read: { length: 7'2\" }\n  - cut: { tip: 25 mm, butt: 20 in }", expect![[""]]);
    check_item(
        "- cut: { tip: 0 in }",
        expect![[r#"
        builds/ilse.md:5:17: `0 in` is too little for a cut: write one such as `1 in`
    "#]],
    );
    check_item(
        "- read: { length: 7'2\" }\n  - cut: { butt: 8 m }",
        expect![[r#"
        builds/ilse.md:6:18: `8 m` is too much for a cut: did you mean `8 in`?
    "#]],
    );
    // Written in millimetres or in feet, a long cut is meant.
    check_item(
        "- read: { length: 7'2\" }\n  - cut: { butt: 640 mm }\n  - plan: { butt: 2' }",
        expect![[""]],
    );
}

#[test]
fn after_a_cut_of_unknown_size_the_length_is_unknown() {
    check_item(
        "- read: { length: 36 in }\n  - cut: { tip: 1 }\n  - cut: { tip: 35 in }",
        expect![[r#"
        builds/ilse.md:6:17: `1` has no unit: write `1 in` or `1 mm`
    "#]],
    );
}

#[test]
fn implausible_sizes() {
    check_item(
        "- read: { weight: 46 kg, power: 212 kg, balance: 30 mm, frequency: 560 Hz, tip_angle: 66 rad }",
        expect![[r#"
        builds/ilse.md:5:21: `46 kg` is too much for a blank's weight: did you mean `46 g`?
        builds/ilse.md:5:35: `212 kg` is too much for a power: did you mean `212 g`?
        builds/ilse.md:5:70: `560 Hz` is too much for a frequency: write one such as `5.6 Hz`
        builds/ilse.md:5:89: `66 rad` is too much for a tip angle: did you mean `66 deg`?
    "#]],
    );
    check_blank(
        "length: 7'2\"\nmodulus: 95 MPa\ndensity: 1.55 kg/m3\nweight: 0.046 g\nspine: 400 deg",
        expect![[r#"
        blanks/heron-704.md:4:10: `95 MPa` is too little for a modulus: did you mean `95 GPa`?
        blanks/heron-704.md:5:10: `1.55 kg/m3` is too little for a density: did you mean `1.55 g/cm3`?
        blanks/heron-704.md:6:9: `0.046 g` is too little for a blank's weight: did you mean `0.046 kg`?
        blanks/heron-704.md:7:8: `400 deg` is too much for an angle around the blank: write one such as `40 deg`
    "#]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart: tip-top\nsizes: [{ bore: 2.25 in, ring: 6 in }]\nadds: { length: 8 m }\n---\n",
        expect![[r#"
        fittings/tips.md:4:32: `6 in` is too much for a ring: did you mean `6 mm`?
        fittings/tips.md:5:17: `8 m` is too much for what a fitting adds: did you mean `8 in`?
    "#]],
    );
    check(
        "shop.yaml",
        "held_at: 230 in\nerrors: { caliper: 0.03 m, tilt: 50 deg, reclamp: 2 }\nsaws: { fine saw: 1 in }\nallowances: { tip_top: 0.05 mm, butt: 0.1 mm .., lacquer: 1 in }\n",
        expect![[r#"
        shop.yaml:1:10: `230 in` is too much for a grip's distance from the butt: did you mean `230 mm`?
        shop.yaml:2:34: `50 deg` is too much for an error: write one such as `1.5 deg`
        shop.yaml:2:51: `2` may be a percentage or a ratio: write `2 %` or `2.0`
        shop.yaml:3:19: `1 in` is too much for a kerf: did you mean `1 mm`?
        shop.yaml:4:24: `0.05 mm` is one value where a range belongs: write `0.05 mm ..` or `.. 0.05 mm`
        shop.yaml:4:39: `0.1 mm ..` lacks an end: write least and most, such as `0.05 mm .. 0.15 mm`
        shop.yaml:4:59: `1 in` is too much for a clearance: did you mean `1 mm`?
    "#]],
    );
}

#[test]
fn bounds_leave_room_for_the_uncommon() {
    check_item(
        "- read: { length: 18 in, tip_od: 0.6 mm, butt_od: 4 mm, weight: 6 g, power: 15 g, tip_angle: 85 deg, frequency: 9 Hz, held_at: 2 in, balance: 6 in }",
        expect![[""]],
    );
    check_item(
        "- read: { length: 16 ft, tip_od: 4.5 mm, butt_od: 32 mm, weight: 900 g, power: 9 kg, tip_angle: 40 deg, frequency: 0.9 Hz, held_at: 4 ft, balance: 7 ft }",
        expect![[""]],
    );
}

#[test]
fn board_points() {
    check_item(
        "- read: { board: [{ load: 200 g, points: [[400 mm, -12 mm], [800 mm, -60 mm], [1 m, 3 mm]] }] }",
        expect![[""]],
    );
    check_item(
        "- read: { board: [{ points: [[400 mm, -12 mm]] }, { load: 200 g, points: [400 mm, [1 m], [-400 mm, 12 mm], [400, 12 mm]] }] }",
        expect![[r#"
        builds/ilse.md:5:21: `{ points: [[400 mm, -12 mm]] }` has no `load`: write both, such as `- { load: 200 g, points: [[400 mm, -12 mm], [800 mm, -60 mm]] }`
        builds/ilse.md:5:77: `400 mm` is no point: write its distance from the clamp and its height, such as `[400 mm, -12 mm]`
        builds/ilse.md:5:85: `[1 m]` is no point: write its distance from the clamp and its height, such as `[400 mm, -12 mm]`
        builds/ilse.md:5:93: `-400 mm` lies behind the clamp: distances go outward from it, such as `400 mm`
        builds/ilse.md:5:111: `400` has no unit: write `400 in` or `400 mm`
    "#]],
    );
}

#[test]
fn sizes_of_fittings() {
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart: tip-top\nsizes: [{ ring: 6 mm, count: -1 }, 2.25 mm]\nadds: 8 mm\n---\n",
        expect![[r#"
        fittings/tips.md:4:9: `{ ring: 6 mm, count: -1 }` has no bore: write the measured one, or the marked one, such as `- { marked: 5.5/64 in, bore: 2.25 mm, count: 4 }`
        fittings/tips.md:4:30: `-1` can't be `count`: write a whole number from 0 to 1000000
        fittings/tips.md:4:36: `2.25 mm` does not say what it is: write one such as `- { marked: 5.5/64 in, bore: 2.25 mm, count: 4 }`
        fittings/tips.md:5:7: `8 mm` does not say what it is: write `adds: { length: 8 mm, weight: 0.6 g }`
    "#]],
    );
}

#[test]
fn spines() {
    check_blank("length: 7'2\"\nspine: 40 deg from the label", expect![[""]]);
    check_blank("length: 7'2\"\nspine: { angle: 40 deg, from: the label }", expect![[""]]);
    check_blank(
        "length: 7'2\"\nspine: { from: the label }",
        expect![[r#"
        blanks/heron-704.md:4:1: `spine` has no `angle`: write one such as `{ angle: 40 deg, from: the label }`
    "#]],
    );
    check_blank(
        "length: 7'2\"\nspine: 40 from the label",
        expect![[r#"
        blanks/heron-704.md:4:8: `40` has no unit: write `40 deg`
    "#]],
    );
}

#[test]
fn the_shops_things() {
    check(
        "shop.yaml",
        "boards: long board\nclamps: [{ note: soft }]\nsaws:\n",
        expect![[r#"
        shop.yaml:1:9: `long board` has no name: write `boards: { long board: { clamp: vice, tilt: 0.5 deg } }`
        shop.yaml:2:10: this has no name: write `clamps: { vice: { gives: 0.5 deg } }`
        shop.yaml:3:1: nothing stands after `saws:`: write `{ fine saw: 1 mm }`, or take the key out
    "#]],
    );
    check(
        "shop.yaml",
        "boards: { a: { clamp: vice, tilt: 0.5 deg }, a: {} }\nclamps: vice\nerrors: { caliber: 0.03 mm }\n",
        expect![[r#"
        shop.yaml:1:46: `a` stands twice: the first is used; take one out
        shop.yaml:2:9: `vice` has no name: write `clamps: { vice: { gives: 0.5 deg } }`
        shop.yaml:3:11: `caliber` is not known in `errors`: did you mean `caliper`?
    "#]],
    );
    check(
        "shop.yaml",
        "- a\n- b\n",
        expect![[r#"
            shop.yaml:1:1: `- a` is no `key: value` line: write some, such as `name: the rod shed`
        "#]],
    );
}
