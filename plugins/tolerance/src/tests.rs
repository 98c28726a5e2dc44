//! Tests of the crate: a shop folder of a few texts, and what the areas share.

// Lengths, joints, solid tips, settled ends and names: faults of the bench and the card.
mod bench;
// The demo folder: the flags that are meant, and no other.
mod demo;
// Limits: which side counts when, and the cut that crossed it.
mod limits;
// The list of flags: nothing missing, nothing unexplained.
mod list;
// Plans that would pass a limit.
mod planned;
// Readings that contradict physics.
mod readings;
// Simulated blanks: false alarms, and slips that must be found.
mod simulated;

use std::collections::BTreeMap;

use taperbook_plugin::{Finding, Shelf, Source, View};

/// A shelf to which texts are added.
#[derive(Default)]
struct Texts {
    shelf: Shelf,
    /// The text of each record, to see what a span is about.
    texts: BTreeMap<String, String>,
}

impl Texts {
    /// Adds a file, mistakes and all.
    fn with_any(mut self, path: &str, text: &str) -> Self {
        let record = taperbook_record::read(path, text.as_bytes()).record;
        self.texts.insert(record.id.clone(), text.to_owned());
        self.shelf.put(record);
        self
    }

    /// Adds a file; a record that has a problem is a slip of the test.
    #[track_caller]
    fn with(self, path: &str, text: &str) -> Self {
        let problems = taperbook_record::read(path, text.as_bytes()).problems;
        assert!(problems.is_empty(), "{path}: {problems:?}");
        self.with_any(path, text)
    }

    /// What the plugin finds in a record.
    fn flags(&self, id: &str) -> Vec<Finding> {
        let record = self.shelf.record(id).unwrap_or_else(|| panic!("{id} is one of the records"));
        crate::plugin().flags(&record, &View::new(&self.shelf))
    }
}

/// A blank of 80 in, from 10 mm to 2 mm in a straight line, of which all is stated.
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

/// The text of a build of [`CARD`]: lines of front matter, and the items of its bench, one a line without its dash.
fn build(more: &str, items: &str) -> String {
    let items: String = items.lines().map(|item| format!("  - {}\n", item.trim())).collect();
    let bench = if items.is_empty() { String::new() } else { format!("bench:\n{items}") };
    let more: String = more.lines().map(|line| format!("{}\n", line.trim())).collect();
    format!("---\nkind: build\nblank: stated\n{more}{bench}---\n")
}

/// What is found in a build, each with the text that it is about.
#[track_caller]
fn found(more: &str, items: &str) -> Vec<(String, String)> {
    let shop = Texts::default().with("blanks/stated.md", CARD);
    found_in(shop, &build(more, items))
}

/// What is found in a build of a shop, each as `flag: message` with the text that it is about.
#[track_caller]
fn found_in(shop: Texts, text: &str) -> Vec<(String, String)> {
    let shop = shop.with("builds/x.md", text);
    let about = |finding: &Finding| {
        let span = finding.span.clone().expect("every flag of this plugin has a place");
        text.get(span).expect("the place is in the file").to_owned()
    };
    let findings = shop.flags("builds/x");
    findings
        .iter()
        .map(|finding| (format!("{}: {}", finding.flag, finding.message), about(finding)))
        .collect()
}

/// Holds what is found in a build to the whole messages.
///
/// What the mechanics gives, `232 g as computed (217 g to 247 g)`, stands as `~`: those numbers are checked in its crate
/// and by [`computed_numbers_are_those_of_the_mechanics`].
#[track_caller]
fn check(more: &str, items: &str, expected: &[&str]) {
    check_in(Texts::default().with("blanks/stated.md", CARD), &build(more, items), expected);
}

/// Holds what is found in a build of a shop to the whole messages, as [`check`] does.
#[track_caller]
fn check_in(shop: Texts, text: &str, expected: &[&str]) {
    let found: Vec<String> =
        found_in(shop, text).into_iter().map(|(finding, _)| without_numbers(&finding)).collect();
    assert_eq!(found, expected);
}

/// Puts `~` for each number that has its range beside it.
fn without_numbers(message: &str) -> String {
    let mut plain = message.to_owned();
    while let Some((range, value)) = range_of(&plain) {
        plain.replace_range(value.start..range.end, "~");
        // By how much it is past a limit follows from it.
        let rest = &plain[value.start..];
        let by = rest.find(" above ").or(rest.find(" below ")).filter(|_| rest.starts_with("~, "));
        if let Some(by) = by {
            let likely = if rest.starts_with("~, likely ") { "likely " } else { "" };
            plain.replace_range(value.start..value.start + by, &format!("~, {likely}~"));
        }
    }
    plain
}

/// The first `(A to B)` of a message, and the value before it.
fn range_of(message: &str) -> Option<(std::ops::Range<usize>, std::ops::Range<usize>)> {
    let starts = message.match_indices(" (").map(|(at, _)| at);
    starts.into_iter().find_map(|open| {
        let close = open + message[open..].find(')')?;
        let (low, _) = message[open + 2..close].split_once(" to ")?;
        low.starts_with(|c: char| c.is_ascii_digit() || c == '-').then_some(())?;
        let before = message[..open].trim_end_matches(" as computed");
        // A value is a number, perhaps with a fraction, and its unit.
        let start = [" is ", " at ", " expect ", " expects "]
            .iter()
            .filter_map(|word| Some(before.rfind(word)? + word.len()))
            .max()?;
        Some((open..close + 1, start..before.len()))
    })
}

#[test]
fn numbers_with_their_range_are_left_out_of_the_comparison() {
    assert_eq!(
        without_numbers("power is 232 g as computed (217 g to 247 g), 32 g above (item 2)"),
        "power is ~, ~ above (item 2)"
    );
    assert_eq!(
        without_numbers(
            "power is 232 g as computed (217 g to 247 g), likely 2 g above the most allowed 230 g"
        ),
        "power is ~, likely ~ above the most allowed 230 g"
    );
    assert_eq!(
        without_numbers("one expects -3 1/2 in (-4 5/16 in to -2 3/4 in): so"),
        "one expects ~: so"
    );
}

/// The value and range that a message gives are those that the mechanics gives for the state.
#[test]
fn computed_numbers_are_those_of_the_mechanics() {
    let text = build(
        "limits: { power: .. 200 g }",
        "read: { length: 80 in, power: 172 g }\ncut: { tip: 5 in }",
    );
    let shop = Texts::default().with("blanks/stated.md", CARD).with("builds/x.md", &text);
    let piece = taperbook_bench::piece(&View::new(&shop.shelf), "builds/x").expect("it is a build");
    let state = piece.state(piece.walk.present().off, piece.held_at);
    let power = state.get(taperbook_record::Measure::Power).and_then(|power| power.known());
    let (value, low, high) = power.expect("it can be computed");
    let grams = |kg: f64| format!("{:.0} g", 1e3 * kg);
    assert_eq!(
        shop.flags("builds/x")[0].message,
        format!(
            "power is {} as computed ({} to {}), {} above the most allowed 200 g: crossed by the tip cut of 5 in (item 2)",
            grams(value),
            grams(low),
            grams(high),
            grams(value - 0.2)
        )
    );
}
