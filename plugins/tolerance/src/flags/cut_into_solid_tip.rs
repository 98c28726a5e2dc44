//! `cut-into-solid-tip`: a cut, made or planned, at the tip of a blank whose tip is spliced in solid.

use taperbook_plugin::FlagSpec;
use taperbook_record::TipKind;
use taperbook_units::Length;

use crate::case::Case;
use crate::{Fault, Flag, words};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "cut-into-solid-tip",
        finds: "a tip cut, made or planned, on a blank whose card says `tip: solid`",
        why: "the solid tip is the softest and dearest part of such a blank: a cut takes it away a piece at a time, and what the tool computes there is far less sure",
        example: "the card says `tip: solid` and the bench `plan: { tip: 2 in }`: shorten it at the butt, or take a blank with a tubular tip",
    },
    find,
};

fn find(case: &Case) -> Vec<Fault> {
    let is_solid = case
        .card()
        .and_then(|card| card.tip.as_ref())
        .is_some_and(|tip| tip.value == TipKind::Solid);
    if !is_solid {
        return Vec::new();
    }
    let bench = &case.build.bench;
    let cuts_tip = |item_idx: usize| {
        words::amounts(&bench[item_idx]).is_some_and(|cut| Length::default() < cut.tip)
    };
    let states = &case.piece.walk.states;
    let made = states.iter().filter_map(|state| state.item).find(|item_idx| cuts_tip(*item_idx));
    let planned = case.plan().filter(|(_, rest)| Length::default() < rest.tip);
    let mut faults = Vec::new();
    if let Some(item_idx) = made {
        let item = &bench[item_idx];
        let cut = words::cut_of_item(case.units, item_idx, item);
        let message = format!("{cut} goes into a tip that is spliced in solid, by its card");
        faults.push(Fault { message, span: item.span.clone() });
    }
    if let Some((item_idx, rest)) = planned {
        let item = &bench[item_idx];
        let message = format!(
            "the plan in item {} would take {} off a tip that is spliced in solid, by its card",
            item_idx + 1,
            case.units.cut(rest.tip)
        );
        faults.push(Fault { message, span: item.span.clone() });
    }
    faults
}
