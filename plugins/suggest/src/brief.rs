//! What a build asks for: its aims, its limits, and how far each end may be cut at all.
//!
//! Nothing here bends a blank: which cut meets the aims is for [`crate::target`].

use taperbook_bench::{Cuts, Piece, limits, overlap_of};
use taperbook_record::{Blank, Build, End, Limit, Measure, TipKind};
use taperbook_units::{Angle, Length, Units};

use crate::words;

/// What a build asks for.
#[derive(Debug)]
pub(crate) struct Brief<'a> {
    pub(crate) limits: &'a [Limit],
    pub(crate) aims: Vec<Aim>,
    /// The past builds behind each aim that nobody stated.
    pub(crate) leans: Vec<(Measure, Vec<String>)>,
    pub(crate) tip: Room,
    pub(crate) butt: Room,
    /// How much may come off both ends together before it is another blank.
    pub(crate) both: Length,
    /// What the builder plans, as far as it was not cut yet.
    pub(crate) planned: Option<Cuts>,
}

/// A value to be met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Aim {
    pub(crate) measure: Measure,
    /// SI.
    pub(crate) value: f64,
    /// How far off is as bad as another aim being off by its own tolerance; SI.
    pub(crate) tolerance: f64,
    /// The builder wrote it; else it is the middle of what the customer allows, or where liked builds ended inside it.
    pub(crate) stated: bool,
}

/// How far one end may be cut.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Room {
    pub(crate) most: Length,
    /// What stands in the way, where it is not the length of the blank.
    pub(crate) barrier: Option<String>,
}

/// How much of a blank may come off in all: with half of it gone it is another blank, and nothing here holds for it
/// (common practice, no source).
const MOST_OFF: f64 = 0.5;
/// What must stay free of the clamp for power to mean anything.
const LEAST_FREE: Length = Length::from_mm(300.0);
/// How far a cut stays away from the overlap of a joint.
const CLEAR_OF_JOINT: Length = Length::from_inches(1.0);

impl<'a> Brief<'a> {
    /// Reads what a build asks for of its piece, whose present length is known.
    pub(crate) fn new(
        build: &'a Build,
        piece: &Piece,
        card: Option<&Blank>,
        present: Length,
        units: Units,
    ) -> Self {
        let mut brief = Self {
            limits: &build.limits,
            aims: aims(build),
            leans: Vec::new(),
            tip: room(piece, card, End::Tip, present, units),
            butt: room(piece, card, End::Butt, present, units),
            both: by_length(piece, present),
            planned: piece.walk.planned.map(|(_, plan)| plan),
        };
        if let Some(barrier) = brief.best_left_alone(piece, present) {
            brief.tip = Room { most: Length::default(), barrier: Some(barrier) };
        }
        brief
    }

    /// How far an end may be cut.
    pub(crate) fn room(&self, end: End) -> &Room {
        match end {
            End::Tip => &self.tip,
            End::Butt => &self.butt,
        }
    }

    /// The limit on a measure.
    pub(crate) fn limit(&self, measure: Measure) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.measure == measure)
    }

    /// The measures that are aimed for or limited, each once.
    pub(crate) fn measures(&self) -> Vec<Measure> {
        let wanted = |measure: &Measure| {
            self.limit(*measure).is_some() || self.aims.iter().any(|aim| aim.measure == *measure)
        };
        Measure::ALL.into_iter().filter(wanted).collect()
    }

    /// Why the tip need not be touched: where nothing but lengths is asked for, the butt changes the bend least.
    fn best_left_alone(&self, piece: &Piece, present: Length) -> Option<String> {
        let plans_tip = self.planned.is_some_and(|plan| Length::default() < plan.tip);
        let only_lengths = self.measures().into_iter().all(is_length);
        let wanted = self.aims.iter().filter(|aim| is_length(aim.measure)).map(|aim| {
            let held_at = if aim.measure == Measure::Length {
                Length::default()
            } else {
                piece.held_at.unwrap_or_default()
            };
            present - held_at - Length::from_m(aim.value)
        });
        let most = wanted.fold(Length::default(), |most, cut| if most < cut { cut } else { most });
        let enough = Length::default() < most && most <= self.butt.most;
        (!plans_tip && only_lengths && enough).then(|| {
            "nothing but a length is asked for, and a butt cut changes the bend least: aim for a power too, or write a \
             `plan` with a tip cut, to have some of it come off the tip"
                .to_owned()
        })
    }
}

/// A length follows from the cuts alone.
pub(crate) fn is_length(measure: Measure) -> bool {
    matches!(measure, Measure::Length | Measure::FreeLength)
}

