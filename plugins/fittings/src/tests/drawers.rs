//! What goes on, by hand-worked numbers: diameters of the cone by linear interpolation, 2 mm + 0.1 mm an inch of tip,
//! 10 mm − 0.1 mm an inch of butt; clearances as they are usual, 0.05 mm to 0.15 mm at a tip and 0.1 mm to 0.3 mm at a butt.

use taperbook_plugin::{Fit, FitHow};

use super::Texts;

const TIP_TOPS: (&str, &str) = (
    "tips tip-top",
    "{ marked: 5/64 in, bore: 2.08 mm, ring: 5 mm, count: 3 }
     { marked: 5.5/64 in, bore: 2.25 mm, ring: 6 mm, count: 4 }",
);
const FERRULES: (&str, &str) =
    ("ferrules butt-ferrule", "{ marked: 9 mm, bore: 9.05 mm }\n{ marked: 10 mm, bore: 9.9 mm }");

#[track_caller]
fn near(value: Option<f64>, expected: f64) {
    let value = value.expect("it is known");
    // An edge is narrowed to a hundredth of a millimetre of blank.
    assert!((value - expected).abs() < 0.02, "{value} {expected}");
}

fn clearance(fit: &Fit) -> f64 {
    fit.clearance_mm.value().expect("it is known")
}

#[test]
fn the_size_that_leaves_room_for_glue_comes_first() {
    let shop = Texts::stated(&[TIP_TOPS]);
    let advice = shop.fittings("blanks/stated", 0.0, 0.0);
    let [first, second] = &advice.states[0].tip_tops[..] else { panic!("{advice:?}") };
    assert_eq!((first.size.as_str(), first.how), ("5/64 in", FitHow::Direct));
    assert!((clearance(first) - 0.08).abs() < 1e-6);
    assert_eq!((second.size.as_str(), second.how), ("5.5/64 in", FitHow::Thread));
    // An inch and a half on, the first is too tight and the second goes on: 2.15 mm.
    let advice = shop.fittings("blanks/stated", 1.5, 0.0);
    let [first, second] = &advice.states[0].tip_tops[..] else { panic!("{advice:?}") };
    assert_eq!((first.size.as_str(), first.how), ("5.5/64 in", FitHow::Direct));
    assert!((clearance(first) - 0.10).abs() < 1e-6 && clearance(second) < 0.0);
    // The clearance is as unsure as diameter and bore are, and so is whether it fits.
    assert!(
        first.clearance_mm.known().is_some_and(|(value, low, high)| low < value && value < high)
    );
    assert!(first.chance.is_some_and(|chance| 0.3 < chance && chance < 0.99), "{first:?}");
}

#[test]
fn how_much_more_may_come_off_is_where_the_largest_bore_ends() {
    let shop = Texts::stated(&[TIP_TOPS, FERRULES]);
    let at = &shop.fittings("blanks/stated", 0.0, 0.0).states[0];
    // 2.25 mm less 0.05 mm is 2.20 mm, two inches down the taper.
    near(at.left.tip_mm, 50.8);
    near(at.until.tip_mm, 0.0);
    // The butt is 10 mm; 9.9 mm less 0.1 mm is 9.8 mm, two inches up; thinner ones take an arbor.
    near(at.until.butt_mm, 50.8);
    assert_eq!(at.left.butt_mm, None);
    // An arbor of 2 mm under 11.5 mm less 0.3 mm is 7.2 mm: 28 inches up.
    let wide = Texts::stated(&[("ferrules butt-ferrule", "{ bore: 11.5 mm }")]);
    let at_butt = &wide.fittings("blanks/stated", 0.0, 0.0).states[0];
    near(at_butt.left.butt_mm, 28.0 * 25.4);
    assert_eq!(at_butt.until.butt_mm, Some(0.0));
    // The cut that was tried is behind, and what is left is less by it.
    near(shop.fittings("blanks/stated", 1.0, 0.0).states[0].left.tip_mm, 25.4);
}

