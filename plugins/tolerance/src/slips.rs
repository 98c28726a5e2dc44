//! What a reading missed by, and the slips of the bench that would explain it.

use taperbook_bench::Cuts;
use taperbook_mechanics::fit::{Measured, Posterior};
use taperbook_mechanics::{Clamp, natural_frequency, third_length};
use taperbook_record::Measure;
use taperbook_units::{Angle, Length, Mass};

use crate::case::Case;
use crate::words;

/// A reading that all else contradicts, SI.
pub(crate) struct Missed {
    /// The reading, numbered as the piece numbers them.
    pub(crate) taken_idx: usize,
    pub(crate) read: f64,
    /// What all else leads to expect.
    pub(crate) expected: f64,
    /// One standard deviation of a reading around that: of its logarithm when it errs by a part of itself.
    spread: f64,
    errs_by_a_part: bool,
    /// What is believed without it.
    posterior: Posterior,
}

/// The standard normal deviate that 95 % lie below (Abramowitz & Stegun table 26.5).
const NINETY_FIVE: f64 = 1.644_853_627;

impl Missed {
    /// Compares a reading with what is believed without it; `miss` is by how many standard deviations it is off.
    pub(crate) fn new(
        case: &Case,
        taken_idx: usize,
        miss: f64,
        posterior: Posterior,
    ) -> Option<Self> {
        let residual = posterior.residuals().get(taken_idx)?;
        let (read, expected) = (residual.read, residual.predicted.ok()?);
        let errs_by_a_part = matches!(
            case.piece.taken[taken_idx].reading.measured,
            Measured::Power(_) | Measured::Frequency(_) | Measured::Pull { .. }
        );
        let off = if errs_by_a_part { (read / expected).ln() } else { read - expected };
        let spread = (off / miss).abs();
        spread.is_finite().then_some(Self {
            taken_idx,
            read,
            expected,
            spread,
            errs_by_a_part,
            posterior,
        })
    }

    /// The 5 %–95 % range of such a reading.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.off_by(-NINETY_FIVE), self.off_by(NINETY_FIVE))
    }

    /// Says whether a value is near what is expected.
    fn fits(&self, value: f64) -> bool {
        (self.off_by(-1.0)..=self.off_by(1.0)).contains(&value)
    }

    fn off_by(&self, deviates: f64) -> f64 {
        match self.errs_by_a_part {
            true => self.expected * (deviates * self.spread).exp(),
            false => self.expected + deviates * self.spread,
        }
    }
}

/// More reasons than this are no help.
const MOST: usize = 2;

/// Says which slips would explain a reading, the most telling first; common practice, no source.
pub(crate) fn likely(case: &Case, missed: &Missed) -> Vec<String> {
    let reasons = [
        swapped_cut(case, missed),
        from_the_vertical(case, missed),
        held_elsewhere(case, missed),
        weights(case, missed),
        decimal_point(missed),
        swapped_digits(case, missed),
        guides_on(case, missed),
        out_of_round(case, missed),
    ];
    reasons.into_iter().flatten().take(MOST).collect()
}

/// Tip and butt of the last cut before the reading, the wrong way round.
fn swapped_cut(case: &Case, missed: &Missed) -> Option<String> {
    let taken = &case.piece.taken[missed.taken_idx];
    let walk = &case.piece.walk;
    let state = &walk.states[walk.state_of_item[taken.item]];
    let item_idx = state.item?;
    let cut = words::amounts(&case.build.bench[item_idx])?;
    let swapped =
        Cuts { tip: state.off.tip - cut.tip + cut.butt, butt: state.off.butt - cut.butt + cut.tip };
    let part = number(case, missed, swapped, taken.reading.held_at)?
        / number(case, missed, state.off, taken.reading.held_at)?;
    let apart = Length::from_mm(3.0) < (cut.tip - cut.butt).abs();
    (apart && missed.fits(missed.read / part))
        .then(|| format!("tip and butt are swapped in item {}", item_idx + 1))
}

/// An angle below horizontal is asked for; many a protractor hangs from the vertical.
fn from_the_vertical(case: &Case, missed: &Missed) -> Option<String> {
    let is_angle =
        matches!(case.piece.taken[missed.taken_idx].reading.measured, Measured::TipAngle(_));
    let below_horizontal = Angle::from_deg(90.0).rad() - missed.read;
    (is_angle && missed.fits(below_horizontal))
        .then(|| "the angle is measured from the vertical, not from the horizontal".to_owned())
}

