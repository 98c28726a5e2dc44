//! Which blank for a brief, and which rods a blank could be: the plain types of both questions and answers.
//!
//! Nothing here chooses. Cuts are further cuts from the piece as it is; the key names are those of the JSON.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use taperbook_record::{Limit, Measure, Spanned};
use taperbook_units::{Length, Quantity};

use super::{Chance, Cut, Ends};
use crate::{Number, State};

/// What a rod is to become, before it has a blank.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wanted {
    /// What the builder tries for.
    pub aim: Vec<(Measure, Spanned<Quantity>)>,
    /// What the customer allows.
    pub limits: Vec<Limit>,
    /// Words for what it is fished with.
    pub use_words: Option<String>,
    /// Where it is held; else each card or the shop says.
    pub held_at: Option<Length>,
    /// Only what is on the rack.
    pub in_stock: bool,
    /// The id of a build that all this was taken from: it is no past build.
    pub build: Option<String>,
    /// How many blanks are told in full.
    pub limit: usize,
}

/// The blanks of the shop for a brief.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChooseAdvice {
    /// The aims by the key that carries the unit, in that unit.
    pub aim: BTreeMap<String, f64>,
    /// How many blanks and offcuts were put to the brief.
    pub considered: usize,
    /// How many of them can be brought inside all limits, at what is most likely.
    pub can_meet: usize,
    /// Why none can, with the nearest; `null` where one can.
    pub why_none: Option<String>,
    /// The best of them, the best first.
    pub blanks: Vec<Choice>,
    /// Those of which nothing can be said yet.
    pub not_judged: Vec<NotJudged>,
    /// What was left out, and what was done with the words for the use, in words.
    pub words: Vec<String>,
}

/// One blank, with the cuts that make the rod.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// The id of the blank card or offcut.
    pub record: String,
    /// `blank` or `offcut`.
    pub kind: String,
    /// How many are on the rack, as the card says, or 1 for an offcut that says nothing; `null` where nobody wrote it.
    pub stock: Option<u32>,
    /// Where it is held, from the butt after the cuts.
    pub held_at_mm: Option<f64>,
    /// The cuts, kerf included.
    pub cut: Cut,
    /// How likely all limits are kept after them, 0 to 1; `null` without limits or numbers.
    pub chance_inside_limits: Option<f64>,
    /// The most likely numbers are inside all limits.
    pub meets: bool,
    /// How far the most likely numbers are from the aims: 1 is as far as is minded in one of them.
    pub off_aim: f64,
    /// The rod's blank after the cuts.
    pub expected: State,
    /// How much may come off each end alone after that, inside the limits.
    pub left: Ends,
    /// Each limit and how surely it is kept after the cuts.
    pub limits: Vec<Chance>,
    /// What stands in the way, where the limits or the aims are not met.
    pub in_the_way: Option<String>,
    /// What was aimed for where the brief left it open, and the liked builds behind it, in words.
    pub left_open: Vec<String>,
    /// How many past builds stand behind the numbers.
    pub n_past: usize,
    /// Past builds of it, the most alike first.
    pub alike: Vec<PastBuild>,
}

/// A past build that is like what is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PastBuild {
    /// Its id.
    pub record: String,
    /// What came off its tip.
    pub tip_cut_mm: f64,
    /// What came off its butt.
    pub butt_cut_mm: f64,
    /// How long it ended.
    pub length_mm: Option<f64>,
    /// Its power in the end, as read or worked out.
    pub power_g: Option<f64>,
    /// How the builder rated it.
    pub rating: Option<u8>,
    /// `keep`, `recut` or `scrap`.
    pub verdict: Option<String>,
    /// The words for the use that stand in it.
    pub used_for: Vec<String>,
    /// What the builder wrote of it, shortened.
    pub words: Option<String>,
}

/// A blank that can't be judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NotJudged {
    /// Its id.
    pub record: String,
    /// What to measure or to write.
    pub measure: String,
}

/// Which rods a blank could be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReachAdvice {
    /// The record's id.
    pub record: String,
    /// Where it is held, from the butt after the cuts.
    pub held_at_mm: f64,
    /// The piece as it is.
    pub present: ReachPoint,
    /// The lengths that it could have, the longest first.
    pub rows: Vec<ReachRow>,
    /// The lengths allowed, in mm; `null` where there is no bound.
    pub length_allowed: (Option<f64>, Option<f64>),
    /// The powers allowed, in g.
    pub power_allowed: (Option<f64>, Option<f64>),
    /// Limits were stated.
    pub has_limits: bool,
    /// The length and the power aimed for, in mm and g.
    pub aim: (Option<f64>, Option<f64>),
    /// What keeps an end from being cut further, and other things to know.
    pub words: Vec<String>,
}

/// The rods of one length, from all of the cut at the butt to all of it at the tip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReachRow {
    /// The length.
    pub length_mm: f64,
    /// The least tip cut first.
    pub points: Vec<ReachPoint>,
}

/// One rod that a blank could be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReachPoint {
    /// The cuts that make it.
    pub cut: Cut,
    /// Its power.
    pub power_g: Number,
    /// The most likely numbers are inside all limits; `false` without limits.
    pub inside: bool,
    /// How likely all limits are kept, 0 to 1; `null` without limits or numbers.
    pub chance_inside_limits: Option<f64>,
    /// All numbers.
    pub expected: State,
}
