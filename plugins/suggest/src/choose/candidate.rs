//! One blank put to a brief: the cuts that make the most of it, and what it would then be.
//!
//! All tip and butt cuts that may be made are looked at on a grid; around the best of them the search goes on to less than
//! anybody can tell; what it finds is put on marks that can be made, and worked out in full. How blanks stand beside each
//! other is for [`super`].

use std::sync::Arc;

use taperbook_bench::{Cuts, Piece, limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_plugin::{Chance, Choice, Cut, Ends};
use taperbook_record::{Build, End, Kind, Limit, Measure, Record};
use taperbook_units::{Length, Quantity, Units};

use super::leaning::Leaning;
use super::merit::Merit;
use super::search::{of_cutting, on_a_grid, on_marks, searched};
use super::stock::in_stock;
use super::surface::{Room, Surface};
use crate::brief::{Brief, is_bent, larger, smaller};
use crate::words;

/// What must stay free of the clamp for power to mean anything.
const LEAST_FREE: Length = Length::from_mm(300.0);
/// What is said when a place to hold it at is missing.
pub(crate) const NO_HELD_AT: &str =
    "where it is held: write `held_at: 9 in` on the card or in shop.yaml, or say `--held-at 9in`";

/// A blank to be put to a brief, and what it is asked for.
pub(crate) struct Candidate {
    pub(crate) record: Arc<Record>,
    pub(crate) card: Option<Arc<Record>>,
    pub(crate) piece: Arc<Piece>,
    pub(crate) held_at: Option<Length>,
}

/// A blank put to a brief.
pub(crate) struct Judged {
    pub(crate) candidate: Candidate,
    /// What it was put to, and where that came from.
    leaning: Leaning,
    /// The further cuts.
    pub(crate) cuts: Cuts,
    /// The most likely numbers after them, by the brief's measures.
    values: Vec<f64>,
    chance: Option<f64>,
    /// What it costs beside others; the less the better.
    pub(crate) rank: f64,
    pub(crate) meets: bool,
    in_the_way: Option<String>,
}

impl Candidate {
    /// Finds the best cuts.
    ///
    /// # Errors
    /// When nothing can be said of it yet; says what to measure or to write.
    pub(crate) fn judged(
        self,
        leaning: Leaning,
        build: &Build,
        units: Units,
    ) -> Result<Judged, String> {
        let merit = &leaning.merit;
        let present = self.known(merit, units)?;
        let brief = self.brief(build, present, units);
        let room = self.room(&brief, present);
        let (off, held_at) = (self.piece.walk.present().off, self.held_at.unwrap_or_default());
        let (surface, reference) = self.surface(room, &merit.measures)?;
        let merit = merit.for_piece(reference.as_ref());
        let exact = |measure: Measure, cuts: Cuts| {
            self.piece.value(measure, off.plus(cuts.tip, cuts.butt), held_at)
        };
        let rough = searched(&surface, &merit, on_a_grid(&surface, &merit));
        let surface = surface.tied_to(rough, |measure| exact(measure, rough));
        let cuts = on_marks(&surface, &merit, searched(&surface, &merit, rough), units);

        let outcome = self.piece.outcome(off.plus(cuts.tip, cuts.butt), held_at).ok();
        let value = |measure: &Measure| match &outcome {
            Some(outcome) => outcome.value(to_mechanics(*measure)).ok(),
            None => exact(*measure, cuts),
        };
        let values: Option<Vec<f64>> = merit.measures.iter().map(value).collect();
        let values = values.ok_or_else(|| self.why_not(&merit.measures))?;
        let meets = merit.keeps_limits(&values);
        let chance = match &outcome {
            _ if build.limits.is_empty() => None,
            Some(outcome) => limits::chance_of_all(outcome, &build.limits),
            None => Some(f64::from(u8::from(meets))),
        };
        Ok(Judged {
            rank: merit.rank(&values, chance) + of_cutting(cuts),
            in_the_way: in_the_way(&merit, &brief, &values, cuts, units),
            candidate: self,
            leaning,
            cuts,
            values,
            chance,
            meets,
        })
    }

    /// Whether it is shorter than the shortest that is allowed.
    pub(crate) fn is_too_short(&self, build: &Build) -> bool {
        let limit = build.limits.iter().find(|limit| limit.measure == Measure::Length);
        let shortest = limit.map_or(f64::NEG_INFINITY, |limit| limits::range_of(limit).low);
        self.piece.walk.present().length.is_some_and(|length| length.m() < shortest)
    }

    /// What is needed to say anything: the present length, and for most numbers the mechanics and where it is held.
    fn known(&self, merit: &Merit, units: Units) -> Result<Length, String> {
        let fitted = self.piece.fitted.as_ref();
        let present = self.piece.walk.present().length.ok_or_else(|| match &fitted {
            Err(what) => (*what).clone(),
            Ok(_) => "measure the length of the uncut blank".to_owned(),
        })?;
        let mechanical =
            |measure: &Measure| !matches!(measure, Measure::Length | Measure::FreeLength);
        if let (Err(what), true) = (&fitted, merit.measures.iter().any(mechanical)) {
            return Err((*what).clone());
        }
        let held = |measure: &Measure| is_bent(*measure) || *measure == Measure::FreeLength;
        match self.held_at {
            _ if !merit.measures.iter().any(held) => Ok(present),
            Some(held_at) => enough_free(present, held_at, units).map(|()| present),
            None => Err(NO_HELD_AT.to_owned()),
        }
    }

    /// What keeps its ends from being cut.
    pub(crate) fn brief<'a>(&self, build: &'a Build, present: Length, units: Units) -> Brief<'a> {
        let card = self.card.as_deref().and_then(Record::card);
        Brief::new(build, &self.piece, card, present, units)
    }

    /// The cuts that may be made: not into a joint or a solid tip, not past the shortest length allowed, and no less than
    /// the longest length allowed asks for, where that is possible.
    pub(crate) fn room(&self, brief: &Brief, present: Length) -> Room {
        let none = Length::default();
        let range = brief.limit(Measure::Length).map(limits::range_of);
        let free = larger(present - self.held_at.unwrap_or_default() - LEAST_FREE, none);
        let to = |end: f64| {
            if end.is_finite() { larger(present - Length::from_m(end), none) } else { none }
        };
        let most = smaller(smaller(brief.both, free), brief.tip.most + brief.butt.most);
        let most = match range {
            Some(range) if range.low.is_finite() => smaller(most, to(range.low)),
            _ => most,
        };
        let least = range.map_or(none, |range| to(range.high));
        Room {
            least: if least <= most { least } else { none },
            most,
            tip: smaller(brief.tip.most, most),
            butt: smaller(brief.butt.most, most),
        }
    }

    /// Its numbers over the cuts, and in full where least is cut.
    ///
    /// A blank may be too limp to be told anything of before something is off it: then so much must come off at least.
    fn surface(
        &self,
        mut room: Room,
        measures: &[Measure],
    ) -> Result<(Surface, Option<Outcome>), String> {
        const N_TRIED: usize = 8;
        let (off, held_at) = (self.piece.walk.present().off, self.held_at.unwrap_or_default());
        let step = (room.most - room.least) / (N_TRIED - 1) as f64;
        for _ in 0..N_TRIED {
            if let Some(surface) = Surface::new(&self.piece, off, held_at, room, measures) {
                let half = smaller(room.least / 2.0, room.butt);
                let least = off.plus(room.least - half, half);
                return Ok((surface, self.piece.outcome(least, held_at).ok()));
            }
            room.least = smaller(room.least + step, room.most);
        }
        Err(self.why_not(measures))
    }

    fn why_not(&self, measures: &[Measure]) -> String {
        let off = self.piece.walk.present().off;
        match self.piece.outcome(off, self.held_at.unwrap_or_default()) {
            Err(what) => what,
            Ok(outcome) => measures
                .iter()
                .find_map(|measure| outcome.value(to_mechanics(*measure)).err())
                .map_or_else(
                    || "its numbers can't be worked out".to_owned(),
                    |why| why.to_string(),
                ),
        }
    }
}

