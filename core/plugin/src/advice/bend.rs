//! How a piece bends: the answer that a picture of it is drawn from.

use serde::{Deserialize, Serialize};

/// How a piece bends before and after further cuts, under the same weight in a level clamp that does not yield.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BendAdvice {
    /// The record's id.
    pub record: String,
    /// Where it is held, from the present butt.
    pub held_at_mm: f64,
    /// The weight: the power of the piece as it now is.
    pub load_g: f64,
    /// A third of the free length of the piece as it now is: so far below the clamp line its tip comes.
    pub third_mm: f64,
    /// The piece as it is.
    pub before: Bent,
    /// The piece after the cuts; the same as before when nothing comes off.
    pub after: Bent,
    /// What was read on the board of the piece as it now is.
    pub readings: Vec<BoardPoints>,
}

/// A bent piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bent {
    /// Its length.
    pub length_mm: f64,
    /// Places evenly spaced along the free length, from the clamp to the tip.
    pub places: Vec<BentPlace>,
}

/// A place on a bent piece, out from the clamp and up from the clamp line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BentPlace {
    /// Out from the clamp.
    pub x_mm: f64,
    /// Up from the clamp line; negative below.
    pub y_mm: f64,
    /// From the place across the blank, outward, to where it lies above once in twenty; it lies as far below as often.
    pub beside_x_mm: f64,
    /// The same, upward.
    pub beside_y_mm: f64,
}

/// Points that were read on the board under one weight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BoardPoints {
    /// The item of the bench, from 0.
    pub item: usize,
    /// The weight.
    pub load_g: f64,
    /// The points, out from the clamp and up from the clamp line.
    pub points: Vec<(f64, f64)>,
    /// The piece under that weight; `null` when it can't be computed.
    pub bent: Option<Bent>,
}
