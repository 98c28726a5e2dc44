//! Where guides go on a bent blank: the plain types of the answer.

use serde::{Deserialize, Serialize};

use crate::Number;

/// Number and places of the guides, and the static test computed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GuidesAdvice {
    /// The record's id.
    pub record: String,
    /// Where it is held, from the butt after the cuts.
    pub held_at_mm: f64,
    /// Where the guides stand.
    pub side: GuideSide,
    /// The blank that the guides are for: as it is, or after the cuts that were asked for.
    pub test: StaticTest,
    /// The uncut blank with as many guides placed by the same rule, under its own load; `null` when nothing was cut.
    pub uncut: Option<StaticTest>,
    /// What the guides weigh and what that takes from recovery.
    pub dressing: Dressing,
    /// Where numbers come from and what was taken for granted, in words.
    pub words: Vec<String>,
}

/// On which side of the bent blank the line runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GuideSide {
    /// On top, outside of the bend.
    Above,
    /// Underneath, inside of the bend.
    Below,
}

/// A blank bent by a weight at its tip with the line through its guides.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StaticTest {
    /// The length of the blank.
    pub length_mm: f64,
    /// The weight that hangs from the tip.
    pub load_g: f64,
    /// The angle of the tip below horizontal.
    pub tip_angle_deg: f64,
    /// The bent blank's middle, from clamp to tip: outward from the clamp, up from its line.
    pub blank: Vec<(f64, f64)>,
    /// The line from where it is held through all rings to the tip-top.
    pub line: Vec<(f64, f64)>,
    /// The guides from the tip-top to the butt, the tip-top first.
    pub places: Vec<GuidePlace>,
}

/// A guide, and the line between it and the next one toward the butt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GuidePlace {
    /// From the tip.
    pub from_tip_mm: f64,
    /// From the butt.
    pub from_butt_mm: f64,
    /// To the next one toward the butt, or to where the blank is held.
    pub spacing_mm: f64,
    /// The diameter of the blank there.
    pub od_mm: f64,
    /// The middle of its ring above the blank.
    pub height_mm: f64,
    /// The ring.
    pub ring_mm: Option<f64>,
    /// The size in the drawer, as it is marked.
    pub size: Option<String>,
    /// The id of the fitting's record.
    pub fitting: Option<String>,
    /// Its weight.
    pub weight_g: Option<f64>,
    /// The angle between line and blank on the way to the next one: the mean of both ends of that way.
    pub angle_deg: f64,
    /// The nearest that the line comes to the blank's surface on that way; below zero it touches.
    pub clearance_mm: f64,
}

/// Bare to dressed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Dressing {
    /// All guides and the tip-top together.
    pub weight_g: f64,
    /// How many of them have no weight in the drawer and count for nothing.
    pub n_unweighed: usize,
    /// Recovery of the bare blank.
    pub bare_hz: Number,
    /// Recovery with the guides on; thread, glue and lacquer are not in it.
    pub dressed_hz: Number,
    /// The part of recovery that the guides take, 0 to 1.
    pub loss: f64,
}
