//! How often the solvers ask for memory: a few times a call, and not at all in their inner loops.
//!
//! Newton's iterations, the assembly and the inverse iteration run many times or few, by how hard the blank is to bend; were there an
//! allocation in one of them, the counts would differ between blanks.

use allocation_counter::measure;
use taperbook_mechanics::{Clamp, Load, bend, natural_frequency, third_length};
use taperbook_units::{Angle, Length, Mass};

use super::common::{cone, light_blank, tube};

fn count<T>(run: impl FnOnce() -> T) -> u64 {
    measure(|| {
        std::hint::black_box(run());
    })
    .count_total
}

#[test]
fn a_third_length_takes_the_same_few_allocations_however_long_it_iterates() {
    let level = Clamp::horizontal(Length::from_mm(230.0));
    let raised = Clamp { raised: Angle::from_deg(55.0), give: 3e-3, ..level };
    let limp = tube(&[(0.0, 9.0, 1.3), (1500.0, 5.0, 0.8), (2600.0, 2.5, 0.6)], 28.0, 1950.0);
    // Elements; angles; rows; two steps, of which one is by the pull.
    for blank in [light_blank(), cone(4.0), limp.clone()] {
        assert_eq!(count(|| third_length(&blank, &level).unwrap()), 5);
    }
    // A walk of some dozens of bends keeps one more, to go back to.
    for blank in [light_blank(), limp] {
        assert_eq!(count(|| third_length(&blank, &raised).unwrap()), 6);
    }
}

#[test]
fn a_frequency_takes_the_same_few_allocations() {
    let level = Clamp::horizontal(Length::from_mm(230.0));
    // Elements, the mode, its loads.
    let heavy = tube(&[(0.0, 15.0, 2.2), (120.0, 17.0, 2.2), (1524.0, 4.0, 1.0)], 110.0, 1620.0);
    for blank in [light_blank(), heavy] {
        assert_eq!(count(|| natural_frequency(&blank, &level).unwrap()), 3);
    }
}

#[test]
fn a_bend_takes_the_same_few_allocations() {
    let (blank, level) = (light_blank(), Clamp::horizontal(Length::from_mm(230.0)));
    // Elements; angles; rows; the step; the points that are handed out.
    for grams in [50.0, 400.0] {
        let load = Load::hung(Mass::from_g(grams));
        assert_eq!(count(|| bend(&blank, &level, &load, 20).unwrap()), 5);
    }
    // A walk keeps one bend more, to go back to.
    for back_deg in [30.0, 90.0, 180.0] {
        let load = Load::pull(Mass::from_g(500.0), Angle::from_deg(back_deg));
        assert_eq!(count(|| bend(&blank, &level, &load, 20).unwrap()), 6);
    }
}
