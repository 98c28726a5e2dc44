//! A piece of blank with its hidden truth, what was cut off it so far, and its true numbers.

use taperbook_units::{Angle, Frequency, Length, Mass, STANDARD_GRAVITY};

use crate::beam::{Beam, Clamp, Unsolved};
use crate::truth::Truth;

/// One piece: its truth and what came off.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// What it was before any cut.
    pub truth: Truth,
    /// What came off the tip in all, kerfs included.
    pub tip_cut: Length,
    /// What came off the butt in all, kerfs included.
    pub butt_cut: Length,
}

/// What is true of a piece as it now is, with a horizontal clamp that does not yield.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrueNumbers {
    /// Length of the bare blank.
    pub length: Length,
    /// From where it is held to the tip.
    pub free_length: Length,
    /// Outside diameter at the present tip.
    pub tip_od: Length,
    /// Outside diameter at the present butt.
    pub butt_od: Length,
    /// Weight of the whole piece.
    pub weight: Mass,
    /// Balance point from the present butt.
    pub balance: Length,
    /// What holds the tip a third of the free length below the clamp line.
    pub power: Mass,
    /// Power times free length squared, relative to the uncut piece held at the same distance from its butt.
    pub stiffness_for_length: f64,
    /// Tip below horizontal at that weight.
    pub tip_angle: Angle,
    /// Centroid of curvature at that weight, as a part of the free length from the tip.
    pub bend_centre: f64,
    /// First natural frequency.
    pub recovery: Frequency,
}

impl Piece {
    /// Takes a blank from the rack.
    #[must_use]
    pub fn uncut(truth: Truth) -> Self {
        Self { truth, tip_cut: Length::default(), butt_cut: Length::default() }
    }

    /// Takes more off, kerf included.
    pub fn cut(&mut self, tip: Length, butt: Length) {
        self.tip_cut = self.tip_cut + tip;
        self.butt_cut = self.butt_cut + butt;
    }

    /// Gives the piece as it would be after a further cut.
    #[must_use]
    pub fn after(&self, tip: Length, butt: Length) -> Self {
        let mut piece = self.clone();
        piece.cut(tip, butt);
        piece
    }

    /// Gives the present length.
    #[must_use]
    pub fn length(&self) -> Length {
        Length::from_m(self.truth.length) - self.tip_cut - self.butt_cut
    }

    /// Gives the outside diameter at a place from the present butt.
    #[must_use]
    pub fn od_at(&self, place: Length) -> Length {
        self.truth.od_at(self.butt_cut + place)
    }

    /// Gives the outside diameter at the present tip.
    #[must_use]
    pub fn tip_od(&self) -> Length {
        self.od_at(self.length())
    }

    /// Gives the outside diameter at the present butt.
    #[must_use]
    pub fn butt_od(&self) -> Length {
        self.od_at(Length::default())
    }

    /// Gives the weight.
    #[must_use]
    pub fn weight(&self) -> Mass {
        Mass::from_kg(self.moments().0)
    }

    /// Gives the balance point, from the present butt.
    #[must_use]
    pub fn balance(&self) -> Length {
        let (mass, moment) = self.moments();
        Length::from_m(moment / mass)
    }

