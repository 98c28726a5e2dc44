//! Where the guides go on a blank bent by its static load, what they weigh, and what that takes from recovery.
//!
//! The places follow the bend (`taperbook_mechanics::guides` derives the rule); the rings follow the drawer.

mod rings;

use taperbook_bench::{Cuts, Piece, overlap_of, piece};
use taperbook_mechanics::guides::{Bent, Ring, Side, bent, even_places, ways};
use taperbook_mechanics::{Clamp, Load, Tube, natural_frequency, natural_frequency_with};
use taperbook_plugin::{
    Cut, Dressing, GuidePlace, GuideSide, GuidesAdvice, Number, StaticTest, View,
};
use taperbook_record::Measure;
use taperbook_units::{Length, Mass};

use crate::drawer::{Drawers, GuideSize, Sized};
use crate::ends::tube_of;
use crate::fit::Room;
use rings::{Choice, choose};

/// The largest angle between line and blank that is aimed for, in degrees: common practice, no source. It gives a rod of seven
/// feet seven guides or eight.
pub(crate) const MOST_ANGLE_DEG: f64 = 4.0;
/// More guides than this are asked for by no rod.
const MOST_GUIDES: usize = 40;
/// Shorter than this out from the clamp nothing is a rod to put guides on.
const LEAST_FREE: Length = Length::from_mm(300.0);
/// A load of so many times the power is more than a blank is bent by at a bench (common practice, no source).
const MUCH: f64 = 2.0;
/// What a foot takes where the drawer doesn't say: common practice, no source.
const USUAL_FOOT: Length = Length::from_mm(20.0);
/// The drawn curve has so many places.
const N_DRAWN: usize = 120;

/// What was asked.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Asked {
    pub(crate) cut: Cut,
    pub(crate) side: GuideSide,
    pub(crate) count: Option<usize>,
    pub(crate) load: Option<Mass>,
    pub(crate) held_at: Option<Length>,
}

/// Answers where the guides go.
///
/// # Errors
/// When the record is nothing to put guides on, or its bend can't be worked out; says what to measure.
pub(crate) fn guides(view: &View, id: &str, asked: Asked) -> Result<GuidesAdvice, String> {
    let piece = piece(view, id).ok_or_else(|| {
        format!("`{id}` is neither a build nor a blank card: there is nothing to put guides on")
    })?;
    let held_at = asked.held_at.or(piece.held_at).ok_or(
        "say where it is held: write `held_at: 9 in` in the record, its blank card or shop.yaml",
    )?;
    let drawers = Drawers::of(view);
    let mut bench = Bench { view, piece: &piece, drawers: &drawers, held_at, asked };
    let (tip, butt) = (Length::from_mm(asked.cut.tip_mm), Length::from_mm(asked.cut.butt_mm));
    let off = piece.walk.present().off.plus(tip, butt);
    let dressed = bench.test(off, asked.count)?;
    bench.asked.load = None;
    let uncut = (off != Cuts::default())
        .then(|| bench.test(Cuts::default(), Some(dressed.places.len().saturating_sub(1))).ok())
        .flatten();
    Ok(GuidesAdvice {
        record: id.to_owned(),
        held_at_mm: held_at.mm(),
        side: asked.side,
        dressing: bench.dressing(off, &dressed)?,
        words: bench.words(off, &dressed),
        test: dressed,
        uncut,
    })
}

struct Bench<'a> {
    view: &'a View<'a>,
    piece: &'a Piece,
    drawers: &'a Drawers,
    held_at: Length,
    asked: Asked,
}

