//! Where the numbers of a record come from, in words.

use rayon::prelude::*;
use taperbook_bench::{Fitted, Model, PastPiece, Piece, model, to_mechanics};
use taperbook_mechanics::fit::{Outcome, Posterior, Spread, fit};
use taperbook_plugin::{ExplainAdvice, View};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use crate::case::Case;
use crate::history::{Forecast, last_forecast, past_pieces};
use crate::problem::NINETY_FIVE;
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
    if case.build().is_none() {
        lines.extend(of_model(view, &case, id));
    }
    Ok(ExplainAdvice { record: id.to_owned(), number: None, words: lines })
}

fn of_build(case: &Case, fitted: &Fitted) -> Vec<String> {
    let piece = &case.piece;
    let units = case.units;
    let mut lines = vec![behind(case, fitted)];
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
    if let Some(held_at) = case.held_at {
        let power = case.piece.outcome(case.piece.walk.present().off, held_at).ok();
        let power = power.and_then(|power| words::ranged(case.units, Measure::Power, &power));
        lines.extend(power.map(|power| {
            format!("power of a new piece, uncut, held at {}: {power}", case.units.cut(held_at))
        }));
    }
    lines
}

/// What the shop has learned of a model.
fn of_model(view: &View, case: &Case, card: &str) -> Vec<String> {
    let past = past_pieces(view, Some(card), "");
    let mut lines = Vec::new();
    if past.is_empty() {
        lines.push("no build of it has a reading yet that teaches: read the power of the next piece before it is cut".to_owned());
        return lines;
    }
    lines.push(format!("{} with readings", words::count(past.len(), "piece")));
    lines.extend(case.held_at.and_then(|held_at| spread(&past, held_at, case.units)));
    let model = model(view, card);
    lines.extend(differing(&model));
    lines.extend(case.held_at.and_then(|held_at| batches(&model, &past, held_at, case.units)));
    lines.extend(case.held_at.and_then(|held_at| against_the_card(case, held_at)));
    let forecasts: Vec<(String, Forecast)> = past
        .iter()
        .filter_map(|past| Some((past.record.clone(), last_forecast(view, &past.record)?)))
        .collect();
    lines.extend(record_of(&forecasts));
    lines
}

