//! Whether a model changed from some piece on: a maker's other mandrel, cloth or resin, which nobody tells the shop of.

use std::ops::Range;

use super::lesson::Lesson;
use super::pool::{Pool, Spread};
use super::prior::Prior;

/// A model that changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// The first piece of the new batch, by its place in the list of lessons.
    pub first: usize,
    /// How much likelier a change there is than none, after as much doubt as there are places for it.
    pub odds: f64,
    /// How much pieces within a batch differ, so many times what is usual.
    pub spread: f64,
}

/// So many pieces must lie on either side of a change: one or two may be odd by themselves.
const LEAST_PIECES: usize = 3;
/// So many of the latest pieces are looked at as the first of a new batch.
const LOOKED_AT: usize = 16;
/// Batches differ by so many times as much as pieces of one do (common practice, no source).
const BATCH: f64 = 3.0;
/// A model that a shop buys for years changes at any one piece with this chance (common practice, no source).
const CHANGES: f64 = 0.02;
/// A change is told when it is so much likelier than none.
const LEAST_ODDS: f64 = 20.0;

/// Finds the piece from which on a model is another, its lessons in the order in which the pieces came.
///
/// The odds of a change before piece t are those of what the pieces from t on tell, once with a model that may have moved away from
/// that of the earlier ones by three times the spread of pieces, and once with the same model (Bayes factors: Kass & Raftery,
/// *J. Amer. Statist. Assoc.* 90 (1995) 773, from memory), times the chance of a change at any piece.
/// `prior` is that of the model's card. A change that hangs on a single piece is none.
pub fn changed(prior: &Prior, lessons: &[&Lesson], usual: &Spread) -> Option<Change> {
    let factor = usual.estimated(prior, &lessons[..n_early(lessons.len())?]);
    changed_with(prior, lessons, usual, factor)
}

/// How many pieces come before all that are looked at, of so many; `None` where there are too few for a change.
///
/// How pieces differ within a batch must not be told by the change itself: it is told by these.
pub fn n_early(n_pieces: usize) -> Option<usize> {
    starts(n_pieces).map(|starts| starts.start)
}

fn starts(n: usize) -> Option<Range<usize>> {
    let starts =
        LEAST_PIECES.max(n.saturating_sub(LOOKED_AT))..(n + 1).saturating_sub(LEAST_PIECES);
    (!starts.is_empty()).then_some(starts)
}

/// The same for who knows how much the early pieces differ, so many times what is usual.
pub fn changed_with(
    prior: &Prior,
    lessons: &[&Lesson],
    usual: &Spread,
    factor: f64,
) -> Option<Change> {
    let starts = starts(lessons.len())?;
    let spread = usual.times(factor);
    let pooled = |lessons: &[&Lesson]| {
        let mut pool = Pool::new(&spread);
        lessons.iter().for_each(|lesson| pool.add(lesson));
        pool
    };
    let (early, late) = lessons.split_at(starts.start);
    let (mut before, mut after) = (pooled(early), pooled(late));
    let mut best: Option<Change> = None;
    for first in starts {
        let same = before.model(prior);
        let moved = same.clone().differing(&spread.times(BATCH));
        let log = after.log_evidence(&moved) - after.log_evidence(&same);
        let odds = log.min(100.0).exp() * CHANGES;
        if best.is_none_or(|best| best.odds < odds) {
            best = Some(Change { first, odds, spread: factor });
        }
        before.add(lessons[first]);
        after = after.without(lessons[first]);
    }
    best.filter(|change| {
        LEAST_ODDS <= change.odds && shown_by_several(prior, lessons, usual, change)
    })
}

/// Whether a change is also likely with any single one of the new pieces left out: one odd piece, or one slip of a reading, is no batch.
fn shown_by_several(prior: &Prior, lessons: &[&Lesson], usual: &Spread, change: &Change) -> bool {
    let (early, late) = lessons.split_at(change.first);
    let spread = usual.times(change.spread);
    let pooled = |lessons: &[&Lesson]| {
        let mut pool = Pool::new(&spread);
        lessons.iter().for_each(|lesson| pool.add(lesson));
        pool
    };
    let (same, after) = (pooled(early).model(prior), pooled(late));
    let moved = same.clone().differing(&spread.times(BATCH));
    late.iter().all(|lesson| {
        let others = after.without(lesson);
        let log = others.log_evidence(&moved) - others.log_evidence(&same);
        LEAST_ODDS <= log.min(100.0).exp() * CHANGES
    })
}

/// What is believed of the next piece of a model that changed: its latest batch, and the earlier ones as far as batches are alike.
pub fn after_a_change(prior: &Prior, early: &Pool, late: &Pool, spread: &Spread) -> Prior {
    late.prior(&early.model(prior).differing(&spread.times(BATCH)))
}
