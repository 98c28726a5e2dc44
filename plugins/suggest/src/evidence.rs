//! The past builds that moved an answer.

mod query;
mod told;

use rayon::prelude::*;
use taperbook_bench::{Cuts, PastPiece, PieceState, piece, walk};
use taperbook_mechanics::fit::Measure as Number;
use taperbook_plugin::{Evidence, View};
use taperbook_record::{Action, Build, Measure, Record, Spanned, Verdict};
use taperbook_units::{Length, Units};

use crate::brief::Aim;
use crate::history::{Forecast, last_forecasts, past_pieces};
use crate::words;

pub(crate) use self::query::query;
pub(crate) use self::told::last_time;

/// How many are listed.
const MOST_LISTED: usize = 12;
/// How far powers of pieces of one model lie apart, as a part of it (common practice, no source).
const SPREAD: f64 = 0.05;
/// How long a quotation may be, in characters.
const MOST_CHARS: usize = 140;

/// The past builds that moved the answer, the weightiest first; their weights add up to 1.
///
/// A build's weight is the information that it gives on power at the target, 1/(its own variance + the pieces' spread²),
/// times how well it was liked and how much alike its aim was.
pub(crate) fn evidence(
    view: &View,
    card: Option<&str>,
    itself: &str,
    aims: &[Aim],
    target: Cuts,
    held_at: Length,
) -> Vec<Evidence> {
    let past = past_pieces(view, card, itself);
    let informs: Vec<f64> =
        past.par_iter().map(|past| information(past, target, held_at)).collect();
    let mut weighed: Vec<(f64, std::sync::Arc<Record>)> = past
        .iter()
        .zip(informs)
        .filter_map(|(past, informs)| {
            let record = view.record(&past.record)?;
            let weight = informs * liked(record.build()?) * alike(record.build()?, aims);
            (0.0 < weight).then_some((weight, record))
        })
        .collect();
    weighed.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.id.cmp(&b.1.id)));
    weighed.truncate(MOST_LISTED);
    let all: f64 = weighed.iter().map(|(weight, _)| weight).sum();
    let ids: Vec<&str> = weighed.iter().map(|(_, record)| record.id.as_str()).collect();
    let forecasts = last_forecasts(view, &ids);
    let listed = weighed.iter().zip(forecasts);
    listed
        .filter_map(|((weight, record), forecast)| told(view, record, weight / all, forecast))
        .collect()
}

/// What a past piece tells of power at the target: one over a variance of its logarithm.
fn information(past: &PastPiece, target: Cuts, held_at: Length) -> f64 {
    let Ok(outcome) = past.posterior.outcome(target.tip, target.butt, held_at) else { return 0.0 };
    let Ok(power) = outcome.value(Number::Power) else { return 0.0 };
    let variance = outcome.covariance(Number::Power, Number::Power) / (power * power);
    1.0 / (variance + SPREAD * SPREAD)
}

/// A build that came out well is a better example (common practice, no source).
fn liked(build: &Build) -> f64 {
    let rated = match build.rating.as_ref().map(|rating| rating.value) {
        Some(rating) => 0.4 + 0.2 * f64::from(rating.min(5)),
        None => 1.0,
    };
    match build.verdict.as_ref().map(|verdict| verdict.value) {
        Some(Verdict::Scrap) => 0.5 * rated,
        _ => rated,
    }
}

/// How much a build's aims are like these, 0.5 to 1.
fn alike(build: &Build, aims: &[Aim]) -> f64 {
    let apart: f64 = aims
        .iter()
        .filter_map(|aim| {
            let (_, other) = build.aim.iter().find(|(measure, _)| *measure == aim.measure)?;
            Some(((other.value.si - aim.value) / aim.tolerance).powi(2))
        })
        .sum();
    0.5 + 0.5 * (-0.5 * apart).exp()
}

fn told(view: &View, record: &Record, weight: f64, forecast: Option<Forecast>) -> Option<Evidence> {
    let build = record.build()?;
    let cut = came_off(&past_present(view, record, build));
    Some(Evidence {
        record: record.id.clone(),
        tip_cut_mm: cut.tip.mm(),
        butt_cut_mm: cut.butt.mm(),
        rating: build.rating.as_ref().map(|rating| rating.value),
        weight,
        miss_pct: forecast.map(|forecast| 100.0 * forecast.miss()),
        words: in_their_words(build),
    })
}

