//! How the shop's other builds of a model did: what was read there beside what was expected without it.
//!
//! Used by the evidence of a suggestion and by the explanation of a model.

use taperbook_bench::{PastPiece, Piece, model, piece};
use taperbook_mechanics::fit::{self, Reading, fit};
use taperbook_plugin::View;
use taperbook_record::Measure;

/// How many past pieces are looked at, those with the latest ids; all teach the mechanics.
const LOOKED_AT: usize = 48;

/// The past pieces of a model but the one in hand, in the order of their ids.
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
}

impl Forecast {
    /// How far the reading was from what was expected, as a part of it.
    pub(crate) fn miss(self) -> f64 {
        self.read / self.expected - 1.0
    }
}

/// Compares the last power reading of a build with what had been expected of it; `None` without one.
pub(crate) fn last_forecast(view: &View, id: &str) -> Option<Forecast> {
    let piece = piece(view, id)?;
    let taken = piece.taken.iter().rev().find(|taken| taken.measure == Some(Measure::Power))?;
    forecast(&piece, taken.reading)
}

fn forecast(piece: &Piece, reading: Reading) -> Option<Forecast> {
    let fitted = piece.fitted.as_ref().ok()?;
    // A reading that counts for nothing still says what is expected of it, in the clamp that it was read in.
    let idle = reading.idle();
    let before = fit(&fitted.prior, &[idle]).ok()?;
    let residual = before.residuals().first()?;
    let expected = residual.predicted.ok()?;
    let outcome = before.outcome(reading.tip_cut, reading.butt_cut, reading.held_at).ok()?;
    let power = outcome.value(fit::Measure::Power).ok()?;
    let unsure = outcome.covariance(fit::Measure::Power, fit::Measure::Power).sqrt() / power;
    Some(Forecast { read: residual.read, expected, deviation: unsure.hypot(CLAMPED_ANEW) })
}

/// What clamping anew does to a power reading, as a part of it (common practice, no source).
const CLAMPED_ANEW: f64 = 0.02;
