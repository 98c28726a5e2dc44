//! The cautions that stand before every suggested and every tried cut, once.

use taperbook_plugin::print::CAUTIONS;

use crate::style::{CARE, paint, wrapped};

/// Gives the cautions as a paragraph.
pub(crate) fn cautions() -> String {
    wrapped(CAUTIONS, "  ").lines().map(|line| paint(CARE, line) + "\n").collect()
}
