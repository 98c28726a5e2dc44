//! `reading-contradicts-physics`: a reading is further from what all else leads to expect than its error explains.
//!
//! Readings of one piece hold each other in check through the mechanics, before and after cuts alike.

use taperbook_bench::limits::inverse_normal;
use taperbook_mechanics::fit::{Measured, Posterior};
use taperbook_plugin::FlagSpec;
use taperbook_units::{Dimension, Length};

use crate::case::Case;
use crate::slips::{Missed, likely};
use crate::{Fault, Flag, words};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "reading-contradicts-physics",
        finds: "a reading that is three standard deviations or more, by how many readings there are, from what the card, the shop's past builds of the model and all other readings of the piece lead to expect; where two readings are against each other and nothing else tells which is wrong, it names both",
        why: "a cut that is worked out from a wrong reading is a wrong cut",
        example: "power reads 212 g, then 270 g after half an inch off the tip, where 217 g to 235 g is to be expected: a slip of 50 g in the weights, or another place of the clamp. Read it again before the saw",
    },
    find,
};

/// How many standard deviations are more than chance, at the least.
const BEYOND: f64 = 3.0;

/// Which part of the builds without a wrong reading may be flagged.
///
/// Of many readings one is far off by chance: at three standard deviations it would be one build in nineteen that has
/// twenty readings.
const FALSE_ALARMS: f64 = 0.005;

/// More faults than this in one record are one fault of the record.
const MOST: usize = 3;

/// Each suspect costs a fit.
const MOST_SUSPECTS: usize = 8;

/// A rival whose miss is nearly as large may as well be the wrong one.
const AS_LARGE: f64 = 0.8;

fn find(case: &Case) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut left_out = Vec::new();
    while faults.len() < MOST {
        let Some(posterior) = without(case, &left_out) else { break };
        let Some(culprits) = culprits(case, &posterior, &left_out) else { break };
        let miss = posterior.residuals()[culprits.told].miss;
        left_out.extend(with_its_kin(case, culprits.told));
        let missed = without(case, &left_out)
            .and_then(|posterior| Missed::new(case, culprits.told, miss, posterior));
        let Some(missed) = missed else { break };
        faults.push(fault(case, &missed, culprits.other));
        if let Some(other) = culprits.other {
            left_out.extend(with_its_kin(case, other));
        }
    }
    faults
}

/// How many standard deviations are more than chance for so many readings.
fn beyond(n_readings: usize) -> f64 {
    BEYOND.max(inverse_normal(1.0 - 0.5 * FALSE_ALARMS / n_readings.max(1) as f64))
}

/// What is believed of the piece without some of its readings.
fn without(case: &Case, left_out: &[usize]) -> Option<Posterior> {
    let fitted = case.piece.fitted.as_ref().ok()?;
    match left_out {
        [] => Some(fitted.all.clone()),
        _ => fitted.without(left_out).ok(),
    }
}

/// The reading that is likeliest wrong, or two of which one is.
struct Culprits {
    told: usize,
    other: Option<usize>,
}

/// Finds the reading without which all others agree best, when any contradicts.
///
/// The one that misses most need not be it: a very wrong reading pulls the fit to itself and makes right ones miss.
fn culprits(case: &Case, posterior: &Posterior, left_out: &[usize]) -> Option<Culprits> {
    let miss = |taken_idx: &usize| posterior.residuals()[*taken_idx].miss.abs();
    let mut suspects: Vec<Suspect> = contradicting(case, posterior, left_out)
        .into_iter()
        .take(MOST_SUSPECTS)
        .filter_map(|taken_idx| Suspect::new(case, taken_idx, left_out))
        .collect();
    suspects.sort_by(|a, b| a.disagreement.total_cmp(&b.disagreement));
    let (worst, rest) = suspects.split_first()?;
    let may_as_well = |other: &&Suspect| {
        worst.settles && other.settles && AS_LARGE * miss(&worst.taken_idx) < miss(&other.taken_idx)
    };
    Some(match rest.iter().find(may_as_well) {
        // The later of the two is the one that is still at hand.
        Some(other) => Culprits {
            told: worst.taken_idx.max(other.taken_idx),
            other: Some(worst.taken_idx.min(other.taken_idx)),
        },
        None => Culprits { told: worst.taken_idx, other: None },
    })
}

/// A reading that may be wrong, and what is left without it.
struct Suspect {
    taken_idx: usize,
    /// The sum of the squares of the misses of all others.
    disagreement: f64,
    /// Nothing contradicts any more.
    settles: bool,
}

impl Suspect {
    fn new(case: &Case, taken_idx: usize, left_out: &[usize]) -> Option<Self> {
        let mut left_out = left_out.to_vec();
        left_out.extend(with_its_kin(case, taken_idx));
        let posterior = without(case, &left_out)?;
        let others =
            posterior.residuals().iter().enumerate().filter(|(idx, _)| !left_out.contains(idx));
        Some(Self {
            taken_idx,
            disagreement: others.map(|(_, residual)| residual.miss * residual.miss).sum(),
            settles: contradicting(case, &posterior, &left_out).is_empty(),
        })
    }
}

