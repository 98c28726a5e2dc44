//! What a fit does with cards and readings.

use taperbook_mechanics::fit::{
    Caliper, Card, Errors, Estimate, Fibre, Instrument, Measure, Measured, Missing, Outcome,
    Posterior, Prior, Reading, Setup, fit,
};
use taperbook_mechanics::{Clamp, Material, Station, Tube, natural_frequency, third_length};
use taperbook_units::{Angle, Density, Frequency, Length, Mass, Pressure};

pub(crate) const NONE: Length = Length::from_m(0.0);

pub(crate) fn held() -> Length {
    Length::from_inches(9.0)
}

pub(crate) fn caliper(at_mm: f64, od_mm: f64, wall_mm: Option<f64>) -> Caliper {
    Caliper {
        at: Length::from_mm(at_mm),
        od: Length::from_mm(od_mm),
        wall: wall_mm.map(Length::from_mm),
        own: true,
    }
}

/// A card with nothing but diameters and one wall.
pub(crate) fn card() -> Card {
    Card {
        length: Length::from_mm(2184.4),
        calipers: vec![
            caliper(0.0, 11.2, Some(1.05)),
            caliper(762.0, 8.4, None),
            caliper(1500.0, 4.9, None),
            caliper(2184.4, 1.75, None),
        ],
        modulus: None,
        density: None,
        fibre: Fibre::Carbon,
        solid_tip: false,
        joints: Vec::new(),
        length_sd: Some(Length::from_mm(1.0)),
    }
}

/// A card that states all.
pub(crate) fn stated() -> Card {
    Card {
        calipers: vec![
            caliper(0.0, 11.2, Some(1.05)),
            caliper(762.0, 8.4, Some(0.8)),
            caliper(1500.0, 4.9, Some(0.55)),
            caliper(2184.4, 1.75, Some(0.4)),
        ],
        modulus: Some(Pressure::from_gpa(95.0)),
        density: Some(Density::from_kg_per_m3(1550.0)),
        ..card()
    }
}

pub(crate) fn prior(card: &Card) -> Prior {
    Prior::from_card(card, &Errors::default()).unwrap()
}

pub(crate) fn reading(measured: Measured) -> Reading {
    Reading {
        tip_cut: NONE,
        butt_cut: NONE,
        held_at: held(),
        setup: Setup::default(),
        measured,
        sd: None,
    }
}

pub(crate) fn power(grams: f64) -> Reading {
    reading(Measured::Power(Mass::from_g(grams)))
}

pub(crate) fn fitted(card: &Card, readings: &[Reading]) -> Posterior {
    fit(&prior(card), readings).unwrap()
}

pub(crate) fn uncut(posterior: &Posterior) -> Outcome {
    posterior.outcome(NONE, NONE, held()).unwrap()
}

/// How wide a range is, as a factor from the value.
pub(crate) fn width(estimate: Estimate) -> f64 {
    estimate.high / estimate.value
}

