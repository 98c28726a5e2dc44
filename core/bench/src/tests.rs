//! Tests of the crate: a shop folder of a few texts, and what the areas share.

// Lengths that don't add up.
mod gap;
// How surely limits are kept, and how much may still come off.
mod limits;
// What a model's builds teach, and what must not fool it.
mod model;
// What a build and its offcuts tell of each other.
mod offcut;
// A piece with its card, its readings and its model.
mod piece;
// The bench as states of the piece.
mod walk;

use taperbook_plugin::Shelf;
use taperbook_record::Build;
use taperbook_units::Length;

/// A shelf to which texts are added.
#[derive(Default)]
struct Texts(Shelf);

impl Texts {
    /// Adds a file; a record that has a problem is a slip of the test.
    #[track_caller]
    fn with(mut self, path: &str, text: &str) -> Self {
        let parsed = taperbook_record::read(path, text.as_bytes());
        assert!(parsed.problems.is_empty(), "{path}: {:?}", parsed.problems);
        self.0.put(parsed.record);
        self
    }
}

/// A straight taper of which all is stated, so that the mechanics has nothing to guess: 10 mm to 2 mm over 2 m.
const STATED: &str = "---
kind: blank
length: 2 m
material: carbon
modulus: 90 GPa
density: 1550 kg/m3
calipers:
  - { at: 0 mm, od: 10 mm, wall: 0.8 mm }
  - { at: 2000 mm, od: 2 mm, wall: 0.4 mm }
---
";

/// Reads the items of a bench, one a line without its dash.
#[track_caller]
fn build(items: &str) -> Build {
    let parsed = read_bench(items);
    assert!(parsed.problems.is_empty(), "{:?}", parsed.problems);
    parsed.record.build().expect("it is a build").clone()
}

fn read_bench(items: &str) -> taperbook_record::Parsed {
    taperbook_record::read("builds/x.md", bench_text("", items).as_bytes())
}

fn bench_text(more: &str, items: &str) -> String {
    let items: String = items.lines().map(|item| format!("  - {}\n", item.trim())).collect();
    format!("---\nkind: build\nblank: stated\n{more}bench:\n{items}---\n")
}

/// Lengths that are the same but for the rounding of arithmetic.
#[track_caller]
fn near(found: Length, inches: f64) {
    assert!((found.inches() - inches).abs() < 1e-9, "{} in, not {inches} in", found.inches());
}
