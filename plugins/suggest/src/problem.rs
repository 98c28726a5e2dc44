//! A brief put to a piece: what each further cut costs, at what is now most likely.
//!
//! The least cost is sought in [`crate::target`], and what may come of a cut in [`crate::finish`].

use std::sync::Arc;

use taperbook_bench::{Cuts, Piece, limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{Limit, Measure};
use taperbook_units::Length;

use crate::brief::{Brief, is_length, larger, smaller, usual_tolerance};
use crate::choose::surface::{Room, Surface};

/// The standard normal deviate that 95 % lie below (Abramowitz & Stegun table 26.5).
pub(crate) const NINETY_FIVE: f64 = 1.644_853_626_951_473;

/// A brief put to a piece: each further cut has a cost, and the least is sought.
///
/// The cost is a sum of squares: of each aim's miss in its own tolerance, of how far a number comes nearer to a limit
/// than is safe, and, far above all else, of how far it is past one.
pub(crate) struct Problem<'a> {
    pub(crate) piece: &'a Piece,
    pub(crate) brief: &'a Brief<'a>,
    /// What is off already.
    pub(crate) off: Cuts,
    pub(crate) held_at: Length,
    /// The piece as it is, where the mechanics are known.
    pub(crate) now: Option<&'a Outcome>,
    /// What the terms speak of.
    pub(crate) measures: Vec<Measure>,
    terms: Vec<Term>,
    /// The numbers over all cuts inside the shortest length allowed, from what is off already as the problem was put.
    surface: Option<Arc<Surface>>,
    /// What is off since.
    since: Cuts,
    /// What the tie between equally good cuts is broken by: the plan, or as little as may be.
    preferred: Cuts,
    /// How far each end may be cut.
    pub(crate) room: Cuts,
    /// How far both ends may be cut together.
    pub(crate) both: Length,
    /// How much stiffer the piece is taken to be than is most likely.
    stiffer: f64,
}

/// One part of the cost: `weight` × (how far a number is outside `low` … `high`, in tolerances)².
#[derive(Debug, Clone, Copy)]
struct Term {
    measure_idx: usize,
    low: f64,
    high: f64,
    tolerance: f64,
    weight: f64,
}

/// An aim that the builder wrote, against one that follows from a limit.
const OF_LIMITS: f64 = 0.1;
/// Staying clear of a limit against meeting an aim.
const CLEAR: f64 = 1e2;
/// Being inside a limit against anything else.
const INSIDE: f64 = 1e6;
/// Cutting 100 mm more than is preferred against missing an aim by its tolerance.
const TIE: f64 = 1e-6;
/// How far a cut stays away from a limit on the length: some errors of tape and saw.
const CLEAR_OF_LENGTH: Length = Length::from_mm(2.5);
/// The cost of a cut after which a number can't be computed.
pub(crate) const UNKNOWN: f64 = 1e12;

impl<'a> Problem<'a> {
    /// Puts a brief to a piece; `now` is the piece as it is, where the mechanics are known.
    pub(crate) fn new(
        piece: &'a Piece,
        brief: &'a Brief<'a>,
        held_at: Length,
        now: Option<&'a Outcome>,
    ) -> Self {
        let measures = brief.measures();
        let terms = terms(brief, &measures, now);
        let off = piece.walk.present().off;
        let surface = surface(piece, brief, off, held_at, &measures).map(Arc::new);
        Self {
            piece,
            brief,
            off,
            held_at,
            now,
            measures,
            terms,
            surface,
            since: Cuts::default(),
            preferred: brief.planned.unwrap_or_default(),
            room: Cuts { tip: brief.tip.most, butt: brief.butt.most },
            both: brief.both,
            stiffer: 1.0,
        }
    }

    /// The same, with each aim to be met as nearly as its number is known, whatever the builder minds, and limits on what
    /// is not known well left aside: so it can be told whether aims pull against each other for certain.
    #[must_use]
    pub(crate) fn as_sure(&self, unsure: impl Fn(Measure) -> f64) -> Self {
        let measure = |term: &Term| self.measures[term.measure_idx];
        // Ends that fall together are an aim.
        let is_aim = |term: &Term| term.low == term.high;
        let terms =
            self.terms.iter().filter(|term| is_aim(term) || is_length(measure(term))).map(|term| {
                let tolerance = unsure(measure(term)).max(1e-3 * term.tolerance);
                if is_aim(term) { Term { tolerance, weight: 1.0, ..*term } } else { *term }
            });
        Self {
            terms: terms.collect(),
            measures: self.measures.clone(),
            surface: self.surface.clone(),
            ..*self
        }
    }

