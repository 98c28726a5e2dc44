//! `no-tip-top-fits`: no tip-top of the drawer goes on the tip, or on the tip that a plan would leave.

use taperbook_plugin::FlagSpec;
use taperbook_record::{End, Span};
use taperbook_units::Length;

use crate::Flag;
use crate::case::Case;
use crate::ends::{Reach, od_after, reach};
use crate::fit::Room;

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "no-tip-top-fits",
        finds: "a build that is not done and whose planned cut would leave a tip on which no tip-top of the drawers goes with the clearance of shop.yaml's `allowances` and a turn of thread under the glue at most; or a tip that is settled, or past the largest tip-top, with none that goes on",
        why: "a tip only gets thicker by cutting: past the largest tube nothing fits but one that has to be bought, and a tip that is sanded down to fit breaks there first",
        example: "the largest tip-top has a bore of 2.25 mm and 0.05 mm is wanted for glue; `plan: { tip: 6 in }` would leave 2.60 mm: plan less, or get the next size before the saw",
    },
    find,
};

fn find(case: &Case) -> Option<(String, Span)> {
    let (drawer, room) = (&case.drawers.tip_tops, Room::at_tip(&case.shop));
    let held_at = case.piece.held_at;
    let now = reach(&case.now, drawer, &room, End::Tip, held_at)?;
    let none = Length::default();
    let is_settled = case.piece.walk.settled.tip.is_some();
    let fits_now = now.until == Some(none);
    if now.until.is_none() || (is_settled && !fits_now) {
        let od = case.units.diameter(od_after(&case.now, End::Tip, none));
        let rest = match now.until.filter(|_| !is_settled) {
            _ if is_settled => "and the tip is settled",
            _ => "and cutting on makes it thicker",
        };
        let largest = drawer.last().map(|sized| case.units.diameter(sized.bore))?;
        let message = format!(
            "the tip is {od} and no tip-top of the drawers goes on it, the largest bore being {largest}; {rest}"
        );
        return Some((message, case.span(false)));
    }
    let (planned, cuts) = case.planned.as_ref().filter(|(_, cuts)| none < cuts.tip)?;
    let after = reach(planned, drawer, &room, End::Tip, held_at)?;
    if after.until == Some(none) {
        return None;
    }
    let od = case.units.diameter(od_after(planned, End::Tip, none));
    let message = format!(
        "the planned {} off the tip would leave {od}, on which no tip-top of the drawers goes: {}",
        case.units.cut(cuts.tip),
        way_out(case, &now, &after)
    );
    Some((message, case.span(true)))
}

/// What would go on instead.
fn way_out(case: &Case, now: &Reach, after: &Reach) -> String {
    match after.until {
        Some(more) => format!("{} more, and one does", case.at_least(more)),
        None => {
            let left = now.left.unwrap_or_default();
            format!("at most {} may come off", case.units.cut(floor(case, left)))
        }
    }
}

/// Rounded down to what can be marked.
fn floor(case: &Case, length: Length) -> Length {
    match case.units {
        taperbook_units::Units::Inches => {
            Length::from_inches((length.inches() * 16.0).floor() / 16.0)
        }
        taperbook_units::Units::Millimetres => Length::from_mm(length.mm().floor()),
    }
}
