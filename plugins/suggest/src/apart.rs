//! One number of a piece taken apart: which reading does what for it, what is not sure of it, and which reading would tell.

use taperbook_bench::{Fitted, Taken, state_of, to_mechanics};
use taperbook_mechanics::fit::{Estimate, Measured, Parts, Unsure};
use taperbook_plugin::{
    ExplainAdvice, NextReading, Number, NumberParts, ReadingPart, UnsurePart, View,
};
use taperbook_record::Measure;
use taperbook_units::Units;

use crate::case::Case;
use crate::{words, worth};

/// Answers where one number of a build or a blank card, as it now is, comes from.
///
/// # Errors
/// When the record is neither, or the number can't be computed; says what to measure.
pub(crate) fn taken_apart(
    view: &View,
    id: &str,
    measure: Measure,
    held_at: Option<taperbook_units::Length>,
) -> Result<ExplainAdvice, String> {
    let case = Case::new(view, id, held_at)?;
    let fitted = case.piece.fitted.as_ref().map_err(Clone::clone)?;
    let held_at = match case.held_at {
        Some(held_at) => held_at,
        None if is_bent(measure) => {
            return Err(
                "say where it is held: write `held_at: 9 in` in the record, its blank card or shop.yaml"
                    .to_owned(),
            );
        }
        None => taperbook_units::Length::default(),
    };
    let off = case.piece.walk.present().off;
    let groups = Group::all(&case.piece.taken, fitted);
    let readings: Vec<Vec<usize>> = groups.iter().map(|group| group.readings.clone()).collect();
    let parts = fitted
        .posterior
        .parts(to_mechanics(measure), (off.tip, off.butt), held_at, &readings)
        .map_err(|error| error.to_string())?;
    let unit = measure.json_unit();
    let number = |estimate: Estimate| {
        let Estimate { value, low, high } = estimate;
        Number::Known { value, low, high }.scaled(1.0 / unit)
    };
    let mut told: Vec<ReadingPart> = (groups.iter().zip(&parts.readings))
        .filter_map(|(group, told)| {
            let told = (*told)?;
            Some(ReadingPart {
                item: group.item,
                reading: group.words(&case),
                without: number(told.without),
                narrows: told.narrows,
                share: told.share,
            })
        })
        .collect();
    told.sort_by(|a, b| b.narrows.total_cmp(&a.narrows));
    let shown = case
        .piece
        .outcome(off, held_at)
        .ok()
        .and_then(|outcome| state_of(&outcome).get(measure))
        .map_or_else(|| number(parts.estimate), |shown| shown.scaled(1.0 / unit));
    let next = worth::all_for(&case.piece, measure, held_at, case.units);
    let parts = NumberParts {
        key: measure.json_key().to_owned(),
        held_at_mm: held_at.mm(),
        number: shown,
        readings: told,
        unsure: unsure(&parts),
        would_narrow: (next.into_iter())
            .map(|(reading, worth)| NextReading {
                reading,
                left: number(worth.left),
                narrows: worth.narrows,
            })
            .collect(),
    };
    let words = in_words(&case, measure, &parts);
    Ok(ExplainAdvice { record: id.to_owned(), number: Some(parts), words, forecasts: Vec::new() })
}

fn is_bent(measure: Measure) -> bool {
    !matches!(
        measure,
        Measure::Length | Measure::TipOd | Measure::ButtOd | Measure::Weight | Measure::Balance
    )
}

/// Readings that were taken in one go.
struct Group<'a> {
    item: i64,
    taken: Vec<&'a Taken>,
    /// Their places among the readings of the fit.
    readings: Vec<usize>,
    /// How many of them are left out of account.
    n_strays: usize,
}

impl<'a> Group<'a> {
    /// The readings of a piece, points of one board together, then what the card states.
    fn all(taken: &'a [Taken], fitted: &Fitted) -> Vec<Self> {
        let mut groups: Vec<Self> = Vec::new();
        for (reading_idx, one) in taken.iter().enumerate() {
            let n_strays = usize::from(fitted.strays.contains(&reading_idx));
            let together = groups.last_mut().filter(|group| {
                group.taken.last().is_some_and(|before| {
                    before.item == one.item && is_point(before) && is_point(one)
                })
            });
            match together {
                Some(group) => {
                    group.taken.push(one);
                    group.readings.push(reading_idx);
                    group.n_strays += n_strays;
                }
                None => groups.push(Self {
                    item: i64::try_from(one.item).unwrap_or(i64::MAX),
                    taken: vec![one],
                    readings: vec![reading_idx],
                    n_strays,
                }),
            }
        }
        if taken.len() < fitted.posterior.residuals().len() {
            let readings = vec![taken.len()];
            groups.push(Self { item: -1, taken: Vec::new(), readings, n_strays: 0 });
        }
        groups
    }

