//! Cards and readings of any numbers at all: an error or finite numbers, and always an end.

use proptest::prelude::*;
use taperbook_mechanics::fit::{
    Caliper, Card, Errors, Fibre, Instrument, Measure, Measured, Posterior, Prior, Reading, Setup,
    Spread, fit, pool,
};
use taperbook_units::{Angle, Density, Frequency, Length, Mass, Pressure};

/// Numbers of a sort that a slip makes, in units such that most are near what is usual.
fn slip(usual: f64) -> impl Strategy<Value = f64> {
    prop_oneof![
        12 => (0.2..4.0f64).prop_map(move |times| times * usual),
        1 => Just(0.0),
        1 => Just(-usual),
        1 => Just(25.4 * usual),
        1 => Just(usual / 25.4),
        1 => Just(1e3 * usual),
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(f64::MIN_POSITIVE), Just(1e300)],
    ]
}

fn card() -> impl Strategy<Value = Card> {
    let caliper =
        (slip(0.8), slip(6e-3), proptest::option::of(slip(8e-4))).prop_map(|(at, od, wall)| {
            Caliper {
                at: Length::from_m(at),
                od: Length::from_m(od),
                wall: wall.map(Length::from_m),
                own: true,
            }
        });
    let fibre = prop_oneof![
        Just(Fibre::Carbon),
        Just(Fibre::Glass),
        Just(Fibre::Blend),
        Just(Fibre::Unknown)
    ];
    let sound = (2.0e-3..8e-3f64, 0.0..3e-3f64).prop_map(|(butt, tip)| {
        let caliper = |at, od| Caliper {
            at: Length::from_m(at),
            od: Length::from_m(od),
            wall: None,
            own: true,
        };
        vec![caliper(0.0, butt + 2e-3), caliper(1.9, tip + 1e-4)]
    });
    let calipers = prop_oneof![sound, proptest::collection::vec(caliper, 0..6)];
    let stated = (proptest::option::of(slip(90e9)), proptest::option::of(slip(1550.0)));
    (prop_oneof![Just(2.0), slip(2.0)], calipers, stated, fibre, any::<bool>()).prop_map(
        |(length, calipers, (modulus, density), fibre, solid_tip)| Card {
            length: Length::from_m(length),
            calipers,
            modulus: modulus.map(Pressure::from_pa),
            density: density.map(Density::from_kg_per_m3),
            fibre,
            solid_tip,
            joints: Vec::new(),
            length_sd: Some(Length::from_mm(1.0)),
        },
    )
}

fn reading() -> impl Strategy<Value = Reading> {
    let measured = prop_oneof![
        slip(0.2).prop_map(|kg| Measured::Power(Mass::from_kg(kg))),
        slip(1.0).prop_map(|rad| Measured::TipAngle(Angle::from_rad(rad))),
        slip(0.05).prop_map(|kg| Measured::Weight(Mass::from_kg(kg))),
        slip(3.0).prop_map(|hz| Measured::Frequency(Frequency::from_hz(hz))),
        slip(0.7).prop_map(|m| Measured::Balance(Length::from_m(m))),
        slip(2e-3).prop_map(|m| Measured::TipOd(Length::from_m(m))),
        slip(1e-2).prop_map(|m| Measured::ButtOd(Length::from_m(m))),
        (slip(0.2), slip(0.8), slip(-0.2)).prop_map(|(kg, x, y)| Measured::BoardPoint {
            load: Mass::from_kg(kg),
            x: Length::from_m(x),
            y: Length::from_m(y),
        }),
        (slip(1.0), slip(0.4)).prop_map(|(rad, kg)| Measured::Pull {
            angle: Angle::from_rad(rad),
            load: Mass::from_kg(kg),
        }),
    ];
    let places = (slip(0.03), slip(0.05), slip(0.23));
    (places, measured, proptest::option::weighted(0.2, slip(1e-3))).prop_map(
        |((tip, butt, held), measured, sd)| Reading {
            tip_cut: Length::from_m(tip),
            butt_cut: Length::from_m(butt),
            held_at: Length::from_m(held),
            setup: Setup::default(),
            measured,
            sd,
        },
    )
}

fn check_finite(posterior: &Posterior, cut: f64) -> Result<(), TestCaseError> {
    for residual in posterior.residuals() {
        prop_assert!(residual.miss.is_finite(), "{residual:?}");
        prop_assert!(residual.predicted.is_err() || residual.predicted.unwrap().is_finite());
    }
    let held_at = Length::from_inches(9.0);
    let Ok(outcome) = posterior.outcome(Length::from_m(cut), Length::from_m(cut), held_at) else {
        return Ok(());
    };
    for measure in Measure::ALL {
        if let Ok(estimate) = outcome.estimate(measure) {
            let numbers = [estimate.value, estimate.low, estimate.high];
            prop_assert!(
                numbers.iter().all(|number| number.is_finite()),
                "{measure:?} {estimate:?}"
            );
            prop_assert!(estimate.low <= estimate.value && estimate.value <= estimate.high);
            // Every number is above zero by nature, but for the weight of a card that states a density of nothing.
            prop_assert!(0.0 < estimate.low || estimate.value == 0.0, "{measure:?} {estimate:?}");
        }
        for other in Measure::ALL {
            prop_assert!(outcome.covariance(measure, other).is_finite());
        }
    }
    for measure in Measure::ALL {
        let cuts = (Length::from_m(cut), Length::from_m(cut));
        let setup = Setup { board: 3, clamp: 0 };
        let worth = posterior.worth_measuring(measure, cuts, held_at, setup, &Instrument::ALL);
        for worth in worth.into_iter().flatten() {
            prop_assert!((0.0..=1.0).contains(&worth.narrows), "{worth:?}");
            prop_assert!(worth.left.low <= worth.left.high, "{worth:?}");
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn no_card_and_no_reading_gives_a_number_that_is_none(
        card in card(),
        readings in proptest::collection::vec(reading(), 0..5),
        cut in slip(0.05),
    ) {
        if let Ok(prior) = Prior::from_card(&card, &Errors::default())
            && let Ok(posterior) = fit(&prior, &readings)
        {
            check_finite(&posterior, cut)?;
            let pooled = pool(&prior, &[&posterior, &posterior], &Spread::default());
            check_finite(&fit(&pooled, &readings[..readings.len() / 2]).unwrap(), cut)?;
        }
    }
}