/// What must be bent or tapped to be known.
pub(crate) fn is_bent(measure: Measure) -> bool {
    matches!(
        measure,
        Measure::Power
            | Measure::StiffnessForLength
            | Measure::TipAngle
            | Measure::BendCentre
            | Measure::Recovery
    )
}

/// The stated aims, and the middle of every two-sided limit that has none.
pub(crate) fn aims(build: &Build) -> Vec<Aim> {
    let two_sided = |measure: Measure| {
        let limit = build.limits.iter().find(|limit| limit.measure == measure)?;
        let range = limits::range_of(limit);
        Some(range).filter(|range| {
            range.low.is_finite() && range.high.is_finite() && range.low < range.high
        })
    };
    let mut aims: Vec<Aim> = Vec::new();
    for (measure, aim) in &build.aim {
        let value = aim.value.si;
        let half = two_sided(*measure).map(|range| 0.5 * (range.high - range.low));
        let tolerance = half.unwrap_or_else(|| usual_tolerance(*measure, value));
        aims.push(Aim { measure: *measure, value, tolerance, stated: true });
    }
    for limit in &build.limits {
        if let Some(range) = two_sided(limit.measure)
            && aims.iter().all(|aim| aim.measure != limit.measure)
        {
            let (value, tolerance) =
                (0.5 * (range.low + range.high), 0.5 * (range.high - range.low));
            aims.push(Aim { measure: limit.measure, value, tolerance, stated: false });
        }
    }
    aims
}

/// How far off an aim a builder minds, where no limit tells (common practice, no source).
pub(crate) fn usual_tolerance(measure: Measure, value: f64) -> f64 {
    match measure {
        Measure::Length | Measure::FreeLength => Length::from_mm(5.0).m(),
        Measure::TipOd => Length::from_mm(0.05).m(),
        Measure::ButtOd => Length::from_mm(0.1).m(),
        Measure::Balance => Length::from_mm(10.0).m(),
        Measure::TipAngle => Angle::from_deg(2.0).rad(),
        Measure::BendCentre => 0.01,
        Measure::Weight | Measure::Power | Measure::StiffnessForLength | Measure::Recovery => {
            0.02 * value.abs()
        }
    }
}

fn room(piece: &Piece, card: Option<&Blank>, end: End, present: Length, units: Units) -> Room {
    let closed = |why: String| Room { most: Length::default(), barrier: Some(why) };
    let settled = match end {
        End::Tip => &piece.walk.settled.tip,
        End::Butt => &piece.walk.settled.butt,
    };
    if let Some(why) = settled {
        let name = words::end(end);
        return closed(match why.trim() {
            "" => format!("the {name} is settled"),
            why => format!("the {name} is settled ({why})"),
        });
    }
    let solid =
        card.and_then(|card| card.tip.as_ref()).is_some_and(|tip| tip.value == TipKind::Solid);
    if solid && end == End::Tip {
        return closed(
            "the tip is solid and spliced in, and a cut would shorten the splice's own part"
                .to_owned(),
        );
    }
    let whole = piece.walk.uncut().length.unwrap_or(present);
    let room = Room { most: by_length(piece, present), barrier: None };
    match to_joint(piece, card, end, whole) {
        Some((to_joint, at)) if to_joint < room.most => Room {
            most: larger(to_joint, Length::default()),
            barrier: Some(format!(
                "the joint at {} of the uncut blank leaves {} to cut at the {}",
                units.length(at),
                units.cut(larger(to_joint, Length::default())),
                words::end(end)
            )),
        },
        _ => room,
    }
}

fn by_length(piece: &Piece, present: Length) -> Length {
    let free = present - piece.held_at.unwrap_or_default() - LEAST_FREE;
    let whole = piece.walk.uncut().length.unwrap_or(present);
    larger(smaller(free, present - whole * (1.0 - MOST_OFF)), Length::default())
}

/// How far it is from a present end to the nearest joint, and where that is.
fn to_joint(
    piece: &Piece,
    card: Option<&Blank>,
    end: End,
    whole: Length,
) -> Option<(Length, Length)> {
    let off = piece.walk.present().off;
    let joints = card.iter().flat_map(|card| &card.joints);
    joints
        .map(|joint| {
            let clear = overlap_of(joint) / 2.0 + CLEAR_OF_JOINT;
            let away = match end {
                End::Tip => whole - off.tip - joint.at,
                End::Butt => joint.at - off.butt,
            };
            (away - clear, joint.at)
        })
        .min_by(|a, b| a.0.m().total_cmp(&b.0.m()))
}

pub(crate) fn smaller(a: Length, b: Length) -> Length {
    if a < b { a } else { b }
}

pub(crate) fn larger(a: Length, b: Length) -> Length {
    if a < b { b } else { a }
}
