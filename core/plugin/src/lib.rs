//! What a plugin is, what it may see, and what it answers: plain data and one trait.
//!
//! Nothing here knows of an index, a folder, a network or a screen.
//! A plugin is a pure function of a record and a [`View`]; the engine calls it, keeps what it answers,
//! and calls it again when something that it read has changed.
//!
//! ```
//! use taperbook_plugin::{Shelf, View};
//! use taperbook_record::Kind;
//!
//! let mut shelf = Shelf::default();
//! shelf.put(taperbook_record::read("blanks/heron.md", b"---\nkind: blank\nlength: 7'2\"\n---\n").record);
//! shelf.put(taperbook_record::read("builds/ilse.md", b"---\nkind: build\nblank: heron\n---\n").record);
//!
//! let view = View::new(&shelf);
//! assert_eq!(view.builds_of("blanks/heron").len(), 1);
//! assert!(!view.into_reads().is_empty(), "a view remembers what was read through it");
//! ```

mod advice;
mod lasting;
mod number;
pub mod print;
mod shelf;
mod view;

pub use advice::{
    Advice, BendAdvice, Bent, BentPlace, BoardPoints, CaliperCost, Chance, Choice, ChooseAdvice,
    Compared, Cut, Dressing, Ends, Evidence, ExplainAdvice, Fit, FitHow, FittingsAdvice,
    FittingsAt, GuidePlace, GuideSide, GuidesAdvice, HandoverAdvice, JointPlace, MarkStep,
    MarksAdvice, NextReading, NotJudged, NumberParts, OutlinePoint, PastBuild, PastForecast,
    Proposed, Question, ReachAdvice, ReachPoint, ReachRow, ReadingPart, Sanding, SheetAdvice,
    StaticTest, SuggestAdvice, Target, TryAdvice, UnsurePart, WalkStep, Wanted,
};
pub use lasting::{Lasting, Lasts};
pub use number::{Number, NumberSet, NumberSpec, State, json_key};
pub use shelf::Shelf;
pub use view::{Kept, MemoKey, Read, Resolution, Shaped, Source, View, Within};

use taperbook_record::{Record, Span};

/// Something that works the numbers of records.
///
/// Built-in plugins are crates of their own; all are handed to the engine as a list.
pub trait Plugin: Send + Sync {
    /// Says what it is and what it adds.
    fn manifest(&self) -> Manifest;

    /// Names the memos that last which it asks for, so that one of an earlier start can be made again and held against what it was.
    fn lasting(&self) -> Vec<&'static dyn Lasts> {
        Vec::new()
    }

    /// Works the numbers of one record; the first stage of an examination.
    fn numbers(&self, _record: &Record, _view: &View) -> Vec<(String, Number)> {
        Vec::new()
    }

    /// Looks for faults in one record; the second stage, which may read the numbers of the first.
    fn flags(&self, _record: &Record, _view: &View) -> Vec<Finding> {
        Vec::new()
    }

    /// Answers a question, when it is one of its own.
    fn advise(&self, _question: &Question, _view: &View) -> Option<Result<Advice, String>> {
        None
    }
}

/// What a plugin is and what it adds.
#[derive(Debug, Clone, PartialEq)]
pub struct Manifest {
    /// Its name.
    pub name: &'static str,
    /// Its version.
    pub version: &'static str,
    /// The numbers that it may give, each searchable by its key.
    pub numbers: Vec<NumberSpec>,
    /// The flags that it may raise.
    pub flags: Vec<FlagSpec>,
}

/// A flag: a fault of a build, and what `explain` says of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlagSpec {
    /// Its name, after the fault: `below-shortest-length`.
    pub name: &'static str,
    /// What it finds.
    pub finds: &'static str,
    /// Why it matters at the bench.
    pub why: &'static str,
    /// An example.
    pub example: &'static str,
}

/// A flag raised on a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The flag's name.
    pub flag: String,
    /// What was found, in words that name the item and the size of the fault.
    pub message: String,
    /// The bytes of the record's file that it is about.
    pub span: Option<Span>,
}
