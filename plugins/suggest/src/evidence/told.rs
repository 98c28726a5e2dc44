//! What was done last time, in words, and what was written about it.

use taperbook_bench::{came_on, model, piece};
use taperbook_plugin::View;
use taperbook_record::{Action, Build, Measure};
use taperbook_units::Units;

use super::{came_off, in_their_words};
use crate::words;

/// The latest build of the model that was cut, and what it says.
pub(crate) struct LastTime {
    pub(crate) record: String,
    pub(crate) words: String,
}

/// Tells what was done last time a piece of this card was cut; `None` when none was.
pub(crate) fn last_time(
    view: &View,
    card: Option<&str>,
    itself: &str,
    units: Units,
) -> Option<LastTime> {
    let model = model(view, card?);
    let others =
        model.pieces.iter().rev().map(|(record, _)| record).filter(|record| *record != itself);
    others
        .filter_map(|record| Some((record, told(view, record, units)?)))
        .next()
        .map(|(record, words)| LastTime { record: record.clone(), words })
}

fn told(view: &View, id: &str, units: Units) -> Option<String> {
    let record = view.record(id)?;
    let build = record.build()?;
    let n_cuts = build.bench.iter().filter(|item| matches!(item.action, Action::Cut(_))).count();
    if n_cuts == 0 {
        return None;
    }
    let past = piece(view, id)?;
    let present = past.walk.present();
    let mut text = format!("last time, {id}");
    if let Some(date) = came_on(build) {
        text.push_str(&format!(" of {date}"));
    }
    let off = came_off(present);
    let cut = words::cuts(units, off.tip, off.butt);
    text.push_str(&format!(": {cut}"));
    // Where the tape tells of less than was logged, a cut may be logged twice.
    if off == present.logged {
        text.push_str(&format!(" in {}", words::count(n_cuts, "cut")));
    }
    let state = past.state(present.off, past.held_at);
    let ended: Vec<String> = [Measure::Length, Measure::Power]
        .into_iter()
        .filter_map(|measure| {
            Some(format!(
                "{} {}",
                measure.words(),
                words::value(units, measure, state.value(measure)?)
            ))
        })
        .collect();
    if !ended.is_empty() {
        text.push_str(&format!(" made {}", words::list(&ended)));
    }
    text.push_str(&judged(build));
    Some(text)
}

fn judged(build: &Build) -> String {
    let rated = build
        .rating
        .as_ref()
        .map_or(", not rated yet".to_owned(), |rating| format!(", rated {} of 5", rating.value));
    let written = in_their_words(build).map(|words| format!("; you wrote “{words}”"));
    format!("{rated}{}", written.unwrap_or_default())
}
