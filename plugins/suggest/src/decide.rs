//! The questions before a cut, in their order: is there work at all, can the readings be trusted, can the aim be reached,
//! what is sure to be needed; and when nothing is, whether to measure or to stop.

use taperbook_bench::{Cuts, limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{End, Limit, Measure, Verdict};
use taperbook_units::Length;

use crate::brief::{Brief, is_bent, is_length};
use crate::case::Case;
use crate::guard::{self, Checked};
use crate::reach;
use crate::step::{LEAST_CUT, Plan, Step, at_end, can_still_be_finished, marked};
use crate::target::Problem;
use crate::words;
use crate::worth::{self, Help};

/// What to do now.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Decision {
    /// Cut this.
    Cut(Cuts),
    /// Stop; why.
    Stop(String),
    /// Measure this first.
    Measure(String),
}

/// What was decided and why.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Decided {
    pub(crate) decision: Decision,
    /// All that is still to come off, as far as is known.
    pub(crate) remaining: Cuts,
    /// How likely all limits are kept after all of that.
    pub(crate) chance: Option<f64>,
    /// The reading that would help most, where it is not the decision itself.
    pub(crate) helps: Option<String>,
    pub(crate) words: Vec<String>,
}

impl Decided {
    fn only(decision: Decision) -> Self {
        Self { decision, remaining: Cuts::default(), chance: None, helps: None, words: Vec::new() }
    }
}

/// Below this chance of being inside all limits, a reading is asked for where one would help.
const LIKELY_INSIDE: f64 = 0.9;
/// A reading that is asked for before anything else must narrow the range by this part.
const WORTH_WAITING: f64 = 0.15;

/// Decides what to do with a build.
pub(crate) fn decide(case: &Case) -> Decided {
    let Some(build) = case.build() else { return Decided::only(Decision::Stop(no_brief(case))) };
    let piece = &case.piece;
    let settled = &piece.walk.settled;
    let finished = match build.verdict.as_ref().map(|verdict| verdict.value) {
        Some(Verdict::Keep) => Some("the verdict is `keep`: the work is done"),
        Some(Verdict::Scrap) => Some("the verdict is `scrap`: there is nothing left to do"),
        _ if settled.tip.is_some() && settled.butt.is_some() => {
            Some("both ends are settled: the work is done; take out a `settled` to go on")
        }
        _ if build.limits.is_empty() && build.aim.is_empty() => Some(
            "nothing says what this is to become: write what the customer allows and what you try for, such as \
             `limits: { length: 6'8\" .. 7'0\", power: 200 g .. 260 g }` and `aim: { length: 6'10\", power: 235 g }`",
        ),
        _ => None,
    };
    if let Some(why) = finished {
        return Decided::only(Decision::Stop(why.to_owned()));
    }
    let Some(present) = piece.walk.present().length else {
        let what = match &piece.fitted {
            Err(what) if piece.walk.unread_cut.is_some() => what.clone(),
            _ => "length of the bare blank: nothing says how long it is".to_owned(),
        };
        return Decided::only(Decision::Measure(what));
    };
    let brief = Brief::new(build, piece, case.blank(), present, case.units);
    if let Some(what) = missing(case, &brief) {
        return Decided::only(Decision::Measure(what));
    }
    let held_at = case.held_at.unwrap_or_default();
    let Ok(fitted) = &piece.fitted else { return weigh(case, &brief, held_at, None) };
    if !brief.measures().into_iter().any(is_bent) {
        return weigh(case, &brief, held_at, None);
    }
    match guard::checked(piece, fitted) {
        Checked::Agree => weigh(case, &brief, held_at, None),
        Checked::Contradict { reading_idx } => {
            let read_again = format!(
                "{}, once more: {}",
                worth::power(held_at, case.units),
                contradiction(case, reading_idx)
            );
            Decided::only(Decision::Measure(read_again))
        }
        Checked::LeftOut { reading_idx, fitted } => {
            let left_out = format!(
                "{} does not fit the others and is left out of account: take it out of the bench if it was a slip",
                reading_words(case, reading_idx)
            );
            let case = case.with(*fitted);
            let mut decided = weigh(&case, &brief, held_at, Some(reading_idx));
            decided.words.insert(0, left_out);
            decided
        }
    }
}

fn no_brief(case: &Case) -> String {
    format!(
        "a blank card has no customer: write a build with `blank: {}`, `limits` and an `aim`, and ask for that",
        case.blank_name()
    )
}

