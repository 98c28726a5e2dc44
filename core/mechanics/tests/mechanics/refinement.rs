//! How far the numbers are from those of a much finer mesh.
//!
//! A station on the straight line between two others changes nothing of a tube, but puts an element edge there: so a tube with
//! hundreds of such stations is the same tube on a finer mesh.

use taperbook_mechanics::{
    Clamp, Load, Material, Station, Tube, bend, load_for_tip_angle, natural_frequency, third_length,
};
use taperbook_units::{Angle, Density, Length, Mass, Pressure};

use super::common::tube;
use super::shop::Random;

/// What is promised: relative of power, pulls and recovery, degrees of tip angle, parts of the free length of bend centre and places.
const POWER: f64 = 1e-5;
const TIP_ANGLE_DEG: f64 = 1e-3;
const BEND_CENTRE: f64 = 5e-5;
const RECOVERY: f64 = 1e-5;
const PLACE: f64 = 1e-5;

/// The worst miss of each, as a part of what is promised.
#[derive(Default, Debug)]
struct Worst {
    power: f64,
    tip_angle: f64,
    bend_centre: f64,
    recovery: f64,
    pull: f64,
    bent_angle: f64,
    place: f64,
    n_powers: usize,
    n_pulls: usize,
}

/// The same tube with `n` stations more.
fn refined(coarse: &[Station], material: Material, n: usize) -> Tube {
    let whole = Tube::new(coarse, material).unwrap();
    let mut stations = coarse.to_vec();
    for station_idx in 1..n {
        let at = whole.length() * (station_idx as f64 / n as f64);
        if coarse.iter().all(|station| Length::from_mm(0.01) < (station.at - at).abs()) {
            stations.push(Station { at, od: whole.od_at(at), wall: whole.wall_at(at) });
        }
    }
    stations.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
    Tube::new(&stations, material).unwrap()
}

impl Worst {
    /// Power and all that comes with it, and recovery.
    #[track_caller]
    fn compare(&mut self, [coarse, fine]: [&Tube; 2], clamp: &Clamp) {
        let most = |worst: &mut f64, miss: f64, promised: f64| {
            assert!(miss.is_finite());
            *worst = worst.max(miss.abs() / promised);
        };
        let [one, other] = [coarse, fine].map(|tube| natural_frequency(tube, clamp).unwrap());
        most(&mut self.recovery, one / other - 1.0, RECOVERY);
        let (one, other) = match [coarse, fine].map(|tube| third_length(tube, clamp)) {
            [Ok(one), Ok(other)] => (one, other),
            [one, other] => {
                // A limp one has no power on either mesh.
                assert!(one.is_err() && other.is_err(), "{one:?} {other:?}");
                return;
            }
        };
        self.n_powers += 1;
        most(&mut self.power, one.power / other.power - 1.0, POWER);
        most(&mut self.tip_angle, (one.tip_angle - other.tip_angle).deg(), TIP_ANGLE_DEG);
        most(&mut self.bend_centre, one.bend_centre - other.bend_centre, BEND_CENTRE);
    }

    /// The bend under a pull, and the pull for an angle.
    #[track_caller]
    fn compare_pulls(&mut self, [coarse, fine]: [&Tube; 2], clamp: &Clamp, load: &Load, to: Angle) {
        let most = |worst: &mut f64, miss: f64, promised: f64| {
            assert!(miss.is_finite());
            *worst = worst.max(miss.abs() / promised);
        };
        let [one, other] = [coarse, fine].map(|tube| bend(tube, clamp, load, 9).unwrap());
        most(&mut self.bent_angle, (one.tip_angle - other.tip_angle).deg(), TIP_ANGLE_DEG);
        let free = (coarse.length() - clamp.held_at).m();
        for (one, other) in one.points.iter().zip(&other.points) {
            let apart = (one.x - other.x).m().hypot((one.y - other.y).m());
            most(&mut self.place, apart / free, PLACE);
        }
        let pulls = [coarse, fine].map(|tube| load_for_tip_angle(tube, clamp, to, load.backward));
        match pulls {
            [Ok(one), Ok(other)] => {
                self.n_pulls += 1;
                most(&mut self.pull, one / other - 1.0, POWER);
            }
            [one, other] => assert!(one.is_err() && other.is_err(), "{one:?} {other:?}"),
        }
    }

