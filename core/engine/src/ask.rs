//! The one pair of types that everything above the engine speaks: a request and its answer.
//!
//! The command line, the socket, the page and the tests all use it, so that the same question gets the same answer.
//! Key names are stable and carry the unit; numbers are not rounded.

mod job;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use taperbook_plugin::{
    BendAdvice, ChooseAdvice, ExplainAdvice, FittingsAdvice, FittingsAt, GuidesAdvice,
    HandoverAdvice, MarksAdvice, Number, ReachAdvice, SheetAdvice, SuggestAdvice, TryAdvice,
    WalkStep,
};

pub use job::{FittingsAsked, GuidesAsked, HandoverAsked, SheetAsked};

/// A question.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case", deny_unknown_fields)]
pub enum Request {
    /// Which records match a query?
    Find {
        /// The query as it was typed.
        query: String,
        /// How many hits to show.
        limit: usize,
    },
    /// What does one record say, and what was worked out from it?
    Show {
        /// Its id, path or stem.
        record: String,
    },
    /// What does it say, and what is known of it already? Like [`Request::Show`] without the bench as it went, for
    /// which the piece must be fitted.
    Read {
        /// Its id, path or stem.
        record: String,
    },
    /// Which flags are raised in the shop?
    Flags {
        /// Only this flag.
        flag: Option<String>,
    },
    /// What does a flag mean, or where do the numbers of a record come from?
    Explain {
        /// A flag's name, or a record.
        what: String,
        /// One number of the record, such as `power`, to be taken apart.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        number: Option<String>,
        /// Where it is held, when the record's own place is not meant.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        held_at_mm: Option<f64>,
    },
    /// Which problems and flags do these records have?
    Check {
        /// Paths of records or directories inside the shop folder; none for all.
        paths: Vec<String>,
    },
    /// Which problems and flags would a record have with this text, which nobody has saved yet?
    CheckText {
        /// Its path in the shop folder.
        path: String,
        /// The text.
        text: String,
    },
    /// What would further cuts give?
    Try {
        /// The record's id, path or stem.
        record: String,
        /// The cuts, or what they should reach.
        #[serde(flatten)]
        target: TryTarget,
        /// Where it is held, when the record's own place is not meant.
        held_at_mm: Option<f64>,
    },
    /// How does it bend before and after further cuts, under one weight?
    Bend {
        /// The record's id, path or stem.
        record: String,
        /// Off the tip.
        tip_mm: f64,
        /// Off the butt.
        butt_mm: f64,
        /// Where it is held, when the record's own place is not meant.
        held_at_mm: Option<f64>,
    },
    /// Where do the marks of further cuts go?
    Marks {
        /// The record's id, path or stem.
        record: String,
        /// Off the tip.
        tip_mm: f64,
        /// Off the butt.
        butt_mm: f64,
        /// Where it is held, when the record's own place is not meant.
        held_at_mm: Option<f64>,
    },
    /// How many flags and problems are there, by name, and which are the first of them?
    Faults {
        /// Only this flag, or all `flags`, or all `problems`; else both.
        only: Option<String>,
        /// How many to pass over.
        skip: usize,
        /// How many to tell in full.
        limit: usize,
    },
    /// What should be cut next?
    Suggest {
        /// The record's id, path or stem.
        record: String,
        /// Where it is held, when the record's own place is not meant.
        held_at_mm: Option<f64>,
    },
    /// Which blank, cut where, makes the rod that is wanted?
    Choose {
        /// What is tried for, as records write it: `length: 6'10", power: 235 g`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        aim: Option<String>,
        /// What the customer allows, as records write it: `power: 200 g .. 260 g`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        limits: Option<String>,
        /// A build whose aim, limits, purpose and place to hold it count where none are given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        build: Option<String>,
        /// Words for what it is fished with.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        use_words: Option<String>,
        /// Where it is held, when the records' own place is not meant.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        held_at_mm: Option<f64>,
        /// Only what is on the rack.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        in_stock: bool,
        /// How many blanks to tell in full.
        limit: usize,
    },
    /// Which rods could this blank be?
    Reach {
        /// The id, path or stem of a blank card, an offcut or a build.
        record: String,
        /// What is tried for, as records write it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        aim: Option<String>,
        /// What the customer allows, as records write it; for a build that is its own where none is given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        limits: Option<String>,
        /// Where it is held, when the record's own place is not meant.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        held_at_mm: Option<f64>,
    },
    /// Which fittings of the drawer go on?
    Fittings(FittingsAsked),
    /// What belongs on a sheet for the bench?
    Sheet(SheetAsked),
    /// Where do the guides go?
    Guides(GuidesAsked),
    /// What belongs on the customer's page?
    Handover(HandoverAsked),
    /// Which records are there, by id?
    Names {},
    /// How is the daemon?
    Status {},
}

