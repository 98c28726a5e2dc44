//! How a piece bends before and after further cuts: what a picture of it is drawn from.

use taperbook_bench::{Cuts, Piece, piece};
use taperbook_mechanics::fit::Measured;
use taperbook_plugin::{BendAdvice, Bent, BentPlace, BoardPoints, View};
use taperbook_record::Measure;
use taperbook_units::{Length, Mass};

use crate::tried::possible;

/// So many places are told of a curve: enough that straight lines between them look bent.
const N_PLACES: usize = 33;

/// Answers how a piece bends.
///
/// # Errors
/// When the record is no build or card, it can't be cut so, or what a bend needs is not known; says what.
pub(crate) fn bend(
    view: &View,
    id: &str,
    cut: Cuts,
    held_at: Option<Length>,
) -> Result<BendAdvice, String> {
    let piece = piece(view, id).ok_or_else(|| {
        format!("`{id}` is neither a build nor a blank card: nothing of it bends")
    })?;
    let units = view.shop().units();
    possible(&piece, cut, units)?;
    let held_at = held_at.or(piece.held_at).ok_or(NO_HELD_AT)?;
    let now = piece.walk.present().off;
    let power = piece.outcome(now, held_at)?.value(taperbook_bench::to_mechanics(Measure::Power));
    let load = Mass::from_kg(power.map_err(|missing| missing.to_string())?);
    let free = piece.state(now, Some(held_at)).value(Measure::FreeLength).unwrap_or_default();
    Ok(BendAdvice {
        record: id.to_owned(),
        held_at_mm: held_at.mm(),
        load_g: load.g(),
        third_mm: Length::from_m(free / 3.0).mm(),
        before: bent(&piece, now, held_at, load)?,
        after: bent(&piece, now.plus(cut.tip, cut.butt), held_at, load)?,
        readings: readings(&piece, now),
    })
}

const NO_HELD_AT: &str =
    "say where it is held: write `held_at: 9 in` in the record, its blank card or shop.yaml";

fn bent(piece: &Piece, off: Cuts, held_at: Length, load: Mass) -> Result<Bent, String> {
    let places = piece.bent(off, held_at, load, N_PLACES)?;
    let length = piece.state(off, None).value(Measure::Length).unwrap_or_default();
    Ok(Bent {
        length_mm: Length::from_m(length).mm(),
        places: places
            .into_iter()
            .map(|place| BentPlace {
                x_mm: place.x.mm(),
                y_mm: place.y.mm(),
                beside_x_mm: place.beside.0.mm(),
                beside_y_mm: place.beside.1.mm(),
            })
            .collect(),
    })
}

/// What was read on the board since the last cut, by item and weight.
fn readings(piece: &Piece, now: Cuts) -> Vec<BoardPoints> {
    let mut all: Vec<(BoardPoints, Length)> = Vec::new();
    for taken in &piece.taken {
        let reading = &taken.reading;
        let Measured::BoardPoint { load, x, y } = reading.measured else { continue };
        if (reading.tip_cut, reading.butt_cut) != (now.tip, now.butt) {
            continue;
        }
        let point = (x.mm(), y.mm());
        match all.last_mut() {
            Some((last, _)) if last.item == taken.item && last.load_g == load.g() => {
                last.points.push(point);
            }
            _ => all.push((
                BoardPoints { item: taken.item, load_g: load.g(), points: vec![point], bent: None },
                reading.held_at,
            )),
        }
    }
    let complete = |(mut points, held_at): (BoardPoints, Length)| {
        points.bent = bent(piece, now, held_at, Mass::from_g(points.load_g)).ok();
        points
    };
    all.into_iter().map(complete).collect()
}
