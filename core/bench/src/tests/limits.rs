//! How surely limits are kept, and how much may still come off.

use std::sync::Arc;

use taperbook_mechanics::fit::Outcome;
use taperbook_plugin::View;
use taperbook_record::{End, Limit, Measure};
use taperbook_units::{Interval, Length, Quantity};

use super::{STATED, Texts, bench_text};
use crate::limits::{
    Range, chance, chance_of_all, deviation, inverse_normal, left_at_end, normal, range_of,
};
use crate::{Cuts, Piece, piece, to_mechanics};

const HELD_AT: Length = Length::from_mm(200.0);

fn piece_of(items: &str) -> Arc<Piece> {
    let shop = Texts::default()
        .with("blanks/stated.md", STATED)
        .with("builds/x.md", &bench_text("", items));
    piece(&View::new(&shop.0), "builds/x").expect("it is a build")
}

fn limit(measure: Measure, range: &str) -> Limit {
    let range = Interval::parse_as(range, measure.dimension()).expect("it is a range");
    Limit { measure, range, span: 0..0 }
}

/// A limit whose ends are so many standard deviations from the value.
fn limit_at(outcome: &Outcome, measure: Measure, ends: (f64, f64)) -> Limit {
    let value = outcome.value(to_mechanics(measure)).expect("it can be computed");
    let sd = deviation(outcome, measure);
    let end = |deviates: f64| {
        let (dimension, si) = (measure.dimension(), value * (deviates * sd / value).exp());
        deviates.is_finite().then_some(Quantity { dimension, si, half_step: 0.0 })
    };
    let (low, high) = (end(ends.0), end(ends.1));
    Limit { measure, range: Interval { dimension: measure.dimension(), low, high }, span: 0..0 }
}

fn outcome() -> Outcome {
    piece_of("read: { length: 2 m }").outcome(Cuts::default(), HELD_AT).expect("it can be computed")
}

/// Abramowitz & Stegun, Handbook of Mathematical Functions, tables 26.1 and 26.5.
#[test]
fn the_normal_distribution_is_that_of_the_tables() {
    for (z, p) in [(0.0, 0.5), (1.0, 0.841_344_746), (1.96, 0.975_002_105), (3.0, 0.998_650_102)] {
        assert!((normal(z) - p).abs() < 1e-9, "{z}");
        assert!((normal(-z) - (1.0 - p)).abs() < 1e-9, "-{z}");
    }
    for (p, z) in [(0.5, 0.0), (0.95, 1.644_853_627), (0.99, 2.326_347_874), (0.05, -1.644_853_627)]
    {
        assert!((inverse_normal(p) - z).abs() < 2e-9, "{p}");
    }
}

#[test]
fn a_range_holds_its_ends_and_what_arithmetic_rounds() {
    let range = range_of(&limit(Measure::Length, "6'8\" .. 7'0\""));
    let inches = |inches: f64| Length::from_inches(inches).m();
    assert!(range.holds(inches(80.0)) && range.holds(inches(84.0)));
    assert!(range.holds(inches(80.0) * (1.0 - 1e-12)) && range.holds(inches(84.0) * (1.0 + 1e-12)));
    assert!(!range.holds(inches(79.999)) && !range.holds(inches(84.001)));
    let open = range_of(&limit(Measure::TipOd, ".. 2.2 mm"));
    assert_eq!(open, Range { low: f64::NEG_INFINITY, high: Length::from_mm(2.2).m() });
}

/// Closed form: the normal distribution function at the ends, which lie so many deviations off in the logarithm, as ranges are printed.
#[test]
fn the_chance_of_one_limit_is_that_of_a_normal_logarithm() {
    let outcome = outcome();
    for measure in [Measure::Length, Measure::TipOd] {
        for (ends, p) in [
            ((0.0, f64::INFINITY), 0.5),
            ((f64::NEG_INFINITY, 1.644_853_627), 0.95),
            ((-1.0, 1.0), 0.682_689_492),
            ((f64::NEG_INFINITY, f64::INFINITY), 1.0),
            ((3.0, 4.0), 0.001_318_227),
        ] {
            let limit = limit_at(&outcome, measure, ends);
            let chance = chance(&outcome, measure, range_of(&limit)).expect("it can be computed");
            assert!((chance - p).abs() < 1e-7, "{measure:?} {ends:?}: {chance}");
        }
    }
}

#[test]
fn what_cannot_be_computed_has_no_chance() {
    let far = piece_of("read: { length: 2 m }").outcome(Cuts::default(), Length::from_m(3.0));
    let far = far.expect("what does not bend is known");
    let power = limit(Measure::Power, "1 g .. 2 g");
    assert_eq!(chance(&far, Measure::Power, range_of(&power)), None);
    assert_eq!(chance_of_all(&far, &[power]), None);
    assert_eq!(chance_of_all(&far, &[]), None);
}

/// The slip of the tape and that of the caliper have nothing to do with each other, so the chances multiply.
#[test]
fn chances_of_independent_numbers_multiply() {
    let outcome = outcome();
    let both = [(Measure::Length, (-1.0, f64::INFINITY)), (Measure::TipOd, (-0.5, 1.5))];
    let limits = both.map(|(measure, ends)| limit_at(&outcome, measure, ends));
    let product = normal(1.0) * (normal(1.5) - normal(-0.5));
    let found = chance_of_all(&outcome, &limits).expect("they can be computed");
    assert!((found - product).abs() < 0.01, "{found} for {product}");
}

