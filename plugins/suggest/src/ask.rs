//! What to measure before a cut, and why.

use taperbook_bench::{Cuts, limits};
use taperbook_record::{End, Measure};
use taperbook_units::Length;

use crate::brief::is_bent;
use crate::guard;
use crate::problem::NINETY_FIVE;
use crate::reach;
use crate::step::{LEAST_CUT, can_still_be_finished, marked};
use crate::weigh::{LIKELY_INSIDE, WORTH_WAITING, Weighed};
use crate::words;
use crate::worth::{self, Help};

/// So many standard deviations are as good as certain (one in 700 is beyond).
const CERTAIN: f64 = 3.0;

impl Weighed<'_> {
    /// The reading that is missing since the last cut.
    pub(crate) fn not_read_since(&self) -> Option<String> {
        let bent = self.problem.measures.iter().copied().any(is_bent);
        (bent && guard::n_power_readings(&self.case.piece) == 0).then(|| {
            let power = worth::power(self.problem.held_at, self.case.units);
            format!("{power}: nothing was read since the last cut of how the piece bends")
        })
    }

    /// What to measure before anything is cut, when the best cuts would not be likely enough to end inside the limits.
    pub(crate) fn too_little_known(&self) -> Option<String> {
        let chance =
            self.chance(self.plan.there.as_ref()).filter(|chance| *chance < LIKELY_INSIDE)?;
        let diameter = self.diameter_at_the_cut();
        let help = diameter
            .as_ref()
            .or(self.help.as_ref())
            .filter(|help| WORTH_WAITING <= help.narrows)?;
        let cuts = self.plan.target.cuts;
        (LEAST_CUT <= cuts.tip || LEAST_CUT <= cuts.butt).then(|| {
            format!(
                "{}; as it stands even the best cut would end inside all limits with a chance of {:.0} % only",
                help.words(),
                100.0 * chance
            )
        })
    }

    /// The diameter where an end would be cut, when it is that which is not sure to keep its limit: a caliper there tells before the saw.
    fn diameter_at_the_cut(&self) -> Option<Help> {
        let there = self.plan.there.as_ref()?;
        let fitted = self.case.piece.fitted.as_ref().ok()?;
        let (errors, cuts) = (fitted.posterior.errors(), self.plan.target.cuts);
        let ends = [
            (Measure::TipOd, End::Tip, cuts.tip, errors.caliper_tip_od),
            (Measure::ButtOd, End::Butt, cuts.butt, errors.caliper_od),
        ];
        ends.into_iter().filter(|(_, _, cut, _)| LEAST_CUT <= *cut).find_map(
            |(measure, end, cut, caliper)| {
                let limit = self.problem.brief.limit(measure)?;
                let chance = limits::chance(there, measure, limits::range_of(limit))?;
                let unsure = limits::deviation(there, measure);
                let narrows = 1.0 - caliper.m() / unsure;
                if LIKELY_INSIDE <= chance || narrows < WORTH_WAITING {
                    return None;
                }
                let units = self.case.units;
                let length = self.problem.value(Measure::Length, Cuts::default())?;
                let at = match end {
                    End::Tip => Length::from_m(length) - cut,
                    End::Butt => cut,
                };
                Some(Help {
                    reading: format!(
                        "diameter where the {} would be cut, {} from the present {}: write it as `calipers: [{{ at: {}, od: … }}]`",
                        words::end(end),
                        units.cut(cut),
                        words::end(end),
                        units.cut(at)
                    ),
                    narrows,
                    gain: format!(
                        "{} there is known to {} only, and a caliper knows it to {}",
                        measure.words(),
                        units.diameter(Length::from_m(NINETY_FIVE * unsure)),
                        units.diameter(caliper * NINETY_FIVE)
                    ),
                })
            },
        )
    }

    /// What to measure before an end is left as it is, when that would make a good part of its cut sure.
    pub(crate) fn first_measure(&self, end: End) -> Option<String> {
        let help = self.help.as_ref()?;
        let (best, wish) = self.plan.at(end);
        let then =
            marked(wish.narrowed(help.narrows).sure(best, self.case.saw.error), self.case.units);
        let worth_it = LEAST_CUT * 2.0 <= then && best / 3.0 <= then;
        let (name, units) = (words::end(end), self.case.units);
        worth_it.then(|| {
            format!(
                "{}; as it stands none of the {} that would come off the {name} is sure to be needed, and then about {} \
                 would be; to go without, write `settled: {{ {name}: … }}`",
                help.words(),
                units.cut(best),
                units.cut(then)
            )
        })
    }

    /// What to read before the work is given up: again, when one power reading alone speaks against it, or more, when it is
    /// not quite certain.
    pub(crate) fn before_giving_up(&self, left_out: Option<usize>) -> Option<String> {
        let fitted = self.case.piece.fitted.as_ref().ok()?;
        let certain = reach::out_of_reach(self.case, self.problem, self.plan, CERTAIN).is_some();
        let bent = self.problem.measures.iter().copied().any(is_bent);
        let doubted = bent
            && [guard::TOO_LOW, guard::TOO_HIGH].into_iter().any(|slip| {
                guard::is_likely(guard::unnoticed_slip(&self.case.piece, fitted, left_out, slip))
            });
        if doubted {
            let power = worth::power(self.problem.held_at, self.case.units);
            return Some(format!(
                "{power}, once more, clamped anew: a wrong reading would not have been noticed yet"
            ));
        }
        let help = self.help.as_ref().filter(|help| !certain && WORTH_WAITING <= help.narrows);
        help.map(Help::words)
    }

    /// What to read again when a cut would spoil the piece if the reading that stands behind it were a slip that nobody
    /// would have noticed.
    pub(crate) fn spoilt_if_slipped(
        &self,
        end: End,
        cut: Length,
        left_out: Option<usize>,
    ) -> Option<String> {
        let fitted = self.case.piece.fitted.as_ref().ok()?;
        // A tip cut is spoilt if the piece is stiffer than was read, a butt cut if it is softer.
        let (slip, way) = match end {
            End::Tip => (guard::TOO_LOW, "low"),
            End::Butt => (guard::TOO_HIGH, "high"),
        };
        let bent = self.problem.measures.iter().copied().any(is_bent);
        let safe = !bent
            || !guard::is_likely(guard::unnoticed_slip(&self.case.piece, fitted, left_out, slip))
            || can_still_be_finished(self.problem, end, cut, 1.0 / slip);
        let units = self.case.units;
        (!safe).then(|| {
            format!(
                "{}, once more, clamped anew: one reading alone stands behind a cut of {} off the {}, and if it were {:.0} % \
                 too {way}, no further cut would bring the piece inside the limits",
                worth::power(self.problem.held_at, units),
                units.cut(cut),
                words::end(end),
                guard::SLIP * 100.0
            )
        })
    }
}
