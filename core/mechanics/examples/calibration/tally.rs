//! How far estimates of trimmed blanks are off, and how often their ranges hold the truth.
//!
//! It knows neither how a blank was simulated nor how it was fitted beyond what each gives.

use std::fmt;

use taperbook_mechanics::fit::{
    Errors, Estimate, FitError, Measure, Posterior, Prior, Reading, SURE, fit,
};
use taperbook_testkit::piece::TrueNumbers;

use crate::shop::{HELD_AT, Job, Row};

/// What the coverage is counted for.
pub(crate) const MEASURES: [Measure; 8] = [
    Measure::Power,
    Measure::TipAngle,
    Measure::Recovery,
    Measure::Length,
    Measure::TipOd,
    Measure::ButtOd,
    Measure::Weight,
    Measure::BendCentre,
];
/// A reading that misses by more than this, in standard deviations, is called suspicious.
const SUSPICIOUS: f64 = 3.0;

/// What becomes of a reading that contradicts all others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Strays {
    /// It counts as any other.
    Count,
    /// It is left out of account.
    LeftOut,
}

/// What is true of a trimmed blank, in the units of [`Measure`].
pub(crate) fn truth_of(numbers: &TrueNumbers, measure: Measure) -> f64 {
    match measure {
        Measure::Length => numbers.length.m(),
        Measure::FreeLength => numbers.free_length.m(),
        Measure::TipOd => numbers.tip_od.m(),
        Measure::ButtOd => numbers.butt_od.m(),
        Measure::Weight => numbers.weight.kg(),
        Measure::Balance => numbers.balance.m(),
        Measure::Power => numbers.power.kg(),
        Measure::StiffnessForLength => numbers.stiffness_for_length,
        Measure::TipAngle => numbers.tip_angle.rad(),
        Measure::BendCentre => numbers.bend_centre,
        Measure::Recovery => numbers.recovery.hz(),
    }
}

/// One estimate against the truth.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shot {
    /// In per cent of the truth, for the tip angle in degrees.
    pub(crate) error: f64,
    /// Whether the range holds the truth.
    pub(crate) inside: bool,
    /// How far the estimate lies above the truth, in standard deviations of its range.
    pub(crate) deviate: f64,
}

impl Shot {
    pub(crate) fn at(measure: Measure, estimate: Estimate, truth: f64) -> Self {
        let off = estimate.value - truth;
        let error = if measure == Measure::TipAngle {
            off.to_degrees().abs()
        } else {
            100.0 * (off / truth).abs()
        };
        // Ranges run to 1.645 standard deviations either way, of the logarithm.
        let sd = (estimate.high / estimate.value).ln() / 1.645;
        Self {
            error,
            inside: (estimate.low..=estimate.high).contains(&truth),
            deviate: (estimate.value / truth).ln() / sd,
        }
    }
}

/// The estimates of one blank from the readings of one row: a shot for each of [`MEASURES`] that is not missing.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Shots {
    pub(crate) shots: [Option<Shot>; MEASURES.len()],
    slips: Slips,
}

/// How many readings were slips, how many of those the fit called suspicious, and the same of the sound ones.
#[derive(Debug, Clone, Copy, Default)]
struct Slips {
    wrong: u32,
    wrong_named: u32,
    sound: u32,
    sound_named: u32,
}

/// Fits the readings of a row and compares what is foretold of the trimmed blank with what is true of it.
pub(crate) fn shoot(job: &Job, errors: &Errors, row: Row, strays: Strays) -> Shots {
    let mut found = Shots::default();
    let prior = Prior::from_card(&job.card, errors);
    let readings = job.readings(row);
    let fitted = prior.and_then(|prior| match strays {
        Strays::Count => Ok((fit(&prior, &readings)?, readings)),
        Strays::LeftOut => fit_without_strays(&prior, readings),
    });
    let Ok((posterior, readings)) = fitted else { return found };
    found.slips = named(job, &posterior, &readings, row);
    if let Ok(outcome) = posterior.outcome(job.tip_cut, job.butt_cut, HELD_AT) {
        let outcome = outcome.sawn(job.n_sawn, errors);
        for (shot, measure) in found.shots.iter_mut().zip(MEASURES) {
            let truth = truth_of(&job.truth, measure);
            *shot =
                outcome.estimate(measure).ok().map(|estimate| Shot::at(measure, estimate, truth));
        }
    }
    found
}

