//! The numbers of a record: of the piece as it now is, before any cut, and of its cuts.

use taperbook_bench::{Piece, PieceState, piece};
use taperbook_plugin::{Number, View};
use taperbook_record::{Action, Build, Measure, Record};

/// Works the numbers of a build or a blank card; other records have none.
pub(crate) fn numbers(record: &Record, view: &View) -> Vec<(String, Number)> {
    let Some(piece) = piece(view, &record.id) else { return Vec::new() };
    let mut numbers = Vec::new();
    let present = piece.walk.present();
    add(&mut numbers, "", &piece, present, record.build());
    if let Some(build) = record.build() {
        add(&mut numbers, "uncut_", &piece, piece.walk.uncut(), Some(build));
        let logged = present.logged;
        for (key, cut) in
            [("tip_cut", logged.tip), ("butt_cut", logged.butt), ("cut", logged.total())]
        {
            let number = match (&piece.walk.unread_cut, &piece.fitted) {
                (Some(_), Err(what)) => Number::missing(what.clone()),
                _ => Number::exact(cut.m()),
            };
            numbers.push((key.to_owned(), number));
        }
    }
    numbers
}

/// Adds the numbers of one state; what was read in that state wins over what is computed.
fn add(
    numbers: &mut Vec<(String, Number)>,
    prefix: &str,
    piece: &Piece,
    state: &PieceState,
    build: Option<&Build>,
) {
    let computed = piece.state(state.off, piece.held_at);
    for (measure, number) in computed.iter() {
        let read = match measure {
            Measure::Length => state.length.map(|length| length.m()),
            _ => build.and_then(|build| read_in(piece, build, state, measure)),
        };
        let number = match (read, number.known()) {
            (Some(read), Some((_, low, high))) => {
                Number::Known { value: read, low: low.min(read), high: high.max(read) }
            }
            (Some(read), None) => Number::exact(read),
            (None, _) => number,
        };
        numbers.push((format!("{prefix}{}", measure.key()), number));
    }
}

/// The last reading of a number in a state, when it was taken as the number is meant: bare, and held where the piece is.
fn read_in(piece: &Piece, build: &Build, state: &PieceState, measure: Measure) -> Option<f64> {
    let state_idx = piece.walk.states.iter().position(|other| other.item == state.item)?;
    build
        .bench
        .iter()
        .enumerate()
        .rev()
        .filter(|(item_idx, _)| piece.walk.state_of_item.get(*item_idx) == Some(&state_idx))
        .find_map(|(item_idx, item)| match &item.action {
            Action::Read(reading) if !reading.dressed && !piece.is_stray(item_idx, measure) => {
                let elsewhere =
                    reading.held_at.as_ref().is_some_and(|held| Some(held.value) != piece.held_at);
                let bent =
                    matches!(measure, Measure::Power | Measure::TipAngle | Measure::Recovery);
                if bent && elsewhere { None } else { reading.value(measure) }
            }
            _ => None,
        })
}
