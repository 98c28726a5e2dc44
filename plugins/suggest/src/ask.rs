//! What to measure before a cut, and why.

use taperbook_bench::{Cuts, limits};
use taperbook_record::{End, Measure};
use taperbook_units::Length;

use crate::brief::is_bent;
use crate::guard;
use crate::problem::NINETY_FIVE;
use crate::reach;
use crate::step::{LEAST_CUT, MOST_SPOILT, marked};
use crate::weigh::{LIKELY_INSIDE, SURELY_INSIDE, WORTH_WAITING, Weighed};
use crate::words;
use crate::worth::{self, Help};

/// So many standard deviations are as good as certain (one in 700 is beyond).
const CERTAIN: f64 = 3.0;
/// A piece that is in reach with a better chance than this is not given up while readings may be wrong.
const IN_REACH: f64 = 1e-3;
/// With so many power readings in one state nobody is asked for another to give up an aim.
const ENOUGH: usize = 2;
/// A power is read again for less than other readings: it costs a minute, and a cut costs a blank.
const WORTH_A_MINUTE: f64 = 0.03;

impl Weighed<'_> {
    /// That a length must be read before anything else, since nothing but the log tells what was cut.
    pub(crate) fn length_not_read(&self) -> Option<String> {
        let present = self.case.piece.walk.present();
        (present.item.is_some() && !present.length_was_read).then(|| {
            "length by tape: none was read since the last cut, and a slip of the saw or of the log would go unnoticed"
                .to_owned()
        })
    }

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
            .or(self.help_at_hand())
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
                    at_hand: true,
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
        let help = self.help_at_hand()?;
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

    /// What to read before the work is given up: again, when the power readings alone may be what speaks against it, or more, when it is
    /// not quite certain.
    pub(crate) fn before_giving_up(&self) -> Option<String> {
        let certain = reach::out_of_reach(self.case, self.problem, self.plan, CERTAIN).is_some();
        let bends = self.problem.limits_bend();
        let in_reach =
            self.doubt.as_ref().is_some_and(|doubt| IN_REACH < self.problem.can_end_inside(doubt));
        let enough = if bends { worth::MOST_POWERS } else { ENOUGH };
        if in_reach && self.n_powers() < enough {
            return Some(format!(
                "{}: a wrong reading would not have been noticed yet",
                self.power_once_more()
            ));
        }
        let help = self.help_at_hand().filter(|help| !certain && WORTH_WAITING <= help.narrows);
        help.map(Help::words)
    }

    /// What to read again when a cut may leave a piece that no further cut brings inside: one in some thousands of blanks, or a reading
    /// that is wrong and would not have been noticed.
    pub(crate) fn may_spoil(&self, cuts: Cuts, spoils: f64) -> Option<String> {
        let narrows = worth::of_another_power(&self.case.piece, self.problem.held_at)?;
        let n_powers = self.n_powers();
        if spoils <= MOST_SPOILT || narrows < WORTH_A_MINUTE || worth::MOST_POWERS <= n_powers {
            return None;
        }
        let units = self.case.units;
        let stands = match n_powers {
            0 | 1 => "only one reading of power stands".to_owned(),
            n => format!("{n} readings of power stand"),
        };
        Some(format!(
            "{}: {stands} behind a cut of {}, and the chance that it leaves a piece which no further cut brings inside the limits \
             is {}",
            self.power_once_more(),
            words::cuts(units, cuts.tip, cuts.butt),
            words::rare(spoils),
        ))
    }

    /// What to read again before the work ends, as long as the piece may bend outside of a limit.
    pub(crate) fn before_ending(&self) -> Option<String> {
        let inside = self.problem.ended(Cuts::default(), self.doubt.as_ref()?)?.inside;
        let narrows = worth::of_another_power(&self.case.piece, self.problem.held_at)?;
        let asks = inside < SURELY_INSIDE
            && WORTH_A_MINUTE <= narrows
            && self.n_powers() < worth::MOST_POWERS;
        asks.then(|| {
            format!(
                "{}: as it stands it is inside all limits with a chance of {:.0} % only",
                self.power_once_more(),
                100.0 * inside
            )
        })
    }

    fn power_once_more(&self) -> String {
        let power = worth::power(self.problem.held_at, self.case.units);
        format!("{power}, once more, clamped anew")
    }

    pub(crate) fn n_powers(&self) -> usize {
        guard::n_power_readings(&self.case.piece)
    }

    /// The reading that would help most, where it can be asked for before the saw.
    pub(crate) fn help_at_hand(&self) -> Option<&Help> {
        self.help.as_ref().filter(|help| help.at_hand)
    }
}
