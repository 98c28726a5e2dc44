//! Questions to plugins and what they answer; the key names are those of the JSON.

mod bend;
mod choose;
mod fittings;
mod guides;
mod handover;
mod sheet;

pub use bend::{BendAdvice, Bent, BentPlace, BoardPoints};
pub use choose::{
    Choice, ChooseAdvice, NotJudged, PastBuild, ReachAdvice, ReachPoint, ReachRow, Wanted,
};
pub use fittings::{Fit, FitHow, FittingsAdvice, FittingsAt, Sanding};
pub use guides::{Dressing, GuidePlace, GuideSide, GuidesAdvice, StaticTest};
pub use handover::{HandoverAdvice, Proposed};
pub use sheet::{JointPlace, MarkStep, MarksAdvice, OutlinePoint, SheetAdvice};

use serde::{Deserialize, Serialize};
use taperbook_record::Measure;
use taperbook_units::Length;

use crate::{Number, State};

/// A question about one record, or about the blanks of the shop.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// What would further cuts give?
    Try {
        /// The id of a build or a blank card.
        record: String,
        /// The cuts, or what they should reach.
        target: Target,
        /// Where it is held, when the record's own place is not meant.
        held_at: Option<Length>,
    },
    /// How does it bend before and after further cuts, under one weight?
    Bend {
        /// The id of a build or a blank card.
        record: String,
        /// Off the tip, from the piece as it now is.
        tip: Length,
        /// Off the butt.
        butt: Length,
        /// Where it is held, when the record's own place is not meant.
        held_at: Option<Length>,
    },
    /// What should be cut next?
    Suggest {
        /// The id of a build or a blank card.
        record: String,
        /// Where it is held, when the record's own place is not meant.
        held_at: Option<Length>,
    },
    /// How did its bench go?
    Walk {
        /// The id of a build.
        record: String,
    },
    /// Where do the numbers of this record, or one of them, come from?
    Explain {
        /// The id of a build or a blank card.
        record: String,
        /// Only this number of the piece as it now is, taken apart.
        number: Option<Measure>,
        /// Where it is held, when the record's own place is not meant.
        held_at: Option<Length>,
    },
    /// Which fittings of the drawer go on?
    Fittings {
        /// The id of a build, a blank card or an offcut.
        record: String,
        /// The states to look at: what each is called, and the further cuts that make it.
        states: Vec<(String, Cut)>,
    },
    /// Where do the marks of these further cuts go, and in which order are they made?
    Marks {
        /// The id of a build, a blank card or an offcut.
        record: String,
        /// The further cuts, kerf included; none for the piece as it is.
        cut: Cut,
        /// Where it is held, when the record's own place is not meant.
        held_at: Option<Length>,
    },
    /// Where do the guides go?
    Guides {
        /// The id of a build, a blank card or an offcut.
        record: String,
        /// Further cuts that come before.
        cut: Cut,
        /// On which side of the bent blank the line runs.
        side: GuideSide,
        /// How many guides besides the tip-top; worked out when it is not given.
        count: Option<usize>,
        /// What hangs from the tip; its power when it is not given.
        load: Option<taperbook_units::Mass>,
        /// Where it is held, when the record's own place is not meant.
        held_at: Option<Length>,
    },
    /// Which blank, cut where, makes the rod that is wanted?
    Choose(Box<Wanted>),
    /// Which rods could this blank be?
    Reach {
        /// The id of a blank card, an offcut or a build.
        record: String,
        /// What is aimed for and allowed; only its aims, its limits and where it is held count.
        wanted: Box<Wanted>,
    },
}

/// The cuts of a try, or what they should reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// These cuts, from the piece as it now is, kerf included.
    Cuts {
        /// Off the tip.
        tip: Length,
        /// Off the butt.
        butt: Length,
    },
    /// A tip cut that leaves this diameter at the tip.
    TipOd(Length),
    /// A butt cut that leaves this diameter at the butt.
    ButtOd(Length),
    /// A cut at the tip that leaves this length, after this butt cut.
    Length {
        /// The length to reach.
        length: Length,
        /// What comes off the butt besides; the rest comes off the tip.
        butt: Length,
    },
}