    /// Mass, and mass times distance from the present butt, by Simpson's rule on 800 steps.
    fn moments(&self) -> (f64, f64) {
        let n = 800_u32;
        let step = self.length().m() / f64::from(n);
        (0..=n).fold((0.0, 0.0), |(mass, moment), i| {
            let simpson = match i {
                0 => 1.0,
                _ if i == n => 1.0,
                _ if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let place = step * f64::from(i);
            let share = simpson * step / 3.0
                * self.truth.mass_per_length_at(self.butt_cut + Length::from_m(place));
            (mass + share, moment + share * place)
        })
    }

    /// Samples the free length for a hold at a distance from the present butt.
    ///
    /// # Errors
    /// When nothing is left beyond the clamp.
    pub fn beam(&self, held_at: Length) -> Result<Beam, Unsolved> {
        let tip = self.truth.length - self.tip_cut.m();
        let place = |u: f64| Length::from_m(tip - u);
        Beam::new(
            (self.length() - held_at).m(),
            |u| self.truth.stiffness_at(place(u)),
            |u| self.truth.mass_per_length_at(place(u)),
        )
    }

    /// Works out the true power, held at a distance from the present butt.
    ///
    /// # Errors
    /// As [`Piece::true_numbers`].
    pub fn power(&self, held_at: Length) -> Result<Mass, Unsolved> {
        let third = self.beam(held_at)?.third_length(Clamp::default())?;
        Ok(Mass::from_kg(third.load / STANDARD_GRAVITY))
    }

    /// Works out what is true of the piece, held at a distance from its present butt.
    ///
    /// # Errors
    /// When nothing is left beyond the clamp or the blank is too limp for a third-length reading.
    pub fn true_numbers(&self, held_at: Length) -> Result<TrueNumbers, Unsolved> {
        let rigid = Clamp::default();
        let beam = self.beam(held_at)?;
        let third = beam.third_length(rigid)?;
        let free_length = self.length() - held_at;
        let uncut = Self::uncut(self.truth.clone());
        let before = uncut.beam(held_at)?.third_length(rigid)?;
        let shorter = free_length / (uncut.length() - held_at);
        Ok(TrueNumbers {
            length: self.length(),
            free_length,
            tip_od: self.tip_od(),
            butt_od: self.butt_od(),
            weight: self.weight(),
            balance: self.balance(),
            power: Mass::from_kg(third.load / STANDARD_GRAVITY),
            stiffness_for_length: third.load / before.load * shorter * shorter,
            tip_angle: Angle::from_rad(third.tip_angle),
            bend_centre: third.bend_centre,
            recovery: Frequency::from_hz(beam.natural_frequency(rigid)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rng::Rng;
    use crate::style::Style;

    const HELD_AT: Length = Length::from_inches(9.0);

    fn blanks(seed: u64, each: usize) -> Vec<(Style, Piece)> {
        let mut rng = Rng::new(seed);
        let mut blanks = Vec::new();
        for style in Style::ALL {
            for i in 0..each {
                let mut truth = Truth::random(&mut rng, style);
                if i % 3 == 1 {
                    truth = truth.with_reinforcement(&mut rng);
                }
                if i % 5 == 2 {
                    truth = truth.with_solid_tip(&mut rng);
                }
                blanks.push((style, Piece::uncut(truth)));
            }
        }
        blanks
    }

    /// Sizes that a builder would believe (common practice, no source).
    #[test]
    fn random_blanks_are_believable() {
        for (style, piece) in blanks(11, 12) {
            let numbers = piece.true_numbers(HELD_AT).expect("every style can be read");
            let all = format!("{style:?} {numbers:?}");
            assert!((66.0..121.0).contains(&numbers.length.inches()), "{all}");
            assert!((0.9..3.0).contains(&numbers.tip_od.mm()), "{all}");
            assert!((6.5..16.0).contains(&numbers.butt_od.mm()), "{all}");
            assert!((12.0..150.0).contains(&numbers.weight.g()), "{all}");
            assert!((30.0..1100.0).contains(&numbers.power.g()), "{all}");
            // A soft solid tip hangs down further.
            let steepest = if piece.truth.solid_tip.is_some() { 82.0 } else { 75.0 };
            assert!((40.0..steepest).contains(&numbers.tip_angle.deg()), "{all}");
            assert!((0.25..0.5).contains(&numbers.bend_centre), "{all}");
            assert!((1.5..13.0).contains(&numbers.recovery.hz()), "{all}");
            assert!((0.25..0.55).contains(&(numbers.balance / numbers.length)), "{all}");
            assert!((numbers.stiffness_for_length - 1.0).abs() < 1e-12, "{all}");
        }
    }

    /// The checks of the trade (common practice, no source): a tip cut raises power and recovery, a butt cut lowers stiffness for its length, the tip grows, the butt shrinks, weight falls with both.
    #[test]
    fn cuts_do_what_the_trade_knows() {
        let inch = Length::from_inches(1.0);
        let none = Length::default();
        for (style, piece) in blanks(12, 5) {
            let before = piece.true_numbers(HELD_AT).expect("it can be read");
            let tip = piece.after(inch * 2.0, none).true_numbers(HELD_AT).expect("it can be read");
            let butt = piece.after(none, inch * 2.0).true_numbers(HELD_AT).expect("it can be read");
            assert!(before.power.g() < tip.power.g());
            assert!(before.recovery.hz() < tip.recovery.hz());
            assert!(before.tip_od.mm() < tip.tip_od.mm());
            assert!(tip.weight.g() < before.weight.g());
            assert!(1.0 < tip.stiffness_for_length);
            assert!(butt.stiffness_for_length < 1.0);
            assert!(butt.butt_od.mm() < before.butt_od.mm());
            assert!(butt.weight.g() < before.weight.g());
            if style == Style::Stout && piece.length().inches() < 73.0 {
                assert!(1.10 < tip.power / before.power, "{}", tip.power / before.power);
            }
        }
    }

    /// Halving the steps must not change what is called true: the rule is of fourth order, so the finer value is sixteen times nearer.
    #[test]
    fn the_truth_has_converged() {
        for (_, piece) in blanks(13, 3) {
            let tip = piece.truth.length;
            let place = |u: f64| Length::from_m(tip - u);
            let beam = |steps| {
                Beam::with_steps(
                    (piece.length() - HELD_AT).m(),
                    steps,
                    |u| piece.truth.stiffness_at(place(u)),
                    |u| piece.truth.mass_per_length_at(place(u)),
                )
                .expect("there is a free length")
            };
            let (coarse, fine) = (beam(480), beam(960));
            let rigid = Clamp::default();
            let bent = coarse.third_length(rigid).expect("it solves");
            let finer = fine.third_length(rigid).expect("it solves");
            let relative = |a: f64, b: f64| (a / b - 1.0).abs();
            assert!(relative(bent.load, finer.load) < 2e-7, "{bent:?} {finer:?}");
            assert!(relative(bent.tip_angle, finer.tip_angle) < 2e-7, "{bent:?} {finer:?}");
            let frequency =
                relative(coarse.natural_frequency(rigid), fine.natural_frequency(rigid));
            assert!(frequency < 2e-7, "{frequency}");
        }
    }

    #[test]
    fn a_joint_is_stiff_and_heavy_where_it_is() {
        let mut rng = Rng::new(14);
        let plain = Truth::random(&mut rng, Style::Medium);
        let joined = plain.clone().with_joint(&mut rng);
        let [joint] = joined.joints[..] else { panic!("{joined:?}") };
        for (from_middle, adds) in [(0.0, joint.adds), (joint.overlap + 0.05, 0.0)] {
            let place = Length::from_m(joint.at + from_middle);
            let stiffer = joined.stiffness_at(place) / plain.stiffness_at(place) - 1.0;
            let heavier = joined.mass_per_length_at(place) / plain.mass_per_length_at(place) - 1.0;
            // The ends are rounded over some centimetres, so that a short joint lacks a little in its middle.
            assert!((stiffer - adds).abs() < 0.06 && (heavier - adds).abs() < 0.06, "{joint:?}");
        }
        let power = |truth: &Truth| Piece::uncut(truth.clone()).power(HELD_AT).expect("it bends");
        assert!(power(&plain).g() < power(&joined).g());
    }

    /// Area and volume in closed form: a plain tube without taper.
    #[test]
    fn weight_and_balance_of_a_plain_tube() {
        let mut truth = Truth::random(&mut Rng::new(1), Style::Light);
        truth.taper = crate::truth::Taper {
            tip: 8e-3,
            butt: 8e-3,
            bulge: 0.0,
            twist: 0.0,
            swell: 0.0,
            reach: 1.0,
        };
        truth.wraps.steps.clear();
        truth.wraps.base = 1e-3;
        truth.density = 1500.0;
        truth.length = 2.0;
        let piece = Piece::uncut(truth);
        let expected = 1500.0 * 2.0 * std::f64::consts::PI * 7e-3 * 1e-3;
        assert!((piece.weight().kg() / expected - 1.0).abs() < 1e-12);
        assert!((piece.balance().m() - 1.0).abs() < 1e-12);
    }
}
