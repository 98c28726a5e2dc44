//! Which blank of the shop makes the rod that is wanted, and with which cuts.
//!
//! Every blank card and offcut is put to the brief by itself ([`candidate`]); here they are put in order. The order goes
//! by what a blank costs: how far it misses the aims, in squares of what is minded, how unlikely it is to keep the limits,
//! and a little for each length that must come off; past builds for the same use that were liked or not weigh a little too;
//! what is still equal goes by what is known to be on the rack. Of what is not on the rack nothing can be cut: it comes last.
//! The other way round, [`reach`] tells all rods that one blank could be.

mod alike;
mod candidate;
mod leaning;
mod merit;
pub(crate) mod reach;
mod search;
mod stock;
pub(crate) mod surface;

use std::cmp::Ordering;
use std::sync::Arc;

use rayon::prelude::*;
use taperbook_bench::{limits, piece};
use taperbook_plugin::{ChooseAdvice, NotJudged, View, Wanted};
use taperbook_record::{Build, Measure, Record, Spanned};
use taperbook_units::{Quantity, Units};

use self::alike::{UseWords, alike, worth_of_use};
use self::candidate::{Candidate, Judged};
use self::leaning::Leaning;
use crate::brief::aims;
use crate::words;

/// Costs that differ by less are equal: it is what rounding makes of the same numbers.
const SAME: f64 = 1e-6;

/// Answers which blanks make the rod that is wanted.
///
/// # Errors
/// When nothing is wanted, or the shop has no blank.
pub(crate) fn choose(view: &View, wanted: &Wanted) -> Result<ChooseAdvice, String> {
    let build = as_build(wanted);
    if build.aim.is_empty() && build.limits.is_empty() {
        return Err(
            "say what the rod is to become: `--aim \"length: 6'10\\\", power: 235 g\"`, `--limits \"power: 200 g .. 260 g\"`, or both"
                .to_owned(),
        );
    }
    let units = units(view);
    possible(&build, units)?;
    let aims = aims(&build);
    let itself = wanted.build.as_deref();
    let (cards, left_out) = stock::on_the_rack(view, wanted.in_stock)?;
    let candidates: Vec<(Candidate, Leaning)> = cards
        .iter()
        .filter_map(|card| {
            let piece = piece(view, &card.id)?;
            let held_at = wanted.held_at.or(piece.held_at);
            let leaning = Leaning::new(view, &card.id, itself, &build, &aims);
            let card = Some(card.clone());
            Some((Candidate { record: card.clone()?, card, piece, held_at }, leaning))
        })
        .collect();
    let considered = candidates.len();
    let judged: Vec<Result<Judged, NotYet>> = candidates
        .into_par_iter()
        .map(|(candidate, leaning)| {
            let (record, is_too_short) =
                (candidate.record.id.clone(), candidate.is_too_short(&build));
            candidate.judged(leaning, &build, units).map_err(|measure| match is_too_short {
                true => NotYet::TooShort(record),
                false => NotYet::Missing(NotJudged { record, measure }),
            })
        })
        .collect();
    let Apart { mut judged, not_judged, too_short } = apart(judged);

    let use_words = UseWords::new(wanted.use_words.as_deref().unwrap_or_default());
    if !use_words.is_empty() {
        for one in &mut judged {
            one.rank += worth_of_use(&view.builds_of(one.name()), &use_words, itself);
        }
    }
    judged.sort_by(in_order);
    let to_order = stock::to_order(&judged);
    let can_meet = judged.iter().filter(|one| one.meets).count();
    let why_none = why_none(&judged, &build, can_meet);
    judged.truncate(wanted.limit);
    let mut blanks: Vec<_> = judged.par_iter().map(|one| one.told(&build, units)).collect();
    for (blank, one) in blanks.iter_mut().zip(&judged) {
        let builds: Vec<Arc<Record>> = view.builds_of(one.name());
        blank.alike = alike(view, &builds, &use_words, &aims, itself);
    }
    let in_json = |(measure, aim): &(Measure, Spanned<Quantity>)| {
        (measure.json_key().to_owned(), aim.value.si / measure.json_unit())
    };
    Ok(ChooseAdvice {
        aim: build.aim.iter().map(in_json).collect(),
        considered,
        can_meet,
        why_none,
        blanks,
        not_judged,
        words: left_out
            .into_iter()
            .chain(to_order)
            .chain(too_short)
            .chain(of_use(&use_words, wanted.use_words.as_deref()))
            .collect(),
    })
}

