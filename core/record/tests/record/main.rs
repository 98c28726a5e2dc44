//! Tests of the reader through its public face: one file in, a record and the messages as the builder sees them out.

/// Mistypings that break YAML, and what is read all the same.
mod broken_yaml;
/// Values that are well written and can't be true.
mod checks;
/// Adding an item to a bench.
mod edit;
/// Items that can't be added.
mod edit_refused;
/// Front matter by its lines, whatever the file looks like.
mod front_matter;
/// Files that nobody wrote in good faith.
mod hostile;
/// Fields and body, for the index.
mod index;
/// What holds for every file.
mod invariants;
/// Keys that are misspelt, unknown, misplaced or repeated.
mod keys;
/// Every kind of record, read without a problem.
mod kinds;
/// What each mistyping gets for an answer.
mod mistypings;
/// What the fuzzer once found.
mod past_failures;
/// Two diameters at right angles, and the way the spine lay.
mod planes;
/// Whatever the bytes are.
mod properties;
/// Records to start from.
mod samples;
/// Items, lists and maps of the wrong shape.
mod shapes;
/// New records.
mod template;
/// Limits, words, dates and shortened texts.
mod values;

use expect_test::Expect;
use taperbook_record::{Build, Parsed, read};

/// Reads text as the file at a path.
fn parse(path: &str, text: &str) -> Parsed {
    read(path, text.as_bytes())
}

/// The messages of a file, each as `path:line:column: message`.
fn messages(path: &str, text: &str) -> String {
    shown(path, &parse(path, text))
}

fn shown(path: &str, parsed: &Parsed) -> String {
    let line = |problem: &taperbook_record::Problem| {
        format!("{path}:{}:{}: {}\n", problem.start.line, problem.start.column, problem.message)
    };
    parsed.problems.iter().map(line).collect()
}

/// Checks the messages of a file.
#[track_caller]
fn check(path: &str, text: &str, expected: Expect) {
    expected.assert_eq(&messages(path, text));
}

/// Checks the messages of a build with some lines of front matter below its `kind` and `blank`.
#[track_caller]
fn check_build(lines: &str, expected: Expect) {
    check("builds/ilse.md", &build_text(lines), expected);
}

/// Checks the messages of a build with one bench item.
#[track_caller]
fn check_item(item: &str, expected: Expect) {
    check_build(&format!("bench:\n  {item}"), expected);
}

/// Checks the messages of a blank card with some lines of front matter below its `kind`.
#[track_caller]
fn check_blank(lines: &str, expected: Expect) {
    check("blanks/heron-704.md", &format!("---\nkind: blank\n{lines}\n---\n"), expected);
}

fn build_text(lines: &str) -> String {
    format!("---\nkind: build\nblank: heron-704\n{lines}\n---\n")
}

/// Reads a build with some lines of front matter below its `kind` and `blank`.
#[track_caller]
fn build(lines: &str) -> Build {
    parse("builds/ilse.md", &build_text(lines))
        .record
        .build()
        .expect("it says `kind: build`")
        .clone()
}
