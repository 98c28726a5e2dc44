//! When a limit is passed, by which cut, and whether further cutting can still cure it.
//!
//! Cuts only take off, so most numbers move one way: a limit on the far side can never be met again and is a fault at
//! once, one on the near side is a fault only when the work is finished.

use taperbook_record::{Limit, Measure};

use crate::Fault;
use crate::case::Case;
use crate::standing::{Known, Standing, standing};
use crate::words;

/// An end of a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Low,
    High,
}

/// The measures whose limits have no flag of their own.
pub(crate) const OTHERS: [Measure; 4] =
    [Measure::FreeLength, Measure::Balance, Measure::StiffnessForLength, Measure::BendCentre];

/// Which way cutting moves a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Course {
    Falls,
    Rises,
    /// A tip cut and a butt cut move it apart, or it depends on the taper.
    Either,
}

/// Says which way cutting moves a number; common practice, no source, and for power a rule with exceptions.
pub(crate) fn course(measure: Measure) -> Course {
    match measure {
        Measure::Length
        | Measure::FreeLength
        | Measure::ButtOd
        | Measure::Weight
        | Measure::Balance => Course::Falls,
        Measure::TipOd | Measure::Power | Measure::Recovery => Course::Rises,
        Measure::StiffnessForLength | Measure::TipAngle | Measure::BendCentre => Course::Either,
    }
}

/// Says whether a limit's end, once passed, can't be met again by cutting more.
pub(crate) fn is_far(measure: Measure, side: Side) -> bool {
    matches!((course(measure), side), (Course::Falls, Side::Low) | (Course::Rises, Side::High))
}

/// The end of a limit that a side names, SI.
pub(crate) fn bound(limit: &Limit, side: Side) -> Option<f64> {
    let end = match side {
        Side::Low => limit.range.low,
        Side::High => limit.range.high,
    };
    end.map(|end| end.si)
}

/// By how much a number is past an end of its range; `None` when it is inside, or out by no more than rounding.
pub(crate) fn past(
    case: &Case,
    measure: Measure,
    side: Side,
    bound: f64,
    value: f64,
) -> Option<f64> {
    let by = match side {
        Side::Low => bound - value,
        Side::High => value - bound,
    };
    (words::rounding(case.units, measure, value) < by).then_some(by)
}

/// Says whether a number is past an end of its range with its whole 5 %–95 % range.
pub(crate) fn is_sure(standing: &Standing, side: Side, bound: f64) -> bool {
    match side {
        Side::Low => standing.high < bound,
        Side::High => bound < standing.low,
    }
}

/// Says what a number is, how that is known, and how far past which end: `268 g as read, 8 g above the most allowed 260 g`.
pub(crate) fn in_words(
    case: &Case,
    measure: Measure,
    side: Side,
    bound: f64,
    standing: &Standing,
    by: f64,
) -> String {
    let print = |si| words::value(case.units, measure, si);
    let sure = is_sure(standing, side, bound);
    let how = match standing.known {
        Known::Read if sure => " as read".to_owned(),
        Known::Read => {
            let error = standing.high - standing.value;
            let error = words::difference(case.units, measure, standing.value, error);
            format!(" as read, give or take {error}")
        }
        Known::LengthAndCuts => " by the cuts".to_owned(),
        Known::Card => " by the card".to_owned(),
        Known::CardAndCuts => " by the card's length and the cuts".to_owned(),
        Known::Computed => {
            format!(" as computed ({} to {})", print(standing.low), print(standing.high))
        }
    };
    let likely = if sure { "" } else { "likely " };
    if measure == Measure::Length && standing.value <= 0.0 {
        return format!("nothing{how}, {} {}", named(measure, side), print(bound));
    }
    let by = words::difference(case.units, measure, standing.value, by);
    let named = named(measure, side);
    format!("{}{how}, {likely}{by} {named} {}", print(standing.value), print(bound))
}

