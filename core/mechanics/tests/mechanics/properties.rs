//! What every cut of a continuously tapered tube does.
//!
//! What is no tube or can't be bent is in `odd_tubes`.

use proptest::prelude::*;
use taperbook_mechanics::{Clamp, Tube, natural_frequency, third_length};
use taperbook_units::Length;

use super::common::{light_blank, tube};

const NONE: Length = Length::from_m(0.0);

/// A continuous taper: diameter falls evenly from butt to tip, the wall is the same part of it everywhere.
///
/// Stout enough that no cut makes it sag a third by itself.
pub(crate) fn taper() -> impl Strategy<Value = (Tube, Length)> {
    let sizes = (1.4..3.0f64, 8.0..16.0f64, 0.12..0.4f64, 0.08..0.5f64);
    (sizes, 60.0..140.0f64, 1400.0..1900.0f64, 0.0..0.25f64).prop_map(
        |((length, butt, ratio, wall), modulus, density, held)| {
            let tip = butt * ratio;
            let stations = [(0.0, butt, wall * butt), (1e3 * length, tip, wall * tip)];
            (tube(&stations, modulus, density), Length::from_m(held * length))
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// A cut from the tip of a continuous taper takes its weakest part: what is left is shorter and thicker at its end.
    /// Common practice, no source; it follows from EI rising toward the butt.
    #[test]
    fn a_tip_cut_raises_power_recovery_and_tip_diameter(
        (whole, held_at) in taper(),
        cut_mm in 5.0..300.0f64,
    ) {
        let clamp = Clamp::horizontal(held_at);
        let cut = whole.trimmed(Length::from_mm(cut_mm), NONE).unwrap();
        if let Ok(before) = third_length(&whole, &clamp) {
            let after = third_length(&cut, &clamp).unwrap();
            prop_assert!(before.power < after.power);
            prop_assert!(before.bend_centre < after.bend_centre, "the bend moves toward the butt");
        }
        let before = natural_frequency(&whole, &clamp).unwrap();
        prop_assert!(before < natural_frequency(&cut, &clamp).unwrap());
        prop_assert!(cut.weight() < whole.weight());
        prop_assert!(whole.od_at(whole.length()) < cut.od_at(cut.length()));
    }

    /// The old rule of the bench: with the effect of mere shortening taken out, a butt cut softens and a tip cut stiffens.
    /// Common practice, no source.
    #[test]
    fn stiffness_for_its_length_falls_with_a_butt_cut_and_rises_with_a_tip_cut(
        (whole, held_at) in taper(),
        cut_mm in 5.0..200.0f64,
    ) {
        let clamp = Clamp::horizontal(held_at);
        let stiffness = |tube: &Tube| {
            let free = (tube.length() - held_at).m();
            third_length(tube, &clamp).map(|third| third.power.kg() * free * free)
        };
        let cut = Length::from_mm(cut_mm);
        if let Ok(before) = stiffness(&whole) {
            let by_butt = whole.trimmed(NONE, cut).unwrap();
            let by_tip = whole.trimmed(cut, NONE).unwrap();
            prop_assert!(stiffness(&by_butt).unwrap() < before);
            prop_assert!(before < stiffness(&by_tip).unwrap());
            prop_assert!(by_butt.weight() < whole.weight());
            prop_assert!(by_butt.od_at(NONE) < whole.od_at(NONE));
        }
    }
}

/// Rules of the trade as a builder states them: common practice, no source.
#[test]
fn two_inches_off_the_tip_of_a_stout_six_footer_is_a_large_change() {
    let blank = tube(&[(0.0, 15.0, 1.6), (900.0, 9.0, 1.2), (1829.0, 2.6, 0.7)], 85.0, 1600.0);
    let clamp = Clamp::horizontal(Length::from_inches(9.0));
    let before = third_length(&blank, &clamp).unwrap();
    let cut = blank.trimmed(Length::from_inches(2.0), NONE).unwrap();
    let after = third_length(&cut, &clamp).unwrap();
    assert!(1.1 < after.power / before.power, "{before:?} {after:?}");
}

/// Real tip angles at the third-length weight lie from below 59° to above 66°: W. Hanneman, RodMaker vol. 6 no. 2 (2003), as quoted.
#[test]
fn a_usual_blank_has_a_usual_tip_angle() {
    let third = third_length(&light_blank(), &Clamp::horizontal(Length::from_inches(9.0))).unwrap();
    assert!((50.0..75.0).contains(&third.tip_angle.deg()), "{third:?}");
    assert!((100.0..400.0).contains(&third.power.g()), "{third:?}");
}