impl Judged {
    /// Tells it in full, but for the past builds.
    pub(crate) fn told(&self, build: &Build, units: Units) -> Choice {
        let Candidate { record, piece, held_at, .. } = &self.candidate;
        let after = piece.walk.present().off.plus(self.cuts.tip, self.cuts.butt);
        let left = |end| limits::left_at_end(piece, &build.limits, after, *held_at, end);
        Choice {
            record: record.id.clone(),
            kind: record.kind().word().to_owned(),
            stock: in_stock(record),
            held_at_mm: held_at.map(Length::mm),
            cut: Cut { tip_mm: self.cuts.tip.mm(), butt_mm: self.cuts.butt.mm() },
            chance_inside_limits: self.chance,
            meets: self.meets,
            off_aim: self.leaning.merit.off_aim(&self.values),
            expected: piece.state(after, *held_at),
            left: Ends {
                tip_mm: left(End::Tip).map(Length::mm),
                butt_mm: left(End::Butt).map(Length::mm),
            },
            limits: chances(piece, &build.limits, after, *held_at, units),
            in_the_way: self.in_the_way.clone(),
            left_open: self.leaning.words(units),
            n_past: piece.fitted.as_ref().map_or(0, |fitted| fitted.n_past),
            alike: Vec::new(),
        }
    }

