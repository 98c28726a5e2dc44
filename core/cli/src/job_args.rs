//! The arguments of the commands around the cut: `fittings`, `sheet`, `guides`, `handover`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use taperbook_units::{Length, Mass};

/// The arguments of `fittings`.
#[derive(Debug, Args)]
pub(crate) struct FittingsArgs {
    /// A build, a blank card or an offcut
    pub(crate) record: String,
    /// A further tip cut to look at, instead of what is planned and suggested
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) tip: Option<Length>,
    /// A further butt cut to look at
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) butt: Option<Length>,
}

/// The arguments of `sheet`.
#[derive(Debug, Args)]
pub(crate) struct SheetArgs {
    /// A build or a blank card
    pub(crate) record: String,
    /// Off the tip, instead of what is planned or suggested
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) tip: Option<Length>,
    /// Off the butt
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) butt: Option<Length>,
    /// Where it is held, from the present butt
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) held_at: Option<Length>,
    #[command(flatten)]
    pub(crate) page: PageArgs,
}

/// The arguments of `guides`.
#[derive(Debug, Args)]
pub(crate) struct GuidesArgs {
    /// A build, a blank card or an offcut
    pub(crate) record: String,
    /// Guides on top of the bend or underneath
    #[arg(long, value_name = "above|below", default_value = "below", hide_possible_values = true)]
    pub(crate) side: Side,
    /// How many guides besides the tip-top, instead of as many as the bend asks for
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=40))]
    pub(crate) count: Option<u16>,
    /// What hangs from the tip in the static test, instead of the blank's power
    #[arg(long, value_name = "WEIGHT", value_parser = Mass::parse)]
    pub(crate) load: Option<Mass>,
    /// A further tip cut that comes before
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) tip: Option<Length>,
    /// A further butt cut that comes before
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) butt: Option<Length>,
    /// Where it is held, from the present butt
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) held_at: Option<Length>,
    /// Draw the static test into a file ending in `.svg` as well
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
    /// Replace a file that is there and was not made by taperbook
    #[arg(long, requires = "svg")]
    pub(crate) force: bool,
}

/// The arguments of `handover`.
#[derive(Debug, Args)]
pub(crate) struct HandoverArgs {
    /// A build
    pub(crate) record: String,
    #[command(flatten)]
    pub(crate) page: PageArgs,
}

/// A page to print.
#[derive(Debug, Args)]
pub(crate) struct PageArgs {
    /// Write a page to print into a file ending in `.html` as well
    #[arg(long, value_name = "FILE")]
    pub(crate) html: Option<PathBuf>,
    /// The paper; else it is left to the printer, and fits either
    #[arg(long, value_name = "a4|letter", requires = "html", hide_possible_values = true)]
    pub(crate) paper: Option<PaperArg>,
    /// Replace a file that is there and was not made by taperbook
    #[arg(long, requires = "html")]
    pub(crate) force: bool,
}

/// On which side of the bend.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Side {
    /// On top.
    Above,
    /// Underneath.
    Below,
}

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaperArg {
    /// 210 mm by 297 mm.
    A4,
    /// 8 1/2 in by 11 in.
    Letter,
}
