//! What a sheet for the bench holds: where to mark, what to cut first, what may still come off.
//!
//! All places are of the piece as it is just before the step that names them.

use serde::{Deserialize, Serialize};

use super::{Chance, Cut, Ends, FittingsAt};
use crate::State;

/// Where the marks of some cuts go, in the order of the cuts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MarksAdvice {
    /// The record's id.
    pub record: String,
    /// The length now.
    pub length_mm: f64,
    /// Where it is held, from the butt as it then is.
    pub held_at_mm: Option<f64>,
    /// The piece as it is, from its butt to its tip; empty when its diameters are not known.
    pub outline: Vec<OutlinePoint>,
    /// Where pieces join, from the present butt.
    pub joints: Vec<JointPlace>,
    /// What of the build's plan is not cut yet; `null` without one.
    pub planned: Option<Cut>,
    /// The blank before any cut.
    pub uncut: State,
    /// The cuts in their order.
    pub steps: Vec<MarkStep>,
    /// Reasons and cautions of the order, in words.
    pub words: Vec<String>,
}

/// A place along a blank.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OutlinePoint {
    /// From the present butt.
    pub at_mm: f64,
    /// Outside diameter.
    pub od_mm: f64,
    /// Wall.
    pub wall_mm: f64,
}

/// A joint along a blank.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct JointPlace {
    /// The middle of the overlap, from the present butt.
    pub at_mm: f64,
    /// How far the pieces go into each other.
    pub overlap_mm: f64,
}

/// One cut of a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MarkStep {
    /// `tip` or `butt`.
    pub end: String,
    /// The whole length lost, kerf included.
    pub cut_mm: f64,
    /// The length before it.
    pub length_before_mm: f64,
    /// The length after it.
    pub length_after_mm: f64,
    /// The mark from the tip.
    pub from_tip_mm: f64,
    /// The mark from the butt.
    pub from_butt_mm: f64,
    /// The mark from the clamp, outward to the tip; negative when it lies toward the butt.
    pub from_clamp_mm: Option<f64>,
    /// The mark from the other end of the piece that it is on, with the pieces apart; `null` for a blank of one piece.
    pub from_joint_mm: Option<f64>,
    /// Outside diameter at the mark.
    pub od_mm: Option<f64>,
    /// Wall at the mark.
    pub wall_mm: Option<f64>,
    /// What the saw turns to dust.
    pub kerf_mm: Option<f64>,
    /// The piece that comes off whole.
    pub offcut_mm: f64,
    /// The saw, by its name in `shop.yaml` where there is one for this.
    pub saw: String,
    /// How to hold and cut at this diameter and wall.
    pub tool: String,
    /// What to expect of the piece after it.
    pub expected: State,
}

/// A sheet for the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetAdvice {
    /// The record's id.
    pub record: String,
    /// Its title.
    pub title: String,
    /// Whose it is.
    pub customer: Option<String>,
    /// What it is for.
    pub purpose: Option<String>,
    /// The blank card.
    pub blank: Option<String>,
    /// Where the cuts come from: `as given`, `as planned`, `as suggested` or `none`.
    pub cuts_from: String,
    /// All cuts of the sheet.
    pub cut: Cut,
    /// The piece as it is.
    pub before: State,
    /// Marks and steps.
    pub marks: MarksAdvice,
    /// Each limit and how surely it is kept after the last step.
    pub limits: Vec<Chance>,
    /// How much may come off each end alone now, inside the limits.
    pub left_now: Ends,
    /// How much may come off each end alone after the last step, inside the limits.
    pub left_after: Ends,
    /// Which fittings go on after the last step; `null` when nothing is known of the diameters.
    pub fittings: Option<FittingsAt>,
    /// The flags that the cuts would raise: name and message.
    pub flags: Vec<(String, String)>,
    /// What to know besides, in words.
    pub words: Vec<String>,
}
