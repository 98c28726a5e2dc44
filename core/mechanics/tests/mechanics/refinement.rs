//! How far the numbers are from those of a much finer mesh.
//!
//! A station on the straight line between two others changes nothing of a tube, but puts an element edge there: so a tube with
//! hundreds of such stations is the same tube on a finer mesh.

use taperbook_mechanics::{Clamp, Material, Station, Tube, natural_frequency, third_length};
use taperbook_units::{Density, Length, Pressure};

use super::common::tube;
use super::shop::Random;

/// What is promised: relative of power and recovery, degrees of tip angle, part of the free length of bend centre.
const POWER: f64 = 1e-5;
const TIP_ANGLE_DEG: f64 = 1e-3;
const BEND_CENTRE: f64 = 5e-5;
const RECOVERY: f64 = 1e-5;

/// The worst miss of each, as a part of what is promised.
#[derive(Default, Debug)]
struct Worst {
    power: f64,
    tip_angle: f64,
    bend_centre: f64,
    recovery: f64,
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
    #[track_caller]
    fn compare(&mut self, coarse: &Tube, fine: &Tube, held_at: Length) {
        let clamp = Clamp::horizontal(held_at);
        let recoveries = [coarse, fine].map(|tube| natural_frequency(tube, &clamp).unwrap().hz());
        self.recovery = self.recovery.max((recoveries[0] / recoveries[1] - 1.0).abs() / RECOVERY);
        let (Ok(one), Ok(other)) = (third_length(coarse, &clamp), third_length(fine, &clamp))
        else {
            // A limp one has no power on either mesh.
            assert_eq!(third_length(coarse, &clamp).is_ok(), third_length(fine, &clamp).is_ok());
            return;
        };
        self.power = self.power.max((one.power / other.power - 1.0).abs() / POWER);
        let angle = (one.tip_angle - other.tip_angle).deg().abs();
        self.tip_angle = self.tip_angle.max(angle / TIP_ANGLE_DEG);
        let centre = (one.bend_centre - other.bend_centre).abs();
        self.bend_centre = self.bend_centre.max(centre / BEND_CENTRE);
    }

    #[track_caller]
    fn check(&self) {
        let all = [self.power, self.tip_angle, self.bend_centre, self.recovery];
        assert!(all.iter().all(|part| *part < 1.0), "{self:?}");
    }
}

/// From limp 10 ft to stout 5 ft, two stations to one every 10 mm, any cut, held anywhere in the lower third.
#[test]
fn a_finer_mesh_changes_nothing_that_is_promised() {
    let mut random = Random::new(20);
    let mut worst = Worst::default();
    for round in 0..60 {
        let length_mm = random.between(1500.0, 3050.0);
        let (butt, tip) = (random.between(6.0, 20.0), random.between(0.8, 6.0));
        let n = [1, 2, 3, 5, 8, 150][round % 6];
        let swell = random.between(-0.2, 0.2) * butt;
        let stations: Vec<Station> = (0..=n)
            .map(|station_idx| {
                let u = station_idx as f64 / n as f64;
                let od = butt + (tip - butt) * u + swell * (7.0 * u).sin() * u * (1.0 - u);
                // A real wall does not jump from one centimetre to the next: a dense card's has what a caliper's error makes of it.
                let wall = od
                    * if n < 100 { random.between(0.05, 0.3) } else { random.between(0.14, 0.16) };
                Station {
                    at: Length::from_mm(length_mm * u),
                    od: Length::from_mm(od),
                    wall: Length::from_mm(wall),
                }
            })
            .collect();
        let material = Material {
            modulus: Pressure::from_gpa(random.between(20.0, 150.0)),
            density: Density::from_kg_per_m3(random.between(1400.0, 2000.0)),
        };
        let whole = Tube::new(&stations, material).unwrap();
        let fine = refined(&stations, material, 700);
        let (cut_tip, cut_butt) = (random.between(0.0, 200.0), random.between(0.0, 200.0));
        let trim = |tube: &Tube| {
            tube.trimmed(Length::from_mm(cut_tip), Length::from_mm(cut_butt)).unwrap()
        };
        let held_at = Length::from_mm(random.between(0.0, 0.3) * length_mm);
        worst.compare(&trim(&whole), &trim(&fine), held_at);
    }
    worst.check();
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
        worst.compare(&coarse, &fine, Length::from_mm(230.0));
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