impl Bench<'_> {
    /// Computes the static test of the blank with so much off in all.
    fn test(&self, off: Cuts, count: Option<usize>) -> Result<StaticTest, String> {
        let tube = tube_of(self.piece, off)?;
        let free = tube.length() - self.held_at;
        if free < LEAST_FREE {
            return Err(format!(
                "held at {:.0} mm of {:.0} mm, so too little of it is free to put guides on: hold it nearer the butt",
                self.held_at.mm(),
                tube.length().mm()
            ));
        }
        let power = || self.piece.value(Measure::Power, off, self.held_at).map(Mass::from_kg);
        let load = self.asked.load.or_else(power).ok_or(
            "its power can't be worked out, so say what hangs from the tip: `--load 200g`",
        )?;
        let bent = bent(&tube, &Clamp::horizontal(self.held_at), &Load::hung(load))
            .map_err(|error| error.to_string())?;
        let side = side_of(self.asked.side);
        let laid = Laid { bent: &bent, tube: &tube, held_at: self.held_at, side };
        let tip_top = self.tip_top(&tube);
        let joints = self.joints(off, tube.length());
        let lay = |n_guides: usize| {
            let mut places = even_places(&bent, n_guides);
            for place in &mut places {
                *place = beside_joints(*place, tube.length(), &joints);
            }
            choose(&laid, tip_top.as_ref(), &places, &self.drawers.guides)
        };
        let choice = match count {
            Some(count) => lay(count),
            None => enough(&bent, lay),
        };
        Ok(told(&laid, load, &choice))
    }

    /// The tip-top that goes on best, by the drawers.
    fn tip_top(&self, tube: &Tube) -> Option<Sized> {
        let room = Room::at_tip(&self.view.shop());
        let od = tube.od_at(tube.length());
        let middle = (room.least + room.most) / 2.0;
        let off = |sized: &Sized| (room.clearance(sized.bore, od) - middle).abs().m();
        let fitting = self.drawers.tip_tops.iter().filter(|sized| room.takes(sized.bore, od));
        fitting.min_by(|a, b| off(a).total_cmp(&off(b))).cloned()
    }

    /// Where on it, from its butt, no guide can stand: the middle and half the length of each joint.
    fn joints(&self, off: Cuts, length: Length) -> Vec<(Length, Length)> {
        let card = self.piece.card.as_deref().and_then(|card| self.view.record(card));
        let Some(blank) = card.as_ref().and_then(|card| card.card()) else { return Vec::new() };
        let place =
            |joint: &taperbook_record::Joint| (joint.at - off.butt, overlap_of(joint) / 2.0);
        let on_it = |(at, _): &(Length, Length)| Length::default() < *at && *at < length;
        blank.joints.iter().map(place).filter(on_it).collect()
    }

    fn dressing(&self, off: Cuts, test: &StaticTest) -> Result<Dressing, String> {
        let tube = tube_of(self.piece, off)?;
        let clamp = Clamp::horizontal(self.held_at);
        let carried: Vec<(Length, Mass)> = test
            .places
            .iter()
            .filter_map(|place| {
                Some((Length::from_mm(place.from_butt_mm), Mass::from_g(place.weight_g?)))
            })
            .collect();
        let words = |error: taperbook_mechanics::VibrateError| error.to_string();
        let bare = natural_frequency(&tube, &clamp).map_err(words)?;
        let dressed = natural_frequency_with(&tube, &clamp, &carried).map_err(words)?;
        let state = self.piece.state(off, Some(self.held_at));
        let bare_hz = state.get(Measure::Recovery).unwrap_or_else(|| Number::missing("recovery"));
        let part = dressed.hz() / bare.hz();
        Ok(Dressing {
            weight_g: carried.iter().map(|(_, mass)| mass.g()).sum(),
            n_unweighed: test.places.len() - carried.len(),
            dressed_hz: bare_hz.scaled(part),
            bare_hz,
            loss: 1.0 - part,
        })
    }

    fn words(&self, off: Cuts, test: &StaticTest) -> Vec<String> {
        let mut words = vec![
            "line and blank make the same angle all along, because the blank turns as much between any two guides; check it with a line on the board before any thread goes on".to_owned(),
        ];
        if self.asked.count.is_none() {
            words.push(format!(
                "as many guides as bring that angle to {MOST_ANGLE_DEG} degrees or less with no line touching (common practice, no source)"
            ));
        }
        if self.drawers.guides.is_empty() {
            words.push("no guide is in the drawers: heights are taken as 8 mm and nothing is weighed; `taperbook new fitting guides` makes a drawer".to_owned());
        } else if self.drawers.guides.iter().any(|size| !size.height_is_stated) {
            words.push("a guide without `height` is taken to hold its ring 3 mm off the blank (common practice, no source): measure it and write `height`, from the blank to the middle of the ring".to_owned());
        }
        if test.places.first().is_some_and(|tip_top| tip_top.fitting.is_none()) {
            words.push(
                "no tip-top of the drawers goes on this tip: its ring is taken as 6 mm".to_owned(),
            );
        }
        if test.places.iter().any(|place| place.clearance_mm < 0.0) {
            words.push("where the line touches the blank, more guides or higher ones are needed: there is none higher left in the drawers".to_owned());
        }
        let power = self.piece.value(Measure::Power, off, self.held_at).map(Mass::from_kg);
        if power.is_some_and(|power| MUCH * power.g() < test.load_g) {
            words.push(
                "that is far more than its power: it may break long before, so don't hang it"
                    .to_owned(),
            );
        }
        words.push("a blank bent to its limit can shatter: face shield, nobody in line; follow the maker's data sheet".to_owned());
        words.push("thread, glue and lacquer are not weighed, and the line's own pull along the blank is left out".to_owned());
        words
    }
}