    /// The same after a cut, and with a piece that holds so many times the weight that is most likely.
    #[must_use]
    pub(crate) fn if_then(&self, cuts: Cuts, stiffer: f64) -> Self {
        let less = |room: Length, cut: Length| larger(room - cut, Length::default());
        Self {
            measures: self.measures.clone(),
            terms: self.terms.clone(),
            surface: self.surface.clone(),
            since: self.since.plus(cuts.tip, cuts.butt),
            off: self.off.plus(cuts.tip, cuts.butt),
            room: Cuts {
                tip: less(self.room.tip, cuts.tip),
                butt: less(self.room.butt, cuts.butt),
            },
            both: less(self.both, cuts.total()),
            preferred: Cuts {
                tip: less(self.preferred.tip, cuts.tip),
                butt: less(self.preferred.butt, cuts.butt),
            },
            stiffer,
            ..*self
        }
    }

    /// Gives what all measures would be after a further cut; `None` when one can't be computed.
    ///
    /// Within what its surface covers they are interpolated, to a part in ten thousand.
    pub(crate) fn values(&self, cuts: Cuts) -> Option<Vec<f64>> {
        let since = self.since.plus(cuts.tip, cuts.butt);
        if let Some(surface) = self.surface.as_ref().filter(|surface| surface.room().holds(since)) {
            let mut values = surface.values(since);
            for (measure, value) in self.measures.iter().zip(&mut values) {
                *value *= self.scale(*measure);
            }
            return Some(values);
        }
        self.values_in_full(cuts)
    }

    /// The same, worked out for these cuts.
    pub(crate) fn values_in_full(&self, cuts: Cuts) -> Option<Vec<f64>> {
        let off = self.off.plus(cuts.tip, cuts.butt);
        let value = |measure: &Measure| {
            Some(self.scale(*measure) * self.piece.value(*measure, off, self.held_at)?)
        };
        self.measures.iter().map(value).collect()
    }

    /// Power goes with the stiffness, and recovery with its root; shapes don't.
    fn scale(&self, measure: Measure) -> f64 {
        match measure {
            Measure::Power => self.stiffer,
            Measure::Recovery => self.stiffer.sqrt(),
            _ => 1.0,
        }
    }

    /// Gives what one measure would be after a further cut.
    pub(crate) fn value(&self, measure: Measure, cuts: Cuts) -> Option<f64> {
        let value = self.piece.value(measure, self.off.plus(cuts.tip, cuts.butt), self.held_at)?;
        Some(self.scale(measure) * value)
    }

    /// By how much numbers miss the aims, in squares of what is minded.
    pub(crate) fn missed(&self, values: &[f64]) -> f64 {
        let aims = self.terms.iter().filter(|term| term.low == term.high);
        aims.map(|term| term.weight * term.off(values).powi(2)).sum()
    }

    /// What a further cut costs.
    pub(crate) fn cost(&self, cuts: Cuts) -> f64 {
        let Some(values) = self.values(cuts) else { return UNKNOWN };
        let terms =
            self.terms.iter().map(|term| term.weight * term.off(&values).powi(2)).sum::<f64>();
        let tie = self.off_preferred(cuts).map(|off| TIE * off * off);
        terms + tie[0] + tie[1]
    }

    /// How far a cut is from what is preferred, in tenths of a metre.
    fn off_preferred(&self, cuts: Cuts) -> [f64; 2] {
        [10.0 * (cuts.tip - self.preferred.tip).m(), 10.0 * (cuts.butt - self.preferred.butt).m()]
    }

    /// The cost near a cut, to second order, as far as the ends given are free; `None` when it can't be computed.
    pub(crate) fn slopes(&self, cuts: Cuts, ends: [bool; 2]) -> Option<Slopes> {
        let span = Length::from_mm(2.0);
        let here = self.values(cuts)?;
        let mut by_end = [vec![0.0; here.len()], vec![0.0; here.len()]];
        for (end_idx, free) in ends.into_iter().enumerate() {
            if free {
                let next = if end_idx == 0 {
                    cuts.plus(span, Length::default())
                } else {
                    cuts.plus(Length::default(), span)
                };
                let there = self.values(next)?;
                by_end[end_idx] = there
                    .iter()
                    .zip(&here)
                    .map(|(there, here)| (there - here) / span.m())
                    .collect();
            }
        }
        let (mut square, mut side) = ([[0.0; 2]; 2], [0.0; 2]);
        let mut pulls = vec![[0.0; 2]; here.len()];
        for term in &self.terms {
            let off = term.off(&here);
            if off == 0.0 && term.low < term.high {
                continue;
            }
            let row =
                [0, 1].map(|end_idx: usize| by_end[end_idx][term.measure_idx] / term.tolerance);
            for i in 0..2 {
                side[i] -= term.weight * row[i] * off;
                pulls[term.measure_idx][i] += term.weight * row[i] / term.tolerance;
                for j in 0..2 {
                    square[i][j] += term.weight * row[i] * row[j];
                }
            }
        }
        for (i, off) in self.off_preferred(cuts).into_iter().enumerate() {
            square[i][i] += TIE * 100.0;
            side[i] -= TIE * 10.0 * off;
        }
        Some(Slopes { square, side, pulls, ends })
    }
}

