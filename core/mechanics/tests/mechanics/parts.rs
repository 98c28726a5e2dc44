//! What a range is made of, against fits that leave the reading out, and against a sum of squares.

use taperbook_mechanics::fit::{
    Card, Errors, Fibre, Measure, Measured, Parts, Posterior, Prior, Reading, Setup, Unsure, fit,
};
use taperbook_mechanics::{Clamp, natural_frequency, third_length};
use taperbook_units::{Angle, Frequency, Length, Mass};

const NONE: Length = Length::from_mm(0.0);

fn card() -> Card {
    let caliper = |at_in: f64, od_mm: f64| taperbook_mechanics::fit::Caliper {
        at: Length::from_inches(at_in),
        od: Length::from_mm(od_mm),
        wall: (at_in == 0.0).then_some(Length::from_mm(1.05)),
        own: true,
    };
    Card {
        length: Length::from_inches(86.0),
        length_sd: None,
        calipers: vec![caliper(0.0, 11.2), caliper(30.0, 8.4), caliper(86.0, 1.75)],
        modulus: None,
        density: None,
        fibre: Fibre::Carbon,
        solid_tip: false,
        joints: Vec::new(),
    }
}

fn held() -> Length {
    Length::from_inches(9.0)
}

fn readings() -> Vec<Reading> {
    let cut = Length::from_inches(2.0);
    let of = |tip_cut, measured| Reading {
        tip_cut,
        butt_cut: NONE,
        held_at: held(),
        setup: Setup::default(),
        measured,
        sd: None,
    };
    // What a blank of the card with this power would give, each a little off.
    let tube = fitted(&[of(NONE, Measured::Power(Mass::from_g(212.0)))]).tube();
    let clamp = Clamp::horizontal(held());
    let third = third_length(&tube, &clamp).unwrap();
    let after = third_length(&tube.trimmed(cut, NONE).unwrap(), &clamp).unwrap();
    let frequency = natural_frequency(&tube, &clamp).unwrap().hz();
    vec![
        of(NONE, Measured::Power(third.power * 1.01)),
        of(NONE, Measured::TipAngle(third.tip_angle + Angle::from_deg(0.8))),
        of(NONE, Measured::Weight(tube.weight() + Mass::from_g(0.3))),
        of(cut, Measured::Power(after.power * 0.98)),
        of(NONE, Measured::Frequency(Frequency::from_hz(frequency * 0.997))),
    ]
}

fn fitted(readings: &[Reading]) -> Posterior {
    // In a clamp that is known to half of its give, so that predictions are near linear over what is believed.
    let errors = Errors { give_spread: 0.4, ..Errors::default() };
    fit(&Prior::from_card(&card(), &errors).unwrap(), readings).unwrap()
}

fn parts(posterior: &Posterior, measure: Measure) -> Parts {
    let each: Vec<Vec<usize>> = (0..posterior.residuals().len()).map(|one| vec![one]).collect();
    in_groups(posterior, measure, &each)
}

fn in_groups(posterior: &Posterior, measure: Measure, groups: &[Vec<usize>]) -> Parts {
    let cuts = (Length::from_inches(3.0), Length::from_inches(1.0));
    posterior.parts(measure, cuts, held(), groups).unwrap()
}

#[test]
fn the_shares_add_up_to_the_whole() {
    let posterior = fitted(&readings());
    for measure in Measure::ALL {
        let parts = parts(&posterior, measure);
        let sum: f64 = parts.unsure.iter().map(|(_, share)| share).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{measure:?} {parts:?}");
        let told: f64 = parts.readings.iter().flatten().map(|told| told.share).sum();
        let readings = parts.unsure.iter().find(|(why, _)| *why == Unsure::Readings);
        assert!((told - readings.map_or(0.0, |(_, share)| *share)).abs() < 1e-12);
        assert!(parts.unsure.windows(2).all(|pair| pair[1].1 <= pair[0].1));
    }
    let why = |measure| parts(&posterior, measure).unsure[0].0;
    assert_eq!(why(Measure::Length), Unsure::Length);
    assert_eq!(why(Measure::TipOd), Unsure::Diameter);
    let alone = fitted(&[]);
    assert_eq!(parts(&alone, Measure::Power).unsure[0].0, Unsure::Modulus);
    assert!(parts(&alone, Measure::Power).readings.is_empty());
}

#[test]
fn without_a_reading_is_a_fit_that_leaves_it_out() {
    let all = readings();
    let posterior = fitted(&all);
    for measure in [Measure::Power, Measure::TipAngle, Measure::Recovery, Measure::Weight] {
        let parts = parts(&posterior, measure);
        for (left_out, told) in parts.readings.iter().enumerate() {
            let mut rest = all.clone();
            rest.remove(left_out);
            let rest = fitted(&rest);
            let outcome =
                rest.outcome(Length::from_inches(3.0), Length::from_inches(1.0), held()).unwrap();
            let (told, expected) = (told.unwrap(), outcome.estimate(measure).unwrap());
            let sd = 0.5 * (expected.high - expected.low) / 1.645;
            // To first order: a fit without the reading sits elsewhere and has other tangents there.
            let name = format!("{measure:?} without {left_out}: {told:?} {expected:?}");
            assert!((told.without.value - expected.value).abs() < 0.15 * sd, "{name}");
            let width = told.without.high - told.without.low;
            assert!((width / (expected.high - expected.low) - 1.0).abs() < 0.06, "{name}");
            assert!((0.0..1.0).contains(&told.narrows), "{name}");
        }
    }
    let most = |measure| {
        let parts = parts(&posterior, measure);
        let narrows = |told: &Option<_>| {
            told.map_or(0.0, |told: taperbook_mechanics::fit::Told| told.narrows)
        };
        (0..parts.readings.len())
            .max_by(|a, b| narrows(&parts.readings[*a]).total_cmp(&narrows(&parts.readings[*b])))
            .unwrap()
    };
    assert_eq!(most(Measure::Weight), 2, "the scale");
    assert_eq!(most(Measure::Recovery), 4, "the tapped frequency");
}

#[test]
fn readings_that_go_together_are_left_out_together() {
    let all = readings();
    let posterior = fitted(&all);
    let both = in_groups(&posterior, Measure::Power, &[vec![0, 3], vec![], vec![99]]);
    let rest = fitted(&[all[1], all[2], all[4]]);
    let cuts = (Length::from_inches(3.0), Length::from_inches(1.0));
    let expected = rest.outcome(cuts.0, cuts.1, held()).unwrap().estimate(Measure::Power).unwrap();
    let told = both.readings[0].unwrap();
    let sd = 0.5 * (expected.high - expected.low) / 1.645;
    // Two powers fewer leave a range several times wider, over which the tangents turn.
    assert!((told.without.value - expected.value).abs() < 0.2 * sd, "{told:?} {expected:?}");
    let width = told.without.high - told.without.low;
    assert!((width / (expected.high - expected.low) - 1.0).abs() < 0.15, "{told:?} {expected:?}");
    assert_eq!(both.readings[1..], [None, None]);
    let one = parts(&posterior, Measure::Power);
    let sum = one.readings[0].unwrap().share + one.readings[3].unwrap().share;
    assert!((told.share - sum).abs() < 1e-12);
}
