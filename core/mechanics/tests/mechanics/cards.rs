//! What a card makes of a blank, and what is said of one that makes none.

use taperbook_mechanics::fit::{Card, Errors, Prior};
use taperbook_units::{Length, Pressure};

use super::calibration::{caliper, card, prior};

const NONE: Length = Length::from_m(0.0);

#[test]
fn calipers_that_stop_short_are_carried_on_in_a_straight_line() {
    let short =
        Card { calipers: vec![caliper(2000.0, 2.6, None), caliper(100.0, 11.0, None)], ..card() };
    let tube = prior(&short).tube();
    let slope = (2.6 - 11.0) / 1900.0;
    assert!((tube.od_at(NONE).mm() - (11.0 - 100.0 * slope)).abs() < 1e-9);
    assert!((tube.od_at(tube.length()).mm() - (2.6 + 184.4 * slope)).abs() < 1e-9);
    // A line that would reach nothing before the tip stops at a quarter of the last diameter measured.
    let steep =
        Card { calipers: vec![caliper(0.0, 11.0, None), caliper(1000.0, 3.0, None)], ..card() };
    assert!((prior(&steep).tube().od_at(card().length).mm() - 0.75).abs() < 1e-9);
    // A piece a little shorter than its card ends where it ends.
    let shorter = Card { length: Length::from_mm(2180.0), ..card() };
    let tube = prior(&shorter).tube();
    assert!((tube.length().mm() - 2180.0).abs() < 1e-9);
    let line = 4.9 + (1.75 - 4.9) * (680.0 / 684.4);
    assert!((tube.od_at(tube.length()).mm() - line).abs() < 1e-9);
}

/// Two calipers close together near an end would carry what they are off by far beyond it.
#[test]
fn two_calipers_side_by_side_do_not_throw_an_end() {
    let calipers = |more: Option<_>| {
        let usual = [(0.0, 11.2), (762.0, 8.4), (1500.0, 4.9), (2134.4, 2.0)];
        let mut all: Vec<_> = usual.map(|(at, od)| caliper(at, od, None)).into();
        all.extend(more);
        all
    };
    let tip = |more| {
        let card = Card { calipers: calipers(more), ..card() };
        prior(&card).tube().od_at(card.length).mm()
    };
    let plain = tip(None);
    for (at, od) in [(2131.4, 2.05), (2131.4, 1.97), (2137.4, 2.03)] {
        let beside = tip(Some(caliper(at, od, None)));
        assert!((beside - plain).abs() < 0.1, "{at}: {beside}, not {plain}");
    }
}

#[track_caller]
fn check_refused(card: Card, expected: &str) {
    let error = Prior::from_card(&card, &Errors::default()).unwrap_err();
    assert_eq!(error.to_string(), expected);
}

#[test]
fn a_card_that_makes_no_blank_says_what_to_measure() {
    let with = |calipers| Card { calipers, ..card() };
    check_refused(
        with(vec![caliper(0.0, 11.2, None)]),
        "1 of the two diameters needed: measure the diameter at two places or more",
    );
    check_refused(
        with(Vec::new()),
        "0 of the two diameters needed: measure the diameter at two places or more",
    );
    check_refused(
        with(vec![caliper(0.0, 11.2, None), caliper(2600.0, 2.0, None)]),
        "a diameter at 2600.0 mm on a blank of 2184.4 mm: measure places from the butt, or the length again",
    );
    check_refused(
        with(vec![caliper(700.0, 8.2, None), caliper(700.0, 8.4, None)]),
        "two diameters at 700.0 mm from the butt: keep one of them",
    );
    check_refused(
        with(vec![caliper(0.0, 11.2, Some(6.0)), caliper(2000.0, 2.0, None)]),
        "wall 6 mm at 0 mm from the butt: a wall must be more than 0 mm and at most half of the 11.2 mm outside",
    );
    check_refused(
        Card { length: Length::from_m(0.0), ..card() },
        "a blank of 0 mm: measure its length",
    );
    check_refused(
        Card { modulus: Some(Pressure::from_gpa(-3.0)), ..card() },
        "modulus -3 GPa: a modulus must be more than 0 GPa",
    );
}

/// Half of a solid tip's diameter is wall, where nobody measured it, over the last 37 cm; the rest is a tube.
#[test]
fn a_solid_tip_is_solid() {
    let tube = prior(&Card {
        solid_tip: true,
        joints: Vec::new(),
        length_sd: Some(Length::from_mm(1.0)),
        ..card()
    })
    .tube();
    let hollow = prior(&card()).tube();
    let end = tube.length();
    for from_tip_mm in [0.0, 100.0, 350.0] {
        let at = end - Length::from_mm(from_tip_mm);
        assert!((tube.wall_at(at) / tube.od_at(at) - 0.5).abs() < 1e-12, "{from_tip_mm}");
    }
    let below = end - Length::from_mm(400.0);
    assert!((tube.wall_at(below) / hollow.wall_at(below) - 1.0).abs() < 1e-9);
    assert!(hollow.weight() < tube.weight());
}
