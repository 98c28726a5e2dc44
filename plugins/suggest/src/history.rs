//! How the shop's other builds of a model did: what was read there beside what was expected without it.
//!
//! Used by the evidence of a suggestion and by the explanation of a model.

use taperbook_bench::{PastPiece, before_it_came, came_on, model, piece};
use taperbook_mechanics::fit::{Measured, Prior, Reading, fit};
use taperbook_plugin::View;
use taperbook_record::{Date, Measure};

use crate::problem::NINETY_FIVE;

/// How many past pieces are looked at, those that came last; all teach the mechanics.
const LOOKED_AT: usize = 48;

/// The past pieces of a model but the one in hand, in the order in which they came.
pub(crate) fn past_pieces(view: &View, card: Option<&str>, itself: &str) -> Vec<PastPiece> {
    let Some(card) = card else { return Vec::new() };
    model(view, card).past(view, itself, LOOKED_AT)
}

/// A power reading of a build beside what the card and the other builds led to expect of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Forecast {
    /// What was read, kg.
    pub(crate) read: f64,
    /// What was expected without any reading of that piece, kg.
    pub(crate) expected: f64,
    /// The standard deviation of read less expected, as a part of it.
    pub(crate) deviation: f64,
    /// How many past builds it was made from.
    pub(crate) n_before: usize,
    /// When the piece came.
    pub(crate) date: Option<Date>,
}

impl Forecast {
    /// What was expected nine times out of ten, kg.
    pub(crate) fn range(self) -> (f64, f64) {
        let factor = (NINETY_FIVE * self.deviation).exp();
        (self.expected / factor, self.expected * factor)
    }

    /// Whether the reading was in that range.
    pub(crate) fn is_inside(self) -> bool {
        let (low, high) = self.range();
        (low..=high).contains(&self.read)
    }

    /// How far the reading was from what was expected, as a part of it.
    pub(crate) fn miss(self) -> f64 {
        self.read / self.expected - 1.0
    }
}

/// Compares the last power reading of each of some builds that is no slip with what had been expected of it; `None` without one.
pub(crate) fn last_forecasts(view: &View, ids: &[&str]) -> Vec<Option<Forecast>> {
    let forecasts = view.memos("last-forecast", ids, |view, id| {
        let piece = piece(view, id)?;
        let fitted = piece.fitted.as_ref().ok()?;
        let (_, taken) = (piece.taken.iter().enumerate().rev()).find(|(idx, taken)| {
            taken.measure == Some(Measure::Power) && !fitted.strays.contains(idx)
        })?;
        let record = view.record(id)?;
        let date = record.build().and_then(came_on);
        Some(Forecast { n_before: fitted.n_past, date, ..forecast(&fitted.prior, taken.reading)? })
    });
    forecasts.iter().map(|forecast| **forecast).collect()
}

/// So many of the latest pieces of a model are foretold.
const FORETOLD: usize = 24;

/// Compares the first power reading of each piece of a model with what had been expected of it before it came, in the order in which
/// they came; of many pieces the latest.
pub(crate) fn first_forecasts(view: &View, card: &str) -> Vec<(String, Forecast)> {
    let model = model(view, card);
    let latest = model.pieces.iter().skip(model.pieces.len().saturating_sub(FORETOLD));
    let latest: Vec<&String> = latest.map(|(record, _)| record).collect();
    let forecasts = view.memos("first-forecast", &latest, |view, id| {
        let piece = piece(view, id)?;
        let taken = piece.taken.iter().find(|taken| taken.measure == Some(Measure::Power))?;
        let (before, n_before) = before_it_came(view, piece.card.as_deref()?, id)?;
        let date = view.record(id).and_then(|record| came_on(record.build()?));
        Some(Forecast { n_before, date, ..forecast(&before, taken.reading)? })
    });
    let told = latest.into_iter().zip(forecasts);
    told.filter_map(|(record, forecast)| Some((record.clone(), (*forecast)?))).collect()
}

/// A reading beside what was believed before all readings of the piece.
fn forecast(prior: &Prior, reading: Reading) -> Option<Forecast> {
    let Measured::Power(read) = reading.measured else { return None };
    // A reading that all but counts for nothing still says what is expected of it, in the clamp that it was read in.
    let vague = Reading { sd: Some(VAGUE * read.kg()), ..reading };
    let before = fit(prior, &[vague]).ok()?;
    let residual = before.residuals().first()?;
    let expected = residual.predicted.ok()?;
    let unsure = VAGUE * before.unsure_of(0)?;
    Some(Forecast {
        read: residual.read,
        expected,
        deviation: unsure.hypot(before.errors().reclamp),
        n_before: 0,
        date: None,
    })
}

/// The standard deviation of a power that all but counts for nothing, as a part of it.
const VAGUE: f64 = 1e6;

#[cfg(test)]
mod tests {
    use taperbook_plugin::Shelf;

    use super::*;

    const CARD: &str = "---
kind: blank
length: 2 m
material: carbon
modulus: 90 GPa
calipers: [{ at: 0 mm, od: 10 mm, wall: 0.8 mm }, { at: 2 m, od: 2 mm, wall: 0.4 mm }]
---
";
    const BUILD: &str = "---
kind: build
blank: c
held_at: 200 mm
bench:
  - read: { length: 2 m, power: 200 g }
---
";

    /// What is not sure of the clamp that it was read in is not sure of the reading.
    #[test]
    fn a_forecast_of_a_reading_counts_the_clamp() {
        let deviation = |errors: &str| {
            let mut shelf = Shelf::default();
            let files = [("shop.yaml", errors), ("blanks/c.md", CARD), ("builds/b.md", BUILD)];
            for (path, text) in files {
                let parsed = taperbook_record::read(path, text.as_bytes());
                assert!(parsed.problems.is_empty(), "{:?}", parsed.problems);
                shelf.put(parsed.record);
            }
            last_forecasts(&View::new(&shelf), &["builds/b"])[0].expect("it has a power").deviation
        };
        let (level, askew) =
            (deviation("errors: { tilt: 0.1 deg }\n"), deviation("errors: { tilt: 3 deg }\n"));
        // Half a degree is about 4 % of power (measured with this mechanics).
        assert!(0.1 < askew && 1.3 * level < askew, "{level} {askew}");
    }
}
