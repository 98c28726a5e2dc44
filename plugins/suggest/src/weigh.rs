//! The cuts weighed, once the readings are trusted: can the aim be reached, what is sure to be needed, and when nothing is,
//! whether to measure or to stop.

use taperbook_bench::{Cuts, limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{End, Limit, Measure};
use taperbook_units::Length;

use crate::brief::Brief;
use crate::case::Case;
use crate::decide::{Decided, Decision};
use crate::doubt::Doubt;
use crate::problem::{NINETY_FIVE, Problem};
use crate::reach;
use crate::step::{LEAST_CUT, MOST_SPOILT, Plan, Step, at_end, largest, marked};
use crate::words;
use crate::worth::{self, Help};

/// Below this chance of being inside all limits, a reading is asked for where one would help.
pub(crate) const LIKELY_INSIDE: f64 = 0.9;
/// How sure it must be that some cut is needed, and that a piece is inside all limits for nobody to look again.
pub(crate) const SURELY_INSIDE: f64 = 0.95;
/// A reading that is asked for before anything else must narrow the range by this part.
pub(crate) const WORTH_WAITING: f64 = 0.15;

/// Weighs the cuts, once the readings are trusted.
pub(crate) fn weigh(case: &Case, brief: &Brief, held_at: Length) -> Decided {
    let off = case.piece.walk.present().off;
    let now = case.piece.outcome(off, held_at).ok();
    let problem = Problem::new(&case.piece, brief, held_at, now.as_ref());
    let Some(plan) = Plan::new(&problem, [true, true]) else {
        let why = problem
            .measures
            .iter()
            .find_map(|measure| now.as_ref()?.value(to_mechanics(*measure)).err());
        let why = why.map_or_else(
            || "the numbers of this blank can't be worked out".to_owned(),
            |why| why.to_string(),
        );
        return Decided::only(Decision::Stop(format!("no cut can be worked out: {why}")));
    };
    let help = worth::help(&case.piece, brief, held_at, case.units);
    let fitted = case.piece.fitted.as_ref().ok();
    let doubt =
        fitted.zip(now.as_ref()).and_then(|(fitted, now)| Doubt::of(&case.piece, fitted, now));
    let weighed = Weighed { case, problem: &problem, plan: &plan, help, doubt };
    if let Some(ask) = weighed.length_not_read() {
        return weighed.decided(Decision::Measure(ask), &plan, Vec::new());
    }
    if let Some(why) = reach::out_of_reach(case, &problem, &plan, NINETY_FIVE) {
        let decision = match weighed.before_giving_up() {
            Some(ask) => Decision::Measure(format!("{ask}; as it stands {why}")),
            None => Decision::Stop(why),
        };
        return weighed.decided(decision, &plan, Vec::new());
    }
    if let Some(ask) = weighed.too_little_known() {
        let ask = weighed.not_read_since().unwrap_or(ask);
        return weighed.decided(Decision::Measure(ask), &plan, Vec::new());
    }
    let first = first_end(&problem);
    let second = if first == End::Tip { End::Butt } else { End::Tip };
    let mut words = Vec::new();
    let step = plan.step(&problem, first, case.saw);
    // A first step teaches what a cut does; a second would teach little more.
    if matches!(step, Step::Cut(_))
        && Length::default() < off.total()
        && let Some(decided) = weighed.finished()
    {
        return decided;
    }
    let cut = match step {
        Step::Cut(cut) => Some((first, cut, None)),
        Step::Held => {
            words.push(format!(
                "the {} waits: what is needed there would endanger a limit before the {} is cut",
                words::end(first),
                words::end(second)
            ));
            match plan.step(&problem, second, case.saw) {
                Step::Cut(cut) => Some((second, cut, None)),
                _ => None,
            }
        }
        Step::Unsure => {
            if let Some(ask) = weighed.not_read_since().or_else(|| weighed.first_measure(first)) {
                return weighed.decided(Decision::Measure(ask), &plan, Vec::new());
            }
            if let Some(decided) = weighed.finished() {
                return decided;
            }
            weighed.alone(second)
        }
        Step::Done => weighed.alone(second),
    };
    let Some((end, cut, alone)) = cut else { return weighed.nothing_sure() };
    let plan = alone.as_ref().unwrap_or(&plan);
    let spoils = |cut: Length| weighed.spoils(at_end(end, cut));
    if let Some(ask) = weighed.may_spoil(at_end(end, cut), spoils(cut)) {
        return weighed.decided(Decision::Measure(ask), plan, Vec::new());
    }
    let cut = marked(largest(cut, |cut| spoils(cut) <= MOST_SPOILT), case.units);
    if cut < LEAST_CUT {
        return weighed.nothing_sure();
    }
    words.extend(weighed.why_this_cut(plan, end, cut, first));
    weighed.decided(Decision::Cut(at_end(end, cut)), plan, words)
}

/// Usually the tip goes first, because it decides and the butt only fits; an end whose diameter must fit a part may go
/// before it (common practice, no source).
fn first_end(problem: &Problem) -> End {
    let brief = problem.brief;
    let present = problem.value(Measure::ButtOd, Cuts::default());
    let too_thick = brief
        .limit(Measure::ButtOd)
        .zip(present)
        .is_some_and(|(limit, od)| limits::range_of(limit).high < od);
    let aimed = brief.aims.iter().any(|aim| {
        aim.measure == Measure::ButtOd
            && aim.stated
            && present.is_some_and(|od| aim.value + aim.tolerance < od)
    });
    if too_thick || aimed { End::Butt } else { End::Tip }
}

/// A case with its best cuts.
pub(crate) struct Weighed<'a> {
    pub(crate) case: &'a Case,
    pub(crate) problem: &'a Problem<'a>,
    pub(crate) plan: &'a Plan,
    pub(crate) help: Option<Help>,
    /// How unsure its power is, slips counted; none where it can't be worked out.
    pub(crate) doubt: Option<Doubt>,
}

