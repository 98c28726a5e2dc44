//! How much to cut now: never more than is sure to be needed, and never past a limit.

use taperbook_bench::{Cuts, limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{End, Measure};
use taperbook_units::{Length, Units};

use crate::brief::{Room, is_length, larger, smaller};
use crate::need::{Need, Wish, need};
use crate::problem::Problem;
use crate::target::Target;

/// A smaller cut is not worth setting up the saw for: the work ends there.
pub(crate) const LEAST_CUT: Length = Length::from_mm(3.0);
/// A cut that is a smaller part of what is best than this is no step worth its reading.
const MOST_STEPS: f64 = 5.0;
/// How sure every limit must be of being kept after a cut.
const KEPT: f64 = 0.95;

/// A step that leaves a piece which no further cut brings inside, more often than this, is not made.
pub(crate) const MOST_SPOILT: f64 = 1e-4;
/// How far below the longest length allowed a piece is for certain below it: some errors of tape and saw.
const SURELY_SHORT: Length = Length::from_mm(3.0);

/// What the saw and the marks allow.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Saw {
    /// How far a cut lands from its mark: a standard deviation.
    pub(crate) error: Length,
    pub(crate) units: Units,
}

/// What can be done at one end now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Step {
    /// So much is sure to be needed there, and keeps every limit.
    Cut(Length),
    /// Something is likely to be needed, but not enough of it is sure.
    Unsure,
    /// A cut is sure to be needed, but would endanger a limit before the other end is cut.
    Held,
    /// Nothing worth a cut is needed.
    Done,
}

/// The further cuts that are best, and how unsure they are.
pub(crate) struct Plan {
    pub(crate) target: Target,
    /// The piece after them; none without mechanics.
    pub(crate) there: Option<Outcome>,
    pub(crate) need: Need,
    /// What must come off the one end that is free for the longest length allowed, however stiff the piece is.
    demanded: Length,
}

impl Plan {
    /// Works out the best further cuts at the ends that are free; `None` when nothing can be computed.
    pub(crate) fn new(problem: &Problem, free: [bool; 2]) -> Option<Self> {
        let most = |room: &Room, free: bool| if free { room.most } else { Length::default() };
        let most = Cuts {
            tip: most(&problem.brief.tip, free[0]),
            butt: most(&problem.brief.butt, free[1]),
        };
        let target = problem.best(most)?;
        let off = problem.off.plus(target.cuts.tip, target.cuts.butt);
        let there = problem.piece.outcome(off, problem.held_at).ok();
        let none = Length::default();
        let ends = [none < most.tip, none < most.butt];
        let need = need(problem, &target, there.as_ref(), ends)?;
        let demanded = if free == [true, true] { none } else { too_long(problem) };
        Some(Self { target, there, need, demanded })
    }

    /// What is best at one end, and how sure it is.
    pub(crate) fn at(&self, end: End) -> (Length, Wish) {
        match end {
            End::Tip => (self.target.cuts.tip, self.need.tip),
            End::Butt => (self.target.cuts.butt, self.need.butt),
        }
    }

    /// Says what can be done at one end now.
    pub(crate) fn step(&self, problem: &Problem, end: End, saw: Saw) -> Step {
        let (best, wish) = self.at(end);
        if best < LEAST_CUT {
            return Step::Done;
        }
        let sure = larger(wish.sure(best, saw.error), smaller(best, self.demanded));
        let sure = marked(sure, saw.units);
        let small = sure < LEAST_CUT || (sure < best / MOST_STEPS && LEAST_CUT <= best - sure);
        if small {
            return Step::Unsure;
        }
        let kept = marked(largest_kept(problem, end, sure, saw), saw.units);
        if kept < LEAST_CUT { Step::Held } else { Step::Cut(kept) }
    }
}

/// By how much the piece is longer than the longest length allowed, the errors of tape and saw counted.
pub(crate) fn too_long(problem: &Problem) -> Length {
    let high = problem
        .brief
        .limit(Measure::Length)
        .map_or(f64::INFINITY, |limit| limits::range_of(limit).high);
    let present = problem.value(Measure::Length, Cuts::default()).unwrap_or(0.0);
    Length::from_m((present + SURELY_SHORT.m() - high).max(0.0))
}