#[test]
fn lacquer_and_the_shops_own_clearances_count() {
    let shop = Texts::stated(&[TIP_TOPS])
        .with("shop.yaml", "allowances: { tip_top: 0.02 mm .. 0.08 mm, lacquer: 0.04 mm }\n");
    let at = &shop.fittings("blanks/stated", 0.0, 0.0).states[0];
    assert!((clearance(&at.tip_tops[0]) - 0.04).abs() < 1e-6);
    // 2.25 mm less 0.02 mm and 0.04 mm is 2.19 mm.
    near(at.left.tip_mm, 19.0 * 2.54);
}

#[test]
fn a_wide_bore_at_the_butt_takes_an_arbor_and_a_tight_one_sanding_which_costs() {
    let shop = Texts::stated(&[
        ("wide reel-seat", "{ bore: 14.1 mm }"),
        ("tight butt-ferrule", "{ bore: 10 mm }\n{ bore: 9.0 mm }"),
    ]);
    let at = &shop.fittings("blanks/stated", 0.0, 0.0).states[0];
    let seat = &at.reel_seats[0];
    assert_eq!(seat.how, FitHow::Arbor);
    // (14.1 − 10 − 0.1) / 2.
    assert!((seat.arbor_mm.unwrap() - 2.0).abs() < 1e-6);
    let [first, second] = &at.butt_ferrules[..] else { panic!("{at:?}") };
    assert_eq!(first.how, FitHow::Sand);
    let sanding = first.sanding.unwrap();
    assert!(
        (sanding.off_diameter_mm - 0.1).abs() < 1e-6 && (sanding.of_wall - 0.0625).abs() < 1e-6
    );
    // (10⁴ − 9.9⁴) / (10⁴ − 8.4⁴) = 394.04 / 5021.29.
    assert!((sanding.of_stiffness - 0.07847).abs() < 1e-4, "{sanding:?}");
    // It would take 1.1 mm of 10 mm: more than two thirds of the wall.
    assert_eq!(second.how, FitHow::TooTight);
    // Slid on from the tip they stop at 9.9 mm and at 8.9 mm, an inch and eleven up the taper.
    for (fit, inches) in [(first, 1.0), (second, 11.0)] {
        assert!(fit.sits_at_mm.is_some_and(|mm| (mm - 25.4 * inches).abs() <= 0.5), "{fit:?}");
    }
}

#[test]
fn what_is_used_up_counts_for_nothing_and_is_said() {
    let shop = Texts::stated(&[("tips tip-top", "{ marked: 5/64 in, bore: 2.08 mm, count: 0 }")]);
    let advice = shop.fittings("blanks/stated", 0.0, 0.0);
    assert!(advice.states[0].tip_tops.is_empty() && advice.states[0].left.tip_mm.is_none());
    assert!(advice.words.iter().any(|words| words.contains("none are left of 5/64 in")));
}

/// Sizes in 64ths: 5.5/64 in is 2.1828125 mm, since 1/64 in is 0.396875 mm (an inch is 25.4 mm exactly, 1959 agreement).
#[test]
fn a_bore_that_is_only_marked_is_less_sure() {
    let shop = Texts::stated(&[(
        "tips tip-top",
        "{ marked: 5.5/64 in }\n{ marked: 6/64 in, bore: 2.1828125 mm }",
    )]);
    let advice = shop.fittings("blanks/stated", 1.0, 0.0);
    let fits = &advice.states[0].tip_tops;
    assert!(fits.iter().all(|fit| (fit.bore_mm - 2.182_812_5).abs() < 1e-9));
    let width = |was_measured: bool| {
        let fit = fits.iter().find(|fit| fit.bore_was_measured == was_measured).unwrap();
        fit.clearance_mm.known().map(|(_, low, high)| high - low).unwrap()
    };
    assert!(width(true) < width(false));
    assert!(advice.words.iter().any(|words| words.contains("only marked")));
}