/// The cuts of a try, or what they should reach; of the four targets the first that is given counts.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct TryTarget {
    /// A tip cut that leaves this diameter at the tip.
    pub to_tip_od_mm: Option<f64>,
    /// A butt cut that leaves this diameter at the butt.
    pub to_butt_od_mm: Option<f64>,
    /// Cuts that leave this length; `butt_mm` comes off the butt, the rest off the tip.
    pub to_length_mm: Option<f64>,
    /// Off the tip.
    pub tip_mm: Option<f64>,
    /// Off the butt.
    pub butt_mm: Option<f64>,
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "snake_case")]
pub enum Answer {
    /// To [`Request::Find`].
    Find(FindAnswer),
    /// To [`Request::Show`] and [`Request::Read`].
    Show(Box<ShowAnswer>),
    /// To [`Request::Flags`].
    Flags(FlagsAnswer),
    /// To [`Request::Explain`] of a flag.
    ExplainFlag(FlagExplanation),
    /// To [`Request::Explain`] of a record.
    ExplainRecord(Box<ExplainAdvice>),
    /// To [`Request::Check`] and [`Request::CheckText`].
    Check(CheckAnswer),
    /// To [`Request::Try`].
    Try(Box<TryAnswer>),
    /// To [`Request::Bend`].
    Bend(Box<BendAdvice>),
    /// To [`Request::Marks`].
    Marks(Box<MarksAdvice>),
    /// To [`Request::Faults`].
    Faults(FaultsAnswer),
    /// To [`Request::Suggest`].
    Suggest(Box<SuggestAdvice>),
    /// To [`Request::Choose`].
    Choose(Box<ChooseAdvice>),
    /// To [`Request::Reach`].
    Reach(Box<ReachAdvice>),
    /// To [`Request::Fittings`].
    Fittings(Box<FittingsAdvice>),
    /// To [`Request::Sheet`].
    Sheet(Box<SheetAdvice>),
    /// To [`Request::Guides`].
    Guides(Box<GuidesAdvice>),
    /// To [`Request::Handover`].
    Handover(Box<HandoverAdvice>),
    /// To [`Request::Names`].
    Names(NamesAnswer),
    /// To [`Request::Status`].
    Status(StatusAnswer),
    /// It could not be answered.
    Refused(Refusal),
}

/// Why a question could not be answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// A lower-case fragment that quotes what was asked and says what to write instead.
    pub message: String,
    /// The bytes of the query that it is about, when it is about a query.
    pub at: Option<(usize, usize)>,
}

/// What `find` found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FindAnswer {
    /// How many records match.
    pub total: usize,
    /// How long the search took inside.
    pub took_ms: f64,
    /// Files that are still to be read, about: what they say is not found yet; 0 when all are read.
    pub unread: usize,
    /// Records whose numbers are not worked out yet; 0 when all is known.
    pub pending: usize,
    /// The first of them.
    pub hits: Vec<HitAnswer>,
}

/// One hit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HitAnswer {
    /// Its id.
    pub record: String,
    /// Its title.
    pub title: String,
    /// Its kind.
    pub kind: String,
    /// A piece of its text.
    pub snippet: String,
    /// Byte ranges of the snippet that matched.
    pub marks: Vec<(usize, usize)>,
    /// Its numbers, by the key that carries the unit.
    pub numbers: BTreeMap<String, Number>,
    /// The names of its flags.
    pub flags: Vec<String>,
}

