//! Readings that contradict physics.
//!
//! What is expected of a reading comes from the mechanics, whose own checks are in its crate; here the words are checked
//! and which reading is named.

use taperbook_bench::Cuts;
use taperbook_plugin::View;
use taperbook_record::Measure;
use taperbook_units::Length;

use super::{CARD, Texts, build, check, check_in, found_in};

/// The card without what would decide between two readings of the power.
fn loose() -> String {
    CARD.replace("modulus: 90 GPa\n", "").replace("density: 1550 kg/m3\n", "")
}

#[track_caller]
fn check_loose(items: &str, expected: &[&str]) {
    let shop = Texts::default().with("blanks/stated.md", &loose());
    check_in(shop, &build("", items), expected);
}

/// What such a blank would really give, to the rounding of the instruments.
const AGREE: &str = "read: { length: 80 in, power: 172 g, tip_angle: 55 deg, weight: 34.6 g }
    cut: { tip: 1 in }
    read: { power: 183 g }";

#[test]
fn readings_within_their_errors_are_no_fault() {
    check("", AGREE, &[]);
    check("", &format!("{AGREE}\ncut: {{ tip: 1 in }}\nread: {{ power: 205 g }}"), &[]);
    check_loose(
        "read: { length: 80 in, power: 172 g }\ncut: { tip: 1 in }\nread: { power: 192 g }",
        &[],
    );
}

#[test]
fn one_reading_against_all_others() {
    check(
        "",
        &format!("{AGREE}\ncut: {{ tip: 1 in }}\nread: {{ power: 260 g }}"),
        &[
            "reading-contradicts-physics: power reads 260 g in item 5, but the card and the other readings lead to expect ~: read it again before the saw",
        ],
    );
}

#[test]
fn the_place_is_that_of_the_value() {
    let shop = Texts::default().with("blanks/stated.md", CARD);
    let found =
        found_in(shop, &build("", &format!("{AGREE}\nread: {{ tip_od: 2.1 mm, power: 260 g }}")));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].1, "260 g");
}

#[test]
fn after_the_work_nobody_is_sent_back_to_the_saw() {
    check(
        "verdict: keep",
        &format!("{AGREE}\ncut: {{ tip: 1 in }}\nread: {{ power: 294 g }}"),
        &[
            "reading-contradicts-physics: power reads 294 g in item 5, but the card and the other readings lead to expect ~: likely a slip of 100 g in the weights; read it again",
        ],
    );
}

/// Nothing else tells which of the two is wrong: one flag that names both.
#[test]
fn two_readings_against_each_other() {
    check_loose(
        "read: { length: 80 in, power: 172 g }\ncut: { tip: 1 in }\nread: { power: 240 g }",
        &[
            "reading-contradicts-physics: power reads 240 g in item 3, but with the power of 172 g in item 1 one expects ~: one of the two is wrong; read it again before the saw",
        ],
    );
}

#[test]
fn two_wrong_readings_are_two_faults() {
    let found = found_in(
        Texts::default().with("blanks/stated.md", CARD),
        &build(
            "",
            &format!(
                "{AGREE}\nread: {{ power: 181 g, weight: 64.5 g }}\nread: {{ power: 260 g, weight: 34.4 g }}"
            ),
        ),
    );
    let about: Vec<&str> = found.iter().map(|(_, about)| about.as_str()).collect();
    assert_eq!(about, ["64.5 g", "260 g"], "{found:?}");
}

#[test]
fn ten_grams_on_the_scale_and_guides() {
    check(
        "",
        "read: { length: 80 in, power: 172 g, tip_angle: 55 deg, weight: 44.6 g }",
        &[
            "reading-contradicts-physics: weight reads 44.6 g in item 1, but the card and the other readings lead to expect ~: likely a slip of 10 g on the scale, or the guides were on: then write `dressed: true` beside it; read it again before the saw",
        ],
    );
}

#[test]
fn guides_make_a_blank_slower() {
    check_loose(
        "read: { length: 80 in, power: 172 g, frequency: 5.6 Hz }\nread: { frequency: 5.59 Hz }\nread: { frequency: 4.4 Hz }",
        &[
            "reading-contradicts-physics: recovery reads 4.40 Hz in item 3, but the card and the other readings lead to expect ~: likely the guides were on: then write `dressed: true` beside it; read it again before the saw",
        ],
    );
}

#[test]
fn what_is_read_with_guides_on_contradicts_nothing() {
    check("", &format!("{AGREE}\nread: {{ power: 400 g, weight: 90 g, dressed: true }}"), &[]);
}

