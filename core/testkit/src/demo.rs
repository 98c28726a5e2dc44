//! The demo shop folder: an invented one-person shop whose builds were really cut, on the simulated bench.
//!
//! Every reading in it is what the instruments said of a piece with a hidden truth, rounded as a builder writes.
//! The customers' limits lie around what came out, as if the builder had met them; three builds on purpose do not ([`FLAGGED`]), and one record is typed in a hurry ([`MISTYPED`]).
//! The same program makes the same files: a test compares them with the committed ones.
//!
//! Shop, people, makers and models are invented.

mod gannets;
mod herons;
mod job;
mod model;
mod newcomers;
mod others;
mod pages;
#[cfg(test)]
mod tests;
mod wrens;

use std::io;
use std::path::Path;

use taperbook_units::Length;

use crate::beam::Clamp;
use crate::bench::{Bench, Instruments};
use crate::hand::to_step;
use crate::rng::Rng;

use job::Job;
use model::{MODELS, Model};

/// The builds that are flagged on purpose: below the shortest length, above the most power, and lengths that don't add up.
pub const FLAGGED: [&str; 3] =
    ["builds/oskar-gannet.md", "builds/ruben-wren.md", "builds/detlef-egret.md"];

/// The one record with problems in how it is written.
pub const MISTYPED: &str = "builds/wanda-snipe.md";

/// The uncut build that the tour tries cuts on and asks a suggestion for.
pub const UNCUT: &str = "builds/ilse-heron.md";

/// The build that has arrived at its aim, where the best next cut is none.
pub const ARRIVED: &str = "builds/maren-heron.md";

const SEED: u64 = 704;

/// Where the shop holds a blank unless something else is written, inches from the butt.
const HELD_AT: f64 = 9.0;

/// Millimetres in inches, for builds of which the builder wrote millimetres.
const fn mm(millimetres: f64) -> f64 {
    millimetres / 25.4
}

/// Makes all files, as paths in the shop folder and their text, in the order of their paths.
#[must_use]
pub fn files() -> Vec<(String, String)> {
    files_of(&jobs())
}

fn files_of(jobs: &[Job]) -> Vec<(String, String)> {
    let mut files: Vec<(String, String)> =
        pages::ALL.iter().map(|&(path, text)| (path.to_owned(), text.to_owned())).collect();
    files.extend(MODELS.iter().map(|model| (format!("blanks/{}.md", model.name), model.card())));
    files.extend(jobs.iter().map(|job| (format!("builds/{}.md", job.name), job.record())));
    files.push(("offcuts/karl-reed-butt.md".to_owned(), offcut()));
    files.sort();
    files
}

/// Writes all files into a folder; other files there stay as they are.
///
/// # Errors
/// When a folder or file can't be written.
pub fn write(folder: &Path) -> io::Result<()> {
    crate::helpers::write_files(folder, files())
}

fn jobs() -> Vec<Job> {
    let mut jobs = herons::jobs();
    jobs.extend(wrens::jobs());
    jobs.extend(gannets::jobs());
    jobs.extend(others::jobs());
    jobs.extend(newcomers::jobs());
    jobs
}

/// The piece of glass that came off Karl's build, with the caliper put on both its ends.
fn offcut() -> String {
    let mut piece = Model::named("reed-711").piece("karl-reed");
    let mut bench = Bench::new(
        Clamp::default(),
        Instruments { noticed: 1.5, ..Instruments::default() },
        Rng::named(SEED + 4, "karl-reed"),
    );
    piece.tip_cut = Length::from_inches(0.5);
    let mut od = |inches: f64| {
        let od = bench.read_od(&piece, Length::from_inches(inches)).mm();
        format!("{:.2}", to_step(od, 0.05))
    };
    let (butt, top) = (od(0.0), od(12.875));
    format!(
        r"---
kind: offcut
from: karl-reed
end: butt
length: 12 7/8 in
material: glass
calipers:
  - {{ at: 0 in, od: {butt} mm }}
  - {{ at: 12 7/8 in, od: {top} mm }}
---
# A foot of amber glass

Came off Karl's butt; thirteen inches less what the saw ate.
Too thick for a tip and too short for a rod: the handle of a landing net, or sleeves for mended ferrules.
"
    )
}