/// With modulus, density and wall stated and nothing read, the value is the plain solve.
#[test]
fn what_is_stated_is_taken_as_stated() {
    let stations: Vec<_> = (stated().calipers.iter())
        .map(|c| Station { at: c.at, od: c.od, wall: c.wall.unwrap() })
        .collect();
    let material =
        Material { modulus: Pressure::from_gpa(95.0), density: Density::from_kg_per_m3(1550.0) };
    let plain = Tube::new(&stations, material).unwrap();
    let posterior = fitted(&stated(), &[]);
    let clamp = Clamp::horizontal(held());
    for (tip_mm, butt_mm) in [(0.0, 0.0), (51.0, 0.0), (25.0, 76.0)] {
        let (tip, butt) = (Length::from_mm(tip_mm), Length::from_mm(butt_mm));
        let cut = plain.trimmed(tip, butt).unwrap();
        let outcome = posterior.outcome(tip, butt, held()).unwrap();
        let third = third_length(&cut, &clamp).unwrap();
        let free = |tube: &Tube| (tube.length() - held()).m();
        let before = third_length(&plain, &clamp).unwrap();
        let stiffness = third.power / before.power * (free(&cut) / free(&plain)).powi(2);
        let expected = [
            cut.length().m(),
            free(&cut),
            cut.od_at(cut.length()).m(),
            cut.od_at(NONE).m(),
            cut.weight().kg(),
            cut.balance().m(),
            third.power.kg(),
            stiffness,
            third.tip_angle.rad(),
            third.bend_centre,
            natural_frequency(&cut, &clamp).unwrap().hz(),
        ];
        for (measure, expected) in Measure::ALL.into_iter().zip(expected) {
            let estimate = outcome.estimate(measure).unwrap();
            assert!((estimate.value / expected - 1.0).abs() < 1e-10, "{measure:?}");
            // Uncut, its stiffness for its length is 1 by definition; all else still carries the calipers' error.
            let sure = measure == Measure::StiffnessForLength && tip_mm + butt_mm == 0.0;
            assert!(sure || estimate.low < estimate.value, "{measure:?} {estimate:?}");
            assert!(sure || estimate.value < estimate.high, "{measure:?} {estimate:?}");
        }
    }
}

#[test]
fn every_reading_narrows_what_it_tells_of() {
    let none = uncut(&fitted(&card(), &[]));
    let one = uncut(&fitted(&card(), &[power(212.0)]));
    let two = uncut(&fitted(&card(), &[power(212.0), power(212.0)]));
    let widths = [&none, &one, &two].map(|o| width(o.estimate(Measure::Power).unwrap()));
    assert!(widths[2] < widths[1] && widths[1] < 0.5 * widths[0] + 0.5, "{widths:?}");
    // A power read to 2 % on a clamp level to half a degree: that tilt is worth some 3 %, so 212 g is known to about 4 % (one sd).
    let estimate = one.estimate(Measure::Power).unwrap();
    assert!(estimate.low < 0.212 && 0.212 < estimate.high, "{estimate:?}");
    assert!((estimate.value / 0.212 - 1.0).abs() < 0.03, "{estimate:?}");
    assert!((1.04..1.12).contains(&width(estimate)), "{estimate:?}");
    let weighed = [power(212.0), reading(Measured::Weight(Mass::from_g(46.0)))];
    let weighed = uncut(&fitted(&card(), &weighed));
    let recovery = |o: &Outcome| width(o.estimate(Measure::Recovery).unwrap());
    assert!(recovery(&weighed) - 1.0 < 0.75 * (recovery(&one) - 1.0));
    let weight = weighed.estimate(Measure::Weight).unwrap();
    assert!((weight.value - 0.046).abs() < 2e-4, "{weight:?}");
}

/// A level clamp that does not yield, known to be so, makes the reading count for what it is.
#[test]
fn a_known_clamp_narrows_power_to_the_reading_itself() {
    let errors = Errors { tilt: Angle::from_rad(0.0), give: 0.0, ..Errors::default() };
    let prior = Prior::from_card(&card(), &errors).unwrap();
    let outcome = uncut(&fit(&prior, &[power(212.0)]).unwrap());
    let estimate = outcome.estimate(Measure::Power).unwrap();
    // 1.645 standard deviations of 2 %.
    assert!((width(estimate) - (1.645 * 0.02f64).exp()).abs() < 1e-3, "{estimate:?}");
    assert!((estimate.value / 0.212 - 1.0).abs() < 1e-3, "{estimate:?}");
    let sharp = Reading { sd: Some(0.0005), ..power(212.0) };
    let outcome = uncut(&fit(&prior, &[sharp]).unwrap());
    let estimate = outcome.estimate(Measure::Power).unwrap();
    assert!((width(estimate) - (1.645 * 0.5 / 212.0f64).exp()).abs() < 1e-4, "{estimate:?}");
}

