//! Whether the piece in hand and the shop's past builds of its model say different things, and what would settle it.
//!
//! One reading that stands against all else is for [`crate::guard`]; here the readings of the piece may well agree with each other.

use taperbook_bench::{Fitted, to_mechanics};
use taperbook_mechanics::fit::{Estimate, Instrument, Posterior, fit};
use taperbook_record::Measure;

use crate::case::Case;
use crate::words;
use crate::worth;

/// Says that the piece's own readings and the past builds disagree on its power beyond the ranges of both, and which reading would
/// settle it; `None` when they go together.
///
/// The two share the card and its diameters, which makes them look more alike than they are: it errs on the silent side.
pub(crate) fn disagreement(case: &Case) -> Option<String> {
    let fitted = case.piece.fitted.as_ref().ok().filter(|fitted| 0 < fitted.n_past)?;
    case.piece.taken.iter().find(|taken| matches!(taken.measure, None | Some(Measure::Power)))?;
    let by_history = power(case, &fit(&fitted.prior, &[]).ok()?)?;
    let by_itself = power(case, &fitted.by_itself().ok()?)?;
    let apart = by_history.high < by_itself.low || by_itself.high < by_history.low;
    apart.then(|| said(case, fitted, by_itself, by_history))
}

fn power(case: &Case, posterior: &Posterior) -> Option<Estimate> {
    let off = case.piece.walk.present().off;
    let outcome = posterior.outcome(off.tip, off.butt, case.held_at?).ok()?;
    outcome.estimate(to_mechanics(Measure::Power)).ok()
}

fn said(case: &Case, fitted: &Fitted, by_itself: Estimate, by_history: Estimate) -> String {
    let print = |si| words::value(case.units, Measure::Power, si);
    let range = |of: Estimate| format!("{} … {}", print(of.low), print(of.high));
    let way = if by_history.value < by_itself.value { "stiffer" } else { "softer" };
    format!(
        "by its own readings it holds {}, by {} of {} {}: it is {way} than its model, or a reading, `held_at` or `blank` is wrong; {}",
        range(by_itself),
        words::count(fitted.n_past, "past build"),
        case.blank_name(),
        range(by_history),
        settles(case)
    )
}

/// The reading that would settle it: first that the power is right, then what kind of piece it is.
fn settles(case: &Case) -> String {
    let piece = &case.piece;
    let held_at = case.held_at.unwrap_or_default();
    let open = |instrument| !worth::enough(piece, instrument);
    let ask = |instrument| worth::reading(instrument, held_at, None, case.units);
    if open(Instrument::Power) {
        let power = ask(Instrument::Power);
        return format!(
            "read {power}, once more, clamped anew: if it reads the same, the piece differs"
        );
    }
    if open(Instrument::Weight) {
        let weight = ask(Instrument::Weight);
        return format!("read the {weight}: a thinner wall is lighter, another cloth is not");
    }
    if open(Instrument::Level) {
        return format!("read the {}", ask(Instrument::Level));
    }
    if open(Instrument::ButtOd) {
        let butt = ask(Instrument::ButtOd);
        return format!("read the {butt}: another mandrel shows there");
    }
    "its readings agree, so take it for a piece of another batch and go in small cuts".to_owned()
}
