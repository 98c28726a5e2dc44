//! How the work ends: the cut that ends it, and whether the aims are met where nothing more is cut.
//!
//! Which further cuts are best is for [`crate::finish`], and whether a step comes before them for [`crate::weigh`].

use taperbook_bench::{Cuts, limits};
use taperbook_record::End;
use taperbook_units::Length;

use crate::brief::{larger, smaller, usual_tolerance};
use crate::decide::{Decided, Decision};
use crate::doubt::{Doubt, unsure};
use crate::finish::Finish;
use crate::problem::NINETY_FIVE;
use crate::reach;
use crate::step::{LEAST_CUT, at_end, marked, nearest_mark, too_long};
use crate::weigh::{SURELY_INSIDE, Weighed};

impl Weighed<'_> {
    /// The cut that ends the work, where some cut is sure to be needed and no reading would tell better from which end.
    ///
    /// A piece that is not surely below the longest length allowed, and of which the aims ask for more, needs one too: left as it is it
    /// would be too long as often as not.
    pub(crate) fn finished(&self) -> Option<Decided> {
        let outside =
            self.chance(self.problem.now).is_some_and(|inside| inside <= 1.0 - SURELY_INSIDE);
        let too_long = too_long(self.problem);
        let at_the_longest =
            Length::default() < too_long && LEAST_CUT <= self.plan.target.cuts.total();
        if too_long < LEAST_CUT && !outside && !at_the_longest {
            return None;
        }
        let best = self.finish()?;
        if let Some(ask) = self.may_spoil(best.cuts, best.spoilt) {
            return Some(self.decided(Decision::Measure(ask), self.plan, Vec::new()));
        }
        let comes_off = self.case.units.cut(best.cuts.total());
        let why = match at_the_longest && too_long < LEAST_CUT && !outside {
            true => format!(
                "it is not surely below the longest length allowed, and the aims ask for more: with {comes_off} off"
            ),
            false => format!(
                "{comes_off} must come off, and no reading that is at hand would tell much better from which end: shared so"
            ),
        };
        let words = vec![
            reach::standing(self.case, self.problem),
            format!(
                "{why} it ends inside all limits with a chance of {:.0} %",
                100.0 * best.inside
            ),
        ];
        Some(self.decided(Decision::Cut(best.cuts), self.plan, words))
    }

    /// The further cuts that end the work best, as they can be marked.
    fn finish(&self) -> Option<Finish> {
        let units = self.case.units;
        let total = self.plan.target.cuts.total();
        let there = self.plan.there.as_ref().and_then(unsure);
        let doubt = match (&self.doubt, there) {
            (Some(doubt), Some(unsure)) => doubt.clone().known_to(unsure),
            (Some(doubt), None) => doubt.clone(),
            (None, _) => Doubt::none(),
        };
        let best = self.problem.finish(total, &doubt)?;
        let worth = |cut: Length| if cut < LEAST_CUT { Length::default() } else { cut };
        let tip = worth(nearest_mark(best.cuts.tip, units));
        let butt =
            worth(smaller(marked(best.cuts.total() - tip, units), self.problem.brief.butt.most));
        let cuts = Cuts { tip, butt };
        if LEAST_CUT <= cuts.total() {
            return Some(Finish { cuts, ..best });
        }
        // Too little at either end to be sawn there may be enough at one.
        if total < LEAST_CUT {
            return None;
        }
        let whole = marked(larger(best.cuts.total(), LEAST_CUT * 1.2), units);
        [(End::Tip, self.problem.brief.tip.most), (End::Butt, self.problem.brief.butt.most)]
            .into_iter()
            .filter(|(_, most)| whole <= *most)
            .filter_map(|(end, _)| self.problem.ended(at_end(end, whole), &doubt))
            .max_by(|a, b| a.merit.total_cmp(&b.merit))
    }

    /// Whether the piece as it is misses an aim that was written by more than is usually minded, and for certain.
    pub(crate) fn misses_an_aim(&self) -> bool {
        self.problem.brief.aims.iter().filter(|aim| aim.stated).any(|aim| {
            let unsure = self.problem.now.map_or(0.0, |now| limits::deviation(now, aim.measure));
            let minded = f64::max(usual_tolerance(aim.measure, aim.value), NINETY_FIVE * unsure);
            let value = self.problem.value(aim.measure, Cuts::default());
            value.is_some_and(|value| minded < (value - aim.value).abs())
        })
    }
}
