//! `no-seat-fits`: no reel seat of the drawer goes over the blank where the hand is.

use taperbook_plugin::FlagSpec;
use taperbook_record::Span;
use taperbook_units::Length;

use crate::Flag;
use crate::case::Case;
use crate::fit::Room;

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "no-seat-fits",
        finds: "a build that is not done, with a blank that is thicker, everywhere from its butt to where it is held, than any reel seat of the drawers takes",
        why: "a seat is slid on from the tip and stops where the blank is as thick as its bore: one that stops beyond the hand is no seat; a bored arbor makes a wide one fit, and nothing makes a tight one wider",
        example: "the largest seat has a bore of 14.5 mm and 0.10 mm is wanted for glue; a butt of 16 mm that is still 15 mm thick at `held_at: 9 in` takes none",
    },
    find,
};

fn find(case: &Case) -> Option<(String, Span)> {
    let room = Room::at_seat(&case.shop);
    let largest = case.drawers.reel_seats.last()?;
    let held_at = case.piece.held_at?;
    let (tube, of_plan) = match &case.planned {
        Some((tube, _)) => (tube, true),
        None => (&case.now, false),
    };
    let thinnest = [Length::default(), held_at]
        .map(|at| tube.od_at(at))
        .into_iter()
        .fold(tube.od_at(Length::default()), |a, b| if b < a { b } else { a });
    if thinnest <= room.thickest(largest.bore) {
        return None;
    }
    let message = format!(
        "the blank is {} thick at least from the butt to where it is held, and the widest reel seat of the drawers has a bore of {}",
        case.units.diameter(thinnest),
        case.units.diameter(largest.bore)
    );
    Some((message, case.span(of_plan)))
}
