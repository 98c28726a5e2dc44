//! What is on the rack: a card may say how many, an offcut is there unless it says otherwise.
//!
//! Nothing is counted down: who takes a blank from the rack writes the new number.

use std::sync::Arc;

use taperbook_plugin::View;
use taperbook_record::{Kind, Record};

use super::candidate::Judged;
use crate::words;

/// How many of a card or offcut are on the rack; `None` where nobody wrote it.
pub(super) fn in_stock(record: &Record) -> Option<u32> {
    let stated = record.card().and_then(|card| card.stock.as_ref()).map(|stock| stock.value);
    // What came off and was kept is one piece.
    stated.or((record.kind() == Kind::Offcut).then_some(1))
}

/// The blank cards and offcuts to be put to a brief, and what is said of those that are left out.
///
/// # Errors
/// When there is none.
pub(super) fn on_the_rack(
    view: &View,
    only_in_stock: bool,
) -> Result<(Vec<Arc<Record>>, Option<String>), String> {
    let mut cards = view.all(Kind::Blank);
    cards.extend(view.all(Kind::Offcut));
    if cards.is_empty() {
        return Err(
            "the shop folder has no blank card and no offcut: make one with `taperbook new blank NAME`"
                .to_owned(),
        );
    }
    if !only_in_stock {
        return Ok((cards, None));
    }
    let n_unknown = cards.iter().filter(|card| in_stock(card).is_none()).count();
    let n_none = cards.iter().filter(|card| in_stock(card) == Some(0)).count();
    cards.retain(|card| in_stock(card).is_some_and(|n| 0 < n));
    if cards.is_empty() {
        return Err(
            "no blank card says that one is on the rack: write such as `stock: 2` on the cards of those that are"
                .to_owned(),
        );
    }
    Ok((cards, left_out(n_none, n_unknown)))
}

/// The blank that would come first if one were on the rack, the blanks being in their order; `None` when what is there comes first anyway.
pub(super) fn to_order(judged: &[Judged]) -> Option<String> {
    let n_there = judged.iter().take_while(|one| one.stock() != Some(0)).count();
    let (there, gone) = judged.split_at(n_there);
    let (best, there) = (gone.first()?, there.first()?);
    (best.rank < there.rank).then(|| {
        format!(
            "{} would come before all of these, but none of it is on the rack: order one, or write the new `stock` on its card",
            best.name()
        )
    })
}

fn left_out(n_none: usize, n_unknown: usize) -> Option<String> {
    let none = format!("{}, of which none is on the rack", words::count(n_none, "blank"));
    let unknown = format!(
        "{} whose card doesn't say: write such as `stock: 2` on it",
        words::count(n_unknown, "blank")
    );
    match (n_none, n_unknown) {
        (0, 0) => None,
        (_, 0) => Some(format!("left out: {none}")),
        (0, _) => Some(format!("left out: {unknown}")),
        _ => Some(format!("left out: {none}, and {unknown}")),
    }
}