/// 90 deg less 35 deg is 55 deg.
#[test]
fn an_angle_from_the_vertical() {
    check_loose(
        "read: { length: 80 in, power: 172 g, tip_angle: 35 deg }",
        &[
            "reading-contradicts-physics: tip angle reads 35.0 deg in item 1, but the card and the other readings lead to expect ~: likely the angle is measured from the vertical, not from the horizontal, or two digits are swapped, 53 meant; read it again before the saw",
        ],
    );
}

#[test]
fn digits_in_the_wrong_order() {
    check_loose(
        "read: { length: 80 in, power: 172 g }\nread: { power: 174 g }\nread: { power: 170 g }\nread: { power: 127 g }",
        &[
            "reading-contradicts-physics: power reads 127 g in item 4, but the card and the other readings lead to expect ~: likely two digits are swapped, 172 meant; read it again before the saw",
        ],
    );
}

/// The weight pulls the fit so far that the power looks wrong too; the one without which all agrees is named.
#[test]
fn the_decimal_point_one_place_off() {
    check(
        "",
        "read: { length: 80 in, power: 172 g, tip_angle: 55 deg, weight: 346 g }",
        &[
            "reading-contradicts-physics: weight reads 346 g in item 1, but the card and the other readings lead to expect ~: likely the decimal point is one place off; read it again before the saw",
        ],
    );
}

/// The straight taper grows by 0.1 mm an inch: 2.60 mm at the tip after 6 in off it, 2.00 mm when they came off the butt.
#[test]
fn tip_and_butt_of_a_cut_swapped() {
    check(
        "",
        "read: { length: 80 in, power: 172 g, weight: 34.6 g }\ncut: { tip: 6 in }\nread: { tip_od: 2.00 mm }",
        &[
            "reading-contradicts-physics: tip diameter reads 2.00 mm in item 3, but the card and the other readings lead to expect ~: likely tip and butt are swapped in item 2; read it again before the saw",
        ],
    );
}

/// How much quicker this blank recovers when it is held there than when it is held at 9 in.
fn quicker_held_at(inches: f64) -> f64 {
    let shop = Texts::default().with("blanks/stated.md", CARD);
    let piece =
        taperbook_bench::piece(&View::new(&shop.shelf), "blanks/stated").expect("it is a card");
    let hz = |inches| {
        let held_at = Length::from_inches(inches);
        piece.value(Measure::Recovery, Cuts::default(), held_at).expect("it swings")
    };
    hz(inches) / hz(9.0)
}

/// The nearest place that explains it is told: a butt that is held further up swings quicker.
#[test]
fn held_elsewhere_than_the_record_says() {
    let read =
        "read: { length: 80 in, power: 172 g, frequency: 5.60 Hz }\nread: { frequency: 5.61 Hz }";
    let hz = 5.6 * quicker_held_at(13.0);
    check_loose(
        &format!("{read}\nread: {{ frequency: {hz:.2} Hz }}"),
        &[&format!(
            "reading-contradicts-physics: recovery reads {hz:.2} Hz in item 3, but the card and the other readings lead to expect ~: likely it was held at 13 in: then write `held_at: 13 in` beside it; read it again before the saw"
        )],
    );
    // The same reading with the place written beside it contradicts nothing.
    check_loose(&format!("{read}\nread: {{ frequency: {hz:.2} Hz, held_at: 13 in }}"), &[]);
}

/// All points of one bend on the board are one reading, and the worst is told.
#[test]
fn points_on_the_board() {
    check(
        "",
        "read: { length: 80 in, board: [{ load: 172 g, points: [[400 mm, -20 mm], [800 mm, -300 mm], [1200 mm, -230 mm]] }] }",
        &[
            "reading-contradicts-physics: height on the board at 31 1/2 in under 172 g reads -11 13/16 in in item 1, but the numbers of its card lead to expect ~: read it again before the saw",
        ],
    );
}

#[test]
fn a_pull_by_hand() {
    check(
        "",
        "read: { length: 80 in, power: 172 g }\npull: { tip_angle: 70 deg, load: 900 g }",
        &[
            "reading-contradicts-physics: pull to 70.0 deg reads 900 g in item 2, but the card and the other readings lead to expect ~: read it again before the saw",
        ],
    );
}

/// A second build that agrees with the card stands behind the first.
#[test]
fn past_builds_have_a_say() {
    let shop = Texts::default()
        .with("blanks/stated.md", &loose())
        .with("builds/past.md", &build("", "read: { length: 80 in, power: 172 g, weight: 34.6 g }"))
        .with(
            "builds/past-2.md",
            &build("", "read: { length: 80 in, power: 170 g, weight: 34.6 g }"),
        );
    let found = found_in(shop, &build("", "read: { length: 80 in, power: 272 g }"));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].0.contains("but the card and 2 past builds lead to expect 17"), "{found:?}");
    assert!(found[0].0.contains("likely a slip of 100 g in the weights"), "{found:?}");
}