#[test]
fn a_reading_that_contradicts_the_others_stands_out() {
    let posterior = fitted(&card(), &[power(212.0)]);
    let expected = |measure| uncut(&posterior).value(measure).unwrap();
    let weight = reading(Measured::Weight(Mass::from_kg(expected(Measure::Weight))));
    let cut = Length::from_inches(1.0);
    let after = posterior.outcome(cut, NONE, held()).unwrap().value(Measure::Power).unwrap();
    let again = |grams| Reading { tip_cut: cut, ..power(grams) };
    let angle = Angle::from_rad(expected(Measure::TipAngle));
    let angle = reading(Measured::TipAngle(angle));
    let sound = fitted(&card(), &[power(212.0), weight, angle, again(1e3 * after)]);
    assert!(sound.residuals().iter().all(|residual| residual.miss.abs() < 1.0));
    let slipped = fitted(&card(), &[power(212.0), weight, angle, again(1e3 * after + 40.0)]);
    let miss = slipped.residuals()[3].miss;
    assert!(4.0 < miss, "{:?}", slipped.residuals());
    let ounces = fitted(&card(), &[power(212.0), power(212.0), power(212.0 / 28.35)]);
    assert!(ounces.residuals()[2].miss < -10.0, "{:?}", ounces.residuals());
}

#[test]
fn a_reading_that_cannot_be_predicted_teaches_nothing_and_says_so() {
    let beyond = Reading { held_at: Length::from_mm(2300.0), ..power(212.0) };
    let nonsense = reading(Measured::Weight(Mass::from_g(f64::NAN)));
    let gone = Reading { tip_cut: Length::from_mm(2300.0), ..power(212.0) };
    let posterior = fitted(&card(), &[beyond, nonsense, gone, power(212.0)]);
    let alone = fitted(&card(), &[power(212.0)]);
    assert_eq!(uncut(&posterior), uncut(&alone));
    let [beyond, nonsense, gone, good] = posterior.residuals() else { panic!() };
    assert!(matches!(beyond.predicted, Err(Missing::Bend(_))), "{beyond:?}");
    assert_eq!(nonsense.predicted, Err(Missing::Senseless));
    assert!(matches!(gone.predicted, Err(Missing::Bend(_))), "{gone:?}");
    assert!(good.predicted.is_ok());
}

#[test]
fn a_limp_piece_lacks_its_power_but_not_its_weight() {
    let straw = Card {
        length: Length::from_m(3.4),
        calipers: vec![caliper(0.0, 4.0, None), caliper(3400.0, 1.2, None)],
        fibre: Fibre::Glass,
        ..card()
    };
    let outcome = uncut(&fitted(&straw, &[]));
    let why = outcome.estimate(Measure::Power).unwrap_err().to_string();
    assert!(why.starts_with("its own weight alone drops the tip "), "{why}");
    assert!(outcome.estimate(Measure::TipAngle).is_err());
    assert!(outcome.estimate(Measure::StiffnessForLength).is_err());
    outcome.estimate(Measure::Weight).unwrap();
    outcome.estimate(Measure::Recovery).unwrap();
    assert_eq!(outcome.covariance(Measure::Power, Measure::Weight), 0.0);
    // Short enough, it has one; but the uncut piece has none to compare it with.
    let posterior = fitted(&straw, &[]);
    let short = posterior.outcome(Length::from_m(2.2), NONE, held()).unwrap();
    short.estimate(Measure::Power).unwrap();
    assert!(short.estimate(Measure::StiffnessForLength).is_err());
}

#[test]
fn a_solid_tip_makes_a_tip_cut_less_sure() {
    let readings = [power(212.0)];
    let after = |card: &Card| {
        let posterior = fitted(card, &readings);
        let before = posterior.outcome(NONE, NONE, held()).unwrap();
        let after = posterior.outcome(Length::from_inches(4.0), NONE, held()).unwrap();
        let change = posterior.change(&before, &after, Measure::Power).unwrap();
        change.high - change.low
    };
    let (tubular, solid) = (after(&card()), after(&Card { solid_tip: true, ..card() }));
    assert!(1.1 * tubular < solid, "{tubular} {solid}");
}

