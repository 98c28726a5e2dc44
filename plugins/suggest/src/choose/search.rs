//! The further cuts of least cost: a grid first, then steps that are halved, then marks that can be made.
//!
//! What a cut costs is for [`super::merit`]; everything here is the same for the same numbers.

use taperbook_bench::Cuts;
use taperbook_units::{Length, Units};

use super::merit::Merit;
use super::surface::{Room, Surface};
use crate::brief::{larger, smaller};
use crate::step::{LEAST_CUT, marked};

/// Points of the grid are this far apart, or further where there would be too many of them: 3 mm off a tip is about a part
/// in a hundred of power, which no blank is known to before it is read.
const FINEST: Length = Length::from_mm(3.0);
/// So many steps there are at most along the total of both cuts, and from all of it at the butt to all of it at the tip.
const MOST_TOTALS: f64 = 192.0;
const MOST_PARTS: f64 = 96.0;
/// The search between the grid's points begins with steps of this part of all that may be cut.
const FIRST_STEP: f64 = 1.0 / 24.0;
/// A further end to be cut must bring this much.
const WORTH_AN_END: f64 = 0.01;
/// A metre less to cut is worth this much: what is left on can come off later, and a blank that is nearly right is the better
/// blank. An aim is moved by it by less than anybody can measure.
const WORTH_A_METRE: f64 = 0.2;

/// The point of least cost of the grid; the first of equals, which has least cut.
pub(super) fn on_a_grid(surface: &Surface, merit: &Merit) -> Cuts {
    let room = surface.room();
    let span = room.most - room.least;
    let n_totals = steps(span, MOST_TOTALS);
    let mut best = (f64::INFINITY, Cuts::default());
    for total_idx in 0..=n_totals {
        let total = room.least + span * (f64::from(total_idx) / f64::from(n_totals));
        let row = surface.row(total);
        let (least, most) = (within(room, total, Length::default()), within(room, total, total));
        let span = most.tip - least.tip;
        let n_parts = steps(span, MOST_PARTS);
        for part_idx in 0..=n_parts {
            let tip = least.tip + span * (f64::from(part_idx) / f64::from(n_parts));
            let cuts = Cuts { tip, butt: larger(total - tip, Length::default()) };
            let cost = merit.cost(&row.values(tip)) + of_cutting(cuts);
            if cost < best.0 {
                best = (cost, cuts);
            }
        }
    }
    best.1
}

/// How many steps a span is gone through in.
fn steps(span: Length, most: f64) -> u32 {
    let wanted = (span / FINEST).ceil().clamp(1.0, most);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "it lies between 1 and a few hundred"
    )]
    let steps = wanted as u32;
    steps
}

/// Seeks a lower cost around a place by steps that are halved, down to some hundredths of a millimetre.
pub(super) fn searched(surface: &Surface, merit: &Merit, from: Cuts) -> Cuts {
    const WAYS: [(f64, f64); 8] = [
        (1.0, 0.0),
        (-1.0, 0.0),
        (0.0, 1.0),
        (0.0, -1.0),
        (1.0, 1.0),
        (-1.0, -1.0),
        (1.0, -1.0),
        (-1.0, 1.0),
    ];
    /// So many moves are made at each size at most.
    const MOST_MOVES: usize = 40;
    let room = surface.room();
    let (mut cuts, mut least) = (from, cost(surface, merit, from));
    let mut size = larger((room.most - room.least) * FIRST_STEP, FINEST);
    while Length::from_mm(0.02) < size {
        for _ in 0..MOST_MOVES {
            let moved = WAYS.into_iter().map(|(total, tip)| {
                let moved = within(room, cuts.total() + size * total, cuts.tip + size * tip);
                (cost(surface, merit, moved), moved)
            });
            match moved.min_by(|a, b| a.0.total_cmp(&b.0)) {
                Some((lower, moved)) if lower < least => (least, cuts) = (lower, moved),
                _ => break,
            }
        }
        size = size / 2.0;
    }
    cuts
}

/// Puts cuts on marks that can be made near them, leaves out what is no cut, and an end that brings next to nothing.
pub(super) fn on_marks(surface: &Surface, merit: &Merit, cuts: Cuts, units: Units) -> Cuts {
    let none = Length::default();
    let mark = match units {
        Units::Inches => Length::from_inches(1.0 / 16.0),
        Units::Millimetres => Length::from_mm(1.0),
    };
    let near = |cut: Length| [marked(cut, units), marked(cut, units) + mark];
    let (total, room) = (cuts.total(), surface.room());
    let tips: Vec<Length> = near(cuts.tip).into_iter().chain([none]).chain(near(total)).collect();
    let butts: Vec<Length> = near(cuts.butt).into_iter().chain([none]).chain(near(total)).collect();
    let is_cut = |cut: Length| cut == none || LEAST_CUT <= cut;
    let mut best: Option<(f64, Cuts)> = None;
    for tip in tips {
        for butt in &butts {
            let tried = Cuts { tip, butt: *butt };
            if !is_cut(tip) || !is_cut(*butt) || !room.holds(tried) {
                continue;
            }
            let ends = [tip, *butt].into_iter().filter(|cut| none < *cut).count();
            let cost = cost(surface, merit, tried) + WORTH_AN_END * ends as f64;
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, tried));
            }
        }
    }
    best.map_or(Cuts::default(), |(_, cuts)| cuts)
}

fn cost(surface: &Surface, merit: &Merit, cuts: Cuts) -> f64 {
    merit.cost(&surface.values(cuts)) + of_cutting(cuts)
}

/// What it costs to cut so much.
pub(super) fn of_cutting(cuts: Cuts) -> f64 {
    WORTH_A_METRE * cuts.total().m()
}

/// Puts a total and the tip's part of it inside what may be cut.
fn within(room: Room, total: Length, tip: Length) -> Cuts {
    let total = smaller(larger(total, room.least), room.most);
    let least = larger(total - room.butt, Length::default());
    let tip = smaller(larger(tip, least), smaller(room.tip, total));
    Cuts { tip, butt: smaller(larger(total - tip, Length::default()), room.butt) }
}
