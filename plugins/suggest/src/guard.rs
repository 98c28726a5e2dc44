//! The guard against a wrong reading, before any cut.
//!
//! A weight misread, a mark slipped by an inch or a blank not seated in the jaws is wrong by far more than clamping anew
//! makes it. Two questions are asked: does a reading contradict all else that is known, which is looked at here, and would it have
//! been noticed if it were wrong, which is for [`crate::doubt`]? A second reading costs a minute, and a cut costs a blank.

use taperbook_bench::{Fitted, Piece};
use taperbook_mechanics::fit::Reading;
use taperbook_record::Measure;

/// A reading that is so many standard deviations from what all else leads to expect is asked for again.
const CONTRADICTS: f64 = 2.5;
/// Where readings are further apart than this once the worst is left out, more than one of them is wrong (one right reading in 16 thousand
/// misses by more).
const BEYOND_CHANCE: f64 = 4.0;
/// With so many readings in one state nobody is asked for another.
pub(crate) const ENOUGH: usize = 3;

/// What comes of looking at the readings.
pub(crate) enum Checked {
    /// They agree.
    Agree,
    /// One stands against all others and is left out of account.
    LeftOut {
        /// Its place in [`Piece::taken`].
        reading_idx: usize,
        /// The mechanics without it.
        fitted: Box<Fitted>,
    },
    /// They contradict each other, or the card and the past builds, and it can't be told which is wrong.
    Contradict {
        /// The place in [`Piece::taken`] of the one that is furthest off.
        reading_idx: usize,
    },
    /// So many of them contradict each other that nothing comes of leaving one out.
    Apart {
        /// Those that contradict the rest, by their place in [`Piece::taken`].
        readings: Vec<usize>,
    },
}

/// Looks whether the readings that decide a cut agree with each other, the card and the past builds.
pub(crate) fn checked(piece: &Piece, fitted: &Fitted) -> Checked {
    let watched: Vec<usize> = watched(piece);
    let is_stray = |idx: usize| fitted.strays.contains(&idx);
    // A weight or an angle that is left out of account speaks neither for a power nor against it.
    let is_other_stray = |idx: usize| is_stray(idx) && !watched.contains(&idx);
    let of_all = match fitted.strays.iter().any(|idx| is_other_stray(*idx)) {
        true => fitted.again(|idx, reading| ignore(reading, is_other_stray(idx))).ok(),
        false => None,
    };
    let Some(worst) = worst(of_all.as_ref().unwrap_or(fitted), &watched, None) else {
        return Checked::Agree;
    };
    // The one wrong reading is the one without which all others agree.
    let mut without: Vec<(usize, Fitted)> = watched
        .iter()
        .filter(|_| 2 < watched.len())
        .filter_map(|left_out| {
            let without = |idx: usize| idx == *left_out || is_other_stray(idx);
            Some((*left_out, fitted.again(|idx, reading| ignore(reading, without(idx))).ok()?))
        })
        .filter(|(left_out, fitted)| self::worst(fitted, &watched, Some(*left_out)).is_none())
        .collect();
    if without.len() == 1
        && let Some((reading_idx, fitted)) = without.pop()
    {
        return Checked::LeftOut { reading_idx, fitted: Box::new(fitted) };
    }
    if n_power_readings(piece) < ENOUGH {
        return Checked::Contradict { reading_idx: worst };
    }
    match fitted.again(|idx, reading| ignore(reading, idx == worst || is_stray(idx))) {
        Ok(rest) => {
            let still = |idx: &usize| CONTRADICTS < miss(&rest, *idx);
            let mut apart: Vec<usize> = watched.iter().copied().filter(still).collect();
            if apart.iter().all(|idx| miss(&rest, *idx) < BEYOND_CHANCE) {
                return Checked::LeftOut { reading_idx: worst, fitted: Box::new(rest) };
            }
            apart.extend(watched.iter().filter(|idx| **idx == worst || is_stray(**idx)));
            apart.sort_unstable();
            Checked::Apart { readings: apart }
        }
        Err(_) => Checked::Contradict { reading_idx: worst },
    }
}

/// How many power readings there are of the piece as it now is.
pub(crate) fn n_power_readings(piece: &Piece) -> usize {
    let present = piece.walk.states.len() - 1;
    let in_present = |item: usize| piece.walk.state_of_item.get(item) == Some(&present);
    piece
        .taken
        .iter()
        .filter(|taken| taken.measure == Some(Measure::Power) && in_present(taken.item))
        .count()
}

