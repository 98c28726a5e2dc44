//! `planned-cut-past-limit`: the next planned cut would pass a limit that further cutting can't bring back.

use taperbook_bench::{Cuts, limits::left_at_end};
use taperbook_plugin::FlagSpec;
use taperbook_record::{End, Limit};
use taperbook_units::Length;

use crate::case::Case;
use crate::crossing::{Course, Side, bound, course, in_words, is_far, past};
use crate::standing::{standing, standing_after};
use crate::{Fault, Flag, words};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "planned-cut-past-limit",
        finds: "a `plan`, or what is left of one, that would take the blank past a limit that it now keeps and that no further cut could meet again",
        why: "this is the last moment at which it costs nothing",
        example: "`limits: { length: 6'8\" .. 7'0\" }`, the blank is 6'10\" and `plan: { tip: 1 in, butt: 2 in }` is not cut yet: it would leave 6'7\"; plan 1 in less at one of the ends",
    },
    find,
};

fn find(case: &Case) -> Vec<Fault> {
    let Some((item_idx, rest)) = case.plan() else { return Vec::new() };
    let after = case.piece.walk.present().off.plus(rest.tip, rest.butt);
    let sides = [Side::Low, Side::High];
    let passed: Vec<String> = case
        .build
        .limits
        .iter()
        .flat_map(|limit| sides.map(|side| passed(case, limit, side, after)))
        .flatten()
        .collect();
    if passed.is_empty() {
        return Vec::new();
    }
    let item = &case.build.bench[item_idx];
    let off = words::off_both(case.units, rest);
    let plan = match words::amounts(item) {
        Some(written) if written == rest => format!("the planned cut of {off}"),
        _ => format!("what is left of the plan, {off},"),
    };
    let message = format!(
        "{plan} ({}) would leave {}{}",
        words::item(item_idx, item),
        words::joined(&passed, "and"),
        left(case)
    );
    vec![Fault { message, span: item.span.clone() }]
}

/// Says what a limit's number would be, when the plan takes it past an end that it now keeps.
fn passed(case: &Case, limit: &Limit, side: Side, after: Cuts) -> Option<String> {
    let (measure, bound) = (limit.measure, bound(limit, side)?);
    if !is_far(measure, side) && course(measure) != Course::Either {
        return None;
    }
    let now = standing(case, case.present(), measure)?;
    if past(case, measure, side, bound, now.value).is_some() {
        return None;
    }
    let then = standing_after(case, after, measure)?;
    let by = past(case, measure, side, bound, then.value)?;
    Some(format!("{} at {}", measure.words(), in_words(case, measure, side, bound, &then, by)))
}

/// Says how much may come off each end inside the limits.
fn left(case: &Case) -> String {
    let piece = &case.piece;
    let off = piece.walk.present().off;
    let settled = [&piece.walk.settled.tip, &piece.walk.settled.butt].map(Option::is_some);
    let ends: Vec<String> = [End::Tip, End::Butt]
        .into_iter()
        .zip(settled)
        .filter(|(_, settled)| !settled)
        .filter_map(|(end, _)| {
            let left = left_at_end(piece, &case.build.limits, off, piece.held_at, end)?;
            let name = words::end(end);
            Some(match left < Length::from_mm(1.0) {
                true => format!("nothing more off the {name}"),
                false => format!("at most {} off the {name}", words::at_most(case.units, left)),
            })
        })
        .collect();
    if ends.is_empty() {
        String::new()
    } else {
        format!("; the limits allow {}", words::joined(&ends, "or"))
    }
}