/// A cut at one end.
pub(crate) fn at_end(end: End, cut: Length) -> Cuts {
    match end {
        End::Tip => Cuts { tip: cut, butt: Length::default() },
        End::Butt => Cuts { tip: Length::default(), butt: cut },
    }
}

/// Rounds down to a mark that can be made.
pub(crate) fn marked(cut: Length, units: Units) -> Length {
    // What arithmetic loses of a whole number of marks is given back.
    mark(units) * (cut / mark(units) + 1e-6).floor()
}

/// Rounds to the nearest mark that can be made.
pub(crate) fn nearest_mark(cut: Length, units: Units) -> Length {
    mark(units) * (cut / mark(units)).round()
}

/// From mark to mark: a sixteenth of an inch, or a millimetre.
fn mark(units: Units) -> Length {
    match units {
        Units::Inches => Length::from_inches(1.0 / 16.0),
        Units::Millimetres => Length::from_mm(1.0),
    }
}

/// The largest cut up to `most` at one end that keeps every limit as surely as must be.
fn largest_kept(problem: &Problem, end: End, most: Length, saw: Saw) -> Length {
    largest(most, |cut| keeps_limits(problem, end, cut, saw))
}

/// The largest cut that passes, to a part in 64.
pub(crate) fn largest(most: Length, passes: impl Fn(Length) -> bool) -> Length {
    const N_HALVINGS: usize = 6;
    if passes(most) {
        return most;
    }
    let (mut kept, mut past) = (Length::default(), most);
    for _ in 0..N_HALVINGS {
        let middle = (kept + past) / 2.0;
        if passes(middle) { kept = middle } else { past = middle }
    }
    kept
}

/// Whether a cut keeps every limit that it goes toward and that no further cut brings back.
fn keeps_limits(problem: &Problem, end: End, cut: Length, saw: Saw) -> bool {
    let cuts = at_end(end, cut);
    let off = problem.off.plus(cuts.tip, cuts.butt);
    let after = problem.piece.outcome(off, problem.held_at).ok();
    problem.brief.limits.iter().all(|limit| {
        let before = problem.value(limit.measure, Cuts::default());
        let then = problem.value(limit.measure, cuts);
        // What can't be computed before or after can't be promised.
        let (Some(before), Some(then)) = (before, then) else { return false };
        let range = limits::range_of(limit);
        let unsure = |outcome: Option<&Outcome>| deviation(limit.measure, outcome, saw);
        let (unsure_now, unsure_then) = (unsure(problem.now), unsure(after.as_ref()));
        let toward_low = then < before && !comes_back(problem, limit.measure, end);
        let low =
            !toward_low || is_kept(before - range.low, then - range.low, unsure_now, unsure_then);
        let high = then <= before
            || is_kept(range.high - before, range.high - then, unsure_now, unsure_then);
        low && high
    })
}

fn deviation(measure: Measure, outcome: Option<&Outcome>, saw: Saw) -> f64 {
    let known = outcome.filter(|outcome| outcome.value(to_mechanics(measure)).is_ok());
    let deviation = known.map_or(0.0, |outcome| limits::deviation(outcome, measure));
    if is_length(measure) { deviation.hypot(saw.error.m()) } else { deviation }
}

/// Whether a bound is kept surely enough, from how far inside it a number was and will be.
///
/// Where that was not sure before, because of what is not known and not of a cut, a cut may still be made as long as it
/// does not take the likeliest number out: else a blank of which little is known could never be cut to its length.
fn is_kept(before: f64, then: f64, unsure_before: f64, unsure_then: f64) -> bool {
    let chance = |inside: f64, unsure: f64| {
        if unsure <= 1e-9 * inside.abs() {
            f64::from(u8::from(0.0 <= inside))
        } else {
            limits::normal(inside / unsure)
        }
    };
    let (was, will_be) = (chance(before, unsure_before), chance(then, unsure_then));
    KEPT <= will_be || (was < KEPT && (before < 0.0 || 0.0 <= then))
}

/// Whether a later tip cut brings back what a butt cut takes from a number.
fn comes_back(problem: &Problem, measure: Measure, end: End) -> bool {
    let by_tip = matches!(measure, Measure::Power | Measure::StiffnessForLength);
    end == End::Butt && by_tip && LEAST_CUT <= problem.brief.tip.most
}