/// Leaves out the readings that are all but proven to be wild and fits anew, as the program does.
fn fit_without_strays(
    prior: &Prior,
    mut readings: Vec<Reading>,
) -> Result<(Posterior, Vec<Reading>), FitError> {
    let posterior = fit(prior, &readings)?;
    let wild: Vec<bool> = posterior.wild().iter().map(|chance| SURE <= *chance).collect();
    if !wild.contains(&true) {
        return Ok((posterior, readings));
    }
    for (reading, wild) in readings.iter_mut().zip(wild) {
        if wild {
            *reading = reading.idle();
        }
    }
    Ok((fit(prior, &readings)?, readings))
}

fn named(job: &Job, posterior: &Posterior, readings: &[Reading], row: Row) -> Slips {
    let mut slips = Slips::default();
    let taken = job.taken.iter().filter(|taken| taken.row <= row);
    for ((taken, reading), residual) in taken.zip(readings).zip(posterior.residuals()) {
        let left_out = reading.sd.is_some();
        let suspicious = u32::from(left_out || SUSPICIOUS < residual.miss.abs());
        if taken.slipped {
            slips.wrong += 1;
            slips.wrong_named += suspicious;
        } else {
            slips.sound += 1;
            slips.sound_named += suspicious;
        }
    }
    slips
}

/// A share of a count, in per cent, with its binomial standard error.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Share {
    pub(crate) per_cent: f64,
    pub(crate) error: f64,
}

impl Share {
    pub(crate) fn of(part: usize, whole: usize) -> Self {
        let whole = whole.max(1) as f64;
        let p = part as f64 / whole;
        Self { per_cent: 100.0 * p, error: 100.0 * (p * (1.0 - p) / whole).sqrt() }
    }
}

impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{:.0}±{:.1}", self.per_cent, self.error))
    }
}

/// All blanks of a row.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tally {
    all: Vec<Shots>,
}

impl Tally {
    pub(crate) fn of(all: Vec<Shots>) -> Self {
        Self { all }
    }

    fn of_measure(&self, measure: Measure) -> impl Iterator<Item = Shot> + '_ {
        let place = MEASURES.iter().position(|counted| *counted == measure);
        self.all.iter().filter_map(move |shots| shots.shots[place?])
    }

    /// The error that so many per cent of the blanks stay below.
    pub(crate) fn error(&self, measure: Measure, per_cent: usize) -> f64 {
        let mut errors: Vec<f64> = self.of_measure(measure).map(|shot| shot.error).collect();
        errors.sort_by(f64::total_cmp);
        quantile(&errors, per_cent)
    }

    /// How often the range held the truth.
    pub(crate) fn covered(&self, measure: Measure) -> Share {
        let inside = self.of_measure(measure).filter(|shot| shot.inside).count();
        Share::of(inside, self.of_measure(measure).count())
    }

    /// Mean, and root of the mean square about it, of how far estimates lie above the truth in standard deviations of their ranges: 0 and 1 for honest ranges.
    pub(crate) fn deviates(&self, measure: Measure) -> (f64, f64) {
        let n = self.of_measure(measure).count().max(1) as f64;
        let mean = self.of_measure(measure).map(|shot| shot.deviate).sum::<f64>() / n;
        let square = |shot: Shot| (shot.deviate - mean).powi(2);
        (mean, (self.of_measure(measure).map(square).sum::<f64>() / n).sqrt())
    }

    /// How many of the numbers are missing.
    pub(crate) fn n_missing(&self) -> usize {
        self.all.iter().flat_map(|shots| shots.shots).filter(Option::is_none).count()
    }

    /// What became of slips, in words; nothing where there were none.
    pub(crate) fn slips(&self) -> Option<String> {
        let sum = |count: fn(&Slips) -> u32| self.all.iter().map(|s| count(&s.slips)).sum::<u32>();
        let (wrong, sound) = (sum(|s| s.wrong), sum(|s| s.sound));
        (0 < wrong).then(|| {
            format!(
                "{} of {wrong} slips and {} of {sound} sound readings called suspicious",
                sum(|s| s.wrong_named),
                sum(|s| s.sound_named)
            )
        })
    }
}

/// The value that so many per cent of a sorted list lie below, straight between neighbours.
pub(crate) fn quantile(sorted: &[f64], per_cent: usize) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let (below, part) = (per_cent * last / 100, (per_cent * last % 100) as f64 / 100.0);
    let above = (below + 1).min(last);
    sorted[below] + (sorted[above] - sorted[below]) * part
}