/// One record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShowAnswer {
    /// Its id.
    pub record: String,
    /// Its path in the shop folder.
    pub path: String,
    /// Its title.
    pub title: String,
    /// Its kind.
    pub kind: String,
    /// The file as it is written.
    pub text: String,
    /// The id of its blank card, when it is a build whose card is known.
    pub blank: Option<String>,
    /// The ids of the builds of this blank, when it is a card.
    pub builds: Vec<String>,
    /// Its numbers, by the key that carries the unit.
    pub numbers: BTreeMap<String, Number>,
    /// Its bench as it went; empty where it was not asked for.
    pub bench: Vec<WalkStep>,
    /// Its flags.
    pub flags: Vec<FlagAnswer>,
    /// Its problems.
    pub problems: Vec<ProblemAnswer>,
}

/// A flag on a record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FlagAnswer {
    /// The record's id.
    pub record: String,
    /// Its path in the shop folder.
    pub path: String,
    /// The line that it is about, from 1.
    pub line: u32,
    /// The column, in characters from 1.
    pub column: u32,
    /// The flag's name.
    pub flag: String,
    /// What was found.
    pub message: String,
}

/// A problem in how a record is written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProblemAnswer {
    /// The record's id.
    pub record: String,
    /// Its path in the shop folder.
    pub path: String,
    /// The line, from 1.
    pub line: u32,
    /// The column, in characters from 1.
    pub column: u32,
    /// The line where it ends.
    pub end_line: u32,
    /// The column where it ends.
    pub end_column: u32,
    /// What is wrong and what to write.
    pub message: String,
}

/// The flags of the shop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FlagsAnswer {
    /// How many there are.
    pub total: usize,
    /// In the order of records and places.
    pub flags: Vec<FlagAnswer>,
}

/// What is wrong in the shop, counted, and some of it in full.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FaultsAnswer {
    /// How many problems there are.
    pub n_problems: usize,
    /// How many flags there are, by name.
    pub n_flags: BTreeMap<String, usize>,
    /// In the order of records and places.
    pub flags: Vec<FlagAnswer>,
    /// In the order of records and places.
    pub problems: Vec<ProblemAnswer>,
}

/// What a flag means.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FlagExplanation {
    /// Its name.
    pub flag: String,
    /// What it finds.
    pub finds: String,
    /// Why it matters.
    pub why: String,
    /// An example.
    pub example: String,
}

/// Problems and flags.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CheckAnswer {
    /// How many records were looked at.
    pub checked: usize,
    /// In the order of records and places.
    pub problems: Vec<ProblemAnswer>,
    /// In the order of records and places.
    pub flags: Vec<FlagAnswer>,
}

/// What further cuts would give, and what would be flagged then.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TryAnswer {
    /// The numbers.
    #[serde(flatten)]
    pub advice: TryAdvice,
    /// Which fittings of the drawer go on after it; `null` without a drawer or where the diameters are not known.
    pub fittings: Option<FittingsAt>,
    /// The flags of the record with this cut made.
    pub flags: Vec<FlagAnswer>,
    /// The record's problems: what could not be read is held against nothing.
    pub problems: Vec<ProblemAnswer>,
}

/// The records of the shop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NamesAnswer {
    /// Each with its kind and title, in the order of ids.
    pub records: Vec<NameAnswer>,
}

/// One record's name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NameAnswer {
    /// Its id.
    pub record: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
}

/// How the daemon, or the index without one, is.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct StatusAnswer {
    /// `live`, `scanning`, `polling` or `degraded`; `none` without a daemon.
    pub state: String,
    /// Why it is not live.
    pub why: Option<String>,
    /// The daemon's process; `null` without one.
    pub pid: Option<u32>,
    /// The shop folder.
    pub folder: String,
    /// Counts the commits of the index.
    pub generation: u64,
    /// How many records are indexed.
    pub records: usize,
    /// How many problems they have.
    pub problems: usize,
    /// How many flags they have.
    pub flags: usize,
    /// Files that are still to be read, about; at least 1 while that is not known.
    pub unread: usize,
    /// Records whose numbers are not worked out yet.
    pub pending: usize,
    /// For how long the index has lacked something that the daemon knows of; 0 when it lacks nothing.
    pub behind_ms: u64,
    /// What could not be read, and why.
    pub unreadable: Vec<Unreadable>,
    /// The size of the index on disk.
    pub index_bytes: u64,
}

/// A path that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Unreadable {
    /// The path in the shop folder.
    pub path: String,
    /// Why.
    pub why: String,
}
