//! The cautions that stand before every suggested and every tried cut, once.

use crate::style::{CARE, paint, wrapped};

/// What to wear, where the dust goes, how to bend, what a carbon rod does near a wire, and the first rule of the bench
/// (the rule is common practice, no source).
const CAUTIONS: &str = "\
Eye protection always, tips kick back; a fitted particulate respirator, and gloves for splinters. \
Catch the dust wet or by vacuum, never dry-sweep it or use compressed air. \
A blank bent to its limit can shatter: face shield, nobody in line. \
A carbon rod conducts: keep clear of power lines and out of thunderstorms. \
Follow the maker's data sheet and local rules. Measure twice, cut once.";

/// Gives the cautions as a paragraph.
pub(crate) fn cautions() -> String {
    wrapped(CAUTIONS, "  ").lines().map(|line| paint(CARE, line) + "\n").collect()
}
