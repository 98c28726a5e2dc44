//! The rows of the table.

use taperbook_testkit::shop::{Limits, Log, Reads, Setting};

/// A row.
pub(crate) struct Row {
    pub(crate) who: Who,
    pub(crate) setting: Setting,
}

/// Who decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Who {
    Asks,
    HalfAnInch,
    Straight,
    KnowsTheBlank { is_measured: bool },
}

impl Row {
    /// Limits, who decides and by what, past builds, log.
    pub(crate) fn name(&self) -> String {
        let limits = if self.setting.limits == Limits::WIDE { "wide" } else { "narrow" };
        let reads = match self.setting.reads {
            Reads::Power => "power alone",
            Reads::TipAngle => "with tip angle",
            Reads::Asked => "what is asked (extra)",
        };
        let past = self.setting.n_past;
        let hasty = if self.setting.log == Log::Hasty { ", hasty log" } else { "" };
        match self.who {
            Who::Asks => format!("{limits} | asks, {reads}{hasty} | {past}"),
            Who::HalfAnInch => format!("{limits} | half an inch at a time | 0"),
            Who::Straight => {
                format!("{limits} | straight to the computed length, {reads} | {past}")
            }
            Who::KnowsTheBlank { is_measured: true } => {
                format!("{limits} | knows the blank's shape, clamp measured (extra) | 0")
            }
            Who::KnowsTheBlank { is_measured: false } => {
                format!("{limits} | knows the blank's shape, clamp not measured (extra) | 0")
            }
        }
    }
}

/// All rows: whole jobs with a careful log and the rules of the bench, then hasty logs, then what is known beside them (`extra`).
pub(crate) fn rows() -> Vec<Row> {
    let mut rows = asking(&[Reads::Power, Reads::TipAngle], Log::Careful);
    let bare = |limits| Setting { n_past: 0, reads: Reads::Power, limits, log: Log::Careful };
    for setting in BOTH.map(bare) {
        rows.push(Row { who: Who::HalfAnInch, setting });
        for n_past in [0, 10] {
            rows.push(Row { who: Who::Straight, setting: Setting { n_past, ..setting } });
        }
    }
    rows.extend(asking(&[Reads::Power, Reads::TipAngle], Log::Hasty));
    rows.extend(asking(&[Reads::Asked], Log::Careful));
    for setting in BOTH.map(bare) {
        for is_measured in [true, false] {
            rows.push(Row { who: Who::KnowsTheBlank { is_measured }, setting });
        }
    }
    rows
}

const BOTH: [Limits; 2] = [Limits::WIDE, Limits::NARROW];

/// A row for each limits, each way to read, and no, few or many past builds.
fn asking(ways: &[Reads], log: Log) -> Vec<Row> {
    let mut rows = Vec::new();
    for limits in BOTH {
        for reads in ways.iter().copied() {
            for n_past in [0, 3, 10] {
                rows.push(Row { who: Who::Asks, setting: Setting { n_past, reads, limits, log } });
            }
        }
    }
    rows
}
