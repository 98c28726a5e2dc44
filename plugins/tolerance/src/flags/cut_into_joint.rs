//! `cut-into-joint`: a cut, made or planned, that reaches a joint of a blank in pieces, or past it.

use taperbook_bench::Cuts;
use taperbook_bench::overlap_of;
use taperbook_plugin::FlagSpec;
use taperbook_record::{End, Joint};
use taperbook_units::Length;

use crate::case::Case;
use crate::{Fault, Flag, words};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "cut-into-joint",
        finds: "a cut, made or planned, that reaches the overlap of a joint on the blank's card, or goes past it; `at` is taken as the middle of the overlap, which is 60 mm where the card does not say",
        why: "a joint that is cut short does not hold, and beyond it a whole piece of the blank is gone",
        example: "`joints: [{ at: 43 in, overlap: 3 in }]` and 42 in off the butt in all: the overlap begins at 41 1/2 in, so the last cut goes 1/2 in into it",
    },
    find,
};

fn find(case: &Case) -> Vec<Fault> {
    let Some(card) = case.card() else { return Vec::new() };
    let ends = [End::Tip, End::Butt];
    card.joints.iter().flat_map(|joint| ends.map(|end| fault(case, joint, end))).flatten().collect()
}

/// Finds the first cut that reaches a joint from one end, else the plan that would.
fn fault(case: &Case, joint: &Joint, end: End) -> Option<Fault> {
    let walk = &case.piece.walk;
    let into = |off: Cuts| {
        Some(reached(joint, end, walk.uncut().length, off)?).filter(|into| NOTHING < *into)
    };
    let made = walk.states.iter().find_map(|state| Some((state.item?, into(state.off)?)));
    let (item_idx, into, planned) = match made {
        Some((item_idx, into)) => (item_idx, into, None),
        None => {
            let (item_idx, rest) = case.plan()?;
            let into = into(walk.present().off.plus(rest.tip, rest.butt))?;
            (item_idx, into, Some(rest))
        }
    };
    let item = &case.build.bench[item_idx];
    let (units, name) = (case.units, words::end(end));
    let place = format!("the joint at {} of the uncut blank", units.length(joint.at));
    let overlap = overlap_of(joint);
    let reaches = if overlap < into {
        format!("past {place}: the piece at the {name} is gone")
    } else {
        format!("{} into {place}, which overlaps by {}", units.cut(into), units.cut(overlap))
    };
    let message = match planned {
        None => format!("{} goes {reaches}", words::cut_of_item(units, item_idx, item)),
        Some(rest) => format!(
            "the plan in item {}, {}, would go {reaches}",
            item_idx + 1,
            words::off_both(units, rest)
        ),
    };
    Some(Fault { message, span: item.span.clone() })
}

/// Less than half a millimetre is the saw's business.
const NOTHING: Length = Length::from_mm(0.5);

/// How far the present end lies beyond the near edge of a joint's overlap; `None` when the length is not known.
fn reached(joint: &Joint, end: End, uncut: Option<Length>, off: Cuts) -> Option<Length> {
    let half = overlap_of(joint) / 2.0;
    Some(match end {
        End::Butt => off.butt - (joint.at - half),
        End::Tip => joint.at + half - (uncut? - off.tip),
    })
}
