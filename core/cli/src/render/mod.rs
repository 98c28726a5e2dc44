//! Answers as a person reads them, one file for each.
//!
//! Every function here makes a text of plain data; none of them asks, reads or prints.

pub(crate) mod check;
pub(crate) mod choose;
pub(crate) mod explain;
pub(crate) mod find;
pub(crate) mod fittings;
pub(crate) mod flags;
pub(crate) mod guides;
pub(crate) mod handover;
pub(crate) mod number;
pub(crate) mod reach;
pub(crate) mod safety;
pub(crate) mod sheet;
pub(crate) mod show;
pub(crate) mod status;
pub(crate) mod suggest;
pub(crate) mod tried;
pub(crate) mod watch;

#[cfg(test)]
pub(crate) mod sample;

use taperbook_units::Units;

/// For whom it is rendered.
#[derive(Debug, Clone, Default)]
pub(crate) struct Setting {
    /// The units of the shop.
    pub(crate) units: Units,
    /// What leads from the working directory to the shop folder, so that a path can be opened as it is printed.
    pub(crate) prefix: String,
}

/// Counts things in words: `1 record`, `3 records`.
pub(crate) fn counted(count: usize, thing: &str) -> String {
    let end = if count == 1 { "" } else { "s" };
    format!("{count} {thing}{end}")
}
