//! What `new` takes.

use clap::{Args, ValueEnum};
use taperbook_record::Written;
use taperbook_units::Dimension;

/// The arguments of `new`.
#[derive(Debug, Args)]
pub(crate) struct NewArgs {
    /// What it is
    #[arg(value_name = "blank|build|fitting|offcut", hide_possible_values = true)]
    pub(crate) kind: NewKind,
    /// The name of the file, without `.md`
    pub(crate) name: String,
    /// The blank card of the build
    #[arg(long, value_name = "NAME")]
    pub(crate) blank: Option<String>,
    /// For whom the build is
    #[arg(long, value_name = "NAME")]
    pub(crate) customer: Option<String>,
    /// What it is fished with
    #[arg(long = "use", value_name = "WORDS")]
    pub(crate) purpose: Option<String>,
    /// What is tried for, such as `length 6'10", power 235 g`
    #[arg(long, value_name = "AIMS")]
    pub(crate) aim: Option<String>,
    /// What is allowed, such as `length 6'8" .. 7'0", power 200 g .. 260 g`
    #[arg(long, value_name = "LIMITS")]
    pub(crate) limits: Option<String>,
    /// Where it is held, from the butt
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(crate) held_at: Option<Written>,
    /// The build that the offcut came from
    #[arg(long, value_name = "BUILD")]
    pub(crate) from: Option<String>,
    /// The end that it came off
    #[arg(long, value_name = "tip|butt", hide_possible_values = true)]
    pub(crate) end: Option<OffcutEnd>,
}

/// What `new` makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum NewKind {
    /// A blank card
    Blank,
    /// A build
    Build,
    /// A fitting
    Fitting,
    /// An offcut
    Offcut,
}

/// An end of a blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum OffcutEnd {
    /// The thin end.
    Tip,
    /// The thick end.
    Butt,
}

fn length(text: &str) -> Result<Written, String> {
    Written::parse(text, Dimension::Length)
}