/// Much of what is not sure of two states of one piece is common to both.
#[test]
fn a_change_is_surer_than_what_changes() {
    let posterior = fitted(&card(), &[power(212.0)]);
    let before = uncut(&posterior);
    let after = posterior.outcome(Length::from_inches(1.0), NONE, held()).unwrap();
    let change = posterior.change(&before, &after, Measure::Power).unwrap();
    let estimate = after.estimate(Measure::Power).unwrap();
    assert!(change.high - change.low < 0.2 * (estimate.high - estimate.low), "{change:?}");
    assert!(0.0 < change.low, "a tip cut raises power: {change:?}");
    let nothing = posterior.change(&before, &before, Measure::TipOd).unwrap();
    assert_eq!((nothing.low, nothing.value, nothing.high), (0.0, 0.0, 0.0));
}

/// What a preview says a reading would leave is what it leaves, when it reads what was expected.
#[test]
fn the_preview_of_a_reading_comes_true() {
    // A long blank of which only the maker's word is known, so that its length matters.
    let card = Card { length_sd: None, ..card() };
    let posterior = fitted(&card, &[power(212.0)]);
    let worths = |measure| {
        let setup = Setup::default();
        posterior.worth_measuring(measure, (NONE, NONE), held(), setup, &Instrument::ALL).unwrap()
    };
    let tube = posterior.tube();
    for measure in [Measure::Power, Measure::Recovery, Measure::Length, Measure::TipOd] {
        let found = worths(measure);
        assert_eq!(found.len(), Instrument::ALL.len());
        assert!(found.windows(2).all(|pair| pair[1].narrows <= pair[0].narrows));
        for worth in &found {
            let with = |measured| fitted(&card, &[power(212.0), reading(measured)]);
            let taken = match worth.instrument {
                Instrument::Weight => with(Measured::Weight(tube.weight())),
                Instrument::TipOd => with(Measured::TipOd(tube.od_at(tube.length()))),
                Instrument::Power => {
                    let predicted = posterior.residuals()[0].predicted.unwrap();
                    with(Measured::Power(Mass::from_kg(predicted)))
                }
                Instrument::Length => {
                    // A tape on top of the maker's word, which is ten times less sure.
                    let sd = Length::from_mm(0.995);
                    fitted(&Card { length_sd: Some(sd), ..card.clone() }, &[power(212.0)])
                }
                _ => continue,
            };
            let now = width(uncut(&taken).estimate(measure).unwrap());
            // To first order: the fit's own tangents move a little with the reading.
            let (promised, left) = (width(worth.left) - 1.0, now - 1.0);
            assert!((promised / left - 1.0).abs() < 0.03, "{measure:?} {worth:?} {left}");
        }
    }
    let best = |measure| worths(measure)[0].instrument;
    // Recovery is stiffness over mass: the frequency itself tells it best.
    assert_eq!(best(Measure::Recovery), Instrument::Frequency);
    assert_eq!(best(Measure::Length), Instrument::Length);
    assert_eq!(best(Measure::TipOd), Instrument::TipOd);
}

#[test]
fn board_points_pulls_and_diameters_are_used() {
    let errors = Errors::default();
    let truth = fitted(&stated(), &[]).tube();
    let level = Clamp::horizontal(held());
    let load = Mass::from_g(200.0);
    let shape =
        taperbook_mechanics::bend(&truth, &level, &taperbook_mechanics::Load::hung(load), 6)
            .unwrap();
    let board = shape.points[1..]
        .iter()
        .map(|point| reading(Measured::BoardPoint { load, x: point.x, y: point.y }));
    let prior = Prior::from_card(&card(), &errors).unwrap();
    let readings: Vec<_> = board.collect();
    let posterior = fit(&prior, &readings).unwrap();
    let true_power = third_length(&truth, &level).unwrap().power.kg();
    let estimate = uncut(&posterior).estimate(Measure::Power).unwrap();
    assert!(estimate.low < true_power && true_power < estimate.high, "{estimate:?} {true_power}");
    assert!(width(estimate) < 1.15, "{estimate:?}");
    assert!(posterior.residuals().iter().all(|residual| residual.miss.abs() < 2.0));
    // A hand pull of a fifth more than expected is no contradiction, its direction being a guess; three times as much is.
    let angle = Angle::from_deg(80.0);
    let expected = taperbook_mechanics::load_for_tip_angle(&truth, &level, angle, angle / 2.0);
    let pulled = |times| {
        let load = expected.unwrap() * times;
        let posterior = fitted(&stated(), &[reading(Measured::Pull { angle, load })]);
        posterior.residuals()[0].miss
    };
    assert!(pulled(1.2) < 2.0 && 4.0 < pulled(3.0), "{} {}", pulled(1.2), pulled(3.0));
    let thick = reading(Measured::TipOd(Length::from_mm(1.85)));
    let od = uncut(&fitted(&card(), &[thick])).estimate(Measure::TipOd).unwrap();
    assert!(1.75e-3 < od.value && od.value < 1.85e-3, "{od:?}");
}

