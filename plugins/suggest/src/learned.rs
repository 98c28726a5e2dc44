//! What the shop has learned of a model: how its pieces differ and drift, its batches, and how well the next one could be foretold.
//!
//! Forecasts are made from what was known before each piece came; nothing here is told of one piece in hand.

mod drift;

use rayon::prelude::*;
use taperbook_bench::{Model, PastPiece, came_on, model, to_mechanics};
use taperbook_mechanics::fit::{Outcome, Posterior, Spread, fit};
use taperbook_plugin::{PastForecast, View};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use self::drift::{At, drift};
use crate::case::Case;
use crate::history::{Forecast, first_forecasts, past_pieces};
use crate::words;

/// What was learned, in words and as a table.
pub(crate) struct Learned {
    pub(crate) words: Vec<String>,
    pub(crate) forecasts: Vec<PastForecast>,
}

/// Gives what the shop has learned of a model.
pub(crate) fn learned(view: &View, case: &Case, card: &str) -> Learned {
    let past = past_pieces(view, Some(card), "");
    if past.is_empty() {
        let none = "no build of it has a reading yet that teaches: read the power of the next piece before it is cut";
        return Learned { words: vec![none.to_owned()], forecasts: Vec::new() };
    }
    let model = model(view, card);
    let mut words = vec![format!("{} with readings", words::count(model.pieces.len(), "piece"))];
    if let Some(held_at) = case.held_at {
        let powers = uncut_powers(view, &past, held_at);
        words.extend(spread(&powers, case.units));
        words.extend(differing(&model));
        words.extend(batches(&model, &powers, case.units));
        if model.change.is_none() {
            words.extend(drift(&powers));
        }
        words.extend(against_the_card(case, held_at));
    }
    let forecasts = first_forecasts(view, card);
    words.extend(how_forecasts_did(&forecasts));
    Learned { words, forecasts: forecasts.into_iter().map(told).collect() }
}

/// The power of each piece, uncut, as its own readings tell it.
fn uncut_powers(view: &View, past: &[PastPiece], held_at: Length) -> Vec<At> {
    let dates: Vec<_> = past
        .iter()
        .map(|past| view.record(&past.record).and_then(|record| came_on(record.build()?)))
        .collect();
    let power = |past: &PastPiece| {
        let none = Length::default();
        let outcome = past.posterior.outcome(none, none, held_at).ok()?;
        let measure = to_mechanics(Measure::Power);
        let power = outcome.value(measure).ok().filter(|power| 0.0 < *power)?;
        Some((power, outcome.covariance(measure, measure).sqrt() / power))
    };
    let powers: Vec<_> = past.par_iter().map(power).collect();
    past.iter()
        .zip(dates)
        .zip(powers)
        .filter_map(|((past, date), power)| {
            let (power, deviation) = power?;
            Some(At { record: past.record.clone(), date, power, deviation })
        })
        .collect()
}

/// How far the pieces lie apart, uncut.
fn spread(powers: &[At], units: Units) -> Option<String> {
    if powers.len() < 2 {
        return None;
    }
    let n = powers.len() as f64;
    let mean = powers.iter().map(|at| at.power).sum::<f64>() / n;
    let squares = powers.iter().map(|at| (at.power - mean).powi(2)).sum::<f64>();
    let deviation = (squares / (n - 1.0)).sqrt();
    let least = powers.iter().map(|at| at.power).fold(f64::INFINITY, f64::min);
    let most = powers.iter().map(|at| at.power).fold(0.0, f64::max);
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
fn batches(model: &Model, powers: &[At], units: Units) -> Option<String> {
    let change = model.change?;
    let (first, _) = model.pieces.get(change.first)?;
    let place = powers.iter().position(|at| at.record == *first)?;
    let (before, after) = powers.split_at(place);
    let mean = |powers: &[At]| {
        let sum = powers.iter().map(|at| at.power).sum::<f64>();
        (!powers.is_empty()).then(|| sum / powers.len() as f64)
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
pub(crate) fn against_the_card(case: &Case, held_at: Length) -> Option<String> {
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

/// How the forecasts did.
fn how_forecasts_did(forecasts: &[(String, Forecast)]) -> Vec<String> {
    if forecasts.is_empty() {
        return Vec::new();
    }
    let off = |some: &[(String, Forecast)]| {
        let mut misses: Vec<f64> = some.iter().map(|(_, one)| one.miss().abs()).collect();
        misses.sort_by(f64::total_cmp);
        100.0 * 0.5 * (misses[(misses.len() - 1) / 2] + misses[misses.len() / 2])
    };
    let n_inside = forecasts.iter().filter(|(_, one)| one.is_inside()).count();
    let n = forecasts.len();
    let over_time = match n {
        0..6 => format!("off by {:.1} % in the median", off(forecasts)),
        _ => {
            let (earlier, later) = forecasts.split_at(n / 2);
            format!(
                "off by {:.1} % in the median for the first {}, by {:.1} % for the {} since",
                off(earlier),
                earlier.len(),
                off(later),
                later.len()
            )
        }
    };
    let mut lines = vec![format!(
        "the first power read of each piece, foretold from its card and the builds before it: {over_time}; {n_inside} of {n} inside \
         the 90 % range{}",
        verdict_on(n_inside, n)
    )];
    let worst = forecasts.iter().max_by(|a, b| a.1.miss().abs().total_cmp(&b.1.miss().abs()));
    lines.extend(worst.filter(|(_, one)| !one.is_inside()).map(|(record, one)| {
        format!(
            "furthest off: {record}, by {:+.1} %: read its power again if the piece is still there, and see that `blank` and \
             `held_at` are right",
            100.0 * one.miss()
        )
    }));
    lines
}

/// Whether so few inside are more than chance, at one in forty.
fn verdict_on(n_inside: usize, n: usize) -> &'static str {
    // The chance of so many or fewer, of n that are each inside with 90 %.
    let (mut chance, mut term) = (0.0, 0.1_f64.powi(i32::try_from(n).unwrap_or(i32::MAX)));
    for k in 0..=n_inside {
        chance += term;
        term *= 9.0 * (n - k) as f64 / (k + 1) as f64;
    }
    match chance < 0.025 {
        true => {
            ", which is too few: a level on the board, and the readings of those outside, are the first to look at"
        }
        false => "",
    }
}

fn told((record, forecast): (String, Forecast)) -> PastForecast {
    let grams = |kg: f64| 1e3 * kg;
    let (low, high) = forecast.range();
    PastForecast {
        record,
        date: forecast.date.map(|date| date.to_string()),
        n_before: forecast.n_before,
        expected_g: taperbook_plugin::Number::Known {
            value: grams(forecast.expected),
            low: grams(low),
            high: grams(high),
        },
        read_g: grams(forecast.read),
        miss_pct: 100.0 * forecast.miss(),
        inside: forecast.is_inside(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_few_inside_is_said_only_where_chance_does_not_explain_it() {
        // Binomial tables for 0.9: 7 or fewer of 10 with 0.0702, 6 or fewer with 0.0128 (from memory).
        assert_eq!(verdict_on(7, 10), "");
        assert!(verdict_on(6, 10).contains("too few"));
        assert_eq!(verdict_on(1, 2), "");
        assert_eq!(verdict_on(48, 48), "");
        assert!(verdict_on(30, 48).contains("too few"));
    }
}