/// Both ends, in millimetres; `null` where there is no bound.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Ends {
    /// At the tip.
    pub tip_mm: Option<f64>,
    /// At the butt.
    pub butt_mm: Option<f64>,
}

/// A cut at both ends, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Cut {
    /// Off the tip.
    pub tip_mm: f64,
    /// Off the butt.
    pub butt_mm: f64,
}

/// One limit and how surely it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Chance {
    /// The quantity's key, such as `power`.
    pub limit: String,
    /// The lower end as a person reads it.
    pub low: Option<String>,
    /// The upper end as a person reads it.
    pub high: Option<String>,
    /// How likely the true value is inside, 0 to 1; `null` when the value is not known.
    pub inside: Option<f64>,
}

/// What further cuts would give.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TryAdvice {
    /// The record's id.
    pub record: String,
    /// Where it is held, from the present butt.
    pub held_at_mm: Option<f64>,
    /// The cut that was tried.
    pub cut: Cut,
    /// The range of the cut where it was worked out from a target; 5 % and 95 %.
    pub cut_range: Option<(Cut, Cut)>,
    /// The piece as it is.
    pub before: State,
    /// The piece after the cut.
    pub after: State,
    /// How much may still come off each end alone after that, inside the limits.
    pub left: Ends,
    /// Each limit and how surely it is kept after the cut.
    pub limits: Vec<Chance>,
    /// What an error of the caliper costs, where the cut was worked out from a diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caliper: Option<CaliperCost>,
    /// The change in words, power first.
    pub words: Vec<String>,
}

/// What an error of the caliper costs at the place of a cut.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CaliperCost {
    /// The caliper's error, one standard deviation.
    pub error_mm: f64,
    /// How far the cut moves for it, on the taper there.
    pub cut_mm: f64,
}

/// The next cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SuggestAdvice {
    /// The record's id.
    pub record: String,
    /// The next cut; `null` when the work is done, can't be done, or something must be measured first.
    pub next_cut: Option<Cut>,
    /// Why there is no next cut, when the work is done or can't be done.
    pub why_stop: Option<String>,
    /// All that is still to come off to reach the aim, as far as is known now.
    pub remaining: Cut,
    /// How much may still come off each end alone, inside the limits.
    pub left: Ends,
    /// The piece after `next_cut`.
    pub expected: State,
    /// How likely all limits are kept after all of `remaining`, 0 to 1; `null` without limits or numbers.
    pub chance_inside_limits: Option<f64>,
    /// The past builds that moved the answer.
    pub evidence: Vec<Evidence>,
    /// The query of `find` that opens exactly these; `null` where there are none.
    #[serde(default)]
    pub evidence_query: Option<String>,
    /// The reading that would help most now.
    pub measure_next: Option<String>,
    /// The reasons in words.
    pub words: Vec<String>,
}

/// A past build that moved an answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Its id.
    pub record: String,
    /// What came off its tip.
    pub tip_cut_mm: f64,
    /// What came off its butt.
    pub butt_cut_mm: f64,
    /// How the builder rated it.
    pub rating: Option<u8>,
    /// Its part in the answer, 0 to 1; all parts add up to 1.
    pub weight: f64,
    /// How far the reading there was from what was predicted without it, percent of power; `null` without a reading.
    pub miss_pct: Option<f64>,
    /// What the builder wrote about it, shortened.
    pub words: Option<String>,
}