    #[track_caller]
    fn check(&self) {
        let found = [
            self.power,
            self.tip_angle,
            self.bend_centre,
            self.recovery,
            self.pull,
            self.bent_angle,
            self.place,
        ];
        assert!(found.iter().all(|part| *part < 1.0), "{self:?}");
    }
}

/// A blank of any sort: limp to stout, carbon or glass, two stations to one every 10 mm, solid, swelled at the butt, bowed in or out.
fn any_blank(random: &mut Random, round: u32) -> (Vec<Station>, Material) {
    let (butt, tip) = (random.between(7.0, 20.0), random.between(0.8, 6.0));
    let dense = round % 7 == 6;
    let n = [1, 2, 3, 5, 8, 20, 150 + (37 * round) % 155][(round % 7) as usize];
    let length_mm = if dense { 10.0 * f64::from(n) } else { random.between(1500.0, 3050.0) };
    let swell = [0.0, 0.0, 0.1, 0.25][(round % 4) as usize];
    let bow = random.between(-0.3, 0.3);
    let (wall_butt, wall_tip) = (random.between(0.05, 0.3), random.between(0.05, 0.49));
    let stations = (0..=n)
        .map(|station_idx| {
            let u = f64::from(station_idx) / f64::from(n);
            let od = butt + (tip - butt) * (u + bow * u * (1.0 - u));
            let od = od * (1.0 - swell * (1.0 - 6.0 * u).max(0.0));
            let wall = match round % 5 {
                0 => 0.5,
                1 | 2 => wall_butt + (wall_tip - wall_butt) * u,
                // A real wall does not jump from one centimetre to the next: a dense card's has what a caliper's error makes of it.
                _ if dense => wall_butt * random.between(0.97, 1.03),
                _ => random.between(0.05, 0.3),
            };
            // Half of a hundredth of a millimetre is what a caliper rounds to.
            let od = if dense { od + random.between(-0.005, 0.005) } else { od };
            Station {
                at: Length::from_mm(length_mm * u),
                od: Length::from_mm(od),
                wall: Length::from_mm(od * wall),
            }
        })
        .collect();
    let (modulus, density) = match (round / 3) % 3 {
        0 => (random.between(20.0, 45.0), random.between(1800.0, 2000.0)),
        _ => (random.between(60.0, 150.0), random.between(1400.0, 1650.0)),
    };
    let material = Material {
        modulus: Pressure::from_gpa(modulus),
        density: Density::from_kg_per_m3(density),
    };
    (stations, material)
}

/// Any blank, cut anywhere at either end, held anywhere in the lower third, level or raised or tilted down, in a clamp that yields or
/// not, pulled in any direction from down to up.
#[test]
fn a_finer_mesh_changes_nothing_that_is_promised() {
    let mut random = Random::new(20);
    let mut worst = Worst::default();
    for round in 0..210 {
        let (stations, material) = any_blank(&mut random, round);
        let fine = refined(&stations, material, 400);
        let coarse = Tube::new(&stations, material).unwrap();
        let cut_up_to = [0.0, 0.3][usize::from(random.uniform() < 0.7)];
        let [tip, butt] = [0, 0].map(|_| coarse.length() * random.between(0.0, 1.0) * cut_up_to);
        let [coarse, fine] = [coarse, fine].map(|tube| tube.trimmed(tip, butt).unwrap());
        let held_at = coarse.length() * random.between(0.0, 0.3);
        let give = [0.0, 3e-3][usize::from(random.uniform() < 0.5)];
        let level = Clamp { give, ..Clamp::horizontal(held_at) };
        let turned = Clamp { raised: Angle::from_deg(random.between(-20.0, 60.0)), ..level };
        worst.compare([&coarse, &fine], &level);
        worst.compare([&coarse, &fine], &turned);
        let power = third_length(&fine, &level).map_or(Mass::from_g(20.0), |third| third.power);
        // Over the rounds every blank and clamp meets every direction.
        for back in [[0.0, 30.0], [45.0, 90.0], [120.0, 180.0]][(round % 3) as usize] {
            let clamp = if random.uniform() < 0.5 { &level } else { &turned };
            let load = Load::pull(power * random.between(0.05, 4.0), Angle::from_deg(back));
            let to = Angle::from_deg(random.between(40.0, 100.0));
            worst.compare_pulls([&coarse, &fine], clamp, &load, to);
        }
    }
    worst.check();
    assert!(
        350 < worst.n_powers && 150 < worst.n_pulls,
        "the family is to reach the solvers: {worst:?}"
    );
}