impl Weighed<'_> {
    /// What can be cut at one end when the other stays as it is.
    fn alone(&self, end: End) -> Option<(End, Length, Option<Plan>)> {
        let alone = Plan::new(self.problem, [end == End::Tip, end == End::Butt])?;
        match alone.step(self.problem, end, self.case.saw) {
            Step::Cut(cut) => Some((end, cut, Some(alone))),
            _ => None,
        }
    }

    /// Nothing is sure to be needed: the work is done, or something must be measured, or nothing more can be told.
    fn nothing_sure(&self) -> Decided {
        let units = self.case.units;
        let standing = reach::standing(self.case, self.problem);
        let rest = self.plan.target.cuts;
        let no_more = rest.tip < LEAST_CUT && rest.butt < LEAST_CUT;
        let outside = self.outside();
        let inside = self.chance(self.problem.now);
        if outside.is_empty()
            && no_more
            && let Some(ask) = self.before_ending()
        {
            return self.decided(Decision::Measure(ask), self.plan, Vec::new());
        }
        if outside.is_empty() && no_more {
            let words = if self.problem.brief.aims.is_empty() {
                "inside all limits, and no `aim` asks for more".to_owned()
            } else if self.misses_an_aim() {
                format!("inside all limits, and no further cut comes nearer to the aim: {standing}")
            } else {
                format!("the aim is reached: {standing}")
            };
            return self.decided(Decision::Stop(words), self.plan, Vec::new());
        }
        if let Some(ask) = self.not_read_since() {
            return self.decided(Decision::Measure(ask), self.plan, Vec::new());
        }
        let doubtful = !outside.is_empty() || inside.is_some_and(|inside| inside < LIKELY_INSIDE);
        if let Some(help) =
            self.help_at_hand().filter(|help| doubtful && WORTH_WAITING <= help.narrows)
        {
            let ask = format!(
                "{}; whether more must come off can't be told before: {standing}",
                help.words()
            );
            return self.decided(Decision::Measure(ask), self.plan, Vec::new());
        }
        if let Some(decided) = self.finished() {
            return decided;
        }
        if let Some(ask) = self.before_ending() {
            return self.decided(Decision::Measure(ask), self.plan, Vec::new());
        }
        let words = if outside.is_empty() {
            format!(
                "inside all limits; {standing}: a further cut of {} would change less than can be told",
                words::cuts(units, rest.tip, rest.butt)
            )
        } else {
            let limits: Vec<String> = outside
                .iter()
                .map(|limit| {
                    format!("{} should be {}", limit.measure.words(), words::limit(units, limit))
                })
                .collect();
            format!(
                "{}, and {standing}: no cut is sure to be needed, so what is there stays; agree wider `limits`, or measure \
                 how the clamp is tilted and state it as the board's `tilt` in shop.yaml, to be told more",
                words::list(&limits)
            )
        };
        self.decided(Decision::Stop(words), self.plan, Vec::new())
    }

    /// How much likelier a cut makes it that no further cut brings the piece inside.
    fn spoils(&self, cuts: Cuts) -> f64 {
        let Some(doubt) = &self.doubt else { return 0.0 };
        self.problem.spoilt(cuts, doubt) - self.problem.spoilt(Cuts::default(), doubt)
    }

    /// The limits that the likeliest numbers of the piece as it is don't keep.
    fn outside(&self) -> Vec<&Limit> {
        let kept = |limit: &&Limit| {
            let value = self.problem.value(limit.measure, Cuts::default());
            value.is_some_and(|value| limits::range_of(limit).holds(value))
        };
        self.problem.brief.limits.iter().filter(|limit| !kept(limit)).collect()
    }

    pub(crate) fn decided(&self, decision: Decision, plan: &Plan, words: Vec<String>) -> Decided {
        let done = plan.target.cuts.tip < LEAST_CUT && plan.target.cuts.butt < LEAST_CUT;
        let helps = match &decision {
            Decision::Measure(_) => None,
            Decision::Stop(_) if done => None,
            _ => self.not_read_since().or_else(|| self.help.as_ref().map(Help::words)),
        };
        Decided {
            decision,
            remaining: plan.target.cuts,
            chance: self.chance(plan.there.as_ref()),
            helps,
            words,
        }
    }

    /// How likely all limits are kept, by an outcome or else by the target's lengths.
    pub(crate) fn chance(&self, outcome: Option<&Outcome>) -> Option<f64> {
        let limits = self.problem.brief.limits;
        match outcome {
            Some(outcome) => limits::chance_of_all(outcome, limits),
            None if limits.is_empty() => None,
            None => {
                let values = self.problem.values(self.plan.target.cuts)?;
                let kept = |limit: &Limit| {
                    let idx =
                        self.problem.measures.iter().position(|measure| *measure == limit.measure);
                    idx.is_some_and(|idx| limits::range_of(limit).holds(values[idx]))
                };
                Some(f64::from(u8::from(limits.iter().all(kept))))
            }
        }
    }
}
