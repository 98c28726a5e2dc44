//! A bench as it went: each item in words, and what was read beside what the rest leads to expect.

use taperbook_bench::limits::inverse_normal;
use taperbook_bench::{Fitted, Piece, Taken, piece};
use taperbook_mechanics::fit::Residual;
use taperbook_plugin::{Compared, Number, View, WalkStep};
use taperbook_record::{Action, Cut, Item, Measure, Pull, Reading};
use taperbook_units::{Dimension, Length, Units};

/// Tells the bench of a build.
///
/// # Errors
/// When the record is no build.
pub(crate) fn walk_of(view: &View, id: &str) -> Result<Vec<WalkStep>, String> {
    let record = view.record(id);
    let build = record.as_deref().and_then(|record| record.build());
    let build = build.ok_or_else(|| format!("`{id}` is no build: it has no bench"))?;
    let piece = piece(view, id).ok_or_else(|| format!("`{id}` is no build: it has no bench"))?;
    let units = view.shop().units();
    let uncut = WalkStep {
        item: -1,
        action: "uncut".to_owned(),
        date: None,
        words: match piece.walk.uncut().length {
            Some(length) => format!("uncut, {}", units.length(length)),
            None => "uncut".to_owned(),
        },
        tip_cut_mm: 0.0,
        butt_cut_mm: 0.0,
        length_mm: piece.walk.uncut().length.map(Length::mm),
        compared: Vec::new(),
    };
    let items = build
        .bench
        .iter()
        .enumerate()
        // A record that is saved between two looks at it may have grown: what the walk does not know comes next time.
        .filter_map(|(item_idx, item)| step(&piece, item_idx, item, units));
    Ok(std::iter::once(uncut).chain(items).collect())
}

fn step(piece: &Piece, item_idx: usize, item: &Item, units: Units) -> Option<WalkStep> {
    let state = piece.walk.states.get(*piece.walk.state_of_item.get(item_idx)?)?;
    let (action, words) = match &item.action {
        Action::Read(reading) => ("read", reading_in_words(reading, units)),
        Action::Cut(cut) => ("cut", cut_in_words(cut, units)),
        Action::Plan(plan) => ("plan", ends_in_words(plan.tip.as_ref(), plan.butt.as_ref(), units)),
        Action::Pull(pull) => ("pull", pull_in_words(pull, units)),
        Action::Feel(words) => ("feel", words.clone()),
        Action::Settled(ends) => {
            let end = |word: &str, why: &Option<taperbook_record::Spanned<String>>| {
                why.as_ref().map(|why| format!("{word}: {}", why.value))
            };
            let ends: Vec<String> =
                [end("tip", &ends.tip), end("butt", &ends.butt)].into_iter().flatten().collect();
            ("settled", ends.join("; "))
        }
        Action::Unread => ("unread", "could not be read".to_owned()),
    };
    let words = match (&item.note, words.is_empty()) {
        (Some(note), false) => format!("{words}; {note}"),
        (Some(note), true) => note.clone(),
        (None, _) => words,
    };
    Some(WalkStep {
        item: i64::try_from(item_idx).unwrap_or(i64::MAX),
        action: action.to_owned(),
        date: item.date.map(|date| date.to_string()),
        words,
        tip_cut_mm: state.logged.tip.mm(),
        butt_cut_mm: state.logged.butt.mm(),
        length_mm: state.length.map(Length::mm),
        compared: compared(piece, item_idx),
    })
}

/// What was read in an item beside what the card, the model's other pieces and the other readings lead to expect on the
/// same board.
fn compared(piece: &Piece, item_idx: usize) -> Vec<Compared> {
    let Ok(fitted) = &piece.fitted else { return Vec::new() };
    let of_item = piece.taken.iter().enumerate().filter(|(_, taken)| taken.item == item_idx);
    of_item.filter_map(|(taken_idx, taken)| compare(fitted, taken_idx, taken)).collect()
}

fn compare(fitted: &Fitted, taken_idx: usize, taken: &Taken) -> Option<Compared> {
    let measure = taken.measure?;
    let Residual { read, miss, .. } = *fitted.all.residuals().get(taken_idx)?;
    let rest = fitted.without(&[taken_idx]).ok()?;
    let expected = match rest.residuals().get(taken_idx)?.predicted {
        Ok(expected) => {
            // The miss is counted in standard deviations of what was read less what was expected.
            let sd = if miss == 0.0 { 0.0 } else { (read - expected) / miss };
            let spread = inverse_normal(0.95) * sd.abs();
            Number::Known { value: expected, low: expected - spread, high: expected + spread }
        }
        Err(missing) => Number::missing(missing.to_string()),
    };
    let unit = measure.json_unit();
    Some(Compared {
        number: measure.json_key().to_owned(),
        read: read / unit,
        expected: expected.scaled(1.0 / unit),
    })
}

fn reading_in_words(reading: &Reading, units: Units) -> String {
    let mut words: Vec<String> = Measure::ALL
        .into_iter()
        .filter_map(|measure| {
            let value = reading.value(measure)?;
            let printed = match measure {
                Measure::TipOd | Measure::ButtOd => units.diameter(Length::from_m(value)),
                _ => units.value(measure.dimension(), value),
            };
            Some(format!("{} {printed}", measure.words()))
        })
        .collect();
    for board in &reading.board {
        words.push(format!(
            "{} points on the board under {}",
            board.points.len(),
            units.mass(board.load)
        ));
    }
    if !reading.calipers.is_empty() {
        words.push(format!("{} diameters", reading.calipers.len()));
    }
    if let Some(held_at) = &reading.held_at {
        words.push(format!("held at {}", units.cut(held_at.value)));
    }
    if let Some(spine) = &reading.spine {
        words.push(format!("spine {spine}"));
    }
    if reading.dressed {
        words.push("guides on".to_owned());
    }
    words.join(", ")
}

fn cut_in_words(cut: &Cut, units: Units) -> String {
    let ends = ends_in_words(cut.tip.as_ref(), cut.butt.as_ref(), units);
    match &cut.with {
        Some(saw) => format!("{ends}, with {saw}"),
        None => ends,
    }
}

fn ends_in_words(
    tip: Option<&taperbook_record::Spanned<Length>>,
    butt: Option<&taperbook_record::Spanned<Length>>,
    units: Units,
) -> String {
    let end = |word: &str, cut: Option<&taperbook_record::Spanned<Length>>| {
        cut.map(|cut| format!("{} off the {word}", units.cut(cut.value)))
    };
    let ends: Vec<String> = [end("tip", tip), end("butt", butt)].into_iter().flatten().collect();
    ends.join(" and ")
}

fn pull_in_words(pull: &Pull, units: Units) -> String {
    let mut words = Vec::new();
    if let Some(load) = &pull.load {
        words.push(format!("pulled with {}", units.mass(load.value)));
    }
    if let Some(angle) = &pull.tip_angle {
        words.push(format!("tip at {}", units.value(Dimension::Angle, angle.value.rad())));
    }
    words.join(", ")
}