/// The order in which blanks are told.
fn in_order(a: &Judged, b: &Judged) -> Ordering {
    let is_gone = |one: &Judged| one.stock() == Some(0);
    let rank = |one: &Judged| (one.rank / SAME).round();
    let cut = |one: &Judged| one.cuts.total().m();
    is_gone(a)
        .cmp(&is_gone(b))
        .then_with(|| rank(a).total_cmp(&rank(b)))
        .then_with(|| b.stock().is_some().cmp(&a.stock().is_some()))
        .then_with(|| cut(a).total_cmp(&cut(b)))
        .then_with(|| a.name().cmp(b.name()))
}

/// The wanted rod as a build that nobody has begun; what it is fished with is its purpose.
fn as_build(wanted: &Wanted) -> Build {
    let purpose = wanted.use_words.clone().map(|value| Spanned { value, span: 0..0 });
    Build { aim: wanted.aim.clone(), limits: wanted.limits.clone(), purpose, ..Build::default() }
}

/// Refuses an aim that the limits of the same brief don't allow.
fn possible(build: &Build, units: Units) -> Result<(), String> {
    for (measure, aim) in &build.aim {
        let limit = build.limits.iter().find(|limit| limit.measure == *measure);
        if let Some(limit) = limit.filter(|limit| !limits::range_of(limit).holds(aim.value.si)) {
            return Err(format!(
                "the {} aimed for, {}, is outside what is allowed, {}: change one of the two",
                measure.words(),
                words::value(units, *measure, aim.value.si),
                words::limit(units, limit)
            ));
        }
    }
    Ok(())
}

fn units(view: &View) -> Units {
    view.shop().units()
}

/// Why a blank was not judged.
enum NotYet {
    /// Something must be measured or written.
    Missing(NotJudged),
    /// Whatever is measured, it is shorter than what is allowed.
    TooShort(String),
}

/// Blanks by what came of them.
struct Apart {
    judged: Vec<Judged>,
    not_judged: Vec<NotJudged>,
    /// Those that are too short, in words.
    too_short: Option<String>,
}

fn apart(judged: Vec<Result<Judged, NotYet>>) -> Apart {
    let (mut known, mut unknown, mut short) = (Vec::new(), Vec::new(), Vec::new());
    for one in judged {
        match one {
            Ok(one) => known.push(one),
            Err(NotYet::Missing(one)) => unknown.push(one),
            Err(NotYet::TooShort(record)) => short.push(record),
        }
    }
    unknown.sort_by(|a, b| a.record.cmp(&b.record));
    short.sort_unstable();
    let too_short = match short.len() {
        0 => None,
        1..=3 => Some(format!("shorter than the shortest allowed: {}", words::list(&short))),
        n => Some(format!(
            "shorter than the shortest allowed: {} and {} more",
            short[..2].join(", "),
            n - 2
        )),
    };
    Apart { judged: known, not_judged: unknown, too_short }
}

/// Why no blank can meet the limits, with the nearest.
fn why_none(judged: &[Judged], build: &Build, can_meet: usize) -> Option<String> {
    if build.limits.is_empty() || 0 < can_meet {
        return None;
    }
    let Some(nearest) = judged.first() else {
        return Some("no blank of the shop can be judged yet: measure what is named".to_owned());
    };
    let way = nearest.in_the_way().unwrap_or("its numbers are outside");
    let kind = if nearest.is_offcut() { "offcut " } else { "" };
    Some(format!(
        "no blank of the shop can be brought inside the limits; the nearest is {kind}{}: {way}",
        nearest.name()
    ))
}

/// What was done with the words for the use.
fn of_use(use_words: &UseWords, typed: Option<&str>) -> Vec<String> {
    match typed {
        None => Vec::new(),
        Some(typed) if use_words.is_empty() => {
            vec![format!("no word of `{typed}` tells uses apart: it counts for nothing")]
        }
        Some(_) => vec![format!(
            "sought in purpose, customer, title, notes and feelings of past builds, but not in their text: {}; a blank that was \
             liked for such a use comes a little sooner, one that was not a little later",
            words::list(&use_words.all())
        )],
    }
}
