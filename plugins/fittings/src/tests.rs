//! Tests of the crate: a shop folder of a few texts, and what the areas share.

// What goes on, by hand-worked numbers.
mod drawers;
// The flags before the saw, and when nothing is said.
mod flagged;
// Where guides go, and what they weigh.
mod guides;

use taperbook_plugin::{Advice, Cut, Finding, FittingsAdvice, Question, Shelf, Source, View};

/// A shelf to which texts are added.
#[derive(Default)]
struct Texts {
    shelf: Shelf,
}

impl Texts {
    /// Adds a file; a record that has a problem is a slip of the test.
    #[track_caller]
    fn with(mut self, path: &str, text: &str) -> Self {
        let read = taperbook_record::read(path, text.as_bytes());
        assert!(read.problems.is_empty(), "{path}: {:?}", read.problems);
        self.shelf.put(read.record);
        self
    }

    /// The shop with a stated cone and with these drawers.
    fn stated(fittings: &[(&str, &str)]) -> Self {
        let shop = Self::default().with("blanks/stated.md", CARD);
        fittings.iter().fold(shop, |shop, (name, lines)| {
            let sizes: String =
                lines.lines().map(|line| format!("  - {}\n", line.trim())).collect();
            let (name, part) = name.split_once(' ').unwrap_or((name, name));
            let text = format!("---\nkind: fitting\npart: {part}\nsizes:\n{sizes}---\n");
            shop.with(&format!("fittings/{name}.md"), &text)
        })
    }

    fn flags(&self, id: &str) -> Vec<Finding> {
        let record = self.shelf.record(id).unwrap_or_else(|| panic!("{id} is one of the records"));
        crate::plugin().flags(&record, &View::new(&self.shelf))
    }

    /// What goes on after these cuts, in inches.
    #[track_caller]
    fn fittings(&self, id: &str, tip: f64, butt: f64) -> FittingsAdvice {
        let cut = Cut { tip_mm: 25.4 * tip, butt_mm: 25.4 * butt };
        let question = Question::Fittings {
            record: id.to_owned(),
            states: vec![("as tried".to_owned(), cut)],
        };
        match crate::plugin().advise(&question, &View::new(&self.shelf)) {
            Some(Ok(Advice::Fittings(advice))) => *advice,
            other => panic!("{other:?}"),
        }
    }
}

/// A blank of 80 in, from 10 mm to 2 mm in a straight line, of which all is stated: a tenth of a millimetre an inch.
const CARD: &str = "---
kind: blank
length: 80 in
material: carbon
modulus: 90 GPa
density: 1550 kg/m3
held_at: 9 in
calipers:
  - { at: 0 in, od: 10 mm, wall: 0.8 mm }
  - { at: 80 in, od: 2 mm, wall: 0.4 mm }
---
";
