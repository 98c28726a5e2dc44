//! Whether a piece can still be brought inside all limits after a cut, and the cut that ends the work best.
//!
//! Steps that are sure to be needed are for [`crate::step`]; this is for what is left when no reading would tell more of how it is to be
//! shared between tip and butt.

use taperbook_bench::{Cuts, limits};
use taperbook_record::Measure;
use taperbook_units::Length;

use crate::brief::{larger, smaller};
use crate::doubt::Doubt;
use crate::problem::{Problem, clear_of_saw};

/// A blank that is spoilt, against a rod that ends outside of a limit and may be mended by one more cut or agreed on (common practice, no
/// source).
const SPOILT: f64 = 3.2;
/// The same of a model of which not even a few builds tell: how much its pieces differ is then itself no more than a guess.
const SPOILT_UNKNOWN: f64 = 8.0;
/// So many past builds are a few.
const FEW: usize = 5;
/// Missing the aims by their tolerances, against ending outside of a limit.
const AIMS: f64 = 0.02;

/// Between which factors of stiffness, as ln of them, something holds; nowhere where the first is above the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Between {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// A cut that ends the work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Finish {
    pub(crate) cuts: Cuts,
    /// How likely all limits are kept.
    pub(crate) inside: f64,
    /// How likely no further cut would bring the piece inside.
    pub(crate) spoilt: f64,
    pub(crate) merit: f64,
}

impl Between {
    const NOWHERE: Self = Self { low: f64::INFINITY, high: f64::NEG_INFINITY };

    fn chance(self, doubt: &Doubt) -> f64 {
        if self.low < self.high { doubt.between(self.low, self.high) } else { 0.0 }
    }

    fn or(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }
}

impl Problem<'_> {
    /// How likely no further cut brings the piece inside all limits, after a cut.
    pub(crate) fn spoilt(&self, cuts: Cuts, doubt: &Doubt) -> f64 {
        1.0 - self.if_then(cuts, 1.0).finishable().chance(doubt)
    }

    /// How likely some further cut brings the piece inside all limits.
    pub(crate) fn can_end_inside(&self, doubt: &Doubt) -> f64 {
        self.finishable().chance(doubt)
    }

    /// The further cuts of at most so much in all that end the work best: likely inside all limits, hardly ever past them for good, and
    /// near the aims; `None` when nothing can be computed.
    ///
    /// What is left on at the tip can come off later, so that less may come off than the aims ask for.
    pub(crate) fn finish(&self, total: Length, doubt: &Doubt) -> Option<Finish> {
        const N_TOTALS: u32 = 4;
        const N_PARTS: u32 = 24;
        let at_least = self.totals().map_or(total, |(least, _)| smaller(least, total));
        let tips = |total: Length| {
            (
                larger(total - self.brief.butt.most, Length::default()),
                smaller(self.brief.tip.most, total),
            )
        };
        let try_all = |total: Length, from: Length, to: Length| {
            (0..=N_PARTS)
                .map(|part| from + (to - from) * (f64::from(part) / f64::from(N_PARTS)))
                .filter_map(|tip| {
                    self.ended(Cuts { tip, butt: larger(total - tip, Length::default()) }, doubt)
                })
                .max_by(|a, b| a.merit.total_cmp(&b.merit))
        };
        let near = (0..=N_TOTALS)
            .map(|part| at_least + (total - at_least) * (f64::from(part) / f64::from(N_TOTALS)))
            .filter(|total| tips(*total).0 <= tips(*total).1)
            .filter_map(|total| try_all(total, tips(total).0, tips(total).1))
            .max_by(|a, b| a.merit.total_cmp(&b.merit))?;
        let total = near.cuts.total();
        let (least, most) = tips(total);
        let step = (most - least) / f64::from(N_PARTS);
        try_all(total, larger(near.cuts.tip - step, least), smaller(near.cuts.tip + step, most))
    }

    /// How a piece stands that is cut no more after some cuts.
    pub(crate) fn ended(&self, cuts: Cuts, doubt: &Doubt) -> Option<Finish> {
        let values = self.values(cuts)?;
        let inside = self.inside(&values).chance(doubt);
        let spoilt = self.spoilt(cuts, doubt);
        let n_past = self.piece.fitted.as_ref().map_or(0, |fitted| fitted.n_past);
        let of_spoilt = if n_past < FEW { SPOILT_UNKNOWN } else { SPOILT };
        let merit = inside - of_spoilt * spoilt - AIMS * self.missed(&values);
        Some(Finish { cuts, inside, spoilt, merit })
    }

    /// Between which factors of stiffness all limits are kept by some numbers.
    fn inside(&self, values: &[f64]) -> Between {
        let mut between = Between { low: f64::NEG_INFINITY, high: f64::INFINITY };
        for (measure, value) in self.measures.iter().zip(values) {
            let Some(limit) = self.brief.limit(*measure) else { continue };
            let range = limits::range_of(limit);
            let goes_with = match goes_with_stiffness(*measure) {
                Some(power) => power,
                None if range.holds(*value) => continue,
                None => return Between::NOWHERE,
            };
            let factor = |end: f64| (end.max(0.0) / value).ln() / goes_with;
            between.low = between.low.max(factor(range.low));
            between.high = between.high.min(factor(range.high));
        }
        between
    }

    /// Whether some limit is on what goes with the stiffness.
    pub(crate) fn limits_bend(&self) -> bool {
        self.brief.limits.iter().any(|limit| goes_with_stiffness(limit.measure).is_some())
    }

    /// Between which factors of stiffness some further cut keeps all limits.
    fn finishable(&self) -> Between {
        const N_TOTALS: u32 = 3;
        const N_TIPS: u32 = 3;
        let Some((least, most)) = self.totals() else { return Between::NOWHERE };
        let mut between = Between::NOWHERE;
        for total_idx in 0..=N_TOTALS {
            let total = least + (most - least) * (f64::from(total_idx) / f64::from(N_TOTALS));
            let (from, to) =
                (larger(total - self.room.butt, Length::default()), smaller(self.room.tip, total));
            if to < from {
                continue;
            }
            for tip_idx in 0..=N_TIPS {
                let tip = from + (to - from) * (f64::from(tip_idx) / f64::from(N_TIPS));
                if let Some(values) =
                    self.values(Cuts { tip, butt: larger(total - tip, Length::default()) })
                {
                    let here = self.inside(&values);
                    if here.low < here.high {
                        between = between.or(here);
                    }
                }
            }
        }
        between
    }

    /// How much must and may come off in all for the limits on length.
    fn totals(&self) -> Option<(Length, Length)> {
        let none = Length::default();
        let present = Length::from_m(self.value(Measure::Length, Cuts::default())?);
        let most = smaller(self.both, self.room.total());
        let Some(limit) = self.brief.limit(Measure::Length) else { return Some((none, most)) };
        let range = clear_of_saw(limit);
        let least = larger(present - Length::from_m(range.high), none);
        let most = smaller(most, present - Length::from_m(range.low));
        (least <= most).then_some((least, most))
    }
}

/// By what power of the stiffness a number goes with it; none when it does not.
fn goes_with_stiffness(measure: Measure) -> Option<f64> {
    match measure {
        Measure::Power => Some(1.0),
        Measure::Recovery => Some(0.5),
        _ => None,
    }
}
