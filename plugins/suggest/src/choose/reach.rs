//! Which rods one blank could be: length against power, from all of the cut at the butt to all of it at the tip.
//!
//! Nothing is drawn here: the table and both pictures are made from the same plain answer.

use rayon::prelude::*;
use taperbook_bench::{Cuts, limits, piece};
use taperbook_plugin::{Cut, Number, ReachAdvice, ReachPoint, ReachRow, View, Wanted};
use taperbook_record::{Build, Limit, Measure};
use taperbook_units::{Length, Quantity, Units};

use super::candidate::{Candidate, NO_HELD_AT, enough_free};
use super::surface::Room;
use super::{as_build, units};
use crate::brief::{larger, smaller};

/// Rows are no more than this, the present length with them.
const MOST_ROWS: usize = 14;
/// Without a shortest length, so much of the piece is cut off at most: what is shorter is hardly the same rod.
const MOST_SHOWN: f64 = 1.0 / 3.0;
/// Points of one row.
const N_POINTS: u32 = 5;

/// Answers which rods a blank card, an offcut or a build could be.
///
/// # Errors
/// When the record is neither, or its power can't be told; says what to measure.
pub(crate) fn reach(view: &View, id: &str, wanted: &Wanted) -> Result<ReachAdvice, String> {
    let none = || format!("`{id}` is neither a blank nor a build: there is nothing to cut");
    let record = view.record(id).ok_or_else(none)?;
    let piece = piece(view, id).ok_or_else(none)?;
    let units = units(view);
    let held_at = wanted.held_at.or(piece.held_at).ok_or(NO_HELD_AT)?;
    if let Err(what) = &piece.fitted {
        return Err(what.clone());
    }
    let present = piece.walk.present().length.ok_or("measure the length of the blank")?;
    enough_free(present, held_at, units)?;
    let card = piece.card.as_deref().and_then(|card| view.record(card));
    let candidate = Candidate { record, card, piece, held_at: Some(held_at) };

    let build = as_build(wanted);
    // What it could be is asked, not how to meet an aim: where only lengths are asked for the tip is shown too.
    let open = Build::default();
    let mut brief = candidate.brief(&open, present, units);
    brief.limits = &build.limits;
    let mut room = candidate.room(&brief, present);
    let is_cut_short = brief.limit(Measure::Length).is_none_or(|limit| limit.range.low.is_none());
    if is_cut_short {
        room.most = smaller(room.most, larger(present * MOST_SHOWN, room.least));
    }
    let asked = Asked { candidate: &candidate, held_at, limits: &build.limits };
    let totals = totals(present, room, units);
    let cuts: Vec<Vec<Cuts>> = totals.iter().map(|total| row(*total, room)).collect();
    let rows: Vec<ReachRow> = cuts
        .par_iter()
        .map(|row| ReachRow {
            length_mm: (present - row.first().map_or(Length::default(), |cuts| cuts.total())).mm(),
            points: row.iter().map(|cuts| asked.point(*cuts)).collect(),
        })
        .collect();
    let allowed = |measure: Measure, unit: f64| {
        let limit = build.limits.iter().find(|limit| limit.measure == measure);
        let end = |end: Option<Quantity>| end.map(|end| end.si / unit);
        limit.map_or((None, None), |limit| (end(limit.range.low), end(limit.range.high)))
    };
    let aim = |measure: Measure, unit: f64| {
        let aim = wanted.aim.iter().find(|(other, _)| *other == measure);
        aim.map(|(_, aim)| aim.value.si / unit)
    };
    Ok(ReachAdvice {
        record: id.to_owned(),
        held_at_mm: held_at.mm(),
        present: asked.point(Cuts::default()),
        words: words(
            &rows,
            [&brief.tip.barrier, &brief.butt.barrier],
            !build.limits.is_empty(),
            is_cut_short,
        ),
        rows,
        length_allowed: allowed(Measure::Length, 1e-3),
        power_allowed: allowed(Measure::Power, 1e-3),
        has_limits: !build.limits.is_empty(),
        aim: (aim(Measure::Length, 1e-3), aim(Measure::Power, 1e-3)),
    })
}