/// Readings of the same piece before and after its cuts agree with each other when they come from one blank.
#[test]
fn readings_after_a_cut_teach_of_the_same_piece() {
    let truth = fitted(&stated(), &[]).tube();
    let level = Clamp::horizontal(held());
    let mut readings = Vec::new();
    for (tip_mm, butt_mm) in [(0.0, 0.0), (25.0, 0.0), (25.0, 76.0)] {
        let (tip_cut, butt_cut) = (Length::from_mm(tip_mm), Length::from_mm(butt_mm));
        let cut = truth.trimmed(tip_cut, butt_cut).unwrap();
        let third = third_length(&cut, &level).unwrap();
        let frequency = natural_frequency(&cut, &level).unwrap();
        for measured in [
            Measured::Power(third.power),
            Measured::TipAngle(third.tip_angle),
            Measured::Weight(cut.weight()),
            Measured::Balance(cut.balance()),
            Measured::Frequency(Frequency::from_hz(frequency.hz())),
            Measured::ButtOd(cut.od_at(NONE)),
        ] {
            readings.push(Reading { tip_cut, butt_cut, ..reading(measured) });
        }
    }
    let posterior = fitted(&card(), &readings);
    assert!(posterior.residuals().iter().all(|residual| residual.miss.abs() < 1.5));
    let (tip, butt) = (Length::from_mm(60.0), Length::from_mm(120.0));
    let cut = truth.trimmed(tip, butt).unwrap();
    let outcome = posterior.outcome(tip, butt, held()).unwrap();
    let power = outcome.estimate(Measure::Power).unwrap();
    let true_power = third_length(&cut, &level).unwrap().power.kg();
    assert!((power.value / true_power - 1.0).abs() < 0.03, "{power:?} {true_power}");
    let again = fitted(&card(), &readings);
    assert_eq!(again.outcome(tip, butt, held()).unwrap(), outcome, "the same in, the same out");
}

/// A posterior taken as a prior for more readings ends where all readings at once do.
///
/// In a clamp that is known to half of its give: what a give of three times or a third does to power is far from linear.
#[test]
fn reading_by_reading_is_all_at_once() {
    let errors = Errors { give_spread: 0.4, ..Errors::default() };
    let prior = Prior::from_card(&card(), &errors).unwrap();
    let angle = reading(Measured::TipAngle(Angle::from_deg(62.0)));
    let at_once = uncut(&fit(&prior, &[power(212.0), angle]).unwrap());
    let first = fit(&prior, &[power(212.0)]).unwrap().as_prior();
    let in_turn = uncut(&fit(&first, &[angle]).unwrap());
    for measure in [Measure::Power, Measure::TipAngle, Measure::Recovery] {
        let (a, b) = (at_once.estimate(measure).unwrap(), in_turn.estimate(measure).unwrap());
        // Equal but for the first fit's being linear about its own mean.
        assert!((a.value / b.value - 1.0).abs() < 5e-3, "{measure:?} {a:?} {b:?}");
        assert!(((width(a) - 1.0) / (width(b) - 1.0) - 1.0).abs() < 0.05, "{a:?} {b:?}");
    }
}
