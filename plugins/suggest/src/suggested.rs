//! The answer to what should be cut next.

use taperbook_bench::{Cuts, limits, model};
use taperbook_plugin::{Cut, Ends, SuggestAdvice, View};
use taperbook_record::{End, Limit};
use taperbook_units::Length;

use crate::brief::aims;
use crate::case::Case;
use crate::decide::{Decision, decide};
use crate::evidence::{evidence, last_time, query, taste};
use crate::learned::chances;
use crate::words;

/// Answers what should be cut next.
///
/// # Errors
/// When the record is neither a build nor a blank card.
pub(crate) fn suggest(
    view: &View,
    id: &str,
    held_at: Option<Length>,
) -> Result<SuggestAdvice, String> {
    let case = Case::new(view, id, held_at)?;
    let decided = decide(&case);
    let piece = &case.piece;
    let off = piece.walk.present().off;
    let limits: &[Limit] = case.build().map_or(&[], |build| &build.limits);
    let left = |end| limits::left_at_end(piece, limits, off, case.held_at, end).map(Length::mm);
    let wanted = case.build().map(aims).unwrap_or_default();
    let target = off.plus(decided.remaining.tip, decided.remaining.butt);
    let evidence =
        match decided.chance.is_some() || matches!(decided.decision, Decision::Measure(_)) {
            true => evidence(
                view,
                piece.card.as_deref(),
                id,
                &wanted,
                target,
                case.held_at.unwrap_or_default(),
            ),
            false => Vec::new(),
        };
    let mut words = decided.words;
    if !matches!(decided.decision, Decision::Stop(_)) {
        words.extend(case.doubted_card());
    }
    if let Ok(fitted) = &piece.fitted
        && matches!(decided.decision, Decision::Cut(_))
        && 0 < fitted.n_past
    {
        words.push(format!(
            "{} of {} behind these numbers",
            words::count(fitted.n_past, "past build"),
            case.blank_name()
        ));
        words.extend(batch(view, &case, id));
        let last = last_time(view, piece.card.as_deref(), id, case.units);
        let told = last.as_ref().map(|last| last.record.as_str());
        words.extend(taste(view, &evidence, &wanted, case.units, told));
        words.extend(last.map(|last| last.words));
    }
    let (next, why_stop, measure_next) = match decided.decision {
        Decision::Cut(cuts) => (Some(cuts), None, decided.helps),
        Decision::Stop(why) => (None, Some(why), decided.helps),
        Decision::Measure(what) => (None, None, Some(what)),
    };
    let then = next.map_or(off, |cuts| off.plus(cuts.tip, cuts.butt));
    Ok(SuggestAdvice {
        record: id.to_owned(),
        next_cut: next.map(millimetres),
        why_stop,
        remaining: millimetres(decided.remaining),
        left: match limits.is_empty() {
            true => Ends::default(),
            false => Ends { tip_mm: left(End::Tip), butt_mm: left(End::Butt) },
        },
        expected: piece.state(then, case.held_at),
        chance_inside_limits: decided.chance,
        evidence_query: query(&evidence),
        evidence,
        measure_next,
        words,
    })
}

/// That the model changed, where the piece is of its latest batch or of nobody knows which.
fn batch(view: &View, case: &Case, id: &str) -> Option<String> {
    let model = model(view, case.piece.card.as_deref()?);
    let first = model.change?.first;
    let place = model.pieces.iter().position(|(record, _)| record == id);
    let (first_of_batch, _) =
        model.pieces.get(first).filter(|_| place.is_none_or(|place| first <= place))?;
    Some(format!(
        "the pieces of {} from {first_of_batch} on differ from those before ({}) and count most here",
        case.blank_name(),
        chances(model.change?.odds)
    ))
}

fn millimetres(cuts: Cuts) -> Cut {
    Cut { tip_mm: cuts.tip.mm(), butt_mm: cuts.butt.mm() }
}