/// A cut that the tape gives the lie to by more is not what came off.
const BY_THE_TAPE: Length = Length::from_mm(3.0);

/// What came off: as it was logged, or where a length that was read says otherwise, as that tells.
fn came_off(present: &PieceState) -> Cuts {
    let (logged, off) = (present.logged.total(), present.off.total());
    let apart = if logged < off { off - logged } else { logged - off };
    if BY_THE_TAPE < apart { present.off } else { present.logged }
}

/// The state that a build ended in.
fn past_present(view: &View, record: &Record, build: &Build) -> PieceState {
    match piece(view, &record.id) {
        Some(past) => *past.walk.present(),
        None => *walk(build, None).present(),
    }
}

/// What was written of it: how it felt, else what the customer said, else what was agreed, else the verdict.
pub(crate) fn in_their_words(build: &Build) -> Option<String> {
    let feel = build.bench.iter().rev().find_map(|item| match &item.action {
        Action::Feel(words) if !words.trim().is_empty() => Some(words.clone()),
        _ => None,
    });
    let written = |text: &Option<Spanned<String>>| {
        text.as_ref().map(|text| text.value.clone()).filter(|text| !text.trim().is_empty())
    };
    let verdict = || {
        build.verdict.as_ref().map(|verdict| match verdict.value {
            Verdict::Keep => "kept".to_owned(),
            Verdict::Recut => "to be cut again".to_owned(),
            Verdict::Scrap => "scrapped".to_owned(),
        })
    };
    feel.or_else(|| written(&build.said))
        .or_else(|| written(&build.told))
        .or_else(verdict)
        .map(|words| shortened(words.trim()))
}

fn shortened(words: &str) -> String {
    if words.chars().count() <= MOST_CHARS {
        return words.to_owned();
    }
    let kept: String = words.chars().take(MOST_CHARS).collect();
    let whole = kept.rfind(' ').map_or(kept.as_str(), |end| &kept[..end]);
    format!("{whole} …")
}

/// How the builds that were liked best ended beside their aims, in words; none without a rating of 4 or better.
///
/// It is said beside a stated aim, which stands as it was written; what nobody stated follows it (see [`crate::taste`]).
/// A build that is `told` of already is not told of again.
pub(crate) fn taste(
    view: &View,
    evidence: &[Evidence],
    aims: &[Aim],
    units: Units,
    told: Option<&str>,
) -> Option<String> {
    let liked = |one: &&Evidence| one.rating.is_some_and(|rating| 4 <= rating);
    let best = evidence
        .iter()
        .filter(liked)
        .max_by(|a, b| a.rating.cmp(&b.rating).then(a.weight.total_cmp(&b.weight)))
        .filter(|best| told != Some(best.record.as_str()))?;
    let record = view.record(&best.record)?;
    let build = record.build()?;
    let past = piece(view, &best.record)?;
    let state = past.state(past.walk.present().off, past.held_at);
    let ended: Vec<String> = aims
        .iter()
        .filter(|aim| aim.stated)
        .filter_map(|aim| {
            let ended = words::value(units, aim.measure, state.value(aim.measure)?);
            let its_aim = build.aim.iter().find(|(measure, _)| *measure == aim.measure);
            let aimed = its_aim.map_or_else(String::new, |(_, its)| {
                format!(" for an aim of {}", words::value(units, aim.measure, its.value.si))
            });
            Some(format!("{} {ended}{aimed}", aim.measure.words()))
        })
        .collect();
    let cut =
        words::cuts(units, Length::from_mm(best.tip_cut_mm), Length::from_mm(best.butt_cut_mm));
    let measures: Vec<Measure> = aims.iter().map(|aim| aim.measure).collect();
    (!measures.is_empty() && !ended.is_empty()).then(|| {
        format!(
            "{}, rated {} of 5, ended at {} after {cut}",
            best.record,
            best.rating.unwrap_or_default(),
            words::list(&ended)
        )
    })
}