/// The readings that contradict all others, the furthest off first; of those that stand in one place only the furthest.
fn contradicting(case: &Case, posterior: &Posterior, left_out: &[usize]) -> Vec<usize> {
    let beyond = beyond(case.piece.taken.len());
    let miss = |taken_idx: &usize| {
        posterior.residuals().get(*taken_idx).map_or(0.0, |residual| residual.miss.abs())
    };
    // What the card states comes after the piece's own readings and is nothing to read again.
    let mut found: Vec<usize> = (0..case.piece.taken.len())
        .filter(|taken_idx| !left_out.contains(taken_idx) && beyond < miss(taken_idx))
        .collect();
    found.sort_by(|a, b| miss(b).total_cmp(&miss(a)));
    let mut first_of_kin: Vec<usize> = Vec::new();
    for taken_idx in found {
        let kin = with_its_kin(case, taken_idx);
        if !first_of_kin.iter().any(|first| kin.contains(first)) {
            first_of_kin.push(taken_idx);
        }
    }
    first_of_kin
}

/// A reading and those that stand in the same place of the record: the points of one bend on the board.
fn with_its_kin(case: &Case, taken_idx: usize) -> Vec<usize> {
    let taken = &case.piece.taken;
    let same = |other: &usize| taken[*other].span == taken[taken_idx].span;
    (0..taken.len()).filter(same).collect()
}

fn fault(case: &Case, missed: &Missed, other: Option<usize>) -> Fault {
    let taken = &case.piece.taken[missed.taken_idx];
    let item = taken.item + 1;
    let value = |si| value(case, missed.taken_idx, si);
    let (low, high) = missed.range();
    let expected = format!("{} ({} to {})", value(missed.expected), value(low), value(high));
    let reads =
        format!("{} reads {} in item {item}", name(case, missed.taken_idx), value(missed.read));
    let again = match case.finished() {
        Some(_) => "read it again",
        None => "read it again before the saw",
    };
    let message = match other {
        Some(other_idx) => {
            let other = &case.piece.taken[other_idx];
            let other_value = self::value(case, other_idx, read(case, other_idx));
            let other_name = name(case, other_idx);
            let of = format!("{other_name} of {other_value} in item {}", other.item + 1);
            format!(
                "{reads}, but with the {of} one expects {expected}: one of the two is wrong; {again}"
            )
        }
        None => {
            let why = likely(case, missed);
            let why = if why.is_empty() {
                String::new()
            } else {
                format!("likely {}; ", why.join(", or "))
            };
            let known = known_from(case, missed.taken_idx);
            format!("{reads}, but {known} lead to expect {expected}: {why}{again}")
        }
    };
    Fault { message, span: taken.span.clone() }
}

/// What leads to expect something of a reading.
fn known_from(case: &Case, taken_idx: usize) -> String {
    let mut known = Vec::new();
    if case.card().is_some() {
        known.push("the card".to_owned());
    }
    match case.piece.fitted.as_ref().map_or(0, |fitted| fitted.n_past) {
        0 => {}
        1 => known.push("one past build".to_owned()),
        n_past => known.push(format!("{n_past} past builds")),
    }
    if with_its_kin(case, taken_idx).len() < case.piece.taken.len() {
        known.push("the other readings".to_owned());
    }
    match known.as_slice() {
        [] => "the diameters".to_owned(),
        [one] if one == "the card" => "the numbers of its card".to_owned(),
        _ => words::joined(&known, "and"),
    }
}

fn read(case: &Case, taken_idx: usize) -> f64 {
    let residuals = case.piece.fitted.as_ref().map(|fitted| fitted.all.residuals());
    residuals
        .ok()
        .and_then(|residuals| residuals.get(taken_idx))
        .map_or(0.0, |residual| residual.read)
}

/// What was read, as a person calls it.
fn name(case: &Case, taken_idx: usize) -> String {
    let (units, taken) = (case.units, &case.piece.taken[taken_idx]);
    match (&taken.reading.measured, taken.measure) {
        (Measured::BoardPoint { load, x, .. }, _) => {
            format!("height on the board at {} under {}", units.cut(*x), units.mass(*load))
        }
        (Measured::Pull { angle, .. }, _) => {
            format!("pull to {}", units.value(Dimension::Angle, angle.rad()))
        }
        (_, measure) => measure.map_or("reading", taperbook_record::Measure::words).to_owned(),
    }
}

fn value(case: &Case, taken_idx: usize, si: f64) -> String {
    let (units, taken) = (case.units, &case.piece.taken[taken_idx]);
    match (&taken.reading.measured, taken.measure) {
        (Measured::BoardPoint { .. }, _) => units.cut(Length::from_si(si)),
        (_, Some(measure)) => words::value(units, measure, si),
        (_, None) => units.value(Dimension::Mass, si),
    }
}
