//! Where the marks of further cuts go, and in which order the cuts are made.
//!
//! Every step is one cut of one end, with places of the piece as it is just before it; between two steps the builder
//! stops and reads. The rules of order, steps and saws are common practice, no source.

use taperbook_bench::{Cuts, Piece, overlap_of, piece};
use taperbook_mechanics::Tube;
use taperbook_plugin::{Cut, JointPlace, MarkStep, MarksAdvice, OutlinePoint, View};
use taperbook_record::{End, Saw, Shop};
use taperbook_units::Length;

use crate::tried::possible;

/// A tip cut longer than this is made in two steps, half of it first.
const MOST_AT_ONCE: Length = Length::from_mm(20.0);
/// From this diameter on a blank is sawn, below it a disc is used.
const THICK: Length = Length::from_mm(5.0);
/// A wall thinner than this splinters and crushes easily.
const THIN_WALL: Length = Length::from_mm(0.5);
const N_OUTLINE: u32 = 60;

/// Answers where the marks of further cuts go.
///
/// # Errors
/// When the record is nothing to cut, or the cuts can't be made; says why.
pub(crate) fn marks(
    view: &View,
    id: &str,
    cut: Cut,
    held_at: Option<Length>,
) -> Result<MarksAdvice, String> {
    let piece = piece(view, id).ok_or_else(|| {
        format!("`{id}` is neither a build nor a blank card: there is nothing to mark")
    })?;
    let shop = view.shop();
    let units = shop.units();
    let cut = Cuts { tip: Length::from_mm(cut.tip_mm), butt: Length::from_mm(cut.butt_mm) };
    possible(&piece, cut, units)?;
    // `possible` has seen to it that the length is known.
    let length = piece.walk.present().length.unwrap_or_default();
    let held_at = held_at.or(piece.held_at);
    let tube = present_tube(&piece);
    let joints = joints(view, &piece);
    let mut at = Bench {
        piece: &piece,
        shop: &shop,
        joints: &joints,
        held_at,
        length,
        cut: Cuts::default(),
    };
    let steps = in_order(cut).into_iter().map(|(end, off)| at.step(end, off, tube.as_ref()));
    let steps: Vec<MarkStep> = steps.collect();
    Ok(MarksAdvice {
        record: id.to_owned(),
        length_mm: length.mm(),
        held_at_mm: held_at.map(Length::mm),
        outline: tube.as_ref().map(outline).unwrap_or_default(),
        planned: planned(view, &piece),
        uncut: piece.state(piece.walk.uncut().off, held_at),
        words: words(&steps),
        steps,
        joints,
    })
}

/// The most likely tube of the piece as it now is.
fn present_tube(piece: &Piece) -> Option<Tube> {
    let off = piece.walk.present().off;
    piece.fitted.as_ref().ok()?.posterior.tube().trimmed(off.tip, off.butt).ok()
}

/// Tip before butt, a long tip cut in two.
fn in_order(cut: Cuts) -> Vec<(End, Length)> {
    let none = Length::default();
    let tip = match cut.tip {
        tip if tip <= none => Vec::new(),
        tip if tip <= MOST_AT_ONCE => vec![tip],
        tip => vec![tip / 2.0, tip / 2.0],
    };
    let mut steps: Vec<(End, Length)> = tip.into_iter().map(|off| (End::Tip, off)).collect();
    steps.extend((none < cut.butt).then_some((End::Butt, cut.butt)));
    steps
}

/// The piece between two steps.
struct Bench<'a> {
    piece: &'a Piece,
    shop: &'a Shop,
    joints: &'a [JointPlace],
    held_at: Option<Length>,
    length: Length,
    /// What the steps before took off.
    cut: Cuts,
}

impl Bench<'_> {
    /// Makes the next step.
    fn step(&mut self, end: End, off: Length, tube: Option<&Tube>) -> MarkStep {
        let before = self.length;
        let from_butt = match end {
            End::Tip => before - off,
            End::Butt => off,
        };
        // The tube is that before all steps, whose butt lies further out by what came off since.
        let at_mark = from_butt + self.cut.butt;
        let (od, wall) = (tube.map(|t| t.od_at(at_mark)), tube.map(|t| t.wall_at(at_mark)));
        let from_joint = self.on_its_piece(end, at_mark);
        let saw = saw(self.shop, od);
        let kerf = saw.and_then(|saw| saw.kerf);
        self.length = before - off;
        match end {
            End::Tip => self.cut.tip = self.cut.tip + off,
            End::Butt => self.cut.butt = self.cut.butt + off,
        }
        let after = self.piece.walk.present().off.plus(self.cut.tip, self.cut.butt);
        MarkStep {
            end: if end == End::Tip { "tip" } else { "butt" }.to_owned(),
            cut_mm: off.mm(),
            length_before_mm: before.mm(),
            length_after_mm: self.length.mm(),
            from_tip_mm: (before - from_butt).mm(),
            from_butt_mm: from_butt.mm(),
            from_clamp_mm: self.held_at.map(|held| (from_butt - held).mm()),
            from_joint_mm: from_joint.map(Length::mm),
            od_mm: od.map(Length::mm),
            wall_mm: wall.map(Length::mm),
            kerf_mm: kerf.map(Length::mm),
            offcut_mm: (off - kerf.unwrap_or_default()).mm().max(0.0),
            saw: saw.map_or_else(|| usual_saw(od).to_owned(), |saw| saw.name.clone()),
            tool: tool(od, wall),
            expected: self.piece.state(after, self.held_at),
        }
    }
}