/// The cost near a cut: ½ of its second derivatives by the two ends, and what pulls at them.
pub(crate) struct Slopes {
    square: [[f64; 2]; 2],
    side: [f64; 2],
    /// What a unit more of each measure would pull at each end.
    pulls: Vec<[f64; 2]>,
    ends: [bool; 2],
}

impl Slopes {
    /// How far the least cost lies from here, in m of each end, whether or not that can be cut.
    pub(crate) fn step(&self) -> [f64; 2] {
        self.solve(self.side)
    }

    /// How the best cut moves, in m of each end, when a measure turns out a unit more than was thought.
    pub(crate) fn moves(&self) -> Vec<[f64; 2]> {
        self.pulls.iter().map(|pull| self.solve(pull.map(|pull| -pull))).collect()
    }

    fn solve(&self, side: [f64; 2]) -> [f64; 2] {
        let [[a, b], [_, d]] = self.square;
        match self.ends {
            [true, true] => {
                let det = a * d - b * b;
                if det <= 0.0 {
                    [0.0; 2]
                } else {
                    [(d * side[0] - b * side[1]) / det, (a * side[1] - b * side[0]) / det]
                }
            }
            [true, false] => [side[0] / a, 0.0],
            [false, true] => [0.0, side[1] / d],
            [false, false] => [0.0; 2],
        }
    }
}

impl Term {
    /// How far outside, in tolerances; negative below.
    fn off(&self, values: &[f64]) -> f64 {
        let value = values[self.measure_idx];
        let rounding = 1e-9 * value.abs();
        if value < self.low - rounding {
            (value - self.low) / self.tolerance
        } else if self.high + rounding < value {
            (value - self.high) / self.tolerance
        } else {
            0.0
        }
    }
}

/// The numbers over all cuts that keep the shortest length allowed.
fn surface(
    piece: &Piece,
    brief: &Brief,
    off: Cuts,
    held_at: Length,
    measures: &[Measure],
) -> Option<Surface> {
    let present = piece.walk.present().length?;
    let shortest = brief.limit(Measure::Length).map(|limit| limits::range_of(limit).low);
    let by_shortest = present - Length::from_m(shortest.filter(|low| low.is_finite())?);
    let most = smaller(brief.both, larger(by_shortest, Length::default()));
    let end = |end: Length| smaller(end, most);
    let room = Room {
        least: Length::default(),
        most,
        tip: end(brief.tip.most),
        butt: end(brief.butt.most),
    };
    Surface::new(piece, off, held_at, room, measures)
}

fn terms(brief: &Brief, measures: &[Measure], present: Option<&Outcome>) -> Vec<Term> {
    let idx_of = |measure: Measure| measures.iter().position(|other| *other == measure);
    let mut terms = Vec::new();
    for aim in &brief.aims {
        let Some(measure_idx) = idx_of(aim.measure) else { continue };
        let weight = if aim.stated { 1.0 } else { OF_LIMITS };
        terms.push(Term {
            measure_idx,
            low: aim.value,
            high: aim.value,
            tolerance: aim.tolerance,
            weight,
        });
    }
    for limit in brief.limits {
        let Some(measure_idx) = idx_of(limit.measure) else { continue };
        let mut range = clear_of_saw(limit);
        let aim = brief.aims.iter().find(|aim| aim.measure == limit.measure);
        if let Some(aim) = aim.filter(|aim| aim.stated && limits::range_of(limit).holds(aim.value))
        {
            range =
                limits::Range { low: range.low.min(aim.value), high: range.high.max(aim.value) };
        }
        let bound = if range.low.is_finite() { range.low } else { range.high };
        let tolerance =
            aim.map_or_else(|| usual_tolerance(limit.measure, bound), |aim| aim.tolerance);
        terms.push(Term {
            measure_idx,
            low: range.low,
            high: range.high,
            tolerance,
            weight: INSIDE,
        });
        let unsure = present
            .map_or(0.0, |outcome| NINETY_FIVE * part_unsure(outcome, limit.measure) * bound.abs());
        // Where there is an aim it keeps clear of the limit by itself.
        if aim.is_none() {
            let (low, high) = (range.low + unsure, range.high - unsure);
            terms.push(Term { measure_idx, low, high, tolerance, weight: CLEAR });
        }
    }
    terms
}

/// The range of a limit; that of a length as narrow as tape and saw ask for.
pub(crate) fn clear_of_saw(limit: &Limit) -> limits::Range {
    let range = limits::range_of(limit);
    if !is_length(limit.measure) {
        return range;
    }
    let clear = f64::min(CLEAR_OF_LENGTH.m(), 0.25 * (range.high - range.low));
    limits::Range { low: range.low + clear, high: range.high - clear }
}

/// How unsure a number is, as a part of it.
fn part_unsure(outcome: &Outcome, measure: Measure) -> f64 {
    match outcome.value(to_mechanics(measure)) {
        Ok(value) if value != 0.0 => limits::deviation(outcome, measure) / value.abs(),
        _ => 0.0,
    }
}
