//! The table: a block for each of the conditions, a row for each set of readings.

use std::io::{self, Write};

use taperbook_mechanics::fit::Measure;

use crate::blocks::{Block, blocks};
use crate::shop::Row;
use crate::tally::{MEASURES, Tally};
use crate::{jobs, tally};

/// What is counted, as in [`MEASURES`].
const HEADINGS: [&str; MEASURES.len()] =
    ["power", "angle", "recov.", "length", "tip od", "butt od", "weight", "centre"];

pub(crate) fn write(out: &mut impl Write, count: usize, seed: u64) -> io::Result<()> {
    writeln!(
        out,
        "{count} blanks a block, seed {seed}. Error of the trimmed blank: median / 95th percentile."
    )?;
    writeln!(
        out,
        "Then how often the 90 % range held the truth, in %, with its binomial standard error."
    )?;
    for block in blocks() {
        writeln!(out, "\n{}", block.name)?;
        write!(
            out,
            "{:19}{:>13}{:>13}{:>13} ",
            "readings", "power %", "tip angle °", "recovery %"
        )?;
        for heading in HEADINGS {
            write!(out, "{heading:>9}")?;
        }
        writeln!(out)?;
        let jobs = jobs(&block.scene, count, seed);
        for row in Row::ALL {
            write_row(out, &block, row, &tally(&jobs, &block.errors, row, block.strays))?;
        }
        if jobs.len() < count {
            writeln!(out, "  {} of {count} blanks could not be read", count - jobs.len())?;
        }
    }
    Ok(())
}

fn write_row(out: &mut impl Write, block: &Block, row: Row, tally: &Tally) -> io::Result<()> {
    write!(out, "{:19}", row.words())?;
    for (measure, digits) in [(Measure::Power, 1), (Measure::TipAngle, 2), (Measure::Recovery, 1)] {
        let (median, most) = (tally.error(measure, 50), tally.error(measure, 95));
        write!(out, "{:>13}", format!("{median:.digits$} / {most:.digits$}"))?;
    }
    write!(out, " ")?;
    for measure in MEASURES {
        write!(out, "{:>9}", tally.covered(measure))?;
    }
    writeln!(out)?;
    if 0 < tally.n_missing() {
        writeln!(out, "{:19}{} numbers missing", "", tally.n_missing())?;
    }
    match tally.slips() {
        Some(slips) if block.scene.slips => writeln!(out, "{:19}{slips}", ""),
        _ => Ok(()),
    }
}
