//! A change in words: power first, which is what the hand feels, then length, recovery and bend.
//!
//! Builders disagree about what to call quicker or slower blanks, so no such word stands alone here: each number that
//! changes is named, and a change within its own range is called unchanged.

use taperbook_bench::{Cuts, Piece, to_mechanics};
use taperbook_mechanics::fit::{Estimate, Outcome, Posterior};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

/// Says what changes from one state of a piece to another.
pub(crate) fn change_in_words(
    piece: &Piece,
    before: Cuts,
    after: Cuts,
    held_at: Option<Length>,
    units: Units,
) -> Vec<String> {
    let mut words = Vec::new();
    let shorter = after.total() - before.total();
    let length = match units.cut(shorter) {
        _ if shorter <= Length::default() => "stays as long as it is".to_owned(),
        cut => format!("is {cut} shorter"),
    };
    let outcomes = held_at.and_then(|held| {
        let fitted = piece.fitted.as_ref().ok()?;
        Some((
            &fitted.posterior,
            piece.outcome(before, held).ok()?,
            piece.outcome(after, held).ok()?,
        ))
    });
    let Some((posterior, before, after)) = outcomes else {
        words.push(length);
        return words;
    };
    let change = Change { posterior, before: &before, after: &after };
    words.extend(change.power());
    words.push(length);
    words.extend(change.recovery());
    words.extend(change.bend());
    words.extend(change.stiffness());
    words.extend(board_reads(piece));
    words
}

/// Says how far the shop's board is taken to read off, when that is more than clamping anew makes of it.
///
/// Power is meant for a level clamp that does not yield; a real one gives a little and may point up or down, so the
/// same blank reads less, or more, on the board.
fn board_reads(piece: &Piece) -> Option<String> {
    let fitted = piece.fitted.as_ref().ok()?;
    let last = piece.taken.iter().rposition(|taken| taken.measure == Some(Measure::Power))?;
    let reading = piece.taken[last].reading;
    let on_the_board = fitted.posterior.residuals().get(last)?.predicted.ok()?;
    let off = Cuts { tip: reading.tip_cut, butt: reading.butt_cut };
    let level = piece.value(Measure::Power, off, reading.held_at)?;
    let part = on_the_board / level - 1.0;
    const WORTH_A_WORD: f64 = 0.015;
    let way = if part < 0.0 { "low" } else { "high" };
    (WORTH_A_WORD < part.abs()).then(|| {
        format!(
            "the board is taken to read {:.0} % {way}, as a clamp that gives or is not level does: these numbers are for a level, unyielding clamp",
            part.abs() * 100.0
        )
    })
}

struct Change<'a> {
    posterior: &'a Posterior,
    before: &'a Outcome,
    after: &'a Outcome,
}

impl Change<'_> {
    fn power(&self) -> Option<String> {
        let (part, sure) = self.part(Measure::Power)?;
        Some(match sure {
            Sure::No => "holds the same weight, as far as can be told".to_owned(),
            Sure::Up => format!("holds {} more", percent(part)),
            Sure::Down => format!("holds {} less", percent(part)),
        })
    }

    fn recovery(&self) -> Option<String> {
        let (part, sure) = self.part(Measure::Recovery)?;
        Some(match sure {
            Sure::No => "recovers as before".to_owned(),
            Sure::Up => format!("recovers quicker, by {}", percent(part)),
            Sure::Down => format!("recovers slower, by {}", percent(part)),
        })
    }

    fn bend(&self) -> Option<String> {
        let (change, sure) = self.change(Measure::BendCentre)?;
        // One part in a hundred of the free length is hard to see on the board.
        let little = if change.value.abs() < 0.01 { "a little " } else { "" };
        Some(match sure {
            Sure::No => "bends in the same place".to_owned(),
            Sure::Up => format!("bends {little}lower down, nearer the butt"),
            Sure::Down => format!("bends {little}higher up, nearer the tip"),
        })
    }

    fn stiffness(&self) -> Option<String> {
        let (_, sure) = self.change(Measure::StiffnessForLength)?;
        let after = self.after.value(to_mechanics(Measure::StiffnessForLength)).ok()?;
        let of_uncut = format!("{after:.2} of the uncut blank");
        Some(match sure {
            Sure::No => format!("is as stiff for its length as before ({of_uncut})"),
            Sure::Up => format!("is stiffer for its length ({of_uncut})"),
            Sure::Down => format!("is softer for its length ({of_uncut})"),
        })
    }

    fn part(&self, measure: Measure) -> Option<(f64, Sure)> {
        let (change, sure) = self.change(measure)?;
        let before = self.before.value(to_mechanics(measure)).ok()?;
        Some((change.value / before, sure))
    }

    fn change(&self, measure: Measure) -> Option<(Estimate, Sure)> {
        let change = self.posterior.change(self.before, self.after, to_mechanics(measure)).ok()?;
        let sure = if 0.0 < change.low {
            Sure::Up
        } else if change.high < 0.0 {
            Sure::Down
        } else {
            Sure::No
        };
        Some((change, sure))
    }
}

#[derive(Clone, Copy)]
enum Sure {
    No,
    Up,
    Down,
}

fn percent(part: f64) -> String {
    let percent = part.abs() * 100.0;
    if percent < 0.95 { "less than 1 %".to_owned() } else { format!("{percent:.0} %") }
}
