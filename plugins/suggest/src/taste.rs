//! What the builder liked of past builds of a model, and what that says where nothing is aimed for.
//!
//! A stated aim stands as it was written; only what the builder left open follows the builds that turned out well.

use std::sync::Arc;

use taperbook_bench::limits;
use taperbook_plugin::View;
use taperbook_record::{Action, Build, Limit, Measure, Verdict};

use crate::brief::{Aim, usual_tolerance};

/// A past build that its builder liked.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Liked {
    /// The build's id.
    pub(crate) record: String,
    /// How well: 1 for a rating of 5, less for 4.
    weight: f64,
    /// What was read of it last, bare and in the state that it ended in; SI.
    ended: Vec<(Measure, f64)>,
    /// What was aimed for; SI.
    aims: Vec<(Measure, f64)>,
    /// The words of its purpose.
    purpose: Vec<String>,
}

/// A build of this rating or better was liked.
const LIKED: u8 = 4;
/// Against each liked build the middle of what the customer allows counts for so much: one build alone does not decide.
const MIDDLE: f64 = 1.0;
/// What follows from taste keeps this part of the range clear at either end.
const CLEAR: f64 = 0.15;

/// Gives the builds of a card that were liked, in the order of their ids, looked for once for all who ask.
pub(crate) fn liked(view: &View, card: &str) -> Arc<Vec<Liked>> {
    view.memo("liked", card, |view| {
        let builds = view.builds_of(card);
        builds.iter().filter_map(|record| of_build(&record.id, record.build()?)).collect()
    })
}

fn of_build(id: &str, build: &Build) -> Option<Liked> {
    let rating = build.rating.as_ref()?.value;
    let verdict = build.verdict.as_ref().map(|verdict| verdict.value);
    if rating < LIKED || matches!(verdict, Some(Verdict::Recut | Verdict::Scrap)) {
        return None;
    }
    let mut ended: Vec<(Measure, f64)> = Vec::new();
    for item in &build.bench {
        match &item.action {
            // What was read before the last cut is of another piece.
            Action::Cut(_) => ended.clear(),
            Action::Read(reading) if !reading.dressed => {
                for measure in Measure::ALL {
                    if let Some(value) = reading.value(measure) {
                        ended.retain(|(known, _)| *known != measure);
                        ended.push((measure, value));
                    }
                }
            }
            _ => {}
        }
    }
    (!ended.is_empty()).then(|| Liked {
        record: id.to_owned(),
        weight: if rating == LIKED { 0.7 } else { 1.0 },
        ended,
        aims: build.aim.iter().map(|(measure, aim)| (*measure, aim.value.si)).collect(),
        purpose: words(build),
    })
}

/// The words of a purpose that say something.
fn words(build: &Build) -> Vec<String> {
    let purpose = build.purpose.as_ref().map_or("", |purpose| &purpose.value);
    let words = purpose.split(|c: char| !c.is_alphanumeric()).map(str::to_lowercase);
    let mut words: Vec<String> = words.filter(|word| 3 < word.len()).collect();
    words.sort_unstable();
    words.dedup();
    words
}

/// Moves the aims that follow from limits alone toward how liked builds but `itself` with a like aim ended; gives for each the builds
/// behind it.
pub(crate) fn lean(
    build: &Build,
    aims: &mut [Aim],
    liked: &[Liked],
    itself: &str,
) -> Vec<(Measure, Vec<String>)> {
    let stated: Vec<Aim> = aims.iter().filter(|aim| aim.stated).copied().collect();
    let purpose = words(build);
    let mut behind = Vec::new();
    for aim in aims.iter_mut().filter(|aim| !aim.stated) {
        let Some(limit) = build.limits.iter().find(|limit| limit.measure == aim.measure) else {
            continue;
        };
        let (mut sum, mut weights, mut records) = (MIDDLE * aim.value, MIDDLE, Vec::new());
        for past in liked.iter().filter(|past| past.record != itself) {
            let ended = past.ended.iter().find(|(measure, _)| *measure == aim.measure);
            let Some((_, ended)) = ended else { continue };
            let weight = past.weight * alike(past, &stated) * for_the_same(past, &purpose);
            if limits::range_of(limit).holds(*ended) && 0.2 <= weight {
                sum += weight * ended;
                weights += weight;
                records.push(past.record.clone());
            }
        }
        if !records.is_empty() {
            aim.value = clear_of_the_ends(limit, sum / weights);
            behind.push((aim.measure, records));
        }
    }
    behind
}

/// How much what was aimed for is like these, 0 to 1.
fn alike(past: &Liked, stated: &[Aim]) -> f64 {
    let apart: f64 = stated
        .iter()
        .filter_map(|aim| {
            let known = |values: &[(Measure, f64)]| {
                values.iter().find(|(measure, _)| *measure == aim.measure).map(|(_, value)| *value)
            };
            let other = known(&past.aims).or_else(|| known(&past.ended))?;
            let tolerance = aim.tolerance.max(usual_tolerance(aim.measure, aim.value));
            Some(((other - aim.value) / (2.0 * tolerance)).powi(2))
        })
        .sum();
    (-0.5 * apart).exp()
}

/// A rod for the same use counts in full, one for another half.
fn for_the_same(past: &Liked, purpose: &[String]) -> f64 {
    let shared = past.purpose.iter().any(|word| purpose.contains(word));
    if shared || past.purpose.is_empty() || purpose.is_empty() { 1.0 } else { 0.5 }
}

fn clear_of_the_ends(limit: &Limit, value: f64) -> f64 {
    let range = limits::range_of(limit);
    let clear = CLEAR * (range.high - range.low);
    value.clamp(range.low + clear, range.high - clear)
}
