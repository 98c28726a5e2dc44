//! `butt-too-large`: the butt is finished, or would be as planned, and is thicker than any butt ferrule of the drawer takes.

use taperbook_plugin::FlagSpec;
use taperbook_record::{End, Span};
use taperbook_units::Length;

use crate::Flag;
use crate::case::Case;
use crate::ends::{od_after, reach};
use crate::fit::Room;

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "butt-too-large",
        finds: "a build that is not done, with a butt that is settled or that a plan would leave, too thick for the largest butt ferrule of the drawers with the clearance of shop.yaml's `allowances`",
        why: "only a butt cut makes a butt thinner; a ferrule that is wider takes an arbor, one that is tighter takes sanding, and sanding takes the fibres that carry most",
        example: "the largest ferrule has a bore of 13.15 mm and 0.10 mm is wanted for glue; a butt that is settled at 13.40 mm takes none: cut on, or get a larger one",
    },
    find,
};

fn find(case: &Case) -> Option<(String, Span)> {
    let (drawer, room) = (&case.drawers.butt_ferrules, Room::at_butt(&case.shop));
    let largest = drawer.last()?;
    let is_settled = case.piece.walk.settled.butt.is_some();
    let planned = case.planned.as_ref().filter(|(_, cuts)| Length::default() < cuts.butt);
    let (tube, of_plan) = match (is_settled, planned) {
        (true, _) => (&case.now, false),
        (false, Some((tube, _))) => (tube, true),
        (false, None) => return None,
    };
    let od = od_after(tube, End::Butt, Length::default());
    if od <= room.thickest(largest.bore) {
        return None;
    }
    let until = reach(tube, drawer, &room, End::Butt, None).and_then(|reach| reach.until);
    let rest = match until {
        Some(more) => format!("{} more off the butt, and one goes on", case.at_least(more)),
        None => "no cut brings it down to that".to_owned(),
    };
    let message = format!(
        "the butt {} {} and the largest butt ferrule of the drawers has a bore of {}: {rest}",
        if of_plan { "would be as planned" } else { "is settled at" },
        case.units.diameter(od),
        case.units.diameter(largest.bore)
    );
    Some((message, case.span(of_plan)))
}
