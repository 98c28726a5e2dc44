//! Whether the piece in hand and the shop's past builds of its model say different things, and what would settle it.
//!
//! One reading that stands against all else is for [`crate::guard`]; here the readings of the piece may well agree with each other.

use taperbook_bench::{Fitted, to_mechanics};
use taperbook_mechanics::fit::{Estimate, Instrument, Posterior, fit};
use taperbook_record::Measure;

use crate::case::Case;
use crate::guard;
use crate::words;
use crate::worth;

/// What the piece's own readings and the past builds say of its power, where the ranges of both lie apart.
pub(crate) struct Disagreement {
    /// Both, and which reading would settle it.
    pub(crate) words: String,
    /// Whether another power is to be read before any cut: as long as one or two readings stand against the past builds.
    pub(crate) read_again: bool,
}

/// Looks whether the piece's own readings and the past builds disagree on its power beyond the ranges of both.
///
/// The two share the card and its diameters, which makes them look more alike than they are: it errs on the silent side.
pub(crate) fn disagreement(case: &Case) -> Option<Disagreement> {
    let fitted = case.piece.fitted.as_ref().ok().filter(|fitted| 0 < fitted.n_past)?;
    case.piece.taken.iter().find(|taken| matches!(taken.measure, None | Some(Measure::Power)))?;
    let by_history = power(case, &fit(&fitted.prior, &[]).ok()?)?;
    let by_itself = power(case, &fitted.by_itself().ok()?)?;
    let apart = by_history.high < by_itself.low || by_itself.high < by_history.low;
    let read_again = guard::n_power_readings(&case.piece) < guard::ENOUGH;
    apart.then(|| {
        let standing = standing(case, fitted, by_itself, by_history);
        let words = match read_again {
            true => format!(
                "{}, once more, clamped anew: {standing}",
                worth::power(case.held_at.unwrap_or_default(), case.units)
            ),
            false => format!("{standing}; {}", settles(case)),
        };
        Disagreement { words, read_again }
    })
}

fn power(case: &Case, posterior: &Posterior) -> Option<Estimate> {
    let off = case.piece.walk.present().off;
    let outcome = posterior.outcome(off.tip, off.butt, case.held_at?).ok()?;
    outcome.estimate(to_mechanics(Measure::Power)).ok()
}

fn standing(case: &Case, fitted: &Fitted, by_itself: Estimate, by_history: Estimate) -> String {
    let print = |si| words::value(case.units, Measure::Power, si);
    let range = |of: Estimate| format!("{} … {}", print(of.low), print(of.high));
    let way = if by_history.value < by_itself.value { "stiffer" } else { "softer" };
    format!(
        "by its own readings it holds {}, by {} of {} {}; it is {way} than its model, or the reading, `held_at` or `blank` is wrong",
        range(by_itself),
        words::count(fitted.n_past, "past build"),
        case.blank_name(),
        range(by_history),
    )
}

/// The reading that would tell what kind of piece it is, once its power is sure.
fn settles(case: &Case) -> String {
    let held_at = case.held_at.unwrap_or_default();
    let open = |instrument: &Instrument| !worth::enough(&case.piece, *instrument);
    let tells = [
        (Instrument::Weight, "a thinner wall is lighter, another cloth is not"),
        (Instrument::Level, "a board that is not level reads every piece off alike"),
        (Instrument::ButtOd, "another mandrel shows there"),
    ];
    match tells.into_iter().find(|(instrument, _)| open(instrument)) {
        Some((instrument, why)) => {
            format!("read the {}: {why}", worth::reading(instrument, held_at, None, case.units))
        }
        None => "its readings agree, so take it for a piece of another batch".to_owned(),
    }
}
