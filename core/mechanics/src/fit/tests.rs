//! The tangents of every prediction against differences, which needs the inside of the fit.

use taperbook_units::Length;

use super::parameters::{BELLY_BUTT, BELLY_TIP, BLANK, FLAT, GIVE, LENGTH, Slopes, TILT};
use super::predict::{Asked, Held, State, Third};
use super::prior::Prior;
use super::{Caliper, Card, Errors, Fibre};

fn card() -> Card {
    let caliper = |at_mm, od_mm, wall_mm: Option<f64>| Caliper {
        at: Length::from_mm(at_mm),
        od: Length::from_mm(od_mm),
        wall: wall_mm.map(Length::from_mm),
        // Calipers of the piece among those of its card: what differs is felt at some of the stations only.
        own: 1000.0 < at_mm,
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
        joints: Vec::new(),
        length_sd: Some(Length::from_mm(1.0)),
    }
}

/// Somewhere off the middle of the prior, so that no term is zero by accident.
fn somewhere() -> Slopes {
    let mut out = FLAT;
    for (i, value) in out.iter_mut().enumerate() {
        *value = 0.06 * (1.7 * i as f64).sin();
    }
    out[LENGTH] = 0.0;
    out[super::parameters::OD_BUTT] = 4e-5;
    out[super::parameters::OD_TIP] = -3e-5;
    out[BELLY_BUTT] = 2e-3;
    out[BELLY_TIP] = -1e-3;
    out[TILT] = 0.012;
    out[GIVE] = 2.7e-3;
    out
}

/// A step for each parameter that moves a number well above rounding and well below curvature.
fn step(parameter: usize) -> f64 {
    match parameter {
        super::parameters::OD_BUTT | super::parameters::OD_TIP | GIVE => 1e-8,
        _ => 1e-5,
    }
}

fn clamped(raised: f64, give: f64) -> crate::bend::Root {
    crate::bend::Root { raised, give }
}

/// Checks a number's derivatives by all parameters against central differences.
#[track_caller]
fn check(name: &str, ask: impl Fn(&mut Asked, Held) -> (f64, Slopes)) {
    let prior = Prior::from_card(&card(), &Errors::default()).unwrap();
    let parameters = somewhere();
    let at = |parameters: &Slopes, ideally: bool| {
        let piece = prior.blank.piece(&parameters[..BLANK]);
        let root = clamped(parameters[TILT], parameters[GIVE]);
        let held = if ideally { Held::Ideally } else { Held::In(root) };
        ask(&mut Asked::new(&prior.blank, &piece), held)
    };
    for ideally in [false, true] {
        let (_, by) = at(&parameters, ideally);
        let largest = (0..by.len()).fold(0.0f64, |most, i| most.max((by[i] * step(i)).abs()));
        for (parameter, exact) in by.into_iter().enumerate() {
            if parameter == LENGTH {
                continue;
            }
            let h = step(parameter);
            let (mut up, mut down) = (parameters, parameters);
            up[parameter] += h;
            down[parameter] -= h;
            let near = (at(&up, ideally).0 - at(&down, ideally).0) / (2.0 * h);
            // Central differences are off by h² and by rounding over h: both far below a part in 10⁵ of the largest effect.
            assert!(
                (exact - near).abs() * h <= 2e-6 * largest + 1e-5 * (exact * h).abs(),
                "{name} by parameter {parameter}: exact {exact}, by difference {near}"
            );
        }
    }
}

const STATE: State = State { tip_cut: 0.053, butt_cut: 0.081, held_at: 0.23 };

#[test]
fn tangents_agree_with_differences() {
    check("power", |asked, held| {
        let power = asked.third(STATE, held).unwrap().power;
        (power.value, power.by)
    });
    check("tip angle", |asked, held| {
        let angle = asked.third(STATE, held).unwrap().tip_angle;
        (angle.value, angle.by)
    });
    check("bend centre", |asked, held| {
        let centre = asked.third(STATE, held).unwrap().bend_centre;
        (centre.value, centre.by)
    });
    check("frequency", |asked, held| {
        let frequency = asked.frequency(STATE, held).unwrap();
        (frequency.value, frequency.by)
    });
    check("weight", |asked, _| {
        let weight = asked.weight_and_balance(STATE).unwrap().0;
        (weight.value, weight.by)
    });
    check("balance", |asked, _| {
        let balance = asked.weight_and_balance(STATE).unwrap().1;
        (balance.value, balance.by)
    });
    for at in [0.2, 1.1, 2.1] {
        check("diameter", |asked, _| {
            let od = asked.od(at).unwrap();
            (od.value, od.by)
        });
    }
    let bent = |name: &str, ask: &dyn Fn(&mut Asked, crate::bend::Root) -> (f64, Slopes)| {
        check(name, |asked, held| match held {
            Held::In(root) => ask(asked, root),
            Held::Ideally => (0.0, FLAT),
        });
    };
    bent("pull", &|asked, root| {
        let pull = asked.pull(STATE, root, 1.2, 0.6).unwrap();
        (pull.value, pull.by)
    });
    for place in [(0.3, -0.01), (0.9, -0.2), (1.4, -0.6)] {
        bent("board", &|asked, root| {
            let above = asked.above(STATE, root, 0.2, place).unwrap();
            (above.value, above.by)
        });
    }
}