impl Bench<'_> {
    /// How far a place is from the other end of its piece, with the pieces apart: the tip piece begins where the overlap of the
    /// joint nearest to the tip does, and the butt piece ends where that of the joint nearest to the butt does.
    fn on_its_piece(&self, end: End, at: Length) -> Option<Length> {
        let half = |joint: &JointPlace| joint.overlap_mm / 2.0;
        let from = match end {
            End::Tip => {
                let begins = self.joints.iter().map(|joint| joint.at_mm - half(joint));
                at.mm() - begins.reduce(f64::max)?
            }
            End::Butt => {
                let ends = self.joints.iter().map(|joint| joint.at_mm + half(joint));
                ends.reduce(f64::min)? - at.mm()
            }
        };
        (0.0 < from).then(|| Length::from_mm(from))
    }
}

fn is_thick(od: Option<Length>) -> bool {
    od.is_some_and(|od| THICK <= od)
}

fn usual_saw(od: Option<Length>) -> &'static str {
    if is_thick(od) { "fine saw in a guide" } else { "fine rotary disc" }
}

/// The shop's saw for a diameter, by what it is called.
fn saw(shop: &Shop, od: Option<Length>) -> Option<&Saw> {
    let called = |saw: &&Saw, words: &[&str]| {
        let name = saw.name.to_lowercase();
        words.iter().any(|word| name.contains(word))
    };
    let discs = ["disc", "disk", "rotary", "wheel"];
    shop.saws.iter().find(|saw| match is_thick(od) {
        true => called(saw, &["saw"]) && !called(saw, &discs),
        false => called(saw, &discs),
    })
}

/// How to hold and cut at a diameter and wall.
fn tool(od: Option<Length>, wall: Option<Length>) -> String {
    let how = if is_thick(od) {
        "in a guide that holds it square, turned a little after each stroke"
    } else {
        "slowly, turning the blank and not the wrist"
    };
    let thin = wall.is_some_and(|wall| wall < THIN_WALL);
    let wall = if thin { "; the wall is thin: no pressure, tape drawn tight" } else { "" };
    format!("{how}{wall}")
}

fn outline(tube: &Tube) -> Vec<OutlinePoint> {
    let step = tube.length() / f64::from(N_OUTLINE);
    let point = |n: u32| {
        let at = step * f64::from(n);
        OutlinePoint { at_mm: at.mm(), od_mm: tube.od_at(at).mm(), wall_mm: tube.wall_at(at).mm() }
    };
    (0..=N_OUTLINE).map(point).collect()
}

/// Joints that are still on the piece, from its present butt.
fn joints(view: &View, piece: &Piece) -> Vec<JointPlace> {
    let present = piece.walk.present();
    let card = piece.card.as_deref().and_then(|card| view.record(card));
    let Some((blank, length)) = card.as_ref().and_then(|card| card.card()).zip(present.length)
    else {
        return Vec::new();
    };
    let place = |joint: &taperbook_record::Joint| {
        let at = joint.at - present.off.butt;
        let on_it = Length::default() < at && at < length;
        on_it.then(|| JointPlace { at_mm: at.mm(), overlap_mm: overlap_of(joint).mm() })
    };
    blank.joints.iter().filter_map(place).collect()
}

/// What is left of the plan of a build that is not done.
fn planned(view: &View, piece: &Piece) -> Option<Cut> {
    let (_, rest) = piece.walk.planned?;
    let record = view.record(&piece.record)?;
    let is_done = record.build().is_some_and(|build| build.verdict.is_some());
    (!is_done).then(|| Cut { tip_mm: rest.tip.mm(), butt_mm: rest.butt.mm() })
}

fn words(steps: &[MarkStep]) -> Vec<String> {
    let mut words = Vec::new();
    if steps.is_empty() {
        return words;
    }
    words.push(
        "each cut is the whole length lost, kerf included: saw on the waste side, so that the kerf ends at the mark"
            .to_owned(),
    );
    words.push(
        "put the tape on the side that stays, its edge on the mark, two turns drawn tight; cut along the edge, not through the tape (common practice, no source)"
            .to_owned(),
    );
    if 1 < steps.iter().filter(|step| step.end == "tip").count() {
        words.push(
            "the tip cut is made in two halves: what is left on can come off later (common practice, no source)"
                .to_owned(),
        );
    }
    if steps.iter().any(|step| step.end == "tip") && steps.iter().any(|step| step.end == "butt") {
        words.push("the tip goes before the butt: it decides, and the butt only fits; an end whose diameter must fit a part may go first (common practice, no source)".to_owned());
    }
    if steps.iter().any(|step| step.from_joint_mm.is_some()) {
        words.push(
            "the blank is in pieces: lengths are with its joints closed; with the pieces apart mark from the joint's end of the piece that is cut"
                .to_owned(),
        );
    }
    if steps.iter().any(|step| step.kerf_mm.is_none()) {
        words.push(
            "shop.yaml states no kerf for the saw: the offcut comes out shorter than the cut by it"
                .to_owned(),
        );
    }
    words
}
