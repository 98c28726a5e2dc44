//! That no input, however odd, gives a number that is none, a panic or no end; and what is said of it instead.

use proptest::prelude::*;
use taperbook_mechanics::{
    BendError, Clamp, Load, Material, Station, TrimError, Tube, TubeError, VibrateError, bend,
    load_for_tip_angle, natural_frequency, third_length,
};
use taperbook_units::{Angle, Density, Length, Mass, Pressure};

use super::common::{by_the_butt, light_blank, newtons, tube};
use super::properties::taper;

const NONE: Length = Length::from_m(0.0);

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

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

    /// Tubes at the edge of what is one: sections from a nanometre to a kilometre, stations a nanometre apart or far.
    #[test]
    fn no_tube_however_odd_gives_a_number_that_is_none(
        sizes in proptest::collection::vec((1e-9..1.0f64, log_uniform(1e-9, 1e3), 1e-6..1.0f64), 2..8),
        closer in prop_oneof![Just(1.0), log_uniform(1e-9, 1.0)],
        (modulus, density) in (log_uniform(1e-300, 1e17), log_uniform(1e-300, 1e8)),
        (held, raised, give) in (-0.1..1.1f64, -1.6..1.6f64, log_uniform(1e-9, 1e5)),
        (mass, angle) in (log_uniform(1e-30, 1e30), -7.0..7.0f64),
    ) {
        let mut at = 0.0;
        let stations: Vec<_> = (sizes.iter().enumerate())
            .map(|(station_idx, &(step, od, wall))| {
                at += if station_idx == 0 { 0.0 } else { step * closer };
                Station {
                    at: Length::from_m(at),
                    od: Length::from_m(od),
                    wall: Length::from_m(0.5 * od * wall),
                }
            })
            .collect();
        let material = Material {
            modulus: Pressure::from_pa(modulus),
            density: Density::from_kg_per_m3(density),
        };
        if let Ok(tube) = Tube::new(&stations, material) {
            check_all_finite(&tube, held * at, raised, give, mass, angle)?;
        }
    }
}

