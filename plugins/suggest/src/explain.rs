//! Where the numbers of a record come from, in words.

use taperbook_bench::{Fitted, Piece, to_mechanics};
use taperbook_mechanics::fit::{Outcome, fit};
use taperbook_plugin::{ExplainAdvice, View};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use crate::case::Case;
use crate::learned::learned;
use crate::words;
use crate::worth;

/// Answers where the numbers of a build or a blank card come from.
///
/// # Errors
/// When the record is neither.
pub(crate) fn explain(view: &View, id: &str) -> Result<ExplainAdvice, String> {
    let case = Case::new(view, id, None)?;
    let mut lines = match &case.piece.fitted {
        Err(what) => vec![format!("nothing but lengths can be worked out: {what}")],
        Ok(fitted) if case.build().is_some() => of_build(&case, fitted),
        Ok(fitted) => of_card(&case, fitted),
    };
    let mut forecasts = Vec::new();
    if case.build().is_none() {
        let learned = learned(view, &case, id);
        lines.extend(learned.words);
        forecasts = learned.forecasts;
    }
    Ok(ExplainAdvice { record: id.to_owned(), number: None, words: lines, forecasts })
}

fn of_build(case: &Case, fitted: &Fitted) -> Vec<String> {
    let piece = &case.piece;
    let units = case.units;
    let mut lines = vec![behind(case, fitted)];
    lines.extend(case.doubted_card());
    for (taken, residual) in piece.taken.iter().zip(fitted.all.residuals()) {
        let Some(measure) = taken.measure else { continue };
        let print = |si| words::value(units, measure, si);
        let (read, item) = (print(residual.read), taken.item + 1);
        lines.push(match residual.predicted {
            Err(why) => {
                format!("item {item}: {} {read}, which taught nothing: {why}", measure.words())
            }
            Ok(predicted) => format!(
                "item {item}: {} {read}, against {} worked out; {}",
                measure.words(),
                print(predicted),
                far(residual.miss)
            ),
        });
    }
    let points = piece.taken.iter().filter(|taken| taken.measure.is_none()).count();
    if 0 < points {
        lines.push(format!("{} on the board or pulled by hand", words::count(points, "point")));
    }
    let Some(held_at) = case.held_at else {
        lines.push(
            "power is missing: write `held_at: 9 in` in the record, its blank card or shop.yaml"
                .to_owned(),
        );
        return lines;
    };
    let off = piece.walk.present().off;
    let before = fit(&fitted.prior, &[])
        .ok()
        .and_then(|before| before.outcome(off.tip, off.butt, held_at).ok());
    let after = piece.outcome(off, held_at).ok();
    let power = |outcome: &Option<Outcome>| words::ranged(units, Measure::Power, outcome.as_ref()?);
    match (power(&before), power(&after)) {
        (Some(before), Some(after)) => lines.push(format!(
            "power of the piece as it now is, held at {}: {before} before its own readings, {after} with them",
            units.cut(held_at)
        )),
        _ => lines.extend(after.and_then(|after| after.value(to_mechanics(Measure::Power)).err()).map(|why| why.to_string())),
    }
    lines.extend(narrowest(piece, held_at, units));
    lines
}

/// What a reading is worth beside all others.
fn far(miss: f64) -> String {
    let off = miss.abs();
    match off {
        _ if off < 1.0 => "it fits the others".to_owned(),
        _ if off < 2.0 => format!("{off:.1} standard deviations off, as one in three is"),
        _ if off < 3.0 => {
            format!("{off:.1} standard deviations off, as one in twenty is: worth reading again")
        }
        _ => format!("{off:.1} standard deviations off: it contradicts the others, read it again"),
    }
}

/// What stands behind the numbers besides the piece's own readings.
fn behind(case: &Case, fitted: &Fitted) -> String {
    let diameters = case.blank().map_or(0, |blank| blank.calipers.len());
    let card =
        format!("the card of {} with {}", case.blank_name(), words::count(diameters, "diameter"));
    match fitted.n_past {
        0 => format!("behind these numbers: {card}, and no past build of it"),
        n_past => format!(
            "behind these numbers: {card}, and {} of it",
            words::count(n_past, "past build")
        ),
    }
}

fn narrowest(piece: &Piece, held_at: Length, units: Units) -> Option<String> {
    worth::for_power(piece, held_at, units)
        .map(|help| format!("the reading that would help most: {}", help.words()))
}

fn of_card(case: &Case, fitted: &Fitted) -> Vec<String> {
    let mut lines = vec![behind(case, fitted)];
    lines.extend(case.doubted_card());
    if let Some(held_at) = case.held_at {
        let power = case.piece.outcome(case.piece.walk.present().off, held_at).ok();
        let power = power.and_then(|power| words::ranged(case.units, Measure::Power, &power));
        lines.extend(power.map(|power| {
            format!("power of a new piece, uncut, held at {}: {power}", case.units.cut(held_at))
        }));
    }
    lines
}
