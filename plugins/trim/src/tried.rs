//! What further cuts would give.

use taperbook_bench::{Cuts, Piece, limits, piece};
use taperbook_plugin::{Chance, Cut, Ends, Target, TryAdvice, View};
use taperbook_record::{End, Limit, Measure};
use taperbook_units::{Length, Units};

use crate::target::reach;
use crate::words::change_in_words;

/// Answers what further cuts would give.
///
/// # Errors
/// When the record is no build or card, or the cuts can't be made; says why.
pub(crate) fn try_cut(
    view: &View,
    id: &str,
    target: Target,
    held_at: Option<Length>,
) -> Result<TryAdvice, String> {
    let piece = piece(view, id).ok_or_else(|| {
        format!("`{id}` is neither a build nor a blank card: there is nothing to cut")
    })?;
    let units = view.shop().units();
    let record = view.record(id);
    let limits =
        record.as_deref().and_then(|record| record.build()).map_or(&[][..], |build| &build.limits);
    let held_at = held_at.or(piece.held_at);
    let reached = reach(&piece, target, units)?;
    let present = piece.walk.present();
    possible(&piece, reached.cut, units)?;
    let after = present.off.plus(reached.cut.tip, reached.cut.butt);
    Ok(TryAdvice {
        record: id.to_owned(),
        held_at_mm: held_at.map(Length::mm),
        cut: millimetres(reached.cut),
        cut_range: reached.range.map(|(low, high)| (millimetres(low), millimetres(high))),
        before: piece.state(present.off, held_at),
        after: piece.state(after, held_at),
        left: left(&piece, limits, after, held_at),
        limits: chances(&piece, limits, after, held_at, units),
        caliper: reached.caliper,
        words: change_in_words(&piece, present.off, after, held_at, units),
    })
}

/// Refuses a cut that leaves nothing to hold.
pub(crate) fn possible(piece: &Piece, cut: Cuts, units: Units) -> Result<(), String> {
    let Some(length) = piece.walk.present().length else {
        let what = piece.fitted.as_ref().err().cloned();
        return Err(what.unwrap_or_else(|| {
            "measure the length of the blank: nothing says how long it is".to_owned()
        }));
    };
    if length <= cut.total() {
        return Err(format!(
            "a cut of {} leaves nothing of a blank that is {}",
            units.cut(cut.total()),
            units.length(length)
        ));
    }
    Ok(())
}

/// How much may still come off each end alone inside the limits.
pub(crate) fn left(piece: &Piece, limits: &[Limit], off: Cuts, held_at: Option<Length>) -> Ends {
    let end = |end| limits::left_at_end(piece, limits, off, held_at, end).map(Length::mm);
    Ends { tip_mm: end(End::Tip), butt_mm: end(End::Butt) }
}

fn chances(
    piece: &Piece,
    limits: &[Limit],
    off: Cuts,
    held_at: Option<Length>,
    units: Units,
) -> Vec<Chance> {
    let outcome = held_at.and_then(|held| piece.outcome(off, held).ok());
    limits
        .iter()
        .map(|limit| {
            let print = |end: Option<taperbook_units::Quantity>| {
                end.map(|end| match limit.measure {
                    Measure::TipOd | Measure::ButtOd => units.diameter(Length::from_si(end.si)),
                    measure => units.value(measure.dimension(), end.si),
                })
            };
            let range = limits::range_of(limit);
            let inside = match (&outcome, limit.measure) {
                (Some(outcome), measure) => limits::chance(outcome, measure, range),
                (None, Measure::Length) => piece
                    .value(Measure::Length, off, Length::default())
                    .map(|length| if range.holds(length) { 1.0 } else { 0.0 }),
                (None, _) => None,
            };
            Chance {
                limit: limit.measure.key().to_owned(),
                low: print(limit.range.low),
                high: print(limit.range.high),
                inside,
            }
        })
        .collect()
}

fn millimetres(cuts: Cuts) -> Cut {
    Cut { tip_mm: cuts.tip.mm(), butt_mm: cuts.butt.mm() }
}
