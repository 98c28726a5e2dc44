//! The further cuts that best meet a brief, at what is now most likely.
//!
//! How sure they are is for [`crate::need`], and how much of them to cut now for [`crate::step`].

use rayon::prelude::*;
use taperbook_bench::{Cuts, limits};
use taperbook_record::Measure;
use taperbook_units::Length;

use crate::brief::{is_length, larger, smaller};
use crate::problem::{Problem, UNKNOWN};

/// The best further cuts.
#[derive(Debug, Clone)]
pub(crate) struct Target {
    pub(crate) cuts: Cuts,
    /// What the piece would then be, by [`Problem::measures`]; SI.
    pub(crate) values: Vec<f64>,
}

impl Problem<'_> {
    /// Finds the best further cuts with at most so much off either end; `None` when nothing can be computed.
    ///
    /// A grid first, because the cost has kinks and may have two valleys; then a finer one around its best;
    /// then damped Gauss–Newton, which finds the last tenth of a millimetre.
    pub(crate) fn best(&self, most: Cuts) -> Option<Target> {
        const N_TOTAL: u32 = 13;
        const N_TIP: u32 = 9;
        let most = Cuts { tip: smaller(most.tip, self.both), butt: smaller(most.butt, self.both) };
        let both = smaller(smaller(most.total(), self.both), self.by_shortest());
        let step = both / f64::from(N_TOTAL - 1);
        let mut points = vec![Cuts::default()];
        for total_idx in 1..N_TOTAL {
            let total = step * f64::from(total_idx);
            let (from, to) =
                (larger(total - most.butt, Length::default()), smaller(most.tip, total));
            let n_tip = if to - from < Length::from_mm(1e-6) { 1 } else { N_TIP };
            points.extend((0..n_tip).map(|tip_idx| {
                let tip = from + (to - from) * (f64::from(tip_idx) / f64::from(n_tip.max(2) - 1));
                Cuts { tip, butt: larger(total - tip, Length::default()) }
            }));
        }
        let mut best = self.least(points)?;
        let mut reach = [step, smaller(most.tip, both) / f64::from(N_TIP - 1)];
        for _ in 0..2 {
            best = self
                .least(self.around(best.0, reach, most, both))
                .filter(|finer| finer.1 < best.1)
                .unwrap_or(best);
            reach = reach.map(|reach| reach / 3.0);
        }
        let mut cuts = self.polished(best.0, most, both);
        if !self.measures.iter().copied().any(is_length) {
            cuts = self.at_one_end(cuts, most, both);
        }
        let cuts = Cuts { tip: unless_dust(cuts.tip), butt: unless_dust(cuts.butt) };
        Some(Target { cuts, values: self.values_in_full(cuts)? })
    }

    /// The cuts given, or less at one end alone where that is as good: without a word on the length many cuts make the same power, and
    /// from one to the other it goes along a bent valley.
    fn at_one_end(&self, cuts: Cuts, most: Cuts, both: Length) -> Cuts {
        const N_PARTS: u32 = 24;
        let none = Length::default();
        let ends = [Cuts { butt: none, ..most }, Cuts { tip: none, ..most }];
        let alone = ends.into_iter().filter_map(|most| {
            let part = |idx: u32| f64::from(idx) / f64::from(N_PARTS);
            let cut = |idx: u32| {
                within(Cuts { tip: most.tip * part(idx), butt: most.butt * part(idx) }, most, both)
            };
            let (near, _) = self.least((0..=N_PARTS).map(cut).collect())?;
            Some(self.polished(near, most, both))
        });
        alone
            .fold(cuts, |best, alone| if self.cost(alone) < self.cost(best) { alone } else { best })
    }

    /// How much may come off in all before the shortest length allowed is passed.
    fn by_shortest(&self) -> Length {
        let Some(limit) = self.brief.limit(Measure::Length) else { return self.both };
        let present = self.value(Measure::Length, Cuts::default()).unwrap_or(f64::INFINITY);
        Length::from_m((present - limits::range_of(limit).low).clamp(0.0, self.both.m()))
    }

    /// The point of least cost; the first of equals, so that the same question always gets the same answer.
    fn least(&self, points: Vec<Cuts>) -> Option<(Cuts, f64)> {
        let costs: Vec<f64> = points.par_iter().map(|cuts| self.cost(*cuts)).collect();
        let least = (0..costs.len()).min_by(|a, b| costs[*a].total_cmp(&costs[*b]))?;
        (costs[least] < UNKNOWN).then(|| (points[least], costs[least]))
    }

    /// A grid of 7 × 7 points around one, in the total and in the tip's part of it.
    fn around(&self, centre: Cuts, reach: [Length; 2], most: Cuts, both: Length) -> Vec<Cuts> {
        let part = |idx: i32| f64::from(idx) / 3.0;
        (-3..=3)
            .flat_map(|total_idx| (-3..=3).map(move |tip_idx| (total_idx, tip_idx)))
            .map(|(total_idx, tip_idx)| {
                let total = centre.total() + reach[0] * part(total_idx);
                let tip = centre.tip + reach[1] * part(tip_idx);
                within(Cuts { tip, butt: total - tip }, most, both)
            })
            .collect()
    }

    fn polished(&self, from: Cuts, most: Cuts, both: Length) -> Cuts {
        const N_ITERATIONS: usize = 12;
        const N_HALVINGS: usize = 5;
        let (mut cuts, mut cost) = (from, self.cost(from));
        let ends = [Length::default() < most.tip, Length::default() < most.butt];
        for _ in 0..N_ITERATIONS {
            let Some(slopes) = self.slopes(cuts, ends) else { break };
            let [tip, butt] = slopes.step();
            let taken = (0..N_HALVINGS).find_map(|halving| {
                let part = 0.5_f64.powi(i32::try_from(halving).unwrap_or(0));
                let moved = Cuts {
                    tip: cuts.tip + Length::from_m(part * tip),
                    butt: cuts.butt + Length::from_m(part * butt),
                };
                let moved = within(moved, most, both);
                Some((moved, self.cost(moved))).filter(|(_, lower)| *lower < cost)
            });
            let Some((moved, lower)) = taken else { break };
            let gained = cost - lower;
            (cuts, cost) = (moved, lower);
            if gained < 1e-12 * cost {
                break;
            }
        }
        cuts
    }
}

fn within(cuts: Cuts, most: Cuts, both: Length) -> Cuts {
    let none = Length::default();
    let tip = larger(smaller(smaller(cuts.tip, most.tip), both), none);
    let butt = larger(smaller(smaller(cuts.butt, most.butt), both - tip), none);
    Cuts { tip, butt }
}

/// Less than this is the saw's business, not the builder's.
fn unless_dust(cut: Length) -> Length {
    if cut < Length::from_mm(0.25) { Length::default() } else { cut }
}