/// A butt twelve times the tip is more taper than any blank has.
#[test]
fn nor_does_it_on_the_steepest_taper() {
    let material =
        Material { modulus: Pressure::from_gpa(90.0), density: Density::from_kg_per_m3(1550.0) };
    let mut worst = Worst::default();
    for (tip, wall) in [(1.2, 0.5), (1.2, 0.15), (3.0, 1.5)] {
        let stations = [(0.0, 14.0, 1.4), (2000.0, tip, wall)].map(|(at, od, wall)| Station {
            at: Length::from_mm(at),
            od: Length::from_mm(od),
            wall: Length::from_mm(wall),
        });
        let fine = refined(&stations, material, 900);
        let coarse = Tube::new(&stations, material).unwrap();
        worst.compare([&coarse, &fine], &Clamp::horizontal(Length::from_mm(230.0)));
    }
    worst.check();
}
/// Cutting and then asking is asking the cut tube: the ends of a trimmed tube are exact, and so are its weight and balance.
#[test]
fn a_trimmed_tube_is_the_same_tube_between_its_cuts() {
    let whole = tube(&[(0.0, 12.0, 1.2), (700.0, 9.0, 0.7), (2000.0, 2.0, 0.5)], 90.0, 1550.0);
    let (tip, butt) = (Length::from_mm(123.0), Length::from_mm(217.0));
    let cut = whole.trimmed(tip, butt).unwrap();
    assert!((cut.length() - (whole.length() - tip - butt)).abs().m() < 1e-12);
    for at_mm in [0.0, 100.0, 483.0, 900.0, 1660.0] {
        let at = Length::from_mm(at_mm);
        assert!((cut.od_at(at) - whole.od_at(at + butt)).abs().m() < 1e-15);
        assert!((cut.wall_at(at) - whole.wall_at(at + butt)).abs().m() < 1e-15);
        let stiffness = (cut.stiffness_at(at), whole.stiffness_at(at + butt));
        assert!((stiffness.0 / stiffness.1 - 1.0).abs() < 1e-12);
    }
    // What is cut off and what is left weigh together what the whole weighed, and balance where it did.
    let tip_off = whole.trimmed(Length::from_mm(0.0), whole.length() - tip).unwrap();
    let butt_off = whole.trimmed(whole.length() - butt, Length::from_mm(0.0)).unwrap();
    let pieces = [
        (butt_off.weight(), butt_off.balance()),
        (cut.weight(), cut.balance() + butt),
        (tip_off.weight(), tip_off.balance() + whole.length() - tip),
    ];
    let weight: f64 = pieces.iter().map(|(weight, _)| weight.kg()).sum();
    let moment: f64 = pieces.iter().map(|(weight, at)| weight.kg() * at.m()).sum();
    assert!((weight / whole.weight().kg() - 1.0).abs() < 1e-13);
    assert!((moment / weight / whole.balance().m() - 1.0).abs() < 1e-13);
}

/// The volume of a truncated solid cone is π h / 12 (D² + D d + d²), its centroid h/4 (D² + 2 D d + 3 d²) / (D² + D d + d²) from the
/// thick end (any table of solids).
#[test]
fn a_solid_cone_weighs_what_geometry_says() {
    let cone = tube(&[(0.0, 12.0, 6.0), (1500.0, 3.0, 1.5)], 90.0, 1550.0);
    let (thick, thin, height) = (12.0e-3, 3.0e-3, 1.5);
    let squares = thick * thick + thick * thin + thin * thin;
    let weight = 1550.0 * std::f64::consts::PI * height / 12.0 * squares;
    let centroid =
        height / 4.0 * (thick * thick + 2.0 * thick * thin + 3.0 * thin * thin) / squares;
    assert!((cone.weight().kg() / weight - 1.0).abs() < 1e-13);
    assert!((cone.balance().m() / centroid - 1.0).abs() < 1e-13);
}
