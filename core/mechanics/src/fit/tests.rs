//! The tangents of every prediction against differences, which needs the inside of the fit.

use taperbook_units::Length;

use super::matrix::{N, Vector};
use super::predict::{Asked, Held, State};
use super::prior::Prior;
use super::{Caliper, Card, Errors, Fibre};

fn card() -> Card {
    let caliper = |at_mm, od_mm, wall_mm: Option<f64>| Caliper {
        at: Length::from_mm(at_mm),
        od: Length::from_mm(od_mm),
        wall: wall_mm.map(Length::from_mm),
    };
    Card {
        length: Length::from_mm(2184.0),
        calipers: vec![
            caliper(0.0, 11.2, Some(1.05)),
            caliper(762.0, 8.4, None),
            caliper(1500.0, 4.6, None),
            caliper(2184.0, 1.75, None),
        ],
        modulus: None,
        density: None,
        fibre: Fibre::Carbon,
        solid_tip: true,
    }
}

/// Somewhere off the middle of the prior, so that no term is zero by accident.
fn somewhere() -> Vector {
    let mut out = [0.0; N];
    for (i, value) in out.iter_mut().enumerate() {
        *value = 0.06 * (1.7 * i as f64).sin();
    }
    out[super::parameters::OD_BUTT] = 4e-5;
    out[super::parameters::OD_TIP] = -3e-5;
    out[super::parameters::TILT] = 0.012;
    out[super::parameters::GIVE] = 0.8;
    out
}

/// A step for each parameter that moves a number well above rounding and well below curvature.
fn step(parameter: usize) -> f64 {
    match parameter {
        super::parameters::OD_BUTT | super::parameters::OD_TIP => 1e-8,
        _ => 1e-5,
    }
}

/// Checks a number's derivatives by all parameters against central differences.
#[track_caller]
fn check(name: &str, parameters: Vector, ask: impl Fn(&mut Asked) -> (f64, Vector)) {
    let prior = Prior::from_card(&card(), &Errors::default()).unwrap();
    let at = |parameters: &Vector| {
        let piece = prior.blank.piece(parameters);
        ask(&mut Asked::new(&piece))
    };
    let (_, by) = at(&parameters);
    let largest = (0..N).fold(0.0f64, |most, i| most.max((by[i] * step(i)).abs()));
    for (parameter, exact) in by.into_iter().enumerate() {
        let h = step(parameter);
        let (mut up, mut down) = (parameters, parameters);
        up[parameter] += h;
        down[parameter] -= h;
        let near = (at(&up).0 - at(&down).0) / (2.0 * h);
        // Central differences are off by h² and by rounding over h: both far below a part in 10⁵ of the largest effect.
        assert!(
            (exact - near).abs() * h < 2e-6 * largest + 1e-5 * (exact * h).abs(),
            "{name} by parameter {parameter}: exact {exact}, by difference {near}"
        );
    }
}

const STATE: State = State { tip_cut: 0.053, butt_cut: 0.081, held_at: 0.23 };

#[test]
fn tangents_agree_with_differences() {
    for held in [Held::InShop, Held::Ideally] {
        check("power", somewhere(), |asked| {
            let power = asked.third(STATE, held).unwrap().power;
            (power.value, power.by)
        });
        check("tip angle", somewhere(), |asked| {
            let angle = asked.third(STATE, held).unwrap().tip_angle;
            (angle.value, angle.by)
        });
        check("bend centre", somewhere(), |asked| {
            let centre = asked.third(STATE, held).unwrap().bend_centre;
            (centre.value, centre.by)
        });
        check("frequency", somewhere(), |asked| {
            let frequency = asked.frequency(STATE, held).unwrap();
            (frequency.value, frequency.by)
        });
    }
    check("weight", somewhere(), |asked| {
        let weight = asked.weight_and_balance(STATE).unwrap().0;
        (weight.value, weight.by)
    });
    check("balance", somewhere(), |asked| {
        let balance = asked.weight_and_balance(STATE).unwrap().1;
        (balance.value, balance.by)
    });
    check("pull", somewhere(), |asked| {
        let pull = asked.pull(STATE, 1.2, 0.6).unwrap();
        (pull.value, pull.by)
    });
    check("diameter", somewhere(), |asked| {
        let od = asked.od(2.1).unwrap();
        (od.value, od.by)
    });
    for place in [(0.3, -0.01), (0.9, -0.2), (1.4, -0.6)] {
        check("board", somewhere(), |asked| {
            let above = asked.above(STATE, 0.2, place).unwrap();
            (above.value, above.by)
        });
    }
}
