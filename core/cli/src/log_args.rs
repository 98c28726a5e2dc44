//! What `log` takes.
//!
//! It reads quantities and keeps how they were written; the bench item is made of them elsewhere.

use clap::{Args, Subcommand};
use jiff::civil::Date;
use taperbook_record::Written;
use taperbook_units::Dimension;

use crate::args::date;
use crate::help;

/// The arguments of `log`.
#[derive(Debug, Args)]
#[command(after_help = help::LOG_EXAMPLES)]
pub(crate) struct LogArgs {
    /// The build
    pub(crate) record: String,
    /// Show what would be written and which flags it would raise, and write nothing
    #[arg(long, global = true)]
    pub(crate) preview: bool,
    #[command(subcommand)]
    pub(crate) action: LogAction,
}

/// What happened on the bench.
#[derive(Debug, Subcommand)]
pub(crate) enum LogAction {
    /// Something came off: the whole length lost, kerf included
    Cut {
        #[command(flatten)]
        ends: CutEnds,
        /// The saw
        #[arg(long, value_name = "SAW")]
        with: Option<String>,
        /// The offcut was kept
        #[arg(long)]
        keep: bool,
        #[command(flatten)]
        beside: Beside,
    },
    /// Something was measured, on the piece as it now is
    #[command(
        override_usage = "taperbook log <RECORD> read [--length <LENGTH>] [--power <WEIGHT>] [OPTIONS]"
    )]
    Read {
        #[command(flatten)]
        reading: Box<ReadingArgs>,
        /// Where it was held, from the present butt
        #[arg(long, value_name = "LENGTH", value_parser = length)]
        held_at: Option<Written>,
        /// On which board
        #[arg(long, value_name = "NAME")]
        board: Option<String>,
        /// Which way the spine lay, such as `up`
        #[arg(long, value_name = "WAY")]
        spine: Option<String>,
        /// Guides were on: it is kept, and does not calibrate the bare blank
        #[arg(long)]
        dressed: bool,
        #[command(flatten)]
        beside: Beside,
    },
    /// Something is meant to come off
    Plan {
        #[command(flatten)]
        ends: CutEnds,
        #[command(flatten)]
        beside: Beside,
    },
    /// A pull by hand or spring scale on the board
    Pull {
        /// The angle that the tip was pulled to
        #[arg(long, value_name = "ANGLE", value_parser = angle)]
        tip_angle: Written,
        /// What the scale read
        #[arg(long, value_name = "WEIGHT", value_parser = mass)]
        load: Written,
        /// Where it was held, from the present butt
        #[arg(long, value_name = "LENGTH", value_parser = length)]
        held_at: Option<Written>,
        /// On which board
        #[arg(long, value_name = "NAME")]
        board: Option<String>,
        #[command(flatten)]
        beside: Beside,
    },
    /// What it feels like
    Feel {
        /// In your own words
        words: String,
        #[command(flatten)]
        beside: Beside,
    },
    /// An end is finished: nothing suggests cutting it again
    Settled {
        #[command(flatten)]
        reasons: SettledArgs,
        #[command(flatten)]
        beside: Beside,
    },
    /// Take the last item back that `log` wrote, as long as the file is as it left it
    Undo,
}

/// The ends of a cut or a plan.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub(crate) struct CutEnds {
    /// Off the tip
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(crate) tip: Option<Written>,
    /// Off the butt
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(crate) butt: Option<Written>,
}

/// What can be measured.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub(crate) struct ReadingArgs {
    /// Of the bare blank, ferrule closed
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(crate) length: Option<Written>,
    /// Outside diameter at the tip
    #[arg(long, value_name = "DIAMETER", value_parser = length)]
    pub(crate) tip_od: Option<Written>,
    /// The same at right angles; the mean of both counts
    #[arg(long, value_name = "DIAMETER", value_parser = length, requires = "tip_od")]
    pub(crate) tip_od_across: Option<Written>,
    /// Outside diameter at the butt
    #[arg(long, value_name = "DIAMETER", value_parser = length)]
    pub(crate) butt_od: Option<Written>,
    /// The same at right angles
    #[arg(long, value_name = "DIAMETER", value_parser = length, requires = "butt_od")]
    pub(crate) butt_od_across: Option<Written>,
    /// Of the piece
    #[arg(long, value_name = "WEIGHT", value_parser = mass)]
    pub(crate) weight: Option<Written>,
    /// Balance point, from the present butt
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(crate) balance: Option<Written>,
    /// The weight that brings the tip a third of the free length below the clamp line
    #[arg(long, value_name = "WEIGHT", value_parser = mass)]
    pub(crate) power: Option<Written>,
    /// Angle of the tip below horizontal under that weight
    #[arg(long, value_name = "ANGLE", value_parser = angle)]
    pub(crate) tip_angle: Option<Written>,
    /// Tapped or counted frequency of the bare blank
    #[arg(long, value_name = "FREQUENCY", value_parser = frequency)]
    pub(crate) frequency: Option<Written>,
}

/// Why an end is finished.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub(crate) struct SettledArgs {
    /// Why the tip is finished
    #[arg(long, value_name = "WHY")]
    pub(crate) tip: Option<String>,
    /// Why the butt is finished
    #[arg(long, value_name = "WHY")]
    pub(crate) butt: Option<String>,
}

/// What any item may carry.
#[derive(Debug, Args)]
pub(crate) struct Beside {
    /// When it was done, instead of today
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub(crate) date: Option<Date>,
    /// A note
    #[arg(long, value_name = "TEXT")]
    pub(crate) note: Option<String>,
}

fn length(text: &str) -> Result<Written, String> {
    Written::parse(text, Dimension::Length)
}

fn mass(text: &str) -> Result<Written, String> {
    Written::parse(text, Dimension::Mass)
}

fn angle(text: &str) -> Result<Written, String> {
    Written::parse(text, Dimension::Angle)
}

fn frequency(text: &str) -> Result<Written, String> {
    Written::parse(text, Dimension::Frequency)
}
