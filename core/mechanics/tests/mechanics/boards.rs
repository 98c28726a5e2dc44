//! What is known of boards and clamps, of a length and of joints, besides the blank itself.

use taperbook_mechanics::fit::{
    Card, Errors, Give, Instrument, Joint, Level, Measure, Prior, Reading, Setup, fit,
};
use taperbook_units::{Angle, Length};

use super::calibration::{NONE, card, fitted, held, power, stated, uncut, width};

/// Readings of a board teach what its clamp does, and a level says it at once.
#[test]
fn a_level_on_the_board_is_worth_what_it_says() {
    let (long, short) = (Setup { board: 1, clamp: 1 }, Setup { board: 2, clamp: 1 });
    let readings = [Reading { setup: long, ..power(212.0) }];
    let posterior = fitted(&card(), &readings);
    let worth = |setup| {
        let level = [Instrument::Level];
        posterior.worth_measuring(Measure::Power, (NONE, NONE), held(), setup, &level).unwrap()[0]
    };
    assert!(0.15 < worth(long).narrows, "{:?}", worth(long));
    assert!(worth(short).narrows.abs() < 1e-9, "no reading was taken on that board");
    let errors = Errors {
        levels: vec![Level { board: 1, tilt: Angle::from_rad(0.0) }],
        ..Errors::default()
    };
    let levelled = fit(&Prior::from_card(&card(), &errors).unwrap(), &readings).unwrap();
    let left = width(uncut(&levelled).estimate(Measure::Power).unwrap());
    // What the preview leaves is a level's and the usual tilt's together, 0.15° and 0.5°: a little less than a level's alone.
    assert!(((width(worth(long).left) - 1.0) / (left - 1.0) - 1.0).abs() < 0.03);
}

/// Two boards of one clamp: what one reading has of tilt is its own, what it has of give is both's.
#[test]
fn boards_differ_and_a_clamp_is_one() {
    let boards = [Setup { board: 1, clamp: 1 }, Setup { board: 2, clamp: 1 }];
    let on = |setup: Setup, grams| Reading { setup, ..power(grams) };
    let one = fitted(&card(), &[on(boards[0], 212.0), on(boards[0], 212.0)]);
    let two = fitted(&card(), &[on(boards[0], 212.0), on(boards[1], 212.0)]);
    let range = |posterior| width(uncut(posterior).estimate(Measure::Power).unwrap());
    assert!(range(&two) < range(&one), "two boards are not tilted alike by chance");
    // On one board the two readings differ by clamping anew alone; on two boards by their tilt as well.
    let apart = |second: Setup| {
        let readings = [on(boards[0], 200.0), on(second, 224.0)];
        fitted(&card(), &readings).residuals()[1].miss
    };
    assert!(
        apart(boards[1]) < 0.75 * apart(boards[0]),
        "{} {}",
        apart(boards[1]),
        apart(boards[0])
    );
}

/// A board that is known to be tilted upward reads high: the true power of a level clamp is lower than what was read.
#[test]
fn a_stated_tilt_is_taken_off() {
    let value = |degrees| {
        let tilt = Angle::from_deg(degrees);
        let errors = Errors { levels: vec![Level { board: 0, tilt }], ..Errors::default() };
        let prior = Prior::from_card(&card(), &errors).unwrap();
        uncut(&fit(&prior, &[power(212.0)]).unwrap()).value(Measure::Power).unwrap()
    };
    let (level, up, down) = (value(0.0), value(1.0), value(-1.0));
    assert!(up < level && level < down, "{up} {level} {down}");
    assert!(
        (0.03..0.12).contains(&(1.0 - up / level)),
        "a degree is worth some percent: {}",
        up / level
    );
}

/// A clamp that is known to yield reads low: the true power of a rigid clamp is higher than what was read.
#[test]
fn a_stated_give_is_put_on() {
    let value = |give| {
        let errors = Errors { gives: vec![Give { clamp: 0, give }], ..Errors::default() };
        let prior = Prior::from_card(&card(), &errors).unwrap();
        uncut(&fit(&prior, &[power(212.0)]).unwrap()).value(Measure::Power).unwrap()
    };
    let (rigid, yielding) = (value(0.0), value(0.003));
    // A moment of 3 N m turns such a clamp by half a degree, which costs some percent.
    assert!((1.02..1.12).contains(&(yielding / rigid)), "{}", yielding / rigid);
}

/// A maker's word is good to 10 mm: that is in the range of the length, and taken out of account where a power was read.
#[test]
fn a_length_that_nobody_measured_is_allowed_for() {
    let stated = Card { length_sd: None, ..card() };
    let half = |card: &Card, measure| {
        let estimate = uncut(&fitted(card, &[power(212.0)])).estimate(measure).unwrap();
        (estimate.value, 0.5 * (estimate.high - estimate.low))
    };
    let (length, range) = half(&stated, Measure::Length);
    assert_eq!(length, stated.length.m(), "no reading moves a stated length");
    assert!((range / (1.645 * 0.010) - 1.0).abs() < 0.01, "{range}");
    assert!((half(&card(), Measure::Length).1 / (1.645 * 0.001) - 1.0).abs() < 0.01);
    // The power that was read is what it is, however long the blank.
    let (sure, unsure) = (half(&card(), Measure::Power).1, half(&stated, Measure::Power).1);
    assert!((unsure / sure - 1.0).abs() < 0.02, "{unsure} {sure}");
    // A frequency worked out from stiffness and weight does hang on it.
    assert!(1.002 * half(&card(), Measure::Recovery).1 < half(&stated, Measure::Recovery).1);
}

/// A joint of 3 in at the middle of a blank in two pieces: stiffer and heavier there, found by the same solver with such stations.
#[test]
fn a_joint_stiffens_and_weighs() {
    let joint = Joint { at: Length::from_inches(43.0), overlap: Length::from_inches(3.0) };
    let numbers = |joints: Vec<Joint>| {
        let outcome = uncut(&fitted(&Card { joints, ..stated() }, &[]));
        [Measure::Power, Measure::Weight, Measure::Recovery].map(|m| outcome.value(m).unwrap())
    };
    let (plain, jointed) = (numbers(Vec::new()), numbers(vec![joint]));
    let ratio: Vec<f64> = plain.iter().zip(jointed).map(|(a, b)| b / a).collect();
    assert!((1.005..1.08).contains(&ratio[0]), "{ratio:?}");
    // Nine tenths of the mass of 3 in of 86 in, near the middle of a taper.
    assert!((1.02..1.05).contains(&ratio[1]), "{ratio:?}");
    assert!((0.97..1.03).contains(&ratio[2]), "{ratio:?}");
}