/// Another place of the clamp than the record says, by up to 6 in.
fn held_elsewhere(case: &Case, missed: &Missed) -> Option<String> {
    let taken = &case.piece.taken[missed.taken_idx];
    let off = Cuts { tip: taken.reading.tip_cut, butt: taken.reading.butt_cut };
    let held_at = taken.reading.held_at;
    let meant = number(case, missed, off, held_at).filter(|_| is_bent(taken.measure))?;
    let shifts = (1..=6).flat_map(|inches| [f64::from(inches), -f64::from(inches)]);
    shifts
        .map(|inches| held_at + Length::from_inches(inches))
        .filter(|held| 0.0 <= held.m())
        .find_map(|held| {
            let part = number(case, missed, off, held)? / meant;
            let held = case.units.cut(held);
            missed
                .fits(missed.read / part)
                .then(|| format!("it was held at {held}: then write `held_at: {held}` beside it"))
        })
}

/// A weight too many or too few on the hook or the scale.
fn weights(case: &Case, missed: &Missed) -> Option<String> {
    let place = match case.piece.taken[missed.taken_idx].reading.measured {
        Measured::Power(_) | Measured::Pull { .. } => "in the weights",
        Measured::Weight(_) => "on the scale",
        _ => return None,
    };
    let slips = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0].map(|grams| Mass::from_g(grams).kg());
    let slip = slips.into_iter().find(|slip| {
        let righted =
            if missed.expected < missed.read { missed.read - slip } else { missed.read + slip };
        missed.fits(righted)
    })?;
    Some(format!("a slip of {:.0} g {place}", Mass::from_kg(slip).g()))
}

/// The point one place off.
fn decimal_point(missed: &Missed) -> Option<String> {
    let is_one_off = missed.fits(missed.read * 10.0) || missed.fits(missed.read / 10.0);
    is_one_off.then(|| "the decimal point is one place off".to_owned())
}

/// Two digits written in the wrong order.
fn swapped_digits(case: &Case, missed: &Missed) -> Option<String> {
    let (unit, places) = match case.piece.taken[missed.taken_idx].measure? {
        Measure::Power => (1e-3, 0),
        Measure::Weight => (1e-3, 1),
        Measure::TipOd | Measure::ButtOd => (1e-3, 2),
        Measure::TipAngle => (Angle::from_deg(1.0).rad(), 0),
        Measure::Recovery => (1.0, 2),
        _ => return None,
    };
    let written: Vec<char> = format!("{:.places$}", missed.read / unit).chars().collect();
    (1..written.len()).find_map(|at| {
        let mut swapped = written.clone();
        swapped.swap(at - 1, at);
        let (a, b) = (swapped[at - 1], swapped[at]);
        let value: f64 = String::from_iter(&swapped).parse().ok()?;
        let is_swap = a.is_ascii_digit() && b.is_ascii_digit() && a != b;
        let meant = String::from_iter(&swapped);
        (is_swap && missed.fits(value * unit))
            .then(|| format!("two digits are swapped, {meant} meant"))
    })
}

/// Guides make a blank a tenth heavier or more, and slower.
fn guides_on(case: &Case, missed: &Missed) -> Option<String> {
    let part = missed.read / missed.expected;
    let is_dressed = match case.piece.taken[missed.taken_idx].reading.measured {
        Measured::Weight(_) => (1.1..3.0).contains(&part),
        Measured::Frequency(_) => (0.5..0.97).contains(&part),
        _ => false,
    };
    is_dressed.then(|| "the guides were on: then write `dressed: true` beside it".to_owned())
}

/// Few blanks are quite round at their ends.
fn out_of_round(case: &Case, missed: &Missed) -> Option<String> {
    let is_od = matches!(
        case.piece.taken[missed.taken_idx].reading.measured,
        Measured::TipOd(_) | Measured::ButtOd(_)
    );
    let is_little = (missed.read / missed.expected - 1.0).abs() <= 0.2;
    (is_od && is_little)
        .then(|| "it is out of round there: turn the caliper and take the middle".to_owned())
}

fn is_bent(measure: Option<Measure>) -> bool {
    matches!(measure, Some(Measure::Power | Measure::TipAngle | Measure::Recovery))
}

/// The number that was read, as the mechanics gives it without the reading; SI.
fn number(case: &Case, missed: &Missed, off: Cuts, held_at: Length) -> Option<f64> {
    let tube = missed.posterior.tube().trimmed(off.tip, off.butt).ok()?;
    let clamp = Clamp::horizontal(held_at);
    match case.piece.taken[missed.taken_idx].measure? {
        Measure::Power => third_length(&tube, &clamp).ok().map(|third| third.power.kg()),
        Measure::TipAngle => third_length(&tube, &clamp).ok().map(|third| third.tip_angle.rad()),
        Measure::Recovery => natural_frequency(&tube, &clamp).ok().map(|frequency| frequency.hz()),
        Measure::TipOd => Some(tube.od_at(tube.length()).m()),
        Measure::ButtOd => Some(tube.od_at(Length::default()).m()),
        Measure::Weight => Some(tube.weight().kg()),
        Measure::Balance => Some(tube.balance().m()),
        Measure::Length
        | Measure::FreeLength
        | Measure::StiffnessForLength
        | Measure::BendCentre => None,
    }
}