    fn words(&self, case: &Case) -> String {
        let units = case.units;
        let [first, ..] = self.taken[..] else {
            let weight = case.blank().and_then(|blank| blank.weight.as_ref());
            let weight = weight.map_or_else(String::new, |weight| units.mass(weight.value));
            return format!("weight {weight}, as the card states").replace("  ", " ");
        };
        let read = match (first.reading.measured, first.measure) {
            (Measured::BoardPoint { .. }, _) => {
                words::count(self.taken.len(), "point") + " on the board"
            }
            (Measured::Pull { load, .. }, _) => format!("a pull of {}", units.mass(load)),
            (measured, Some(measure)) => {
                format!("{} {}", measure.words(), words::value(units, measure, si(measured)))
            }
            (_, None) => "a reading".to_owned(),
        };
        let stray = match self.n_strays {
            0 => String::new(),
            n if n == self.taken.len() => ", left out of account".to_owned(),
            n => format!(", {n} of them left out of account"),
        };
        format!("item {}: {read}{stray}", self.item + 1)
    }
}

fn is_point(taken: &Taken) -> bool {
    matches!(taken.reading.measured, Measured::BoardPoint { .. })
}

fn si(measured: Measured) -> f64 {
    match measured {
        Measured::Power(mass) | Measured::Weight(mass) => mass.kg(),
        Measured::TipAngle(angle) => angle.rad(),
        Measured::Frequency(frequency) => frequency.hz(),
        Measured::Balance(length) | Measured::TipOd(length) | Measured::ButtOd(length) => {
            length.m()
        }
        Measured::BoardPoint { y, .. } => y.m(),
        Measured::Pull { load, .. } => load.kg(),
    }
}

fn unsure(parts: &Parts) -> Vec<UnsurePart> {
    let part = |(why, share): &(Unsure, f64)| UnsurePart {
        what: match why {
            Unsure::Readings => "the errors of the readings",
            Unsure::Length => "the length of the piece",
            Unsure::Modulus => "the modulus",
            Unsure::Wall => "the wall",
            Unsure::Density => "the mass along the blank",
            Unsure::Diameter => "the outside diameter",
            Unsure::Stiffness => "how the stiffness runs along the blank",
            Unsure::SolidTip => "the solid tip",
            Unsure::Tilt => "how the clamp is tilted",
            Unsure::Give => "how far the clamp yields",
        }
        .to_owned(),
        share: *share,
    };
    parts.unsure.iter().map(part).collect()
}

/// A source of less than this part of the range's square is not put into words.
const LEAST_SHARE: f64 = 0.05;
/// So many readings to come are put into words.
const MOST_NEXT: usize = 3;

fn in_words(case: &Case, measure: Measure, parts: &NumberParts) -> Vec<String> {
    let ranged = |number: &Number| ranged(case.units, measure, number);
    let held = if is_bent(measure) {
        let held_at = taperbook_units::Length::from_mm(parts.held_at_mm);
        format!(", held at {}", case.units.cut(held_at))
    } else {
        String::new()
    };
    let mut lines = vec![format!("{}{held}: {}", measure.words(), ranged(&parts.number))];
    for reading in &parts.readings {
        lines.push(if reading.narrows < 0.005 {
            format!("{}: says nothing of it", reading.reading)
        } else {
            format!(
                "{}: without it {}; it narrows the range by {:.0} %",
                reading.reading,
                ranged(&reading.without),
                100.0 * reading.narrows
            )
        });
    }
    let named: Vec<String> = (parts.unsure.iter())
        .filter(|part| LEAST_SHARE <= part.share)
        .map(|part| format!("{} ({:.0} %)", part.what, 100.0 * part.share))
        .collect();
    if !named.is_empty() {
        lines.push(format!("what is left unsure is {}", words::list(&named)));
    }
    for next in parts.would_narrow.iter().take(MOST_NEXT) {
        lines.push(format!(
            "would narrow it by {:.0} %, to {} if it reads as expected: {}",
            100.0 * next.narrows,
            ranged(&next.left),
            next.reading
        ));
    }
    if parts.would_narrow.is_empty() {
        lines.push("no single reading would narrow it much".to_owned());
    }
    lines
}

/// `236 g (229 g … 243 g)`, from a number in the unit of its key.
fn ranged(units: Units, measure: Measure, number: &Number) -> String {
    match number.scaled(measure.json_unit()).known() {
        Some((value, low, high)) => {
            let print = |si| words::value(units, measure, si);
            format!("{} ({} … {})", print(value), print(low), print(high))
        }
        None => String::new(),
    }
}
