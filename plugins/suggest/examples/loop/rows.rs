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
            Reads::Asked => "what is asked",
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
                format!("{limits} | knows the blank's shape, clamp measured | 0")
            }
            Who::KnowsTheBlank { is_measured: false } => {
                format!("{limits} | knows the blank's shape, clamp not measured | 0")
            }
        }
    }
}

/// All rows, those of the goals first.
pub(crate) fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    let careful =
        Setting { n_past: 0, reads: Reads::Power, limits: Limits::WIDE, log: Log::Careful };
    for limits in [Limits::WIDE, Limits::NARROW] {
        for reads in [Reads::Power, Reads::TipAngle, Reads::Asked] {
            for n_past in [0, 3, 10] {
                rows.push(Row {
                    who: Who::Asks,
                    setting: Setting { n_past, reads, limits, ..careful },
                });
            }
        }
        let hasty = Setting { n_past: 3, limits, log: Log::Hasty, ..careful };
        for reads in [Reads::Power, Reads::TipAngle] {
            rows.push(Row { who: Who::Asks, setting: Setting { reads, ..hasty } });
        }
    }
    for limits in [Limits::WIDE, Limits::NARROW] {
        let setting = Setting { limits, ..careful };
        rows.push(Row { who: Who::HalfAnInch, setting });
        for n_past in [0, 10] {
            rows.push(Row { who: Who::Straight, setting: Setting { n_past, ..setting } });
        }
        for is_measured in [true, false] {
            rows.push(Row { who: Who::KnowsTheBlank { is_measured }, setting });
        }
    }
    rows
}