struct Asked<'a> {
    candidate: &'a Candidate,
    held_at: Length,
    limits: &'a [Limit],
}

impl Asked<'_> {
    fn point(&self, cuts: Cuts) -> ReachPoint {
        let piece = &self.candidate.piece;
        let off = piece.walk.present().off.plus(cuts.tip, cuts.butt);
        let expected = piece.state(off, Some(self.held_at));
        let outcome = piece.outcome(off, self.held_at).ok();
        let inside = |limit: &Limit| {
            expected.value(limit.measure).is_some_and(|value| limits::range_of(limit).holds(value))
        };
        let power = expected.get(Measure::Power);
        ReachPoint {
            cut: Cut { tip_mm: cuts.tip.mm(), butt_mm: cuts.butt.mm() },
            power_g: power.map_or_else(
                || Number::missing("power"),
                |power| power.scaled(1.0 / Measure::Power.json_unit()),
            ),
            inside: !self.limits.is_empty() && self.limits.iter().all(inside),
            chance_inside_limits: outcome
                .and_then(|outcome| limits::chance_of_all(&outcome, self.limits)),
            expected,
        }
    }
}

/// What comes off in all for each row: from the least to the most, at lengths that are round in the shop's unit.
fn totals(present: Length, room: Room, units: Units) -> Vec<Length> {
    let steps: &[Length] = match units {
        Units::Inches => &[0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 12.0].map(Length::from_inches),
        Units::Millimetres => &[5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0].map(Length::from_mm),
    };
    let span = room.most - room.least;
    let n_rows = |step: Length| (span / step).floor() + 2.0;
    let step = steps.iter().copied().find(|step| n_rows(*step) <= MOST_ROWS as f64);
    let step = step.unwrap_or(span / (MOST_ROWS - 2) as f64);
    let mut totals = vec![room.least];
    if step <= Length::default() {
        return totals;
    }
    // Rows nearer together than this part of a step are one.
    let near = step * 0.05;
    let first = ((present - room.least) / step).ceil() - 1.0;
    for down in 0..MOST_ROWS {
        let total = present - step * (first - down as f64);
        if totals[totals.len() - 1] + near < total && total < room.most - near {
            totals.push(total);
        }
    }
    if totals[totals.len() - 1] + near < room.most {
        totals.push(room.most);
    }
    totals
}

/// The cuts of one row, the least at the tip first.
fn row(total: Length, room: Room) -> Vec<Cuts> {
    let least = larger(total - room.butt, Length::default());
    let most = smaller(room.tip, total);
    let n_points = if most - least < Length::from_mm(1.0) { 1 } else { N_POINTS };
    (0..n_points)
        .map(|n| {
            let part = f64::from(n) / f64::from(n_points.max(2) - 1);
            let tip = least + (most - least) * part;
            Cuts { tip, butt: larger(total - tip, Length::default()) }
        })
        .collect()
}

fn words(
    rows: &[ReachRow],
    barriers: [&Option<String>; 2],
    has_limits: bool,
    is_cut_short: bool,
) -> Vec<String> {
    let mut words: Vec<String> = barriers.into_iter().flatten().cloned().collect();
    if is_cut_short {
        words.push(
            "shown down to two thirds of its length: say `--limits \"length 4' .. 6'\"` for what is shorter"
                .to_owned(),
        );
    }
    let points = || rows.iter().flat_map(|row| &row.points);
    if has_limits && !points().any(|point| point.inside) {
        words.push("no cut shown brings it inside all limits".to_owned());
    }
    if points().any(|point| point.power_g.value().is_none()) {
        words.push("where no power stands it can't be told".to_owned());
    }
    words
}
