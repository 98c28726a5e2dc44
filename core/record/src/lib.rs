//! One markdown file into a record and the problems in how it is written.
//!
//! Reading never fails: what can be read is a value, what can't is a [`Problem`].
//! A missing value is `None`, never zero.
//! This crate sees one file at a time: whether `blank: heron-704` names anything is not known here.
//! It does no I/O: a caller brings the bytes, and gets the text of an edit back.
//!
//! ```
//! use taperbook_record::{append_item, read};
//!
//! let text = "---\nkind: build\nblank: heron-704\nbench:\n  - read: { tip_od: 2,4 mm, power: 212 g }\n---\n# Ilse\n";
//! let parsed = read("builds/ilse.md", text.as_bytes());
//! assert_eq!(parsed.record.title, "Ilse");
//! assert_eq!(parsed.problems[0].message, "`2,4 mm` has a comma: write `2.4 mm`");
//! assert_eq!((parsed.problems[0].start.line, parsed.problems[0].start.column), (5, 22));
//!
//! let insertion = append_item("builds/ilse.md", text, "- cut: { tip: 1 in }")?;
//! assert_eq!(insertion.text, "  - cut: { tip: 1 in }\n");
//! # Ok::<(), taperbook_record::EditError>(())
//! ```

mod body;
mod brief;
mod build;
mod card;
mod check;
mod edit;
mod fields;
mod file;
mod front;
mod item_text;
mod measure;
mod name;
mod problem;
mod read;
mod scalar;
mod shop;
mod source;
mod template;
mod yaml;

pub use body::MOST_BODY_BYTES;
pub use brief::brief_line;
pub use build::{
    Action, BoardReading, Build, Cut, Item, Limit, Plan, Pull, Reading, Settled, Verdict,
};
pub use card::{Blank, Caliper, Fitting, Joint, Material, Offcut, Part, Size, Spine, TipKind};
pub use edit::{EditError, Insertion, append_item, verify};
pub use file::{MOST_FILE_BYTES, read};
pub use front::body_of;
pub use item_text::{ItemText, Written};
pub use measure::Measure;
pub use name::is_conflict_copy;
pub use problem::{Position, Problem, Span};
pub use scalar::{ScalarPlace, scalar};
pub use shop::{Allowances, Board, Clamp, InstrumentErrors, Saw, Shop};

pub use template::template;

pub use jiff::civil::Date;

use taperbook_units::Quantity;

/// A value with the bytes of the file that it was read from.
#[derive(Debug, Clone, PartialEq)]
pub struct Spanned<T> {
    /// What was read.
    pub value: T,
    /// Where it stands.
    pub span: Span,
}

/// Which end of a blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum End {
    /// The thin end.
    Tip,
    /// The thick end.
    Butt,
}

/// What kind of record a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// A blank card: one model.
    Blank,
    /// One piece of a blank on its way to a rod.
    Build,
    /// A drawer of parts whose bore must fit.
    Fitting,
    /// What came off and was kept.
    Offcut,
    /// `shop.yaml`.
    Shop,
    /// Anything else.
    Note,
}

/// A record: what the rest of the program knows of one file.
///
/// It holds no text of the body; that is read again when it is wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// The path in the shop folder without `.md`, with `/` between names (`builds/ilse-heron`).
    pub id: String,
    /// The first heading of the body, else the file's stem.
    pub title: String,
    /// What the front matter says.
    pub content: Content,
    /// Set when the file's name says that a sync tool left it beside the original.
    pub conflict_copy: bool,
}

/// What the front matter says, by kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// `kind: blank`
    Blank(Box<Blank>),
    /// `kind: build`
    Build(Box<Build>),
    /// `kind: fitting`
    Fitting(Box<Fitting>),
    /// `kind: offcut`
    Offcut(Box<Offcut>),
    /// `shop.yaml`
    Shop(Box<Shop>),
    /// No front matter, or none that names a kind.
    Note,
}

/// One leaf of the front matter, for the index: known keys and unknown ones alike.
///
/// What stands under the second of two equal keys is no field, since it is not read either.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// The key with its parents, dots between: `limits.length`; list positions are left out (`bench.cut.tip`).
    pub key: String,
    /// What was written, without quotes.
    pub text: String,
    /// The number or range in it, when it is one.
    pub number: Option<FieldNumber>,
    /// Where the value stands in the file.
    pub span: Span,
}

/// The number or range in a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FieldNumber {
    /// A quantity; a bare number has [`taperbook_units::Dimension::Count`].
    One(Quantity),
    /// A range.
    Range(taperbook_units::Interval),
    /// A date.
    Date(Date),
}

/// All that one file gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Parsed {
    /// The record.
    pub record: Record,
    /// Every leaf of the front matter.
    pub fields: Vec<Field>,
    /// The body's words as plain text, markdown marks taken off, a line for each paragraph.
    pub body: String,
    /// The mistakes, in the order in which they stand in the file.
    pub problems: Vec<Problem>,
    /// Where the body begins: with the id and the title, the bytes before it make the record.
    pub body_start: usize,
}

impl Record {
    /// Says what kind of record it is.
    pub fn kind(&self) -> Kind {
        match self.content {
            Content::Blank(_) => Kind::Blank,
            Content::Build(_) => Kind::Build,
            Content::Fitting(_) => Kind::Fitting,
            Content::Offcut(_) => Kind::Offcut,
            Content::Shop(_) => Kind::Shop,
            Content::Note => Kind::Note,
        }
    }

    /// Gives the build, when it is one.
    pub fn build(&self) -> Option<&Build> {
        match &self.content {
            Content::Build(build) => Some(build),
            _ => None,
        }
    }

    /// Gives the blank card, when it is one; an offcut's card counts.
    pub fn card(&self) -> Option<&Blank> {
        match &self.content {
            Content::Blank(blank) => Some(blank),
            Content::Offcut(offcut) => Some(&offcut.card),
            _ => None,
        }
    }

    /// The file's stem: the last name of the id.
    pub fn stem(&self) -> &str {
        self.id.rsplit('/').next().unwrap_or(&self.id)
    }
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Blank, Self::Build, Self::Fitting, Self::Offcut, Self::Shop, Self::Note];

    /// Its word in a record's `kind:`.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Blank => "blank",
            Kind::Build => "build",
            Kind::Fitting => "fitting",
            Kind::Offcut => "offcut",
            Kind::Shop => "shop",
            Kind::Note => "note",
        }
    }
}
