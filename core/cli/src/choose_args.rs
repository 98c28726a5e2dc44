//! The arguments of `choose`.

use std::path::PathBuf;

use clap::Args;
use taperbook_units::Length;

/// A brief, or one blank.
#[derive(Debug, Args)]
pub(crate) struct ChooseArgs {
    /// What is tried for, as records write it: `length: 6'10", power: 235 g`
    #[arg(long, value_name = "AIM", required_unless_present_any = ["limits", "build", "from"])]
    pub(crate) aim: Option<String>,
    /// What the customer allows, as records write it: `length: 6'8" .. 7'0", power: 200 g .. 260 g`
    #[arg(long, value_name = "LIMITS")]
    pub(crate) limits: Option<String>,
    /// Take aim, limits and purpose from a build, where they are not given here
    #[arg(long = "for", value_name = "RECORD")]
    pub(crate) build: Option<String>,
    /// What it is fished with: looked for in past builds of each blank
    #[arg(long = "use", value_name = "WORDS")]
    pub(crate) use_words: Option<String>,
    /// Where hand or clamp grips, from the butt after the cuts
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    pub(crate) held_at: Option<Length>,
    /// How many blanks to show
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = limit)]
    pub(crate) limit: usize,
    /// Only what is on the rack: offcuts, and blanks whose card says `stock: 1` or more
    #[arg(long)]
    pub(crate) in_stock: bool,
    /// Show which rods this blank, offcut or build could be: length against power
    #[arg(long, value_name = "RECORD", conflicts_with_all = ["build", "use_words", "in_stock", "limit"])]
    pub(crate) from: Option<String>,
    /// Draw that into a file ending in `.svg` as well
    #[arg(long, value_name = "FILE", requires = "from")]
    #[arg(conflicts_with_all = ["build", "use_words", "in_stock", "limit"])]
    pub(crate) svg: Option<PathBuf>,
    /// Replace a file that is there and was not drawn by this command
    #[arg(long, requires = "svg")]
    pub(crate) force: bool,
}

fn limit(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(limit @ 1..=1000) => Ok(limit),
        _ => Err(format!("`{text}` can't be how many: write a whole number from 1 to 1000")),
    }
}