    /// Its kind and id, as a person names it.
    pub(crate) fn name(&self) -> &str {
        &self.candidate.record.id
    }

    /// What stands in the way of the limits or the aims.
    pub(crate) fn in_the_way(&self) -> Option<&str> {
        self.in_the_way.as_deref()
    }

    /// How many are on the rack, where somebody wrote it.
    pub(crate) fn stock(&self) -> Option<u32> {
        in_stock(&self.candidate.record)
    }

    /// Whether it is an offcut.
    pub(crate) fn is_offcut(&self) -> bool {
        self.candidate.record.kind() == Kind::Offcut
    }
}

/// Refuses a piece of which too little is free for its power to mean anything.
pub(crate) fn enough_free(present: Length, held_at: Length, units: Units) -> Result<(), String> {
    if LEAST_FREE <= present - held_at {
        return Ok(());
    }
    Err(format!(
        "it is {} long and held at {}: too little of it is free for its power to mean anything",
        units.length(present),
        units.cut(held_at)
    ))
}

fn in_the_way(
    merit: &Merit,
    brief: &Brief,
    values: &[f64],
    cuts: Cuts,
    units: Units,
) -> Option<String> {
    let print = |measure, si| words::value(units, measure, si);
    let said = match merit.worst_limit(values) {
        Some((limit_idx, measure)) => {
            let value_idx = merit.measures.iter().position(|other| *other == measure)?;
            format!(
                "{} comes to {} at the nearest, and {} is allowed",
                measure.words(),
                print(measure, values[value_idx]),
                words::limit(units, brief.limits.get(limit_idx)?)
            )
        }
        None => {
            let (aim, value) = merit.worst_aim(values)?;
            format!(
                "{} comes to {} against an aim of {}",
                aim.measure.words(),
                print(aim.measure, value),
                print(aim.measure, aim.value)
            )
        }
    };
    // An end that is cut as far as it may be.
    let at_end =
        [(&brief.tip, cuts.tip), (&brief.butt, cuts.butt)].into_iter().find_map(|(room, cut)| {
            room.barrier.as_ref().filter(|_| room.most - cut < Length::from_mm(2.0))
        });
    Some(match at_end {
        Some(barrier) => format!("{said}: {barrier}"),
        None => said,
    })
}

/// Each limit and how surely it is kept.
fn chances(
    piece: &Piece,
    all: &[Limit],
    off: Cuts,
    held_at: Option<Length>,
    units: Units,
) -> Vec<Chance> {
    let outcome = piece.outcome(off, held_at.unwrap_or_default()).ok();
    let chance = |limit: &Limit| {
        let range = limits::range_of(limit);
        let print =
            |end: Option<Quantity>| end.map(|end| words::value(units, limit.measure, end.si));
        let plain = || {
            let value = piece.value(limit.measure, off, held_at.unwrap_or_default())?;
            Some(f64::from(u8::from(range.holds(value))))
        };
        let inside = match &outcome {
            Some(outcome) => limits::chance(outcome, limit.measure, range),
            None => plain(),
        };
        Chance {
            limit: limit.measure.key().to_owned(),
            low: print(limit.range.low),
            high: print(limit.range.high),
            inside,
        }
    };
    all.iter().map(chance).collect()
}