/// One item of a bench as it went.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WalkStep {
    /// The item's place in the bench, from 0; -1 for the uncut blank before the first.
    pub item: i64,
    /// `read`, `cut`, `plan`, `pull`, `feel`, `settled` or `uncut`.
    pub action: String,
    /// The item's date, as `2026-03-14`.
    pub date: Option<String>,
    /// What was done or read, in words.
    pub words: String,
    /// All that was off the tip after it.
    pub tip_cut_mm: f64,
    /// All that was off the butt after it.
    pub butt_cut_mm: f64,
    /// The length after it; `null` where it is not known.
    pub length_mm: Option<f64>,
    /// What was read and what had been expected without this reading, by the key that carries the unit.
    pub compared: Vec<Compared>,
}

/// A reading beside what was expected of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Compared {
    /// The key that carries the unit, such as `power_g`.
    pub number: String,
    /// What was read.
    pub read: f64,
    /// What the board would show by all but this reading, with the range of nine such readings in ten.
    pub expected: Number,
}

/// Where the numbers of a record come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExplainAdvice {
    /// The record's id.
    pub record: String,
    /// The number that was asked for, taken apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<NumberParts>,
    /// Lines in words.
    pub words: Vec<String>,
    /// Of a model: the first power of each piece beside what had been expected before it came, the earliest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub forecasts: Vec<PastForecast>,
}

/// A reading of a past piece beside what had been expected of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PastForecast {
    /// The build's id.
    pub record: String,
    /// When it came, as `2026-03-14`.
    pub date: Option<String>,
    /// How many builds of the model had come before it.
    pub n_before: usize,
    /// What the board was expected to show, in grams; 5 % and 95 %.
    pub expected_g: Number,
    /// What was read.
    pub read_g: f64,
    /// How far the reading was from what was expected, percent of it.
    pub miss_pct: f64,
    /// The reading was in the range.
    pub inside: bool,
}

/// A number with its range taken apart. Its values are in the unit that the key names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NumberParts {
    /// The key that carries the unit, such as `power_g`.
    pub key: String,
    /// Where it is held, from the present butt.
    pub held_at_mm: f64,
    /// What is believed of it.
    pub number: Number,
    /// What each reading does for it, the one that narrows it most first.
    pub readings: Vec<ReadingPart>,
    /// Where what is unsure comes from, the largest first.
    pub unsure: Vec<UnsurePart>,
    /// What further readings would do, the one that narrows it most first.
    pub would_narrow: Vec<NextReading>,
}

/// What a reading does for a number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadingPart {
    /// The item of the bench, from 0; -1 for what the card states.
    pub item: i64,
    /// What was read, in words.
    pub reading: String,
    /// What would be believed of the number without it.
    pub without: Number,
    /// By what part it narrows the range that all else leaves, 0 to 1.
    pub narrows: f64,
    /// How much of the range's square is this reading's own error, 0 to 1.
    pub share: f64,
}

/// One reason why a number is unsure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnsurePart {
    /// What is not known.
    pub what: String,
    /// How much of the range's square comes from it, 0 to 1; all of them add up to 1.
    pub share: f64,
}

/// A reading that was not taken yet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextReading {
    /// Which, and how.
    pub reading: String,
    /// What it would leave, around the present value.
    pub left: Number,
    /// By what part it would narrow the range, 0 to 1.
    pub narrows: f64,
}

/// What a plugin answers.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// To [`Question::Try`].
    Try(Box<TryAdvice>),
    /// To [`Question::Bend`].
    Bend(Box<BendAdvice>),
    /// To [`Question::Suggest`].
    Suggest(Box<SuggestAdvice>),
    /// To [`Question::Walk`].
    Walk(Vec<WalkStep>),
    /// To [`Question::Explain`].
    Explain(ExplainAdvice),
    /// To [`Question::Fittings`].
    Fittings(Box<FittingsAdvice>),
    /// To [`Question::Marks`].
    Marks(Box<MarksAdvice>),
    /// To [`Question::Guides`].
    Guides(Box<GuidesAdvice>),
    /// To [`Question::Choose`].
    Choose(Box<ChooseAdvice>),
    /// To [`Question::Reach`].
    Reach(Box<ReachAdvice>),
}
