//! The questions before anything is weighed: is there work at all, is enough written and measured, can the readings be
//! trusted.
//!
//! What the cuts are is for [`crate::weigh`].

use taperbook_bench::Cuts;
use taperbook_record::{Measure, Verdict};

use crate::brief::{Brief, is_bent, is_length};
use crate::case::Case;
use crate::disagree::disagreement;
use crate::guard::{self, Checked};
use crate::taste::lean;
use crate::weigh::weigh;
use crate::words;
use crate::worth;

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
    /// A decision with nothing to cut.
    pub(crate) fn only(decision: Decision) -> Self {
        Self { decision, remaining: Cuts::default(), chance: None, helps: None, words: Vec::new() }
    }
}

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
    let mut brief = Brief::new(build, piece, case.blank(), present, case.units);
    brief.leans = lean(build, &mut brief.aims, &case.liked, &case.record.id);
    if let Some(what) = missing(case, &brief) {
        return Decided::only(Decision::Measure(what));
    }
    let held_at = case.held_at.unwrap_or_default();
    let Ok(fitted) = &piece.fitted else { return weigh(case, &brief, held_at) };
    if !brief.measures().into_iter().any(is_bent) {
        return weigh(case, &brief, held_at);
    }
    match guard::checked(piece, fitted) {
        Checked::Agree => match disagreement(case) {
            Some(apart) if apart.read_again => Decided::only(Decision::Measure(apart.words)),
            apart => {
                let mut decided = weigh(case, &brief, held_at);
                decided.words.extend(apart.map(|apart| apart.words));
                let left_out = left_out(case, None, &fitted.strays);
                decided.words.splice(0..0, left_out);
                decided
            }
        },
        Checked::Contradict { reading_idx } => {
            let read_again = format!(
                "{}, once more: {}",
                worth::power(held_at, case.units),
                contradiction(case, reading_idx)
            );
            Decided::only(Decision::Measure(read_again))
        }
        Checked::Apart { readings } => {
            let named: Vec<String> =
                readings.iter().map(|reading_idx| reading_words(case, *reading_idx)).collect();
            Decided::only(Decision::Measure(format!(
                "{}, three times, clamped anew each time: {} don't go together; check the weights, the scale and where it was held, \
                 and take out of the bench what was a slip",
                worth::power(held_at, case.units),
                words::list(&named)
            )))
        }
        Checked::LeftOut { reading_idx, fitted } => {
            let left_out = left_out(case, Some(reading_idx), &fitted.strays);
            let case = case.with(*fitted);
            let mut decided = weigh(&case, &brief, held_at);
            decided.words.splice(0..0, left_out);
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
    let held_at = case.held_at.unwrap_or_default();
    bent.filter(|_| never_bent).map(|bent| {
        if let Some(clamp) = worth::of_the_clamp(piece, held_at, case.units) {
            return format!(
                "{clamp}; past builds were read in it, and tell the less of this piece the less is known of it"
            );
        }
        format!(
            "{}: {} is asked for, and nothing was read yet of how this piece bends",
            worth::power(held_at, case.units),
            bent.words()
        )
    })
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

/// That a reading, and those that are all but proven to be slips, count for nothing; `None` where all count.
fn left_out(case: &Case, reading_idx: Option<usize>, strays: &[usize]) -> Option<String> {
    let taken = &case.piece.taken;
    let mut all: Vec<usize> = strays.iter().copied().filter(|idx| *idx < taken.len()).collect();
    all.extend(reading_idx);
    all.sort_unstable();
    all.dedup();
    let same_bend = |one: &usize, other: &usize| {
        taken[*one].measure.is_none() && taken[*one].span == taken[*other].span
    };
    let named: Vec<String> = (all.chunk_by(same_bend))
        .map(|together| match taken[together[0]].measure {
            None => format!("what was bent under a weight in item {}", taken[together[0]].item + 1),
            Some(_) => reading_words(case, together[0]),
        })
        .collect();
    Some(match named.as_slice() {
        [] => return None,
        [one] => format!(
            "{one} does not fit the others and is left out of account: take it out of the bench if it was a slip"
        ),
        several => format!(
            "{} don't fit together or with the others and are left out of account: take out of the bench what was a slip",
            words::list(several)
        ),
    })
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
