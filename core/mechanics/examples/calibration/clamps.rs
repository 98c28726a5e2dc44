//! What to take for granted of a clamp that nothing is known of: each prior of its give against clamps from rigid to soft.
//!
//! The tilt is hidden too, as the test kit has it.

use std::io::{self, Write};

use taperbook_mechanics::fit::{Errors, Measure};
use taperbook_testkit::bench::Instruments;

use crate::shop::{Hidden, Jaws, Row, Scene, errors_of};
use crate::tally::Strays;
use crate::{jobs, tally};

/// What clamps really give, rad per N m.
const GIVES: [f64; 5] = [0.0, 0.0003, 0.0006, 0.0015, 0.003];
/// Median and spread to try.
const PRIORS: [(f64, f64); 6] =
    [(0.0006, 1.1), (0.0009, 1.2), (0.0012, 1.0), (0.0012, 1.2), (0.0015, 0.8), (0.0015, 1.0)];
const ROWS: [Row; 4] = [Row::Power, Row::TipAngle, Row::Weight, Row::Frequency];

pub(crate) fn study(out: &mut impl Write, count: usize, seed: u64) -> io::Result<()> {
    let instruments = Instruments::default();
    let scene =
        |jaws| Scene { jaws, hidden: Hidden::Nothing, instruments, n_states: 1, slips: false };
    writeln!(
        out,
        "{count} blanks a clamp, seed {seed}. For each prior of the give (median, spread) and each true give, for the rows"
    )?;
    writeln!(
        out,
        "power / + tip angle / + weight / + board and frequency: coverage of power in %, and in brackets its median error in %."
    )?;
    writeln!(out, "`kit` is the test kit's own clamps: median 0.0015, spread 0.6.")?;
    let mut clamps: Vec<_> = GIVES
        .iter()
        .map(|&give| (format!("{give:.4}"), jobs(&scene(Jaws::Giving(give)), count, seed)))
        .collect();
    clamps.push(("kit".to_owned(), jobs(&scene(Jaws::Shop), count, seed)));
    for (give, give_spread) in PRIORS {
        writeln!(out, "\nmedian {give} spread {give_spread}")?;
        let errors = Errors { give, give_spread, ..errors_of(&instruments) };
        for (clamp, jobs) in &clamps {
            write!(out, "  true give {clamp:>7}")?;
            for row in ROWS {
                let tally = tally(jobs, &errors, row, Strays::Count);
                let (covered, error) =
                    (tally.covered(Measure::Power), tally.error(Measure::Power, 50));
                write!(out, "{:>16}", format!("{:.1} ({error:.1})", covered.per_cent))?;
            }
            writeln!(out)?;
        }
    }
    Ok(())
}
