//! A build and its bench.

use taperbook_units::{Angle, Frequency, Interval, Length, Mass, Quantity};

use crate::{Caliper, Date, Measure, Span, Spanned};

/// One piece of a blank on its way to a rod.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Build {
    /// `blank`: the name of the card.
    pub blank: Option<Spanned<String>>,
    /// `customer`
    pub customer: Option<Spanned<String>>,
    /// `purpose`
    pub purpose: Option<Spanned<String>>,
    /// `date`
    pub date: Option<Spanned<Date>>,
    /// `held_at`
    pub held_at: Option<Spanned<Length>>,
    /// `limits`
    pub limits: Vec<Limit>,
    /// `aim`
    pub aim: Vec<(Measure, Spanned<Quantity>)>,
    /// `bench`, in the order in which it happened.
    pub bench: Vec<Item>,
    /// `verdict`
    pub verdict: Option<Spanned<Verdict>>,
    /// `rating`, 1 to 5.
    pub rating: Option<Spanned<u8>>,
    /// `told`
    pub told: Option<Spanned<String>>,
    /// `said`: what the customer said of it afterwards.
    pub said: Option<Spanned<String>>,
}

/// A range that the customer allows.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// What is limited.
    pub measure: Measure,
    /// The range.
    pub range: Interval,
    /// Where the range stands.
    pub span: Span,
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// `keep`
    Keep,
    /// `recut`
    Recut,
    /// `scrap`
    Scrap,
}

impl Verdict {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Keep, Self::Recut, Self::Scrap];

    /// The word for it in a record.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Keep => "keep",
            Self::Recut => "recut",
            Self::Scrap => "scrap",
        }
    }
}

/// One item of the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What was done.
    pub action: Action,
    /// `date`
    pub date: Option<Date>,
    /// `note`
    pub note: Option<String>,
    /// `board`: on which board it was read.
    pub board: Option<String>,
    /// Where the item stands, from its `- `.
    pub span: Span,
}

/// What was done.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// `read`
    Read(Box<Reading>),
    /// `cut`
    Cut(Cut),
    /// `plan`
    Plan(Plan),
    /// `pull`
    Pull(Pull),
    /// `feel`
    Feel(String),
    /// `settled`
    Settled(Settled),
    /// Something that could not be read; it is kept so that the order stays right.
    Unread,
}

/// What was measured on the piece as it then was.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reading {
    /// `length`
    pub length: Option<Spanned<Length>>,
    /// `tip_od`; the mean, where `tip_od_across` gives a second one at right angles.
    pub tip_od: Option<Spanned<Length>>,
    /// `butt_od`; the mean, where `butt_od_across` gives a second one.
    pub butt_od: Option<Spanned<Length>>,
    /// `spine`: which way the spine lay, in the builder's words, such as `up`.
    pub spine: Option<String>,
    /// `weight`
    pub weight: Option<Spanned<Mass>>,
    /// `balance`, from the then present butt.
    pub balance: Option<Spanned<Length>>,
    /// `power`
    pub power: Option<Spanned<Mass>>,
    /// `tip_angle`
    pub tip_angle: Option<Spanned<Angle>>,
    /// `angle_by: instrument`: the tip angle was not read by eye.
    pub angle_by_instrument: bool,
    /// `frequency`; `recovery` is taken for the same.
    pub frequency: Option<Spanned<Frequency>>,
    /// `held_at`, when it differs from the build's.
    pub held_at: Option<Spanned<Length>>,
    /// `dressed`: guides were on.
    pub dressed: bool,
    /// `board`, when it lists points.
    pub board: Vec<BoardReading>,
    /// `calipers`, measured from the then present butt.
    pub calipers: Vec<Caliper>,
}

impl Reading {
    /// Gives what was read of a number, in SI units; the bend's own numbers are never read.
    pub fn value(&self, measure: Measure) -> Option<f64> {
        match measure {
            Measure::Length => self.length.as_ref().map(|length| length.value.m()),
            Measure::TipOd => self.tip_od.as_ref().map(|od| od.value.m()),
            Measure::ButtOd => self.butt_od.as_ref().map(|od| od.value.m()),
            Measure::Weight => self.weight.as_ref().map(|weight| weight.value.kg()),
            Measure::Balance => self.balance.as_ref().map(|balance| balance.value.m()),
            Measure::Power => self.power.as_ref().map(|power| power.value.kg()),
            Measure::TipAngle => self.tip_angle.as_ref().map(|angle| angle.value.rad()),
            Measure::Recovery => self.frequency.as_ref().map(|frequency| frequency.value.hz()),
            Measure::FreeLength | Measure::StiffnessForLength | Measure::BendCentre => None,
        }
    }
}

/// Points of the bent blank under one weight.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardReading {
    /// The weight.
    pub load: Mass,
    /// x outward from the clamp, y up from the clamp line.
    pub points: Vec<(Length, Length)>,
    /// Where it stands.
    pub span: Span,
}

/// What came off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cut {
    /// `tip`: the whole length lost there, kerf included.
    pub tip: Option<Spanned<Length>>,
    /// `butt`
    pub butt: Option<Spanned<Length>>,
    /// `with`: the saw.
    pub with: Option<String>,
    /// `keep`: the offcut was kept.
    pub keep: bool,
    /// An amount is missing or could not be read: more came off than `tip` and `butt` say, and how much is not known.
    pub unread: bool,
}

/// What is meant to come off, from the piece as it then was.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    /// `tip`
    pub tip: Option<Spanned<Length>>,
    /// `butt`
    pub butt: Option<Spanned<Length>>,
}

/// A pull by hand or spring scale on the board.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pull {
    /// `tip_angle`
    pub tip_angle: Option<Spanned<Angle>>,
    /// `load`
    pub load: Option<Spanned<Mass>>,
    /// `held_at`
    pub held_at: Option<Spanned<Length>>,
}

/// Ends that are finished, each with the builder's reason.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Settled {
    /// `tip`
    pub tip: Option<Spanned<String>>,
    /// `butt`
    pub butt: Option<Spanned<String>>,
}