/// The readings that decide a cut: powers, and tapped frequencies.
fn watched(piece: &Piece) -> Vec<usize> {
    let decides = |measure| matches!(measure, Some(Measure::Power | Measure::Recovery));
    piece
        .taken
        .iter()
        .enumerate()
        .filter(|(_, taken)| decides(taken.measure))
        .map(|(idx, _)| idx)
        .collect()
}

/// The reading that is furthest off, when it is too far off.
fn worst(fitted: &Fitted, watched: &[usize], left_out: Option<usize>) -> Option<usize> {
    let miss = |idx: usize| miss(fitted, idx);
    let others = watched.iter().copied().filter(|idx| Some(*idx) != left_out);
    others.max_by(|a, b| miss(*a).total_cmp(&miss(*b))).filter(|idx| CONTRADICTS < miss(*idx))
}

fn miss(fitted: &Fitted, idx: usize) -> f64 {
    fitted.all.residuals().get(idx).map_or(0.0, |residual| residual.miss.abs())
}

/// Makes a reading count for nothing.
fn ignore(reading: &mut Reading, this: bool) {
    if this {
        *reading = reading.idle();
    }
}

#[cfg(test)]
mod tests {
    use taperbook_bench::piece;
    use taperbook_plugin::{Shelf, View};
    use taperbook_units::Length;

    use super::*;
    use crate::doubt::Doubt;

    const CARD: &str = "---
kind: blank
length: 2 m
material: carbon
calipers: [{ at: 0 mm, od: 10 mm, wall: 0.8 mm }, { at: 2 m, od: 2 mm, wall: 0.4 mm }]
---
";

    fn with<T>(items: &str, look: impl Fn(&Piece, &Fitted) -> T) -> T {
        let items: String = items.lines().map(|item| format!("  - {}\n", item.trim())).collect();
        let build = format!("---\nkind: build\nblank: c\nheld_at: 200 mm\nbench:\n{items}---\n");
        let mut shelf = Shelf::default();
        shelf.put(taperbook_record::read("blanks/c.md", CARD.as_bytes()).record);
        shelf.put(taperbook_record::read("builds/b.md", build.as_bytes()).record);
        let piece = piece(&View::new(&shelf), "builds/b").expect("it is a build");
        look(&piece, piece.fitted.as_ref().expect("it can be computed"))
    }

    fn power(fitted: &Fitted) -> f64 {
        let none = Length::default();
        let outcome = fitted.posterior.outcome(none, none, Length::from_mm(200.0)).expect("whole");
        outcome.value(taperbook_mechanics::fit::Measure::Power).expect("it bends")
    }

    #[test]
    fn of_two_slips_neither_comes_back_when_the_other_is_left_out() {
        let items = "read: { length: 2 m, power: 250 g }
            read: { power: 252 g }
            read: { power: 249 g }
            read: { power: 120 g }
            read: { power: 25 g }";
        with(items, |piece, fitted| {
            assert_eq!(fitted.strays, [3, 4]);
            let Checked::LeftOut { fitted: rest, .. } = checked(piece, fitted) else { panic!() };
            assert!((power(&rest) / power(fitted) - 1.0).abs() < 1e-3, "{}", power(&rest));
        });
    }

    #[test]
    fn a_weight_that_is_left_out_says_nothing_of_a_power() {
        let items = |weight: &str| {
            format!(
                "read: {{ length: 2 m, weight: {weight}, power: 250 g }}\nread: {{ power: 251 g }}"
            )
        };
        let doubted = |weight: &str| {
            with(&items(weight), |piece, fitted| {
                assert!(matches!(checked(piece, fitted), Checked::Agree));
                let now =
                    piece.outcome(piece.walk.present().off, Length::from_mm(200.0)).expect("whole");
                let doubt = Doubt::of(piece, fitted, &now).expect("it bends");
                (fitted.strays.clone(), doubt.outside(-0.1, 0.1))
            })
        };
        let ((none, right), (stray, wrong)) = (doubted("46 g"), doubted("4.6 g"));
        assert_eq!((none, stray), (vec![], vec![0]));
        assert!((wrong / right - 1.0).abs() < 0.25, "{wrong} {right}");
    }
}
