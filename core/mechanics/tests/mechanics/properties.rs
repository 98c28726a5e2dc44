//! What every cut of a continuously tapered tube does, and that no input, however odd, gives a number that is none.

use proptest::prelude::*;
use taperbook_mechanics::{
    BendError, Clamp, Load, Material, Station, TrimError, Tube, TubeError, bend,
    load_for_tip_angle, natural_frequency, third_length,
};
use taperbook_units::{Angle, Density, Length, Mass, Pressure};

use super::common::{light_blank, tube};

const NONE: Length = Length::from_m(0.0);

/// A continuous taper: diameter falls evenly from butt to tip, the wall is the same part of it everywhere.
///
/// Stout enough that no cut makes it sag a third by itself.
fn taper() -> impl Strategy<Value = (Tube, Length)> {
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

    /// Any numbers at all: an error or finite numbers, and always an end.
    #[test]
    fn no_input_gives_a_number_that_is_none(
        numbers in proptest::collection::vec((any_number(), any_number(), any_number()), 0..5),
        modulus in any_number(),
        density in any_number(),
        (held_at, raised, give) in (any_number(), any_number(), any_number()),
        (tip, butt, mass, angle) in (any_number(), any_number(), any_number(), any_number()),
    ) {
        let stations: Vec<_> = (numbers.iter().enumerate())
            .map(|(station_idx, &(at, od, wall))| Station {
                at: Length::from_m(if station_idx == 0 { 0.0 } else { at }),
                od: Length::from_m(od),
                wall: Length::from_m(wall),
            })
            .collect();
        let material = Material {
            modulus: Pressure::from_pa(modulus),
            density: Density::from_kg_per_m3(density),
        };
        if let Ok(tube) = Tube::new(&stations, material) {
            check_all_finite(&tube, held_at, raised, give, mass, angle)?;
            if let Ok(cut) = tube.trimmed(Length::from_m(tip), Length::from_m(butt)) {
                check_all_finite(&cut, held_at, raised, give, mass, angle)?;
            }
        }
    }

    /// The same with tubes and clamps that make sense, so that the solvers are reached.
    #[test]
    fn no_load_on_a_real_tube_gives_a_number_that_is_none(
        (whole, held_at) in taper(),
        raised in -1.6..1.6f64,
        give in prop_oneof![Just(0.0), 1e-6..1e3f64],
        mass in prop_oneof![Just(0.0), 1e-6..1e6f64],
        angle in -7.0..7.0f64,
    ) {
        check_all_finite(&whole, held_at.m(), raised, give, mass, angle)?;
    }
}

/// Numbers of a sort that a slip makes: zero, tiny, usual, huge, none.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 1e-4..3.0f64,
        1 => Just(0.0),
        1 => Just(-1.0),
        1 => 1e-12..1e-6f64,
        2 => 1e2..1e12f64,
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(f64::MIN_POSITIVE),
        1 => Just(f64::MAX),
    ]
}

fn check_all_finite(
    tube: &Tube,
    held_at: f64,
    raised: f64,
    give: f64,
    mass: f64,
    angle: f64,
) -> Result<(), TestCaseError> {
    let at = Length::from_m(held_at);
    let plain = [tube.weight().kg(), tube.balance().m(), tube.od_at(at).m(), tube.wall_at(at).m()];
    prop_assert!(plain.iter().all(|number| number.is_finite()), "{plain:?}");
    prop_assert!(tube.stiffness_at(at).is_finite());
    let clamp = Clamp { held_at: at, raised: Angle::from_rad(raised), give };
    if let Ok(third) = third_length(tube, &clamp) {
        let numbers = [third.power.kg(), third.tip_angle.rad(), third.bend_centre];
        prop_assert!(numbers.iter().all(|number| number.is_finite()), "{third:?}");
        prop_assert!(0.0 <= third.power.kg());
    }
    let load = Load::pull(Mass::from_kg(mass), Angle::from_rad(angle));
    if let Ok(shape) = bend(tube, &clamp, &load, 5) {
        let finite = |length: Length| length.m().is_finite();
        prop_assert!(shape.points.iter().all(|point| finite(point.x) && finite(point.y)));
        prop_assert!(shape.tip_angle.rad().is_finite());
    }
    let backward = Angle::from_rad(0.5 * angle);
    if let Ok(load) = load_for_tip_angle(tube, &clamp, Angle::from_rad(angle), backward) {
        prop_assert!(0.0 <= load.kg() && load.kg().is_finite(), "{load:?}");
    }
    if let Ok(frequency) = natural_frequency(tube, &clamp) {
        prop_assert!(0.0 < frequency.hz() && frequency.hz().is_finite(), "{frequency:?}");
    }
    Ok(())
}