/// The fewest guides that keep the angle small and the line off the blank.
fn enough(bent: &Bent, lay: impl Fn(usize) -> Choice) -> Choice {
    let turn = bent.angle(Length::default()).deg() - bent.angle(bent.free).deg();
    // An even way turns by its share, and line and blank make half of that at either end.
    let least = (turn.abs() / 2.0 / MOST_ANGLE_DEG).ceil().max(2.0);
    #[expect(clippy::cast_possible_truncation, reason = "a turn is at most 360 degrees")]
    #[expect(clippy::cast_sign_loss, reason = "it is at least 2")]
    let least = least as usize - 1;
    let first = lay(least);
    if !first.touches() {
        return first;
    }
    (least + 1..=MOST_GUIDES).map(&lay).find(|choice| !choice.touches()).unwrap_or(first)
}

/// Moves a guide that would stand on a joint to the nearer side of it.
fn beside_joints(from_tip: Length, length: Length, joints: &[(Length, Length)]) -> Length {
    let at = length - from_tip;
    for (middle, half) in joints {
        let clear = *half + USUAL_FOOT / 2.0;
        if (at - *middle).abs() < clear {
            let moved = if at < *middle { *middle - clear } else { *middle + clear };
            return length - moved;
        }
    }
    from_tip
}

/// A bent blank on which guides are laid.
pub(crate) struct Laid<'a> {
    pub(crate) bent: &'a Bent,
    pub(crate) tube: &'a Tube,
    pub(crate) held_at: Length,
    pub(crate) side: Side,
}

impl Laid<'_> {
    pub(crate) fn od(&self, from_tip: Length) -> Length {
        self.tube.od_at(self.tube.length() - from_tip)
    }

    /// A ring that stands so high above the surface.
    pub(crate) fn ring(&self, from_tip: Length, height: Length) -> Ring {
        Ring { from_tip, offset: self.od(from_tip) / 2.0 + height }
    }
}

fn side_of(side: GuideSide) -> Side {
    match side {
        GuideSide::Above => Side::Above,
        GuideSide::Below => Side::Below,
    }
}

fn told(laid: &Laid, load: Mass, choice: &Choice) -> StaticTest {
    let Laid { bent, tube, held_at, side } = *laid;
    let mm = |(x, y): (f64, f64)| (x * 1e3, y * 1e3);
    let rings: Vec<Ring> =
        choice.guides.iter().map(|guide| laid.ring(guide.from_tip, guide.size.height)).collect();
    let ways = ways(bent, tube, held_at, &rings, side);
    let next = |at: usize| choice.guides.get(at + 1).map_or(bent.free, |guide| guide.from_tip);
    let place = |(at, guide): (usize, &rings::Guide)| {
        let size: &GuideSize = &guide.size;
        GuidePlace {
            from_tip_mm: guide.from_tip.mm(),
            from_butt_mm: (tube.length() - guide.from_tip).mm(),
            spacing_mm: (next(at) - guide.from_tip).mm(),
            od_mm: laid.od(guide.from_tip).mm(),
            height_mm: size.height.mm(),
            ring_mm: size.ring.map(Length::mm),
            size: size.size.clone(),
            fitting: size.fitting.clone(),
            weight_g: size.weight.map(Mass::g),
            angle_deg: ways[at].angle.deg(),
            clearance_mm: ways[at].clearance.mm(),
        }
    };
    let step = bent.free / N_DRAWN as f64;
    let along = (0..=N_DRAWN).map(|n| bent.free - step * n as f64);
    let at_clamp = rings.last().map(|last| Ring { from_tip: bent.free, offset: last.offset });
    let line = at_clamp.iter().chain(rings.iter().rev());
    StaticTest {
        length_mm: tube.length().mm(),
        load_g: load.g(),
        tip_angle_deg: bent.angle(Length::default()).deg(),
        blank: along.map(|from_tip| mm(bent.place(from_tip))).collect(),
        line: line.map(|ring| mm(bent.ring(ring, side))).collect(),
        places: choice.guides.iter().enumerate().map(place).collect(),
    }
}