/// Names an end of a range: `below the shortest allowed`.
fn named(measure: Measure, side: Side) -> &'static str {
    let is_length = matches!(measure, Measure::Length | Measure::FreeLength);
    match side {
        Side::Low if is_length => "below the shortest allowed",
        Side::Low => "below the least allowed",
        Side::High if is_length => "above the longest allowed",
        Side::High => "above the most allowed",
    }
}

/// Finds the limits of some measures that are passed on one side, each with the cut that did it.
pub(crate) fn crossed(case: &Case, measures: &[Measure], side: Side) -> Vec<Fault> {
    let limits = case.build.limits.iter().filter(|limit| measures.contains(&limit.measure));
    limits.filter_map(|limit| fault(case, limit, side)).collect()
}

fn fault(case: &Case, limit: &Limit, side: Side) -> Option<Fault> {
    let (measure, bound) = (limit.measure, bound(limit, side)?);
    let now = standing(case, case.present(), measure)?;
    let by = past(case, measure, side, bound, now.value)?;
    // What is only supposed of a blank that nobody has cut or read is no fault of a build.
    if case.present() == 0 && now.known != Known::Read && !is_sure(&now, side, bound) {
        return None;
    }
    let fixed = case.fixed(measure);
    if fixed.is_none() && !is_far(measure, side) && course(measure) != Course::Either {
        return None;
    }
    let crossing = crossing(case, measure, side, bound);
    // Cutting on may bring back what no cut took out.
    if fixed.is_none() && !is_far(measure, side) && !crossing.was_inside {
        return None;
    }
    let mut message =
        format!("{} is {}", measure.words(), in_words(case, measure, side, bound, &now, by));
    let mut span = limit.span.clone();
    match crossing.by {
        By::Cut(item_idx) => {
            let item = &case.build.bench[item_idx];
            let cut = words::cut_of_item(case.units, item_idx, item);
            message.push_str(&format!(": crossed by {cut}"));
            span = item.span.clone();
        }
        By::NoCut if is_far(measure, side) => message.push_str(", before any cut"),
        By::NoCut | By::Unknown => {}
    }
    if let Some(why) = fixed.filter(|_| !is_far(measure, side)) {
        message.push_str(&format!(", and {why}"));
    }
    Some(Fault { message, span })
}

/// How many states are searched for the cut that did it; no builder makes so many cuts.
const LOOK_BACK: usize = 60;

/// How a number got past an end of its range.
struct Crossing {
    by: By,
    /// It was inside in a state before.
    was_inside: bool,
}

/// What took a number past an end of its range.
enum By {
    /// The item of the bench that made this cut.
    Cut(usize),
    /// The uncut blank was past it.
    NoCut,
    /// The number is not known of the state before.
    Unknown,
}

/// Finds the cut after which a number was past an end of its range for good.
///
/// Readings scatter, so of the states past it the first that is surely so counts, where there is one.
fn crossing(case: &Case, measure: Measure, side: Side, bound: f64) -> Crossing {
    let states = &case.piece.walk.states;
    let mut since = None;
    let mut surely_since = None;
    let mut before = None;
    for state_idx in (0..states.len()).rev().take(LOOK_BACK) {
        before = standing(case, state_idx, measure);
        let Some(then) = before else { break };
        if past(case, measure, side, bound, then.value).is_none() {
            break;
        }
        since = Some(state_idx);
        if is_sure(&then, side, bound) {
            surely_since = since;
        }
    }
    if LOOK_BACK < states.len() && since == Some(states.len() - LOOK_BACK) {
        before = None;
    }
    let was_inside = before.is_some() && since != Some(0);
    let is_known = before.is_some() || surely_since.is_some_and(|_| surely_since != since);
    let by =
        match surely_since.or(since).filter(|_| is_known).map(|state_idx| states[state_idx].item) {
            Some(Some(item_idx)) => By::Cut(item_idx),
            Some(None) => By::NoCut,
            None => By::Unknown,
        };
    Crossing { by, was_inside }
}