#[track_caller]
fn check_tube(stations: &[(f64, f64, f64)], expected: &str) {
    let stations: Vec<_> = (stations.iter())
        .map(|&(at, od, wall)| Station {
            at: Length::from_mm(at),
            od: Length::from_mm(od),
            wall: Length::from_mm(wall),
        })
        .collect();
    let material =
        Material { modulus: Pressure::from_gpa(90.0), density: Density::from_kg_per_m3(1550.0) };
    assert_eq!(Tube::new(&stations, material).unwrap_err().to_string(), expected);
}

#[test]
fn a_tube_that_is_none_says_what_is_wrong() {
    check_tube(
        &[(0.0, 10.0, 1.0)],
        "1 of the two or more stations needed: measure the diameter at two places or more",
    );
    check_tube(
        &[(5.0, 10.0, 1.0), (9.0, 8.0, 1.0)],
        "the first station is at 5 mm: the first must be at 0 mm, the butt",
    );
    check_tube(
        &[(0.0, 10.0, 1.0), (900.0, 8.0, 1.0), (900.0, 7.0, 1.0)],
        "a station at 900 mm after one at 900 mm: put stations in order from the butt, none twice",
    );
    check_tube(
        &[(0.0, 10.0, 1.0), (900.0, 8.0, 4.1)],
        "wall 4.1 mm at 900 mm from the butt: a wall must be more than 0 mm and at most half of the 8 mm outside",
    );
    check_tube(
        &[(0.0, 10.0, 1.0), (900.0, 0.0, 0.1)],
        "outside diameter 0 mm at 900 mm from the butt: a diameter must be more than 0 mm",
    );
}

#[test]
fn what_cannot_be_bent_or_cut_says_why() {
    let blank = light_blank();
    let beyond = Clamp::horizontal(Length::from_mm(2200.0));
    assert_eq!(
        third_length(&blank, &beyond).unwrap_err().to_string(),
        "held at 2200 mm of a blank of 2184 mm, so nothing is left to bend: hold it nearer the butt"
    );
    assert_eq!(
        blank.trimmed(Length::from_mm(2000.0), Length::from_mm(184.0)).unwrap_err(),
        TrimError::NothingLeft {
            tip: Length::from_mm(2000.0),
            butt: Length::from_mm(184.0),
            length: blank.length(),
        }
    );
    // A straw of 3 m: it hangs.
    let limp = tube(&[(0.0, 3.0, 0.2), (3000.0, 1.0, 0.2)], 30.0, 1900.0);
    let error = third_length(&limp, &Clamp::horizontal(NONE)).unwrap_err();
    assert!(matches!(error, BendError::TooLimp { .. }), "{error}");
    // No weight brings a tip to hang straight down, and one that hangs can't be brought back up by a weight.
    let level = Clamp::horizontal(Length::from_mm(230.0));
    let down = Angle::from_rad(0.0);
    let error = load_for_tip_angle(&blank, &level, Angle::from_deg(90.0), down).unwrap_err();
    assert_eq!(
        error.to_string(),
        "no pull in that direction brings the tip to 90.0 deg: ask for a smaller angle, or pull further back"
    );
    let error = load_for_tip_angle(&blank, &level, Angle::from_deg(0.1), down).unwrap_err();
    assert!(matches!(error, BendError::WeightTurnsFurther(_)), "{error}");
    // Pulled back as a hand does, the same blank gets there.
    let back = Angle::from_deg(45.0);
    load_for_tip_angle(&blank, &level, Angle::from_deg(90.0), back).unwrap();
    // A weightless straight tube pushed straight back buckles.
    let column = tube(&[(0.0, 8.0, 1.0), (1000.0, 8.0, 1.0)], 90.0, 0.0);
    let push = Load::pull(Mass::from_kg(100.0), Angle::from_deg(90.0));
    assert_eq!(bend(&column, &level, &push, 3).unwrap_err(), BendError::Buckles);
    let weightless = natural_frequency(&column, &level).unwrap_err();
    assert_eq!(
        weightless.to_string(),
        "a blank without weight has no frequency: weigh it, or give a density above 0 kg/m3"
    );
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

#[test]
fn tube_errors_of_material() {
    let stations = [(0.0, 10.0, 1.0), (900.0, 8.0, 1.0)].map(|(at, od, wall)| Station {
        at: Length::from_mm(at),
        od: Length::from_mm(od),
        wall: Length::from_mm(wall),
    });
    let material = |modulus, density| Material {
        modulus: Pressure::from_gpa(modulus),
        density: Density::from_kg_per_m3(density),
    };
    assert!(matches!(Tube::new(&stations, material(0.0, 1500.0)), Err(TubeError::BadModulus(_))));
    assert!(matches!(Tube::new(&stations, material(90.0, -1.0)), Err(TubeError::BadDensity(_))));
    let weightless = Tube::new(&stations, material(90.0, 0.0)).unwrap();
    assert_eq!(weightless.weight().kg(), 0.0);
    assert!((weightless.balance().mm() - 450.0).abs() < 50.0);
    third_length(&weightless, &Clamp::horizontal(NONE)).unwrap();
}
