//! The reasons of a cut in words, each of which a builder can act on.

use taperbook_record::End;
use taperbook_units::Length;

use crate::reach;
use crate::step::{LEAST_CUT, Plan, at_end};
use crate::weigh::Weighed;
use crate::words;

/// What stands in the way of a cut is told where the cut ends so near to it.
const NEAR: Length = Length::from_mm(150.0);

impl Weighed<'_> {
    /// Says why this cut, what comes after it, and how to make it; `first` is the end that goes first.
    pub(crate) fn why_this_cut(
        &self,
        plan: &Plan,
        end: End,
        cut: Length,
        first: End,
    ) -> Vec<String> {
        let units = self.case.units;
        let brief = self.problem.brief;
        let rest = plan.target.cuts;
        let mut words = vec![reach::standing(self.case, self.problem)];
        let all = words::cuts(units, rest.tip, rest.butt);
        let left_alone = if end == End::Tip { End::Butt } else { End::Tip };
        // What is planned for one end alone leaves the other as it is, though it may be thought to need a cut too.
        words.push(match self.plan.at(left_alone).0 {
            unsure if plan.at(left_alone).0 < LEAST_CUT && LEAST_CUT <= unsure => format!(
                "{all} is best with the {0} left as it is: {1} off the {0} would suit, but none of it is sure to be needed",
                words::end(left_alone),
                units.cut(unsure)
            ),
            _ => reach::compromise(self.problem, plan, units)
                .map(|nearest| format!("{all} comes nearest to the aims, which can't all be met at once: {nearest}"))
                .unwrap_or_else(|| format!("{all} would meet the aim, as far as can be told now")),
        });
        let (best, _) = plan.at(end);
        let name = words::end(end);
        words.push(if best - cut < LEAST_CUT {
            format!("{} off the {name} is sure to be needed: tape at the mark, cut, and read length and power again", units.cut(cut))
        } else {
            format!(
                "of the {} off the {name}, {} is at least 95 % sure to be needed: cut that, read length and power, and ask again",
                units.cut(best),
                units.cut(cut)
            )
        });
        let other = if end == End::Tip { rest.butt } else { rest.tip };
        if LEAST_CUT <= other {
            words.push(match first {
                End::Tip => "the tip goes before the butt: it decides, and the butt only fits (common practice, no source)",
                End::Butt => "the butt goes first: its diameter must fit a part (common practice, no source)",
            }.to_owned());
        }
        for end in [End::Tip, End::Butt] {
            // A joint far from where anything is cut is nothing to think of.
            let room = brief.room(end);
            let is_near = room.most - plan.at(end).0 < NEAR;
            words.extend(room.barrier.clone().filter(|_| is_near));
        }
        if let Some(planned) = brief.planned {
            let most = at_end(end, cut);
            let within = most.tip <= planned.tip && most.butt <= planned.butt;
            let your_plan = words::cuts(units, planned.tip, planned.butt);
            words.push(if within {
                format!("this is a part of your plan of {your_plan}")
            } else {
                format!("your plan was {your_plan}: this goes beyond it, so look at it twice")
            });
        }
        words.push(
            match end {
                End::Tip => "a fine rotary disc for a thin tip (common practice, no source)",
                End::Butt => "a fine saw in a guide for a thick butt (common practice, no source)",
            }
            .to_owned(),
        );
        words
    }
}