/// How far the pieces lie apart, uncut.
fn spread(past: &[PastPiece], held_at: Length, units: Units) -> Option<String> {
    let none = Length::default();
    let powers: Vec<f64> = past
        .par_iter()
        .filter_map(|past| {
            past.posterior
                .outcome(none, none, held_at)
                .ok()?
                .value(to_mechanics(Measure::Power))
                .ok()
        })
        .collect();
    if powers.len() < 2 {
        return None;
    }
    let n = powers.len() as f64;
    let mean = powers.iter().sum::<f64>() / n;
    let deviation =
        (powers.iter().map(|power| (power - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let least = powers.iter().copied().fold(f64::INFINITY, f64::min);
    let most = powers.iter().copied().fold(0.0, f64::max);
    let print = |si| words::value(units, Measure::Power, si);
    Some(format!(
        "power of its pieces, uncut: {} on average, {} to {}; pieces differ by {:.1} % (one standard deviation)",
        print(mean),
        print(least),
        print(most),
        100.0 * deviation / mean
    ))
}

/// How much pieces are taken to differ when the next one is foretold.
fn differing(model: &Model) -> Option<String> {
    let percent = 100.0 * Spread::default().times(model.spread).modulus;
    (1 < model.pieces.len()).then(|| {
        format!(
            "taken to differ by {percent:.1} % in modulus from piece to piece: {:.1} times what is usual, as far as {} tell",
            model.spread,
            words::count(model.pieces.len(), "piece")
        )
    })
}

/// The change of a model, and what it is in power.
fn batches(model: &Model, past: &[PastPiece], held_at: Length, units: Units) -> Option<String> {
    let change = model.change?;
    let (first, _) = model.pieces.get(change.first)?;
    let place = past.iter().position(|past| past.record == *first)?;
    let (before, after) = past.split_at(place);
    let none = Length::default();
    let mean = |pieces: &[PastPiece]| {
        let powers: Vec<f64> = pieces
            .iter()
            .filter_map(|past| {
                let outcome = past.posterior.outcome(none, none, held_at).ok()?;
                outcome.value(to_mechanics(Measure::Power)).ok()
            })
            .collect();
        (!powers.is_empty()).then(|| powers.iter().sum::<f64>() / powers.len() as f64)
    };
    let (before, after) = (mean(before)?, mean(after)?);
    let print = |si| words::value(units, Measure::Power, si);
    Some(format!(
        "from {first} on its pieces are of another batch ({}): {} on average, {} before, {:+.0} %; the latest count most for the next piece",
        chances(change.odds),
        print(after),
        print(before),
        100.0 * (after / before - 1.0)
    ))
}

/// Odds in words.
pub(crate) fn chances(odds: f64) -> String {
    if 1000.0 <= odds {
        "more than a thousand to one".to_owned()
    } else {
        format!("about {odds:.0} to one")
    }
}

/// How far a model's pieces may be from what its card alone leads to expect before it is said, in standard deviations.
const AGAINST: f64 = 2.5;

/// That the pieces and the card don't go together, and what would settle it.
fn against_the_card(case: &Case, held_at: Length) -> Option<String> {
    let fitted = case.piece.fitted.as_ref().ok()?;
    let card = fit(&fitted.card, &[]).ok()?;
    let power = |posterior: &Posterior| {
        let none = Length::default();
        let outcome = posterior.outcome(none, none, held_at).ok()?;
        let power = outcome.value(to_mechanics(Measure::Power)).ok()?;
        let measure = to_mechanics(Measure::Power);
        Some((outcome.clone(), power, outcome.covariance(measure, measure).sqrt() / power))
    };
    let (by_card, expected, unsure) = power(&card)?;
    let (by_pieces, found, sure) = power(&fitted.posterior)?;
    let apart = (found / expected).ln() / unsure.hypot(sure);
    (AGAINST < apart.abs()).then_some(())?;
    let print = |outcome: &Outcome| words::ranged(case.units, Measure::Power, outcome);
    let blank = case.blank()?;
    let settle = match blank {
        blank if blank.modulus.is_some() => "the stated modulus is the first to doubt",
        blank if blank.calipers.iter().all(|caliper| caliper.wall.is_none()) => {
            "measure the wall at the butt, and the diameters once more"
        }
        _ => "measure the diameters once more, and what a piece weighs",
    };
    Some(format!(
        "the card alone leads to expect {}, its pieces hold {}, {:.1} standard deviations apart: the pieces are believed; {settle}",
        print(&by_card)?,
        print(&by_pieces)?,
        apart.abs()
    ))
}

/// How the forecasts did, made for each piece from the card and the other builds alone.
fn record_of(forecasts: &[(String, Forecast)]) -> Vec<String> {
    if forecasts.is_empty() {
        return Vec::new();
    }
    let mut misses: Vec<f64> =
        forecasts.iter().map(|(_, forecast)| forecast.miss().abs()).collect();
    misses.sort_by(f64::total_cmp);
    let median = 0.5 * (misses[(misses.len() - 1) / 2] + misses[misses.len() / 2]);
    let inside = |forecast: &Forecast| {
        (forecast.read / forecast.expected).ln().abs() <= NINETY_FIVE * forecast.deviation
    };
    let n_inside = forecasts.iter().filter(|(_, forecast)| inside(forecast)).count();
    let mut lines = vec![format!(
        "the last power of each piece, foretold without its own readings: off by {:.1} % in the median; {n_inside} of {} \
         inside the 90 % range",
        100.0 * median,
        forecasts.len()
    )];
    let worst = forecasts.iter().max_by(|a, b| a.1.miss().abs().total_cmp(&b.1.miss().abs()));
    lines.extend(worst.filter(|(_, forecast)| !inside(forecast)).map(|(record, forecast)| {
        format!("furthest off: {record}, by {:+.1} %: look at its readings, or at whether its batch differs", 100.0 * forecast.miss())
    }));
    lines
}
