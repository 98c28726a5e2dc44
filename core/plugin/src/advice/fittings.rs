//! Which fittings of the drawer go on: the plain types of the answer.

use serde::{Deserialize, Serialize};

use super::{Cut, Ends};
use crate::Number;

/// Which fittings go on a blank as it is, as tried and as suggested.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittingsAdvice {
    /// The record's id.
    pub record: String,
    /// The states that were asked for, in that order.
    pub states: Vec<FittingsAt>,
    /// What is missing to say more, and what was taken for granted, in words.
    pub words: Vec<String>,
}

/// Which fittings go on a blank in one state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittingsAt {
    /// Which state: `as it is`, `as tried`, `as planned` or `as suggested`.
    pub state: String,
    /// The further cuts that make it.
    pub cut: Cut,
    /// Its tip.
    pub tip_od_mm: Number,
    /// Its butt.
    pub butt_od_mm: Number,
    /// The tip-tops that come nearest, the best first.
    pub tip_tops: Vec<Fit>,
    /// The butt ferrules that come nearest, the best first.
    pub butt_ferrules: Vec<Fit>,
    /// The reel seats that go over the butt, the closest first.
    pub reel_seats: Vec<Fit>,
    /// How much more may come off each end alone before nothing in the drawer fits; `null` without a drawer, and where something
    /// fits however much comes off.
    pub left: Ends,
    /// How much must come off each end alone until something in the drawer fits; `null` when nothing ever does, or
    /// without a drawer.
    pub until: Ends,
}

/// One size of the drawer beside one diameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// The id of the fitting's record.
    pub fitting: String,
    /// The size as it is marked, else its bore.
    pub size: String,
    /// The bore.
    pub bore_mm: f64,
    /// The bore was measured; else it is what is marked.
    pub bore_was_measured: bool,
    /// The ring.
    pub ring_mm: Option<f64>,
    /// How many are left.
    pub count: Option<u32>,
    /// How it goes on.
    pub how: FitHow,
    /// Bore less diameter less lacquer.
    pub clearance_mm: Number,
    /// How likely the clearance is what glue wants, 0 to 1.
    pub chance: Option<f64>,
    /// How thick the wall of an arbor between is; of [`FitHow::Arbor`] alone.
    pub arbor_mm: Option<f64>,
    /// What must be sanded off the diameter, what that takes of the wall and of the stiffness there, 0 to 1; where it is too tight.
    pub sanding: Option<Sanding>,
    /// How far from the present butt the bore comes to sit when it is slid on from the tip; reel seats and ferrules.
    pub sits_at_mm: Option<f64>,
    /// What it adds to the length.
    pub adds_length_mm: Option<f64>,
    /// What it adds to the weight.
    pub adds_weight_g: Option<f64>,
}

/// How a fitting goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FitHow {
    /// With the clearance that glue wants.
    Direct,
    /// A little wide: a turn of thread under the glue takes it up.
    Thread,
    /// With an arbor between.
    Arbor,
    /// Too tight by what sanding could take off without much harm.
    Sand,
    /// Too tight.
    TooTight,
    /// Too wide for thread.
    TooWide,
}

/// What sanding would cost.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sanding {
    /// Off the diameter.
    pub off_diameter_mm: f64,
    /// The part of the wall that is lost.
    pub of_wall: f64,
    /// The part of the stiffness that is lost there.
    pub of_stiffness: f64,
}