/// Length and free length share one slip of the tape: the chance of both is that of the narrower, or none.
#[test]
fn chances_of_numbers_that_move_as_one_do_not_multiply() {
    let outcome = outcome();
    let of_both = |length, free| {
        let limits = [
            limit_at(&outcome, Measure::Length, length),
            limit_at(&outcome, Measure::FreeLength, free),
        ];
        chance_of_all(&outcome, &limits).expect("they can be computed")
    };
    let above = of_both((0.0, f64::INFINITY), (0.0, f64::INFINITY));
    assert!((above - 0.5).abs() < 0.01, "{above}");
    let narrower = of_both((-1.0, f64::INFINITY), (0.5, f64::INFINITY));
    assert!((narrower - normal(-0.5)).abs() < 0.01, "{narrower}");
    let apart = of_both((0.1, f64::INFINITY), (f64::NEG_INFINITY, -0.1));
    assert!(apart < 1e-12, "{apart}");
}

/// A number after two that move as one must not be spoiled by their singular covariance.
#[test]
fn a_third_number_is_not_spoiled_by_two_that_move_as_one() {
    let outcome = outcome();
    let open = (f64::NEG_INFINITY, f64::INFINITY);
    let limits =
        [(Measure::Length, open), (Measure::FreeLength, open), (Measure::Power, (-1.0, 1.0))]
            .map(|(measure, ends)| limit_at(&outcome, measure, ends));
    let found = chance_of_all(&outcome, &limits).expect("they can be computed");
    assert!((found - 0.682_689_492).abs() < 0.01, "{found}");
}

#[track_caller]
fn check_left(items: &str, limits: &[Limit], tip: Option<f64>, butt: Option<f64>) {
    let piece = piece_of(items);
    let off = piece.walk.present().off;
    for (end, expected) in [(End::Tip, tip), (End::Butt, butt)] {
        let left = left_at_end(&piece, limits, off, Some(HELD_AT), end).map(Length::mm);
        match (left, expected) {
            (Some(left), Some(expected)) => {
                assert!((left - expected).abs() < 0.02, "{end:?}: {left} mm")
            }
            (left, expected) => assert_eq!(left, expected, "{end:?}"),
        }
    }
}

/// Common practice, no source: 77 in is left of a blank of 80 in, and with a shortest of 75 in there are 2 in to go.
#[test]
fn what_is_left_above_the_shortest_length() {
    let left = Some(50.8);
    let limits = [limit(Measure::Length, "75 in ..")];
    check_left(
        "read: { length: 80 in }\ncut: { tip: 2 in }\ncut: { butt: 1 in }",
        &limits,
        left,
        left,
    );
    // A longest length that is not reached yet does not stand in the way.
    let limits = [limit(Measure::Length, "75 in .. 76 in")];
    check_left(
        "read: { length: 80 in }\ncut: { tip: 2 in }\ncut: { butt: 1 in }",
        &limits,
        left,
        left,
    );
}

/// The tip of this straight taper grows by 0.04 mm for each 10 mm that come off, and the butt shrinks as fast.
#[test]
fn what_is_left_by_diameters() {
    check_left("read: { length: 2 m }", &[limit(Measure::TipOd, ".. 2.2 mm")], Some(50.0), None);
    check_left("read: { length: 2 m }", &[limit(Measure::ButtOd, "9.6 mm ..")], None, Some(100.0));
    let both = [limit(Measure::TipOd, ".. 2.2 mm"), limit(Measure::Length, "1970 mm ..")];
    check_left("read: { length: 2 m }", &both, Some(30.0), Some(30.0));
}

#[test]
fn nothing_is_left_beyond_what_cutting_only_makes_worse() {
    let passed = [limit(Measure::Length, "2.1 m ..")];
    check_left("read: { length: 2 m }", &passed, Some(0.0), Some(0.0));
    check_left("read: { length: 2 m }", &[], None, None);
}

#[test]
fn lengths_alone_need_no_diameters() {
    let shop = Texts::default().with("builds/x.md", &bench_text("", "read: { length: 80 in }"));
    let piece = piece(&View::new(&shop.0), "builds/x").expect("it is a build");
    assert!(piece.fitted.is_err());
    let limits = [limit(Measure::Length, "75 in ..")];
    let left =
        left_at_end(&piece, &limits, Cuts::default(), None, End::Tip).expect("it is limited");
    assert!((left.inches() - 5.0).abs() < 0.001, "{left:?}");
}

#[test]
fn a_power_that_a_butt_cut_only_lowers_leaves_nothing_at_the_butt() {
    // On a stub of half a metre power comes back into the range: that is not a way to get there.
    let piece = piece_of("read: { length: 2 m }");
    let power = piece.value(Measure::Power, Cuts::default(), HELD_AT).expect("it bends");
    let range = format!("{:.1} g .. {:.1} g", power * 1.1e3, power * 1.2e3);
    for butt in [0.0, 100.0, 200.0] {
        let off = Cuts { tip: Length::default(), butt: Length::from_mm(butt) };
        let left =
            left_at_end(&piece, &[limit(Measure::Power, &range)], off, Some(HELD_AT), End::Butt);
        let first = piece.value(Measure::Power, off, HELD_AT);
        let next = piece.value(
            Measure::Power,
            off.plus(Length::default(), Length::from_mm(50.0)),
            HELD_AT,
        );
        if next < first {
            assert_eq!(left, Some(Length::default()), "after {butt} mm");
        }
    }
}