/// A blank whose free length is stretched, sections and all: the same stations further apart, held by its butt.
#[test]
fn the_tangent_by_length_is_that_of_a_stretched_blank() {
    let longer = |by: f64| {
        let mut card = card();
        card.solid_tip = false;
        card.length = card.length * (1.0 + by);
        card.calipers.iter_mut().for_each(|caliper| caliper.at = caliper.at * (1.0 + by));
        let blank = Prior::from_card(&card, &Errors::default()).unwrap().blank;
        let piece = blank.piece(&[0.0; BLANK]);
        (blank, piece)
    };
    let state = State { tip_cut: 0.0, butt_cut: 0.0, held_at: 0.0 };
    let root = clamped(0.012, 2.7e-3);
    let place = (0.9, -0.2);
    type Ask<'a> = &'a dyn Fn(&mut Asked) -> (f64, Slopes);
    let asks: [(&str, Ask); 8] = [
        ("power", &|asked| {
            let power = asked.third(state, Held::In(root)).unwrap().power;
            (power.value, power.by)
        }),
        ("tip angle", &|asked| {
            let angle = asked.third(state, Held::In(root)).unwrap().tip_angle;
            (angle.value, angle.by)
        }),
        ("bend centre", &|asked| {
            let centre = asked.third(state, Held::In(root)).unwrap().bend_centre;
            (centre.value, centre.by)
        }),
        ("frequency", &|asked| {
            let frequency = asked.frequency(state, Held::In(root)).unwrap();
            (frequency.value, frequency.by)
        }),
        ("weight", &|asked| {
            let weight = asked.weight_and_balance(state).unwrap().0;
            (weight.value, weight.by)
        }),
        ("balance", &|asked| {
            let balance = asked.weight_and_balance(state).unwrap().1;
            (balance.value, balance.by)
        }),
        ("pull", &|asked| {
            let pull = asked.pull(state, root, 1.2, 0.6).unwrap();
            (pull.value, pull.by)
        }),
        ("board", &|asked| {
            let above = asked.above(state, root, 0.2, place).unwrap();
            (above.value, above.by)
        }),
    ];
    let value = |by: f64, ask: Ask| {
        let (blank, piece) = longer(by);
        ask(&mut Asked::new(&blank, &piece))
    };
    let h = 1e-5;
    for (name, ask) in asks {
        let exact = value(0.0, ask).1[LENGTH] * card().length.m();
        let near = (value(h, ask).0 - value(-h, ask).0) / (2.0 * h);
        // The mesh moves with the stretch, which leaves its own small error in the difference.
        assert!((exact - near).abs() < 1e-4 * near.abs() + 1e-7, "{name}: {exact} {near}");
    }
}

/// A bend that is sought from that of another state is found where one sought from the straight blank is: numbers don't hang on what
/// was asked before.
#[test]
fn numbers_of_a_state_don_t_hang_on_the_states_asked_before() {
    let prior = Prior::from_card(&card(), &Errors::default()).unwrap();
    let piece = prior.blank.piece(&somewhere()[..BLANK]);
    let held = Held::In(clamped(0.012, 2.7e-3));
    // Half of the blank off, a clamp further out, next to nothing off.
    let states = [(0.0, 0.0, 0.2), (0.5, 0.5, 0.2), (0.0, 0.0, 1.2), (0.003, 0.0, 0.25)]
        .map(|(tip_cut, butt_cut, held_at)| State { tip_cut, butt_cut, held_at });
    let mut asked = Asked::new(&prior.blank, &piece);
    for state in states {
        let after_others = asked.third(state, held).unwrap();
        let alone = Asked::new(&prior.blank, &piece).third(state, held).unwrap();
        let numbers = |third: Third| [third.power, third.tip_angle, third.bend_centre];
        for (one, other) in numbers(after_others).into_iter().zip(numbers(alone)) {
            assert!((one.value / other.value - 1.0).abs() < 1e-12, "{state:?}: {one:?} {other:?}");
            // The tangent is that of the last step toward the bend, up to 1e-7 rad from it.
            let size = other.by.iter().fold(0.0, |most: f64, slope| most.max(slope.abs()));
            let mut slopes = one.by.iter().zip(&other.by);
            let is_near = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-5 * size;
            assert!(slopes.all(is_near), "{state:?}: {one:?} {other:?}");
        }
    }
}