/// Every order of magnitude as likely as another.
fn log_uniform(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (low.ln()..high.ln()).prop_map(f64::exp)
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
        1 => Just(f64::NEG_INFINITY),
        1 => Just(f64::MIN_POSITIVE),
        1 => Just(5e-324),
        1 => 1e-310..1e-300f64,
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

/// A blank measured every tenth of a millimetre, one read twice at nearly one place, and one a millimetre long: as close as stations come.
#[test]
fn stations_however_close_change_nothing() {
    let whole = light_blank();
    let clamp = Clamp::horizontal(Length::from_mm(230.0));
    let third = third_length(&whole, &clamp).unwrap();
    let recovery = natural_frequency(&whole, &clamp).unwrap();
    let corners = [0.0, 762.0, 1500.0, 2184.0];
    let close_to = |apart_mm: f64| {
        let more = corners[1..].iter().map(move |at_mm| at_mm - apart_mm);
        more.chain([500.0, 500.0 + apart_mm]).collect::<Vec<f64>>()
    };
    let dense = (0..10_000).map(|idx| f64::from(idx) * 0.2184 + 0.01).collect();
    for more in [close_to(1e-4), close_to(1e-7), close_to(1e-9), dense] {
        let mut at_mm: Vec<f64> = corners.into_iter().chain(more).collect();
        at_mm.sort_by(f64::total_cmp);
        at_mm.dedup();
        let stations: Vec<_> = (at_mm.iter())
            .map(|at_mm| {
                let at = Length::from_mm(*at_mm);
                Station { at, od: whole.od_at(at), wall: whole.wall_at(at) }
            })
            .collect();
        let material = Material {
            modulus: Pressure::from_gpa(95.0),
            density: Density::from_kg_per_m3(1550.0),
        };
        let same = Tube::new(&stations, material).unwrap();
        let again = third_length(&same, &clamp).unwrap();
        // What is left is the error of the mesh, a hundredth of what is promised.
        assert!((again.power / third.power - 1.0).abs() < 1e-7, "{again:?} {third:?}");
        assert!((again.tip_angle - third.tip_angle).deg().abs() < 1e-5, "{again:?} {third:?}");
        let swing = natural_frequency(&same, &clamp).unwrap();
        assert!((swing / recovery - 1.0).abs() < 1e-7, "{swing:?} {recovery:?}");
    }
}

/// The least that may be free is a thousandth of a millimetre; what there is of it follows the closed form of a short stiff rod.
#[test]
fn a_free_length_near_nothing_still_has_its_numbers() {
    let rod = tube(&[(0.0, 10.0, 5.0), (1000.0, 10.0, 5.0)], 50.0, 1500.0);
    let alike = |free_mm: f64| {
        let clamp = Clamp::horizontal(Length::from_mm(1000.0 - free_mm));
        let third = third_length(&rod, &clamp).unwrap();
        let frequency = natural_frequency(&rod, &clamp).unwrap();
        (
            third.power.kg() * free_mm.powi(2),
            third.tip_angle.deg(),
            frequency.hz() * free_mm.powi(2),
        )
    };
    // Short of a metre, weight counts for nothing, so that power goes with 1/L² and recovery always does.
    let (one, other) = (alike(10.0), alike(0.01));
    assert!(
        (one.0 / other.0 - 1.0).abs() < 1e-6 && (one.1 - other.1).abs() < 1e-4,
        "{one:?} {other:?}"
    );
    assert!((one.2 / other.2 - 1.0).abs() < 1e-6, "{one:?} {other:?}");
    let nothing = Clamp::horizontal(Length::from_mm(1000.0));
    assert!(matches!(third_length(&rod, &nothing), Err(BendError::NothingToBend { .. })));
    assert!(matches!(natural_frequency(&rod, &nothing), Err(VibrateError::NothingToSwing { .. })));
}

/// A modulus or a density near nothing is no stiffness and no weight that could be worked with, and is named.
#[test]
fn numbers_near_nothing_are_named() {
    let station = |at_mm: f64| Station {
        at: Length::from_mm(at_mm),
        od: Length::from_mm(8.0),
        wall: Length::from_mm(1.0),
    };
    let of = |pa: f64, kg_per_m3: f64| {
        let material = Material {
            modulus: Pressure::from_pa(pa),
            density: Density::from_kg_per_m3(kg_per_m3),
        };
        Tube::new(&[station(0.0), station(900.0)], material).unwrap()
    };
    for pa in [5e-324, 1e-310, 1e-305] {
        let none = of(pa, 1500.0);
        let expected =
            "no bend was found under this load: check the diameters, the modulus and the load";
        assert_eq!(third_length(&none, &by_the_butt()).unwrap_err().to_string(), expected);
        assert_eq!(
            bend(&none, &by_the_butt(), &Load::none(), 2).unwrap_err().to_string(),
            expected
        );
        assert_eq!(
            natural_frequency(&none, &by_the_butt()).unwrap_err().to_string(),
            "no frequency was found: check the diameters, the modulus and the density"
        );
    }
    for density in [5e-324, 1e-310, 1e-20] {
        let light = of(50e9, density);
        assert_eq!(natural_frequency(&light, &by_the_butt()), Err(VibrateError::NoSolution));
        let weightless = third_length(&of(50e9, 0.0), &by_the_butt()).unwrap();
        assert_eq!(third_length(&light, &by_the_butt()).unwrap(), weightless);
    }
}

/// A rod that is stiff beyond measure turns as a whole in a clamp that yields, and has no bend whose centre could be told.
#[test]
fn a_rod_that_only_its_clamp_lets_turn() {
    let rod = tube(&[(0.0, 900.0, 450.0), (1000.0, 900.0, 450.0)], 1e6, 0.0);
    let clamp = Clamp { give: 1e-3, ..by_the_butt() };
    assert_eq!(third_length(&rod, &clamp).unwrap_err(), BendError::NoSolution);
    // Its drop is that of the clamp alone: sin θ for a turn θ = c P L cos θ.
    let shape = bend(&rod, &clamp, &Load::hung(newtons(100.0)), 2).unwrap();
    let turn = shape.tip_angle.rad();
    assert!((turn - 0.1 * turn.cos()).abs() < 1e-9, "{shape:?}");
    assert!((shape.points[1].y.m() + turn.sin()).abs() < 1e-9, "{shape:?}");
}

/// Loads that no blank could hold end: with the blank pulled straight along the load, or with an error.
#[test]
fn loads_that_no_blank_could_hold() {
    for kg in [1e3, 1e6, 1e12, 1e30, 1e300, f64::MAX] {
        for back_deg in [0.0, 45.0, 90.0, 135.0, 180.0, 270.0] {
            for raised_deg in [0.0, 45.0] {
                let clamp = Clamp { raised: Angle::from_deg(raised_deg), ..by_the_butt() };
                let load = Load::pull(Mass::from_kg(kg), Angle::from_deg(back_deg));
                if let Ok(shape) = bend(&light_blank(), &clamp, &load, 3) {
                    assert!(shape.points.iter().all(|point| point.x.m().hypot(point.y.m()) < 2.2));
                }
            }
        }
    }
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