/// What must be measured or written before anything can be said.
fn missing(case: &Case, brief: &Brief) -> Option<String> {
    let measures = brief.measures();
    let piece = &case.piece;
    if measures.iter().any(|measure| !is_length(*measure))
        && let Err(what) = &piece.fitted
    {
        return Some(what.clone());
    }
    let bent = measures.iter().copied().find(|measure| is_bent(*measure));
    let free = measures.contains(&Measure::FreeLength);
    if (bent.is_some() || free) && case.held_at.is_none() {
        return Some(
            "where it is held: write `held_at: 9 in` in the record, its blank card or shop.yaml"
                .to_owned(),
        );
    }
    let teaches = |measure: Option<Measure>| {
        matches!(measure, None | Some(Measure::Power | Measure::Recovery))
    };
    let never_bent = !piece.taken.iter().any(|taken| teaches(taken.measure));
    bent.filter(|_| never_bent).map(|bent| {
        format!(
            "{}: {} is asked for, and nothing was read yet of how this piece bends",
            worth::power(case.held_at.unwrap_or_default(), case.units),
            bent.words()
        )
    })
}

/// Weighs the cuts, once the readings are trusted.
fn weigh(case: &Case, brief: &Brief, held_at: Length, left_out: Option<usize>) -> Decided {
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
    let weighed = Weighed { case, problem: &problem, plan: &plan, now: now.as_ref(), help };
    if let Some(why) = reach::out_of_reach(case, &problem, &plan, now.as_ref()) {
        let decision = match weighed.stands_alone(left_out) {
            Some(read_again) => Decision::Measure(format!("{read_again}, and as it stands {why}")),
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
    let cut = match plan.step(&problem, first, case.saw) {
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
            weighed.alone(second)
        }
        Step::Done => weighed.alone(second),
    };
    let Some((end, cut, alone)) = cut else { return weighed.nothing_sure() };
    let plan = alone.as_ref().unwrap_or(&plan);
    if let Some(ask) = weighed.spoilt_if_slipped(end, cut, left_out) {
        return weighed.decided(Decision::Measure(ask), plan, Vec::new());
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
struct Weighed<'a> {
    case: &'a Case,
    problem: &'a Problem<'a>,
    plan: &'a Plan,
    now: Option<&'a Outcome>,
    help: Option<Help>,
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

    /// The reading that is missing since the last cut.
    fn not_read_since(&self) -> Option<String> {
        let bent = self.problem.measures.iter().copied().any(is_bent);
        (bent && guard::n_power_readings(&self.case.piece) == 0).then(|| {
            let power = worth::power(self.problem.held_at, self.case.units);
            format!("{power}: nothing was read since the last cut of how the piece bends")
        })
    }

    /// What to measure before anything is cut, when the best cuts would not be likely enough to end inside the limits.
    fn too_little_known(&self) -> Option<String> {
        let help = self.help.as_ref().filter(|help| WORTH_WAITING <= help.narrows)?;
        let chance =
            self.chance(self.plan.there.as_ref()).filter(|chance| *chance < LIKELY_INSIDE)?;
        let cuts = self.plan.target.cuts;
        (LEAST_CUT <= cuts.tip || LEAST_CUT <= cuts.butt).then(|| {
            format!(
                "{}; as it stands even the best cut would end inside all limits with a chance of {:.0} % only",
                help.words(),
                100.0 * chance
            )
        })
    }

    /// What to measure before an end is left as it is, when that would make a good part of its cut sure.
    fn first_measure(&self, end: End) -> Option<String> {
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

    /// What to read again when nothing but one power reading says that the work can't be done.
    fn stands_alone(&self, left_out: Option<usize>) -> Option<String> {
        let fitted = self.case.piece.fitted.as_ref().ok()?;
        let bent = self.problem.measures.iter().copied().any(is_bent);
        let doubted = bent
            && [guard::TOO_LOW, guard::TOO_HIGH].into_iter().any(|slip| {
                guard::is_likely(guard::unnoticed_slip(&self.case.piece, fitted, left_out, slip))
            });
        doubted.then(|| {
            let power = worth::power(self.problem.held_at, self.case.units);
            format!(
                "{power}, once more, clamped anew: a wrong reading would not have been noticed yet"
            )
        })
    }

    /// What to read again when a cut would spoil the piece if the reading that stands behind it were a slip that nobody
    /// would have noticed.
    fn spoilt_if_slipped(&self, end: End, cut: Length, left_out: Option<usize>) -> Option<String> {
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

    /// Nothing is sure to be needed: the work is done, or something must be measured, or nothing more can be told.
    fn nothing_sure(&self) -> Decided {
        let units = self.case.units;
        let standing = reach::standing(self.case, self.problem, self.now);
        let rest = self.plan.target.cuts;
        let no_more = rest.tip < LEAST_CUT && rest.butt < LEAST_CUT;
        let outside = self.outside();
        if outside.is_empty() && no_more {
            let words = if self.problem.brief.aims.is_empty() {
                "inside all limits, and no `aim` asks for more".to_owned()
            } else {
                format!("the aim is reached: {standing}")
            };
            return self.decided(Decision::Stop(words), self.plan, Vec::new());
        }
        if let Some(ask) = self.not_read_since() {
            return self.decided(Decision::Measure(ask), self.plan, Vec::new());
        }
        let inside = self.chance(self.now);
        let doubtful = !outside.is_empty() || inside.is_some_and(|inside| inside < LIKELY_INSIDE);
        if let Some(help) =
            self.help.as_ref().filter(|help| doubtful && WORTH_WAITING <= help.narrows)
        {
            let ask = format!(
                "{}; whether more must come off can't be told before: {standing}",
                help.words()
            );
            return self.decided(Decision::Measure(ask), self.plan, Vec::new());
        }
        if let Some(cuts) = self.plan.demanded_anyway(self.problem, self.case.saw) {
            let words = vec![
                standing,
                format!(
                    "the longest length allowed asks for {} less, and no reading would tell better from which end: this is \
                     the likeliest",
                    units.cut(cuts.total())
                ),
            ];
            return self.decided(Decision::Cut(cuts), self.plan, words);
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
                "{}, and {standing}: no cut is sure to be needed, so what is there stays; agree wider `limits`, or level the \
                 clamp and state its `tilt` under `errors` in shop.yaml, to be told more",
                words::list(&limits)
            )
        };
        self.decided(Decision::Stop(words), self.plan, Vec::new())
    }

    /// The limits that the likeliest numbers of the piece as it is don't keep.
    fn outside(&self) -> Vec<&Limit> {
        let kept = |limit: &&Limit| {
            let value = self.problem.value(limit.measure, Cuts::default());
            value.is_some_and(|value| limits::range_of(limit).holds(value))
        };
        self.problem.brief.limits.iter().filter(|limit| !kept(limit)).collect()
    }

    fn why_this_cut(&self, plan: &Plan, end: End, cut: Length, first: End) -> Vec<String> {
        let units = self.case.units;
        let brief = self.problem.brief;
        let rest = plan.target.cuts;
        let mut words = vec![
            reach::standing(self.case, self.problem, self.now),
            format!(
                "{} would meet the aim, as far as can be told now",
                words::cuts(units, rest.tip, rest.butt)
            ),
        ];
        words.extend(reach::compromise(self.case, self.problem, plan));
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
            words.extend(brief.room(end).barrier.clone());
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

    fn decided(&self, decision: Decision, plan: &Plan, words: Vec<String>) -> Decided {
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
    fn chance(&self, outcome: Option<&Outcome>) -> Option<f64> {
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

/// What a reading said: `the power of 265 g in item 6`.
fn reading_words(case: &Case, reading_idx: usize) -> String {
    let taken = &case.piece.taken[reading_idx];
    let read =
        case.piece.fitted.as_ref().ok().and_then(|fitted| fitted.all.residuals().get(reading_idx));
    let measure = taken.measure.unwrap_or(Measure::Power);
    let value = read.map_or_else(String::new, |read| {
        format!(" of {}", words::value(case.units, measure, read.read))
    });
    format!("the {}{value} in item {}", measure.words(), taken.item + 1)
}

/// What a reading is against.
fn contradiction(case: &Case, reading_idx: usize) -> String {
    let taken = &case.piece.taken[reading_idx];
    let measure = taken.measure.unwrap_or(Measure::Power);
    let others = case.piece.fitted.as_ref().ok().and_then(|fitted| {
        let without = fitted.without(&[reading_idx]).ok()?;
        without.residuals().get(reading_idx)?.predicted.ok()
    });
    let expected = others.map_or_else(String::new, |si| {
        format!(", which lead to expect {}", words::value(case.units, measure, si))
    });
    format!(
        "{} contradicts the other readings, the card and the past builds{expected}",
        reading_words(case, reading_idx)
    )
}
